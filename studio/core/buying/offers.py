"""What suppliers offer, as the maker writes it down, and what is wrong with it in her words.

Money is Decimal in the studio's currency. A break is 'from so many balls, this price for every
ball' (all units); it counts the balls of one shade, or of all shades under the offer.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Library, ShadeRef
from studio.core.money import minor_digits

MOST_PACK = 1000
"""A pack of more balls than this is taken for mistyped (assumed)."""


class BreakScope(StrEnum):
    """Which balls count towards a price break."""

    SHADE = "shade"
    YARN = "yarn"


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """From so many balls on, every ball costs `price`."""

    from_balls: int
    price: Decimal


@dataclass(frozen=True, slots=True)
class Offer:
    """One yarn at one supplier, in packs of `pack` balls; `shades` None means all of the yarn."""

    supplier: str
    yarn: str
    breaks: tuple[PriceBreak, ...]
    pack: int = 1
    shades: tuple[str, ...] | None = None
    scope: BreakScope = BreakScope.SHADE
    note: str = ""


@dataclass(frozen=True, slots=True)
class WeightTier:
    """What a parcel costs up to so many grams of yarn; None has no limit."""

    up_to_g: Decimal | None
    cost: Decimal


FREE = (WeightTier(None, Decimal(0)),)


@dataclass(frozen=True, slots=True)
class Shipping:
    """Shipping by weight (flat where there is one tier), and free from a sum of goods on."""

    tiers: tuple[WeightTier, ...] = FREE
    free_from: Decimal | None = None

    def cost(self, goods: Decimal, grams: Decimal) -> Decimal:
        """What a parcel of so much yarn costs, its goods being worth so much."""
        if self.free_from is not None and goods >= self.free_from:
            return Decimal(0)
        fits = (t.cost for t in self.tiers if t.up_to_g is None or grams <= t.up_to_g)
        return next(fits, Decimal(0))


@dataclass(frozen=True, slots=True)
class Supplier:
    """Whom she buys from. `minimum` is the least sum of goods that an order may have.

    `lead_days` is what the supplier says, `seen_days` how long the last parcels really took.
    """

    key: str
    name: str
    currency: str
    lead_days: int | None = None
    minimum: Decimal = Decimal(0)
    shipping: Shipping = Shipping()
    note: str = ""
    seen_days: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class OfferBook:
    """All suppliers and what they offer."""

    suppliers: tuple[Supplier, ...] = ()
    offers: tuple[Offer, ...] = ()


def named_supplier(suppliers: Sequence[Supplier], word: str) -> Supplier | None:
    """A supplier by the key, or as they are called."""
    by_key = next((s for s in suppliers if s.key == word), None)
    wanted = word.casefold()
    return by_key or next((s for s in suppliers if s.name.casefold() == wanted), None)


def flat(cost: Decimal, free_from: Decimal | None = None) -> Shipping:
    """Shipping at one cost, whatever the weight."""
    return Shipping((WeightTier(None, cost),), free_from)


@dataclass(frozen=True, slots=True)
class OfferProblem:
    """What is wrong with a supplier or one of its offers; `offer` is its place in the book.

    A faulty supplier is left out of every plan with all its offers, a faulty offer by itself.
    """

    supplier: str
    offer: int | None
    text: str


def problems_of(book: OfferBook, library: Library, currency: str) -> tuple[OfferProblem, ...]:
    """Everything that is wrong with the book, each as a sentence that says what to change."""
    found: list[OfferProblem] = []
    seen: set[str] = set()
    for supplier in book.suppliers:
        texts = list(supplier_problems(supplier, currency))
        if supplier.key in seen:
            texts.append(f"There are two suppliers called {supplier.key!r}: rename one of them.")
        seen.add(supplier.key)
        if not any(o.supplier == supplier.key for o in book.offers):
            texts.append(
                f"{supplier.name} has no offers, so nothing can be bought there: "
                "add what it stocks."
            )
        found += [OfferProblem(supplier.key, None, text) for text in texts]
    names = {s.key: s.name for s in book.suppliers}
    sold: dict[tuple[str, ShadeRef, int], int] = {}
    for at, offer in enumerate(book.offers):
        name = names.get(offer.supplier, offer.supplier)
        texts = [] if offer.supplier in names else [_no_supplier(offer)]
        texts += _offer_problems(offer, name, library, currency)
        texts += _sold_twice(offer, at, name, library, sold)
        found += [OfferProblem(offer.supplier, at, text) for text in texts]
    return tuple(found)


def usable(book: OfferBook, library: Library, currency: str) -> OfferBook:
    """The book without what is faulty."""
    faulty = problems_of(book, library, currency)
    suppliers = {p.supplier for p in faulty if p.offer is None}
    offers = {p.offer for p in faulty if p.offer is not None}
    return OfferBook(
        tuple(s for s in book.suppliers if s.key not in suppliers),
        tuple(
            o
            for at, o in enumerate(book.offers)
            if at not in offers and o.supplier not in suppliers
        ),
    )


def stocked(offer: Offer, library: Library) -> tuple[ShadeRef, ...]:
    """The shades that an offer has.

    One for all shades leaves out those that are no longer made; naming such a shade keeps it, since
    a supplier may have old stock.
    """
    yarn = library.yarn.get(offer.yarn)
    if yarn is None:
        return ()
    if offer.shades is None:
        made = [] if yarn.discontinued else [s.code for s in yarn.shades if not s.discontinued]
        return tuple(ShadeRef(yarn.key, code) for code in made)
    return tuple(ShadeRef(yarn.key, code) for code in offer.shades if yarn.shade(code))


def costed(offer: Offer, at: int, balls: int) -> tuple[Decimal, int, Decimal, int, Offer] | None:
    """Goods, packs and the price of a ball; None below the first price."""
    packs = -(-balls // offer.pack)
    steps = [step for step in offer.breaks if step.from_balls <= packs * offer.pack]
    if not steps:
        return None
    price = max(steps, key=lambda step: step.from_balls).price
    return price * packs * offer.pack, packs, price, at, offer


def _no_supplier(offer: Offer) -> str:
    return f"An offer of {offer.yarn} names the supplier {offer.supplier!r}, who is not there."


def is_money(amount: Decimal, currency: str) -> bool:
    """Whether an amount is finite, not negative, and has no more decimals than the currency."""
    if not amount.is_finite() or amount < 0:
        return False
    smallest = amount.scaleb(minor_digits(currency))
    return smallest == smallest.to_integral_value()


def _not_money(what: str, amount: Decimal, currency: str) -> str:
    digits = minor_digits(currency)
    return (
        f"{what} is {amount}: give an amount in {currency} of 0 or more with at most "
        f"{say.count(digits, 'decimal')}."
    )


def supplier_problems(supplier: Supplier, currency: str) -> Iterator[str]:
    """What is wrong with a supplier's terms, each as a sentence that says what to change."""
    name = supplier.name
    if supplier.currency != currency:
        yield (
            f"{name} asks {supplier.currency}, but the studio reckons in {currency}: "
            f"write its prices in {currency}."
        )
    if supplier.lead_days is None:
        yield (
            f"{name} has no lead time, so nobody can tell what it delivers in time: "
            "give the days from order to parcel."
        )
    elif supplier.lead_days < 0:
        yield f"{name} has a lead time of {supplier.lead_days} days: it is 0 or more."
    if not is_money(supplier.minimum, currency):
        yield _not_money(f"The minimum order of {name}", supplier.minimum, currency)
    free = supplier.shipping.free_from
    if free is not None and not is_money(free, currency):
        yield _not_money(f"The sum for free shipping of {name}", free, currency)
    yield from _tier_problems(supplier, currency)


