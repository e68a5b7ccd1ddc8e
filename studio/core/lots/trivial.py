"""Answers that need no solver: an exhaustive search for plain cases, cut short by bounds.

An edit must repaint at once, and most shades are plain: every slot fits into one lot, or nothing
fits at all. The search walks over the counts of equal runs, piece by piece, and gives up after a
number of steps; whatever it finishes is the only answer, down to the last tie.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from studio.core.lots.arrange import QUICK_STEPS, arrange
from studio.core.lots.frame import UNSET, Class, Frame, Unit
from studio.core.lots.problem import Value

DEFAULT_STEPS = 3_000
"""Steps of the search before it leaves a shade to the solver: some milliseconds."""

Flat = tuple[int, ...]


def flat_value(value: Value) -> Flat:
    """The value as one row of numbers; balls are left out, since the dg settle them."""
    return (*value.repair, *(dg for _, dg in value.buy), *value.lots, *value.leftovers)


def search(
    frame: Frame, start: Sequence[int], steps: int = DEFAULT_STEPS
) -> tuple[int, ...] | None:
    """The best assignment of all, or None where the search would take more than `steps`.

    `start` is any allowed assignment; the better it is, the shorter the search.
    """
    if not frame.movable:
        return tuple(start)
    try:
        return _Search(frame, start, steps).run()
    except _TooLongError:
        return None


class _TooLongError(Exception):
    """The search has used up its steps."""


class _Block:
    """A unit or a class with what the bounds need to know of everything after it."""

    def __init__(self, frame: Frame, item: Unit | Class, last: bool, piece_end: int) -> None:
        self.item = item
        self.last = last
        """Whether it ends its group."""
        self.piece_end = piece_end
        """One past the last run of the piece where it ends the piece, else 0."""
        if isinstance(item, Class):
            self.need = item.need * len(item.runs)
            real = [lot for lot in item.allowed if lot != frame.buy]
            self.forced_dg = 0 if real else self.need
            self.least_age = self.need * min((frame.age[lot] for lot in real), default=0)
            self.count = len(item.runs)
        else:
            self.need = sum(frame.runs[run].need_dg for run in item.runs)
            self.forced_dg = min(option.bought_dg for option in item.options)
            self.least_age = min(
                sum(frame.age[lot] * dg for lot, dg in option.loads)
                for option in item.options
                if option.bought_dg == self.forced_dg
            )
            self.count = 1


class _Search:
    """Depth first over units and classes; every partial value is a lower bound of its stage.

    A bound need hold only for completions that reach the bounds of the stages before it: any other
    completion is already worse there.
    """

    def __init__(self, frame: Frame, start: Sequence[int], steps: int) -> None:
        self.frame = frame
        self.steps = steps
        self.best_places = tuple(start)
        self.best = flat_value(frame.value(start))
        self.blocks = self._blocks()
        self.places = list(frame.start)
        all_bought = [frame.buy if place == UNSET else place for place in frame.start]
        base = frame.value(all_bought).leftovers
        self.base_part, self.base_opened, self.base_age = base
        self.room = list(frame.room)
        self.taken = [0] * len(frame.codes)
        self.bought = list(frame.base_bought)
        self.moved = [0] * len(frame.problem.pieces)
        self.age = 0
        self.lots_done = self.changes_done = 0
        self.counts: dict[int, dict[int, int]] = {}
        self.class_at = {id(cls): at for at, cls in enumerate(frame.classes)}
        self.orders: dict[object, tuple[int, dict[int, int]]] = {}
        self._bounds()

    def _blocks(self) -> list[_Block]:
        frame = self.frame
        items: dict[int, list[Unit | Class]] = {}
        each: tuple[Unit | Class, ...] = (*frame.units, *frame.classes)
        for item in each:
            items.setdefault(item.group, []).append(item)
        ends: dict[int, int] = {}
        for group in frame.groups:
            ends[group.piece] = max(ends.get(group.piece, 0), max(group.runs) + 1)
        order = sorted(items)
        blocks = []
        for at, number in enumerate(order):
            piece = frame.groups[number].piece
            closes = at + 1 == len(order) or frame.groups[order[at + 1]].piece != piece
            for item in items[number]:
                last = item is items[number][-1]
                blocks.append(_Block(frame, item, last, ends[piece] if last and closes else 0))
        return blocks

    def _bounds(self) -> None:
        """What is still to come after each block, at the least."""
        frame = self.frame
        forced = list(frame.base_bought)
        need = age = 0
        self.after_forced = [(0,) * len(forced)]
        self.after_need = [0]
        self.after_age = [0]
        extra = [0] * len(forced)
        for block in reversed(self.blocks):
            extra[block.item.piece] += block.forced_dg
            need += block.need - block.forced_dg
            age += block.least_age
            self.after_forced.append(tuple(extra))
            self.after_need.append(need)
            self.after_age.append(age)
        self.after_forced.reverse()
        self.after_need.reverse()
        self.after_age.reverse()
        with_blocks = {block.item.group for block in self.blocks}
        lots = changes = 0
        least: dict[int, tuple[int, int]] = {}
        for at, group in enumerate(frame.groups):
            bound = (max(1, len(group.fixed_lots)) - 1, group.base_changes)
            if at in with_blocks:
                least[at] = bound
            else:
                self.lots_done += bound[0]
                self.changes_done += bound[1]
        self.after_group: dict[int, tuple[int, int]] = {}
        for at in sorted(least, reverse=True):
            self.after_group[at] = (lots, changes)
            lots += least[at][0]
            changes += least[at][1]

    def run(self) -> tuple[int, ...]:
        self._open(0)
        return self.best_places

    def _open(self, at: int) -> None:
        if at == len(self.blocks):
            self._leaf()
            return
        item = self.blocks[at].item
        if isinstance(item, Unit):
            self._open_unit(at, item)
        else:
            self._spread(at, item, 0, len(item.runs))

    def _open_unit(self, at: int, unit: Unit) -> None:
        for option in unit.options:
            if any(dg > self.room[lot] for lot, dg in option.loads):
                continue
            for lot, dg in option.loads:
                self._take(lot, dg)
            self.bought[unit.piece] += option.bought_dg
            self.moved[unit.piece] += option.moved
            for run, place in zip(unit.runs, option.places, strict=True):
                self.places[run] = place
            self._close(at)
            for lot, dg in option.loads:
                self._take(lot, -dg)
            self.bought[unit.piece] -= option.bought_dg
            self.moved[unit.piece] -= option.moved

    def _spread(self, at: int, cls: Class, nth: int, left: int) -> None:
        """Give the runs left of a class to its lots from the nth on."""
        if not left:
            self._close(at)
            return
        if nth == len(cls.allowed):
            return
        lot = cls.allowed[nth]
        most = left
        if lot != self.frame.buy and cls.need:
            most = min(left, self.room[lot] // cls.need)
        counts = self.counts.setdefault(self.class_at[id(cls)], {})
        last = nth + 1 == len(cls.allowed)
        for count in range(most, left - 1 if last else -1, -1):
            if count:
                counts[lot] = count
                self._give(cls, lot, count)
            self._spread(at, cls, nth + 1, left - count)
            if count:
                del counts[lot]
                self._give(cls, lot, -count)

    def _give(self, cls: Class, lot: int, count: int) -> None:
        if lot == self.frame.buy:
            self.bought[cls.piece] += count * cls.need
        else:
            self._take(lot, count * cls.need)
        if cls.home is not None and lot != cls.home:
            self.moved[cls.piece] += count

    def _take(self, lot: int, dg: int) -> None:
        self.room[lot] -= dg
        self.taken[lot] += dg
        self.age += self.frame.age[lot] * dg

    def _close(self, at: int) -> None:
        """A block is placed: go on unless no completion can be better."""
        self.steps -= 1
        if self.steps < 0:
            raise _TooLongError
        block = self.blocks[at]
        group_at = block.item.group
        lots, changes, order = self._group_so_far(block)
        rest = self.after_group[group_at]
        bound = (
            sum(count > 0 for count in self.moved),
            sum(self.moved),
            *(a + b for a, b in zip(self.bought, self.after_forced[at + 1], strict=True)),
            self.lots_done + lots + rest[0],
            self.changes_done + changes + rest[1],
            *self._leftovers_so_far(at + 1),
        )
        if bound > self.best:
            return
        for run, place in order.items():
            self.places[run] = place
        if block.piece_end and bound == self.best:
            end = block.piece_end
            if tuple(self.places[:end]) > self.best_places[:end]:
                return
        if block.last:
            self.lots_done += lots
            self.changes_done += changes
            self._open(at + 1)
            self.lots_done -= lots
            self.changes_done -= changes
        else:
            self._open(at + 1)

    def _group_so_far(self, block: _Block) -> tuple[int, int, dict[int, int]]:
        """(lots - 1, changes at least, places where the group is complete)."""
        frame = self.frame
        group = frame.groups[block.item.group]
        if isinstance(block.item, Unit):
            places = [self.places[run] for run in group.runs]
            changes = sum(a != b for a, b in itertools.pairwise(places))
            return len(set(places)) - 1, changes, {}
        mine = [b.item for b in self.blocks if b.item.group == block.item.group]
        counts = {
            at: dict(self.counts.get(at, {}))
            for item in mine
            if isinstance(item, Class) and (at := self.class_at[id(item)]) in self.counts
        }
        used = {lot for lots in counts.values() for lot in lots}
        new = len(used - group.fixed_lots)
        lots = len(used | group.fixed_lots) - 1
        if not block.last:
            return lots, group.base_changes + new - (not group.fixed_lots), {}
        key = (block.item.group, tuple((at, *sorted(c.items())) for at, c in counts.items()))
        if key not in self.orders:
            # Laying a group out costs about a step a run; past the limit this case is not plain.
            self.steps -= len(group.runs)
            changes, order, exact = arrange(frame, group, counts, max_steps=QUICK_STEPS)
            if not exact:
                raise _TooLongError
            self.orders[key] = changes, order
        changes, order = self.orders[key]
        return lots, changes, order

    def _leftovers_so_far(self, at: int) -> tuple[int, int, int]:
        frame = self.frame
        part = may_part = opened = 0
        for taken, has, fresh in zip(self.taken, frame.part, frame.fresh, strict=True):
            if has:
                part += min(taken, has)
                may_part += has
            if fresh and taken:
                opened += 1
        part = min(may_part, part + self.after_need[at])
        return (
            self.base_part - part,
            self.base_opened + opened,
            self.base_age + self.age + self.after_age[at],
        )

    def _leaf(self) -> None:
        """All is placed, and the bound of the last block is the value itself."""
        value = (
            sum(count > 0 for count in self.moved),
            sum(self.moved),
            *self.bought,
            self.lots_done,
            self.changes_done,
            *self._leftovers_so_far(len(self.blocks)),
        )
        places = tuple(self.places)
        if (value, places) < (self.best, self.best_places):
            self.best, self.best_places = value, places
