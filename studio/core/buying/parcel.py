"""What is typed at the parcel: a scanned or named shade, what is still to come, what it means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from studio.core import say
from studio.core.answers import Cover, ProjectPlan, Weight
from studio.core.buying.delivery import Bag, Delivery, Fate
from studio.core.buying.gtin import (
    LENGTHS,
    BarcodeError,
    find_shade,
    is_barcode,
    known_shades,
)
from studio.core.buying.handing import Passing
from studio.core.buying.offers import Supplier, named_supplier
from studio.core.buying.receiving import Received
from studio.core.edits.places import shade_name
from studio.core.frozen import dataclass
from studio.core.model import (
    Batch,
    Library,
    Lot,
    LotRef,
    OrderLine,
    Purchase,
    ShadeRef,
    Stash,
    Studio,
)
from studio.core.prices import landed_price

CODE_LOST, NO_CODE = "?", "-"
"""Typed for a dye lot whose band is lost, and for yarn that has no dye lots."""

WEIGHTS = {Passing.HELD: None, Passing.WAITS: Weight.CAUTION, Passing.SHORT: Weight.STOP}


def need_dg_of(plans: Mapping[str, ProjectPlan]) -> Mapping[str, int]:
    """What each run still needs, by run key, in tenths of a gram."""
    return {run.ref.key: int(run.need_g * 10) for plan in plans.values() for run in plan.runs}


def shade_typed(library: Library, purchase: Purchase, entry: str) -> ShadeRef:
    """The shade that was scanned, or typed by name or code; those on the order come first.

    Raises `ValueError` with a sentence where it is none, or more than one.
    """
    return shade_named(library, [ShadeRef(n.yarn, n.shade) for n in purchase.lines], entry)


def shade_named(library: Library, first: Sequence[ShadeRef], entry: str) -> ShadeRef:
    """The same where any shades come first."""
    wanted = entry.strip().casefold()
    if not wanted:
        raise ValueError("Scan the barcode of the ball band, or type the shade.")
    for refs in (first, list(library.shade)):
        found = [r for r in dict.fromkeys(refs) if wanted in _names(library, r)]
        if len(found) == 1:
            return found[0]
        if found:
            raise ValueError(f"More than one shade is called {entry.strip()}: add its yarn.")
    digits = "".join(c for c in wanted if not c.isspace() and c != "-")
    if not digits.isdecimal() or len(digits) not in LENGTHS:
        raise ValueError(f"No shade is called {entry.strip()}: scan the band, or type its name.")
    try:
        ref = find_shade(digits, known_shades(library))
    except BarcodeError as error:
        raise ValueError(error.text) from error
    if ref is None:
        raise ValueError(f"The barcode {digits} is sound, but no shade has it: type the shade.")
    return ref


def _names(library: Library, ref: ShadeRef) -> tuple[str, ...]:
    yarn, shade = library.yarn.get(ref.yarn), library.shade.get(ref)
    if yarn is None or shade is None:
        return (f"{ref.yarn}/{ref.shade}".casefold(),)
    texts = (shade.name, shade.code, f"{yarn.name} {shade.name}", f"{yarn.key}/{shade.code}")
    return tuple(t.casefold() for t in texts)


def lot_typed(entry: str) -> tuple[str, bool]:
    """A dye lot as typed: its code, and whether the band is lost."""
    code = entry.strip()
    if not code:
        raise ValueError(
            f"Type the dye lot of the ball band; {CODE_LOST} where the band is lost, "
            f"{NO_CODE} for yarn without dye lots."
        )
    if is_barcode(code):
        raise ValueError(
            f"{code} is the number of a barcode, which stands for the shade: type the dye lot "
            "that is printed on the band."
        )
    if code == CODE_LOST:
        return "", True
    return ("" if code == NO_CODE else code), False


def lot_entry(code: str, lost: bool) -> str:
    """A dye lot as it is typed."""
    return CODE_LOST if lost else code


@dataclass(frozen=True, slots=True)
class LineState:
    """A line of an open purchase and how many good balls of it are typed in."""

    line: OrderLine
    typed: int

    @property
    def ref(self) -> ShadeRef:
        """Its shade."""
        return ShadeRef(self.line.yarn, self.line.shade)

    @property
    def left(self) -> int:
        """Balls that are not typed in yet."""
        return max(0, self.line.balls - self.typed)


def line_states(purchase: Purchase, delivery: Delivery | None) -> tuple[LineState, ...]:
    """Each line with what is typed in for it; lines of one shade are served in order."""
    came: dict[ShadeRef, int] = {}
    for bag in delivery.bags if delivery else ():
        if bag.fate is Fate.GOOD:
            came[bag.ref] = came.get(bag.ref, 0) + bag.balls
    states = []
    for line in purchase.lines:
        ref = ShadeRef(line.yarn, line.shade)
        typed = min(line.balls, came.get(ref, 0))
        came[ref] = came.get(ref, 0) - typed
        states.append(LineState(line, typed))
    return tuple(states)


def left_of(purchase: Purchase, delivery: Delivery | None, ref: ShadeRef) -> int:
    """Balls of a shade that are on order and not typed in yet."""
    return sum(s.left for s in line_states(purchase, delivery) if s.ref == ref)


def expected_shipping(studio: Studio, purchase: Purchase) -> Decimal:
    """What the supplier's terms ask for shipping a purchase; nought where they are not known."""
    supplier = _supplier(studio, purchase)
    if supplier is None:
        return Decimal(0)
    goods = sum((n.balls * (n.price or Decimal(0)) for n in purchase.lines), Decimal(0))
    yarn = studio.library.yarn
    grams = sum(
        (n.balls * yarn[n.yarn].ball_g for n in purchase.lines if n.yarn in yarn), Decimal()
    )
    return supplier.shipping.cost(goods, grams)


