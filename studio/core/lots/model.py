"""The whole-number model of a shade: how many equal runs of a piece each lot works.

Columns count equal runs instead of naming them, and a lot used by a group is tied to what it works
as tightly as can be: both make the difference between milliseconds and minutes. Rows that bound a
lot are lowered to the largest sum of needs that fits under its yarn.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from studio.core.lots.arrange import arrange, changes_in
from studio.core.lots.bounds import fillable
from studio.core.lots.frame import UNSET, Frame
from studio.core.lots.greedy import Counts
from studio.core.lots.mip import Effort, Found, Mip

Terms = dict[int, int]


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
        if cls.piece < pieces:
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
        self.units = [unit for unit in frame.units if unit.piece < pieces]
        self.bin_of = {cls: at for at, each in enumerate(self.bins) for cls in each.classes}
        self.count: dict[tuple[int, int], int] = {}
        self.option: dict[tuple[int, int], int] = {}
        self.used: dict[tuple[int, int], int] = {}
        self.named: dict[tuple[int, int], int] = {}
        self.change: dict[tuple[int, int], int] = {}
        self.part: dict[int, int] = {}
        self.open: dict[int, int] = {}
        self.spread: set[int] = set()
        """Groups whose runs are modelled one by one."""
        self.settled: dict[int, int] = {}
        """Places of single runs that the code tie has settled."""
        self.cap = fillable(frame, pieces)
        self._placing()
        if lots:
            self._using()

    def _column(self, kind: str, one: int, two: int, upper: int) -> int:
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
                col = self._column("count", at, lot, most)
                self.count[at, lot] = col
                terms[col] = 1
                if lot != frame.buy:
                    loads.setdefault(lot, {})[col] = each.need
            self.mip.row(terms, each.count, each.count)
        for at, unit in enumerate(self.units):
            terms = {}
            for nth, option in enumerate(unit.options):
                col = self._column("option", at, nth, 1)
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
                col = self._column("used", at, lot, 1)
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
                col = self._column("disturbed", piece, 0, 1)
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
                terms.update({col: 1 for (g, _), col in self.change.items() if g == at})
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
                self.part[lot] = self._column("part", lot, 0, min(has, self.cap[lot]))
                minus = {col: -dg for col, dg in self.loads[lot].items()}
                self.mip.row({self.part[lot]: 1, **minus}, upper=0)
        return dict.fromkeys(self.part.values(), -1)

    def opened(self) -> Terms:
        """Whole lots opened; adds their columns at the first call."""
        for lot, fresh in enumerate(self.frame.fresh):
            if fresh and lot in self.loads and lot not in self.open:
                col = self.open[lot] = self._column("open", lot, 0, 1)
                self.mip.row({**self.loads[lot], col: -self.cap[lot]}, upper=0)
                for at, dg in self.loads[lot].items():
                    if dg:
                        self.mip.row({at: 1, col: -self.mip.upper[at]}, upper=0)
        return dict.fromkeys(self.open.values(), 1)

    def age(self) -> Terms:
        """dg taken times the lot's place in the order of purchase."""
        terms: Terms = {}
        for lot, loads in self.loads.items():
            for col, dg in loads.items():
                terms[col] = terms.get(col, 0) + dg * self.frame.age[lot]
        return terms

    def name_run(self, run: int, cls: int) -> None:
        """Add columns for one run by itself; the caller ties them to its class."""
        terms: Terms = {}
        for lot in self.frame.classes[cls].allowed:
            if (run, lot) not in self.named:
                self.named[run, lot] = self._column("named", run, lot, 1)
            terms[self.named[run, lot]] = 1
        self.mip.row(terms, 1, 1)
        if run in self.settled:
            self.mip.lower[self.named[run, self.settled[run]]] = 1

    def name_block(self, runs: Sequence[int], class_of: Mapping[int, int]) -> None:
        """Single out some runs of groups that are not spread, beside those already settled."""
        for cls in sorted({class_of[run] for run in runs}):
            mine = [run for run in runs if class_of[run] == cls]
            for run in mine:
                self.name_run(run, cls)
            for lot in self.frame.classes[cls].allowed:
                before = sum(self.settled.get(r) == lot for r in self.frame.classes[cls].runs)
                terms: Terms = {self.named[run, lot]: 1 for run in mine}
                terms[self.count[cls, lot]] = -1
                self.mip.row(terms, upper=-before)

    def settle(self, run: int, cls: int, lot: int) -> None:
        """Keep one run in a lot from now on."""
        self.settled[run] = lot
        if self.frame.classes[cls].group in self.spread:
            self.mip.lower[self.named[run, lot]] = 1
        else:
            same = sum(self.settled.get(r) == lot for r in self.frame.classes[cls].runs)
            self.mip.lower[self.count[cls, lot]] = same

    def spread_group(self, at: int) -> None:
        """Model a group's runs one by one, with a column for each change of lot."""
        group = self.frame.groups[at]
        self.spread.add(at)
        mine = [n for n, cls in enumerate(self.frame.classes) if cls.group == at]
        for n in mine:
            for run in self.frame.classes[n].runs:
                self.name_run(run, n)
            for lot in self.frame.classes[n].allowed:
                terms: Terms = {self.named[run, lot]: 1 for run in self.frame.classes[n].runs}
                terms[self.count[n, lot]] = -1
                self.mip.row(terms, 0, 0)
        for nth, (one, two) in enumerate(zip(group.runs, group.runs[1:], strict=False)):
            self._change(at, nth, one, two)
        changes: Terms = {col: 1 for (g, _), col in self.change.items() if g == at}
        used = {col: -1 for (g, _), col in self.used.items() if g == at}
        self.mip.row({**changes, **used}, lower=group.base_changes - (not group.fixed_lots))

    def _change(self, at: int, nth: int, one: int, two: int) -> None:
        """1 - change <= sum over lots of 'both runs are there'."""
        start = self.frame.start
        col = self.change[at, nth] = self._column("change", at, nth, 1)
        same: Terms = {col: 1}
        for lot in range(len(self.frame.codes) + 1):
            sides = [
                self.named.get((run, lot)) if start[run] == UNSET else start[run] == lot
                for run in (one, two)
            ]
            if any(side is None or side is False for side in sides):
                continue
            both = self._column("both", at * 10_000 + nth, lot, 1)
            same[both] = 1
            for side in sides:
                if side is not True and side is not None:
                    self.mip.row({both: 1, int(side): -1}, upper=0)
        self.mip.row(same, lower=1)

    def differ_from(self, start: Sequence[int]) -> None:
        """Ask for at least one run fewer somewhere than the columns' values `start` say."""
        fewer: Terms = {}
        told = [*self.option.values(), *self.named.values(), *self.count.values()]
        for col in told:
            if start[col]:
                less = self._column("less", col, 0, 1)
                self._less(col, less, start[col])
                fewer[less] = 1
        self.mip.row(fewer, lower=1)

    def _less(self, col: int, less: int, now: int) -> None:
        """less = 1 only where the column stays under its value of now; it may rise otherwise."""
        high = self.mip.upper[col]
        self.mip.row({col: 1, less: high - now + 1}, upper=high)

    @contextmanager
    def trial(self) -> Iterator[None]:
        """Columns and rows added inside are gone afterwards."""
        columns, rows = len(self.kinds), len(self.mip.rows)
        yield
        del self.kinds[columns:], self.mip.lower[columns:], self.mip.upper[columns:]
        del self.mip.rows[rows:]

    def solve(self, objective: Terms, below: int, effort: Effort) -> Found:
        """Look for an assignment whose objective is at most `below`."""
        return self.mip.minimise(objective, below, effort)

    def start_from(self, places: Sequence[int]) -> list[int]:
        """The columns' values for an assignment."""
        frame = self.frame
        taken: dict[int, int] = {}
        moved: dict[int, bool] = {}
        for group in frame.groups:
            for run in group.runs:
                if frame.start[run] != UNSET or group.piece >= self.pieces:
                    continue
                taken[places[run]] = taken.get(places[run], 0) + frame.runs[run].need_dg
                if frame.home[run] not in (UNSET, places[run]):
                    moved[group.piece] = True
        values = []
        for kind, one, two in self.kinds:
            if kind == "count":
                runs = (r for cls in self.bins[one].classes for r in frame.classes[cls].runs)
                value = sum(places[run] == two for run in runs)
            elif kind == "option":
                unit = self.units[one]
                goes = tuple(places[run] for run in unit.runs)
                value = int(goes == unit.options[two].places)
            elif kind == "used":
                value = int(
                    any(places[r] == two for r in frame.groups[one].runs if frame.start[r] == UNSET)
                )
            elif kind == "named":
                value = int(places[one] == two)
            elif kind == "change":
                runs_here = frame.groups[one].runs
                value = int(places[runs_here[two]] != places[runs_here[two + 1]])
            elif kind == "both":
                runs_here = frame.groups[one // 10_000].runs
                pair = (places[runs_here[one % 10_000]], places[runs_here[one % 10_000 + 1]])
                value = int(pair == (two, two))
            elif kind == "part":
                value = min(frame.part[one], taken.get(one, 0))
            elif kind == "open":
                value = int(taken.get(one, 0) > 0)
            else:
                value = int(moved.get(one, False))
            values.append(value)
        return values

    def places_from(self, values: Sequence[int]) -> dict[int, int]:
        """Where the moving runs of the model's pieces go."""
        frame = self.frame
        places: dict[int, int] = {}
        for (at, nth), col in self.option.items():
            if values[col]:
                unit = self.units[at]
                places.update(zip(unit.runs, unit.options[nth].places, strict=True))
        counts: Counts = {}
        for at, each in enumerate(self.bins):
            left = {lot: values[self.count[at, lot]] for lot in each.allowed}
            for cls in each.classes:
                counts[cls] = _draw(left, len(frame.classes[cls].runs))
        for at, group in enumerate(frame.groups):
            mine = {n: c for n, c in counts.items() if frame.classes[n].group == at}
            if mine:
                given = {
                    run: lot
                    for (run, lot), col in self.named.items()
                    if values[col] and run in group.runs
                }
                given.update({run: lot for run, lot in self.settled.items() if run in group.runs})
                _, found, _ = arrange(frame, group, mine, given)
                places.update(found)
        return places


def _draw(left: dict[int, int], want: int) -> dict[int, int]:
    """Take `want` runs out of what is left, lot by lot."""
    drawn: dict[int, int] = {}
    for lot, count in left.items():
        take = min(count, want)
        if take:
            drawn[lot] = take
            left[lot] -= take
            want -= take
    return drawn
