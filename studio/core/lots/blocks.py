"""A group modelled by its blocks: neighbours that are worked from one lot, so many in a row."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from studio.core.lots.frame import Frame

if TYPE_CHECKING:
    from studio.core.lots.model import Model, Terms

Block = tuple[int, int, int]
"""(first run, last run, lot), the runs by their place in the group."""


def blocks_of(frame: Frame, at: int, most_changes: int | None) -> list[Block]:
    """(first run, last run, lot) of the blocks that a lot has yarn for.

    Blocks that leave the runs before or behind them in more blocks than the group may have
    changes are left out.
    """
    every = list(_every_block(frame, at))
    count = len(frame.groups[at].runs)
    far, near = list(range(count)), list(range(count))
    for first, last, _ in every:
        far[first] = max(far[first], last)
        near[last] = min(near[last], first)
    before, behind = [0] * (count + 1), [0] * (count + 1)
    for place in range(count):
        reach = min(near[place:])
        before[place + 1] = 1 + before[min(reach, place)]
    for place in reversed(range(count)):
        behind[place] = 1 + behind[max(far[: place + 1]) + 1 if place else far[0] + 1]
    most = count if most_changes is None else most_changes
    return [block for block in every if before[block[0]] + behind[block[1] + 1] <= most]


def _every_block(frame: Frame, at: int) -> Iterator[Block]:
    runs = frame.groups[at].runs
    allowed = {run: cls.allowed for cls in frame.classes if cls.group == at for run in cls.runs}
    lots = {lot for each in allowed.values() for lot in each} | frame.groups[at].fixed_lots
    for lot in sorted(lots):
        for first in range(len(runs)):
            need = 0
            for last in range(first, len(runs)):
                run = runs[last]
                if lot not in allowed.get(run, (frame.start[run],)):
                    break
                need += frame.runs[run].need_dg if run in allowed else 0
                if lot != frame.buy and need > frame.room[lot]:
                    break
                yield first, last, lot


def block_rows(model: Model, at: int) -> None:
    """Blocks follow each other without a hole, and are tied to the counts and lots used."""
    group = model.frame.groups[at]
    starts: dict[int, Terms] = {0: {}}
    counts: dict[int, Terms] = {
        col: {col: -1} for (n, _), col in model.count.items() if model.frame.classes[n].group == at
    }
    covers: dict[tuple[int, int], Terms] = {}
    class_of = {run: n for n, cls in enumerate(model.frame.classes) for run in cls.runs}
    for nth, (first, last, lot) in enumerate(model.blocks[at]):
        col = model.block[at, nth]
        starts.setdefault(first, {})[col] = 1
        if last + 1 < len(group.runs):
            starts.setdefault(last + 1, {})[col] = -1
        for place in range(first, last + 1):
            covers.setdefault((place, lot), {})[col] = 1
            run = group.runs[place]
            if run in class_of:
                count = counts[model.count[class_of[run], lot]]
                count[col] = count.get(col, 0) + 1
    for first, terms in starts.items():
        model.mip.row(terms, int(first == 0), int(first == 0))
    for terms in counts.values():
        model.mip.row(terms, 0, 0)
    used = {lot: col for (g, lot), col in model.used.items() if g == at}
    for (_, lot), terms in covers.items():
        if lot in used:
            model.mip.row({**terms, used[lot]: -1}, upper=0)
    total: Terms = {model.block[at, nth]: 1 for nth in range(len(model.blocks[at]))}
    least = group.base_changes + 1 - (bool(used) and not group.fixed_lots)
    model.mip.row({**total, **dict.fromkeys(used.values(), -1)}, lower=least)
