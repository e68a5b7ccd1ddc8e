"""The best assignment by looking at all of them; written from the rules, apart from the judge."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from studio.core.lots.problem import BUY, Fixed, Lot, Piece, Run, ShadeProblem

Table = npt.NDArray[Any]
"""Whole numbers: lots by their number in a byte, weights and counts in eight."""

IMMOVABLE = (Fixed.BEGUN, Fixed.PIN, Fixed.ORDER)


@dataclass(frozen=True)
class Best:
    """The one assignment that is best at every stage, and its value stage by stage."""

    lots: dict[str, str]
    repair: tuple[int, int]
    buy: tuple[int, ...]
    pooled_balls: int
    lots_value: tuple[int, int]
    leftovers: tuple[int, int, int]


class BruteForce:
    """All assignments of a small problem as the rows of a table, one column a run."""

    def __init__(self, problem: ShadeProblem, forced: tuple[str, str] | None = None) -> None:
        self.problem = problem
        self.runs = [run for piece in problem.pieces for run in piece.runs]
        known = {lot.code: lot for lot in problem.lots}
        named = {run.lot for run in self.runs if run.lot not in (None, BUY)}
        self.codes = [*sorted({*known, *(str(code) for code in named)}), BUY]
        self.lots = [known.get(code, Lot(code, 0, whole=False)) for code in self.codes[:-1]]
        self.number = {code: at for at, code in enumerate(self.codes)}
        self.forced = forced
        self.buy = len(self.codes) - 1
        self.need = np.array([run.need_dg for run in self.runs], dtype=np.int64)
        self.table = self._keep_together(self._table())

    def _choices(self, run: Run) -> list[int]:
        choices = self._by_rule(run)
        if self.forced and self.forced[0] == run.key:
            return [at for at in choices if at == self.number[self.forced[1]]]
        return choices

    def _by_rule(self, run: Run) -> list[int]:
        if run.lot is not None and run.fixed in IMMOVABLE:
            return [self.number[run.lot]]
        open_lots = [
            at
            for at, lot in enumerate(self.lots)
            if lot.arrives is None and lot.code in {each.code for each in self.problem.lots}
        ]
        own = [self.number[run.lot]] if run.fixed is Fixed.HOLD and run.lot is not None else []
        return sorted({*open_lots, *own, self.buy})

    def _table(self) -> Table:
        """Every choice for the first run with every one for the second, and so on.

        What takes more of a lot than it gives is put aside at once: further runs only add to it.
        """
        # Bytes and not words: the larger tables stay within the processor's own memory.
        table = np.empty((1, 0), dtype=np.int8)
        taken = np.zeros((1, len(self.codes)), dtype=np.int64)
        gives = np.array([*map(self._gives, self.lots), self.need.sum()])
        for need, run in zip(self.need, self.runs, strict=True):
            choices = np.array(self._choices(run), dtype=np.int8)
            chosen = np.tile(choices, len(table))
            table = np.column_stack([table.repeat(len(choices), axis=0), chosen])
            taken = taken.repeat(len(choices), axis=0)
            taken[np.arange(len(chosen)), chosen] += need
            kept = (taken <= gives).all(axis=1)
            table, taken = table[kept], taken[kept]
        return table

    def _gives(self, lot: Lot) -> int:
        """What runs may take of a lot; where those that cannot move overdraw it, they alone."""
        stuck = [run.fixed in IMMOVABLE and run.lot == lot.code for run in self.runs]
        return max(lot.free_dg, int(self.need[stuck].sum()))

    def _keep_together(self, table: Table) -> Table:
        """The rows in which every group that belongs together has one lot."""
        for piece, group, columns in self.groups():
            if group in piece.together:
                table = table[self._together(table, columns)]
        return table

    def groups(self) -> Iterator[tuple[Piece, str, list[int]]]:
        """Each piece's groups with the columns of their runs."""
        first = 0
        for piece in self.problem.pieces:
            names = dict.fromkeys(run.group for run in piece.runs)
            for name in names:
                yield (
                    piece,
                    name,
                    [first + at for at, run in enumerate(piece.runs) if run.group == name],
                )
            first += len(piece.runs)

    def _together(self, table: Table, columns: list[int]) -> npt.NDArray[np.bool_]:
        runs = [self.runs[at] for at in columns]
        stuck = [at for at, run in zip(columns, runs, strict=True) if self._stuck(run)]
        holds = [at for at, run in zip(columns, runs, strict=True) if self._held(run)]
        free = [at for at in columns if at not in stuck and at not in holds]
        fine = np.ones(len(table), dtype=bool)
        home = np.array([self.number[str(self.runs[at].lot)] for at in holds], dtype=np.int64)
        moved = (table[:, holds] != home).any(axis=1) if holds else np.zeros(len(table), dtype=bool)
        for case, settled, going in ((~moved, stuck + holds, free), (moved, stuck, free + holds)):
            if not going:
                continue
            place = table[:, going[0]]
            one = (table[:, going] == place[:, None]).all(axis=1)
            agreed = {self.number[str(self.runs[at].lot)] for at in settled}
            if len(agreed) == 1:
                one &= (place == next(iter(agreed))) | (place == self.buy)
            fine &= ~case | one
        return fine

    @staticmethod
    def _stuck(run: Run) -> bool:
        return run.lot is not None and run.fixed in IMMOVABLE

    @staticmethod
    def _held(run: Run) -> bool:
        return run.lot is not None and run.fixed is Fixed.HOLD

    # The stages, each a list of columns to be minimised in turn.

    def _repair(self, table: Table) -> list[Table]:
        moved = np.zeros(table.shape, dtype=bool)
        for at, run in enumerate(self.runs):
            if self._held(run):
                moved[:, at] = table[:, at] != self.number[str(run.lot)]
        first, disturbed = 0, np.zeros(len(table), dtype=np.int64)
        for piece in self.problem.pieces:
            disturbed += moved[:, first : first + len(piece.runs)].any(axis=1)
            first += len(piece.runs)
        return [disturbed, moved.sum(axis=1)]

    def _bought(self, table: Table) -> list[Table]:
        first, bought = 0, []
        for piece in self.problem.pieces:
            last = first + len(piece.runs)
            bought.append((table[:, first:last] == self.buy) @ self.need[first:last])
            first = last
        return bought

    def _balls(self, bought: list[Table]) -> list[Table]:
        return [-(-dg // self.problem.ball_dg) for dg in bought]

    def _pooled(self, bought: list[Table]) -> Table:
        pairs = zip(self.problem.pieces, bought, strict=True)
        held = (dg for piece, dg in pairs if piece.held)
        total = sum(held, np.zeros(len(bought[0]), dtype=np.int64))
        return np.asarray(-(-total // self.problem.ball_dg))

    def _lots(self, table: Table) -> list[Table]:
        extra = np.zeros(len(table), dtype=np.int64)
        changes = np.zeros(len(table), dtype=np.int64)
        for _, _, columns in self.groups():
            part = table[:, columns]
            ordered = np.sort(part, axis=1)
            extra += (ordered[:, 1:] != ordered[:, :-1]).sum(axis=1)
            changes += (part[:, 1:] != part[:, :-1]).sum(axis=1)
        return [extra, changes]

    def _leftovers(self, table: Table) -> list[Table]:
        part = np.zeros(len(table), dtype=np.int64)
        opened = np.zeros(len(table), dtype=np.int64)
        age = np.zeros(len(table), dtype=np.int64)
        house = [lot for lot in self.problem.lots if lot.arrives is None and lot.bought is not None]
        days = sorted({lot.bought for lot in house if lot.bought is not None})
        for at, lot in enumerate(self.lots):
            taken = (table == at) @ self.need
            part += np.minimum(taken, lot.part_dg)
            opened += lot.whole & (taken > 0)
            age += taken * (days.index(lot.bought) if lot in house and lot.bought else len(days))
        return [-part, opened, age]

    def best(self) -> Best | None:
        """Filter stage by stage; what is left after the last tie is one row."""
        table = self.table
        if not len(table):
            return None
        for stage in (self._repair, self._buy_stage, self._lots, self._leftovers, self._code):
            columns = stage(table)
            while columns:
                best = columns[0] == columns[0].min()
                table, columns = table[best], [column[best] for column in columns[1:]]
        assert len(table) == 1
        row = table[:1]

        def read(columns: list[Table]) -> list[int]:
            return [int(column[0]) for column in columns]

        repair, lots, left = read(self._repair(row)), read(self._lots(row)), self._leftovers(row)
        return Best(
            lots={run.key: self.codes[at] for run, at in zip(self.runs, row[0], strict=True)},
            repair=(repair[0], repair[1]),
            buy=tuple(read(self._bought(row))),
            pooled_balls=int(self._pooled(self._bought(row))[0]),
            lots_value=(lots[0], lots[1]),
            leftovers=(int(left[0][0]), int(left[1][0]), int(left[2][0])),
        )

    def _buy_stage(self, table: Table) -> list[Table]:
        bought = self._bought(table)
        pairs = zip(self._balls(bought), bought, strict=True)
        return [column for pair in pairs for column in pair] + [self._pooled(bought)]

    @staticmethod
    def _code(table: Table) -> list[Table]:
        return [table[:, at] for at in range(table.shape[1])]
