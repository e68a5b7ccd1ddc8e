"""What tells how much yarn a row uses: weigh-ins, trials and swatches, best first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from types import MappingProxyType

from studio.core import gauge as gauges
from studio.core import use as uses
from studio.core.answers import RowUse, Rung, Size
from studio.core.frozen import dataclass
from studio.core.model import Library, Project, Settings, Stitch, Weighing, Yarn
from studio.core.use import Observation

EvidenceKey = tuple[str, str, Decimal]
"""Yarn, stitch and hook: evidence counts only where all three agree."""


@dataclass(frozen=True, slots=True)
class PieceWeighing:
    """A weigh-in as evidence for other pieces, and the piece it was made on."""

    project: str
    observation: Observation


Evidence = Mapping[EvidenceKey, tuple[PieceWeighing, ...]]


def _weighed(weighing: Weighing, stitch: Stitch, ball_g: Decimal) -> Observation | None:
    """A trial or a weighed swatch, its heavier first rows counted as such."""
    grams = weighing.grams
    if grams is None and weighing.balls is not None:
        grams = weighing.balls * ball_g
    if grams is None or weighing.rows <= 0 or weighing.stitches <= 0:
        return None
    repeats = gauges.repeats_for(stitch, float(weighing.stitches))
    last = weighing.first_row - 1 + float(weighing.rows)
    rows = gauges.effective_rows(stitch, repeats, weighing.first_row, last)
    return Observation(float(grams), rows, gauges.body_stitches(stitch, repeats))


def _own_weighings(project: Project, yarn: str, stitch: Stitch, repeats: int) -> list[Observation]:
    """Weigh-ins of this piece in one yarn, whichever of its slots they were made on."""
    letters = {slot.letter for slot in project.slots if slot.yarn == yarn}
    stitches = gauges.body_stitches(stitch, repeats)
    return [
        Observation(
            float(seen.grams),
            gauges.effective_rows(stitch, repeats, seen.first_row, seen.first_row + seen.rows - 1),
            stitches,
        )
        for seen in project.weigh_ins
        if seen.slot in letters
    ]


def evidence_of(projects: Iterable[Project], library: Library) -> Evidence:
    """The weigh-ins of all pieces by yarn, stitch and hook, as evidence for one another."""
    found: dict[EvidenceKey, list[PieceWeighing]] = {}
    for project in projects:
        stitch = library.stitch.get(project.stitch)
        if not project.weigh_ins or stitch is None:
            continue
        gauge = gauges.gauge_of(project, library)
        size = gauges.size_of(project, stitch, gauge) if gauge else None
        if size is None:
            continue
        for yarn in dict.fromkeys(slot.yarn for slot in project.slots):
            seen = _own_weighings(project, yarn, stitch, size.repeats)
            key = (yarn, project.stitch, project.hook_mm)
            found.setdefault(key, []).extend(PieceWeighing(project.key, o) for o in seen)
    return MappingProxyType({key: tuple(seen) for key, seen in found.items() if seen})


def row_use_of(
    project: Project,
    yarn: Yarn,
    stitch: Stitch,
    size: Size,
    library: Library,
    settings: Settings,
    evidence: Evidence,
) -> RowUse | None:
    """The use of a body row of this piece in one yarn, by the best evidence there is.

    The rungs are not mixed: evidence of a worse kind is left out where a better one is there.
    """
    key = (yarn.key, stitch.key, project.hook_mm)
    swatches = library.swatches_of.get(key, ())
    trials = [t for s in swatches for t in s.trials]
    weighed = [s.weighed for s in swatches if s.weighed is not None]
    rungs: tuple[tuple[Rung, list[Observation]], ...] = (
        (Rung.WEIGH_IN, _own_weighings(project, yarn.key, stitch, size.repeats)),
        (
            Rung.PIECES,
            [e.observation for e in evidence.get(key, ()) if e.project != project.key],
        ),
        (Rung.TRIAL, _all_weighed(trials, stitch, yarn)),
        (Rung.SWATCH, _all_weighed(weighed, stitch, yarn)),
    )
    stitches = gauges.body_stitches(stitch, size.repeats)
    for rung, observations in rungs:
        found = uses.fit(observations, stitches=stitches, rung=rung, assumed=settings.assumed)
        if found is not None:
            return found
    row_cm = gauges.row_width_cm(stitch, size.gauge, size.repeats)
    return uses.rough(yarn.category, row_cm / size.gauge.rows_per_cm, settings.assumed)


def _all_weighed(weighings: Iterable[Weighing], stitch: Stitch, yarn: Yarn) -> list[Observation]:
    seen = (_weighed(w, stitch, yarn.ball_g) for w in weighings)
    return [observation for observation in seen if observation is not None]
