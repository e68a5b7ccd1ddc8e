"""The purchase of least landed cost: HiGHS on a tight model, started from the first plan.

The linear relaxation is solved first; a column whose reduced cost lifts the bound to the cost of
the plan in hand cannot be in a better one and is taken out. What is left goes to the tree search,
which is only asked for something better, so that the answer is never worse than the first plan.
Search is counted in nodes, so that every machine gives the same answer; the clock is an emergency
stop, and the answer says when it struck. Importing this loads no solver: the first solve does.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Collection
from typing import Any

from studio.core.buying.columns import PurchaseModel
from studio.core.buying.greedy import Bought, first_plan
from studio.core.buying.problem import Basket, BuyProblem, Cost, broken_rule, cost_of
from studio.core.frozen import dataclass
from studio.core.linear import TOLERANCE, exact_highs, highs_model
from studio.core.lots.mip import Mip
from studio.errors import StudioError


@dataclass(frozen=True, slots=True)
class BuyLimits:
    """When to stop looking for a proof; `seconds` is the emergency stop."""

    nodes: int = 20_000
    seconds: float = 120.0


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the search is: best net cost and bound in minor units, nodes, seconds."""

    best: int
    bound: float
    nodes: int
    seconds: float

    @property
    def gap(self) -> float:
        """How far the best may be from the least cost, as a fraction of the best."""
        return max(0.0, (self.best - self.bound) / max(1, abs(self.best)))


GoOn = Callable[[Progress], bool]
"""Told of progress now and then; False ends the search with the best plan so far."""


@dataclass(frozen=True, slots=True)
class Solved:
    """The best plan found. `bound` is a lower bound of its net cost in minor units.

    `stopped` where the clock or a cancel ended the search: only then may another machine answer
    differently.
    """

    bought: Bought
    bound: int
    proved: bool
    stopped: bool = False
    nodes: int = 0
    seconds: float = 0.0

    @property
    def gap(self) -> float:
        """How far the plan may be from the cheapest one, as a fraction of its net cost."""
        return max(0.0, (self.bought.net - self.bound) / max(1, abs(self.bought.net)))


class NoPurchaseError(StudioError):
    """Nothing can be bought that keeps every minimum and first price."""

    title = "Nothing can be bought"

    def __init__(self) -> None:
        super().__init__(
            "No order reaches its supplier's minimum: check the minimums and prices of the offers, "
            "or add a supplier."
        )


def solve_purchase(
    problem: BuyProblem,
    limits: BuyLimits | None = None,
    go_on: GoOn = lambda _: True,
    start: Bought | None = None,
) -> Solved:
    """The cheapest purchase for a problem, proved or with its bound.

    `start` is a plan to begin from instead of the first plan. Safe to run in a child process: the
    problem and the answer pickle, and `go_on` may send each progress over a pipe.
    """
    start = start or first_plan(problem)
    return Search(problem, limits or BuyLimits(), go_on, start).run()


