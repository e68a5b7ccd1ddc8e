"""The stages in their order, each proved by a bound or by the solver before the next begins.

The pooled stage needs no solving: the first stage settles the dg that every piece buys, and with
them the held pieces' sum. Fewest balls, then fewest dg of a piece is one objective too, since the
balls never fall as the dg rise.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from studio.core.lots.bounds import (
    demands,
    fillable,
    forced_buys,
    least_changes,
    least_leftovers,
    least_lots,
)
from studio.core.lots.code_tie import CodeTie
from studio.core.lots.fills import Fills, fills_of
from studio.core.lots.frame import UNSET, Frame
from studio.core.lots.incumbent import Incumbent, whole
from studio.core.lots.model import Model, Terms
from studio.core.lots.narrow import narrowed, with_ways
from studio.core.lots.problem import Stage, Value


def refine(
    best: Incumbent, until: Callable[[Stage, Value], bool] = lambda _stage, _value: False
) -> None:
    """Take the incumbent through the stages; `until` is asked after each whether to stop there."""
    stages = _Stages(best)
    for stage, step in (
        (Stage.REPAIR, stages.repair),
        (Stage.BUY_EACH, stages.buy),
        (Stage.LOTS, stages.lots),
        (Stage.LEFTOVERS, stages.leftovers),
        (Stage.CODE, stages.code),
    ):
        step()
        if until(stage, best.value):
            return


class _Stages:
    def __init__(self, best: Incumbent) -> None:
        self.best = best
        self.least: list[int] = []
        """Lots that each group uses at the least."""
        self.exactly = False
        """Whether each group uses exactly its least."""
        self.fills: Fills | None = None
        """What the lots can be filled with, where these are few enough to be looked at."""
        self.hopeless: set[int] = set()
        """Groups that have too many ways to be listed."""
        self.told = False
        """Whether the best of all assignments with the least lots is found: nothing is open."""
        self.model: Model | None = None

    def _minimise(
        self,
        model: Model,
        stage: Stage,
        part: tuple[Terms, int],
        now: Callable[[Value], int],
        least: int | None = None,
    ) -> None:
        """Minimise one part of a stage, adopt what is found, and fix the part's value.

        A group that changes lots more often than the model believes is modelled more closely, and
        the question asked again.
        """
        best = self.best
        terms, constant = part
        while least is None or now(best.value) > least:
            found = model.solve(terms, now(best.value) - constant - 1, best.effort)
            candidate = best.adopt(model, found)
            bound = whole(found.bound) + constant
            if now(best.value) <= bound:
                break
            more = self._too_loose(model, candidate)
            if not found.proved or not more:
                best.leave_open(stage, now(best.value), bound)
                break
            model.spread_more(more)
        model.mip.row(terms, upper=now(best.value) - constant)

    # Repair

    def repair(self) -> None:
        if not self.best.frame.repairs:
            return
        model = Model(self.best.frame, len(self.best.frame.problem.pieces), lots=False)
        self._minimise(model, Stage.REPAIR, (model.disturbed(), 0), lambda v: v.repair[0])
        self._minimise(model, Stage.REPAIR, (model.moved(), 0), lambda v: v.repair[1])

    def _keep_repair(self, model: Model) -> None:
        if self.best.frame.repairs:
            model.mip.row(model.disturbed(), upper=self.best.value.repair[0])
            model.mip.row(model.moved(), upper=self.best.value.repair[1])

    # Buying

    def buy(self) -> None:
        best, frame = self.best, self.best.frame
        least, asked = forced_buys(frame), demands(frame)
        covered = 0
        for piece in range(len(frame.problem.pieces)):
            if best.chosen()[piece] > least[piece]:
                room = sum(fillable(frame, piece + 1)) - covered
                if frame.repairs or best.chosen()[piece] > asked[piece] - room:
                    self._buy_piece(piece)
            covered += asked[piece] - best.chosen()[piece]

    def _buy_piece(self, piece: int) -> None:
        """Pieces that choose later do not matter here, except through the holds that stay."""
        frame = self.best.frame
        model = Model(frame, len(frame.problem.pieces) if frame.repairs else piece + 1, lots=False)
        self._keep_repair(model)
        for earlier in range(piece):
            model.mip.row(model.bought(earlier), upper=self.best.chosen()[earlier])
        part = (model.bought(piece), frame.base_bought[piece])
        self._minimise(model, Stage.BUY_EACH, part, lambda value: value.buy[piece][1])

    def _settled_model(self, frame: Frame) -> Model:
        """The model of all pieces with the values of repair and purchase."""
        model = Model(frame, len(frame.problem.pieces), lots=True)
        self._keep_repair(model)
        for piece, bought in enumerate(self.best.chosen()):
            model.mip.row(model.bought(piece), upper=bought)
        return model

    # Lots

    def lots(self) -> None:
        best = self.best
        self.least = least_lots(best.frame, best.chosen())
        least = sum(self.least) - len(self.least)
        if best.value.lots[0] > least and self._fill():
            return
        if self.fills is not None:
            least = self.fills.least + sum(len(g.fixed_lots) - 1 for g in best.frame.groups)
        if best.value.lots[0] > least:
            model = self._settled_model(best.frame)
            self._minimise(
                model, Stage.LOTS, model.extra_lots(), lambda value: value.lots[0], least
            )
        self.exactly = best.value.lots[0] == sum(self.least) - len(self.least)
        best.frame = narrowed(best.frame, self.least if self.exactly else None, best.chosen())
        least = least_changes(best.frame, best.value.lots[0])
        if best.value.lots[1] > least and self.fills is None and self._fill():
            return
        self._changes(least)

    def _fill(self) -> bool:
        """Look at what the lots can be filled with, and say whether nothing is left open then."""
        best = self.best
        if not best.frame.repairs and Stage.BUY_EACH not in best.gaps:
            self.fills = fills_of(best.frame, best.chosen(), best.effort.limits.fill_steps)
        if self.fills is not None:
            sure = best.take_best(self.fills.some)
            self.told = sure and self.fills.every
        return self.told

    def _changes(self, least: int) -> None:
        """Fewest neighbours in different lots, trying from the bound upward: it is mostly met.

        The fewer changes may be, the fewer ways a group has, and the smaller the model.
        """
        best = self.best
        spread = best.loose(best.places)
        for most in range(least, best.value.lots[1]):
            model = self._lots_model(most, spread)
            if model is None:
                continue
            while True:
                found = model.solve(model.changes()[0], None, best.effort)
                candidate = best.adopt(model, found)
                if best.value.lots[1] <= most:
                    self._go_on_with(model)
                    return
                more = self._too_loose(model, candidate)
                if not found.proved or (candidate and not more):
                    best.leave_open(Stage.LOTS, best.value.lots[1], most)
                    self._go_on_with(self._lots_model(best.value.lots[1], spread))
                    return
                if not candidate:
                    break
                spread = spread | more
                model.spread_more(more)
        self._go_on_with(self._lots_model(best.value.lots[1], spread))

    def _go_on_with(self, model: Model | None) -> None:
        if model is None:
            raise RuntimeError("a model that leaves out its own incumbent")
        self.model = model
        self.best.change_frame(model.frame)

    def _too_loose(self, model: Model, candidate: Sequence[int] | None) -> set[int]:
        """Groups that change lots more often than the model believed."""
        if candidate is None or not model.lots:
            return set()
        told = {unit.group for unit in model.frame.units}
        return self.best.loose(candidate) - model.spread - told

    def _lots_model(self, most_changes: int, spread: set[int]) -> Model | None:
        """The model with the value of the lots used and a limit on the changes.

        None where some group cannot be worked within that limit.
        """
        best = self.best
        few = [
            group.base_changes + least - len(group.fixed_lots) - (not group.fixed_lots)
            for group, least in zip(best.frame.groups, self.least, strict=True)
        ]
        most_of = [most_changes - sum(few) + each for each in few]
        most = (self._most_lots(), most_of)
        frame = with_ways(best.frame, *most, best.chosen(), self.fills, self.hopeless)
        if any(not unit.options for unit in frame.units):
            return None
        model = self._settled_model(frame)
        terms, constant = model.extra_lots()
        model.mip.row(terms, upper=best.value.lots[0] - constant)
        for at, group in enumerate(frame.groups):
            used = {col: 1 for (g, _), col in model.used.items() if g == at}
            if used and self.exactly:
                more = self.least[at] - len(group.fixed_lots)
                model.mip.row(used, more, more)
        model.limit_changes(most_changes, most_of)
        model.spread_more(spread)
        return model

    def _most_lots(self) -> list[int]:
        """Lots that each group may use where the others use their least."""
        over = self.best.value.lots[0] - (sum(self.least) - len(self.least))
        return [least + over for least in self.least]

    # Left-overs

    def leftovers(self) -> None:
        if self.told:
            return
        best, frame, model = self.best, self.best.frame, self._model()
        bought = [frame.buy if place == UNSET else place for place in frame.start]
        base = frame.value(bought).leftovers
        part, opened, age = least_leftovers(frame, best.chosen())
        if any(frame.part):
            goal = (model.part_used(), base[0])
            self._minimise(
                model, Stage.LEFTOVERS, goal, lambda value: value.leftovers[0], base[0] - part
            )
        if any(frame.fresh):
            goal = (model.opened(), base[1])
            self._minimise(
                model, Stage.LEFTOVERS, goal, lambda value: value.leftovers[1], base[1] + opened
            )
        if len(set(frame.age)) > 1:
            goal = (model.age(), base[2])
            self._minimise(
                model, Stage.LEFTOVERS, goal, lambda value: value.leftovers[2], base[2] + age
            )

    def _model(self) -> Model:
        if self.model is None:
            raise RuntimeError("the lots come before the left-overs")
        return self.model

    # The last tie

    def code(self) -> None:
        """Left out where the left-overs are open: the first of their ties would mean nothing."""
        if self.told:
            return
        if Stage.LEFTOVERS in self.best.gaps:
            self.best.gaps[Stage.CODE] = 0.0
            return
        CodeTie(self.best, self._model()).settle_all()
