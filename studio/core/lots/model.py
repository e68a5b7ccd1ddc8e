"""The whole-number model of a shade: how many equal runs of a piece each lot works.

Columns count equal runs instead of naming them, and a lot used by a group is tied to what it works
as tightly as can be: both make the difference between milliseconds and minutes. Rows that bound a
lot are lowered to the largest sum of needs that fits under its yarn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from studio.core.frozen import dataclass
from studio.core.lots.arrange import changes_in
from studio.core.lots.blocks import Block, block_rows, blocks_of
from studio.core.lots.bounds import fillable
from studio.core.lots.frame import Frame, counts_early
from studio.core.lots.mip import Effort, Found, Mip
from studio.core.lots.sieve import Sieve

Terms = dict[int, int]

FEW_WAYS = 400
"""Ways of units up to which they are not sieved."""

MANY_WAYS = 800
"""Columns from which a model of units alone is solved as it stands."""


@dataclass(frozen=True, slots=True)
class Bin:
    """Classes that the model does not tell apart: one, or those of a piece with equal needs."""

    classes: tuple[int, ...]
    piece: int
    need: int
    count: int
    allowed: tuple[int, ...]


def bins_of(frame: Frame, pieces: int, by_group: bool) -> list[Bin]:
    """The bins of the first so many pieces."""
    merged: dict[object, list[int]] = {}
    for at, cls in enumerate(frame.classes):
        if counts_early(cls, pieces, frame.buy):
            key = at if by_group else (cls.piece, cls.need, cls.allowed, cls.home)
            merged.setdefault(key, []).append(at)
    return [
        Bin(
            tuple(members),
            frame.classes[members[0]].piece,
            frame.classes[members[0]].need,
            sum(len(frame.classes[at].runs) for at in members),
            frame.classes[members[0]].allowed,
        )
        for members in merged.values()
    ]


class Model:
    """Columns and rows for the first `pieces` pieces, with lots used where `lots` asks for them."""

    def __init__(self, frame: Frame, pieces: int, lots: bool) -> None:
        self.frame = frame
        self.pieces = pieces
        self.lots = lots
        self.mip = Mip()
        self.kinds: list[tuple[str, int, int]] = []
        self.bins = bins_of(frame, pieces, by_group=lots)
        self.units = [unit for unit in frame.units if counts_early(unit, pieces, frame.buy)]
        self.bin_of = {cls: at for at, each in enumerate(self.bins) for cls in each.classes}
        self.count: dict[tuple[int, int], int] = {}
        self.option: dict[tuple[int, int], int] = {}
        self.used: dict[tuple[int, int], int] = {}
        self.named: dict[tuple[int, int], int] = {}
        self.block: dict[tuple[int, int], int] = {}
        self.blocks: dict[int, list[Block]] = {}
        self.part: dict[int, int] = {}
        self.open: dict[int, int] = {}
        self.spread: set[int] = set()
        """Groups whose runs are modelled one by one."""
        self.settled: dict[int, int] = {}
        """Places of single runs that the code tie has settled."""
        self.most_changes: int | None = None
        self.most_of: list[int] = []
        """Changes that each group may have at the most."""
        self.sieve: Sieve | None = None
        self.cap = fillable(frame, pieces)
        self._placing()
        self.told_by_loads = len(self.mip.rows)
        """Rows that say no more than which ways of two units fit into one lot together."""
        if lots:
            self._using()

    def add_column(self, kind: str, one: int, two: int, upper: int) -> int:
        """A new column; the kind and two numbers say what it stands for."""
        self.kinds.append((kind, one, two))
        return self.mip.column(upper)

    def _placing(self) -> None:
        frame = self.frame
        loads: dict[int, Terms] = {}
        for at, each in enumerate(self.bins):
            terms: Terms = {}
            for lot in each.allowed:
                most = each.count
                if lot != frame.buy and each.need:
                    most = min(most, frame.room[lot] // each.need)
                col = self.add_column("count", at, lot, most)
                self.count[at, lot] = col
                terms[col] = 1
                if lot != frame.buy:
                    loads.setdefault(lot, {})[col] = each.need
            self.mip.row(terms, each.count, each.count)
        for at, unit in enumerate(self.units):
            terms = {}
            for nth, option in enumerate(unit.options):
                col = self.add_column("option", at, nth, 1)
                self.option[at, nth] = col
                terms[col] = 1
                for lot, dg in option.loads:
                    loads.setdefault(lot, {})[col] = dg
            self.mip.row(terms, 1, 1)
        self.loads = loads
        for lot, terms in loads.items():
            self.mip.row(terms, upper=self.cap[lot])

    def _using(self) -> None:
        """Columns that say whether a group takes anything from a lot new to it."""
        frame = self.frame
        for at, group in enumerate(frame.groups):
            mine = [n for n, each in enumerate(self.bins) if frame.classes[n].group == at]
            demand = sum(self.bins[n].need * self.bins[n].count for n in mine)
            lots = sorted({lot for n in mine for lot in self.bins[n].allowed} - group.fixed_lots)
            for lot in lots:
                col = self.add_column("used", at, lot, 1)
                self.used[at, lot] = col
                total: Terms = {}
                for n in mine:
                    if (n, lot) in self.count:
                        count = self.count[n, lot]
                        total[count] = self.bins[n].need
                        self.mip.row({count: 1, col: -self.mip.upper[count]}, upper=0)
                if lot != frame.buy and len(total) > 1:
                    total[col] = -min(self.cap[lot], demand)
                    self.mip.row(total, upper=0)
            if mine and not group.fixed_lots:
                self.mip.row({self.used[at, lot]: 1 for lot in lots}, lower=1)

    # Objectives: each returns terms and a constant, so that terms + constant is the judge's number.

    def disturbed(self) -> Terms:
        """Pieces with a moved hold; adds their columns at the first call."""
        terms: Terms = {}
        for piece in range(self.pieces):
            moved = self.moved((piece,))
            if moved:
                col = self.add_column("disturbed", piece, 0, 1)
                most = sum(
                    by * self.mip.upper[at]
                    for at, by in moved.items()
                    if self.kinds[at][0] == "count"
                ) + sum(by for at, by in moved.items() if self.kinds[at][0] == "option")
                for at in moved:
                    self.mip.row({at: 1, col: -self.mip.upper[at]}, upper=0)
                self.mip.row({**moved, col: -most}, upper=0)
                terms[col] = 1
        return terms

    def moved(self, pieces: Iterable[int] | None = None) -> Terms:
        """Held runs that leave their lot."""
        wanted = set(range(self.pieces)) if pieces is None else set(pieces)
        terms: Terms = {}
        for (at, lot), col in self.count.items():
            home = self.frame.classes[self.bins[at].classes[0]].home
            if home is not None and lot != home and self.bins[at].piece in wanted:
                terms[col] = 1
        for (at, nth), col in self.option.items():
            unit = self.units[at]
            if unit.options[nth].moved and unit.piece in wanted:
                terms[col] = unit.options[nth].moved
        return terms

    def bought(self, piece: int) -> Terms:
        """dg that a piece buys, beyond what its fixed runs buy."""
        terms: Terms = {}
        for (at, lot), col in self.count.items():
            if lot == self.frame.buy and self.bins[at].piece == piece and self.bins[at].need:
                terms[col] = self.bins[at].need
        for (at, nth), col in self.option.items():
            unit = self.units[at]
            if unit.piece == piece and unit.options[nth].bought_dg:
                terms[col] = unit.options[nth].bought_dg
        return terms

    def extra_lots(self) -> tuple[Terms, int]:
        """Lots used - 1 over all groups."""
        terms: Terms = dict.fromkeys(self.used.values(), 1)
        constant = sum(len(group.fixed_lots) - 1 for group in self.frame.groups)
        for (at, nth), col in self.option.items():
            unit = self.units[at]
            group = self.frame.groups[unit.group]
            new = len(set(unit.options[nth].places) - group.fixed_lots)
            if new:
                terms[col] = new
        return terms, constant

    def changes(self) -> tuple[Terms, int]:
        """Neighbours in different lots: exact for spread groups and units, a bound for others."""
        terms: Terms = {}
        constant = 0
        unit_at = {unit.group: at for at, unit in enumerate(self.units)}
        for at, group in enumerate(self.frame.groups):
            if at in unit_at:
                unit = self.units[unit_at[at]]
                for nth, option in enumerate(unit.options):
                    terms[self.option[unit_at[at], nth]] = changes_in(
                        self._placed(group.runs, unit.runs, option.places)
                    )
            elif at in self.spread:
                terms.update({col: 1 for (g, _), col in self.block.items() if g == at})
                constant -= 1
            else:
                mine = {col: 1 for (g, _), col in self.used.items() if g == at}
                terms.update(mine)
                constant += group.base_changes - (bool(mine) and not group.fixed_lots)
        return terms, constant

    def _placed(
        self, runs: Sequence[int], moving: Sequence[int], places: Sequence[int]
    ) -> list[int]:
        goes = dict(zip(moving, places, strict=True))
        return [goes.get(run, self.frame.start[run]) for run in runs]

    def part_used(self) -> Terms:
        """Grams of part balls, as a minimisation; adds their columns at the first call."""
        for lot, has in enumerate(self.frame.part):
            if has and lot in self.loads and lot not in self.part:
                self.part[lot] = self.add_column("part", lot, 0, min(has, self.cap[lot]))
                minus = {col: -dg for col, dg in self.loads[lot].items()}
                self.mip.row({self.part[lot]: 1, **minus}, upper=0)
        return dict.fromkeys(self.part.values(), -1)

    def _taking(self, lot: int) -> Iterator[Terms]:
        """For each unit the ways that take something from a lot, of which at most one is chosen."""
        by_unit: dict[int, Terms] = {}
        for col, dg in self.loads[lot].items():
            kind, at, _ = self.kinds[col]
            if dg and kind == "option":
                by_unit.setdefault(at, {})[col] = 1
        yield from by_unit.values()

    def opened(self) -> Terms:
        """Whole lots opened; adds their columns at the first call."""
        for lot, fresh in enumerate(self.frame.fresh):
            if fresh and lot in self.loads and lot not in self.open:
                col = self.open[lot] = self.add_column("open", lot, 0, 1)
                self.mip.row({**self.loads[lot], col: -self.cap[lot]}, upper=0)
                for terms in self._taking(lot):
                    self.mip.row({**terms, col: -1}, upper=0)
                for at, dg in self.loads[lot].items():
                    if dg and self.kinds[at][0] == "count":
                        self.mip.row({at: 1, col: -self.mip.upper[at]}, upper=0)
        return dict.fromkeys(self.open.values(), 1)

    def age(self) -> Terms:
        """dg taken times the lot's place in the order of purchase."""
        terms: Terms = {}
        for lot, loads in self.loads.items():
            for col, dg in loads.items():
                terms[col] = terms.get(col, 0) + dg * self.frame.age[lot]
        return terms

    def name_block(self, runs: Sequence[int], class_of: Mapping[int, int]) -> None:
        """Single out some runs by columns of their own, tied to their class or their blocks."""
        for cls in sorted({class_of[run] for run in runs}):
            mine = [run for run in runs if class_of[run] == cls]
            for run in mine:
                self._name_run(run, cls)
            if self.frame.classes[cls].group in self.spread:
                continue
            for lot in self.frame.classes[cls].allowed:
                before = sum(self.settled.get(r) == lot for r in self.frame.classes[cls].runs)
                terms: Terms = {self.named[run, lot]: 1 for run in mine}
                terms[self.count[cls, lot]] = -1
                self.mip.row(terms, upper=-before)

    def _name_run(self, run: int, cls: int) -> None:
        terms: Terms = {}
        for lot in self.frame.classes[cls].allowed:
            self.named[run, lot] = self.add_column("named", run, lot, 1)
            terms[self.named[run, lot]] = 1
        self.mip.row(terms, 1, 1)
        if self.frame.classes[cls].group in self.spread:
            self._tie_to_blocks(run, cls)

    def _tie_to_blocks(self, run: int, cls: int) -> None:
        at = self.frame.classes[cls].group
        place = self.frame.groups[at].runs.index(run)
        for lot in self.frame.classes[cls].allowed:
            cover: Terms = {self.named[run, lot]: -1}
            for nth, (first, last, other) in enumerate(self.blocks[at]):
                if other == lot and first <= place <= last:
                    cover[self.block[at, nth]] = 1
            self.mip.row(cover, 0, 0)

    def settle(self, run: int, cls: int, lot: int) -> None:
        """Keep one run in a lot from now on."""
        self.settled[run] = lot
        at = self.frame.classes[cls].group
        if at in self.spread:
            self._keep_blocks(at, run, lot)
        else:
            same = sum(self.settled.get(r) == lot for r in self.frame.classes[cls].runs)
            self.mip.lower[self.count[cls, lot]] = same

    def limit_changes(self, most: int, most_of: list[int]) -> None:
        """Limit the changes over all groups, and say what that leaves to each of them."""
        self.most_changes, self.most_of = most, most_of
        self._changes_row()

    def _changes_row(self) -> None:
        if self.most_changes is not None:
            terms, constant = self.changes()
            self.mip.row(terms, upper=self.most_changes - constant)

    def spread_more(self, groups: Iterable[int]) -> None:
        """Model some groups by blocks from now on."""
        moving = {cls.group for cls in self.frame.classes}
        more = [at for at in sorted(groups) if at in moving and at not in self.spread]
        for at in more:
            self._spread_group(at)
        if more:
            self._changes_row()

    def _spread_group(self, at: int) -> None:
        """Model a group by its blocks: neighbours worked from one lot, so many in a row."""
        self.spread.add(at)
        self.blocks[at] = blocks_of(self.frame, at, self.most_of[at] if self.most_of else None)
        for nth in range(len(self.blocks[at])):
            self.block[at, nth] = self.add_column("block", at, nth, 1)
        block_rows(self, at)
        for cls, each in enumerate(self.frame.classes):
            for run in each.runs if each.group == at else ():
                if run in self.settled:
                    self._keep_blocks(at, run, self.settled[run])
                if (run, each.allowed[0]) in self.named:
                    self._tie_to_blocks(run, cls)

    def _keep_blocks(self, at: int, run: int, lot: int) -> None:
        """Leave out the blocks that work a run from another lot."""
        place = self.frame.groups[at].runs.index(run)
        for nth, (first, last, other) in enumerate(self.blocks[at]):
            if other != lot and first <= place <= last:
                self.mip.upper[self.block[at, nth]] = 0

    def solve(self, objective: Terms, below: int | None, effort: Effort) -> Found:
        """Look for an assignment whose objective is at most `below`."""
        rows = self.mip.rows
        if below is not None:
            rows = [*rows, (-float("inf"), float(below), objective)]
        if len(self.option) < FEW_WAYS:
            return self.mip.minimise(objective, below, effort)
        ways = set(self.option.values())
        about_ways = [row for row in rows[self.told_by_loads :] if row[2].keys() <= ways]
        alive = self._sieve().alive(about_ways, self.mip.upper)
        if alive is None:
            return Found(None, float("inf") if below is None else below + 1.0, proved=True)
        without: set[int] = set()
        for columns, each in zip(self._sieve().columns, alive, strict=True):
            without.update(columns[~each].tolist())
        kept = {col for columns in self._sieve().columns for col in columns.tolist()}
        without.update(set(self.option.values()) - kept)
        # Many ways of few units are so tight that presolving takes longer than solving.
        presolve = bool(self.bins) or len(self.kinds) - len(without) < MANY_WAYS
        return self.mip.minimise(objective, below, effort, presolve, without)

    def _sieve(self) -> Sieve:
        """Made at the first solve; a model's units stay what they are."""
        if self.sieve is None:
            columns: list[list[int]] = [[] for _ in self.units]
            for (at, _), col in self.option.items():
                columns[at].append(col)
            self.sieve = Sieve(self.units, columns, self.cap)
        return self.sieve

    @contextmanager
    def trial(self) -> Iterator[None]:
        """Columns and rows added inside are gone afterwards."""
        columns, rows = len(self.kinds), len(self.mip.rows)
        yield
        del self.kinds[columns:], self.mip.lower[columns:], self.mip.upper[columns:]
        del self.mip.rows[rows:]
