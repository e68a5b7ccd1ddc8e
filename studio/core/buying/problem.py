"""The purchase question in whole numbers: needs, sources and terms, and what an answer costs.

Money is in minor units of the currency (cents) and yarn in tenths of a gram (`_dg`) or packs, so
that every sum is exact. The question is plain hashable data. `cost_of` and `broken_rule` know
nothing of how an answer was found; the greedy, the model and the tests are all judged by them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from studio.core.frozen import dataclass
from studio.core.model import ShadeRef

NO_POOL = -1

TOLL = 1
"""What a run that moves to another lot counts for, in minor units."""


@dataclass(frozen=True, slots=True)
class Need:
    """What one piece lacks of one shade. `runs` are the keys of the runs that wait for it.

    `need_by` is the last day on which the yarn may arrive; None where nothing presses.
    """

    shade: ShadeRef
    project: str
    dg: int
    need_by: date | None = None
    runs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    """Needs of one shade that are bought together in one dye lot, from one of `sources`."""

    dg: int
    needs: tuple[Need, ...]
    sources: tuple[int, ...]

    @property
    def weight(self) -> int:
        """How many runs it stands for, at least one for each need."""
        return sum(max(1, len(n.runs)) for n in self.needs)


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to leave a shade short: the groups to buy, and the lots that then work the rest.

    `moves` are (run, lot code now, lot code then) against the plan as it stands. Each must save
    more than `TOLL` minor units, so that nothing moves for nothing.
    """

    groups: tuple[Group, ...]
    moves: tuple[tuple[str, str, str], ...] = ()

    @property
    def toll(self) -> int:
        """What its moves count for, in minor units that nobody pays."""
        return TOLL * len(self.moves)


@dataclass(frozen=True, slots=True)
class ShadeNeed:
    """One shade to be bought. Surplus balls of a staple are worth `worth` each, up to so many."""

    ref: ShadeRef
    ball_dg: int
    alternatives: tuple[Alternative, ...]
    worth: int = 0
    worth_balls: int = 0


@dataclass(frozen=True, slots=True)
class Tier:
    """From so many packs on, every pack costs `price` minor units."""

    from_packs: int
    price: int


@dataclass(frozen=True, slots=True)
class Source:
    """One shade under one offer. Its tiers count its own packs, or those of its whole pool."""

    shade: int
    supplier: int
    offer: int
    pack: int
    tiers: tuple[Tier, ...]
    pool: int = NO_POOL


@dataclass(frozen=True, slots=True)
class Terms:
    """A supplier: arrival of an order placed today, least goods, and shipping by weight.

    `shipping` lists (up to dg or None, minor units), lightest first; `free_from` is a sum of goods.
    """

    key: str
    name: str
    arrives: date
    minimum: int = 0
    shipping: tuple[tuple[int | None, int], ...] = ((None, 0),)
    free_from: int | None = None

    @property
    def has_threshold(self) -> bool:
        """Whether more goods can bring an advantage beyond their price."""
        return self.minimum > 0 or (self.free_from is not None and self.shipping[-1][1] > 0)


@dataclass(frozen=True, slots=True)
class Late:
    """A need that no supplier delivers in time; it is bought where it arrives first."""

    need: Need
    arrives: date
    days: int


@dataclass(frozen=True, slots=True)
class NotSold:
    """A need that nobody can supply at all, and why, as a sentence."""

    need: Need
    text: str


@dataclass(frozen=True)
class BuyProblem:
    """Everything the cheapest purchase depends on; `pools` are tiers over several sources."""

    currency: str
    suppliers: tuple[Terms, ...]
    shades: tuple[ShadeNeed, ...]
    sources: tuple[Source, ...]
    pools: tuple[tuple[Tier, ...], ...] = ()
    late: tuple[Late, ...] = ()
    not_sold: tuple[NotSold, ...] = ()

    def tiers(self, source: int) -> tuple[Tier, ...]:
        """The tiers that price this source."""
        found = self.sources[source]
        return found.tiers if found.pool == NO_POOL else self.pools[found.pool]


@dataclass(frozen=True, slots=True)
class Basket:
    """An answer: for each shade its alternative and the source of each group; packs by source."""

    alternative: tuple[int, ...]
    source: tuple[tuple[int, ...], ...]
    packs: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SupplierCost:
    """One supplier's order in minor units; `free` where free shipping was reached."""

    goods: int
    shipping: int
    free: bool = False


@dataclass(frozen=True, slots=True)
class Cost:
    """What a basket costs in minor units; `worth` is what its surplus of staples is worth."""

    suppliers: Mapping[int, SupplierCost]
    worth: int
    toll: int = 0

    @property
    def landed(self) -> int:
        """Goods and shipping."""
        return sum(c.goods + c.shipping for c in self.suppliers.values())

    @property
    def paid(self) -> int:
        """Landed cost less what surplus is worth."""
        return self.landed - self.worth

    @property
    def net(self) -> int:
        """What is minimised: landed cost less what surplus is worth, and the toll of moves."""
        return self.paid + self.toll


