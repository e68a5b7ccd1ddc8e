"""Between a model's columns and an assignment: what the columns say, and what they would say."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from studio.core.lots.arrange import arrange
from studio.core.lots.frame import UNSET
from studio.core.lots.greedy import Counts

if TYPE_CHECKING:
    from studio.core.lots.model import Model


def start_from(model: Model, places: Sequence[int]) -> list[int]:
    """The columns' values for an assignment."""
    frame = model.frame
    taken: dict[int, int] = {}
    moved: set[int] = set()
    for group in frame.groups:
        for run in group.runs:
            if frame.start[run] == UNSET:
                taken[places[run]] = taken.get(places[run], 0) + frame.runs[run].need_dg
                if frame.home[run] not in (UNSET, places[run]):
                    moved.add(group.piece)
    read: dict[str, Callable[[int, int], int]] = {
        "count": lambda at, lot: sum(
            places[run] == lot for n in model.bins[at].classes for run in frame.classes[n].runs
        ),
        "option": lambda at, nth: int(
            model.units[at].options[nth].places
            == tuple(places[run] for run in model.units[at].runs)
        ),
        "used": lambda at, lot: int(
            any(places[r] == lot for r in frame.groups[at].runs if frame.start[r] == UNSET)
        ),
        "named": lambda run, lot: int(places[run] == lot),
        "block": lambda at, nth: _is_block(model, at, model.blocks[at][nth], places),
        "part": lambda lot, _: min(frame.part[lot], taken.get(lot, 0)),
        "open": lambda lot, _: int(taken.get(lot, 0) > 0),
        "disturbed": lambda piece, _: int(piece in moved),
    }
    return [read[kind](one, two) for kind, one, two in model.kinds]


def _is_block(model: Model, at: int, block: tuple[int, int, int], places: Sequence[int]) -> int:
    first, last, lot = block
    goes = [places[run] for run in model.frame.groups[at].runs]
    before, after = goes[first - 1 : first] if first else [], goes[last + 1 : last + 2]
    inside = goes[first : last + 1]
    return int(set(inside) == {lot} and lot not in before and lot not in after)


def places_from(model: Model, values: Sequence[int]) -> dict[int, int]:
    """Where the moving runs of the model's pieces go."""
    frame = model.frame
    places: dict[int, int] = {}
    for (at, nth), col in model.option.items():
        if values[col]:
            unit = model.units[at]
            places.update(zip(unit.runs, unit.options[nth].places, strict=True))
    counts: Counts = {}
    for at, each in enumerate(model.bins):
        left = {lot: values[model.count[at, lot]] for lot in each.allowed}
        for cls in each.classes:
            counts[cls] = _draw(left, len(frame.classes[cls].runs))
    for at, group in enumerate(frame.groups):
        mine = {n: c for n, c in counts.items() if frame.classes[n].group == at}
        if mine:
            given = _given(model, at, values)
            _, found, _ = arrange(frame, group, mine, given)
            places.update(found)
    return places


def _given(model: Model, at: int, values: Sequence[int]) -> dict[int, int]:
    """Places of a group's runs that the model tells one by one."""
    runs = model.frame.groups[at].runs
    moving = {run for run in runs if model.frame.start[run] == UNSET}
    given = {run: lot for (run, lot), col in model.named.items() if values[col] and run in moving}
    given.update({run: lot for run, lot in model.settled.items() if run in moving})
    for nth, (first, last, lot) in enumerate(model.blocks.get(at, ())):
        if values[model.block[at, nth]]:
            given.update({run: lot for run in runs[first : last + 1] if run in moving})
    return given


def _draw(left: dict[int, int], want: int) -> dict[int, int]:
    """Take `want` runs out of what is left, lot by lot."""
    drawn: dict[int, int] = {}
    for lot, count in left.items():
        take = min(count, want)
        if take:
            drawn[lot] = take
            left[lot] -= take
            want -= take
    return drawn
