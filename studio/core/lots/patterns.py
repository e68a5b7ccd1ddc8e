"""All ways to work one group from few lots with few changes, where there are few enough.

A group whose ways can be listed becomes a unit: the model then chooses one of them, instead of
having to find out again and again which runs can lie side by side in one lot. Of ways that take
the same from every lot only the one with the fewest changes is kept, and of those the first by
code: no stage wants any other.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate

from studio.core.lots.fills import Fills, on_the_way
from studio.core.lots.frame import UNSET, Class, Frame, Option, Unit

_State = tuple[int, int, int]
"""(changes + 1, places as one number, lots used)."""


def unit_of_ways(
    frame: Frame,
    at: int,
    most_lots: int,
    most_changes: int,
    bought: int,
    limits: tuple[int, int],
    fills: Fills | None = None,
) -> Unit | None:
    """A group as a unit of its ways, None where they are too many: `limits` are steps and ways.

    The ways use at most so many lots with so many changes, buy at most `bought` dg, and take of
    each lot only what the `fills` let the group take. There may be no such way at all.
    """
    search = _Ways(frame, at, most_lots, most_changes, bought, fills)
    options = search.options(*limits)
    if options is None:
        return None
    runs = tuple(run for run in frame.groups[at].runs if frame.start[run] == UNSET)
    return Unit(frame.groups[at].piece, at, runs, options)


class _Ways:
    """Run by run, remembering of all ways so far that took the same only the best."""

    def __init__(
        self,
        frame: Frame,
        at: int,
        most_lots: int,
        most_changes: int,
        bought: int,
        fills: Fills | None,
    ) -> None:
        self.frame = frame
        self.group = frame.groups[at]
        self.runs = self.group.runs
        self.most_lots = most_lots
        self.most_blocks = most_changes + 1
        self.steps = 0
        mine: list[Class] = [cls for cls in frame.classes if cls.group == at]
        self.allowed = {run: cls.allowed for cls in mine for run in cls.runs}
        self.home = {run: cls.home for cls in mine for run in cls.runs}
        lots = {lot for each in self.allowed.values() for lot in each}
        self.lots = sorted(lots | self.group.fixed_lots)
        self.room = [bought if lot == frame.buy else frame.room[lot] for lot in self.lots]
        self.ends_at = [
            fills.loads.get((at, lot), frozenset()) if fills else None for lot in self.lots
        ]
        needs = [(cls.need, len(cls.runs)) for cls in mine]
        self.by_way_of = [
            None if ends is None else on_the_way(ends, needs) for ends in self.ends_at
        ]
        self.needs = [frame.runs[run].need_dg if run in self.allowed else 0 for run in self.runs]
        self.sums = [0, *accumulate(self.needs)]
        # What a state has taken is one number: for each lot a field for its dg and whether it is
        # used at all, and above them the runs that have left their home.
        self.width = max(self.room, default=0).bit_length() + 1
        self.serves = [self._serving(run) for run in self.runs]
        self.ends = self._ends()
        self.behind = self._behind()

    def _serving(self, run: int) -> list[int]:
        """The lots, by their place in the list, that may work a run."""
        return [
            nth
            for nth, lot in enumerate(self.lots)
            if lot in self.allowed.get(run, (self.frame.start[run],))
        ]

    def _ends(self) -> list[list[int]]:
        """For each place and lot one past the last run in a row that the lot may work."""
        count = len(self.runs)
        ends = [[count] * len(self.lots) for _ in range(count + 1)]
        for place in reversed(range(count)):
            for nth in range(len(self.lots)):
                serves = nth in self.serves[place]
                ends[place][nth] = ends[place + 1][nth] if serves else place
        return ends

    def _far(self, place: int, nth: int, left: int) -> int:
        """One past the last run that a lot with so much left can work from a place on."""
        fits = bisect_right(self.sums, self.sums[place] + left) - 1
        return min(self.ends[place][nth], fits)

    def _behind(self) -> list[int]:
        """The fewest blocks in which the runs from each place on can be worked."""
        count = len(self.runs)
        behind = [0] * (count + 1)
        for place in reversed(range(count)):
            far = max((self._far(place, n, room) for n, room in enumerate(self.room)), default=0)
            behind[place] = 1 + behind[max(far, place + 1)]
        return behind

    def options(self, max_steps: int, max_ways: int) -> tuple[Option, ...] | None:
        used = sum(self._used(nth) for nth, n in enumerate(self.lots) if n in self.group.fixed_lots)
        states: dict[tuple[int, int], _State] = {(UNSET, used): (0, 0, len(self.group.fixed_lots))}
        for place in range(len(self.runs)):
            states = self._step(place, states, max_steps)
            if self.steps > max_steps:
                return None
        best: dict[int, _State] = {}
        for (_, taken), state in states.items():
            if (taken not in best or state < best[taken]) and self._is_end(taken):
                best[taken] = state
        if len(best) > max_ways:
            return None
        options = (self._option(taken, state[1]) for taken, state in best.items())
        return tuple(sorted(options, key=lambda option: option.places))

    def _is_end(self, taken: int) -> bool:
        dg = (1 << (self.width - 1)) - 1
        return all(
            ends is None or taken >> (nth * self.width) & dg in ends
            for nth, ends in enumerate(self.ends_at)
        )

    def _used(self, nth: int) -> int:
        return 1 << (nth * self.width + self.width - 1)

    def _step(
        self, place: int, states: dict[tuple[int, int], _State], max_steps: int
    ) -> dict[tuple[int, int], _State]:
        """All states one run further on."""
        run, need = self.runs[place], self.needs[place]
        home = self.home.get(run)
        dg = (1 << (self.width - 1)) - 1
        found: dict[tuple[int, int], _State] = {}
        for (before, taken), (blocks, places, lots) in states.items():
            self.steps += len(self.serves[place])
            if self.steps > max_steps:
                break
            for nth in self.serves[place]:
                now = blocks + (nth != before)
                had = taken >> (nth * self.width) & dg
                new = not taken & self._used(nth)
                if (
                    now > self.most_blocks
                    or had + need > self.room[nth]
                    or (new and lots == self.most_lots)
                ):
                    continue
                far = self._far(place + 1, nth, self.room[nth] - had - need)
                if now + self.behind[far] > self.most_blocks:
                    continue
                by_way_of = self.by_way_of[nth]
                if by_way_of is not None and had + need not in by_way_of:
                    continue
                after = (taken | self._used(nth)) + (need << (nth * self.width))
                if home is not None and self.lots[nth] != home:
                    after += 1 << (len(self.lots) * self.width)
                state = (now, places * len(self.lots) + nth, lots + new)
                known = found.get((nth, after))
                if known is None or state < known:
                    found[nth, after] = state
        return found

    def _option(self, taken: int, places: int) -> Option:
        goes: list[int] = []
        for run in reversed(self.runs):
            places, nth = divmod(places, len(self.lots))
            if run in self.allowed:
                goes.append(self.lots[nth])
        dg = (1 << (self.width - 1)) - 1
        bought = 0
        loads = []
        for nth, lot in enumerate(self.lots):
            took = taken >> (nth * self.width) & dg
            if lot == self.frame.buy:
                bought = took
            elif took:
                loads.append((lot, took))
        moved = taken >> (len(self.lots) * self.width)
        return Option(tuple(reversed(goes)), tuple(loads), bought, moved)
