"""Which run of a group works which of the lots that the group was given.

The models count how many equal runs of a group go to each lot; here they get their places: with
the fewest neighbours in different lots, and among those the first by lot code.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

from studio.core.lots.frame import UNSET, Frame, Group

MAX_STEPS = 20_000
"""Search steps after which the order found so far is kept; a group of real stripes needs a few."""

QUICK_STEPS = 300
"""The same where an answer is wanted at the keyboard."""


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
    fixed = [frame.start[run] if run not in of_run else given.get(run, UNSET) for run in group.runs]
    lots = {lot for _, lot in left}
    if len(lots) == 1:
        (only,) = lots
        places = [only if run in of_run else frame.start[run] for run in group.runs]
        return changes_in(places), dict.fromkeys(of_run, only), True
    search = _Search(group.runs, fixed, of_run, left, max_steps)
    found = search.best()
    chosen = {run: place for run, place in zip(group.runs, found, strict=True) if run in of_run}
    return changes_in(found), chosen, search.steps < max_steps


class _Search:
    """Depth-first search by rising number of changes, lots tried in code order."""

    def __init__(
        self,
        runs: Sequence[int],
        fixed: Sequence[int],
        of_run: Mapping[int, int],
        left: dict[tuple[int, int], int],
        max_steps: int,
    ) -> None:
        self.max_steps = max_steps
        self.runs = runs
        self.fixed = fixed
        self.of_run = of_run
        self.left = left
        self.lots = sorted({lot for _, lot in left})
        self.keys = sorted(left)
        self.still: dict[int, int] = {}
        for (_, lot), count in left.items():
            self.still[lot] = self.still.get(lot, 0) + count
        self.steps = 0
        self.failed: set[tuple[object, ...]] = set()
        self.places: list[int] = []

    def best(self) -> list[int]:
        """The places of all runs with the fewest changes, the first of them by code."""
        used = {place for place in self.fixed if place != UNSET}
        budget = len(used | set(self.lots)) - 1
        while True:
            self.failed.clear()
            self.places = []
            if self._place(0, UNSET, budget):
                return self.places
            if self.steps >= self.max_steps:
                return self._any()
            budget += 1

    def _place(self, at: int, before: int, budget: int) -> bool:
        if budget < sum(count > 0 and lot != before for lot, count in self.still.items()) - (
            before == UNSET
        ):
            return False
        if at == len(self.runs):
            return True
        state = (at, before, budget, *(self.left[key] for key in self.keys))
        if state in self.failed or self.steps >= self.max_steps:
            return False
        self.steps += 1
        cls = self.of_run.get(self.runs[at])
        for lot in (self.fixed[at],) if self.fixed[at] != UNSET else self.lots:
            if cls is not None and not self.left.get((cls, lot)):
                continue
            spent = before not in (UNSET, lot)
            if spent > budget:
                continue
            self._take(cls, lot, -1)
            self.places.append(lot)
            if self._place(at + 1, lot, budget - spent):
                return True
            self.places.pop()
            self._take(cls, lot, 1)
        self.failed.add(state)
        return False

    def _take(self, cls: int | None, lot: int, by: int) -> None:
        if cls is not None:
            self.left[cls, lot] += by
            self.still[lot] += by

    def _any(self) -> list[int]:
        """Some order: the lot in hand as long as it lasts."""
        left = dict(self.left)
        for run, place in zip(self.runs, self.fixed, strict=True):
            if run in self.of_run and place != UNSET:
                left[self.of_run[run], place] -= 1
        places: list[int] = []
        for run, fixed in zip(self.runs, self.fixed, strict=True):
            lot = fixed
            if fixed == UNSET:
                cls = self.of_run[run]
                options = [each for each in self.lots if left.get((cls, each))]
                lot = places[-1] if places and places[-1] in options else options[0]
                left[cls, lot] -= 1
            places.append(lot)
        return places
