"""The app: owns the open workshop and its one snapshot, the workers, the theme and the keys."""

from __future__ import annotations

import asyncio
import os
import threading
from collections import defaultdict
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, cast

from textual import work
from textual.app import App
from textual.binding import BindingType
from textual.screen import Screen
from textual.timer import Timer
from textual.worker import get_current_worker

from studio.errors import ChangedOnDiskError, EditRefusedError, StudioError
from studio.ui import asking, keys, themes
from studio.ui.bench import Bench

# The core and the panes are read in after the first paint, by the thread that opens the studio.
if TYPE_CHECKING:
    from studio.core.answers import Finding
    from studio.core.model import Stage
    from studio.core.trial import Variant
    from studio.ui.beside import Beside
    from studio.ui.view import View
    from studio.workshop import Snapshot, Workshop

SAVE_AFTER_S = 0.7
WATCH_EVERY_S = 5.0
PROGRESS_EVERY = 40
"""Files between two words on how far the reading is; each word waits for the screen."""

if TYPE_CHECKING:
    Factory = Callable[[Path], Workshop]


class StripewrightApp(App[None], inherit_bindings=False):
    """Stripewright in a terminal, on one studio folder."""

    TITLE = "Stripewright"
    CSS_PATH = "base.tcss"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings(keys.EVERYWHERE)

    def __init__(self, folder: Path | None, *, workshop_factory: Factory | None = None) -> None:
        # Textual would only turn colours into greys; in this mode it leaves all of them out.
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.animation_level = "none"
        self.folder = folder
        self.workshop: Workshop
        self.view: View
        self.keymap = keys.NO_KEYMAP
        self.drafts: defaultdict[str, dict[str, str]] = defaultdict(dict)
        self.trials: dict[str, tuple[Variant, ...]] = {}
        self.opened = threading.Event()
        self.themes = themes.Themes({})
        self._factory = workshop_factory
        self._save_timer: Timer | None = None
        self._watching: Timer | None = None
        self._asking_disk = False
        self._guided = False

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

    @work(thread=True, exclusive=True, group="open")
    def read_studio(self, told: str = "") -> None:
        """Furnish the bench and read the studio folder, in a thread."""
        import studio.ui.panes.stripes  # noqa: F401 - read in here rather than by the screen
        from studio.workshop import Workshop

        if not self.bench.furnished:
            # The signature cannot tell an awaited result from a plain one.
            furnished: bool = self.call_from_thread(self._furnish)  # type: ignore[arg-type]
            if not furnished:
                return
        if self.folder is None:
            found = themes.load_themes()
            self.call_from_thread(self._read, Workshop.blank(), keys.NO_KEYMAP, found, told)
            return
        try:
            keymap = keys.read_keymap(self.folder)
            found = themes.load_themes(self.folder / "themes")
            if self._factory is not None:
                workshop = self._factory(self.folder)
            else:
                workshop = Workshop.open(self.folder, self._read_so_far)
        except StudioError as error:
            self.call_from_thread(self.say, error.text, needs_you=True)
            return
        self.call_from_thread(self._read, workshop, keymap, found, told)

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
        await self.read_studio().wait()

    def _read(
        self, workshop: Workshop, keymap: keys.Keymap, found: themes.Themes, told: str
    ) -> None:
        self._close()
        self.workshop = workshop
        self.keymap = keymap
        self.set_keymap(keymap.keys)
        self.bench.use_keymap(keymap)
        self._use_themes(found)
        self.use_theme(workshop.snapshot.studio.settings.theme)
        self.take(workshop.snapshot)
        new = _is_new(workshop.snapshot, self.folder)
        problems = [] if new else [str(p) for p in workshop.snapshot.problems]
        for words in (*([told] if told else []), *found.problems, *keymap.problems, *problems[:1]):
            self.say(words, needs_you=words != told)
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
        """Show a snapshot from a piece, on the bench and on what stands beside it."""
        from studio.ui.view import View

        self.view = View(snapshot, key)
        for desk in self.desks:
            desk.show(self.view)

    def edit(self, label: str, change: asking.Change, stand: Hashable = None) -> bool:
        """Make a change; a refusal is told in its own words. True where it was made."""
        try:
            snapshot = self.workshop.do(label, change)
        except EditRefusedError as error:
            self.say(error.text, needs_you=True)
            return False
        self._after(snapshot, stand)
        return True

    def _after(self, snapshot: Snapshot, stand: Hashable) -> None:
        with self.batch_update():
            self.take(snapshot, stand if isinstance(stand, str) else None)
            if stand is not None:
                self.bench.pane.list.go_to(stand)
                self.bench.stripes.mark_cloth()
                if self.beside is not None:
                    self.beside.stand(stand)

    def stand_on_piece(self, key: str) -> None:
        """Put a piece at hand in all panes."""
        self._look(self.workshop.snapshot, key)

    def to_stage(self, key: str, stage: Stage) -> None:
        """Bring a piece to a stage; booking promises it the plan's lots."""
        from studio.core import booking

        plan = self.view.snapshot.plan.projects.get(key)
        name = self.view.studio.project[key].name
        self.edit(f"{name} to {stage.value}", lambda s: booking.to_stage(s, key, stage, plan), key)

    def finding_at_hand(self) -> Finding | None:
        """The finding the maker stands on: in their list, or the first of the stripe at hand."""
        if self.bench.at == "findings":
            return self.bench.findings.finding
        index, plan = self.bench.stripes.index, self.view.plan
        found = [f for f in plan.findings if f.stripe == index] if plan else []
        return next((f for f in found if f.mend and not f.accepted), next(iter(found), None))

    def mend(self, finding: Finding) -> None:
        """Do a finding's first mend; undo takes it back."""
        try:
            snapshot = self.workshop.mend(finding)
        except EditRefusedError as error:
            self.say(error.text, needs_you=True)
            return
        self._after(snapshot, None)
        self.say(f"mended: {snapshot.undo_label}; {self.keymap.shown(keys.BY_ID['undo'])} undoes")

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
        if workshop is self.workshop and snapshot.revision == workshop.snapshot.revision:
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

    # What panes ask for

    def on_edit(self, message: asking.Edit) -> None:
        """A pane asked for a change."""
        message.stop()
        self.edit(message.label, message.change, message.stand)

    def on_said(self, message: asking.Said) -> None:
        """A pane has something to say."""
        message.stop()
        self.say(message.text, needs_you=message.needs_you)

    def on_piece_at_hand(self, message: asking.PieceAtHand) -> None:
        """Another piece is at hand."""
        message.stop()
        if message.key != self.view.key:
            self._look(self.workshop.snapshot, message.key)

    def on_ask(self, message: asking.Ask) -> None:
        """A pane asked for a dialog or another place."""
        message.stop()
        self.ask(message.what, message.subject)

    def ask(self, what: str, subject: object = None) -> None:
        """Go to a place, or begin what needs a dialog; one at a time."""
        refused = self.beside.refuses(what) if self.beside is not None else ""
        if refused:
            self.say(refused)
        elif what == "to_stage" and isinstance(subject, tuple):
            self.to_stage(*subject)
        elif what in {"projects", "stripes", "stash", "cost", "findings"}:
            self.go_to(what)
        elif what == "place":
            self.go_to_finding(subject)  # type: ignore[arg-type]
        else:
            self._flow(what, subject)

    @work(group="dialog")
    async def _flow(self, what: str, subject: object) -> None:
        await self.begin(what, subject)

    async def begin(self, what: str, subject: object = None) -> None:
        """Take the steps of a dialog, from within another one's."""
        from studio.ui.flows import FLOWS

        try:
            await FLOWS[what](self, subject)
        except StudioError as error:
            self.say(error.text, needs_you=True)

    def go_to(self, name: str) -> None:
        """Go to a pane of the bench, from wherever the maker is."""
        while self.beside is not None and self.screen is self.beside:
            self.pop_screen()
        self.bench.go_to(name)

    def go_to_finding(self, finding: Finding) -> None:
        """Go to the place where a finding arises, as exactly as it is known."""
        if finding.project is not None and finding.project != self.view.key:
            self._look(self.workshop.snapshot, finding.project)
        if finding.stripe is not None:
            self.go_to("stripes")
            self.bench.stripes.stand_on(finding.stripe)
        elif finding.lot is not None:
            self.go_to("stash")
            self.bench.pane.list.go_to(finding.lot)
        elif finding.shade is not None and finding.project is not None:
            self.go_to("cost")
            self.bench.pane.list.go_to(finding.shade)
        else:
            self.go_to("stripes" if finding.project else "projects")

    # Actions

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Until the studio is open there is nothing to do but to leave."""
        if not self.opened.is_set() and action not in {"quit", "copy"}:
            return False
        return super().check_action(action, parameters)

    def action_help(self) -> None:
        """Help for the pane at hand."""
        from studio.ui.help import help_for

        width = min(68, self.size.width - 8)
        self.push_screen(help_for(self.desk.at, self.keymap, width))

    def action_ask(self, what: str) -> None:
        """Ask for a dialog by the name of its action."""
        self.ask(what)

    def action_projects(self) -> None:
        """Go to the projects."""
        self.go_to("projects")

    def action_stripes(self) -> None:
        """Go to the stripes."""
        self.go_to("stripes")

    def action_stash(self) -> None:
        """Go to the stash."""
        self.go_to("stash")

    def action_cost(self) -> None:
        """Go to the cost sheet."""
        self.go_to("cost")

    def action_findings(self) -> None:
        """Go to the findings, or back to the stripes."""
        back = self.bench.at == "findings" and self.desk is self.bench
        self.go_to("stripes" if back else "findings")

    def action_home(self) -> None:
        """Back to the stripes."""
        self.go_to("stripes")

    def action_next_pane(self) -> None:
        """The next pane."""
        self.desk.step(1)

    def action_previous_pane(self) -> None:
        """The pane before."""
        self.desk.step(-1)

    async def action_pane(self, verb: str) -> None:
        """Run an action of the pane at hand, for the mouse and the palette."""
        await self.run_action(verb, self.desk.pane)

    def action_slot(self, letter: str) -> None:
        """Map one slot to another shade."""
        self.ask("slot", letter)

    def action_undo(self) -> None:
        """Take back the last change."""
        label = self.workshop.snapshot.undo_label
        if label is None:
            self.say("Nothing to undo.")
            return
        self._after(self.workshop.undo(), None)
        self.say(f"undid: {label}")

    def action_redo(self) -> None:
        """Do again what was undone."""
        label = self.workshop.snapshot.redo_label
        if label is None:
            self.say("Nothing to redo.")
            return
        self._after(self.workshop.redo(), None)
        self.say(f"did again: {label}")

    def action_save(self) -> None:
        """Save at once."""
        self._save()

    def action_copy(self) -> None:
        """Copy the selection, or the line at hand."""
        text = self.screen.get_selected_text()
        if not text and isinstance(self.screen, Bench):
            text = self.bench.pane.list.row_text()
        elif not text and self.beside is not None and self.screen is self.beside:
            text = self.beside.list.row_text()
        if text:
            self.copy_to_clipboard(text)
            self.say("copied")

    async def action_quit(self) -> None:
        """Save, then leave."""
        if self.opened.is_set():
            self.ask("leave")
        else:
            self.exit()

    def end(self) -> None:
        """Leave now."""
        self._close()
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


def run_app(folder: Path) -> int:
    """Open the app on a studio folder; the exit status."""
    app = StripewrightApp(folder)
    app.run()
    return app.return_code or 0
