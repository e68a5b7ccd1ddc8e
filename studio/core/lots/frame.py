"""A shade's question with everything counted once: lots and runs as numbers, and what may move.

Greedy, enumeration and models all work on a `Frame`. Lots are numbered by code, so that the last
tie, the lot code, is the order of the numbers; buying comes after the last lot.

Held runs may move only where their lot is overdrawn, or where their group must stay in one lot and
one of it has to move; the lots of such a group are contested as well, since the group may gather
in one of them, so that other holds there may move too. Putting any other moved hold back, and
sending whatever took its place to be bought, would always move fewer runs.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from functools import cached_property

from studio.core.frozen import dataclass
from studio.core.lots.judge import (
    age_places,
    balls_for,
    groups_of,
    held,
    overdrawn_lots,
    settled,
    value_of,
)
from studio.core.lots.problem import BUY, Piece, Run, ShadeProblem, Value

UNSET = -1
"""The place of a run that has none yet."""


@dataclass(frozen=True, slots=True)
class Option:
    """One way to place a unit, which is a group's runs that move together."""

    places: tuple[int, ...]
    """Where each run of the unit goes, in the unit's order."""
    loads: tuple[tuple[int, int], ...]
    """(lot, dg) that it takes beyond what the frame has already set aside."""
    bought_dg: int
    moved: int


@dataclass(frozen=True, slots=True)
class Unit:
    """Runs of one group that are placed in one step, and the ways to do it, in code order."""

    piece: int
    group: int
    runs: tuple[int, ...]
    options: tuple[Option, ...]


@dataclass(frozen=True, slots=True)
class Class:
    """Equal runs of one group: same need, same lots open to them, same lot to leave."""

    piece: int
    group: int
    runs: tuple[int, ...]
    need: int
    allowed: tuple[int, ...]
    home: int | None


def counts_early(item: Class | Unit, pieces: int, buy: int) -> bool:
    """Whether the first so many pieces must reckon with it: theirs, or never to be bought.

    A run that a question forces into a lot takes its yarn whoever chooses first.
    """
    if item.piece < pieces:
        return True
    if isinstance(item, Class):
        return buy not in item.allowed
    return all(option.loads for option in item.options)


@dataclass(frozen=True, slots=True)
class Group:
    """All runs of one piece and slot, in the order in which they are worked."""

    piece: int
    name: str
    runs: tuple[int, ...]
    fixed_lots: frozenset[int]
    """Lots (or buying) of its runs that do not move."""
    base_changes: int
    """Changes of lot that its fixed runs bring whatever lies between them."""


@dataclass(frozen=True)
class Frame:
    """A `ShadeProblem` in numbers. `codes[lot]`; `len(codes)` stands for buying."""

    problem: ShadeProblem
    codes: tuple[str, ...]
    room: tuple[int, ...]
    """dg of each lot that are left for the runs that may move."""
    shut: tuple[bool, ...]
    """Lots that work only the runs fixed to them."""
    part: tuple[int, ...]
    """dg of part balls that are left for them."""
    fresh: tuple[bool, ...]
    """Whole lots that would be opened by them."""
    age: tuple[int, ...]
    runs: tuple[Run, ...]
    start: tuple[int, ...]
    """Where each run is, UNSET for those that may move."""
    home: tuple[int, ...]
    """The lot that each run held, UNSET for open runs."""
    groups: tuple[Group, ...]
    classes: tuple[Class, ...]
    units: tuple[Unit, ...]

    @property
    def buy(self) -> int:
        """The number that stands for buying."""
        return len(self.codes)

    @cached_property
    def movable(self) -> tuple[int, ...]:
        """The runs that may move, in the problem's order."""
        return tuple(run for run, place in enumerate(self.start) if place == UNSET)

    @cached_property
    def repairs(self) -> bool:
        """Whether held runs are among those that may move."""
        return any(self.home[run] != UNSET for run in self.movable)

    @cached_property
    def base_bought(self) -> tuple[int, ...]:
        """dg that each piece's fixed runs buy."""
        bought = [0] * len(self.problem.pieces)
        for group in self.groups:
            for run in group.runs:
                if self.start[run] == self.buy:
                    bought[group.piece] += self.runs[run].need_dg
        return tuple(bought)

    def names(self, places: Sequence[int]) -> dict[str, str]:
        """The assignment in run keys and lot codes."""
        code = (*self.codes, BUY)
        return {run.key: code[place] for run, place in zip(self.runs, places, strict=True)}

    def value(self, places: Sequence[int]) -> Value:
        """What the judge says of an assignment."""
        return value_of(self.problem, self.names(places))

    def balls(self, dg: int) -> int:
        """Whole balls that `dg` take."""
        return balls_for(dg, self.problem.ball_dg)


