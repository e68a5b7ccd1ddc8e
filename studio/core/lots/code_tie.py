"""The last tie: of all assignments with one value, the first by lot code, so that it is unique."""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.lots.incumbent import Incumbent
from studio.core.lots.model import Model, Terms
from studio.core.lots.problem import Stage
from studio.core.lots.reading import start_from

RADIX_LIMIT = 50_000
"""Largest weight of a block of runs: well inside what the solver's tolerance tells apart."""


class CodeTie:
    """Settles runs one after another, in blocks, on a model that holds every stage's value."""

    def __init__(self, best: Incumbent, model: Model) -> None:
        self.best = best
        self.model = model
        frame = best.frame
        self.class_of = {run: at for at, cls in enumerate(frame.classes) for run in cls.runs}
        self.unit_groups = {unit.group for unit in model.units}
        self.unit_of = {run: at for at, unit in enumerate(model.units) for run in unit.runs}

    def settle_all(self) -> None:
        """Make the incumbent the first by code.

        A run in the first lot that is open to it needs no asking, and nothing does where no other
        assignment has this value.
        """
        if self._only_one():
            return
        waiting = list(self.best.frame.movable)
        while waiting:
            if self.best.places[waiting[0]] == self._choices(waiting[0])[0]:
                self._settle(waiting.pop(0))
                continue
            block: list[int] = []
            size = 1
            for run in waiting:
                size *= 1 if self._follows(run, block) else len(self._choices(run))
                if block and size > RADIX_LIMIT:
                    break
                block.append(run)
            self._settle_block(block)
            del waiting[: len(block)]

    def _only_one(self) -> bool:
        """Whether no other counts have this value; then the order within groups is settled too.

        The age of lots is the objective though its value is settled, here and below: it is what
        rules most things out.
        """
        start = start_from(self.model, self.best.places)
        with self.model.trial():
            differ_from(self.model, start)
            found = self.model.solve(self.model.age(), None, self.best.effort)
            self.best.adopt(self.model, found)
        return found.proved and found.values is None

    def _ways(self, run: int) -> list[tuple[int, tuple[int, ...]]]:
        """(column, places) of the ways that are left to a run's unit."""
        at = self.unit_of[run]
        return [
            (col, option.places)
            for nth, option in enumerate(self.model.units[at].options)
            if self.model.mip.upper[col := self.model.option[at, nth]]
        ]

    def _nth(self, run: int) -> int:
        """The run's place within its unit."""
        return self.model.units[self.unit_of[run]].runs.index(run)

    def _choices(self, run: int) -> Sequence[int]:
        """The lots that are left to a run, in code order."""
        if run in self.unit_of:
            nth = self._nth(run)
            return sorted({places[nth] for _, places in self._ways(run)})
        return self.best.frame.classes[self.class_of[run]].allowed

    def _follows(self, run: int, block: Sequence[int]) -> bool:
        """Whether the runs of its unit that the block already has leave it one lot."""
        if run not in self.unit_of:
            return False
        before = [self._nth(each) for each in block if self.unit_of.get(each) == self.unit_of[run]]
        nth = self._nth(run)
        known: dict[tuple[int, ...], int] = {}
        return all(
            known.setdefault(tuple(places[at] for at in before), places[nth]) == places[nth]
            for _, places in self._ways(run)
        )

    def _settle(self, run: int) -> None:
        if run in self.unit_of:
            nth = self._nth(run)
            for col, places in self._ways(run):
                if places[nth] != self.best.places[run]:
                    self.model.mip.upper[col] = 0
        else:
            self.model.settle(run, self.class_of[run], self.best.places[run])

    def _settle_block(self, block: Sequence[int]) -> None:
        self.model.name_block([run for run in block if run in self.class_of], self.class_of)
        terms: Terms = {}
        weight = 1
        for run in reversed(block):
            choices = self._choices(run)
            if run not in self.unit_of:
                for nth, lot in enumerate(choices):
                    terms[self.model.named[run, lot]] = weight * nth
            elif not self._follows(run, block[: block.index(run)]):
                for col, places in self._ways(run):
                    rank = choices.index(places[self._nth(run)])
                    terms[col] = terms.get(col, 0) + weight * rank
            else:
                continue
            weight *= len(choices)
        self._lower(terms)
        for run in block:
            self._settle(run)

    def _now(self, terms: Terms) -> int:
        start = start_from(self.model, self.best.places)
        return sum(start[col] * by for col, by in terms.items())

    def _lower(self, terms: Terms) -> None:
        """Ask for anything earlier by code until there is nothing."""
        while True:
            with self.model.trial():
                self.model.mip.row(terms, upper=self._now(terms) - 1)
                found = self.model.solve(self.model.age(), None, self.best.effort)
            if found.values is None and found.proved:
                break
            before = self.best.places
            candidate = self.best.adopt(self.model, found)
            if self.best.places != before:
                continue
            if not found.proved or candidate is None or not self._spread(candidate):
                # The order by code has no size: what is open here is only whether it is unique.
                self.best.gaps[Stage.CODE] = 0.0
                break
        self.model.mip.row(terms, upper=self._now(terms))

    def _spread(self, candidate: Sequence[int]) -> bool:
        more = self.best.loose(candidate) - self.model.spread - self.unit_groups
        self.model.spread_more(more)
        return bool(more)


def differ_from(model: Model, start: Sequence[int]) -> None:
    """Ask for at least one run fewer somewhere than the columns' values `start` say."""
    fewer: Terms = {}
    told = [*model.option.values(), *model.block.values(), *model.count.values()]
    for col in told:
        if start[col]:
            less = model.add_column("less", col, 0, 1)
            # less = 1 only where the column stays under its value of now; it may rise otherwise.
            high = model.mip.upper[col]
            model.mip.row({col: 1, less: high - start[col] + 1}, upper=high)
            fewer[less] = 1
    model.mip.row(fewer, lower=1)
