"""The stages again with a constraint-programming solver: another model, another kind of search."""

from __future__ import annotations

import itertools
from typing import Any

from studio.core.lots.problem import BUY, Fixed, ShadeProblem


class SecondSolver:
    """One Boolean for each run and lot; stages are solved in turn and fixed, without any bounds.

    Holds are taken as kept: it is meant for problems whose holds are possible.
    """

    def __init__(self, problem: ShadeProblem) -> None:
        # A second to read in, and only wanted here.
        from ortools.sat.python import cp_model

        self.solver: Any = cp_model
        self.problem = problem
        self.model: Any = cp_model.CpModel()
        self.codes = [*sorted(lot.code for lot in problem.lots), BUY]
        self.lots = {lot.code: lot for lot in problem.lots}
        self.runs = [run for piece in problem.pieces for run in piece.runs]
        self.at: dict[tuple[str, str], Any] = {}
        for run in self.runs:
            for code in self.codes:
                self.at[run.key, code] = self.model.new_bool_var(f"{run.key}@{code}")
            self.model.add_exactly_one(self.at[run.key, code] for code in self.codes)
        self._rules()

    def _rules(self) -> None:
        for code, lot in self.lots.items():
            asked = sum(self.at[run.key, code] * run.need_dg for run in self.runs)
            self.model.add(asked <= lot.free_dg)
        for run in self.runs:
            if run.fixed is not None and run.lot is not None:
                self.model.add(self.at[run.key, run.lot] == 1)
                continue
            for code, lot in self.lots.items():
                if lot.arrives is not None:
                    self.model.add(self.at[run.key, code] == 0)
        for piece in self.problem.pieces:
            for group in piece.together:
                self._together([run.key for run in piece.runs if run.group == group])

    def _together(self, keys: list[str]) -> None:
        fixed = {run.key: run.lot for run in self.runs if run.fixed is not None and run.lot}
        free = [key for key in keys if key not in fixed]
        for one, two in itertools.pairwise(free):
            for code in self.codes:
                self.model.add(self.at[one, code] == self.at[two, code])
        agreed = {fixed[key] for key in keys if key in fixed}
        if len(agreed) == 1 and free:
            (lot,) = agreed
            self.model.add(self.at[free[0], lot] + self.at[free[0], BUY] == 1)

    def _minimise(self, objective: Any) -> int:
        self.model.minimize(objective)
        solver: Any = self.solver.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        status = solver.solve(self.model)
        assert status == self.solver.OPTIMAL
        best: int = round(solver.objective_value)
        self.model.clear_objective()
        self.model.add(objective <= best)
        return best

    def stages(self) -> tuple[list[int], tuple[int, int], tuple[int, int, int]]:
        """(dg bought by each piece, lots, left-overs)."""
        assert all(run.fixed is not Fixed.HOLD or run.lot for run in self.runs)
        bought = [
            self._minimise(sum(self.at[run.key, BUY] * run.need_dg for run in piece.runs))
            for piece in self.problem.pieces
        ]
        extra, changes = self._lots()
        lots = (self._minimise(extra), self._minimise(changes))
        part, opened, age = self._leftovers()
        return bought, lots, (self._minimise(part), self._minimise(opened), self._minimise(age))

    def _lots(self) -> tuple[Any, Any]:
        extra: Any = 0
        changes: Any = 0
        for piece in self.problem.pieces:
            for group in sorted({run.group for run in piece.runs}):
                keys = [run.key for run in piece.runs if run.group == group]
                extra -= 1
                for code in self.codes:
                    used = self.model.new_bool_var("")
                    self.model.add_max_equality(used, [self.at[key, code] for key in keys])
                    extra += used
                for one, two in itertools.pairwise(keys):
                    change = self.model.new_bool_var("")
                    for code in self.codes:
                        self.model.add(change >= self.at[one, code] - self.at[two, code])
                    changes += change
        return extra, changes

    def _leftovers(self) -> tuple[Any, Any, Any]:
        part: Any = 0
        opened: Any = 0
        age: Any = 0
        house = [lot for lot in self.problem.lots if lot.arrives is None]
        days = sorted({lot.bought for lot in house if lot.bought is not None})
        for code, lot in self.lots.items():
            taken = sum(self.at[run.key, code] * run.need_dg for run in self.runs)
            if lot.part_dg:
                used = self.model.new_int_var(0, lot.part_dg, "")
                self.model.add(used <= taken)
                part -= used
            if lot.whole:
                touched = self.model.new_bool_var("")
                self.model.add(taken <= lot.free_dg * touched)
                opened += touched
            known = lot.bought is not None and lot.arrives is None
            age += taken * (days.index(lot.bought) if known and lot.bought else len(days))
        return part, opened, age
