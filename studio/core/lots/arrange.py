"""Which run of a group works which of the lots that the group was given.

The models count how many equal runs of a group go to each lot; here they get their places: with
the fewest neighbours in different lots, and among those the first by lot code.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

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
    order = order_of(frame, group, counts, given, max_steps)
    places, exact = order.best()
    chosen = {
        run: place for run, place in zip(group.runs, places, strict=True) if run in order.of_run
    }
    return changes_in(places), chosen, exact


def order_of(
    frame: Frame,
    group: Group,
    counts: Mapping[int, Mapping[int, int]],
    given: Mapping[int, int] | None = None,
    max_steps: int = MAX_STEPS,
) -> Order:
    """The question in which order the runs of a group go to the lots that it was given."""
    given = given or {}
    of_run = {run: cls for cls in counts for run in frame.classes[cls].runs}
    left = {
        (cls, lot): count for cls, lots in counts.items() for lot, count in lots.items() if count
    }
    places = [given.get(run, UNSET) if run in of_run else frame.start[run] for run in group.runs]
    for run in of_run:
        if run in given:
            left[of_run[run], given[run]] -= 1
    return Order(group.runs, places, of_run, left, max_steps)


class TooLongError(Exception):
    """A group has too many orders to look at."""


class Order:
    """Fewest changes, tried from the least upward; what is found first is the first by code.

    Remembered is how many changes are not enough from where the search has been before.
    """

    def __init__(
        self,
        runs: Sequence[int],
        places: Sequence[int],
        of_run: Mapping[int, int],
        left: Mapping[tuple[int, int], int],
        max_steps: int,
    ) -> None:
        self.steps = max_steps
        self.runs = runs
        self.places = places
        self.of_run = of_run
        self.keys = sorted(key for key, count in left.items() if count)
        self.lots = sorted({lot for _, lot in self.keys})
        self.slot = {key: at for at, key in enumerate(self.keys)}
        self.first = tuple(left[key] for key in self.keys)
        self.too_few: dict[tuple[int, int, tuple[int, ...]], int] = {}
        self.least = self._still(UNSET, self.first)
        """Changes below which there is no order."""

    def best(self) -> tuple[list[int], bool]:
        """The places of all runs, and whether no order has fewer changes or is earlier by code."""
        try:
            for most in range(self.least, len(self.runs)):
                found = self.within(most)
                if found is not None:
                    return found, True
        except TooLongError:
            pass
        return self._as_it_comes(), len(self.runs) <= 1

    def within(self, most: int) -> list[int] | None:
        """The first order by code that changes lots so often at the most, None without any.

        Raises `TooLongError` past the steps that it was given.
        """
        if len(self.runs) > MAX_DEPTH and len(self.lots) > 1:
            raise TooLongError
        places: list[int] = []
        if most >= self.least and self._place(0, UNSET, self.first, most, places):
            return places
        self.least = max(self.least, most + 1)
        return None

    def _still(self, before: int, left: tuple[int, ...]) -> int:
        """Changes that the lots left bring at the least, each worked in one go."""
        lots = {lot for (_, lot), count in zip(self.keys, left, strict=True) if count}
        return len(lots - {before}) - (before == UNSET and bool(lots))

    def _place(
        self, at: int, before: int, left: tuple[int, ...], most: int, places: list[int]
    ) -> bool:
        while at < len(self.runs) and self.places[at] == before != UNSET:
            places.append(before)
            at += 1
        if at == len(self.runs):
            return True
        state = (at, before, left)
        if self.too_few.get(state, UNSET) >= most:
            return False
        self.steps -= 1
        if self.steps < 0:
            raise TooLongError
        length = len(places)
        if self._still(before, left) <= most:
            for lot, after in self._next(at, left):
                more = before not in (UNSET, lot)
                if more > most:
                    continue
                places.append(lot)
                if self._place(at + 1, lot, after, most - more, places):
                    return True
                del places[length:]
        self.too_few[state] = most
        return False

    def _next(self, at: int, left: tuple[int, ...]) -> Iterator[tuple[int, tuple[int, ...]]]:
        if self.places[at] != UNSET:
            yield self.places[at], left
            return
        cls = self.of_run[self.runs[at]]
        for lot in self.lots:
            slot = self.slot.get((cls, lot))
            if slot is not None and left[slot]:
                yield lot, (*left[:slot], left[slot] - 1, *left[slot + 1 :])

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
