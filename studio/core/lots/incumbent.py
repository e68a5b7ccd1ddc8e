"""The best assignment so far, what it is worth, and which of its stages are not proved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite

from studio.core.lots.arrange import changes_in
from studio.core.lots.bounds import bought_by_choice
from studio.core.lots.frame import Frame, Unit
from studio.core.lots.greedy import fill
from studio.core.lots.judge import is_allowed, value_key
from studio.core.lots.mip import Effort, Found
from studio.core.lots.model import Model
from studio.core.lots.problem import Stage, Value

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
        places = fill(self.frame, model.places_from(found.values))
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
                if option.loads == loads and set(after) == used and changes_in(after) == changes:
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
