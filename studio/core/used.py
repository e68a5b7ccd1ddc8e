"""Yarn that a piece has used: what its worked rows took from each lot, and what is noted of it.

Worked out is always the expected use (the mean, not the planned need) by the same figures as the
plan: a run's whole expected use less that of its rows still to be worked. What was noted covers
the rows that were done on that day, however much they really used, so that nothing is counted
twice and a good weighing is not made up for afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from itertools import groupby

from studio.core.answers import RunKind
from studio.core.frozen import dataclass
from studio.core.model import (
    Claim,
    ClaimKind,
    LotRef,
    LotRule,
    Project,
    Settings,
    ShadeRef,
    Stage,
    Used,
)
from studio.core.runs import FINISHED, RunDemand
from studio.core.shades import lot_rule

TENTH_G = Decimal("0.1")
"""No scale in a house shows less, so nothing worked out says more."""


@dataclass(frozen=True, slots=True)
class WorkedRun:
    """What the worked rows of a run are expected to have used of one lot, in grams.

    `key` is the run's key; `lot` is None where nothing says which lot it was.
    """

    key: str
    kind: RunKind
    index: int
    slot: str
    shade: ShadeRef
    lot: str | None
    grams: float

    @property
    def source(self) -> tuple[ShadeRef, str | None]:
        """Shade and lot."""
        return self.shade, self.lot


@dataclass(frozen=True, slots=True)
class ToNote:
    """Grams that worked rows are expected to have used and that are not noted yet.

    `lot` is None where nothing says from which lot they came. Rounded to tenths of a gram.
    """

    shade: ShadeRef
    lot: str | None
    grams: Decimal
    slots: tuple[str, ...]


def known_lots(project: Project, settings: Settings) -> Callable[[str, Claim | None], str | None]:
    """From a run's slot and tie to the lot that worked it, None where nothing says which.

    A run without a tie is of the lot of the others where its slot may have one only. One that was
    bought for is not told: its yarn came into the house as a lot of some code.
    """
    lots: dict[str, set[str]] = {}
    for run in (*project.stripes, project.border, project.fringe):
        if run is not None and run.claim is not None:
            lots.setdefault(run.slot, set()).update(_codes(run.claim))
    alone = {
        slot.letter: next(iter(codes))
        for slot in project.slots
        if len(codes := lots.get(slot.letter, set())) == 1
        and not project.mix
        and lot_rule(project, slot, settings) is LotRule.ONE
    }

    def lot_of(slot: str, claim: Claim | None) -> str | None:
        if claim is None:
            return alone.get(slot)
        return None if claim.kind is ClaimKind.ORDER else claim.on

    return lot_of


def _codes(claim: Claim) -> Iterable[str]:
    for tie in (claim, claim.rest):
        # What is on order is no lot that is known: it stands for one of its own.
        if tie is not None:
            yield f"on order {tie.on}" if tie.kind is ClaimKind.ORDER else tie.on


def worked_runs(
    project: Project, runs: Sequence[RunDemand], settings: Settings
) -> tuple[WorkedRun, ...]:
    """What the rows worked so far have used, run by run; unknown runs and rows to come are out."""
    lot_of = known_lots(project, settings)
    found: list[WorkedRun] = []
    for _, group in groupby(runs, key=lambda r: (r.ref.kind, r.ref.index)):
        parts = list(group)
        worked = [_worked(r, lot_of(r.slot, r.claim)) for r in parts if r.known]
        rest = next((r.claim.rest for r in parts if r.claim and r.claim.rest), None)
        if rest is not None and rest.grams:
            whole = sum(r.whole_mean_g for r in parts if r.known)
            worked = _with_rest(worked, rest, whole, lot_of)
        found += [w for w in worked if w.grams > 0]
    return tuple(found)


def _worked(run: RunDemand, lot: str | None) -> WorkedRun:
    grams = max(0.0, run.whole_mean_g - run.mean_g)
    return WorkedRun(run.ref.key, run.ref.kind, run.ref.index, run.slot, run.shade, lot, grams)


def _with_rest(
    worked: list[WorkedRun],
    rest: Claim,
    whole_g: float,
    lot_of: Callable[[str, Claim | None], str | None],
) -> list[WorkedRun]:
    """The last grams of a run came from elsewhere, since its lot did not last."""
    own = max(0.0, whole_g - float(rest.grams or 0))
    over = max(0.0, sum(w.grams for w in worked) - own)
    found: list[WorkedRun] = []
    for run in reversed(worked):
        part = min(over, run.grams)
        over -= part
        if part > 0:
            found.append(replace(run, lot=lot_of(run.slot, rest), grams=part))
        found.append(replace(run, grams=run.grams - part))
    return found[::-1]


def done_then(project: Project, rows: int, *, whole: bool) -> Project:
    """The piece as it was when so many rows of it were done."""
    stage = Stage.IN_STOCK if whole else Stage.MAKING
    return replace(project, stage=stage, rows_done=rows, used=())


def covered_runs(
    project: Project,
    now: Sequence[WorkedRun],
    then: Callable[[int, bool], Sequence[WorkedRun]],
) -> dict[str, float]:
    """Expected grams that are noted already, by run key.

    `then` works out the runs as they were when so many rows were done. A note covers what its lot
    had worked by then; a note without rows covers its grams. Rows whose lot nothing says are
    covered by a note of a lot that worked no others, since she said there which it was; else by
    what was noted of the shade beyond what its lots are known to have worked.
    """
    at: dict[tuple[int, bool], Sequence[WorkedRun]] = {}
    grams_now: dict[str, float] = {}
    for run in now:
        grams_now[run.key] = grams_now.get(run.key, 0.0) + run.grams

    def worked_at(notes: Iterable[Used]) -> Sequence[WorkedRun]:
        last = max(((n.whole, n.rows) for n in notes if n.whole or n.rows), default=None)
        if last is None:
            return ()
        whole, rows = last
        if (rows, whole) not in at:
            at[rows, whole] = then(rows, whole)
        return at[rows, whole]

    found: dict[str, float] = {}
    for shade in dict.fromkeys(n.shade_ref for n in project.used):
        notes = [n for n in project.used if n.shade_ref == shade]
        beyond = 0.0
        for lot in dict.fromkeys(n.lot for n in notes):
            own = [n for n in notes if n.lot == lot]
            done = [w for w in worked_at(own) if w.source == (shade, lot)]
            plain = float(sum(n.grams for n in own if not (n.whole or n.rows)))
            open_runs = [w for w in now if w.source == (shade, lot)]
            covered = _add(found, done) + _spread(found, open_runs, plain)
            beyond += max(0.0, float(sum(n.grams for n in own)) - covered)
        known = {w.lot for w in now if w.shade == shade}
        said = [n for n in notes if n.lot not in known]
        if answered := [w for w in worked_at(said) if w.source == (shade, None)]:
            _add(found, answered)
        else:
            unsaid = [w for w in worked_at(notes) or now if w.source == (shade, None)]
            _spread(found, unsaid, beyond)
    return {key: min(g, grams_now[key]) for key, g in found.items() if key in grams_now}


def _add(found: dict[str, float], runs: Iterable[WorkedRun]) -> float:
    """Count these runs as noted; their grams."""
    total = 0.0
    for run in runs:
        found[run.key] = found.get(run.key, 0.0) + run.grams
        total += run.grams
    return total


def _spread(found: dict[str, float], runs: Sequence[WorkedRun], grams: float) -> float:
    """Lay grams on these runs in the order they were worked; how many found a place."""
    left = grams
    for run in runs:
        part = min(left, max(0.0, run.grams - found.get(run.key, 0.0)))
        if part > 0:
            found[run.key] = found.get(run.key, 0.0) + part
            left -= part
    return grams - left


def to_note(now: Sequence[WorkedRun], covered: Mapping[str, float]) -> tuple[ToNote, ...]:
    """What is to be noted by shade and lot; what rounds to nothing is left out."""
    left = dict(covered)
    grams: dict[tuple[ShadeRef, str | None], float] = {}
    slots: dict[tuple[ShadeRef, str | None], dict[str, None]] = {}
    for run in now:
        part = min(run.grams, left.get(run.key, 0.0))
        left[run.key] = left.get(run.key, 0.0) - part
        grams[run.source] = grams.get(run.source, 0.0) + run.grams - part
        slots.setdefault(run.source, {})[run.slot] = None
    found = []
    for (shade, lot), value in grams.items():
        rounded = tenths(value)
        if rounded > 0:
            found.append(ToNote(shade, lot, rounded, tuple(slots[shade, lot])))
    return tuple(found)


def tenths(grams: float) -> Decimal:
    """Grams as they are proposed: to a tenth."""
    return Decimal(repr(grams)).quantize(TENTH_G, rounding=ROUND_HALF_UP)


def exact_g(grams: Decimal) -> str:
    """Grams to the last tenth that was stated: '62.5 g', '60 g'."""
    return f"{grams.normalize():,f} g"


def is_whole(project: Project) -> bool:
    """Whether border and fringe are done too."""
    return project.stage in FINISHED


def lot_ref(shade: ShadeRef, lot: str) -> LotRef:
    """A lot by its shade and code."""
    return LotRef(shade.yarn, shade.shade, lot)
