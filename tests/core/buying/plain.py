"""The purchase stated anew as the plainest whole-number model, for a second way through a solver.

Packs by source and tier, big-M tiers and thresholds: nothing of the columns, bounds and fixings of
the model under test. Solved from scratch by a second solver of another kind (CP-SAT of OR-Tools:
constraint propagation with learning, in whole numbers throughout), or by scipy.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import scipy

from studio.core.buying.problem import NO_POOL, BuyProblem

MOST = 400
"""More packs than this of one source are not looked at."""

Terms = dict[int, float]


class Plain:
    """Columns, rows and costs as they are named."""

    def __init__(self) -> None:
        self.upper: list[float] = []
        self.cost: list[float] = []
        self.rows: list[tuple[float, float, Terms]] = []

    def column(self, upper: float = 1, cost: float = 0) -> int:
        self.upper.append(upper)
        self.cost.append(cost)
        return len(self.upper) - 1

    def row(self, terms: Terms, low: float = -np.inf, high: float = np.inf) -> None:
        self.rows.append((low, high, terms))

    def least(self) -> int:
        matrix = scipy.sparse.lil_matrix((len(self.rows), len(self.upper)))
        for at, (_, _, terms) in enumerate(self.rows):
            for column, by in terms.items():
                matrix[at, column] = by
        lows, highs = [r[0] for r in self.rows], [r[1] for r in self.rows]
        found: Any = scipy.optimize.milp(
            self.cost,
            constraints=scipy.optimize.LinearConstraint(matrix.tocsr(), lows, highs),
            bounds=scipy.optimize.Bounds(0, self.upper),
            integrality=np.ones(len(self.upper)),
            options={"mip_rel_gap": 0.0},
        )
        assert found.status == 0, found.message
        least: float = found.fun
        return round(least)

    def least_by_propagation(self, work: float) -> tuple[int, int]:
        """By CP-SAT with so much work: what no plan costs less than, and the best it found.

        Work is counted in its own deterministic units, so that it ends alike on every machine.
        """
        # A second to read in, and only wanted here; scipy reads its parts in when they are named.
        from ortools.sat.python import cp_model

        model = cp_model.CpModel()
        columns = [
            model.new_int_var(0, round(most), f"x{at}") for at, most in enumerate(self.upper)
        ]
        for low, high, terms in self.rows:
            total = sum(round(by) * columns[at] for at, by in terms.items())
            if low > -np.inf:
                model.add(total >= math.ceil(low - 1e-9))
            if high < np.inf:
                model.add(total <= math.floor(high + 1e-9))
        model.minimize(sum(round(c) * columns[at] for at, c in enumerate(self.cost)))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = work
        status = solver.solve(model)
        assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), solver.status_name(status)
        return math.ceil(solver.best_objective_bound - 1e-6), round(solver.objective_value)


def plain_optimum(problem: BuyProblem) -> int:
    """The least landed cost; for questions without staples and with one way for each shade."""
    return plain_model(problem).least()


def plain_model(problem: BuyProblem) -> Plain:
    """The model of such a question."""
    model = Plain()
    packs = [
        [model.column(MOST, t.price) for t in problem.tiers(k)] for k in range(len(problem.sources))
    ]
    asked: dict[int, Terms] = {}
    for shade in problem.shades:
        (way,) = shade.alternatives
        for group in way.groups:
            from_one = {model.column(): k for k in group.sources}
            model.row(dict.fromkeys(from_one, 1.0), 1, 1)
            for column, k in from_one.items():
                asked.setdefault(k, {})[column] = group.dg
    for k, source in enumerate(problem.sources):
        pack_dg = source.pack * problem.shades[source.shade].ball_dg
        needs = asked.get(k, {})
        model.row(
            {**dict.fromkeys(packs[k], float(pack_dg)), **{c: -g for c, g in needs.items()}}, 0
        )
        model.row({**dict.fromkeys(packs[k], 1.0), **dict.fromkeys(needs, -float(MOST))}, high=0)
    _tiers(model, problem, packs)
    for supplier in range(len(problem.suppliers)):
        _supplier(model, problem, packs, supplier)
    return model


def _tiers(model: Plain, problem: BuyProblem, packs: list[list[int]]) -> None:
    pools: dict[tuple[str, int], list[int]] = {}
    for k, source in enumerate(problem.sources):
        at = ("own", k) if source.pool == NO_POOL else ("pool", source.pool)
        pools.setdefault(at, []).append(k)
    for members in pools.values():
        tiers = problem.tiers(members[0])
        reached = [model.column() for _ in tiers]
        model.row(dict.fromkeys(reached, 1.0), high=1)
        for t, tier in enumerate(tiers):
            total: Terms = {packs[k][t]: 1.0 for k in members}
            above = tiers[t + 1].from_packs - 1 if t + 1 < len(tiers) else MOST * len(members)
            model.row({**total, reached[t]: -float(tier.from_packs)}, 0)
            model.row({**total, reached[t]: -float(above)}, high=0)


def _supplier(model: Plain, problem: BuyProblem, packs: list[list[int]], supplier: int) -> None:
    terms = problem.suppliers[supplier]
    goods: Terms = {}
    weight: Terms = {}
    for k, source in enumerate(problem.sources):
        if source.supplier == supplier:
            for column, tier in zip(packs[k], problem.tiers(k), strict=True):
                goods[column] = tier.price
                weight[column] = source.pack * problem.shades[source.shade].ball_dg
    used = model.column()
    most = MOST * float(sum(weight.values()) or 1)
    model.row({**dict.fromkeys(goods, 1.0), used: -float(MOST * max(1, len(goods)))}, high=0)
    model.row({**goods, used: -float(terms.minimum)}, 0)
    parcels = {
        model.column(cost=cost): most if limit is None else float(limit)
        for limit, cost in terms.shipping
    }
    if terms.free_from is not None:
        free = model.column()
        parcels[free] = most
        model.row({**goods, free: -float(terms.free_from)}, 0)
    model.row({**dict.fromkeys(parcels, 1.0), used: -1.0}, 0, 0)
    model.row({**weight, **{c: -limit for c, limit in parcels.items()}}, high=0)
