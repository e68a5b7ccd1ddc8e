"""What each lot can be filled with where few runs meet few lots: all assignments, lot by lot.

Which of equal runs a lot works does not matter here, so that an assignment is how many runs of each
kind each lot takes: its fill. Lots are taken one after another, and of all ways to come to the same
runs left over only the fewest lots used so far are kept. Where yarn is tight a fill must use nearly
all of its lot, and next to nothing is left to choose, where a search over single runs would go
through all sums of needs again and again.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Sequence
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass
from studio.core.lots.bounds import demands, fillable
from studio.core.lots.frame import Frame

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Numbers = npt.NDArray[np.int64]
    Small = npt.NDArray[np.uint16]

MOST_STATES = 3_000_000
"""Numbers of runs left, of all kinds together, past which this is not for a shade."""

MOST_TOLD = 600
"""Assignments past which they are not told one by one."""

A_FILL = 200
"""What looking at a fill costs beside its states, in states."""

MOST_FILLS = 6_000
"""Fills of one lot past which they are too many."""

NEVER = 20_000
"""More lots than are ever used; twice as many, and some more, still fit the type of the sums."""


@dataclass(frozen=True, slots=True)
class Kind:
    """Equal runs of one group, or a group that moves as a whole."""

    piece: int
    group: int
    need: int
    count: int
    lots: frozenset[int]
    at: int
    """Its place among the frame's classes, or UNIT and its place among the units."""


UNIT = 1 << 20


class _TooMuchError(Exception):
    """There are too many fills or states."""


Counts = dict[int, dict[int, int]]
"""How many runs of each class go to each lot; units stand under UNIT and their place."""


@dataclass(frozen=True, slots=True)
class Fills:
    """What is known of a shade's assignments that buy so much and use so few lots."""

    least: int
    """Lots used, of those new to a group, summed over groups, at the least."""
    some: tuple[Counts, ...]
    """Assignments that use so few: all of them where `every` is set, else the first."""
    every: bool
    loads: dict[tuple[int, int], frozenset[int]]
    """dg that a group takes of a lot in any of these assignments, by (group, lot)."""


def fills_of(frame: Frame, bought: Sequence[int], max_steps: int) -> Fills | None:
    """What the fills of the lots tell, None where there are too many of them.

    `bought` is the dg that each piece buys beyond its fixed runs. Moved holds are not counted, so
    that this is for shades without any that may move.
    """
    kinds = _kinds(frame)
    if kinds is None:
        return None
    states = 1
    for kind in kinds:
        states *= kind.count + 1
    if states > MOST_STATES:
        return None
    try:
        return _Adding(frame, kinds, bought, max_steps).result()
    except _TooMuchError:
        return None


def _kinds(frame: Frame) -> list[Kind] | None:
    """Everything that may move; None where a unit has ways that go to several places at once."""
    kinds = [
        Kind(cls.piece, cls.group, cls.need, len(cls.runs), frozenset(cls.allowed), at)
        for at, cls in enumerate(frame.classes)
    ]
    for at, unit in enumerate(frame.units):
        takes = {(*(dg for _, dg in option.loads), option.bought_dg) for option in unit.options}
        needs = {sum(each) for each in takes}
        if len(needs) != 1 or any(len(set(option.places)) != 1 for option in unit.options):
            return None
        lots = frozenset(option.places[0] for option in unit.options)
        kinds.append(Kind(unit.piece, unit.group, needs.pop(), 1, lots, UNIT + at))
    return kinds


Fill = tuple[int, ...]


