"""The stages in their order, each proved by a bound or by the solver before the next begins.

The pooled stage needs no solving: the first stage settles the dg that every piece buys, and with
them the held pieces' sum. Fewest balls, then fewest dg of a piece is one objective too, since the
balls never fall as the dg rise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil, isfinite

from studio.core.lots.arrange import changes_in
from studio.core.lots.bounds import (
    bought_by_choice,
    demands,
    fillable,
    forced_buys,
    least_changes,
    least_leftovers,
    least_lots,
)
from studio.core.lots.frame import UNSET, Frame
from studio.core.lots.greedy import fill
from studio.core.lots.judge import is_allowed, value_key
from studio.core.lots.mip import Effort, Found
from studio.core.lots.model import Model, Terms
from studio.core.lots.narrow import narrowed
from studio.core.lots.problem import Stage, Value

ROUNDING = 1e-4
"""How far the solver's bound may be above a whole number that it means."""

RADIX_LIMIT = 50_000
"""Largest weight of a code-tie objective: well inside what the solver's tolerance tells apart."""


@dataclass(slots=True)
class Stages:
    """The incumbent of a shade on its way through the stages."""

    frame: Frame
    places: tuple[int, ...]
    effort: Effort
    until: Callable[[Stage, Value], bool] = lambda _stage, _value: False
    """Asked after each stage whether the rest may be left out."""
    gaps: dict[Stage, float] = field(default_factory=dict)
    value: Value = field(init=False)
    changes_fixed: bool = False

    def __post_init__(self) -> None:
        self.value = self.frame.value(self.places)

    def run(self) -> None:
        """Go through the stages; afterwards `places` holds the answer and `gaps` what is open."""
        self._repair()
        if self.until(Stage.REPAIR, self.value):
            return
        self._buy()
        if self.until(Stage.BUY_EACH, self.value):
            return
        least = least_lots(self.frame, self._chosen())
        model = self._settled_model()
        self._lots(model, sum(least) - len(least))
        if self.until(Stage.LOTS, self.value):
            return
        model = self._narrow_model(model, least)
        self._leftovers(model)
        if self.until(Stage.LEFTOVERS, self.value):
            return
        self._code(model)

    # Keeping the incumbent

    def _minimise(
        self,
        model: Model,
        stage: Stage,
        part: Callable[[], tuple[Terms, int]],
        now: Callable[[Value], int],
        least: int | None = None,
    ) -> None:
        """Minimise one part of a stage, adopt what is found, and fix the part's value."""
        while least is None or now(self.value) > least:
            terms, constant = part()
            found = model.solve(terms, now(self.value) - constant - 1, self.effort)
            candidate = self._adopt(model, found)
            bound = _whole(found.bound) + constant
            if now(self.value) <= bound:
                break
            if not found.proved or candidate is None or not self._spread(model, candidate):
                self._open(stage, now(self.value), bound)
                break
        terms, constant = part()
        model.mip.row(terms, upper=now(self.value) - constant)

    def _adopt(self, model: Model, found: Found) -> tuple[int, ...] | None:
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

    def _open(self, stage: Stage, value: int, bound: float) -> None:
        """Note that a part of a stage is not proved."""
        gap = min(1.0, (value - bound) / max(1, abs(value))) if isfinite(bound) else 1.0
        self.gaps[stage] = max(gap, self.gaps.get(stage, 0.0))

    def _spread(self, model: Model, places: Sequence[int]) -> bool:
        """Model those groups run by run that change lots more often than the model believed."""
        loose = []
        for at in {cls.group for cls in self.frame.classes} - model.spread:
            group = self.frame.groups[at]
            goes = [places[run] for run in group.runs]
            new = len(set(goes) - group.fixed_lots)
            if changes_in(goes) > group.base_changes + new - (not group.fixed_lots):
                loose.append(at)
        if model.lots:
            for at in sorted(loose):
                model.spread_group(at)
        if loose and self.changes_fixed:
            self._fix_changes(model)
        return bool(loose and model.lots)

    def _fix_changes(self, model: Model) -> None:
        terms, constant = model.changes()
        model.mip.row(terms, upper=self.value.lots[1] - constant)

    # Repair

    def _repair(self) -> None:
        if not self.frame.repairs:
            return
        model = Model(self.frame, len(self.frame.problem.pieces), lots=False)
        self._repair_rows(model, solve=True)

    def _repair_rows(self, model: Model, solve: bool) -> None:
        disturbed, moved = model.disturbed(), model.moved()
        if solve:
            self._minimise(model, Stage.REPAIR, lambda: (disturbed, 0), lambda v: v.repair[0])
            self._minimise(model, Stage.REPAIR, lambda: (moved, 0), lambda v: v.repair[1])
            return
        model.mip.row(disturbed, upper=self.value.repair[0])
        model.mip.row(moved, upper=self.value.repair[1])

    # Buying

    def _buy(self) -> None:
        frame = self.frame
        least, asked = forced_buys(frame), demands(frame)
        covered = 0
        for piece in range(len(frame.problem.pieces)):
            if self._chosen()[piece] > least[piece]:
                room = sum(fillable(frame, piece + 1)) - covered
                if frame.repairs or self._chosen()[piece] > asked[piece] - room:
                    self._buy_piece(piece)
            covered += asked[piece] - self._chosen()[piece]

    def _chosen(self) -> list[int]:
        return bought_by_choice(self.frame, self.value)

    def _buy_piece(self, piece: int) -> None:
        frame = self.frame
        pieces = len(frame.problem.pieces) if frame.repairs else piece + 1
        model = Model(frame, pieces, lots=False)
        if frame.repairs:
            self._repair_rows(model, solve=False)
        for earlier in range(piece):
            self._bought_row(model, earlier)
        terms = model.bought(piece)
        self._minimise(
            model,
            Stage.BUY_EACH,
            lambda: (terms, frame.base_bought[piece]),
            lambda value: value.buy[piece][1],
        )

    def _bought_row(self, model: Model, piece: int) -> None:
        model.mip.row(model.bought(piece), upper=self._chosen()[piece])

    def _settled_model(self) -> Model:
        """The model of all pieces with the values of the stages so far."""
        model = Model(self.frame, len(self.frame.problem.pieces), lots=True)
        if self.frame.repairs:
            self._repair_rows(model, solve=False)
        for piece in range(len(self.frame.problem.pieces)):
            self._bought_row(model, piece)
        return model

    # Lots

    def _lots(self, model: Model, least: int) -> None:
        extra = model.extra_lots()
        self._minimise(model, Stage.LOTS, lambda: extra, lambda value: value.lots[0], least)
        fewest = least_changes(self.frame, self.value.lots[0])
        self._minimise(model, Stage.LOTS, model.changes, lambda value: value.lots[1], fewest)
        self.changes_fixed = True

    def _narrow_model(self, model: Model, least: Sequence[int]) -> Model:
        """The model for the later stages, smaller where each group uses its least of lots."""
        tight = self.value.lots[0] == sum(least) - len(least)
        frame = narrowed(self.frame, least if tight else None, self._chosen())
        self.frame = frame
        smaller = self._settled_model()
        terms, constant = smaller.extra_lots()
        smaller.mip.row(terms, upper=self.value.lots[0] - constant)
        for at in sorted(model.spread):
            if any(cls.group == at for cls in frame.classes):
                smaller.spread_group(at)
        if tight:
            for at, group in enumerate(frame.groups):
                used = {col: 1 for (g, _), col in smaller.used.items() if g == at}
                if used:
                    more = least[at] - len(group.fixed_lots)
                    smaller.mip.row(used, more, more)
        self._fix_changes(smaller)
        return smaller

    # Left-overs

    def _leftovers(self, model: Model) -> None:
        base = self.frame.value(self._all_bought()).leftovers
        part, opened, age = least_leftovers(self.frame, self._chosen())
        if any(self.frame.part):
            terms = model.part_used()
            self._minimise(
                model,
                Stage.LEFTOVERS,
                lambda: (terms, base[0]),
                lambda value: value.leftovers[0],
                base[0] - part,
            )
        if any(self.frame.fresh):
            whole = model.opened()
            self._minimise(
                model,
                Stage.LEFTOVERS,
                lambda: (whole, base[1]),
                lambda value: value.leftovers[1],
                base[1] + opened,
            )
        if len(set(self.frame.age)) > 1:
            old = model.age()
            self._minimise(
                model,
                Stage.LEFTOVERS,
                lambda: (old, base[2]),
                lambda value: value.leftovers[2],
                base[2] + age,
            )

    def _all_bought(self) -> list[int]:
        return [self.frame.buy if place == UNSET else place for place in self.frame.start]

    # The last tie

    def _code(self, model: Model) -> None:
        """The first assignment by lot code among those with this value.

        Runs are settled one after another in blocks; a run in the first lot that is open to it
        needs no asking, and nothing does where no other assignment has this value.
        """
        if self.only_one(model):
            return
        class_of = {run: at for at, cls in enumerate(self.frame.classes) for run in cls.runs}
        unit_of = {run: at for at, unit in enumerate(model.units) for run in unit.runs}
        waiting = [
            run
            for run in self.frame.movable
            if run not in unit_of or run == model.units[unit_of[run]].runs[0]
        ]
        while waiting:
            first = waiting[0]
            if self.places[first] == self._choices(model, first, class_of, unit_of)[0]:
                self._settle(model, waiting.pop(0), class_of, unit_of)
                continue
            block: list[int] = []
            size = 1
            for run in waiting:
                size *= len(self._choices(model, run, class_of, unit_of))
                if block and size > RADIX_LIMIT:
                    break
                block.append(run)
            self._settle_block(model, block, class_of, unit_of)
            del waiting[: len(block)]

    def _choices(
        self, model: Model, run: int, class_of: Mapping[int, int], unit_of: Mapping[int, int]
    ) -> Sequence[object]:
        """What may become of a run, in code order."""
        if run in unit_of:
            return [option.places for option in model.units[unit_of[run]].options]
        return self.frame.classes[class_of[run]].allowed

    def _settle(
        self, model: Model, run: int, class_of: Mapping[int, int], unit_of: Mapping[int, int]
    ) -> None:
        if run in unit_of:
            at = unit_of[run]
            goes = tuple(self.places[r] for r in model.units[at].runs)
            nth = [option.places for option in model.units[at].options].index(goes)
            model.mip.lower[model.option[at, nth]] = 1
        else:
            model.settle(run, class_of[run], self.places[run])

    def _settle_block(
        self,
        model: Model,
        block: Sequence[int],
        class_of: Mapping[int, int],
        unit_of: Mapping[int, int],
    ) -> None:
        named = [run for run in block if run in class_of]
        model.name_block(named, class_of)
        terms: Terms = {}
        weight = 1
        for run in reversed(block):
            choices = self._choices(model, run, class_of, unit_of)
            for nth, choice in enumerate(choices):
                if run in unit_of:
                    terms[model.option[unit_of[run], nth]] = weight * nth
                elif isinstance(choice, int):
                    terms[model.named[run, choice]] = weight * nth
            weight *= len(choices)

        def place(_: Value) -> int:
            start = model.start_from(self.places)
            return sum(start[col] * by for col, by in terms.items())

        self._code_block(model, terms, place)
        for run in block:
            self._settle(model, run, class_of, unit_of)

    def _code_block(self, model: Model, terms: Terms, now: Callable[[Value], int]) -> None:
        """Ask for anything earlier by code until there is nothing.

        The last stage's objective guides each question, since it is what rules most things out.
        """
        while True:
            with model.trial():
                model.mip.row(terms, upper=now(self.value) - 1)
                found = model.mip.minimise(model.age(), None, self.effort)
            if found.values is None and found.proved:
                break
            before = self.places
            candidate = self._adopt(model, found)
            if self.places == before and (
                candidate is None or not found.proved or not self._spread(model, candidate)
            ):
                self._open(Stage.CODE, now(self.value), 0)
                break
        model.mip.row(terms, upper=now(self.value))

    def only_one(self, model: Model) -> bool:
        """Whether no other counts have this value; then the order within groups is settled too."""
        start = model.start_from(self.places)
        with model.trial():
            model.differ_from(start)
            found = model.mip.minimise(model.age(), None, self.effort)
            self._adopt(model, found)
        return found.proved and found.values is None


def _whole(bound: float) -> float:
    """A bound of a whole number, rounded up."""
    return float(ceil(bound - ROUNDING)) if isfinite(bound) else bound
