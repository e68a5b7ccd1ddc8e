"""The time a piece takes: stitches, ends, fringe and fixed tasks, in minutes.

Logged time of the piece itself comes first, then that of pieces in the same yarn, stitch and hook,
then minutes noted with trials and swatches; else an assumed rate, and then the figure is rough.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import StrEnum

from studio.core import gauge as gauges
from studio.core import say
from studio.core.answers import RunKind, Size
from studio.core.frozen import dataclass
from studio.core.model import Library, Project, Stitch, Studio, Swatch, Weighing
from studio.core.runs import FINISHED
from studio.core.trade_model import WorkKind

_NOUGHT = Decimal(0)


class TimeFrom(StrEnum):
    """Where the minutes of a stitch come from, best first."""

    THIS_PIECE = "time logged on this piece"
    PIECES = "time logged on pieces in the same yarn, stitch and hook"
    SWATCHES = "minutes noted with swatches and trials"
    ASSUMED = "an assumed rate"
    BY_HAND = "her own guess"
    LOGGED = "time logged"
    SETTING = "a setting"


@dataclass(frozen=True, slots=True)
class Pace:
    """Minutes for one stitch; `by_kind` where a kind of row has evidence of its own."""

    min_per_stitch: Decimal
    source: TimeFrom
    by_kind: Mapping[str, Decimal]

    def of(self, kind: str) -> Decimal:
        """Minutes for a stitch in a row of this kind."""
        return self.by_kind.get(kind, self.min_per_stitch)


@dataclass(frozen=True, slots=True)
class TimeLine:
    """One step: how many of what at how many minutes; `spent_min` is what is behind her."""

    what: str
    count: Decimal
    min_each: Decimal
    total_min: Decimal
    spent_min: Decimal
    source: TimeFrom

    @property
    def how(self) -> str:
        """The step in words."""
        if self.source is TimeFrom.LOGGED or not self.min_each:
            return self.source.value
        each = say.number(self.min_each, 3)
        return f"{say.number(self.count)} at {each} min, {self.source.value}"


@dataclass(frozen=True, slots=True)
class Hours:
    """A piece's time; `lines` add up to the total. `unknown` where nothing tells the crochet.

    `crochet` are the lines of stitches, `after` what comes when they are done.
    """

    crochet: tuple[TimeLine, ...]
    after: tuple[TimeLine, ...]
    rough: bool = False

    @property
    def lines(self) -> tuple[TimeLine, ...]:
        """All steps in order."""
        return (*self.crochet, *self.after)

    @property
    def unknown(self) -> bool:
        """Whether nothing tells how long the crochet takes."""
        return not self.crochet

    @property
    def crochet_left_min(self) -> Decimal:
        """Minutes of crochet still to work."""
        return sum((n.total_min - n.spent_min for n in self.crochet), _NOUGHT)

    @property
    def total_min(self) -> Decimal:
        """Minutes for the whole piece."""
        return sum((n.total_min for n in self.lines), _NOUGHT)

    @property
    def spent_min(self) -> Decimal:
        """Minutes that are behind her."""
        return sum((n.spent_min for n in self.lines), _NOUGHT)

    @property
    def left_min(self) -> Decimal:
        """Minutes still to work."""
        return self.total_min - self.spent_min

    @property
    def hours(self) -> Decimal:
        """Hours for the whole piece, unrounded."""
        return self.total_min / 60


@dataclass(frozen=True, slots=True)
class _Timed:
    """Minutes over stitches, by kind of row; the kind is '' where rows of several were timed."""

    kind: str
    stitches: Decimal
    minutes: Decimal


def _kind_of_rows(stitch: Stitch, first: int, rows: Decimal) -> str:
    """The kind of row where all these rows are of one, else ''."""
    last = first + max(0, int(rows.to_integral_value()) - 1)
    for start, end, kind in gauges.kind_spans(stitch):
        if first >= start and (end is None or last <= end):
            return kind.name
    return ""


def _timed_swatch(swatch: Swatch, stitch: Stitch) -> Iterable[_Timed]:
    weighings: tuple[Weighing, ...] = swatch.trials
    if swatch.weighed is not None:
        weighings = (swatch.weighed, *weighings)
    for w in weighings:
        stitches = w.rows * w.stitches
        if w.minutes is not None and w.minutes > 0 and stitches > 0:
            yield _Timed(_kind_of_rows(stitch, w.first_row, w.rows), stitches, w.minutes)


def _row_stitches(stitch: Stitch, size: Size, first: int, rows: int) -> dict[str, int]:
    """Stitches of the rows from `first` on, by kind of row."""
    found: dict[str, int] = {}
    last = first + rows - 1
    for start, end, kind in gauges.kind_spans(stitch):
        low, high = max(first, start), last if end is None else min(last, end)
        if high >= low:
            each = round(gauges.stitches_of_kind(stitch, kind, size.repeats))
            found[kind.name] = found.get(kind.name, 0) + each * (high - low + 1)
    return found


def _timed_log(project: Project, stitch: Stitch, size: Size) -> Iterable[_Timed]:
    for entry in project.log:
        if entry.kind is WorkKind.CROCHET and entry.rows > 0 and entry.minutes > 0:
            stitches = _row_stitches(stitch, size, entry.first_row, entry.rows)
            kind = next(iter(stitches)) if len(stitches) == 1 else ""
            total = Decimal(sum(stitches.values()))
            if total > 0:
                yield _Timed(kind, total, entry.minutes)


def _pace(timed: list[_Timed], source: TimeFrom) -> Pace | None:
    """Minutes over stitches, pooled; None without evidence."""
    if not timed:
        return None

    def pooled(group: list[_Timed]) -> Decimal:
        return sum((t.minutes for t in group), _NOUGHT) / sum((t.stitches for t in group), _NOUGHT)

    kinds = dict.fromkeys(t.kind for t in timed if t.kind)
    by_kind = {kind: pooled([t for t in timed if t.kind == kind]) for kind in kinds}
    return Pace(pooled(timed), source, by_kind)


def _like(project: Project, studio: Studio) -> list[Project]:
    """Other pieces with crochet logged in the same main yarn, stitch and hook."""
    yarn = gauges.main_yarn(project)
    return [
        other
        for other in studio.projects
        if other.key != project.key
        and other.log
        and (other.stitch, other.hook_mm) == (project.stitch, project.hook_mm)
        and gauges.main_yarn(other) == yarn
    ]


def pace_of(project: Project, size: Size | None, studio: Studio) -> Pace:
    """How fast a stitch of this piece is worked, by the best evidence there is."""
    library = studio.library
    stitch = library.stitch.get(project.stitch)
    yarn = gauges.main_yarn(project)
    found = None
    if stitch is not None and size is not None:
        found = _pace(list(_timed_log(project, stitch, size)), TimeFrom.THIS_PIECE)
    if found is None and stitch is not None:
        logged = [t for other in _like(project, studio) for t in _timed_of(other, stitch, library)]
        found = _pace(logged, TimeFrom.PIECES)
    if found is None and stitch is not None and yarn is not None:
        swatches = library.swatches_of.get((yarn, project.stitch, project.hook_mm), ())
        timed = [t for s in swatches for t in _timed_swatch(s, stitch)]
        found = _pace(timed, TimeFrom.SWATCHES)
    if found is not None:
        return found
    return Pace(1 / studio.trade.times.stitches_per_min, TimeFrom.ASSUMED, {})


def _timed_of(other: Project, stitch: Stitch, library: Library) -> Iterable[_Timed]:
    gauge = gauges.gauge_of(other, library)
    size = gauges.size_of(other, stitch, gauge) if gauge else None
    return _timed_log(other, stitch, size) if size else ()


def _logged(project: Project, kind: WorkKind) -> Decimal:
    return sum((e.minutes for e in project.log if e.kind is kind), _NOUGHT)


def _crochet(project: Project, size: Size | None, studio: Studio) -> list[TimeLine]:
    """The lines for stitches in rows and in the border; none where nothing tells them."""
    logged = _logged(project, WorkKind.CROCHET)
    finished = project.stage in FINISHED
    if finished and logged:
        return [TimeLine("crochet", _NOUGHT, _NOUGHT, logged, logged, TimeFrom.LOGGED)]
    if project.minutes is not None:
        rows = max(1, sum(s.rows for s in project.stripes))
        by_rows = project.minutes * project.rows_done / rows
        spent = min(project.minutes, logged or (project.minutes if finished else by_rows))
        total = project.minutes
        return [TimeLine("crochet", _NOUGHT, _NOUGHT, total, spent, TimeFrom.BY_HAND)]
    stitch = studio.library.stitch.get(project.stitch)
    if stitch is None or size is None:
        return []
    pace = pace_of(project, size, studio)
    rows_done = size.rows if finished else min(project.rows_done, size.rows)
    lines = []
    if rows_done and logged:
        lines.append(
            TimeLine(f"rows 1-{rows_done}", _NOUGHT, _NOUGHT, logged, logged, TimeFrom.LOGGED)
        )
        groups = [(rows_done + 1, size.rows - rows_done, False)]
    else:
        groups = [(1, rows_done, True), (rows_done + 1, size.rows - rows_done, False)]
    for first, rows, done in groups:
        if rows <= 0:
            continue
        for kind, stitches in _row_stitches(stitch, size, first, rows).items():
            lines.append(_stitch_line(f"stitches, {kind}", stitches, pace.of(kind), pace, done))
    if project.border is not None and project.border.rounds:
        border = sum(gauges.border_stitches(project.border, size.stitches, size.rows))
        body = gauges.body_kind(stitch).name
        lines.append(_stitch_line("stitches, border", border, pace.of(body), pace, finished))
    return lines


def _stitch_line(what: str, stitches: int, each: Decimal, pace: Pace, done: bool) -> TimeLine:
    total = _minutes(stitches * each)
    spent = total if done else _NOUGHT
    return TimeLine(what, Decimal(stitches), each, total, spent, pace.source)


def _minutes(value: Decimal) -> Decimal:
    """Whole minutes, so that the lines add up as they are shown."""
    return Decimal(round(value))


def _counted(
    what: str, count: Decimal, each: Decimal, logged: Decimal, finished: bool
) -> TimeLine | None:
    """A line from a count; what was logged beats it when all is done or more than estimated."""
    estimate = _minutes(count * each)
    if logged and (finished or logged >= estimate):
        return TimeLine(what, count, _NOUGHT, logged, logged, TimeFrom.LOGGED)
    if not estimate:
        return None
    spent = estimate if finished else logged
    return TimeLine(what, count, each, estimate, spent, TimeFrom.SETTING)


def hours_of(project: Project, size: Size | None, ends: int, studio: Studio) -> Hours:
    """The time of a piece of this size, with so many ends to weave in."""
    times = studio.trade.times
    finished = project.stage in FINISHED
    crochet = _crochet(project, size, studio)
    lines: list[TimeLine | None] = []
    lines.append(
        _counted(
            "ends",
            Decimal(ends),
            studio.settings.assumed.min_per_end,
            _logged(project, WorkKind.ENDS),
            finished,
        )
    )
    if project.fringe is not None:
        strands = Decimal(max(0, project.fringe.strands))
        lines.append(
            _counted(RunKind.FRINGE.value, strands, times.min_per_strand, _NOUGHT, finished)
        )
    tasks = sum((t.minutes for t in times.tasks), _NOUGHT)
    names = say.either([t.name for t in times.tasks], "and")
    logged = _logged(project, WorkKind.TASK)
    if logged and (finished or logged >= tasks):
        lines.append(TimeLine(names, Decimal(1), _NOUGHT, logged, logged, TimeFrom.LOGGED))
    else:
        left = logged
        for task in times.tasks:
            spent = task.minutes if finished else min(task.minutes, left)
            left -= spent if not finished else _NOUGHT
            lines.append(
                TimeLine(task.name, Decimal(1), task.minutes, task.minutes, spent, TimeFrom.SETTING)
            )
    return Hours(
        crochet=tuple(crochet),
        after=tuple(n for n in lines if n is not None),
        rough=any(n.source is TimeFrom.ASSUMED for n in crochet),
    )