class _Adding:
    """Forward over the lots, and back again to see which fills are part of a whole."""

    def __init__(
        self, frame: Frame, kinds: Sequence[Kind], bought: Sequence[int], max_steps: int
    ) -> None:
        import numpy as np

        self.frame = frame
        self.kinds = kinds
        self.bought = bought
        self.steps_left = max_steps
        self.shape = tuple(kind.count + 1 for kind in kinds)
        self.steps = [1] * len(kinds)
        for at in reversed(range(len(kinds) - 1)):
            self.steps[at] = self.steps[at + 1] * self.shape[at + 1]
        self.size = self.steps[0] * self.shape[0] if kinds else 1
        self.most = [*fillable(frame, len(frame.problem.pieces)), sum(bought)]
        self.spare = sum(self.most) - sum(demands(frame))
        """dg that the lots and the purchase together may leave unused."""
        fills = {lot: list(self._fills(lot)) for lot in range(frame.buy + 1)}
        self.order = sorted(fills, key=lambda lot: (-len(fills[lot]), lot))
        self.fills = fills
        self.np = np

    def _fills(self, lot: int) -> Iterator[Fill]:
        """The fills of a lot that leave no more of it unused than may be."""
        kinds = self.kinds
        may = [lot in kind.lots for kind in kinds]
        behind = [0] * (len(kinds) + 1)
        for at in reversed(range(len(kinds))):
            behind[at] = behind[at + 1] + may[at] * kinds[at].need * kinds[at].count
        least = self.most[lot] - self.spare
        room = list(self.bought) if lot == self.frame.buy else [self.frame.room[lot]]
        found = 0

        def spread(at: int, taken: int, fill: list[int]) -> Iterator[Fill]:
            nonlocal found
            self.steps_left -= 1
            if taken + behind[at] < least:
                return
            if at == len(kinds):
                found += 1
                if found > MOST_FILLS or self.steps_left < 0:
                    raise _TooMuchError
                if lot != self.frame.buy or not any(room):
                    yield tuple(fill)
                return
            kind = kinds[at]
            pool = kind.piece if lot == self.frame.buy else 0
            most = kind.count if may[at] else 0
            if kind.need:
                most = min(most, room[pool] // kind.need)
            for count in range(most + 1):
                room[pool] -= count * kind.need
                fill.append(count)
                yield from spread(at + 1, taken + count * kind.need, fill)
                fill.pop()
                room[pool] += count * kind.need

        yield from spread(0, 0, [])

    def _new(self, lot: int, fill: Fill) -> int:
        """Groups that a fill brings to a lot that is new to them."""
        groups = {kind.group for kind, count in zip(self.kinds, fill, strict=True) if count}
        return sum(lot not in self.frame.groups[at].fixed_lots for at in groups)

    def _moves(
        self, lot: int, states: Numbers, left: int
    ) -> Iterator[tuple[Fill, int, Numbers, Numbers]]:
        """(fill, lots new to groups, states it can follow, states it leads to).

        `left` is what all later lots can take at the most.
        """
        np = self.np
        counts = np.unravel_index(states, self.shape) if self.kinds else ()
        needs = np.zeros(len(states), dtype=np.int64)
        for kind, count in zip(self.kinds, counts, strict=True):
            needs += kind.need * count
        for fill in self.fills[lot]:
            self.steps_left -= len(states) + A_FILL
            if self.steps_left < 0:
                raise _TooMuchError
            taken = sum(k.need * n for k, n in zip(self.kinds, fill, strict=True))
            fits = needs <= left + taken
            for count, wanted in zip(counts, fill, strict=True):
                if wanted:
                    fits &= count >= wanted
            before = states[fits]
            step = sum(n * by for n, by in zip(fill, self.steps, strict=True))
            yield fill, self._new(lot, fill), before, before - step

    def _forward(self) -> tuple[list[Numbers], list[Small]]:
        """The states before each lot, and after the last; and the lots used to come there."""
        np = self.np
        lots = np.full(self.size, NEVER, dtype=np.uint16)
        lots[self.size - 1] = 0
        every, used = [np.array([self.size - 1], dtype=np.int64)], [lots]
        left = sum(self.most)
        for lot in self.order:
            left -= self.most[lot]
            after = np.full(self.size, NEVER, dtype=np.uint16)
            for _, new, before, then in self._moves(lot, every[-1], left):
                after[then] = np.minimum(after[then], used[-1][before] + new)
            every.append(np.flatnonzero(after < NEVER))
            used.append(after)
        return every, used

    def result(self) -> Fills | None:
        np = self.np
        every, used = self._forward()
        least = int(used[-1][0])
        if least >= NEVER:
            return None
        loads: dict[tuple[int, int], set[int]] = {}
        behind = np.full(self.size, NEVER, dtype=np.uint16)
        behind[0] = 0
        left = 0
        self.ahead = [behind]
        for nth in reversed(range(len(self.order))):
            lot = self.order[nth]
            ahead = np.full(self.size, NEVER, dtype=np.uint16)
            part = []
            for fill, new, before, then in self._moves(lot, every[nth], left):
                after = behind[then] + new
                whole = used[nth][before] + after <= least
                if whole.any():
                    ahead[before[whole]] = np.minimum(ahead[before[whole]], after[whole])
                    self._note(loads, lot, fill)
                    part.append(fill)
            self.fills[lot] = part
            behind = ahead
            self.ahead.append(behind)
            left += self.most[lot]
        self.ahead.reverse()
        told = list(itertools.islice(self._tell(0, self.size - 1, least), MOST_TOLD + 1))
        all_told = len(told) <= MOST_TOLD
        frozen = {key: frozenset(each) for key, each in loads.items()}
        return Fills(least, tuple(told if all_told else told[:1]), all_told, frozen)

    def _tell(self, nth: int, state: int, left: int) -> Iterator[Counts]:
        """The assignments of the runs left at a state, with so many lots still to be used."""
        if nth == len(self.order):
            yield {kind.at: {} for kind in self.kinds}
            return
        lot = self.order[nth]
        counts = self.np.unravel_index(state, self.shape)
        for fill in self.fills[lot]:
            if any(wanted > count for wanted, count in zip(fill, counts, strict=True)):
                continue
            new = self._new(lot, fill)
            then = state - sum(n * by for n, by in zip(fill, self.steps, strict=True))
            if new + int(self.ahead[nth + 1][then]) > left:
                continue
            for rest in self._tell(nth + 1, then, left - new):
                for kind, count in zip(self.kinds, fill, strict=True):
                    if count:
                        rest[kind.at][lot] = count
                yield rest

    def _note(self, loads: dict[tuple[int, int], set[int]], lot: int, fill: Fill) -> None:
        taken: dict[int, int] = {}
        for kind, count in zip(self.kinds, fill, strict=True):
            taken[kind.group] = taken.get(kind.group, 0) + kind.need * count
        for group, dg in taken.items():
            loads.setdefault((group, lot), set()).add(dg)


def on_the_way(ends: Collection[int], needs: Collection[tuple[int, int]]) -> frozenset[int]:
    """The sums from which one of the `ends` can be reached by adding needs, as (need, count)."""
    most = max(ends, default=0)
    mask = (1 << (most + 1)) - 1
    back = 0
    for end in ends:
        back |= 1 << (most - end)
    for need, count in needs:
        for _ in range(count if need else 0):
            back |= (back << need) & mask
    return frozenset(most - at for at in range(most + 1) if back >> at & 1)
