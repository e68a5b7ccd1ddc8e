"""A small whole-number model and its way through HiGHS, counted in nodes so that it repeats.

HiGHS is loaded at the first solve and not before. Its first run in a process prints two lines to
the C standard output whatever its options say; whoever owns that output must be ready for them.
"""

from __future__ import annotations

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import field
from typing import Any

from studio.core.frozen import dataclass
from studio.core.linear import Row, exact_highs, highs_model

ITERATIONS_A_NODE = 40
"""Simplex iterations that a node of a large model takes, roughly."""

COLUMNS_AN_ITERATION = 8
"""Smaller models take fewer: about one for so many columns."""


WITHOUT_HEURISTICS = {
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_detect_symmetry": False,
}
"""The greedy and the earlier stages bring good answers along: these would only cost time."""


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop looking for a proof; counted in work, so that every machine stops alike.

    `quick_steps` bounds the search at the keyboard, where more finds almost nothing more,
    `search_steps` the one before the solver, `fill_steps` the adding up of what fills the lots,
    `nodes` each model's tree, and `iterations` all simplex iterations of a shade together: what is
    left of them bounds the nodes as well, and once they are used up, each further model gets its
    root node only. `seconds` is the emergency stop
    of one shade; an answer says when it struck.
    """

    quick_steps: int = 100
    search_steps: int = 3_000
    fill_steps: int = 20_000_000
    nodes: int = 2_000
    iterations: int = 15_000
    seconds: float = 30.0


@dataclass(slots=True)
class Effort:
    """What one shade has used of its limits so far."""

    limits: Limits
    calls: int = 0
    nodes: int = 0
    iterations: int = 0
    struck: bool = False
    since: float = field(default_factory=time.monotonic)

    def nodes_left(self, columns: int) -> int:
        """Nodes that the next model, of so many columns, may use."""
        a_node = max(1, min(ITERATIONS_A_NODE, columns // COLUMNS_AN_ITERATION))
        left = (self.limits.iterations - self.iterations) // a_node
        return max(1, min(self.limits.nodes, left))

    def seconds_left(self) -> float:
        """Seconds to the emergency stop."""
        return max(0.01, self.limits.seconds - (time.monotonic() - self.since))


@dataclass(frozen=True, slots=True)
class Found:
    """How a model ended: whole values or None where it has none, and a bound of its objective."""

    values: tuple[int, ...] | None
    bound: float
    proved: bool
    """The values are optimal, or there are none at all."""


class Mip:
    """Columns and rows of a minimisation in whole numbers."""

    def __init__(self) -> None:
        self.lower: list[int] = []
        self.upper: list[int] = []
        self.rows: list[tuple[float, float, dict[int, int]]] = []

    def column(self, upper: int, lower: int = 0) -> int:
        """Add a whole-number column and return its number."""
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1

    def row(
        self, terms: Mapping[int, int], lower: float = -float("inf"), upper: float = float("inf")
    ) -> int:
        """Add lower <= sum of terms <= upper and return its number."""
        self.rows.append((lower, upper, {col: by for col, by in terms.items() if by}))
        return len(self.rows) - 1

    def minimise(
        self,
        objective: Mapping[int, int],
        below: int | None,
        effort: Effort,
        presolve: bool = True,
        without: Collection[int] = (),
    ) -> Found:
        """Look for the least objective `below` that number, within what is left of the effort.

        The incumbent is not given as a start: HiGHS 1.16 may carry a start into its presolved
        model wrongly, and then calls a wrong bound proved. Asking for something better, and taking
        'infeasible' as the proof that there is nothing, does the same work and cannot go wrong so.
        """
        rows = self.rows
        if below is not None:
            rows = [*rows, (-float("inf"), float(below), dict(objective))]
        highs = exact_highs(WITHOUT_HEURISTICS)
        highs.clearModel()
        kept = [col for col in range(len(self.upper)) if col not in without]
        highs.passModel(self._thinned(objective, rows, kept))
        highs.setOptionValue("presolve", "on" if presolve else "off")
        highs.setOptionValue("mip_max_nodes", effort.nodes_left(len(kept)))
        highs.setOptionValue("time_limit", highs.getRunTime() + effort.seconds_left())
        highs.run()
        effort.calls += 1
        found = self._found(highs, objective, effort, kept)
        if found.values is None and found.proved and below is not None:
            return Found(None, below + 1.0, proved=True)
        return found

    def _thinned(
        self, objective: Mapping[int, int], rows: Sequence[Row], kept: Sequence[int]
    ) -> Any:
        """The model of some columns only; the others are zero."""
        if len(kept) == len(self.upper):
            return highs_model(objective, self.lower, self.upper, rows)
        place = {col: at for at, col in enumerate(kept)}
        return highs_model(
            {place[col]: by for col, by in objective.items() if col in place},
            [self.lower[col] for col in kept],
            [self.upper[col] for col in kept],
            [
                (low, high, {place[col]: by for col, by in terms.items() if col in place})
                for low, high, terms in rows
            ],
        )

    def _found(
        self, highs: Any, objective: Mapping[int, int], effort: Effort, kept: Sequence[int]
    ) -> Found:
        import highspy

        status = highs.getModelStatus()
        info = highs.getInfo()
        effort.nodes += max(0, info.mip_node_count)
        effort.iterations += max(0, info.simplex_iteration_count)
        if status == highspy.HighsModelStatus.kTimeLimit:
            effort.struck = True
        # Every column is bounded, so that 'unbounded or infeasible' leaves one of the two.
        if status in (
            highspy.HighsModelStatus.kInfeasible,
            highspy.HighsModelStatus.kUnboundedOrInfeasible,
        ):
            return Found(None, float("inf"), proved=True)
        proved = status == highspy.HighsModelStatus.kOptimal
        bound = float(info.mip_dual_bound)
        if info.primal_solution_status != 2:
            return Found(None, bound, proved=False)
        whole = [0] * len(self.upper)
        for col, value in zip(kept, highs.getSolution().col_value, strict=True):
            whole[col] = round(value)
        values = tuple(whole)
        total = sum(values[col] * by for col, by in objective.items())
        if not self.holds(values) or abs(total - info.objective_function_value) > 0.5:
            return Found(None, -float("inf"), proved=False)
        return Found(values, bound, proved)

    def holds(self, values: Sequence[int]) -> bool:
        """Whether whole values keep every bound and row exactly."""
        return all(
            low <= value <= high
            for low, value, high in zip(self.lower, values, self.upper, strict=True)
        ) and all(
            low <= sum(values[col] * by for col, by in terms.items()) <= high
            for low, high, terms in self.rows
        )
