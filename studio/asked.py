"""What can be asked of an open studio: reasons, prices, purchases, and what an edit would come to.

Nothing here changes the studio. What needs the solver says so: call it from a thread.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core.answers import RunRef, StudioPlan
from studio.core.costing import shade_cost
from studio.core.frozen import dataclass
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.model import ShadeRef, Studio
from studio.core.reconcile import Kept, Reconciled, reconcile

if TYPE_CHECKING:
    from studio.core.booking import HoldsBrokenError
    from studio.core.buying.question import Chosen
    from studio.core.buying.shelf import StapleLine
    from studio.core.buying.together import Wanted
    from studio.core.closing import Closing
    from studio.core.closing_say import Part
    from studio.core.demand import Demand
    from studio.core.enquiry import Answer, Ground
    from studio.core.price_sheet import Priced
    from studio.core.reasons import Step
    from studio.core.trial import Variant
    from studio.core.used import ToNote
    from studio.solving import SolverProcess
    from studio.storage.problems import FileProblem


@dataclass(frozen=True)
class Snapshot:
    """Everything a screen shows, at one moment."""

    studio: Studio
    plan: StudioPlan
    revision: int
    undo_label: str | None = None
    redo_label: str | None = None
    problems: tuple[FileProblem, ...] = ()
    unsaved: bool = False


class Asked:
    """A studio at one moment, to be asked; the workshop, which also changes it, builds on this."""

    snapshot: Snapshot
    _kept: Kept
    _lock: threading.RLock
    _aside: SolverProcess | None = None

    # What an edit would come to

    def breaks(
        self, edit: Callable[[Studio], Studio], cancelled: Callable[[], bool] = lambda: False
    ) -> HoldsBrokenError | None:
        """The promises of yarn that an edit would break, worked out exactly; None where none.

        Nothing is changed; it may be slow, so call it from a thread.
        """
        from studio.core.booking import HoldsBrokenError, check_holds

        broken: HoldsBrokenError | None = None

        def open_of(before: Snapshot, after: Studio, result: Reconciled) -> Iterable[ShadeProblem]:
            nonlocal broken
            broken = None
            try:
                check_holds(before.plan, result.plan, after, result.open_problems)
            except HoldsBrokenError as error:
                broken = error
                return error.open_problems
            return ()

        self._worked_out(edit, open_of, cancelled)
        return broken

    def plan_after(
        self,
        edit: Callable[[Studio], Studio],
        shades: Collection[ShadeRef],
        cancelled: Callable[[], bool] = lambda: False,
    ) -> tuple[Studio, StudioPlan]:
        """The studio as an edit would make it, and its plan, these shades worked out exactly.

        Nothing is changed; it may be slow, so call it from a thread.
        """

        def open_of(_: Snapshot, __: Studio, result: Reconciled) -> Iterable[ShadeProblem]:
            return [p for ref, p in result.open_problems.items() if ref in shades]

        after, result = self._worked_out(edit, open_of, cancelled)
        return after, result.plan

    def _worked_out(
        self,
        edit: Callable[[Studio], Studio],
        open_of: Callable[[Snapshot, Studio, Reconciled], Iterable[ShadeProblem]],
        cancelled: Callable[[], bool],
    ) -> tuple[Studio, Reconciled]:
        """The studio after an edit, solved until nothing is open that `open_of` still asks for."""
        with self._lock:
            before, kept = self.snapshot, self._kept
        after = edit(before.studio)
        solved: dict[ShadeProblem, ShadeAnswer] = {}
        while True:
            result = reconcile(after, kept, solved)
            wanted = [p for p in open_of(before, after, result) if p not in solved]
            found = self.answers_to(wanted, cancelled) if wanted else {}
            if not found:
                return after, result
            solved.update(found)

    # Enquiries

    def ground(
        self, today: date, without: str, solved: Mapping[ShadeProblem, ShadeAnswer]
    ) -> Ground:
        """The studio as it stands, to try a piece against; call it from a thread."""
        from studio.core.enquiry import ground_of

        with self._lock:
            studio, kept = self.snapshot.studio, self._kept
        return ground_of(studio, today, kept, without, solved)

    def answer_to(
        self, variant: Variant, today: date, cancelled: Callable[[], bool] = lambda: False
    ) -> Answer:
        """The exact answer to a trial; slow where shades are hard, call it from a thread."""
        from studio.core.enquiry import settled

        return settled(
            lambda solved: self.ground(today, variant.trial.key, solved),
            lambda asked: self.answers_to(asked, cancelled),
            variant.trial,
            variant.aim,
            variant.shown,
        )

    def why_lot(self, project: str, run: RunRef) -> tuple[Step, ...]:
        """The run's lot and, for each lot passed over, the reason; slow, call it from a thread."""
        from studio.core.lot_reasons import why_lot
        from studio.core.lots.explain import LotQuestion

        with self._lock:
            studio, kept = self.snapshot.studio, self._kept
        plan = next(r for r in kept.plans[project].runs if r.ref == run)
        outcome = kept.outcomes.get(plan.shade)
        reasons = None
        if outcome is not None and run.key in outcome.lot_of:
            question = LotQuestion(outcome.problem, outcome.answer, run.key)
            reasons = self._aside_process().explain(question)
        return why_lot(plan, outcome, reasons, studio)

    def answers_to(
        self, questions: Sequence[ShadeProblem], cancelled: Callable[[], bool]
    ) -> Mapping[ShadeProblem, ShadeAnswer]:
        """Exact answers to shades that a trial asks for, as many as came before it was cancelled.

        Call it from a thread.
        """
        found: dict[ShadeProblem, ShadeAnswer] = {}

        def keep(index: int, answer: ShadeAnswer) -> None:
            found[questions[index]] = answer

        self._aside_process().solve_many(questions, keep, cancelled, workers=1)
        return found

    def demand_of(self, project: str) -> Demand:
        """What a piece asks for, as it was last reckoned: papers and prices are made from it."""
        return self._kept.worked[project].demand

    def priced(self, project: str, shown: Decimal | None = None) -> Priced:
        """A piece of the studio priced as it stands today; `PriceError` where that cannot be."""
        from studio.core.price_sheet import priced

        with self._lock:
            studio, worked = self.snapshot.studio, self._kept.worked[project]
            plan = self.snapshot.plan.projects[project]
        return priced(studio.project[project], plan, worked.demand, studio, shown=shown)

    def to_note(self, project: str) -> tuple[ToNote, ...]:
        """What the worked rows of a piece have used that is not noted yet, by lot."""
        from studio.core.used import to_note, worked_runs

        with self._lock:
            studio, worked = self.snapshot.studio, self._kept.worked[project]
        runs = worked_runs(studio.project[project], worked.demand.runs, studio.settings)
        return to_note(runs, worked.demand.covered)

    def closing(self, project: str) -> Closing:
        """Actual against planned: grams, hours, money."""
        from studio.core.closing import closing_of

        with self._lock:
            studio, kept = self.snapshot.studio, self._kept
            plan = self.snapshot.plan.projects[project]
        demand = kept.worked[project].demand
        return closing_of(studio.project[project], plan, demand, kept.evidence or {}, studio)

    def why_closing(self, project: str) -> tuple[Part, ...]:
        """The sums behind every figure of a piece's account."""
        from studio.core.closing_why import sums

        with self._lock:
            studio, kept = self.snapshot.studio, self._kept
            plan = self.snapshot.plan.projects[project]
        demand = kept.worked[project].demand
        found = self.closing(project)
        return sums(found, studio.project[project], plan, demand, kept.evidence or {}, studio)

    # Buying

    @property
    def staples(self) -> tuple[StapleLine, ...]:
        """The shades she always keeps, against their reorder points."""
        return () if self._kept.shelf is None else self._kept.shelf.lines

    def wanted(self, today: date, chosen: Chosen) -> Wanted:
        """Everything a purchase for the chosen pieces rests on."""
        from studio.core.buying.asking import staple_worth, wanted_of

        with self._lock:
            kept, studio = self._kept, self.snapshot.studio
        worth = staple_worth(studio, () if kept.shelf is None else kept.shelf.lines)
        return wanted_of(studio, kept.outcomes, kept.plans, today, chosen, worth)

    # Reasons

    def why_size(self, project: str) -> tuple[Step, ...]:
        """The sum behind the achieved size."""
        from studio.core import reasons

        worked, studio = self._kept.worked[project], self.snapshot.studio
        return reasons.why_size(worked.demand, studio.project[project], studio)

    def why_need(self, project: str, run: RunRef) -> tuple[Step, ...]:
        """The sum behind a run's planned need."""
        from studio.core import reasons

        studio = self.snapshot.studio
        runs = self._kept.worked[project].demand.runs
        demand = next(r for r in runs if r.ref == run)
        return reasons.why_need(demand, studio.project[project], studio)

    def why_cost(self, project: str, shade: ShadeRef) -> tuple[Step, ...]:
        """The sum behind a shade's used and cash cost."""
        from studio.core import reasons

        kept, studio = self._kept, self.snapshot.studio
        outcome = kept.outcomes.get(shade)
        piece = studio.project[project]
        plan = next(s for s in kept.plans[project].shades if s.shade == shade)
        if not piece.stage.needs_yarn:
            outcome = None
        share = outcome.share(project) if outcome else None
        cost = shade_cost(
            piece,
            shade,
            kept.worked[project].by_shade[shade],
            outcome.lot_of if outcome else {},
            share,
            studio.library,
            studio.stash,
            studio.settings,
            kept.worked[project].demand.covered,
        )
        return reasons.why_cost(cost, share, plan, studio)

    # The solver

    def _aside_process(self) -> SolverProcess:
        """For what is asked beside the plan, so that it never waits for what `settle` is at."""
        if self._aside is None:
            from studio.solving import SolverProcess

            self._aside = SolverProcess()
        return self._aside
