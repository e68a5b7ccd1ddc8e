"""Holds pass from an order to the lots that came of it, and the pieces this touches are named.

Whoever chooses first is served first; the runs of a slot that must come from one lot stay together.
What does not fit waits for the rest of the order, or is planned anew where nothing more comes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum

from studio.core import say
from studio.core.answers import REST, RunRef
from studio.core.edits.places import claimed, put_run, run_place, runs_of, shade_name, shade_of
from studio.core.frozen import dataclass
from studio.core.model import Claim, ClaimKind, LotRule, Project, Purchase, ShadeRef, Stripe, Studio
from studio.core.shades import choosing_order, lot_rule
from studio.core.ties import retied, tied_dg, ties_of

MOST_STEPS = 4_000
"""Steps of the search for lots; beyond them the best so far stands."""


class Passing(StrEnum):
    """What became of runs that an order was bought for."""

    HELD = "held"
    WAITS = "waits for the rest"
    SHORT = "short again"


_Place = tuple[Passing, str | None]
"""What became of runs, and the lot that they are in."""


@dataclass(frozen=True, slots=True)
class Touched:
    """Runs of one piece in one shade, what became of them, and that as a sentence."""

    project: str
    shade: ShadeRef
    runs: tuple[RunRef, ...]
    passing: Passing
    lot: str | None
    text: str


@dataclass(frozen=True, slots=True)
class Handed:
    """The studio with its claims passed on, and whom that touches."""

    studio: Studio
    touched: tuple[Touched, ...]


@dataclass(frozen=True, slots=True)
class Unit:
    """Runs that go to one lot together."""

    project: str
    shade: ShadeRef
    runs: tuple[RunRef, ...]
    dg: int


def hand_over(
    studio: Studio,
    purchase: Purchase,
    came: Mapping[ShadeRef, Mapping[str, int]],
    still_open: set[ShadeRef],
    need_dg: Mapping[str, int],
) -> Handed:
    """Pass the claims on a purchase to what came of it, in dg by shade and lot.

    Claims on shades of which nothing came, and which are still to come, are left alone.
    """
    lines = {ShadeRef(n.yarn, n.shade) for n in purchase.lines}
    places: dict[tuple[ShadeRef, RunRef], _Place] = {}
    touched: list[Touched] = []
    for ref in sorted(lines):
        lots = dict(came.get(ref, {}))
        if not lots and ref in still_open:
            continue
        units = units_on(studio, purchase.key, ref, need_dg)
        codes = _best_places(units, lots)
        left = _left(units, codes, lots)
        rest = Passing.WAITS if ref in still_open else Passing.SHORT
        for unit, code in zip(units, codes, strict=True):
            passing = rest if code is None else Passing.HELD
            places.update({(ref, run): (passing, code) for run in unit.runs})
            touched.append(_touched(studio, unit, passing, code, left))
    return Handed(claims_passed(studio, purchase.key, places), tuple(touched))


def units_on(
    studio: Studio, purchase: str, ref: ShadeRef, need_dg: Mapping[str, int]
) -> list[Unit]:
    """The runs that are tied to a shade of a purchase, in choosing order."""
    units = []
    for project in _in_order(studio):
        groups: dict[str, list[tuple[RunRef, int]]] = {}
        for kind, index, run in runs_of(project):
            claim = run.claim
            if claim is None or shade_of(project, run.slot) != ref:
                continue
            for tie in ties_of(claim):
                if tie.kind is ClaimKind.ORDER and tie.on == purchase:
                    place = RunRef(project.key, kind, index)
                    rows = run.rows if isinstance(run, Stripe) else 0
                    dg = tied_dg(place, rows, claim, tie, need_dg)
                    if tie is claim.rest:
                        # What a lot lacks stays with no other run of its slot.
                        units.append(Unit(project.key, ref, (replace(place, part=REST),), dg))
                    else:
                        groups.setdefault(run.slot, []).append((place, dg))
        for letter, runs in groups.items():
            slot = project.slot(letter)
            one = slot is not None and lot_rule(project, slot, studio.settings) is LotRule.ONE
            parts = [runs] if one and not project.mix else [[run] for run in runs]
            for part in parts:
                places = tuple(place for place, _ in part)
                units.append(Unit(project.key, ref, places, sum(dg for _, dg in part)))
    return units


def _in_order(studio: Studio) -> list[Project]:
    """All projects, those that need yarn in choosing order first."""
    first = list(choosing_order(studio.projects))
    there = {p.key for p in first}
    return first + [p for p in studio.projects if p.key not in there]


def _best_places(units: Sequence[Unit], lots: Mapping[str, int]) -> list[str | None]:
    """A lot for each unit: the first in order come first, and a piece keeps to few lots."""
    room = dict(lots)
    best: tuple[tuple[int, ...], int, list[str | None]] | None = None
    steps = 0

    def go(at: int, served: tuple[int, ...], places: list[str | None]) -> None:
        nonlocal best, steps
        steps += 1
        if steps > MOST_STEPS:
            return
        if best is not None and served < best[0][:at]:
            return
        if at == len(units):
            used = len({(u.project, c) for u, c in zip(units, places, strict=True) if c})
            if best is None or (served, -used) > (best[0], -best[1]):
                best = (served, used, list(places))
            return
        unit = units[at]
        own = {c for u, c in zip(units, places, strict=False) if u.project == unit.project}
        fits = sorted(
            (c for c in room if room[c] >= unit.dg), key=lambda c: (c not in own, room[c], c)
        )
        for code in fits:
            room[code] -= unit.dg
            go(at + 1, (*served, 1), [*places, code])
            room[code] += unit.dg
        go(at + 1, (*served, 0), [*places, None])

    go(0, (), [])
    return best[2] if best is not None else [None] * len(units)


def _left(
    units: Sequence[Unit], codes: Sequence[str | None], lots: Mapping[str, int]
) -> Mapping[str, int]:
    """What each lot has left beside the runs that it holds, in dg."""
    left = dict(lots)
    for unit, code in zip(units, codes, strict=True):
        if code is not None:
            left[code] -= unit.dg
    return left


def _touched(
    studio: Studio, unit: Unit, passing: Passing, code: str | None, left: Mapping[str, int]
) -> Touched:
    name = studio.project[unit.project].name
    where = say.either([run_place(r.kind, r.index) for r in unit.runs], "and")
    shade = shade_name(studio, unit.shade)
    if passing is Passing.HELD:
        text = f"{name}, {where}: now held in lot {code or 'without a code'} of {shade}."
    elif passing is Passing.WAITS:
        text = f"{name}, {where}: waits for the rest of {shade}."
    elif not left:
        text = f"{name}, {where}: short of {shade} again, since it does not come."
    else:
        most = say.grams(max(left.values()) / 10)
        text = (
            f"{name}, {where}: short of {shade} again. It needs {say.grams(unit.dg / 10)} "
            f"of one lot, and no lot that came has more than {most} left."
        )
    return Touched(unit.project, unit.shade, unit.runs, passing, code, text)


def claims_passed(
    studio: Studio,
    purchase: str,
    places: Mapping[tuple[ShadeRef, RunRef], _Place],
) -> Studio:
    """The studio with each claim on its lot, left on the order, or gone; the rest untouched."""
    projects = []
    for piece in studio.projects:
        for kind, index, run in runs_of(piece):
            ref = shade_of(piece, run.slot)
            if ref is None or run.claim is None:
                continue
            here = {
                part: places.get((ref, RunRef(piece.key, kind, index, part))) for part in (0, REST)
            }
            rest = run.claim.rest

            def passed(
                tie: Claim, rest: Claim | None = rest, here: Mapping[int, _Place | None] = here
            ) -> Claim | None:
                found = here[REST if tie is rest else 0]
                if tie.kind is not ClaimKind.ORDER or tie.on != purchase or found is None:
                    return tie
                passing, code = found
                if passing is Passing.WAITS:
                    return tie
                return None if code is None else replace(tie, kind=ClaimKind.HOLD, on=code)

            new = claimed(run, retied(run.claim, passed))
            piece = piece if new is run else put_run(piece, index, new)
        projects.append(piece)
    return replace(studio, projects=tuple(projects))
