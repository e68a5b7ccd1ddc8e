"""Shades that are always kept: yearly use, how much to order at once, and when to reorder.

Yearly use comes from what pieces really took. The order quantity is the economic one (Harris,
1913) with price breaks; the reorder point is the use in the lead time and a safety stock from the
spread of use and of lead time. Money is Decimal per ball; use is in balls.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal

from studio.core import say
from studio.core.buying.offers import PriceBreak, Shipping
from studio.core.frozen import dataclass
from studio.core.model import ShadeRef
from studio.core.trade_model import StapleRules

LEAST_DAYS = 365
"""Twelve months of records; below that no yearly use is said."""

LEAST_USES = 8
"""Uses needed before a yearly use is said."""

YEAR_DAYS = 365.25
MONTH_DAYS = YEAR_DAYS / 12

SERVICE = float(StapleRules().service)
"""The chance that the shelf lasts through a lead time, where she states none."""


@dataclass(frozen=True, slots=True)
class Use:
    """Balls of a shade that a piece took, and the day it was finished."""

    on: date
    balls: Decimal


def uses_of(
    ref: ShadeRef, ball_g: Decimal, finished: Iterable[tuple[date, Mapping[ShadeRef, float]]]
) -> tuple[Use, ...]:
    """What each finished piece took of a shade, from its day and the grams of each shade."""
    found = []
    for on, taken in finished:
        grams = taken.get(ref, 0.0)
        if grams > 0:
            found.append(Use(on, Decimal(repr(round(grams, 3))) / ball_g))
    return tuple(sorted(found, key=lambda u: u.on))


@dataclass(frozen=True, slots=True)
class YearlyUse:
    """Balls a year, the spread of use in a month, and what both rest on."""

    balls: float
    month_spread: float
    uses: int
    since: date

    @property
    def day(self) -> float:
        """Balls a day."""
        return self.balls / YEAR_DAYS


@dataclass(frozen=True, slots=True)
class TooLittle:
    """Why no figure is given, as a sentence."""

    text: str


def yearly_use(
    uses: Sequence[Use], today: date, since: date | None = None
) -> YearlyUse | TooLittle:
    """Use a year of one shade, from `since` (else the first use) until today.

    Below 12 months or 8 uses there is no figure. The spread is that of whole months counted back
    from today, so that months without a use count as such.
    """
    past = [u for u in uses if u.on <= today and (since is None or u.on >= since)]
    if len(past) < LEAST_USES:
        return TooLittle(
            f"{say.count(len(past), 'use')} so far: yearly use is told from {LEAST_USES} uses on."
        )
    first = since or min(u.on for u in past)
    days = (today - first).days
    if days < LEAST_DAYS:
        return TooLittle(
            f"The records go back {say.count(days, 'day')}: "
            "yearly use is told from twelve months on."
        )
    months = int(days / MONTH_DAYS)
    taken = [0.0] * months
    for use in past:
        at = int((today - use.on).days / MONTH_DAYS)
        if at < months:
            taken[at] += float(use.balls)
    balls = float(sum(u.balls for u in past)) / days * YEAR_DAYS
    return YearlyUse(balls, statistics.stdev(taken), len(past), first)


@dataclass(frozen=True, slots=True)
class OrderSize:
    """How much to order at once: balls and what a year then costs at that size."""

    balls: int
    price: Decimal
    goods: float
    ordering: float
    holding: float

    @property
    def year(self) -> float:
        """Goods, ordering and holding of a year."""
        return self.goods + self.ordering + self.holding


def economic_quantity(yearly: float, order_cost: float, holding: float) -> float:
    """The order size at which ordering and holding cost the same a year.

    `order_cost` is per order whatever its size, `holding` per ball and year.
    """
    return math.sqrt(2 * yearly * order_cost / holding)


@dataclass(frozen=True, slots=True)
class OrderCost:
    """What an order costs beside its goods: a sum for each, and its parcel by the terms."""

    fixed: Decimal
    shipping: Shipping = Shipping()
    ball_g: Decimal = Decimal(0)

    def at(self, balls: int, price: Decimal) -> Decimal:
        """For an order of so many balls at this price."""
        return self.fixed + self.shipping.cost(balls * price, balls * self.ball_g)

    def all(self) -> set[Decimal]:
        """Every sum that an order may cost beside its goods."""
        return {self.fixed + c for c in (Decimal(0), *(t.cost for t in self.shipping.tiers))}

    def turns(self, price: Decimal, pack: int) -> Iterator[int]:
        """Packs about which the parcel costs something else: at a weight, or where it is free."""
        free = self.shipping.free_from
        if free is not None and price > 0:
            yield math.ceil(free / (price * pack))
        for tier in self.shipping.tiers:
            if tier.up_to_g is not None and self.ball_g > 0:
                fits = int(tier.up_to_g // (self.ball_g * pack))
                yield from (fits, fits + 1)


def order_sizes(
    yearly: float,
    order_cost: Decimal | OrderCost,
    holding_rate: Decimal,
    breaks: Sequence[PriceBreak],
    pack: int = 1,
) -> tuple[OrderSize, ...]:
    """For each price the best order size at it, in whole packs; prices never reached are left out.

    `holding_rate` is the part of a ball's price that keeping it for a year costs. Where the parcel
    costs the same the year is cheapest at the economic quantity or as near it as may be, so that
    these sizes and those at which it costs something else are all that need a look.
    """
    cost = order_cost if isinstance(order_cost, OrderCost) else OrderCost(order_cost)
    steps = sorted(breaks, key=lambda s: s.from_balls)
    sizes = []
    for at, step in enumerate(steps):
        below = steps[at + 1].from_balls - 1 if at + 1 < len(steps) else None
        least = max(1, -(-step.from_balls // pack))
        most = None if below is None else below // pack
        if most is not None and most < least:
            continue
        options = set(cost.turns(step.price, pack))
        for each in cost.all():
            options |= _packs_about(yearly, each, holding_rate * step.price, pack)
        inside = {max(least, p if most is None else min(p, most)) for p in options}
        made = [_order_size(p * pack, step.price, yearly, cost, holding_rate) for p in inside]
        sizes.append(min(made, key=lambda s: (s.year, s.balls)))
    return tuple(sizes)


def _packs_about(yearly: float, order_cost: Decimal, holding: Decimal, pack: int) -> set[int]:
    """Whole packs on both sides of the economic quantity; a year's worth where keeping is free.

    The cost falls to the economic quantity and rises from it, so no other size can be best.
    """
    if holding <= 0:
        return {max(1, math.ceil(yearly / pack))}
    exact = economic_quantity(yearly, float(order_cost), float(holding)) / pack
    return {max(1, math.floor(exact)), max(1, math.ceil(exact))}


def _order_size(
    balls: int, price: Decimal, yearly: float, cost: OrderCost, holding_rate: Decimal
) -> OrderSize:
    return OrderSize(
        balls=balls,
        price=price,
        goods=yearly * float(price),
        ordering=yearly / balls * float(cost.at(balls, price)),
        holding=balls / 2 * float(holding_rate * price),
    )


def best_order_size(
    yearly: float,
    order_cost: Decimal | OrderCost,
    holding_rate: Decimal,
    breaks: Sequence[PriceBreak],
    pack: int = 1,
) -> OrderSize:
    """The order size whose year costs least, over all prices."""
    sizes = order_sizes(yearly, order_cost, holding_rate, breaks, pack)
    return min(sizes, key=lambda s: (s.year, s.balls))


@dataclass(frozen=True, slots=True)
class ReorderPoint:
    """Reorder when so many balls are left: use in the lead time and the safety stock."""

    lead_use: float
    safety: float
    lead_days: float
    lead_spread_days: float

    @property
    def balls(self) -> int:
        """Whole balls, rounded up."""
        return math.ceil(self.lead_use + self.safety - 1e-9)


def reorder_point(
    use: YearlyUse, lead_days: float, seen_leads: Sequence[int] = (), service: float = SERVICE
) -> ReorderPoint:
    """When to reorder: safety stock = z sqrt(L s^2 + d^2 sL^2), in balls.

    L is the lead time in months, s the spread of a month's use, d the use of a day, sL the spread
    of the lead time in days. With two or more past deliveries their mean and spread replace the
    supplier's stated lead time.
    """
    lead, spread = lead_days, 0.0
    if len(seen_leads) >= 2:
        lead, spread = statistics.mean(seen_leads), statistics.stdev(seen_leads)
    z = statistics.NormalDist().inv_cdf(service)
    variance = lead / MONTH_DAYS * use.month_spread**2 + (use.day * spread) ** 2
    return ReorderPoint(use.day * lead, z * math.sqrt(variance), lead, spread)


@dataclass(frozen=True, slots=True)
class Standing:
    """A staple's shelf against its reorder point: balls free and on order, and what to order."""

    free_balls: Decimal
    ordered_balls: int
    point: ReorderPoint
    size: OrderSize

    @property
    def due(self) -> bool:
        """Whether it is time to reorder."""
        return self.free_balls + self.ordered_balls <= self.point.balls

    def text(self, name: str) -> str:
        """'Time to reorder Harbour 12: 6 balls free, reorder point 9, order 40.'"""
        have = say.number(self.free_balls, 1)
        coming = f" and {self.ordered_balls} on order" if self.ordered_balls else ""
        return (
            f"Time to reorder {name}: {have} balls free{coming}, "
            f"reorder point {self.point.balls}, order {self.size.balls}."
        )
