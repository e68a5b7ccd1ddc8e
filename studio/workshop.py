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
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from studio import clock
from studio.asked import Asked, Snapshot
from studio.core.answers import Finding
from studio.core.frozen import dataclass
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.model import Settings, ShadeRef, Studio
from studio.core.reconcile import Kept, Reconciled, reconcile
from studio.errors import EditRefusedError, SaveError

if TYPE_CHECKING:
    from studio.solving import SolverProcess
    from studio.storage.disk import Stamps
    from studio.storage.problems import FileProblem

MERGE_EVERY_S = 0.25
"""How often answers that arrive are put on the screen; each merge costs a few milliseconds."""

UNDO_DEPTH = 500

SOLVE_HERE = 6
"""Up to so many shades, starting worker processes takes longer than the solving."""


@dataclass(frozen=True, slots=True)
class _Step:
    """A studio as it was before a labelled edit (or, for redo, after it)."""

    label: str
    studio: Studio


class Workshop(Asked):
    """One studio folder, open."""

    def __init__(
        self,
        studio: Studio,
        folder: Path | None = None,
        stamps: Stamps | None = None,
        problems: tuple[FileProblem, ...] = (),
        tick: Callable[[], None] = lambda: None,
    ) -> None:
        self.folder = folder
        self._stamps = stamps
        self._saved = studio
        self._lock = threading.RLock()
        self._save_lock = threading.Lock()
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []
        self.meant: set[tuple[str, str]] = set()
        self._solver: SolverProcess | None = None
        self.told: tuple[str, ...] = ()
        """What was done on opening with a save that had been cut short, a sentence each."""
        first = reconcile(studio, tick=tick, today=clock.today())
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
    ) -> Workshop:
        """Read a studio folder; broken files are told in the snapshot, never raised."""
        from studio.storage.read import load_studio

        # What is opened stays: looking through it for garbage finds none while it is made, and
        # delays the keyboard ever after.
        gc.disable()
        try:
            loaded = load_studio(folder, progress)
            opened = cls(loaded.studio, folder, loaded.stamps, loaded.problems)
            opened.told = loaded.told
            gc.freeze()
        finally:
            gc.enable()
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
        self.meant = before.meant
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

        With `mind_holds` so does `HoldsBrokenError`, where it would break a promise of yarn, and
        `StandingError`, where it touches what stands and is not among what she has `meant`.
        """
        with self._lock:
            before = self.snapshot
            after = edit(before.studio)
            if after is before.studio:
                return before
            if mind_holds:
                from studio.core.standing import check_standing

                check_standing(before.studio, after, self.meant)
            result = reconcile(after, self._kept, today=clock.today())
            if mind_holds:
                from studio.core.booking import check_holds

                check_holds(before.plan, result.plan, after, result.open_problems)
            self._undo.append(_Step(label, before.studio))
            del self._undo[:-UNDO_DEPTH]
            self._redo.clear()
            return self._take(after, result, before.revision + 1)

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
        result = reconcile(studio, self._kept, solved, today=clock.today())
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
            from studio.solving_here import solve_here

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

    # Mends

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
                    # Some files may be written already; the next save goes on from there, and is
                    # made also where she takes everything back.
                    self._stamps = stopped.stamps
                    with self._lock:
                        self._saved = replace(self._saved)
                        self.snapshot = replace(self.snapshot, unsaved=True)
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
