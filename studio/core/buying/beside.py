"""What stands beside the cheapest purchase: the runner-up, one supplier alone, and near breaks."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from studio.core.buying.greedy import Bought, Shopper
from studio.core.buying.model import BuyLimits, GoOn, NoPurchaseError, Search
from studio.core.buying.plan import (
    NEAR_PRICE,
    TRULY_DIFFERS,
    Near,
    NearKind,
    OneSupplier,
    RunnerUp,
    counted,
    orders_of,
    pack_price,
)
from studio.core.buying.problem import NO_POOL, BuyProblem, Need, cost_of, tier_at
from studio.core.model import ShadeRef
from studio.core.money import unit


def runner_up(
    problem: BuyProblem, best: Bought, limits: BuyLimits, go_on: GoOn = lambda _: True
) -> RunnerUp | None:
    """The cheapest plan with other suppliers, or with 30 % of the runs bought elsewhere."""
    now = _suppliers_of_runs(problem, best)
    total = sum(now.values())
    if not total:
        return None
    search = Search(problem, limits, go_on, _other_start(problem, best, now))
    _ask_to_differ(search, best, now)
    try:
        found = search.run()
    except NoPurchaseError:
        return None
    smallest = unit(problem.currency)
    moved = total - _stays(problem, found.bought, now)
    return RunnerUp(
        orders=orders_of(problem, found.bought),
        landed=found.bought.cost.landed * smallest,
        # What moves count for in the search is money that nobody pays.
        dearer=(found.bought.cost.paid - best.cost.paid) * smallest,
        other_suppliers=set(found.bought.cost.suppliers) != set(best.cost.suppliers),
        moved=Decimal(moved) / total,
        proved=found.proved,
    )


Runs = dict[tuple[Need, int], int]
"""How many runs of a need come from a supplier."""


def _suppliers_of_runs(problem: BuyProblem, bought: Bought) -> Runs:
    found: Runs = {}
    basket = bought.basket
    for shade, at, places in zip(problem.shades, basket.alternative, basket.source, strict=True):
        for group, k in zip(shade.alternatives[at].groups, places, strict=True):
            for need in group.needs:
                found[need, problem.sources[k].supplier] = max(1, len(need.runs))
    return found


def _stays(problem: BuyProblem, bought: Bought, now: Runs) -> int:
    return sum(runs for at, runs in _suppliers_of_runs(problem, bought).items() if at in now)


def _least_moved(now: Runs) -> int:
    return math.ceil(sum(now.values()) * TRULY_DIFFERS)


def _ask_to_differ(search: Search, best: Bought, now: Runs) -> None:
    """Either the set of suppliers is another, or enough runs move."""
    problem, mip = search.problem, search.mip
    total = sum(now.values())
    other = mip.column(1)
    same: dict[int, int] = {}
    for column, choice in search.model.choices:
        groups = problem.shades[choice.shade].alternatives[choice.alternative].groups
        supplier = problem.sources[choice.source].supplier
        needs = (n for g in choice.groups for n in groups[g].needs)
        same[column] = sum(now.get((n, supplier), 0) for n in needs)
    mip.row({**same, other: -total}, upper=total - _least_moved(now))
    used = set(best.cost.suppliers)
    terms = {column: -1 if at in used else 1 for at, column in enumerate(search.model.used)}
    mip.row({**terms, other: -1}, lower=-len(used))


def _other_start(problem: BuyProblem, best: Bought, now: Runs) -> Bought | None:
    """The best plan without one of the suppliers that truly differs, if there is one."""
    shopper = Shopper(problem)
    alternative = list(best.basket.alternative)
    found: Bought | None = None
    for supplier in best.cost.suppliers:
        places = shopper.place(alternative, frozenset({supplier}))
        trial = shopper.finish(alternative, places)
        if trial is None or (found is not None and trial.net >= found.net):
            continue
        moved = sum(now.values()) - _stays(problem, trial, now)
        other = set(trial.cost.suppliers) != set(best.cost.suppliers)
        if other or moved >= _least_moved(now):
            found = trial
    return found


def one_supplier_costs(
    problem: BuyProblem, best: Bought, limits: BuyLimits, go_on: GoOn = lambda _: True
) -> tuple[OneSupplier, ...]:
    """What everything would cost from each supplier alone, in time, or what it lacks."""
    smallest = unit(problem.currency)
    found = []
    for supplier, terms in enumerate(problem.suppliers):
        lacks = tuple(s.ref for s in problem.shades if not _can_alone(problem, s.ref, supplier))
        if len(lacks) == len(problem.shades):
            continue
        cost: int | None = None
        if not lacks:
            search = Search(problem, limits, go_on, None)
            search.only({supplier})
            try:
                cost = search.run().bought.cost.landed
            except NoPurchaseError:
                cost = None
        landed = None if cost is None else cost * smallest
        dearer = None if cost is None else (cost - best.cost.landed) * smallest
        found.append(OneSupplier(terms.key, landed, dearer, lacks))
    return tuple(sorted(found, key=lambda o: (o.landed is None, o.landed or 0, len(o.lacks))))


def _can_alone(problem: BuyProblem, ref: ShadeRef, supplier: int) -> bool:
    shade = next(s for s in problem.shades if s.ref == ref)
    return any(
        all(any(problem.sources[k].supplier == supplier for k in g.sources) for g in way.groups)
        for way in shade.alternatives
    )


def near_breaks(problem: BuyProblem, best: Bought) -> tuple[Near, ...]:
    """Where a little more reaches a break or free shipping, the cheapest balls first."""
    found: dict[tuple[str, NearKind, ShadeRef], Near] = {}
    for k, packs in enumerate(best.basket.packs):
        if not packs:
            continue
        for kind, more in _steps_up(problem, best, k):
            near = _near(problem, best, k, kind, more)
            if near is not None:
                found[near.supplier, kind, near.shade] = near
    kept: dict[tuple[str, NearKind, str], Near] = {}
    for near in sorted(found.values(), key=lambda n: (n.adds / n.balls, n.shade)):
        # Any shade reaches free shipping or a break over the yarn: one example says it.
        at = near.shade.shade if near.kind is NearKind.SHADE_BREAK else ""
        name = "" if near.kind is NearKind.FREE_SHIPPING else near.shade.yarn
        kept.setdefault((near.supplier, near.kind, f"{name}/{at}"), near)
    return tuple(kept.values())


def _steps_up(problem: BuyProblem, best: Bought, k: int) -> Iterator[tuple[NearKind, int]]:
    """Packs more of one source that would reach its next break or free shipping."""
    source = problem.sources[k]
    tiers = problem.tiers(k)
    count = counted(problem, best.basket.packs, k)
    at = tier_at(tiers, count) or 0
    if at + 1 < len(tiers):
        kind = NearKind.SHADE_BREAK if source.pool == NO_POOL else NearKind.YARN_BREAK
        yield kind, tiers[at + 1].from_packs - count
    terms = problem.suppliers[source.supplier]
    paid = best.cost.suppliers[source.supplier]
    if terms.free_from is not None and paid.goods < terms.free_from and paid.shipping:
        price = tiers[at].price
        if price:
            yield NearKind.FREE_SHIPPING, -(-(terms.free_from - paid.goods) // price)


def _near(problem: BuyProblem, best: Bought, k: int, kind: NearKind, more: int) -> Near | None:
    smallest = unit(problem.currency)
    source = problem.sources[k]
    packs = list(best.basket.packs)
    packs[k] += more
    cost = cost_of(problem, replace(best.basket, packs=tuple(packs)))
    if cost is None:
        return None
    adds = (cost.landed - best.cost.landed) * smallest
    listed = pack_price(problem, best.basket.packs, k) * more * smallest
    if kind is NearKind.FREE_SHIPPING and not cost.suppliers[source.supplier].free:
        return None
    if adds > listed * NEAR_PRICE:
        return None
    return Near(
        problem.suppliers[source.supplier].key,
        kind,
        problem.shades[source.shade].ref,
        more,
        more * source.pack,
        adds,
        listed,
    )