def begun(studio: Studio, purchase: Purchase, on: date) -> Delivery:
    """A parcel of a purchase with nothing typed in yet.

    Shipping is proposed with the first goods of an order alone: what follows is mostly sent without
    asking for it twice (common practice, no source).
    """
    shipping = Decimal(0) if purchase.part_came else expected_shipping(studio, purchase)
    return Delivery(purchase.key, on, (), shipping=shipping)


def _supplier(studio: Studio, purchase: Purchase) -> Supplier | None:
    """The supplier of a purchase, which names them by their key or as they are called."""
    return named_supplier(studio.suppliers, purchase.supplier)


def supplier_of(studio: Studio, purchase: Purchase) -> str:
    """The supplier's name, or the word that the purchase has for them."""
    return called(studio, purchase.supplier)


def called(studio: Studio, word: str) -> str:
    """A supplier's name, by the key or as they are called; any other word as it is."""
    supplier = named_supplier(studio.suppliers, word)
    return supplier.name if supplier else word


def by_arrival(stash: Stash) -> tuple[Purchase, ...]:
    """The open purchases, those that come first standing first."""
    return tuple(sorted(stash.purchases, key=lambda p: (p.arrives, p.key)))


def overdue(purchase: Purchase, today: date) -> bool:
    """Whether it should have come."""
    return purchase.arrives < today


def waiting(purchase: Purchase, plans: Mapping[str, ProjectPlan], ref: ShadeRef) -> tuple[str, ...]:
    """The pieces with runs that wait for a shade of a purchase."""
    waits = (Cover.ORDER, Cover.LATE)
    return tuple(
        key
        for key, plan in plans.items()
        if any(r.shade == ref and r.lot == purchase.key and r.cover in waits for r in plan.runs)
    )


def purchase_words(studio: Studio, purchase: Purchase, today: date) -> str:
    """'Northlight, ordered 1 Mar 2027, there by 4 Mar 2027', or 'the rest there by ...'."""
    ordered = f", ordered {say.date(purchase.ordered)}" if purchase.ordered else ""
    late = " (overdue)" if overdue(purchase, today) else ""
    name = supplier_of(studio, purchase) or purchase.key
    return f"{name}{ordered}, {there_by(purchase)}{late}"


