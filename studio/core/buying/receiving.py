"""The parcel on the table: from an open purchase and what came to lots on the shelf.

Every bag is typed with its dye-lot code and count. Goods become batches at their landed price:
what they cost, with shipping and tax shared by value or weight so that every cent is somewhere.
Holds pass from the order to the new lots; what no longer fits is named and planned anew. All is
worked out before anything changes, so a delivery that makes no sense changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from studio.core import say
from studio.core.buying.delivery import Bag, Delivery, Fate, ShareBy
from studio.core.buying.handing import Handed, Touched, hand_over
from studio.core.buying.offers import is_money, named_supplier
from studio.core.edits.places import check_shade, refuse, shade_name
from studio.core.edits.stash import put_lots
from studio.core.frozen import dataclass
from studio.core.headline import money_figure
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
from studio.core.money import rounded, share_units, unit
from studio.core.own_price import dearer


@dataclass(frozen=True, slots=True)
class PriceChange:
    """A ball that cost another price than ordered."""

    shade: ShadeRef
    ordered: Decimal
    paid: Decimal


@dataclass(frozen=True, slots=True)
class Received:
    """The studio after a delivery, and what she should know of it.

    `lots` are the lots that were added to or begun, `split` the shades that came in several dye
    lots, `left` what is still expected, `dearer` what a ball of a yarn cost where that is more than
    her own price of it, `notes` sentences on the rest.
    """

    studio: Studio
    lots: tuple[LotRef, ...]
    touched: tuple[Touched, ...]
    split: tuple[ShadeRef, ...]
    prices: tuple[PriceChange, ...]
    left: tuple[OrderLine, ...]
    dearer: Mapping[str, Decimal]
    notes: tuple[str, ...]


MOST_SEEN = 12
"""So many of a supplier's last lead times are kept."""
LONGEST_WAY = 1000
"""Days; what took longer is a wrong date, and no file could hold it."""


@dataclass(frozen=True, slots=True)
class _Portion:
    """Balls of one lot at one price."""

    ref: ShadeRef
    code: str
    balls: int
    price: Decimal | None
    code_lost: bool


def receive(studio: Studio, delivery: Delivery, need_dg: Mapping[str, int]) -> Received:
    """Book a delivery. `need_dg` is what each run still needs, by run key, in tenths of a gram."""
    purchase = studio.stash.purchase.get(delivery.purchase)
    if purchase is None:
        refuse(f"There is no open purchase {delivery.purchase!r}.")
    _check(studio, purchase, delivery)
    bags = _named(studio, delivery)
    left, portions = _portions(purchase, bags, dict(delivery.prices))
    lots = _batches(studio, purchase, delivery, portions)
    now = _shelved(studio, lots)
    came = _came(studio.library, bags)
    rest = replace(
        purchase,
        lines=tuple(left) if delivery.rest_comes else (),
        arrives=delivery.rest_arrives or purchase.arrives,
        parcel=None,
        part_came=purchase.part_came or bool(portions),
    )
    now = _seen_on_its_way(_put_purchase(now, purchase, rest), purchase, delivery)
    open_refs = {ShadeRef(n.yarn, n.shade) for n in rest.lines}
    over = dearer(studio, ((p.ref, p.price) for p in portions if p.price is not None))
    handed: Handed = hand_over(now, purchase, came, open_refs, need_dg)
    codes: dict[ShadeRef, set[str]] = {}
    for bag in bags:
        if bag.fate is Fate.GOOD:
            codes.setdefault(bag.ref, set()).add(bag.code)
    return Received(
        studio=handed.studio,
        lots=tuple(lot.ref for lot in lots),
        touched=handed.touched,
        split=tuple(ref for ref, found in codes.items() if len(found) > 1),
        prices=_changes(purchase, delivery),
        left=rest.lines,
        dearer=over,
        notes=(*_notes(studio, delivery, left), *dearer_words(studio, over)),
    )


def dearer_words(studio: Studio, over: Mapping[str, Decimal]) -> tuple[str, ...]:
    """A sentence for each yarn that cost more than her own price of it says."""
    currency = studio.settings.currency
    return tuple(
        f"A ball of {yarn.name} cost {money_figure(price, currency)}; your own price of it is "
        f"{money_figure(yarn.price or Decimal(0), currency)}, and quotes go on with that until "
        "you take the new one over."
        for yarn, price in ((studio.library.yarn[key], price) for key, price in over.items())
    )


