"""What no assignment can do better, found by adding up: most stages are proved by these alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from studio.core.lots.frame import UNSET, Class, Frame, counts_early
from studio.core.lots.problem import Value


def reachable(frame: Frame, needs: Iterable[tuple[int, int, Sequence[int]]]) -> list[int]:
    """For each lot the largest sum of needs, given as (need, runs, lots), that fits its room."""
    return [bits.bit_length() - 1 for bits in _reach(frame, needs)]


def _reach(frame: Frame, needs: Iterable[tuple[int, int, Sequence[int]]]) -> list[int]:
    """For each lot the sums of needs that fit, as the bits of a number."""
    reach = [1] * len(frame.codes)
    mask = [(1 << (room + 1)) - 1 for room in frame.room]
    for need, count, allowed in needs:
        left, step = count, 1
        while left and need:
            step = min(step, left)
            for lot in allowed:
                if lot != frame.buy:
                    reach[lot] |= (reach[lot] << (step * need)) & mask[lot]
            left -= step
            step *= 2
    return reach


def fillable(frame: Frame, pieces: int) -> list[int]:
    """For each lot the largest sum of needs of the first so many pieces that fits into its room."""
    merged: dict[tuple[int, tuple[int, ...]], int] = {}
    for cls in frame.classes:
        if counts_early(cls, pieces, frame.buy):
            key = (cls.need, cls.allowed)
            merged[key] = merged.get(key, 0) + len(cls.runs)
    reach = _reach(frame, [(need, count, lots) for (need, lots), count in merged.items()])
    mask = [(1 << (room + 1)) - 1 for room in frame.room]
    for unit in frame.units:
        if not counts_early(unit, pieces, frame.buy):
            continue
        before = list(reach)
        for option in unit.options:
            for lot, dg in option.loads:
                reach[lot] |= (before[lot] << dg) & mask[lot]
    return [bits.bit_length() - 1 for bits in reach]


def bought_by_choice(frame: Frame, value: Value) -> list[int]:
    """dg that each piece buys beyond what its fixed runs buy."""
    return [dg - base for (_, dg), base in zip(value.buy, frame.base_bought, strict=True)]


def forced_buys(frame: Frame) -> list[int]:
    """dg that each piece buys whatever is done, beyond its fixed runs: no lot has enough."""
    least = [0] * len(frame.problem.pieces)
    for cls in frame.classes:
        if cls.allowed == (frame.buy,):
            least[cls.piece] += cls.need * len(cls.runs)
    for unit in frame.units:
        least[unit.piece] += min(option.bought_dg for option in unit.options)
    return least


def demands(frame: Frame) -> list[int]:
    """dg that the runs which may move ask for, by piece."""
    asked = [0] * len(frame.problem.pieces)
    for group in frame.groups:
        for run in group.runs:
            if frame.start[run] == UNSET:
                asked[group.piece] += frame.runs[run].need_dg
    return asked


def least_lots(frame: Frame, bought: Sequence[int]) -> list[int]:
    """For each group a number of lots that no assignment of this purchase is below."""
    groups_in = [0] * len(frame.problem.pieces)
    moving: dict[int, list[Class]] = {}
    for cls in frame.classes:
        moving.setdefault(cls.group, []).append(cls)
    for at in {*moving, *(unit.group for unit in frame.units)}:
        groups_in[frame.groups[at].piece] += 1
    least = []
    for at, group in enumerate(frame.groups):
        told = groups_in[group.piece] == 1 or not bought[group.piece]
        if at in moving and told:
            least.append(_least_for(frame, at, moving[at], bought[group.piece]))
        else:
            least.append(max(1, len(group.fixed_lots)))
    return least


def _least_for(frame: Frame, at: int, mine: Sequence[Class], bought: int) -> int:
    """The fewest lots for one group that buys so much, as if it were alone."""
    used = set(frame.groups[at].fixed_lots)
    if bought:
        used.add(frame.buy)
    left = sum(cls.need * len(cls.runs) for cls in mine) - bought
    cap = reachable(frame, [(cls.need, len(cls.runs), cls.allowed) for cls in mine])
    left -= sum(cap[lot] for lot in used if lot != frame.buy)
    count = len(used)
    for room in sorted((cap[lot] for lot in range(frame.buy) if lot not in used), reverse=True):
        if left <= 0:
            break
        left -= room
        count += 1
    return max(1, count)


def least_changes(frame: Frame, extra_lots: int) -> int:
    """Changes of lot that so many lots bring at the least, each new lot worked in one go."""
    least = sum(group.base_changes for group in frame.groups)
    new = extra_lots + sum(1 - len(group.fixed_lots) for group in frame.groups)
    return least + new - sum(not group.fixed_lots for group in frame.groups)


def least_leftovers(frame: Frame, bought: Sequence[int]) -> tuple[int, int, int]:
    """(dg of part balls at the most, whole lots opened, age at the least) for what is covered.

    Each holds by itself: all part balls used, few large lots opened, the oldest lots filled.
    """
    covered = sum(demands(frame)) - sum(bought)
    cap = fillable(frame, len(frame.problem.pieces))
    part = min(covered, sum(map(min, frame.part, cap)))
    left = covered - sum(c for c, fresh in zip(cap, frame.fresh, strict=True) if not fresh)
    opened = 0
    for room in sorted((c for c, f in zip(cap, frame.fresh, strict=True) if f), reverse=True):
        if left <= 0:
            break
        left -= room
        opened += 1
    age, left = 0, covered
    for place, room in sorted(zip(frame.age, cap, strict=True)):
        age += place * min(left, room)
        left -= min(left, room)
    return part, opened, age
