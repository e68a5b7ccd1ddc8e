"""The open studio on the screen: its workshop, the one snapshot, and the workers that serve it.

Here is what goes on without being asked: reading, showing, working out, saving, watching the files.
What the maker asks for is in `app`.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import threading
from collections import defaultdict
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import TYPE_CHECKING, cast

from textual import work
from textual.app import App
from textual.screen import Screen
from textual.timer import Timer
from textual.worker import WorkerCancelled, get_current_worker

from studio.errors import ChangedOnDiskError, EditRefusedError, PromiseBrokenError, StudioError
from studio.ui import asking, themes
from studio.ui.bench import Bench
from studio.ui.keymap import NO_KEYMAP, Keymap, read_keymap

# The core and the panes are read in after the first paint, by the thread that opens the studio.
if TYPE_CHECKING:
    from studio.asked import Snapshot
    from studio.core.model import Project, Studio
    from studio.core.trial import Variant
    from studio.ui.beside import Beside
    from studio.ui.view import View
    from studio.workshop import Workshop

SAVE_AFTER_S = 0.7
WATCH_EVERY_S = 5.0
STEPS_LOST = "Undo no longer reaches back to what was changed there."
PROGRESS_EVERY = 40
"""Files between two words on how far the reading is; each word waits for the screen."""

if TYPE_CHECKING:
    Factory = Callable[[Path], Workshop]


class Session(App[None], inherit_bindings=False):
    """An app that holds one studio folder open."""

    CSS_PATH = "base.tcss"
    ENABLE_COMMAND_PALETTE = False

    def __init__(self, folder: Path | None, *, workshop_factory: Factory | None = None) -> None:
        # Textual would only turn colours into greys; in this mode it leaves all of them out.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.animation_level = "none"
        self.folder = folder
        self.workshop: Workshop
        self.view: View
        self.keymap = NO_KEYMAP
        self.drafts: defaultdict[str, dict[str, str]] = defaultdict(dict)
        self.trials: dict[str, tuple[tuple[Variant, ...], tuple[Project, ...]]] = {}
        self.begun: dict[str, tuple[Variant, ...]] = {}
        self.opened = threading.Event()
        self.themes = themes.Themes({})
        self._factory = workshop_factory
        self._save_timer: Timer | None = None
        self._watching: Timer | None = None
        self._asking_disk = False
        self._guided = False
        self.notices: tuple[str, ...] = ()

    # Opening

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Our names for colours, so that no style sheet lacks one."""
        return themes.default_variables()

    def on_load(self) -> None:
        """Themes are there before the first paint."""
        found, key = themes.first_theme(self.folder)
        self._use_themes(found)
        self.theme = key

    def _use_themes(self, found: themes.Themes) -> None:
        self.themes = found
        themes.install(self, found)

    def use_theme(self, wanted: str) -> None:
        """Paint in this theme, or in the default one where it is not there, and say so."""
        key, problem = self.themes.choose(wanted)
        self.theme = key
        if problem:
            self.say(problem, needs_you=True)

    def get_default_screen(self) -> Screen[None]:
        """The bench is what is painted first, before a file is read."""
        return Bench()

    @property
    def bench(self) -> Bench:
        """The bench, also while a dialog stands over it."""
        screen = self.screen_stack[0]
        if not isinstance(screen, Bench):
            raise LookupError("the bench is not there yet")
        return screen

    @property
    def desks(self) -> list[Bench | Beside]:
        """The bench and what stands beside it, the one at hand last."""
        found = [screen for screen in self.screen_stack if getattr(screen, "is_desk", False)]
        return cast("list[Bench | Beside]", found)

    @property
    def desk(self) -> Bench | Beside:
        """Where the maker sits, also while a dialog stands over it."""
        return self.desks[-1]

    @property
    def beside(self) -> Beside | None:
        """The screen beside the bench that the maker sits at, if it is not the bench."""
        return None if isinstance(self.desk, Bench) else self.desk

    def on_mount(self) -> None:
        """Begin to read the studio once the frame is up."""
        self.call_after_refresh(self.read_studio)

    def on_unmount(self) -> None:
        """However the app was left, no solver process stays."""
        self._close()

    @work(thread=True, exclusive=True, group="open")
    def read_studio(self, told: str = "") -> None:
        """Furnish the bench and read the studio folder, in a thread."""
        import studio.ui.panes.stripes  # noqa: F401 - read in here rather than by the screen
        from studio.workshop import Workshop

        seen = self.workshop.snapshot.studio if self.opened.is_set() else None

        if not self.bench.furnished:
            # The signature cannot tell an awaited result from a plain one.
            furnished: bool = self.call_from_thread(self._furnish)  # type: ignore[arg-type]
            if not furnished:
                return
        if self.folder is None:
            found = themes.load_themes()
            self.call_from_thread(self._read, Workshop.blank(), NO_KEYMAP, found, told, seen)
            return
        try:
            keymap = read_keymap(self.folder)
            found = themes.load_themes(self.folder / "themes")
            if self._factory is not None:
                workshop = self._factory(self.folder)
            else:
                workshop = Workshop.open(self.folder, self._read_so_far)
        except StudioError as error:
            self.call_from_thread(self.say, error.text, needs_you=True)
            return
        self.call_from_thread(self._read, workshop, keymap, found, told, seen)

    def _read_so_far(self, done: int, of: int) -> None:
        """Say how far the reading is, where it takes long; called from its thread."""
        if done and done % PROGRESS_EVERY == 0:
            words = f"opening the studio ... {done} of {of} files"
            self.call_from_thread(self.bench.answers.say, words)

    async def _furnish(self) -> bool:
        """Furnish the bench; False where the app has been left meanwhile."""
        if self.is_running:
            await self.bench.furnish()
        return self.is_running

    async def save_and_read(self) -> None:
        """Save, and read all files again, so that what was told of them is as they are now."""
        await asyncio.to_thread(self.workshop.save)
        # A reading asked for meanwhile, or leaving, takes the place of this one.
        with contextlib.suppress(WorkerCancelled):
            await self.read_studio().wait()

    def _read(
        self,
        workshop: Workshop,
        keymap: Keymap,
        found: themes.Themes,
        told: str,
        seen: Studio | None,
    ) -> None:
        if seen is not None and self.workshop.snapshot.studio is not seen:
            # Something was changed here while the files were read, and must not be lost: it is
            # saved first, and what others changed is then seen by the next look at the files.
            workshop.close()
            return
        lost = self.opened.is_set() and not workshop.follow(self.workshop)
        told = told if not (told and lost) else f"{told} {STEPS_LOST}"
        self._close()
        self.workshop = workshop
        self.keymap = keymap
        self.set_keymap(keymap.keys)
        self.bench.use_keymap(keymap)
        self._use_themes(found)
        self.use_theme(workshop.snapshot.studio.settings.theme)
        self.notices = (*keymap.problems, *found.problems)
        self.take(workshop.snapshot)
        new = _is_new(workshop.snapshot, self.folder)
        problems = [] if new else [str(p) for p in workshop.snapshot.problems]
        wrong = (*problems, *self.notices)
        told = " ".join((*workshop.told, *filter(None, [told])))
        if told:
            self.say(told)
        if wrong:
            more = f" And {len(wrong) - 1} more under Findings." if len(wrong) > 1 else ""
            self.say(wrong[0] + more, needs_you=True)
        self.opened.set()
        if self._watching is None:
            self._watching = self.set_interval(WATCH_EVERY_S, self._watch)
        if new and not self._guided:
            self._guided = True
            self.ask("first_run")

    def _close(self) -> None:
        """Let the open workshop go; what is being worked out for it is wanted no more."""
        self.workers.cancel_group(self, "settle")
        if self.opened.is_set():
            self.workshop.close()

    # The snapshot

    def take(self, snapshot: Snapshot, key: str | None = None) -> None:
        """Show a snapshot; the piece at hand stays at hand while it is there."""
        pieces = snapshot.studio.project
        before = self.view.key if self.opened.is_set() else None
        key = next((k for k in (key, before) if k in pieces), None)
        if key is None and pieces:
            key = _first_piece(snapshot)
        self._look(snapshot, key)
        self._tell_saved(snapshot)
        if snapshot.plan.pending:
            self._settle(key)
        if snapshot.unsaved:
            if self._save_timer is not None:
                self._save_timer.stop()
            self._save_timer = self.set_timer(SAVE_AFTER_S, self._save)

    def _look(self, snapshot: Snapshot, key: str | None) -> None:
        """Show a snapshot from a piece where the maker sits; other desks catch up when seen."""
        from studio.ui.view import View

        self.view = View(snapshot, key, notices=self.notices)
        self.catch_up()

    def catch_up(self) -> None:
        """Show what there is now where the maker sits."""
        if self.desk.view is not self.view:
            self.desk.show(self.view)

    def edit(
        self,
        label: str,
        change: asking.Change,
        stand: Hashable = None,
        *,
        mind_holds: bool = True,
    ) -> bool:
        """Make a change; a refusal is told in its own words. True where it was made.

        One that would break a promise of yarn is asked about first, unless holds are not minded.
        """
        try:
            snapshot = self.workshop.do(label, change, mind_holds=mind_holds)
        except EditRefusedError as error:
            self.say(error.text, needs_you=True)
            return False
        except PromiseBrokenError as error:
            self.ask("promise", (label, change, stand, error))
            return False
        self._after(snapshot, stand)
        return True

    def _after(self, snapshot: Snapshot, stand: Hashable) -> None:
        with self.batch_update():
            self.take(snapshot, stand if isinstance(stand, str) else None)
            if stand is not None and self.beside is not None:
                self.beside.stand(stand)
            elif stand is not None:
                self.bench.pane.list.go_to(stand)
                self.bench.stripes.mark_cloth()

    def say(self, text: str, *, needs_you: bool = False) -> None:
        """Say a sentence at the foot of the screen."""
        self.desk.say_line.say(text, needs_you=needs_you)

    @work(thread=True, exclusive=True, group="settle")
    def _settle(self, key: str | None) -> None:
        worker = get_current_worker()
        workshop = self.workshop
        try:
            workshop.settle(
                lambda: worker.is_cancelled,
                lambda snapshot: self.call_from_thread(self._settled, workshop, snapshot),
                key,
            )
        except StudioError as error:
            if not worker.is_cancelled and workshop is self.workshop:
                self.call_from_thread(self.say, error.text, needs_you=True)

    def _settled(self, workshop: Workshop, snapshot: Snapshot) -> None:
        """Show what was worked out, unless another edit or another reading has come between."""
        current = workshop is self.workshop and snapshot.revision == workshop.snapshot.revision
        if current and self.is_running:
            self._look(snapshot, self.view.key)

    # Files

    def _tell_saved(self, snapshot: Snapshot) -> None:
        self._show_saved(
            "saving ..." if snapshot.unsaved else ("saved" if snapshot.revision else "")
        )

    def _show_saved(self, words: str) -> None:
        for desk in self.desks:
            desk.say_line.show_saved(words)

    @work(thread=True, group="save")
    def _save(self) -> None:
        try:
            snapshot = self.workshop.save()
        except ChangedOnDiskError as error:
            self.call_from_thread(self._changed_on_disk, error.text)
        except StudioError as error:
            self.call_from_thread(self._not_saved, error.text)
        else:
            self.call_from_thread(self._tell_saved, snapshot)

    def _not_saved(self, text: str) -> None:
        self._show_saved("not saved")
        self.say(text, needs_you=True)

    def _changed_on_disk(self, text: str) -> None:
        self._show_saved("not saved")
        if not self._asking_disk:
            self._asking_disk = True
            self.ask("changed_on_disk", text)

    def disk_settled(self) -> None:
        """The question about a changed file has been answered."""
        self._asking_disk = False

    @work(thread=True, exclusive=True, group="watch")
    def _watch(self) -> None:
        workshop = self.workshop
        if not workshop.snapshot.unsaved and workshop.changed_on_disk():
            self.call_from_thread(self.read_studio, "A file was changed outside; read again.")

    # What the app itself knows how to do

    def ask(self, what: str, subject: object = None) -> None:
        """Go to a place, or begin what needs a dialog."""
        raise NotImplementedError

    def end(self) -> None:
        """Leave now."""
        self.exit()


def _is_new(snapshot: Snapshot, folder: Path | None) -> bool:
    """Whether there is nothing yet, and nothing that merely could not be read."""
    if folder is None:
        return not snapshot.studio.projects
    broken = any((folder / problem.file).exists() for problem in snapshot.problems)
    return not broken and not snapshot.studio.projects


def _first_piece(snapshot: Snapshot) -> str | None:
    """The piece to begin with: the first one being made, else the first in working order."""
    from studio.ui.panes.projects import in_working_order

    pieces = in_working_order(snapshot.studio.projects)
    return pieces[0].key if pieces else None
