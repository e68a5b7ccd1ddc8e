"""Which run of a group works which of the lots that the group was given.

The models count how many equal runs of a group go to each lot; here they get their places: with
the fewest neighbours in different lots, and among those the first by lot code.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from studio.core.lots.frame import UNSET, Frame, Group

MAX_STEPS = 4_000
"""Search steps after which some order is taken as it comes; a group of real stripes needs a few."""

QUICK_STEPS = 300
"""The same where an answer is wanted at the keyboard."""

MAX_DEPTH = 600
"""Longer groups are arranged as they come, since the search goes one call deeper with each run."""


def changes_in(places: Sequence[int]) -> int:
    """Neighbours in different lots."""
    return sum(a != b for a, b in itertools.pairwise(places))


def arrange(
    frame: Frame,
    group: Group,
    counts: Mapping[int, Mapping[int, int]],
    given: Mapping[int, int] | None = None,
    max_steps: int = MAX_STEPS,
) -> tuple[int, dict[int, int], bool]:
    """(changes, place of each moving run, exact) for `counts[class][lot]` of one group.

    `given` settles the places of single runs beforehand. Inexact only past `max_steps`.
    """
    given = given or {}
    of_run = {run: cls for cls in counts for run in frame.classes[cls].runs}
    left = {
        (cls, lot): count for cls, lots in counts.items() for lot, count in lots.items() if count
    }
    places = [given.get(run, UNSET) if run in of_run else frame.start[run] for run in group.runs]
    for run in of_run:
        if run in given:
            left[of_run[run], given[run]] -= 1
    lots = {lot for (_, lot), count in left.items() if count}
    exact = True
    if len(lots) == 1:
        (only,) = lots
        places = [only if place == UNSET else place for place in places]
    elif lots:
        order = _Order(group.runs, places, of_run, left, max_steps)
        places, exact = order.best(), order.exact
    chosen = {run: place for run, place in zip(group.runs, places, strict=True) if run in of_run}
    return changes_in(places), chosen, exact


class _Order:
    """Fewest changes by working through the runs, remembering what each state still costs."""

    def __init__(
        self,
        runs: Sequence[int],
        places: Sequence[int],
        of_run: Mapping[int, int],
        left: Mapping[tuple[int, int], int],
        max_steps: int,
    ) -> None:
        self.max_steps = max_steps
        self.runs = runs
        self.places = places
        self.of_run = of_run
        self.keys = sorted(key for key, count in left.items() if count)
        self.lots = sorted({lot for _, lot in self.keys})
        self.slot = {key: at for at, key in enumerate(self.keys)}
        self.first = tuple(left[key] for key in self.keys)
        self.exact = len(runs) <= MAX_DEPTH
        self.known: dict[tuple[int, int, tuple[int, ...]], tuple[int, int]] = {}

    def best(self) -> list[int]:
        """The places of all runs: fewest changes, then first by code; any where it is too much."""
        if self.exact and self._cost(0, UNSET, self.first) is not None:
            return self._read()
        self.exact = False
        return self._as_it_comes()

    def _cost(self, at: int, before: int, left: tuple[int, ...]) -> int | None:
        """Changes from here on, None past the limit."""
        while at < len(self.runs) and before != UNSET and self.places[at] == before:
            at += 1
        if at == len(self.runs):
            return 0
        state = (at, before, left)
        if state in self.known:
            return self.known[state][0]
        if len(self.known) >= self.max_steps:
            return None
        best: tuple[int, int] | None = None
        for lot, after in self._next(at, left):
            cost = self._cost(at + 1, lot, after)
            if cost is None:
                return None
            cost += before not in (UNSET, lot)
            if best is None or cost < best[0]:
                best = (cost, lot)
        if best is None:
            return None
        self.known[state] = best
        return best[0]

    def _next(self, at: int, left: tuple[int, ...]) -> list[tuple[int, tuple[int, ...]]]:
        if self.places[at] != UNSET:
            return [(self.places[at], left)]
        cls = self.of_run[self.runs[at]]
        found = []
        for lot in self.lots:
            slot = self.slot.get((cls, lot))
            if slot is not None and left[slot]:
                found.append((lot, (*left[:slot], left[slot] - 1, *left[slot + 1 :])))
        return found

    def _read(self) -> list[int]:
        """Follow the remembered choices."""
        places: list[int] = []
        left = self.first
        before = UNSET
        for at in range(len(self.runs)):
            lot = self.places[at]
            if lot == UNSET or lot != before:
                lot = self.known[at, before, left][1]
            if self.places[at] == UNSET:
                left = dict(self._next(at, left))[lot]
            places.append(lot)
            before = lot
        return places

    def _as_it_comes(self) -> list[int]:
        """The lot in hand as long as it serves, else the one that serves the next runs longest."""
        left = dict(zip(self.keys, self.first, strict=True))
        places: list[int] = []
        for at, fixed in enumerate(self.places):
            lot = fixed
            if lot == UNSET:
                cls = self.of_run[self.runs[at]]
                fits = [each for each in self.lots if left.get((cls, each))]
                in_hand = places[-1] if places else UNSET
                lot = in_hand if in_hand in fits else max(fits, key=lambda n: self._reach(at, n))
                left[cls, lot] -= 1
            places.append(lot)
        return places

    def _reach(self, at: int, lot: int) -> int:
        """For how many runs on the lot could be kept in hand, as far as classes go."""
        reach = 0
        for run, fixed in zip(self.runs[at:], self.places[at:], strict=True):
            serves = (self.of_run[run], lot) in self.slot if fixed == UNSET else fixed == lot
            if not serves:
                break
            reach += 1
        return reach
