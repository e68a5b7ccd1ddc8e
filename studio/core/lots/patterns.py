"""All ways to work one group from few lots with few changes, where there are few enough.

A group whose ways can be listed becomes a unit: the model then chooses one of them, instead of
having to find out again and again which runs can lie side by side in one lot. Of ways that take
the same from every lot only the first by code is kept: no stage tells them apart but the last.
"""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.lots.frame import UNSET, Class, Frame, Option, Unit

MAX_WAYS = 5_000
"""A group with more ways is modelled by counts and blocks."""

MAX_STEPS = 60_000
"""Search steps after which a group counts as having too many ways."""


def unit_of_ways(
    frame: Frame,
    at: int,
    most_lots: int,
    most_changes: int,
    bought: int,
    max_steps: int = MAX_STEPS,
) -> Unit | None:
    """A group as a unit of its ways, None where they are too many; a unit may have no way at all.

    The ways use at most so many lots with so many changes, and buy at most `bought` dg.
    """
    mine = [cls for cls in frame.classes if cls.group == at]
    search = _Ways(frame, at, mine, most_lots, most_changes, bought, max_steps)
    options = search.options()
    if options is None:
        return None
    runs = tuple(run for run in frame.groups[at].runs if frame.start[run] == UNSET)
    return Unit(frame.groups[at].piece, at, runs, options)


class _Ways:
    """Block by block: which lot works the next runs, and how many of them."""

    def __init__(
        self,
        frame: Frame,
        at: int,
        classes: Sequence[Class],
        most_lots: int,
        most_changes: int,
        bought: int,
        max_steps: int,
    ) -> None:
        self.frame = frame
        self.runs = frame.groups[at].runs
        self.most_lots = most_lots
        self.most_blocks = most_changes + 1
        self.bought = bought
        self.steps = max_steps
        self.allowed = {run: cls.allowed for cls in classes for run in cls.runs}
        lots = {lot for each in self.allowed.values() for lot in each}
        self.lots = sorted(lots | frame.groups[at].fixed_lots)
        self.home = {run: cls.home for cls in classes for run in cls.runs}
        self.room = {lot: frame.room[lot] for lot in self.lots if lot != frame.buy}
        self.room[frame.buy] = bought
        self.places: list[int] = []
        self.used: list[int] = []
        self.fixed = frame.groups[at].fixed_lots
        self.found: dict[tuple[object, ...], Option] = {}
        self.behind = self._behind()

    def _need(self, run: int) -> int:
        return self.frame.runs[run].need_dg if run in self.allowed else 0

    def _serves(self, lot: int, run: int) -> bool:
        return lot in self.allowed.get(run, (self.frame.start[run],))

    def _behind(self) -> list[int]:
        """The fewest blocks in which the runs from each place on can be worked."""
        count = len(self.runs)
        far = [
            max((self._far(place, lot) for lot in self.lots), default=place)
            for place in range(count)
        ]
        behind = [0] * (count + 1)
        for place in reversed(range(count)):
            behind[place] = 1 + behind[max(far[place], place + 1)]
        return behind

    def _far(self, place: int, lot: int) -> int:
        """One past the last run of the longest block of a lot from a place on."""
        left = self.room[lot]
        while place < len(self.runs) and self._serves(lot, self.runs[place]):
            left -= self._need(self.runs[place])
            if left < 0:
                break
            place += 1
        return place

    def options(self) -> tuple[Option, ...] | None:
        self._place(0, UNSET)
        if self.steps < 0 or len(self.found) > MAX_WAYS:
            return None
        return tuple(sorted(self.found.values(), key=lambda option: option.places))

    def _place(self, place: int, before: int) -> None:
        if place == len(self.runs):
            self._keep()
            return
        if len(self.used) + self.behind[place] > self.most_blocks:
            return
        for lot in self.lots:
            self.steps -= 1
            if self.steps < 0 or len(self.found) > MAX_WAYS:
                return
            if lot == before or not self._may_use(lot):
                continue
            far = self._far(place, lot)
            taken = 0
            for end in range(place, far):
                taken += self._need(self.runs[end])
                self.places.append(lot)
                if len(self.used) + 1 + self.behind[end + 1] > self.most_blocks:
                    continue
                self.used.append(lot)
                self.room[lot] -= taken
                self._place(end + 1, lot)
                self.room[lot] += taken
                self.used.pop()
            del self.places[place:]

    def _may_use(self, lot: int) -> bool:
        return len({*self.used, lot} | self.fixed) <= self.most_lots

    def _keep(self) -> None:
        frame = self.frame
        loads: dict[int, int] = {}
        goes = []
        bought = moved = 0
        for run, lot in zip(self.runs, self.places, strict=True):
            if run not in self.allowed:
                continue
            goes.append(lot)
            need = frame.runs[run].need_dg
            if lot == frame.buy:
                bought += need
            else:
                loads[lot] = loads.get(lot, 0) + need
            moved += self.home[run] not in (None, lot)
        option = Option(tuple(goes), tuple(sorted(loads.items())), bought, moved)
        lots = frozenset(self.used)
        key = (option.loads, bought, moved, lots, len(self.used))
        known = self.found.get(key)
        if known is None or option.places < known.places:
            self.found[key] = option