def build_frame(problem: ShadeProblem, forced: tuple[str, str] | None = None) -> Frame:
    """The frame of a problem, with one run forced into a lot where `forced` says (run, code)."""
    return _Builder(problem, forced).frame()


class _Builder:
    """Collects a frame's parts; it exists only while `build_frame` runs."""

    def __init__(self, problem: ShadeProblem, forced: tuple[str, str] | None) -> None:
        self.problem = problem
        self.forced = forced
        lots = {lot.code: lot for lot in problem.lots}
        runs = [run for piece in problem.pieces for run in piece.runs]
        named = {run.lot for run in runs if run.lot is not None and (settled(run) or held(run))}
        self.codes = tuple(sorted(lots.keys() | (named - {BUY})))
        self.number = {code: at for at, code in enumerate(self.codes)} | {BUY: len(self.codes)}
        self.buy = len(self.codes)
        self.runs = tuple(runs)
        self.lots = [lots.get(code) for code in self.codes]
        self.shut = tuple(lot is None or lot.arrives is not None for lot in self.lots)
        self.over = overdrawn_lots(problem)
        self.loose = self._loose_holds()
        self.start = self._start()
        self.room, self.part, self.fresh = self._rooms()

    def _loose_holds(self) -> frozenset[str]:
        """Keys of the held runs that may have to move."""
        asked: dict[str, int] = {}
        for run in self.runs:
            if run.lot is not None and (settled(run) or held(run)) and run.lot != BUY:
                asked[run.lot] = asked.get(run.lot, 0) + run.need_dg
        free = {lot.code: lot.free_dg for lot in self.problem.lots}
        contested = {code for code, dg in asked.items() if dg > free.get(code, 0)}
        while True:
            loose, homes = self._pressed(contested)
            if homes <= contested:
                return frozenset(loose)
            contested |= homes

    def _pressed(self, contested: set[str]) -> tuple[set[str], set[str]]:
        """Holds in contested lots with those of their groups, and all lots these are held in."""
        loose: set[str] = set()
        homes: set[str] = set()
        for piece in self.problem.pieces:
            for name, members in groups_of(piece).items():
                holds = [run for run in members if held(run)]
                pressed = [run for run in holds if run.lot in contested and run.need_dg > 0]
                if pressed and name in piece.together:
                    pressed = holds
                loose.update(run.key for run in pressed)
                homes.update(run.lot for run in pressed if run.lot not in (None, BUY))
        return loose, homes

    def _start(self) -> tuple[int, ...]:
        return tuple(
            self.number[run.lot]
            if run.lot is not None and (settled(run) or (held(run) and run.key not in self.loose))
            else UNSET
            for run in self.runs
        )

    def _rooms(self) -> tuple[tuple[int, ...], tuple[int, ...], tuple[bool, ...]]:
        base = [0] * len(self.codes)
        for run, place in zip(self.runs, self.start, strict=True):
            if place not in (UNSET, self.buy):
                base[place] += run.need_dg
        room, part, fresh = [], [], []
        for code, lot, load in zip(self.codes, self.lots, base, strict=True):
            room.append(max(0, lot.free_dg - load) if lot and code not in self.over else 0)
            part.append(max(0, lot.part_dg - load) if lot else 0)
            fresh.append(lot is not None and lot.whole and load == 0)
        return tuple(room), tuple(part), tuple(fresh)

    def frame(self) -> Frame:
        groups: list[Group] = []
        classes: list[Class] = []
        units: list[Unit] = []
        first = 0
        for at, piece in enumerate(self.problem.pieces):
            members: dict[str, list[int]] = {}
            for run, each in enumerate(piece.runs, start=first):
                members.setdefault(each.group, []).append(run)
            first += len(piece.runs)
            for name, runs in members.items():
                groups.append(self._group(at, name, runs))
                if name in piece.together:
                    units.extend(self._unit(piece, at, len(groups) - 1, runs))
                else:
                    classes.extend(self._classes(at, len(groups) - 1, runs))
        places, newest = age_places(self.problem)
        return Frame(
            problem=self.problem,
            codes=self.codes,
            room=self.room,
            shut=self.shut,
            part=self.part,
            fresh=self.fresh,
            age=tuple(places.get(code, newest) for code in self.codes),
            runs=self.runs,
            start=self.start,
            home=tuple(
                self.number[run.lot] if held(run) and run.lot is not None else UNSET
                for run in self.runs
            ),
            groups=tuple(groups),
            classes=tuple(classes),
            units=tuple(units),
        )

    def _group(self, piece: int, name: str, runs: Sequence[int]) -> Group:
        fixed = [self.start[run] for run in runs if self.start[run] != UNSET]
        return Group(
            piece=piece,
            name=name,
            runs=tuple(runs),
            fixed_lots=frozenset(fixed),
            base_changes=sum(a != b for a, b in itertools.pairwise(fixed)),
        )

    def _lots_for(self, need: int) -> tuple[int, ...]:
        """The lots that are open to a run of that need, and buying."""
        fits = [
            lot
            for lot, (room, shut) in enumerate(zip(self.room, self.shut, strict=True))
            if not shut and need <= room
        ]
        return (*fits, self.buy)

    def _force(self, run: Run, allowed: tuple[int, ...]) -> tuple[int, ...]:
        if self.forced is None or self.forced[0] != run.key:
            return allowed
        wanted = self.number[self.forced[1]]
        return (wanted,) if wanted in allowed else ()

    def _classes(self, piece: int, group: int, runs: Sequence[int]) -> list[Class]:
        merged: dict[tuple[int, tuple[int, ...], int | None], list[int]] = {}
        for run in runs:
            each = self.runs[run]
            if self.start[run] != UNSET:
                continue
            allowed = self._lots_for(each.need_dg)
            home = self.number[each.lot] if held(each) and each.lot is not None else None
            if home is not None and home not in allowed and each.need_dg <= self.room[home]:
                allowed = tuple(sorted((*allowed, home)))
            key = (each.need_dg, self._force(each, allowed), home)
            merged.setdefault(key, []).append(run)
        return [
            Class(piece, group, tuple(members), need, allowed, home)
            for (need, allowed, home), members in merged.items()
        ]

    def _unit(self, piece: Piece, at: int, group: int, runs: Sequence[int]) -> list[Unit]:
        inside = tuple(run for run in runs if self.start[run] == UNSET)
        if not inside:
            return []
        fixed = {self.start[run] for run in runs if self.start[run] != UNSET}
        holds = [run for run in inside if self.runs[run].key in self.loose]
        if not holds:
            options = self._stay_options(inside, [], fixed)
        else:
            homes = {self.number[lot] for run in holds if (lot := self.runs[run].lot) is not None}
            options = self._stay_options(inside, holds, fixed | homes)
            options += self._move_options(inside, holds, fixed)
        if self.forced is not None and self.forced[0] in {run.key for run in piece.runs}:
            key, code = self.forced
            options = [
                option
                for option in options
                if all(
                    self.runs[run].key != key or place == self.number[code]
                    for run, place in zip(inside, option.places, strict=True)
                )
            ]
        options.sort(key=lambda option: option.places)
        return [Unit(at, group, inside, tuple(options))]

    def _stay_options(
        self, inside: tuple[int, ...], holds: Sequence[int], fixed: set[int]
    ) -> list[Option]:
        """Held runs in their lots, open ones in one place: that of the others if they agree."""
        if len(holds) == len(inside):
            places: Iterable[int] = (self.buy,)
        else:
            places = self._agreed(inside, holds, fixed)
        options = []
        for place in places:
            goes = tuple(self._home(run) if run in holds else place for run in inside)
            options += self._option(inside, goes)
        return options

    def _move_options(
        self, inside: tuple[int, ...], holds: Sequence[int], fixed: set[int]
    ) -> list[Option]:
        """Held and open runs all to one place, at least one hold leaving its lot."""
        options = []
        for place in self._agreed(inside, (), fixed):
            if any(self._home(run) != place for run in holds):
                options += self._option(inside, (place,) * len(inside))
        return options

    def _agreed(
        self, inside: Iterable[int], without: Sequence[int], fixed: set[int]
    ) -> tuple[int, ...]:
        need = sum(self.runs[run].need_dg for run in inside if run not in without)
        lots = self._lots_for(need)
        if len(fixed) == 1:
            lots = tuple(lot for lot in lots if lot in fixed or lot == self.buy)
        return lots

    def _home(self, run: int) -> int:
        lot = self.runs[run].lot
        return UNSET if lot is None else self.number[lot]

    def _option(self, inside: tuple[int, ...], goes: tuple[int, ...]) -> list[Option]:
        """The option in a list, or an empty list where a lot has not enough for it."""
        loads: dict[int, int] = {}
        bought = moved = 0
        for run, place in zip(inside, goes, strict=True):
            if place == self.buy:
                bought += self.runs[run].need_dg
            else:
                loads[place] = loads.get(place, 0) + self.runs[run].need_dg
            moved += self.runs[run].key in self.loose and place != self._home(run)
        if any(dg > self.room[lot] for lot, dg in loads.items()):
            return []
        return [Option(goes, tuple(sorted(loads.items())), bought, moved)]
