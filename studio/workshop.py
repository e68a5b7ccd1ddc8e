"""The open studio: one immutable snapshot at a time, edits as commands, undo, redo and saving.

Screens and scripts go through here and through nothing else: an edit is a function from studio to
studio, its answer is reconciled at once as far as that is quick, hard shades follow from a worker
thread, and files are written from another. The lock guards the few lines that change the state;
no file is read and no solver waited for while it is held.
"""

from __future__ import annotations

import gc
import itertools
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core.answers import Finding, RunRef, StudioPlan
from studio.core.costing import shade_cost
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.model import Settings, ShadeRef, Studio
from studio.core.reconcile import Kept, Reconciled, reconcile
from studio.errors import EditRefusedError, SaveError

if TYPE_CHECKING:
    from studio.core.booking import HoldsBrokenError
    from studio.core.buying.question import Chosen
    from studio.core.buying.shelf import StapleLine
    from studio.core.buying.together import Wanted
    from studio.core.demand import Demand
    from studio.core.enquiry import Answer, Ground
    from studio.core.price_sheet import Priced
    from studio.core.reasons import Step
    from studio.core.trial import Variant
    from studio.solving import SolverProcess
    from studio.storage.disk import Stamps
    from studio.storage.problems import FileProblem

MERGE_EVERY_S = 0.25
"""How often answers that arrive are put on the screen; each merge costs a few milliseconds."""

UNDO_DEPTH = 500

SOLVE_HERE = 6
"""Up to so many shades, starting worker processes takes longer than the solving."""


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


@dataclass(frozen=True, slots=True)
class _Step:
    """A studio as it was before a labelled edit (or, for redo, after it)."""

    label: str
    studio: Studio


_EMPTY_PLAN = StudioPlan(projects={}, lots={}, shortfalls=(), shades={})


