"""What the purchase and the lots used settle for the later stages: fewer choices, smaller models.

Where the proved sum of lots used is the sum of what each group needs at the least, every group
uses exactly its least: a group that fits into one lot is then placed as a whole, and one that can
stay in the lots of its fixed runs stays there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from studio.core.lots.fills import Fills
from studio.core.lots.frame import UNSET, Class, Frame, Option, Unit
from studio.core.lots.patterns import unit_of_ways

MAX_STEPS = 400_000
"""Search steps within which a group's ways are to be listed; groups in vain share as many."""

MAX_WAYS = 1_500
"""Ways past which a group is modelled by counts and blocks."""

FILLED_WAYS = 10_000
"""The same where the fills of lots are known: most of these go with no way of the others."""


def narrowed(frame: Frame, least: Sequence[int] | None, bought: Sequence[int]) -> Frame:
    """The frame without choices that cannot have the value so far.

    `least` holds the lots that each group uses, None where that is not settled; `bought` the dg
    that each piece buys beyond its fixed runs.
    """
    classes: list[Class] = []
    units = [_unit_without(unit, bought[unit.piece]) for unit in frame.units]
    for at, group in enumerate(frame.groups):
        mine = [_class_without(frame, c, bought[c.piece]) for c in frame.classes if c.group == at]
        if not mine or least is None:
            classes += mine
        elif least[at] == 1 and not group.fixed_lots:
            units.append(_whole(frame, at, mine, bought[group.piece]))
        elif least[at] == len(group.fixed_lots):
            classes += [
                replace(cls, allowed=tuple(n for n in cls.allowed if n in group.fixed_lots))
                for cls in mine
            ]
        else:
            classes += mine
    return replace(frame, classes=tuple(classes), units=tuple(units))


def with_ways(
    frame: Frame,
    most_lots: Sequence[int],
    most_changes: Sequence[int],
    bought: Sequence[int],
    fills: Fills | None,
    hopeless: set[int],
) -> Frame:
    """The frame with every group as a unit whose ways to be worked are few enough to be listed.

    `fills` says what a group may take of a lot, where that is known. Groups with too many ways are
    noted as `hopeless`, and not tried again where they may have more changes still.
    """
    steps, ways = MAX_STEPS, MAX_WAYS if fills is None else FILLED_WAYS
    units = [_unit_within(unit, fills) for unit in frame.units]
    classes = list(frame.classes)
    for at in sorted({cls.group for cls in frame.classes} - hopeless):
        piece = frame.groups[at].piece
        unit = unit_of_ways(
            frame, at, most_lots[at], most_changes[at], bought[piece], (steps, ways), fills
        )
        if unit is None:
            hopeless.add(at)
            steps //= 2
        else:
            units.append(unit)
            classes = [cls for cls in classes if cls.group != at]
            if not unit.options:
                break
    return replace(frame, classes=tuple(classes), units=tuple(units))


def _unit_within(unit: Unit, fills: Fills | None) -> Unit:
    """The unit without ways that are part of no fill."""
    if fills is None:
        return unit
    return replace(
        unit,
        options=tuple(
            option
            for option in unit.options
            if all(dg in fills.loads.get((unit.group, lot), ()) for lot, dg in option.loads)
        ),
    )


def _class_without(frame: Frame, cls: Class, bought: int) -> Class:
    if bought or cls.need == 0:
        return cls
    return replace(cls, allowed=tuple(lot for lot in cls.allowed if lot != frame.buy))


def _unit_without(unit: Unit, bought: int) -> Unit:
    return replace(unit, options=tuple(o for o in unit.options if o.bought_dg <= bought))


def _whole(frame: Frame, at: int, classes: Sequence[Class], bought: int) -> Unit:
    """A group as one unit: all its runs to one lot, or all bought."""
    homes = {run: cls.home for cls in classes for run in cls.runs}
    runs = tuple(run for run in frame.groups[at].runs if frame.start[run] == UNSET)
    need = sum(frame.runs[run].need_dg for run in runs)
    options = []
    for lot in sorted(_common(cls.allowed for cls in classes)):
        moved = sum(homes[run] not in (None, lot) for run in runs)
        if lot != frame.buy and need <= frame.room[lot]:
            options.append(Option((lot,) * len(runs), ((lot, need),), 0, moved))
        elif lot == frame.buy and need <= bought:
            options.append(Option((lot,) * len(runs), (), need, moved))
    return Unit(frame.groups[at].piece, at, runs, tuple(options))


def _common(sets: Iterable[Sequence[int]]) -> set[int]:
    found: set[int] | None = None
    for each in sets:
        found = set(each) if found is None else found & set(each)
    return found or set()
