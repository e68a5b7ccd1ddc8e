"""The best assignment so far, what it is worth, and which of its stages are not proved."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite

from studio.core.lots.arrange import Order, TooLongError, changes_in, order_of
from studio.core.lots.bounds import bought_by_choice
from studio.core.lots.fills import UNIT
from studio.core.lots.frame import UNSET, Frame, Unit
from studio.core.lots.greedy import Counts, fill
from studio.core.lots.judge import is_allowed, value_key
from studio.core.lots.mip import Effort, Found
from studio.core.lots.model import Model
from studio.core.lots.problem import Stage, Value
from studio.core.lots.reading import places_from

ALL_STEPS = 150_000
"""Search steps for laying out all groups of all assignments that are told one by one."""

ROUNDING = 1e-4
"""How far the solver's bound may be above a whole number that it means."""


@dataclass(slots=True)
class Incumbent:
    """Changes hands between the stages; only ever replaced by something better."""

    frame: Frame
    places: tuple[int, ...]
    effort: Effort
    gaps: dict[Stage, float] = field(default_factory=dict)
    value: Value = field(init=False)

    def __post_init__(self) -> None:
        self.value = self.frame.value(self.places)

    def chosen(self) -> list[int]:
        """dg that each piece buys beyond what its fixed runs buy."""
        return bought_by_choice(self.frame, self.value)

    def adopt(self, model: Model, found: Found) -> tuple[int, ...] | None:
        """The assignment that the solver found, taken over where it is better."""
        if found.values is None:
            return None
        return self._take(fill(self.frame, places_from(model, found.values)))

    def take_best(self, told: Sequence[Counts]) -> bool:
        """Take over the best of some assignments, told by how many runs of each go to each lot.

        All must have the same value up to the lots used. Changes are tried from the least upward,
        over all of them, so that no group is ever laid out worse than the best needs. False where
        a group is too long to be sure of its order.
        """
        orders: dict[object, Order] = {}
        plans = [self._orders(counts, orders) for counts in told]
        for order in orders.values():
            order.steps = min(order.steps, ALL_STEPS // len(orders))
        most = min(sum(order.least for order in plan.values()) for plan in plans)
        try:
            while not self._take_all(told, plans, most):
                most += 1
        except TooLongError:
            return False
        return True

    def _take_all(
        self, told: Sequence[Counts], plans: Sequence[Mapping[int, Order]], most: int
    ) -> bool:
        """Take over the best of those for which so many changes are enough; False without any."""
        took = [
            self._take_within(counts, plan, most) for counts, plan in zip(told, plans, strict=True)
        ]
        return any(took)

    def _orders(self, counts: Counts, known: dict[object, Order]) -> dict[int, Order]:
        """The order of each group with runs of its own, shared between equal counts."""
        plan = {}
        for at, group in enumerate(self.frame.groups):
            mine = {n: counts[n] for n, cls in enumerate(self.frame.classes) if cls.group == at}
            if mine:
                key = (at, tuple((n, *sorted(lots.items())) for n, lots in mine.items()))
                if key not in known:
                    known[key] = order_of(self.frame, group, mine)
                plan[at] = known[key]
        return plan

    def _take_within(self, counts: Counts, plan: Mapping[int, Order], most: int) -> bool:
        """Take an assignment over if so many changes are enough, and say whether they are."""
        frame = self.frame
        places: dict[int, int] = {}
        for at, unit in enumerate(frame.units):
            (lot,) = counts[UNIT + at]
            places.update(dict.fromkeys(unit.runs, lot))
        spare = most - sum(order.least for order in plan.values())
        for at, order in plan.items():
            if spare < 0:
                return False
            found, least = None, order.least
            while found is None and order.least <= least + spare:
                found = order.within(order.least)
            if found is None:
                return False
            spare -= order.least - least
            goes = dict(zip(frame.groups[at].runs, found, strict=True))
            places.update({run: lot for run, lot in goes.items() if frame.start[run] == UNSET})
        self._take(fill(frame, places))
        return True

    def _take(self, places: tuple[int, ...]) -> tuple[int, ...] | None:
        if is_allowed(self.frame.problem, self.frame.names(places)) is not None:
            return None
        value = self.frame.value(places)
        if (value_key(value), places) < (value_key(self.value), self.places):
            self.places, self.value = places, value
        return places

    def change_frame(self, frame: Frame) -> None:
        """Go on in a narrower frame; of ways that take the same yarn it knows only the first."""
        self.frame = frame
        places = list(self.places)
        for unit in frame.units:
            runs = frame.groups[unit.group].runs
            goes = tuple(places[run] for run in unit.runs)
            if any(option.places == goes for option in unit.options):
                continue
            loads = _loads(frame, unit, goes)
            used, changes = {places[run] for run in runs}, changes_in([places[r] for r in runs])
            for option in unit.options:
                way = dict(zip(unit.runs, option.places, strict=True))
                after = [way.get(run, places[run]) for run in runs]
                same = option.loads == loads and len(set(after)) <= len(used)
                if same and changes_in(after) <= changes:
                    for run, place in way.items():
                        places[run] = place
                    break
        value = self.frame.value(places)
        if (value_key(value), tuple(places)) <= (value_key(self.value), self.places):
            self.places, self.value = tuple(places), value

    def leave_open(self, stage: Stage, value: int, bound: float) -> None:
        """Note that a part of a stage is not proved."""
        gap = min(1.0, (value - bound) / max(1, abs(value))) if isfinite(bound) else 1.0
        self.gaps[stage] = max(gap, self.gaps.get(stage, 0.0))

    def loose(self, places: Sequence[int]) -> set[int]:
        """Groups that change lots more often than their number of lots asks for."""
        found = set()
        for at in {cls.group for cls in self.frame.classes}:
            group = self.frame.groups[at]
            goes = [places[run] for run in group.runs]
            new = len(set(goes) - group.fixed_lots)
            if changes_in(goes) > group.base_changes + new - (not group.fixed_lots):
                found.add(at)
        return found


def _loads(frame: Frame, unit: Unit, goes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    loads: dict[int, int] = {}
    for run, place in zip(unit.runs, goes, strict=True):
        if place != frame.buy:
            loads[place] = loads.get(place, 0) + frame.runs[run].need_dg
    return tuple(sorted(loads.items()))


def whole(bound: float) -> float:
    """A bound of a whole number, rounded up."""
    return float(ceil(bound - ROUNDING)) if isfinite(bound) else bound
