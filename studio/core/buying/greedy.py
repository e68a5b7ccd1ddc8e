"""Buying as a careful person does, and a better first plan made from it in milliseconds.

The person: each shade at its cheapest supplier, then bought up to the next break where that is
cheaper, then mended where an order stays under its minimum (filled up, or moved elsewhere, what
costs less). The first plan repeats this without some of the suppliers, fills up to free shipping,
and moves single groups while that saves. Counted in steps, so that every machine does the same.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence

from studio.core.buying.problem import (
    NO_POOL,
    Basket,
    BuyProblem,
    Cost,
    Tier,
    cost_of,
    goods_of,
    packs_for,
    required_packs,
    tier_at,
)
from studio.core.frozen import dataclass

Places = tuple[tuple[int, ...], ...]
"""The source of each group of each shade."""

MOST_SETS = 64
"""How many sets of suppliers the first plan looks at."""

MOST_TRIALS = 500
"""How many moves of one group the first plan tries."""

MOST_FILLS = 20
"""How often a falling price may undo a fill before it is given up."""


@dataclass(frozen=True, slots=True)
class Bought:
    """A basket and what it costs."""

    basket: Basket
    cost: Cost

    @property
    def net(self) -> int:
        """What is minimised, in minor units."""
        return self.cost.net


def person_plan(problem: BuyProblem) -> Bought | None:
    """What a careful person would buy; None where no order reaches its minimum or first price."""
    return Shopper(problem).person()


def first_plan(problem: BuyProblem) -> Bought | None:
    """The best plan found in a few hundred steps, never dearer than the person's."""
    shopper = Shopper(problem)
    best = shopper.person()
    for banned in _sets(len(problem.suppliers)):
        alternative = [0] * len(problem.shades)
        best = _better(best, shopper.finish(alternative, shopper.place(alternative, banned)))
    return None if best is None else shopper.moved(best)


def _better(one: Bought | None, other: Bought | None) -> Bought | None:
    if one is None or (other is not None and other.net < one.net):
        return other
    return one


def _sets(suppliers: int) -> Iterator[frozenset[int]]:
    """Sets of suppliers to do without: few left out first, then few left in."""
    every = range(suppliers)
    sizes = sorted(range(suppliers), key=lambda n: min(n, suppliers - n))
    sets = (frozenset(s) for size in sizes for s in itertools.combinations(every, size))
    return itertools.islice(sets, MOST_SETS)


def own_cost(tiers: Sequence[Tier], packs: int) -> int:
    """The least price of at least so many packs: bought up to a break where that is cheaper."""
    return min(tier.price * max(packs, tier.from_packs) for tier in tiers)


def topped(tiers: Sequence[Tier], packs: int) -> int:
    """So many packs, or the beginning of a higher tier where that costs less."""
    at = tier_at(tiers, packs)
    if at is None:
        return topped(tiers, tiers[0].from_packs)
    best, cost = packs, tiers[at].price * packs
    for tier in tiers[at + 1 :]:
        if tier.price * tier.from_packs < cost:
            best, cost = tier.from_packs, tier.price * tier.from_packs
    return best