def _seen_on_its_way(studio: Studio, purchase: Purchase, delivery: Delivery) -> Studio:
    """The supplier with one more lead time seen, where it is known when the order went out."""
    supplier = named_supplier(studio.suppliers, purchase.supplier)
    if supplier is None or purchase.ordered is None or not delivery.bags:
        return studio
    days = (delivery.on - purchase.ordered).days
    if not 0 <= days <= LONGEST_WAY:
        return studio
    new = replace(supplier, seen_days=(*supplier.seen_days, days)[-MOST_SEEN:])
    suppliers = tuple(new if s is supplier else s for s in studio.suppliers)
    return replace(studio, suppliers=suppliers)


def _check(studio: Studio, purchase: Purchase, delivery: Delivery) -> None:
    """Refuse what cannot have come."""
    ordered: dict[ShadeRef, int] = {}
    for line in purchase.lines:
        ref = ShadeRef(line.yarn, line.shade)
        ordered[ref] = ordered.get(ref, 0) + line.balls
    if not delivery.bags and delivery.rest_comes:
        refuse("Nothing is typed in: give each bag with its dye lot and count.")
    came: dict[ShadeRef, int] = {}
    for bag in delivery.bags:
        name = shade_name(studio, bag.ref)
        if bag.balls < 1:
            refuse(f"A bag of {name} holds {bag.balls} balls: it holds 1 or more.")
        if bag.fate is Fate.WRONG:
            continue
        check_shade(studio, bag.ref)
        if bag.ref not in ordered:
            refuse(
                f"{name} is not on this order: mark the bag as wrong, "
                "or add it to the stash as a lot of its own."
            )
        came[bag.ref] = came.get(bag.ref, 0) + bag.balls
    for ref, balls in came.items():
        if balls > ordered[ref]:
            refuse(
                f"{say.balls(ordered[ref])} of {shade_name(studio, ref)} "
                f"{'is' if ordered[ref] == 1 else 'are'} still to come and {balls} are typed in: "
                f"receive {ordered[ref]}, and add the rest to the stash as a lot of its own."
            )
    _check_money(studio, delivery, set(ordered))


def _check_money(studio: Studio, delivery: Delivery, ordered: set[ShadeRef]) -> None:
    currency = studio.settings.currency
    for what, amount in (("shipping", delivery.shipping), ("tax", delivery.tax)):
        if not is_money(amount, currency):
            refuse(f"The {what} is {amount}: give an amount in {currency} of 0 or more.")
    for ref, price in delivery.prices:
        name = shade_name(studio, ref)
        if ref not in ordered:
            refuse(f"There is a price for {name}, which is not on this order.")
        if not is_money(price, currency):
            refuse(f"The price of {name} is {price}: give an amount in {currency} of 0 or more.")


def _named(studio: Studio, delivery: Delivery) -> tuple[Bag, ...]:
    """The bags with the code of the lot that they go to."""
    named: list[Bag] = []
    for at, bag in enumerate(delivery.bags, 1):
        yarn = studio.library.yarn.get(bag.yarn)
        code = bag.code.strip()
        lots = studio.stash.by_shade.get(bag.ref, ())
        lost = bag.code_lost and not code
        if yarn is not None and yarn.no_dye_lot:
            code, lost = (lots[0].code if lots else code), False
        elif lost:
            taken = {lot.code for lot in lots} | {b.code for b in named if b.ref == bag.ref}
            code = f"no code {delivery.on.isoformat()}"
            code = code if code not in taken else f"{code} bag {at}"
        elif not code and bag.fate is Fate.GOOD:
            refuse(
                f"Bag {at} ({shade_name(studio, bag.ref)}) has no dye lot: type the code of its "
                "ball band, or say that it is lost."
            )
        named.append(replace(bag, code=code, code_lost=lost))
    return tuple(named)


def _portions(
    purchase: Purchase, bags: Sequence[Bag], prices: Mapping[ShadeRef, Decimal]
) -> tuple[list[OrderLine], list[_Portion]]:
    """What the lines still expect, and the good balls by lot and price; lines serve in order."""
    lines = list(purchase.lines)
    found: dict[tuple[ShadeRef, str, Decimal | None, bool], int] = {}
    for bag in bags:
        left = bag.balls if bag.fate is Fate.GOOD else 0
        for at, line in enumerate(lines):
            if not left or ShadeRef(line.yarn, line.shade) != bag.ref or not line.balls:
                continue
            take = min(left, line.balls)
            lines[at] = replace(line, balls=line.balls - take)
            left -= take
            key = (bag.ref, bag.code, prices.get(bag.ref, line.price), bag.code_lost)
            found[key] = found.get(key, 0) + take
    portions = [
        _Portion(ref, code, balls, price, lost) for (ref, code, price, lost), balls in found.items()
    ]
    return [n for n in lines if n.balls], portions


