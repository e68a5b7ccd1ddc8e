"""What a gram of yarn costs: replacement and paid prices, with the stand-in where one is missing.

All prices are landed (price of the ball plus its share of the shipping) and per gram, unrounded;
rounding to the minor unit happens once, on the line that is shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core.frozen import dataclass
from studio.core.model import Batch, Library, Lot, ShadeRef, Stash, Yarn


class PriceFrom(StrEnum):
    """Where a price comes from; everything but the first two is said on the sheet."""

    PAID = "paid"
    REPLACEMENT = "replacement price"
    LAST_OF_SHADE = "last purchase of the shade"
    LAST_OF_YARN = "last purchase of the yarn"
    MISSING = "no price known"


@dataclass(frozen=True, slots=True)
class GramPrice:
    """Money per gram and where it comes from; None where nothing is known."""

    per_g: Decimal | None
    source: PriceFrom

    @property
    def assumed(self) -> bool:
        """Whether another purchase stands in for the price of this yarn."""
        return self.source not in (PriceFrom.PAID, PriceFrom.REPLACEMENT)


NO_PRICE = GramPrice(None, PriceFrom.MISSING)


def landed_price(batch: Batch) -> Decimal | None:
    """What a ball cost with its share of shipping; None where its price is not known."""
    return None if batch.price is None else batch.price + batch.shipping


def _last_price(lots: Sequence[Lot]) -> Decimal | None:
    """The landed ball price of the newest priced batch; undated ones count as the oldest."""
    priced = [
        (batch.bought or date.min, lot.code, landed)
        for lot in lots
        for batch in lot.batches
        if (landed := landed_price(batch)) is not None
    ]
    return max(priced)[2] if priced else None


def _lots_of_yarn(stash: Stash, yarn: Yarn) -> list[Lot]:
    return [
        lot
        for shade in yarn.shades
        for lot in stash.by_shade.get(ShadeRef(yarn.key, shade.code), ())
    ]


def last_purchase(library: Library, stash: Stash, ref: ShadeRef) -> GramPrice:
    """The price that stands in where a lot has none: of the shade, else of the yarn."""
    yarn = library.yarn.get(ref.yarn)
    if yarn is None:
        return NO_PRICE
    own = _last_price(stash.by_shade.get(ref, ()))
    if own is not None:
        return GramPrice(own / yarn.ball_g, PriceFrom.LAST_OF_SHADE)
    cousin = _last_price(_lots_of_yarn(stash, yarn))
    if cousin is not None:
        return GramPrice(cousin / yarn.ball_g, PriceFrom.LAST_OF_YARN)
    return NO_PRICE


def replacement(library: Library, stash: Stash, ref: ShadeRef) -> GramPrice:
    """What a gram costs to buy today: the yarn's stated price, else the last purchase."""
    yarn = library.yarn.get(ref.yarn)
    if yarn is not None and yarn.price is not None:
        return GramPrice(yarn.price / yarn.ball_g, PriceFrom.REPLACEMENT)
    return last_purchase(library, stash, ref)


def paid(library: Library, stash: Stash, lot: Lot) -> GramPrice:
    """What a gram of the lot was bought for: its priced batches, weighted by their balls.

    Balls of one lot cannot be told apart once they are in the bag, so the batches are averaged.
    A batch without balls still prices the part balls that are left of it. A lot without a price
    takes the last purchase, then the replacement price.
    """
    yarn = library.yarn.get(lot.yarn)
    priced = [(b, p) for b in lot.batches if (p := landed_price(b)) is not None]
    if yarn is None:
        return NO_PRICE
    if priced:
        balls = sum(b.balls for b, _ in priced)
        weights = [b.balls if balls else 1 for b, _ in priced]
        average = sum((w * p for w, (_, p) in zip(weights, priced, strict=True)), Decimal(0))
        return GramPrice(average / sum(weights) / yarn.ball_g, PriceFrom.PAID)
    stand_in = last_purchase(library, stash, lot.shade_ref)
    if stand_in.per_g is None and yarn.price is not None:
        return GramPrice(yarn.price / yarn.ball_g, PriceFrom.REPLACEMENT)
    return stand_in