class Search:
    """One solve. Rows may be added to `mip` and suppliers shut out before it runs.

    `best` is None until there is a plan, where none was given to start from.
    """

    def __init__(
        self, problem: BuyProblem, limits: BuyLimits, go_on: GoOn, start: Bought | None
    ) -> None:
        self.problem = problem
        self.limits = limits
        self.go_on = go_on
        self.best = start
        self.model = PurchaseModel(problem)
        self.bound = -float(sum(s.worth * s.worth_balls for s in problem.shades))
        self.nodes = 0
        self.stopped = False
        self.since = time.monotonic()

    @property
    def mip(self) -> Mip:
        """The model's columns and rows."""
        return self.model.mip

    def only(self, suppliers: Collection[int]) -> None:
        """Buy from these suppliers alone."""
        for supplier, column in enumerate(self.model.used):
            if supplier not in suppliers:
                self.mip.upper[column] = 0

    def run(self) -> Solved:
        """Search for the least cost; the start stands where nothing better is found."""
        proved = self.search()
        if self.best is None:
            raise NoPurchaseError
        bound = self.best.net if proved else min(self.best.net, math.ceil(self.bound - TOLERANCE))
        return Solved(
            self.best, bound, proved, self.stopped, self.nodes, time.monotonic() - self.since
        )

    def search(self) -> bool:
        """Improve `best` until it is proved or a limit strikes; whether it is proved."""
        if not self.problem.shades:
            self.best = Bought(Basket((), (), ()), Cost({}, 0))
            return True
        if self._told():
            return False
        keep = self._relax()
        if keep is None:
            return True
        if self._told():
            return False
        return self._tree(keep)

    def _told(self) -> bool:
        """Whether the caller wants to end, having been told how far it is."""
        best = self.best.net if self.best else 0
        seconds = time.monotonic() - self.since
        if not self.go_on(Progress(best, self.bound, self.nodes, seconds)):
            self.stopped = True
        return self.stopped

    def _relax(self) -> list[int] | None:
        """The upper bound of each column after the relaxation; None where nothing is better."""
        upper = list(self.mip.upper)
        import highspy

        highs = exact_highs()
        highs.passModel(self._lp(upper, whole=False))
        highs.run()
        if highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return None
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return upper
        self.bound = float(highs.getInfo().objective_function_value)
        if self.best is None:
            return upper
        room = self.best.net - 1 - self.bound
        if room < -TOLERANCE:
            return None
        solution = highs.getSolution()
        for column, (value, reduced) in enumerate(
            zip(solution.col_value, solution.col_dual, strict=True)
        ):
            if value < TOLERANCE and reduced > 0:
                upper[column] = min(upper[column], math.floor(room / reduced + TOLERANCE))
        return upper

    def _tree(self, upper: list[int]) -> bool:
        import highspy

        highs = exact_highs()
        highs.passModel(self._lp(upper, whole=True))
        highs.setOptionValue("mip_max_nodes", self.limits.nodes)
        left = max(0.1, self.limits.seconds - (time.monotonic() - self.since))
        highs.setOptionValue("time_limit", left)
        if self.best is not None:
            highs.setOptionValue("objective_bound", float(self.best.net) - 0.5)
        self._listen(highs)
        highs.run()
        status = highs.getModelStatus()
        info = highs.getInfo()
        self.nodes = max(0, int(info.mip_node_count))
        if status == highspy.HighsModelStatus.kTimeLimit:
            self.stopped = True
        sound = True
        if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
            sound = self._take(tuple(round(v) for v in highs.getSolution().col_value))
        if math.isfinite(info.mip_dual_bound):
            self.bound = max(self.bound, float(info.mip_dual_bound))
        ends = highspy.HighsModelStatus
        return sound and status in (ends.kOptimal, ends.kInfeasible, ends.kObjectiveBound)

    def _take(self, values: tuple[int, ...]) -> bool:
        """Keep a solution that is better; whether it costs no more than the solver says.

        One that costs more proves nothing, whatever the solver calls it. It may cost less: where
        nothing beats the plan in hand, the solver may end on any solution it has met.
        """
        if not self.mip.holds(values):
            return False
        basket = self.model.basket(values)
        cost = cost_of(self.problem, basket)
        if cost is None or broken_rule(self.problem, basket) is not None:
            return False
        if self.best is None or cost.net < self.best.net:
            self.best = Bought(basket, cost)
        return cost.net <= sum(values[c] * by for c, by in self.model.objective.items())

    def _listen(self, highs: Any) -> None:
        def heard(event: Any) -> None:
            data = event.data_out
            self.bound = max(self.bound, float(data.mip_dual_bound))
            self.nodes = int(data.mip_node_count)
            if self._told():
                event.interrupt()

        highs.cbMipInterrupt.subscribe(heard)

    def _lp(self, upper: list[int], *, whole: bool) -> Any:
        mip = self.mip
        return highs_model(self.model.objective, mip.lower, upper, mip.rows, whole=whole)