def _batches(
    studio: Studio, purchase: Purchase, delivery: Delivery, portions: Sequence[_Portion]
) -> tuple[Lot, ...]:
    """Lots with the new batches alone; shipping and tax are shared to the last cent.

    Balls whose shares differ by a cent are batches of their own, so that the sums tie.
    """
    if not portions:
        return ()
    currency = studio.settings.currency
    smallest = unit(currency)
    values = [p.balls * (p.price or Decimal(0)) for p in portions]
    weights = [p.balls * studio.library.yarn[p.ref.yarn].ball_g for p in portions]
    by_value = any(values)
    shared = values if by_value and delivery.share_by is ShareBy.VALUE else weights
    ship = share_units(int(rounded(delivery.shipping, currency) / smallest), shared)
    tax = share_units(
        int(rounded(delivery.tax, currency) / smallest), values if by_value else weights
    )
    lots: dict[LotRef, Lot] = {}
    for portion, ship_units, tax_units in zip(portions, ship, tax, strict=True):
        ref = LotRef(*portion.ref, portion.code)
        lot = lots.get(ref, Lot(*ref, code_lost=portion.code_lost))
        each = zip(
            share_units(ship_units, [1] * portion.balls),
            share_units(tax_units, [1] * portion.balls),
            strict=True,
        )
        counts: dict[tuple[int, int], int] = {}
        for pair in each:
            counts[pair] = counts.get(pair, 0) + 1
        batches = tuple(
            _batch(portion, balls, s * smallest, t * smallest, purchase, delivery)
            for (s, t), balls in counts.items()
        )
        lots[ref] = replace(lot, batches=(*lot.batches, *batches))
    return tuple(lots.values())


def _batch(
    portion: _Portion,
    balls: int,
    shipping: Decimal,
    tax: Decimal,
    purchase: Purchase,
    delivery: Delivery,
) -> Batch:
    # Without a price there is nothing that tax could be added to: it goes with the shipping.
    price = portion.price
    return Batch(
        balls=balls,
        price=None if price is None else price + tax,
        shipping=shipping if price is not None else shipping + tax,
        bought=delivery.on,
        supplier=purchase.supplier,
        kept=delivery.kept,
    )


def _shelved(studio: Studio, lots: Iterable[Lot]) -> Studio:
    """The studio with the new batches in its lots, all in one pass."""
    there = studio.stash.by_shade
    put = []
    for new in lots:
        old = next((n for n in there.get(new.shade_ref, ()) if n.ref == new.ref), None)
        put.append(new if old is None else replace(old, batches=(*old.batches, *new.batches)))
    return put_lots(studio, put)


def _came(library: Library, bags: Iterable[Bag]) -> dict[ShadeRef, dict[str, int]]:
    """Good yarn that came, in dg by shade and lot."""
    came: dict[ShadeRef, dict[str, int]] = {}
    for bag in bags:
        if bag.fate is Fate.GOOD:
            dg = int(bag.balls * library.yarn[bag.yarn].ball_g * 10)
            lots = came.setdefault(bag.ref, {})
            lots[bag.code] = lots.get(bag.code, 0) + dg
    return came


def _put_purchase(studio: Studio, old: Purchase, new: Purchase) -> Studio:
    """The studio with what is left of a purchase; without it where nothing is."""
    purchases = tuple(
        new if p is old else p for p in studio.stash.purchases if p is not old or new.lines
    )
    return replace(studio, stash=Stash(studio.stash.lots, purchases))


def _changes(purchase: Purchase, delivery: Delivery) -> tuple[PriceChange, ...]:
    ordered: dict[ShadeRef, Decimal] = {}
    for line in purchase.lines:
        if line.price is not None:
            ordered.setdefault(ShadeRef(line.yarn, line.shade), line.price)
    return tuple(
        PriceChange(ref, ordered[ref], paid)
        for ref, paid in delivery.prices
        if ref in ordered and paid != ordered[ref]
    )


def _notes(studio: Studio, delivery: Delivery, left: Sequence[OrderLine]) -> list[str]:
    notes = []
    for bag in delivery.bags:
        name = shade_name(studio, bag.ref)
        if bag.fate is Fate.WRONG:
            notes.append(
                f"Not ordered, and not in the stash: {say.balls(bag.balls)} of {name}. "
                "Send back, or add to the stash as a lot of its own."
            )
        elif bag.fate is Fate.DAMAGED:
            notes.append(f"Damaged, and not in the stash: {say.balls(bag.balls)} of {name}.")
    for line in left:
        name = shade_name(studio, ShadeRef(line.yarn, line.shade))
        if delivery.rest_comes:
            notes.append(f"{say.balls(line.balls)} of {name} still to come.")
        else:
            notes.append(f"{say.balls(line.balls)} of {name} will not come; the order is closed.")
    return notes
