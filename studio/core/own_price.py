"""Her own price of a yarn against what is asked for it today: where quotes count it too low.

A yarn has one price, for all its shades: what a ball costs to buy today (trade rules, section 6).
Prices here are per ball and in the studio's currency, without the parcel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal

from studio.core import say
from studio.core.answers import ShadePlan
from studio.core.buying.offers import BreakScope, Offer, costed, stocked
from studio.core.costing import values_at_replacement
from studio.core.frozen import dataclass
from studio.core.headline import money_figure
from studio.core.model import Project, ShadeRef, Studio
from studio.core.money import rounded
from studio.core.prices import replacement


@dataclass(frozen=True, slots=True)
class Asked:
    """What a ball of a shade costs today; `supplier` is None where it is the last price paid."""

    price: Decimal
    supplier: str | None


@dataclass(frozen=True, slots=True)
class TooLow:
    """A yarn that a piece counts at less than it costs today.

    `balls` of `shade` cost `asked` each at the least; `more` is what the piece then costs more.
    """

    shade: ShadeRef
    balls: int
    counted: Decimal
    asked: Asked
    more: Decimal


def asked_today(
    studio: Studio,
    ref: ShadeRef,
    balls: int,
    of_yarn: int,
    offers: Iterable[Offer] | None = None,
) -> Asked | None:
    """The least price of a ball among all offers for so many, else the newest that was paid.

    `of_yarn` balls count where a break counts all shades. Offers in other money tell nothing.
    `offers` narrows where is looked, for who asks of many shades and has them by yarn.
    """
    names = {s.key: s.name for s in studio.suppliers if s.currency == studio.settings.currency}
    found: list[tuple[Decimal, str]] = []
    for offer in studio.offers if offers is None else offers:
        if offer.yarn != ref.yarn or offer.supplier not in names:
            continue
        if offer.breaks and ref in stocked(offer, studio.library):
            count = of_yarn if offer.scope is BreakScope.YARN else balls
            least = min(step.from_balls for step in offer.breaks)
            price = costed(offer, 0, max(count, least))
            if price is not None:
                found.append((price[2], names[offer.supplier]))
    if found:
        return Asked(*min(found))
    paid = [
        (batch.bought or date.min, batch.price)
        for lot in studio.stash.by_shade.get(ref, ())
        for batch in lot.batches
        if batch.price is not None
    ]
    return Asked(max(paid)[1], None) if paid else None


def too_low(project: Project, shades: Iterable[ShadePlan], studio: Studio) -> tuple[TooLow, ...]:
    """Each yarn of a piece that is counted too low, where that moves its money.

    A quote or an idea counts all its yarn at today's price, any other piece what it has to buy. The
    dearest shade stands for its yarn, since one price holds for all.
    """
    quoting = values_at_replacement(project, studio.settings)
    wanted: dict[str, list[tuple[ShadePlan, int]]] = {}
    for shade in shades:
        yarn = studio.library.yarn.get(shade.shade.yarn)
        grams = Decimal(math.ceil(shade.mean_g)) if quoting else shade.buy_g
        if yarn is not None and grams > 0:
            wanted.setdefault(yarn.key, []).append((shade, math.ceil(grams / yarn.ball_g)))
    found = (_of_yarn(studio, key, group, quoting=quoting) for key, group in wanted.items())
    return tuple(f for f in found if f is not None)


def _of_yarn(
    studio: Studio, key: str, group: Sequence[tuple[ShadePlan, int]], *, quoting: bool
) -> TooLow | None:
    yarn, whole = studio.library.yarn[key], sum(balls for _, balls in group)
    dearest: tuple[Asked, ShadeRef, int, Decimal] | None = None
    for shade, balls in group:
        counted = replacement(studio.library, studio.stash, shade.shade).per_g
        asked = asked_today(studio, shade.shade, balls, whole)
        if counted is None or asked is None or asked.price <= counted * yarn.ball_g:
            continue
        if dearest is None or asked.price > dearest[0].price:
            dearest = asked, shade.shade, balls, counted * yarn.ball_g
    if dearest is None:
        return None
    asked, ref, balls, counted = dearest
    more = Decimal(0)
    for shade, balls_of in group:
        now = replacement(studio.library, studio.stash, shade.shade).per_g or Decimal(0)
        amount = Decimal(repr(round(shade.mean_g, 3))) if quoting else balls_of * yarn.ball_g
        more += rounded(amount * asked.price / yarn.ball_g, studio.settings.currency)
        more -= rounded(amount * now, studio.settings.currency)
    return TooLow(ref, balls, counted, asked, more) if more > 0 else None


def dearer(studio: Studio, paid: Iterable[tuple[ShadeRef, Decimal]]) -> Mapping[str, Decimal]:
    """The yarns that cost more than her own price of them says, each with the dearest price."""
    found: dict[str, Decimal] = {}
    for ref, price in paid:
        yarn = studio.library.yarn.get(ref.yarn)
        if yarn is not None and yarn.price is not None and price > yarn.price:
            found[yarn.key] = max(price, found.get(yarn.key, price))
    return found


def above_own(
    studio: Studio, refs: Iterable[ShadeRef], balls: int, offers: Mapping[ShadeRef, Sequence[Offer]]
) -> str:
    """That so many balls of these shades of one yarn cost more than her own price of it, or ''.

    Her own price holds for all shades of the yarn, so the dearest of them tells. What can be had
    elsewhere for no more than it is not dearer. `offers` are what each shade is stocked by.
    """
    found: dict[ShadeRef, Decimal] = {}
    every = tuple(refs)
    for ref in every:
        own = studio.library.yarn[ref.yarn].price
        asked = asked_today(studio, ref, balls, balls, offers.get(ref, ()))
        if own is not None and asked is not None and asked.supplier and asked.price > own:
            found[ref] = asked.price
    if not found:
        return ""
    ref = max(found, key=lambda r: found[r])
    yarn, price = studio.library.yarn[ref.yarn], found[ref]
    currency = studio.settings.currency
    name = yarn.name if len(found) == len(every) > 1 else studio.library.called(ref)
    count = f"for {say.balls(balls)} " if balls > 1 else ""
    return (
        f"{name} then costs {money_figure(price, currency)} a ball "
        f"{count}at the least; your own price of {yarn.name} is "
        f"{money_figure(yarn.price or Decimal(0), currency)}, and quotes go on with that until "
        "you take the new one over."
    )
