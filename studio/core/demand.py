"""What one piece asks of the stash: its size, where its stripes lie, and what each run needs.

Nothing here knows lots, and nothing that is missing raises: what can be told is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from types import MappingProxyType

from studio.core import gauge as gauges
from studio.core import use as uses
from studio.core.answers import Gauge, RowUse, Side, Size, StripeRows
from studio.core.evidence import Evidence, row_use_of
from studio.core.frozen import dataclass
from studio.core.model import Library, Project, Settings
from studio.core.runs import FINISHED, RunDemand, Work
from studio.core.ties import tied_in_part
from studio.core.used import WorkedRun, covered_runs, done_then, worked_runs


@dataclass(frozen=True, slots=True)
class Demand:
    """All that can be said of one piece before lots are looked at.

    `row_use` and `rows_per_ball` (expected, safe; even where the stitch asks it) are by yarn.
    `runs` lists stripes in order, each in its row pairs where the project mixes lots, then border
    and fringe. `without_metres` names yarns whose tails could not be counted. `covered` are the
    expected grams of worked rows whose yarn is noted as used, by run key.
    """

    project: str
    gauge: Gauge | None
    size: Size | None
    stripe_rows: tuple[StripeRows, ...]
    runs: tuple[RunDemand, ...]
    row_use: Mapping[str, RowUse] = field(default_factory=dict)
    rows_per_ball: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    without_metres: tuple[str, ...] = ()
    covered: Mapping[str, float] = field(default_factory=dict)


def side_of(row: int) -> Side:
    """The side that faces the maker in a row: row 1 is a right-side row."""
    return Side.RIGHT if row % 2 else Side.WRONG


def stripe_rows_of(project: Project) -> tuple[StripeRows, ...]:
    """Where each stripe lies, and how many of its rows are worked."""
    found = []
    last = 0
    finished = project.stage in FINISHED
    for index, stripe in enumerate(project.stripes):
        rows = max(0, stripe.rows)
        worked = rows if finished else min(rows, max(0, project.rows_done - last))
        first, last = last + 1, last + rows
        found.append(StripeRows(index, first, last, side_of(first), side_of(last), worked))
    return tuple(found)


def demand_of(project: Project, library: Library, settings: Settings, evidence: Evidence) -> Demand:
    """Everything one piece asks for; never raises for something that is missing."""
    stitch = library.stitch.get(project.stitch)
    gauge = gauges.gauge_of(project, library) if stitch else None
    size = gauges.size_of(project, stitch, gauge) if stitch and gauge else None
    yarns = {slot.yarn: library.yarn.get(slot.yarn) for slot in project.slots}
    row_use: dict[str, RowUse] = {}
    if stitch and size:
        for key, yarn in yarns.items():
            if yarn is None:
                continue
            found = row_use_of(project, yarn, stitch, size, library, settings, evidence)
            if found is not None:
                row_use[key] = found
    work = Work(project, library, settings, stitch, gauge, size, row_use)
    lies = stripe_rows_of(project)
    runs = _runs_of(project, work, lies)
    covered: dict[str, float] = {}
    if project.used:

        def then(rows: int, whole: bool) -> tuple[WorkedRun, ...]:
            piece = done_then(project, rows, whole=whole)
            at_work = Work(piece, library, settings, stitch, gauge, size, row_use)
            runs_then = _runs_of(piece, at_work, stripe_rows_of(piece))
            return worked_runs(piece, runs_then, settings)

        covered = covered_runs(project, worked_runs(project, runs, settings), then)
    even = not (stitch and stitch.change_either_side)
    join = project.join or settings.join
    per_ball = {
        key: uses.rows_from_balls(
            use, 1, float(library.yarn[key].ball_g), join, even=even, assumed=settings.assumed
        )
        for key, use in row_use.items()
    }
    lacking = (key for key, yarn in yarns.items() if yarn is not None and not yarn.ball_m)
    return Demand(
        project=project.key,
        gauge=gauge,
        size=size,
        stripe_rows=lies,
        runs=runs,
        row_use=MappingProxyType(row_use),
        rows_per_ball=MappingProxyType(per_ball),
        without_metres=tuple(lacking),
        covered=MappingProxyType(covered),
    )


def as_before(now: Demand, before: Demand) -> Demand:
    """The same demand with the very runs of before where they are equal.

    What was made of those is then known to stand, without another look at it.
    """
    if len(now.runs) != len(before.runs):
        return now
    runs = tuple(b if a == b else a for a, b in zip(now.runs, before.runs, strict=True))
    return replace(now, runs=runs)


def _runs_of(project: Project, work: Work, lies: tuple[StripeRows, ...]) -> tuple[RunDemand, ...]:
    """The runs of a piece in order, those that are tied in part cut up."""
    runs = work.stripes(lies)
    if project.border is not None:
        runs.append(work.border(project.border))
    if project.fringe is not None:
        runs.append(work.fringe(project.fringe))
    return tuple(tied_in_part(project, runs))