def _tier_problems(supplier: Supplier, currency: str) -> Iterator[str]:
    name, tiers = supplier.name, supplier.shipping.tiers
    for tier in tiers:
        if not is_money(tier.cost, currency):
            yield _not_money(f"A shipping cost of {name}", tier.cost, currency)
            return
    limits = [t.up_to_g for t in tiers if t.up_to_g is not None]
    if not tiers or tiers[-1].up_to_g is not None or len(limits) != len(tiers) - 1:
        yield (
            f"The shipping of {name} does not say what a heavier parcel costs: "
            "let its last step, and only that, have no limit of grams."
        )
        return
    if any(not g.is_finite() or g <= 0 for g in limits) or limits != sorted(set(limits)):
        yield f"The shipping steps of {name} overlap: their limits of grams must rise from over 0."
    costs = [t.cost for t in tiers]
    if costs != sorted(costs):
        yield f"The shipping of {name} falls for a heavier parcel: check the costs of its steps."


def _offer_problems(offer: Offer, name: str, library: Library, currency: str) -> Iterator[str]:
    yarn = library.yarn.get(offer.yarn)
    what = f"{yarn.name if yarn else offer.yarn} at {name}"
    if yarn is None:
        yield f"{name} offers {offer.yarn!r}, which is not among the yarns: mend the name."
    else:
        for code in offer.shades or ():
            if yarn.shade(code) is None:
                yield f"{what}: there is no shade {code!r} of that yarn."
        if not stocked(offer, library):
            yield f"{what} stocks no shade: name its shades, or take the offer out."
    if not 0 < offer.pack <= MOST_PACK:
        yield f"{what} comes in packs of {offer.pack} balls: a pack holds 1 to {MOST_PACK:,}."
    yield from _break_problems(offer, what, currency)


def _break_problems(offer: Offer, what: str, currency: str) -> Iterator[str]:
    if not offer.breaks:
        yield f"{what} has no price: give the price of a ball."
        return
    for step in offer.breaks:
        if step.from_balls < 1:
            yield f"{what} has a price from {step.from_balls} balls: prices start from 1 or more."
            return
        if not is_money(step.price, currency):
            yield _not_money(f"The price of {what}", step.price, currency)
            return
    steps = sorted(offer.breaks, key=lambda s: s.from_balls)
    for low, high in itertools.pairwise(steps):
        if low.from_balls == high.from_balls:
            yield (
                f"{what} has two prices from {say.balls(low.from_balls)}, "
                f"{say.money(low.price, currency)} and {say.money(high.price, currency)}: "
                "breaks may not overlap."
            )
        elif high.price > low.price:
            yield (
                f"{what} costs more from {say.balls(high.from_balls)} "
                f"({say.money(high.price, currency)}) than from {low.from_balls} "
                f"({say.money(low.price, currency)}): a break must not rise."
            )


def _sold_twice(
    offer: Offer,
    at: int,
    name: str,
    library: Library,
    sold: dict[tuple[str, ShadeRef, int], int],
) -> Iterator[str]:
    """The same shade in the same pack in two offers of one supplier: which price would hold?"""
    for ref in stocked(offer, library):
        first = sold.setdefault((offer.supplier, ref, offer.pack), at)
        if first != at:
            yield (
                f"{name} offers {library.yarn[ref.yarn].name} {ref.shade} twice in packs of "
                f"{offer.pack}: keep one of the two."
            )
            return


def said(problems: Iterable[OfferProblem]) -> tuple[str, ...]:
    """The sentences alone, each once."""
    return tuple(dict.fromkeys(p.text for p in problems))
