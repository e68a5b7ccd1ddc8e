"""Which element of a list became which, so that what is noted beside an element goes with it."""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

Table = dict[str, Any]


def matched(old: Sequence[Table], new: Sequence[Table]) -> list[int | None]:
    """For each new element the place of the old one that it was, or None where it is new.

    Unchanged elements keep their order first, then those that were moved whole are found, and
    last, between the same neighbours, those that were changed.
    """
    was = [repr(sorted(element.items(), key=lambda pair: pair[0])) for element in old]
    now = [repr(sorted(element.items(), key=lambda pair: pair[0])) for element in new]
    found: list[int | None] = [None] * len(new)
    gaps = list(_gaps(was, now, found))
    free: dict[str, list[int]] = {}
    for old_places, _ in gaps:
        for i in old_places:
            free.setdefault(was[i], []).append(i)
    for _, new_places in gaps:
        for j in new_places:
            if places := free.get(now[j]):
                found[j] = places.pop(0)
    taken = {i for i in found if i is not None}
    for old_places, new_places in gaps:
        _pair_changed(
            old,
            new,
            [i for i in old_places if i not in taken],
            [j for j in new_places if found[j] is None],
            found,
        )
    return found


def place_after(came_from: Sequence[int | None], old: int) -> int:
    """Where, in the new list, the nearest element at or before place `old` stands; -1 for none."""
    places = {origin: place for place, origin in enumerate(came_from) if origin is not None}
    return next((places[i] for i in range(old, -1, -1) if i in places), -1)


def _gaps(was: list[str], now: list[str], found: list[int | None]) -> Iterator[tuple[range, range]]:
    """Note what stayed in order; what lies between, as places in the old and in the new list."""
    start = 0
    while start < min(len(was), len(now)) and was[start] == now[start]:
        found[start] = start
        start += 1
    tail = 0
    while tail < min(len(was), len(now)) - start and was[-1 - tail] == now[-1 - tail]:
        found[-1 - tail] = len(was) - 1 - tail
        tail += 1
    middle = SequenceMatcher(
        None, was[start : len(was) - tail], now[start : len(now) - tail], autojunk=False
    )
    for tag, i1, i2, j1, j2 in middle.get_opcodes():
        if tag == "equal":
            for i, j in zip(range(i1, i2), range(j1, j2), strict=True):
                found[start + j] = start + i
        else:
            yield range(start + i1, start + i2), range(start + j1, start + j2)


def _pair_changed(
    old: Sequence[Table],
    new: Sequence[Table],
    old_places: list[int],
    new_places: list[int],
    found: list[int | None],
) -> None:
    """Pair what is left between two neighbours: in order where counts agree, else by likeness."""
    if len(old_places) == len(new_places):
        for i, j in zip(old_places, new_places, strict=True):
            found[j] = i
        return
    for j in new_places:
        if not old_places:
            return
        best = max(old_places, key=lambda i: _likeness(old[i], new[j]))
        if _likeness(old[best], new[j]) > 0:
            found[j] = best
            old_places.remove(best)


def _likeness(one: Table, other: Table) -> int:
    """How many keys say the same."""
    return sum(other.get(key) == value for key, value in one.items())