def packs_for(dg: int, ball_dg: int, pack: int) -> int:
    """Whole packs that hold so many tenths of a gram."""
    return -(-dg // (ball_dg * pack))


def tier_at(tiers: Sequence[Tier], packs: int) -> int | None:
    """The number of the tier that so many packs reach; None below the first."""
    reached = None
    for at, tier in enumerate(tiers):
        if packs >= tier.from_packs:
            reached = at
    return reached


def asked_dg(
    problem: BuyProblem, alternative: Sequence[int], source: Sequence[Sequence[int]]
) -> dict[int, int]:
    """Grams that are to come from each source, in dg."""
    asked: dict[int, int] = {}
    for shade, chosen, places in zip(problem.shades, alternative, source, strict=True):
        for group, place in zip(shade.alternatives[chosen].groups, places, strict=True):
            asked[place] = asked.get(place, 0) + group.dg
    return asked


def required_packs(
    problem: BuyProblem, alternative: Sequence[int], source: Sequence[Sequence[int]]
) -> list[int]:
    """The packs that the needs alone ask of each source."""
    packs = [0] * len(problem.sources)
    for place, dg in asked_dg(problem, alternative, source).items():
        found = problem.sources[place]
        packs[place] = packs_for(dg, problem.shades[found.shade].ball_dg, found.pack)
    return packs


def goods_of(problem: BuyProblem, packs: Sequence[int]) -> dict[int, int] | None:
    """Goods by supplier in minor units; None where a quantity is below its first tier."""
    goods: dict[int, int] = {}
    pooled: dict[int, int] = {}
    for source, count in zip(problem.sources, packs, strict=True):
        if count and source.pool != NO_POOL:
            pooled[source.pool] = pooled.get(source.pool, 0) + count
    for source, count in zip(problem.sources, packs, strict=True):
        if not count:
            continue
        own = source.pool == NO_POOL
        tiers = source.tiers if own else problem.pools[source.pool]
        at = tier_at(tiers, count if own else pooled[source.pool])
        if at is None:
            return None
        goods[source.supplier] = goods.get(source.supplier, 0) + tiers[at].price * count
    return goods


def shipping_of(terms: Terms, goods: int, dg: int) -> tuple[int, bool]:
    """What shipping so much costs, and whether the sum of goods made it free."""
    if terms.free_from is not None and goods >= terms.free_from:
        return 0, terms.shipping[-1][1] > 0
    for limit, cost in terms.shipping:
        if limit is None or dg <= limit:
            return cost, False
    raise ValueError(f"the shipping of {terms.key} has no last step")


def surplus_balls(problem: BuyProblem, basket: Basket) -> list[int]:
    """Balls of each shade beyond what its needs ask, reckoned over all its sources."""
    asked = asked_dg(problem, basket.alternative, basket.source)
    surplus = [0] * len(problem.shades)
    for at, (source, count) in enumerate(zip(problem.sources, basket.packs, strict=True)):
        if count:
            ball = problem.shades[source.shade].ball_dg
            surplus[source.shade] += count * source.pack - packs_for(asked.get(at, 0), ball, 1)
    return surplus


def worth_of(problem: BuyProblem, basket: Basket) -> int:
    """What the surplus of staples is worth, in minor units."""
    if not any(shade.worth for shade in problem.shades):
        return 0
    return sum(
        shade.worth * min(shade.worth_balls, balls)
        for shade, balls in zip(problem.shades, surplus_balls(problem, basket), strict=True)
        if shade.worth
    )


def cost_of(problem: BuyProblem, basket: Basket) -> Cost | None:
    """The cost of a basket to the cent; None where it buys below a first tier or a minimum."""
    goods = goods_of(problem, basket.packs)
    if goods is None:
        return None
    weight: dict[int, int] = {}
    for source, count in zip(problem.sources, basket.packs, strict=True):
        if count:
            dg = count * source.pack * problem.shades[source.shade].ball_dg
            weight[source.supplier] = weight.get(source.supplier, 0) + dg
    costs = {}
    for supplier, value in sorted(goods.items()):
        terms = problem.suppliers[supplier]
        if value < terms.minimum:
            return None
        shipping, free = shipping_of(terms, value, weight[supplier])
        costs[supplier] = SupplierCost(value, shipping, free)
    ways = zip(problem.shades, basket.alternative, strict=True)
    toll = sum(shade.alternatives[at].toll for shade, at in ways)
    return Cost(costs, worth_of(problem, basket), toll)


def broken_rule(problem: BuyProblem, basket: Basket) -> str | None:
    """Why a basket is not allowed; None where it is."""
    for at, (shade, chosen, places) in enumerate(
        zip(problem.shades, basket.alternative, basket.source, strict=True)
    ):
        groups = shade.alternatives[chosen].groups
        if len(groups) != len(places):
            return f"shade {at} has {len(groups)} groups and {len(places)} sources"
        for group, place in zip(groups, places, strict=True):
            if place not in group.sources:
                return f"source {place} may not serve a group of shade {at}"
    asked = required_packs(problem, basket.alternative, basket.source)
    for place, (least, count) in enumerate(zip(asked, basket.packs, strict=True)):
        if count < least:
            return f"source {place} sends {count} packs where {least} are needed"
        if count and not least:
            return f"source {place} sends {count} packs that nobody asked for"
    if cost_of(problem, basket) is None:
        return "an order is below its minimum or its first price"
    return None