class Workshop:
    """One studio folder, open."""

    def __init__(
        self,
        studio: Studio,
        folder: Path | None = None,
        stamps: Stamps | None = None,
        problems: tuple[FileProblem, ...] = (),
        tick: Callable[[], None] = lambda: None,
        today: Callable[[], date] = date.today,
    ) -> None:
        self.folder = folder
        self._today = today
        self._stamps = stamps
        self._saved = studio
        self._lock = threading.RLock()
        self._save_lock = threading.Lock()
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self._solver: SolverProcess | None = None
        self._aside: SolverProcess | None = None
        first = reconcile(studio, tick=tick, today=today())
        self._kept: Kept = first.kept
        self._open: Mapping[ShadeRef, ShadeProblem] = first.open_problems
        self.snapshot = Snapshot(studio, first.plan, 0, problems=problems)

    @classmethod
    def blank(cls) -> Workshop:
        """A workshop with nothing in it, to paint before the studio has been read."""
        return cls(Studio(Settings("")))

    @classmethod
    def open(
        cls,
        folder: Path,
        progress: Callable[[int, int], None] | None = None,
        today: Callable[[], date] = date.today,
    ) -> Workshop:
        """Read a studio folder; broken files are told in the snapshot, never raised."""
        from studio.storage.read import load_studio

        loaded = load_studio(folder, progress)
        opened = cls(loaded.studio, folder, loaded.stamps, loaded.problems, today=today)
        # What is open stays for the session; looking through it for garbage delays the keyboard.
        gc.freeze()
        return opened

    def follow(self, before: Workshop) -> bool:
        """Take over undo and redo of the same folder, read anew; False where steps were lost.

        What was changed in the files meanwhile stays, whichever step is taken back. A step whose
        own edit touched what was changed there is lost, and all before it with it.
        """
        if before.folder is None or before.folder != self.folder or before.snapshot.unsaved:
            return not (before._undo or before._redo)
        self._undo = self._carried(before._undo, before._saved)
        self._redo = self._carried(before._redo, before._saved)
        self.snapshot = replace(
            self.snapshot,
            undo_label=self._undo[-1].label if self._undo else None,
            redo_label=self._redo[-1].label if self._redo else None,
        )
        return (len(self._undo), len(self._redo)) == (len(before._undo), len(before._redo))

    def _carried(self, steps: Sequence[_Step], was: Studio) -> list[_Step]:
        """The newest steps that can be carried over to what the files hold now, oldest first."""
        from studio.core.carried import carried

        kept: list[_Step] = []
        for step in reversed(steps):
            studio = carried(step.studio, was, self.snapshot.studio)
            if studio is None:
                break
            kept.append(_Step(step.label, studio))
        return kept[::-1]

    # Edits

    def do(
        self, label: str, edit: Callable[[Studio], Studio], *, mind_holds: bool = False
    ) -> Snapshot:
        """Make an edit; `EditRefusedError` leaves everything as it was.

        With `mind_holds` so does `HoldsBrokenError`, where it would break a promise of yarn.
        """
        with self._lock:
            before = self.snapshot
            after = edit(before.studio)
            if after is before.studio:
                return before
            result = reconcile(after, self._kept, today=self._today())
            if mind_holds:
                from studio.core.booking import check_holds

                check_holds(before.plan, result.plan, after, result.open_problems)
            self._undo.append(_Step(label, before.studio))
            del self._undo[:-UNDO_DEPTH]
            self._redo.clear()
            return self._take(after, result, before.revision + 1)

    def breaks(
        self, edit: Callable[[Studio], Studio], cancelled: Callable[[], bool] = lambda: False
    ) -> HoldsBrokenError | None:
        """The promises of yarn that an edit would break, worked out exactly; None where none.

        Nothing is changed; it may be slow, so call it from a thread.
        """
        from studio.core.booking import HoldsBrokenError, check_holds

        with self._lock:
            before, kept = self.snapshot, self._kept
        after = edit(before.studio)
        solved: dict[ShadeProblem, ShadeAnswer] = {}
        while True:
            result = reconcile(after, kept, solved)
            try:
                check_holds(before.plan, result.plan, after, result.open_problems)
            except HoldsBrokenError as error:
                wanted = [p for p in error.open_problems if p not in solved]
                found = self.answers_to(wanted, cancelled) if wanted else {}
                if not found:
                    return error
                solved.update(found)
            else:
                return None

    def undo(self) -> Snapshot:
        """Take the last edit back."""
        return self._swap(self._undo, self._redo)

    def redo(self) -> Snapshot:
        """Make the edit that was taken back again."""
        return self._swap(self._redo, self._undo)

    def _swap(self, take: list[_Step], give: list[_Step]) -> Snapshot:
        with self._lock:
            if not take:
                return self.snapshot
            step = take.pop()
            give.append(_Step(step.label, self.snapshot.studio))
            return self._become(step.studio)

    def _become(
        self, studio: Studio, solved: Mapping[ShadeProblem, ShadeAnswer] | None = None
    ) -> Snapshot:
        result = reconcile(studio, self._kept, solved, today=self._today())
        return self._take(studio, result, self.snapshot.revision + (0 if solved else 1))

    def _take(self, studio: Studio, result: Reconciled, revision: int) -> Snapshot:
        """Make a reconciled studio the one that is shown."""
        self._kept, self._open = result.kept, result.open_problems
        self.snapshot = Snapshot(
            studio=studio,
            plan=result.plan,
            revision=revision,
            undo_label=self._undo[-1].label if self._undo else None,
            redo_label=self._redo[-1].label if self._redo else None,
            problems=self.snapshot.problems,
            unsaved=studio is not self._saved,
        )
        return self.snapshot

    # Hard shades

    def settle(
        self,
        cancelled: Callable[[], bool],
        on_snapshot: Callable[[Snapshot], None],
        first: str | None = None,
    ) -> None:
        """Solve what is pending, in a thread; a newer edit makes it start over with what is left.

        Shades of the project `first` come first. `on_snapshot` is called from this thread.
        """
        while not cancelled():
            with self._lock:
                revision = self.snapshot.revision
                questions = self._by_urgency(first)
            if not questions:
                return
            self._solve(
                questions,
                lambda r=revision: cancelled() or self.snapshot.revision != r,  # type: ignore[misc]
                on_snapshot,
            )

    def settle_here(self, progress: Callable[[int, int], None] | None = None) -> Snapshot:
        """Solve what is pending and wait for it: in this process for a few, else in workers."""
        questions = self._by_urgency(None)
        if not questions:
            return self.snapshot
        fresh: dict[ShadeProblem, ShadeAnswer] = {}

        def keep(index: int, answer: ShadeAnswer) -> None:
            fresh[questions[index]] = answer
            if progress is not None:
                progress(len(fresh), len(questions))

        if len(questions) <= SOLVE_HERE:
            from studio.solving import solve_here

            for index, answer in enumerate(solve_here(questions)):
                keep(index, answer)
        else:
            self._solver_process().solve_many(questions, keep, lambda: False)
        with self._lock:
            return self._become(self.snapshot.studio, fresh)

    def _by_urgency(self, first: str | None) -> list[ShadeProblem]:
        def asks(problem: ShadeProblem) -> bool:
            return any(p.key == first for p in problem.pieces)

        return sorted(self._open.values(), key=lambda p: (not asks(p), len(p.pieces)))

    def _solve(
        self,
        questions: list[ShadeProblem],
        stop: Callable[[], bool],
        on_snapshot: Callable[[Snapshot], None],
    ) -> None:
        fresh: dict[ShadeProblem, ShadeAnswer] = {}
        merged_at = time.monotonic()

        def merge() -> None:
            nonlocal merged_at
            with self._lock:
                snapshot = self._become(self.snapshot.studio, dict(fresh))
            fresh.clear()
            on_snapshot(snapshot)
            merged_at = time.monotonic()

        def keep(index: int, answer: ShadeAnswer) -> None:
            fresh[questions[index]] = answer
            if time.monotonic() - merged_at >= MERGE_EVERY_S:
                merge()

        self._solver_process().solve_many(questions, keep, stop)
        if fresh:
            merge()

    def _solver_process(self) -> SolverProcess:
        if self._solver is None:
            from studio.solving import SolverProcess

            self._solver = SolverProcess()
        return self._solver

    def _aside_process(self) -> SolverProcess:
        """For what is asked beside the plan, so that it never waits for what `settle` is at."""
        if self._aside is None:
            from studio.solving import SolverProcess

            self._aside = SolverProcess()
        return self._aside

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

    # Buying

    @property
    def staples(self) -> tuple[StapleLine, ...]:
        """The shades she always keeps, against their reorder points."""
        return () if self._kept.shelf is None else self._kept.shelf.lines

    def wanted(self, today: date, chosen: Chosen) -> Wanted:
        """Everything a purchase for the chosen pieces rests on."""
        from studio.core.buying.asking import wanted_of
        from studio.core.buying.shelf import staple_worth

        with self._lock:
            kept, studio = self._kept, self.snapshot.studio
        worth = staple_worth(studio, () if kept.shelf is None else kept.shelf.lines)
        return wanted_of(studio, kept.outcomes, kept.plans, today, chosen, worth)

    # Reasons and mends

    def mend(self, finding: Finding) -> Snapshot:
        """Do the finding's first mend as one edit.

        `EditRefusedError` where it cannot be done, `HoldsBrokenError` where a promise would break.
        """
        from studio.core import mends

        label = finding.mend.value if finding.mend else "mend"
        plan = self.snapshot.plan.projects.get(finding.project or "")
        if plan is None:
            raise EditRefusedError("There is no ready mend for this; open its place and change it.")
        return self.do(label, lambda studio: mends.mend(studio, finding, plan), mind_holds=True)

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
        )
        return reasons.why_cost(cost, share, plan, studio)

    # Files

    def save(self) -> Snapshot:
        """Write what changed since the last save; call it from a thread.

        Raises `SaveError` (nothing lost, still unsaved) or `ChangedOnDiskError`.
        """
        with self._save_lock:
            studio = self.snapshot.studio
            if self.folder is not None and self._stamps is not None and studio is not self._saved:
                from studio.storage.write import PartlySavedError, save_changes

                try:
                    self._stamps = save_changes(self.folder, self._saved, studio, self._stamps)
                except PartlySavedError as stopped:
                    # Some files are written already; the next save goes on from there.
                    self._stamps = stopped.stamps
                    raise
            with self._lock:
                self._saved = studio
                self.snapshot = replace(self.snapshot, unsaved=self.snapshot.studio is not studio)
                return self.snapshot

    def save_copy(self) -> Path:
        """Write the whole studio into a new folder beside its own, so that neither side is lost."""
        from studio.storage.write import save_changes

        if self.folder is None:
            raise SaveError("This studio has no folder.")
        names = (f"{self.folder.name}-yours-{i}" for i in itertools.count(1))
        place = next(p for n in names if not (p := self.folder.parent / n).exists())
        try:
            place.mkdir()
        except OSError as error:
            raise SaveError(f"{place} could not be made: {error}.") from error
        save_changes(place, None, self.snapshot.studio, {})
        return place

    def changed_on_disk(self) -> tuple[str, ...]:
        """The files that somebody else has changed since they were read; cheap enough to poll."""
        if self.folder is None or self._stamps is None:
            return ()
        from studio.storage.disk import changed_on_disk

        return changed_on_disk(self.folder, self._stamps)

    def close(self) -> None:
        """Let the solver processes go."""
        for solver in (self._solver, self._aside):
            if solver is not None:
                solver.close()
        self._solver = self._aside = None
