"""The purchase as a whole-number model: what its columns stand for, its rows, and the way back.

For each shade one column says 'these groups, left short in this way, from this source, at this
tier'. A price break on the shade is worked out beforehand, so that such a column simply has a cost;
only breaks over a whole yarn, minimums and shipping tie shades together. What is bought beyond
need is counted by price and supplier and not by shade, since any shade of a price does as well.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import field

from studio.core.buying.problem import (
    NO_POOL,
    Basket,
    BuyProblem,
    Group,
    ShadeNeed,
    Source,
    packs_for,
)
from studio.core.frozen import dataclass
from studio.core.lots.mip import Mip


@dataclass(frozen=True, slots=True)
class Choice:
    """One column: groups of a shade from one source at one tier; `room` is packs up to the next."""

    shade: int
    alternative: int
    groups: tuple[int, ...]
    source: int
    tier: int
    packs: int
    cost: int
    room: int
    surplus: int


@dataclass(slots=True)
class Extra:
    """Packs beyond need at one price: whose they can be is told by the choices under it."""

    column: int
    price: int
    pack_dg: int
    choices: list[int] = field(default_factory=list)


class PurchaseModel:
    """Columns and rows of one problem; `objective` is the net cost in minor units."""

    def __init__(self, problem: BuyProblem) -> None:
        self.problem = problem
        self.mip = Mip()
        self.objective: dict[int, int] = {}
        self.choices: list[tuple[int, Choice]] = []
        self.ways: list[list[int | None]] = []
        self.of_shade: list[list[int]] = [[] for _ in problem.shades]
        self.extras: dict[tuple[int, ...], Extra] = {}
        self.used = [self.mip.column(1) for _ in problem.suppliers]
        self.free: dict[int, int] = {}
        self.tier_columns: dict[tuple[int, int], int] = {}
        self._pools()
        self._choices()
        self._cover()
        self._extras()
        self._links()
        self._worths()
        for supplier in range(len(problem.suppliers)):
            self._supplier(supplier)

    def _pools(self) -> None:
        for pool, tiers in enumerate(self.problem.pools):
            for at in range(len(tiers)):
                self.tier_columns[pool, at] = self.mip.column(1)

    def _choices(self) -> None:
        for at, shade in enumerate(self.problem.shades):
            for number, alternative in enumerate(shade.alternatives):
                for choice in self._of_alternative(at, shade, number, alternative.groups):
                    column = self.mip.column(1)
                    self.objective[column] = choice.cost
                    self.of_shade[at].append(len(self.choices))
                    self.choices.append((column, choice))

    def _of_alternative(
        self, at: int, shade: ShadeNeed, number: int, groups: tuple[Group, ...]
    ) -> Iterator[Choice]:
        """Every set of groups at every source that may serve all of it."""
        for size in range(1, len(groups) + 1):
            for chosen in itertools.combinations(range(len(groups)), size):
                shared = set.intersection(*(set(groups[g].sources) for g in chosen))
                dg = sum(groups[g].dg for g in chosen)
                for k in sorted(shared):
                    yield from self._tiers(at, shade, number, chosen, dg, k)

    def _tiers(
        self, at: int, shade: ShadeNeed, number: int, chosen: tuple[int, ...], dg: int, k: int
    ) -> Iterator[Choice]:
        source = self.problem.sources[k]
        terms = self.problem.suppliers[source.supplier]
        needed = packs_for(dg, shade.ball_dg, source.pack)
        balls = packs_for(dg, shade.ball_dg, 1)
        tiers = self.problem.tiers(k)
        pooled = source.pool != NO_POOL
        made = []
        for number_of, tier in enumerate(tiers):
            packs = needed if pooled else max(needed, tier.from_packs)
            last = number_of + 1 == len(tiers)
            room = -1 if last else tiers[number_of + 1].from_packs - 1 - packs
            if not last and room < 0:
                continue
            surplus = packs * source.pack - balls
            cost = tier.price * packs
            made.append(Choice(at, number, chosen, k, number_of, packs, cost, room, surplus))
        if not pooled and not terms.has_threshold and not shade.worth:
            made = _undominated(made)
        yield from made

    def _cover(self) -> None:
        """Each group of the one chosen way comes from one source."""
        for at, shade in enumerate(self.problem.shades):
            many = len(shade.alternatives) > 1
            ways = [self.mip.column(1) if many else None for _ in shade.alternatives]
            self.ways.append(ways)
            for way, alternative in zip(ways, shade.alternatives, strict=True):
                if way is not None and alternative.toll:
                    self.objective[way] = alternative.toll
            if many:
                self.mip.row({w: 1 for w in ways if w is not None}, 1, 1)
            for number, alternative in enumerate(shade.alternatives):
                for g in range(len(alternative.groups)):
                    terms = {
                        column: 1
                        for column, c in self._of(at)
                        if c.alternative == number and g in c.groups
                    }
                    way = ways[number]
                    if way is None:
                        self.mip.row(terms, 1, 1)
                    else:
                        self.mip.row({**terms, way: -1}, 0, 0)

    def _of(self, shade: int) -> Iterator[tuple[int, Choice]]:
        return (self.choices[i] for i in self.of_shade[shade])

    def _extras(self) -> None:
        """Columns for packs beyond need, where more can bring a break, a threshold or a worth."""
        problem = self.problem
        for at, (_, c) in enumerate(self.choices):
            source = problem.sources[c.source]
            shade = problem.shades[c.shade]
            terms = problem.suppliers[source.supplier]
            if not (source.pool != NO_POOL or terms.has_threshold or shade.worth):
                continue
            tier = problem.tiers(c.source)[c.tier]
            pack_dg = source.pack * shade.ball_dg
            key: tuple[int, ...] = (source.supplier, source.pool, c.tier, tier.price, pack_dg)
            if source.pool == NO_POOL:
                key = (source.supplier, NO_POOL, NO_POOL, tier.price, pack_dg)
            if shade.worth:
                key = (*key, c.source)
            if key not in self.extras:
                most = self._most_extra(c, source)
                self.extras[key] = Extra(self.mip.column(most), tier.price, pack_dg)
                self.objective[self.extras[key].column] = tier.price
            extra = self.extras[key]
            extra.choices.append(at)
            self.mip.upper[extra.column] = max(
                self.mip.upper[extra.column], self._most_extra(c, source)
            )
        for extra in self.extras.values():
            self._extra_room(extra)

    def _most_extra(self, choice: Choice, source: Source) -> int:
        """More packs beyond need than this never pay."""
        problem = self.problem
        terms = problem.suppliers[source.supplier]
        shade = problem.shades[choice.shade]
        tier = problem.tiers(choice.source)[choice.tier]
        most = tier.from_packs if source.pool != NO_POOL else 0
        if terms.has_threshold and tier.price:
            most += -(-max(terms.minimum, terms.free_from or 0) // tier.price)
        if shade.worth:
            most += -(-shade.worth_balls // source.pack)
        return most

    def _extra_room(self, extra: Extra) -> None:
        """Extra packs only of what is bought at that price, and within its tier."""
        most = self.mip.upper[extra.column]
        terms = {extra.column: 1}
        for at in extra.choices:
            column, c = self.choices[at]
            pooled = self.problem.sources[c.source].pool != NO_POOL
            room = most if pooled or c.room < 0 else min(most, c.room)
            terms[column] = -room
        self.mip.row(terms, upper=0)

    def _links(self) -> None:
        """A choice needs its supplier, and its tier of the pool.

        One source sends a shade once, so that all choices of it share one row; so do all choices
        for one group at one supplier.
        """
        problem = self.problem
        rows: dict[tuple[int, tuple[int, ...]], dict[int, int]] = {}
        for column, c in self.choices:
            source = problem.sources[c.source]
            used = self.used[source.supplier]
            here = (c.shade, c.alternative)
            rows.setdefault((used, (*here, c.source, -1)), {})[column] = 1
            for g in c.groups:
                rows.setdefault((used, (*here, -1, g)), {})[column] = 1
            if source.pool != NO_POOL:
                tier = self.tier_columns[source.pool, c.tier]
                rows.setdefault((tier, (*here, c.source)), {})[column] = 1
        for needed, terms in _strongest(rows):
            self.mip.row({**terms, needed: -1}, upper=0)
        for pool in range(len(problem.pools)):
            self._pool(pool)

    def _pool(self, pool: int) -> None:
        """One tier at most for the whole pool, begun by packs that reach it."""
        problem = self.problem
        tiers = problem.pools[pool]
        inside = [
            (at, column, c)
            for at, (column, c) in enumerate(self.choices)
            if problem.sources[c.source].pool == pool
        ]
        if not inside:
            return
        supplier = problem.sources[inside[0][2].source].supplier
        columns = [self.tier_columns[pool, t] for t in range(len(tiers))]
        self.mip.row({**dict.fromkeys(columns, 1), self.used[supplier]: -1}, upper=0)
        for number, tier in enumerate(tiers):
            packs = {column: c.packs for _, column, c in inside if c.tier == number}
            begun = dict.fromkeys(packs, -1)
            for key, extra in self.extras.items():
                if key[1:3] == (pool, number):
                    packs[extra.column] = 1
            z = columns[number]
            if not begun:
                self.mip.upper[z] = 0
                continue
            self.mip.row({**begun, z: 1}, upper=0)
            if tier.from_packs > 1:
                self.mip.row({**packs, z: -tier.from_packs}, lower=0)
            if number + 1 < len(tiers) and problem.suppliers[supplier].has_threshold:
                self.mip.row({**packs, z: 1 - tiers[number + 1].from_packs}, upper=0)

    def _worths(self) -> None:
        """Surplus balls of a staple that count for something."""
        for at, shade in enumerate(self.problem.shades):
            if not shade.worth:
                continue
            column = self.mip.column(shade.worth_balls)
            self.objective[column] = -shade.worth
            terms = {column: 1}
            for choice_column, c in self._of(at):
                terms[choice_column] = -c.surplus
            for extra in self.extras.values():
                first = self.choices[extra.choices[0]][1]
                if first.shade == at:
                    terms[extra.column] = -self.problem.sources[first.source].pack
            self.mip.row(terms, upper=0)

    def _supplier(self, supplier: int) -> None:
        """Minimum, shipping by weight, and free shipping of one supplier."""
        problem = self.problem
        terms = problem.suppliers[supplier]
        used = self.used[supplier]
        goods: dict[int, int] = {}
        weight: dict[int, int] = {}
        for column, c in self.choices:
            source = problem.sources[c.source]
            if source.supplier == supplier:
                goods[column] = c.cost
                weight[column] = c.packs * source.pack * problem.shades[c.shade].ball_dg
        if not goods:
            self.mip.upper[used] = 0
            return
        self.mip.row({**dict.fromkeys(goods, -1), used: 1}, upper=0)
        for key, extra in self.extras.items():
            if key[0] == supplier:
                goods[extra.column] = extra.price
                weight[extra.column] = extra.pack_dg
        if terms.minimum:
            self.mip.row({**goods, used: -terms.minimum}, lower=0)
        self._shipping(supplier, goods, weight)

    def _shipping(self, supplier: int, goods: dict[int, int], weight: dict[int, int]) -> None:
        terms = self.problem.suppliers[supplier]
        used = self.used[supplier]
        steps = list(terms.shipping)
        if terms.free_from is None and len(steps) == 1:
            self.objective[used] = steps[0][1]
            return
        most = sum(by * self.mip.upper[column] for column, by in weight.items())
        parcels: dict[int, int] = {}
        for limit, cost in steps:
            column = self.mip.column(1)
            self.objective[column] = cost
            parcels[column] = most if limit is None else min(most, limit)
        if terms.free_from is not None:
            column = self.mip.column(1)
            self.free[supplier] = column
            parcels[column] = most
            self.mip.row({**goods, column: -terms.free_from}, lower=0)
        self.mip.row({**dict.fromkeys(parcels, 1), used: -1}, 0, 0)
        if len(steps) > 1:
            self.mip.row({**weight, **{c: -w for c, w in parcels.items()}}, upper=0)

    def basket(self, values: tuple[int, ...]) -> Basket:
        """The basket that a solution stands for."""
        problem = self.problem
        chosen = [at for at, (column, _) in enumerate(self.choices) if values[column]]
        # A way that needs nothing bought has no choice to tell it by, so the ways say it.
        alternative = [
            next((at for at, way in enumerate(ways) if way is not None and values[way]), 0)
            for ways in self.ways
        ]
        places: list[dict[int, int]] = [{} for _ in problem.shades]
        packs = [0] * len(problem.sources)
        for at in chosen:
            c = self.choices[at][1]
            packs[c.source] += c.packs
            for g in c.groups:
                places[c.shade][g] = c.source
        for extra in self.extras.values():
            self._spread(extra, values[extra.column], set(chosen), packs)
        source = tuple(tuple(found[g] for g in sorted(found)) for found in places)
        return Basket(tuple(alternative), source, tuple(packs))

    def _spread(self, extra: Extra, left: int, chosen: set[int], packs: list[int]) -> None:
        """Lay extra packs on the sources bought at their price, within each one's tier."""
        for at in extra.choices:
            if at not in chosen or not left:
                continue
            c = self.choices[at][1]
            pooled = self.problem.sources[c.source].pool != NO_POOL
            take = left if pooled or c.room < 0 else min(left, c.room)
            packs[c.source] += take
            left -= take


def _undominated(choices: list[Choice]) -> list[Choice]:
    """The choices that none beats in cost without being heavier."""
    kept: list[Choice] = []
    for choice in sorted(choices, key=lambda c: (c.cost, c.packs)):
        if not kept or choice.packs < kept[-1].packs:
            kept.append(choice)
    return kept


def _strongest(
    rows: dict[tuple[int, tuple[int, ...]], dict[int, int]],
) -> Iterator[tuple[int, dict[int, int]]]:
    """The rows 'these together need that', without those that lie within another one."""
    by_need: dict[tuple[int, tuple[int, ...]], list[dict[int, int]]] = {}
    for (needed, place), terms in rows.items():
        by_need.setdefault((needed, place[:2]), []).append(terms)
    for (needed, _), found in by_need.items():
        kept: list[dict[int, int]] = []
        for terms in sorted(found, key=len, reverse=True):
            if not any(terms.keys() <= other.keys() for other in kept):
                kept.append(terms)
                yield needed, terms
