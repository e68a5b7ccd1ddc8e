"""The purchase plan as it is shown: orders by supplier, what each line is for, and what else to do.

Beside the cheapest purchase stand the runner-up that truly differs, the cost of everything from
one supplier, what a person would have bought, and where a little more reaches a break.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core.buying.greedy import Bought, person_plan
from studio.core.buying.problem import (
    NO_POOL,
    BuyProblem,
    Late,
    Need,
    NotSold,
    asked_dg,
    packs_for,
    tier_at,
)
from studio.core.frozen import dataclass
from studio.core.model import ShadeRef
from studio.core.money import share_units, unit

TRULY_DIFFERS = Decimal("0.3")
"""The share of runs that must come from another supplier in a runner-up of the same suppliers."""

NEAR_PRICE = Decimal("0.5")
"""A break is near where the balls that reach it cost at most this part of their price (assumed)."""


@dataclass(frozen=True, slots=True)
class LineFor:
    """A need that a line covers, with its share of the line's cost by grams."""

    need: Need
    cost: Decimal


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One shade in one order. `surplus` balls are beyond need; `worth` is what they are worth."""

    shade: ShadeRef
    offer: int
    packs: int
    pack: int
    ball_price: Decimal
    cost: Decimal
    needs: tuple[LineFor, ...]
    surplus: int
    worth: Decimal

    @property
    def balls(self) -> int:
        """Balls on the line."""
        return self.packs * self.pack


@dataclass(frozen=True, slots=True)
class SupplierOrder:
    """What goes to one supplier; `free` where its goods made shipping free."""

    supplier: str
    name: str
    arrives: date
    lines: tuple[PlanLine, ...]
    goods: Decimal
    shipping: Decimal
    free: bool

    @property
    def landed(self) -> Decimal:
        """Goods and shipping."""
        return self.goods + self.shipping


class NearKind(StrEnum):
    """What a little more would reach."""

    FREE_SHIPPING = "free shipping"
    SHADE_BREAK = "a price break on the shade"
    YARN_BREAK = "a price break over the yarn"


@dataclass(frozen=True, slots=True)
class Near:
    """Balls of `shade` that would reach something: what they add in all, and what they list at."""

    supplier: str
    kind: NearKind
    shade: ShadeRef
    packs: int
    balls: int
    adds: Decimal
    listed: Decimal

    @property
    def saves(self) -> Decimal:
        """How much less they cost than at their present price."""
        return self.listed - self.adds


@dataclass(frozen=True, slots=True)
class OneSupplier:
    """Everything from one supplier: its cost and how much dearer, or the shades it cannot bring."""

    supplier: str
    landed: Decimal | None
    dearer: Decimal | None
    lacks: tuple[ShadeRef, ...] = ()


@dataclass(frozen=True, slots=True)
class RunnerUp:
    """The next plan that truly differs. `moved` is the share of runs bought elsewhere."""

    orders: tuple[SupplierOrder, ...]
    landed: Decimal
    dearer: Decimal
    other_suppliers: bool
    moved: Decimal
    proved: bool


@dataclass(frozen=True, slots=True)
class PurchasePlan:
    """The answer. `late` and `not_sold` are said first; all money is in the studio's currency.

    `moves` are (run, lot now, lot then) that the plan counts on; `person` is what buying each shade
    where it is cheapest would have cost. `gap` is a fraction of the cost, 0 where `proved`.
    """

    late: tuple[Late, ...]
    not_sold: tuple[NotSold, ...]
    orders: tuple[SupplierOrder, ...]
    worth: Decimal
    proved: bool
    gap: float
    stopped: bool
    person: Decimal | None
    moves: tuple[tuple[str, str, str], ...] = ()
    runner_up: RunnerUp | None = None
    singles: tuple[OneSupplier, ...] = ()
    near: tuple[Near, ...] = ()

    @property
    def goods(self) -> Decimal:
        """Goods over all orders."""
        return sum((o.goods for o in self.orders), Decimal(0))

    @property
    def shipping(self) -> Decimal:
        """Shipping over all orders."""
        return sum((o.shipping for o in self.orders), Decimal(0))

    @property
    def landed(self) -> Decimal:
        """Goods and shipping over all orders."""
        return self.goods + self.shipping

    @property
    def net(self) -> Decimal:
        """Landed cost less what surplus is worth."""
        return self.landed - self.worth


def plan_of(
    problem: BuyProblem, bought: Bought, *, proved: bool, gap: float, stopped: bool
) -> PurchasePlan:
    """A basket with nothing beside it yet."""
    smallest = unit(problem.currency)
    person = person_plan(problem)
    chosen = zip(problem.shades, bought.basket.alternative, strict=True)
    return PurchasePlan(
        late=problem.late,
        not_sold=problem.not_sold,
        orders=orders_of(problem, bought),
        worth=bought.cost.worth * smallest,
        proved=proved,
        gap=gap,
        stopped=stopped,
        person=None if person is None else person.cost.landed * smallest,
        moves=tuple(move for shade, at in chosen for move in shade.alternatives[at].moves),
    )


def orders_of(problem: BuyProblem, bought: Bought) -> tuple[SupplierOrder, ...]:
    """A basket as orders to suppliers, in the order of the suppliers."""
    smallest = unit(problem.currency)
    lines: dict[int, list[PlanLine]] = {}
    for k, line in _lines(problem, bought, smallest):
        lines.setdefault(problem.sources[k].supplier, []).append(line)
    orders = []
    for supplier, cost in bought.cost.suppliers.items():
        terms = problem.suppliers[supplier]
        orders.append(
            SupplierOrder(
                terms.key,
                terms.name,
                terms.arrives,
                tuple(lines[supplier]),
                cost.goods * smallest,
                cost.shipping * smallest,
                cost.free,
            )
        )
    return tuple(orders)


def _lines(
    problem: BuyProblem, bought: Bought, smallest: Decimal
) -> Iterator[tuple[int, PlanLine]]:
    basket = bought.basket
    asked = asked_dg(problem, basket.alternative, basket.source)
    wanted: dict[int, list[Need]] = {}
    for shade, at, places in zip(problem.shades, basket.alternative, basket.source, strict=True):
        for group, k in zip(shade.alternatives[at].groups, places, strict=True):
            wanted.setdefault(k, []).extend(group.needs)
    credit = [s.worth_balls for s in problem.shades]
    for k, packs in enumerate(basket.packs):
        if not packs:
            continue
        source = problem.sources[k]
        shade = problem.shades[source.shade]
        price = pack_price(problem, basket.packs, k)
        surplus = packs * source.pack - packs_for(asked[k], shade.ball_dg, 1)
        worthy = min(surplus, credit[source.shade])
        credit[source.shade] -= worthy
        shares = share_units(price * packs, [n.dg for n in wanted[k]])
        yield (
            k,
            PlanLine(
                shade=shade.ref,
                offer=source.offer,
                packs=packs,
                pack=source.pack,
                ball_price=price * smallest / source.pack,
                cost=price * packs * smallest,
                needs=tuple(
                    LineFor(n, units * smallest) for n, units in zip(wanted[k], shares, strict=True)
                ),
                surplus=surplus,
                worth=worthy * shade.worth * smallest,
            ),
        )


def counted(problem: BuyProblem, packs: Sequence[int], k: int) -> int:
    """The packs that decide the price of a source: its own, or those of its pool."""
    pool = problem.sources[k].pool
    if pool == NO_POOL:
        return packs[k]
    return sum(n for n, s in zip(packs, problem.sources, strict=True) if s.pool == pool)


def pack_price(problem: BuyProblem, packs: Sequence[int], k: int) -> int:
    """What a pack of a bought source costs, in minor units."""
    tiers = problem.tiers(k)
    at = tier_at(tiers, counted(problem, packs, k))
    return tiers[at or 0].price