def there_by(purchase: Purchase) -> str:
    """'there by 4 Mar 2027', of an order of which goods came 'the rest there by 4 Mar 2027'."""
    rest = "the rest " if purchase.part_came else ""
    return f"{rest}there by {say.date(purchase.arrives)}"


def meaning(before: Studio, found: Received) -> Iterator[tuple[Weight | None, str]]:
    """What a delivery does, sentence by sentence: lots, dye lots, prices, pieces, the rest."""
    currency = before.settings.currency
    for ref in found.lots:
        yield None, _lot_words(before, found.studio, ref)
    for shade in found.split:
        codes = [r.code for r in found.lots if ShadeRef(r.yarn, r.shade) == shade]
        yield (
            Weight.CAUTION,
            f"{shade_name(before, shade)} came in {say.count(len(codes), 'dye lot')}: "
            f"{say.either(codes, 'and')}.",
        )
    for change in found.prices:
        yield (
            Weight.CAUTION,
            f"{shade_name(before, change.shade)} costs {say.money(change.paid, currency)} a ball, "
            f"ordered at {say.money(change.ordered, currency)}.",
        )
    for touched in found.touched:
        yield WEIGHTS[touched.passing], touched.text
    for note in found.notes:
        yield Weight.NOTE, note


def _lot(studio: Studio, ref: LotRef) -> Lot | None:
    lots = studio.stash.by_shade.get(ShadeRef(ref.yarn, ref.shade), ())
    return next((n for n in lots if n.ref == ref), None)


def new_batches(before: Studio, after: Studio, ref: LotRef) -> tuple[Batch, ...]:
    """What a delivery added to a lot."""
    old, new = _lot(before, ref), _lot(after, ref)
    return new.batches[len(old.batches) if old else 0 :] if new else ()


def _lot_words(before: Studio, after: Studio, ref: LotRef) -> str:
    """'Lot 2207 of Harbour Tide: 8 balls at 4.35 EUR landed.', each price apart."""
    currency = before.settings.currency
    parts = []
    for batch in new_batches(before, after, ref):
        landed = landed_price(batch)
        price = "without a price" if landed is None else f"at {say.money(landed, currency)} landed"
        parts.append(f"{say.balls(batch.balls)} {price}")
    begun_words = "" if _lot(before, ref) else ", a new lot"
    return f"Lot {ref.code} of {shade_name(before, ref)}{begun_words}: {say.either(parts, 'and')}."


def received_words(found: Received) -> str:
    """What was put on the shelf, and whom it touches, in one line."""
    lots = say.count(len(found.lots), "lot")
    short = len({t.project for t in found.touched if t.passing is Passing.SHORT})
    waits = len({t.project for t in found.touched if t.passing is Passing.WAITS})
    parts = [f"{lots} on the shelf"]
    if short:
        parts.append(f"{say.count(short, 'piece')} short again")
    if waits:
        parts.append(f"{say.count(waits, 'piece')} still waiting")
    return f"{', '.join(parts)}."


def price_now(delivery: Delivery, purchase: Purchase, ref: ShadeRef) -> Decimal | None:
    """What a ball costs as far as is known: as typed, else as ordered."""
    typed = dict(delivery.prices).get(ref)
    if typed is not None:
        return typed
    return next((n.price for n in purchase.lines if (n.yarn, n.shade) == ref), None)


def prices_with(
    delivery: Delivery, purchase: Purchase, bag: Bag, price: Decimal | None
) -> tuple[tuple[ShadeRef, Decimal], ...]:
    """The prices that differ from the order, with that of one bag; a wrong bag has none."""
    prices = dict(delivery.prices)
    ordered = [n.price for n in purchase.lines if (n.yarn, n.shade) == bag.ref]
    if bag.fate is Fate.WRONG or not ordered or price is None:
        return tuple(prices.items())
    prices.pop(bag.ref, None)
    if price != ordered[0]:
        prices[bag.ref] = price
    return tuple(prices.items())
