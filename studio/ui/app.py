"""The app: what the maker asks for, by keys, by the mouse or from a pane, and what follows."""

from __future__ import annotations

import gc
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import BindingType

from studio.errors import EditRefusedError, PromiseBrokenError, StudioError
from studio.ui import asking, keys
from studio.ui.bench import Bench
from studio.ui.session import Session

# The core and the panes are read in after the first paint, by the thread that opens the studio.
if TYPE_CHECKING:
    from studio.core.answers import Finding


class StripewrightApp(Session, inherit_bindings=False):
    """Stripewright in a terminal, on one studio folder."""

    TITLE = "Stripewright"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings(keys.EVERYWHERE)

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
        self.catch_up()
        self.bench.go_to(name)

    def go_to_finding(self, finding: Finding) -> None:
        """Go to the place where a finding arises, as exactly as it is known."""
        if finding.project is not None and finding.project != self.view.key:
            self._look(self.workshop.snapshot, finding.project)
        if finding.code == "time-to-reorder":
            self.ask("buying", "staples")
        elif finding.stripe is not None:
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

    def stand_on_piece(self, key: str) -> None:
        """Put a piece at hand in all panes."""
        self._look(self.workshop.snapshot, key)

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
        except PromiseBrokenError as error:
            self.ask("promise", (*self._as_edit(finding), None, error))
            return
        self._after(snapshot, None)
        self.say(f"mended: {snapshot.undo_label}; {self.keymap.shown(keys.BY_ID['undo'])} undoes")

    def _as_edit(self, finding: Finding) -> tuple[str, asking.Change]:
        """A mend as an edit like any other."""
        from studio.core import mends

        plan = self.view.snapshot.plan.projects[finding.project or ""]
        label = finding.mend.value if finding.mend else "mend"
        return label, lambda studio: mends.mend(studio, finding, plan)

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


def run_app(folder: Path) -> int:
    """Open the app on a studio folder; the exit status."""
    # Keys leave little garbage, and looking for it is a tenth of their time: seldom will do.
    gc.set_threshold(10_000, 10, 10)
    app = StripewrightApp(folder)
    app.run()
    return app.return_code or 0