class Shopper:
    """Builds baskets for one problem."""

    def __init__(self, problem: BuyProblem) -> None:
        self.problem = problem
        self.members: dict[int, list[int]] = {}
        self.sold: dict[int, list[int]] = {}
        for at, source in enumerate(problem.sources):
            self.sold.setdefault(source.supplier, []).append(at)
            if source.pool != NO_POOL:
                self.members.setdefault(source.pool, []).append(at)
        self.ranked = [
            [
                [self._rank(g.sources, g.dg, s.ball_dg) for g in alternative.groups]
                for alternative in s.alternatives
            ]
            for s in problem.shades
        ]

    def _rank(self, sources: Iterable[int], dg: int, ball_dg: int) -> list[int]:
        """Sources of a group, the cheapest for the group by itself first."""

        def alone(k: int) -> tuple[int, int]:
            packs = packs_for(dg, ball_dg, self.problem.sources[k].pack)
            return own_cost(self.problem.tiers(k), packs), k

        return sorted(sources, key=alone)

    def place(self, alternative: Sequence[int], banned: frozenset[int]) -> Places:
        """Each group at its cheapest supplier that is not banned, where it has such a one."""
        sources = self.problem.sources
        return tuple(
            tuple(
                next((k for k in ranked if sources[k].supplier not in banned), ranked[0])
                for ranked in groups[chosen]
            )
            for groups, chosen in zip(self.ranked, alternative, strict=True)
        )

    def person(self) -> Bought | None:
        """The careful person, in her order: cheapest, bought up to breaks, mended."""
        problem = self.problem
        alternative = [0] * len(problem.shades)
        banned: frozenset[int] = frozenset()
        best: Bought | None = None
        while True:
            places = self.place(alternative, banned)
            packs = required_packs(problem, alternative, places)
            self.top_up(packs)
            below = self.below_minimum(packs)
            trial = self.basket(alternative, places, packs) if not below else None
            if below and all(self.fill(packs, s, problem.suppliers[s].minimum) for s in below):
                trial = self.basket(alternative, places, packs)
            best = _better(best, trial)
            leaving = [s for s in below if s not in banned]
            if not leaving:
                return best
            banned |= {leaving[0]}

    def below_minimum(self, packs: Sequence[int]) -> list[int]:
        """Suppliers whose order is under its minimum."""
        goods = goods_of(self.problem, packs) or {}
        return [s for s, g in goods.items() if g < self.problem.suppliers[s].minimum]

    def finish(self, alternative: Sequence[int], places: Places) -> Bought | None:
        """Top up to breaks, then to minimums, then to free shipping where that saves."""
        problem = self.problem
        packs = required_packs(problem, alternative, places)
        self.top_up(packs)
        goods = goods_of(problem, packs)
        if goods is None:
            return None
        for supplier, value in goods.items():
            least = problem.suppliers[supplier].minimum
            if value < least and not self.fill(packs, supplier, least):
                return None
        best = self.basket(alternative, places, packs)
        if best is None:
            return None
        for supplier, paid in best.cost.suppliers.items():
            terms = problem.suppliers[supplier]
            free = terms.free_from
            if free is None or not 0 < free - paid.goods < paid.shipping:
                continue
            more = list(best.basket.packs)
            if self.fill(more, supplier, free):
                best = _better(best, self.basket(alternative, places, more)) or best
        return best

    def moved(self, best: Bought) -> Bought:
        """Move one group, or leave one shade short in another way, as long as that saves."""
        trials = 0
        saved = True
        while saved:
            saved = False
            for shade in range(len(self.problem.shades)):
                for chosen, places in self._neighbours(shade, best.basket):
                    trials += 1
                    if trials > MOST_TRIALS:
                        return best
                    alternative = list(best.basket.alternative)
                    everywhere = list(best.basket.source)
                    alternative[shade], everywhere[shade] = chosen, places
                    trial = self.finish(alternative, tuple(everywhere))
                    if trial is not None and trial.net < best.net:
                        best, saved = trial, True
                        break
        return best

    def _neighbours(self, shade: int, basket: Basket) -> Iterator[tuple[int, tuple[int, ...]]]:
        now, places = basket.alternative[shade], basket.source[shade]
        used = {self.problem.sources[k].supplier for row in basket.source for k in row}
        for at, ranked in enumerate(self.ranked[shade][now]):
            for k in ranked:
                if k != places[at]:
                    yield now, (*places[:at], k, *places[at + 1 :])
        for other, groups in enumerate(self.ranked[shade]):
            if other != now:
                yield (
                    other,
                    tuple(
                        next((k for k in r if self.problem.sources[k].supplier in used), r[0])
                        for r in groups
                    ),
                )

    def top_up(self, packs: list[int]) -> None:
        """Buy up to a first price, and to a higher break wherever that is cheaper, in place."""
        problem = self.problem
        for at, source in enumerate(problem.sources):
            if packs[at] and source.pool == NO_POOL:
                packs[at] = topped(source.tiers, packs[at])
        for pool, members in self.members.items():
            total = sum(packs[k] for k in members)
            if total:
                more = topped(problem.pools[pool], total) - total
                if more:
                    packs[self._filler(members, packs)] += more

    def _filler(self, members: Iterable[int], packs: Sequence[int]) -> int:
        """The source that takes what is bought beyond need: a staple, else the most bought."""
        used = [k for k in members if packs[k]]
        shades, sources = self.problem.shades, self.problem.sources
        return max(used, key=lambda k: (shades[sources[k].shade].worth, packs[k], -k))

    def fill(self, packs: list[int], supplier: int, target: int) -> bool:
        """Add packs of one kind, in place, so that a supplier's goods just reach a sum."""
        best: tuple[int, list[int]] | None = None
        for k in self.sold.get(supplier, ()):
            if packs[k]:
                trial = self._filled(list(packs), k, supplier, target)
                if trial is not None and (best is None or trial[0] < best[0]):
                    best = trial
        if best is None:
            return False
        packs[:] = best[1]
        return True

    def _filled(
        self, packs: list[int], source: int, supplier: int, target: int
    ) -> tuple[int, list[int]] | None:
        tiers = self.problem.tiers(source)
        for _ in range(MOST_FILLS):
            goods = self._goods(packs, supplier)
            if goods >= target:
                return goods, packs
            at = tier_at(tiers, packs[source])
            price = tiers[at or 0].price
            if price <= 0:
                return None
            packs[source] += max(1, (target - goods) // price)
        return None

    def _goods(self, packs: Sequence[int], supplier: int) -> int:
        """Goods of one supplier in minor units, 0 where one is below its first tier.

        As `goods_of` has them, but without a look at the others: this is asked most of all.
        """
        sources, pools = self.problem.sources, self.problem.pools
        pooled: dict[int, int] = {}
        for k in self.sold[supplier]:
            if packs[k] and sources[k].pool != NO_POOL:
                pooled[sources[k].pool] = pooled.get(sources[k].pool, 0) + packs[k]
        goods = 0
        for k in self.sold[supplier]:
            count, source = packs[k], sources[k]
            if not count:
                continue
            own = source.pool == NO_POOL
            tiers = source.tiers if own else pools[source.pool]
            at = tier_at(tiers, count if own else pooled[source.pool])
            if at is None:
                return 0
            goods += tiers[at].price * count
        return goods

    def basket(
        self, alternative: Sequence[int], places: Places, packs: Sequence[int]
    ) -> Bought | None:
        """A basket with its cost; None where it breaks a minimum or a first price."""
        made = Basket(tuple(alternative), places, tuple(packs))
        cost = cost_of(self.problem, made)
        return None if cost is None else Bought(made, cost)
