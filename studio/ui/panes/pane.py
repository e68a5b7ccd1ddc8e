"""What all panes share: a head sewn on with a running stitch, and a list under it."""

from __future__ import annotations

from collections.abc import Iterable

from textual import events, on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from studio.ui.asking import Ask
from studio.ui.columns import cut
from studio.ui.drawn_list import Column, DrawnList
from studio.ui.view import View

SEAM, SEAM_AT_HAND = "╌", "╍"


class PaneHead(Widget):
    """A pane's name, a seam, and what the whole of it comes to."""

    def __init__(self, name: str) -> None:
        super().__init__(classes="pane-head")
        self._words = name
        self._sum = ""

    def show(self, words: str, total: str) -> None:
        """Another name or sum."""
        if (words, total) != (self._words, self._sum):
            self._words, self._sum = words, total
            self.refresh()

    def render(self) -> Content:
        """Name, seam and sum; the seam of the pane at hand is heavier."""
        width = max(4, self.size.width)
        at_hand = self.parent is not None and self.parent.has_pseudo_class("focus-within")
        name = cut(self._words, min(len(self._words), width)).rstrip()
        total = self._sum if len(self._sum) + len(name) + 6 <= width else ""
        seam = width - len(name) - 1 - (len(total) + 1 if total else 0)
        return Content.assemble(
            (name, "bold $focus" if at_hand else "bold"),
            " ",
            ((SEAM_AT_HAND if at_hand else SEAM) * max(0, seam), "$focus" if at_hand else "$frame"),
            (f" {total}" if total else "", "$quiet"),
        )


class Pane(Vertical):
    """A head, a list, and a line for the marks that stand in it."""

    words = ""
    empty = ""

    def __init__(self, id: str) -> None:  # noqa: A002 - Textual's own name
        super().__init__(id=id, classes="pane")
        self._view: View | None = None
        self._stale = False

    def columns(self) -> Iterable[Column]:
        """The columns of its list."""
        return ()

    def body(self) -> Iterable[Widget]:
        """What stands under the head."""
        yield self._list()

    def _list(self) -> DrawnList:
        return DrawnList(*self.columns(), id=f"{self.id}-list")

    def compose(self) -> ComposeResult:
        """Head, list, marks."""
        yield PaneHead(self.words)
        yield from self.body()
        yield Static("", classes="marks", markup=False)

    @property
    def list(self) -> DrawnList:
        """Its list."""
        return self.query_one(f"#{self.id}-list", DrawnList)

    @property
    def head(self) -> PaneHead:
        """Its head."""
        return self.query_one(PaneHead)

    @property
    def view(self) -> View:
        """What it was last given to show."""
        if self._view is None:
            raise LookupError("nothing to show yet")
        return self._view

    def show(self, view: View, *, seen: bool = True) -> None:
        """Show a snapshot from the piece at hand; redraws only what differs.

        A pane that is not seen keeps what it is given until `wake`.
        """
        self._view = view
        self._stale = not seen
        self.list.set_empty(self.empty)
        if seen:
            self.fill(view)

    def wake(self) -> None:
        """Catch up, since the pane comes into view."""
        if self._stale and self._view is not None:
            self._stale = False
            self.fill(self._view)

    def fill(self, view: View) -> None:
        """Put the rows into the list."""

    def explain(self, marks: Iterable[str]) -> None:
        """Say what the marks in the list mean; no line where there are none."""
        line = self.query_one(".marks", Static)
        words = "   ".join(dict.fromkeys(marks))
        if line.display != bool(words):
            line.display = bool(words)
        if words and line.content != words:
            line.update(words)

    def take_focus(self) -> None:
        """Put the focus where the maker will want it."""
        self.list.focus()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:  # noqa: ARG002
        """The seam tells which pane is at hand."""
        self.head.refresh()

    def on_descendant_blur(self, event: events.DescendantBlur) -> None:  # noqa: ARG002
        """The seam tells which pane is at hand."""
        self.head.refresh()

    @on(DrawnList.Opened)
    def _opened(self, event: DrawnList.Opened) -> None:
        event.stop()
        self.action_open()

    def action_open(self) -> None:
        """Open the line at hand."""

    def action_filter(self) -> None:
        """Narrow the list."""
        self.list.start_filter()

    def ask(self, what: str, subject: object = None) -> None:
        """Ask for something that needs a dialog or another place."""
        self.post_message(Ask(what, subject))
