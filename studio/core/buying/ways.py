"""The ways to leave a shade short: which runs are bought, and which lots then work the rest.

A run that is bought whole in a new lot leaves its old lot to another. What a way asks of the
suppliers is, for each last day of arrival and piece, so many grams; a way that asks no less of any
than another way does is left out, since nothing can make it cheaper.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date

from studio.core.buying.problem import Need
from studio.core.buying.question import Chosen, latest_arrival
from studio.core.frozen import dataclass
from studio.core.lots.judge import groups_of, held, overdrawn_lots, settled
from studio.core.lots.problem import BUY, Run
from studio.core.model import Project
from studio.core.shades import ShadeOutcome

MOST_STEPS = 30_000
"""Steps of the search in one shade; where they do not do, the ways found so far stand."""

MOST_WAYS = 24
"""Ways kept for a shade, those that buy least first."""


@dataclass(frozen=True, slots=True)
class Way:
    """What a shade would lack, and the runs that then move: (run, lot now, lot then)."""

    needs: tuple[Need, ...]
    moves: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Ways:
    """The plan as it stands first, then the others. `complete` where none was left unseen."""

    ways: tuple[Way, ...]
    complete: bool = True


@dataclass(frozen=True, slots=True)
class _Unit:
    """Runs that go to one place together. `kind` is what their buying counts under."""

    runs: tuple[Run, ...]
    dg: int
    now: tuple[str, ...]
    allowed: frozenset[str]
    kind: int


@dataclass(slots=True)
class _Found:
    vector: tuple[int, ...]
    moves: int
    places: tuple[str, ...]


@dataclass(slots=True)
class _Look:
    """A search over the places of the units; `best` are complete ways, none within another."""

    units: list[_Unit]
    kinds: int
    most_steps: int
    best: list[_Found] = field(default_factory=list)
    seen: dict[tuple[object, ...], int] = field(default_factory=dict)
    steps: int = 0

    def run(self, room: dict[str, int]) -> bool:
        """Look at every way; whether the steps sufficed."""
        self._go(0, room, [0] * self.kinds, 0, [])
        return self.steps <= self.most_steps

    def _go(
        self, at: int, room: dict[str, int], vector: list[int], moves: int, places: list[str]
    ) -> None:
        self.steps += 1
        if self.steps > self.most_steps or self._beaten(vector, moves):
            return
        if at == len(self.units):
            self._keep(_Found(tuple(vector), moves, tuple(places)))
            return
        state = (at, tuple(room.values()), tuple(vector))
        if self.seen.get(state, moves + 1) <= moves:
            return
        self.seen[state] = moves
        unit = self.units[at]
        for place in self._places(unit, room):
            more = sum(now != place for now in unit.now)
            if place == BUY:
                vector[unit.kind] += unit.dg
            else:
                room[place] -= unit.dg
            self._go(at + 1, room, vector, moves + more, [*places, place])
            if place == BUY:
                vector[unit.kind] -= unit.dg
            else:
                room[place] += unit.dg

    def _places(self, unit: _Unit, room: Mapping[str, int]) -> list[str]:
        """Where a unit may go: as it is now, then the lots that it fills best, then bought."""
        fits = [c for c, left in room.items() if c in unit.allowed and left >= unit.dg]
        fits.sort(key=lambda c: (c not in unit.now, room[c], c))
        return [*fits, BUY]

    def _beaten(self, vector: Sequence[int], moves: int) -> bool:
        """Whether a way found already asks no more of anything, and moves no more for the same."""
        for found in self.best:
            if all(a <= b for a, b in zip(found.vector, vector, strict=True)) and (
                found.moves <= moves or found.vector != tuple(vector)
            ):
                return True
        return False

    def _keep(self, new: _Found) -> None:
        self.best = [
            f
            for f in self.best
            if not all(a <= b for a, b in zip(new.vector, f.vector, strict=True))
        ]
        self.best.append(new)


def ways_of(
    outcome: ShadeOutcome,
    projects: Mapping[str, Project],
    chosen: Chosen,
    need_by: Mapping[str, date] | None = None,
    *,
    move_holds: bool = False,
    most_steps: int = MOST_STEPS,
) -> Ways:
    """Every way to leave a shade short that could be the cheapest, the present one first.

    Only runs of chosen pieces move that are neither begun nor pinned nor bought already, and held
    ones only where asked for. Other pieces that hold yarn keep the lots they have; those that hold
    none stand back, but for what is pinned.
    """
    takes = {p.key: chosen.takes(p.key, projects[p.key].stage) for p in outcome.problem.pieces}
    now = _needs(outcome, projects, takes, need_by or {}, outcome.lot_of)
    stands = Way(now)
    if not now:
        return Ways((stands,))
    units, room, kinds = _units(outcome, projects, takes, need_by or {}, move_holds=move_holds)
    look = _Look(units, kinds, most_steps)
    complete = look.run(room)
    ways = [stands]
    for found in sorted(look.best, key=lambda f: (sum(f.vector), f.moves, f.places)):
        lot_of = dict(outcome.lot_of)
        moves = []
        for unit, place in zip(units, found.places, strict=True):
            for run in unit.runs:
                if lot_of[run.key] != place:
                    moves.append((run.key, lot_of[run.key], place))
                    lot_of[run.key] = place
        if moves:
            needs = _needs(outcome, projects, takes, need_by or {}, lot_of)
            ways.append(Way(needs, tuple(moves)))
    return Ways(tuple(ways[:MOST_WAYS]), complete and len(ways) <= MOST_WAYS)


def _needs(
    outcome: ShadeOutcome,
    projects: Mapping[str, Project],
    takes: Mapping[str, bool],
    need_by: Mapping[str, date],
    lot_of: Mapping[str, str],
) -> tuple[Need, ...]:
    """What the chosen pieces lack when their runs are worked from these lots."""
    found = []
    for piece in outcome.problem.pieces:
        if not takes[piece.key]:
            continue
        waits = [r for r in piece.runs if lot_of[r.key] == BUY or r.key in outcome.short]
        dg = sum(r.need_dg if lot_of[r.key] == BUY else outcome.short[r.key] for r in waits)
        if dg:
            last = latest_arrival(projects[piece.key], need_by)
            runs = tuple(r.key for r in waits)
            found.append(Need(outcome.ref, piece.key, dg, last, runs))
    return tuple(found)


def _units(
    outcome: ShadeOutcome,
    projects: Mapping[str, Project],
    takes: Mapping[str, bool],
    need_by: Mapping[str, date],
    *,
    move_holds: bool,
) -> tuple[list[_Unit], dict[str, int], int]:
    """The units that may move, the largest first; room in each lot; and how many kinds there are.

    Buying counts apart by last day of arrival; pieces of one day may be bought together or not, so
    they count as one.
    """
    problem = outcome.problem
    over = overdrawn_lots(problem)
    room = {n.code: n.free_dg for n in problem.lots if n.arrives is None and n.code not in over}
    kinds: dict[date | None, int] = {}
    units: list[_Unit] = []
    for piece in problem.pieces:
        movable = takes[piece.key]
        if not movable and not piece.held:
            # It stands back, but what she pinned is never traded away.
            for run in filter(settled, piece.runs):
                if run.lot in room:
                    room[run.lot] -= run.need_dg
            continue
        day = latest_arrival(projects[piece.key], need_by)
        for group, runs in groups_of(piece).items():
            moving = [r for r in runs if movable and _may_move(r, outcome, move_holds=move_holds)]
            for run in runs:
                lot = outcome.lot_of[run.key]
                if run not in moving and lot in room:
                    room[lot] -= run.need_dg
            if moving:
                kind = kinds.setdefault(day, len(kinds))
                together = group in piece.together
                units += _grouped(runs, moving, outcome, kind, together=together)
    units.sort(key=lambda u: (-u.dg, u.kind, u.runs[0].key))
    return units, {code: max(0, left) for code, left in room.items()}, len(kinds)


def _may_move(run: Run, outcome: ShadeOutcome, *, move_holds: bool) -> bool:
    if settled(run) or not run.need_dg:
        return False
    # A hold that had to leave its lot already is as free as an open run.
    return not held(run) or move_holds or outcome.lot_of[run.key] != run.lot


def _grouped(
    runs: Sequence[Run],
    moving: Sequence[Run],
    outcome: ShadeOutcome,
    kind: int,
    *,
    together: bool,
) -> list[_Unit]:
    every = frozenset(n.code for n in outcome.problem.lots if n.arrives is None)
    if not together:
        return [_Unit((r,), r.need_dg, (outcome.lot_of[r.key],), every, kind) for r in moving]
    agreed = {outcome.lot_of[r.key] for r in runs if r not in moving}
    allowed = frozenset(agreed) & every if len(agreed) == 1 else every
    now = tuple(outcome.lot_of[r.key] for r in moving)
    return [_Unit(tuple(moving), sum(r.need_dg for r in moving), now, allowed, kind)]
