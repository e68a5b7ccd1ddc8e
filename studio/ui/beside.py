"""What stands beside the bench: a screen of a few sheets under the same answers, words and keys.

Such a screen is opened over the bench and left by escape. It is told every snapshot as the bench
is, and its sheets are panes: all seen at once where there is room, else one at a time.
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Container
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget

from studio.ui.answer_line import AnswerLine
from studio.ui.bench import SHAPES, TINY_WORDS, Shape, shape_for, wear
from studio.ui.drawn_list import DrawnList
from studio.ui.foot import KeyLine, SayLine
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


BESIDE_CSS = """
Beside .sheets { display: none; height: 1; padding: 0 1;
    link-color: $foreground; link-style: none; link-background: transparent;
    link-color-hover: $focus; link-style-hover: underline;
    link-background-hover: transparent;
}
Beside .table { height: 1fr; layout: grid; grid-gutter: 1 1; }
Beside.-narrow .sheets { display: block; }
Beside.-narrow .table { grid-size: 1 1; grid-rows: 1fr; grid-columns: 1fr; }
Beside.-tiny .table, Beside.-tiny .sheets, Beside.-tiny #say, Beside.-tiny #keys {
    display: none;
}
"""
"""Rules that all such screens share; a screen's own rules come behind them."""


class SheetStrip(Widget):
    """The names of the sheets along a seam, shown where one is seen at a time."""

    def __init__(self) -> None:
        super().__init__(classes="sheets")
        self._names: tuple[tuple[str, str], ...] = ()
        self._at = ""

    def show(self, names: tuple[tuple[str, str], ...], at: str) -> None:
        """Which sheets there are, and which one is at hand."""
        if (names, at) != (self._names, self._at):
            self._names, self._at = names, at
            self.refresh()

    def render(self) -> Content:
        """Name after name; a click goes there."""
        parts = [Content.styled("╌ ", "$frame")]
        for name, words in self._names:
            tone = "bold $focus underline" if name == self._at else "$foreground"
            part = Content.styled(words, tone).stylize(f"@click=screen.sheet('{name}')")
            parts += [part, Content.styled(" ╌ ", "$frame")]
        parts.append(Content.assemble(("Tab", "$quiet"), " "))
        line = Content("").join(parts)
        room = self.size.width - line.cell_length
        return Content("").join((line, Content.styled("╌" * max(0, room), "$frame")))


class SheetPane(Pane):
    """A sheet of such a screen; what is opened in it is the screen's to open."""

    def action_open(self) -> None:
        """Let the screen open the line at hand."""
        if isinstance(self.screen, Beside):
            self.screen.action_open()


class Beside(Screen[None], inherit_bindings=False):
    """A screen beside the bench; its sheets are panes, told apart by their ids."""

    AUTO_FOCUS = ""
    ALLOW_SELECT = True
    is_desk = False
    """Whether it shows what is new: from the moment that its sheets are there."""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "back to the bench", show=False, id="beside.leave"),
    ]
    CSS = BESIDE_CSS
    SCOPED_CSS = False

    group: str = ""
    """The group of its keys in the registry."""

    def __init__(self, view: View, keymap: Keymap) -> None:
        super().__init__()
        self.view = view
        self.keymap = keymap
        self.shape: Shape = "middle"
        self.sheet_at = ""
        self.first_sheet = ""
        """The sheet to begin on; the first one where none is named."""

    def sheets(self) -> tuple[Pane, ...]:
        """Its sheets in order; made once."""
        return ()

    def compose(self) -> ComposeResult:
        """Answers on top, the sheets between, words and keys at the foot."""
        yield AnswerLine()
        yield SheetStrip()
        with Container(classes="table"):
            yield from self.sheets()
        yield SayLine()
        yield KeyLine()

    def on_mount(self) -> None:
        """Take the shape of the terminal, stand on a sheet and show what there is by now."""
        self.is_desk = True
        self.view = self.studio_app.view
        self._take_shape(self.app.size.width, self.app.size.height)
        self.go_to_sheet(self.first_sheet or self.names[0][0])
        self.show(self.view)

    def on_resize(self, event: events.Resize) -> None:
        """Take another shape where the terminal asks for it."""
        self._take_shape(event.size.width, event.size.height)

    def _take_shape(self, width: int, height: int) -> None:
        self.shape = shape_for(width, height)
        wear(self, "", self.shape, SHAPES)
        self._lay_sheets()
        if self.shape == "tiny":
            self.answers.say(TINY_WORDS)

    # The parts, by the names that the bench has for its own

    @property
    def at(self) -> str:
        """The group of keys in force."""
        return self.group

    @property
    def pane(self) -> Beside:
        """What runs the actions of the group."""
        return self

    @property
    def studio_app(self) -> StripewrightApp:
        """The app as what it is."""
        found: Any = self.app
        return found  # type: ignore[no-any-return]

    @property
    def answers(self) -> AnswerLine:
        """The four answers."""
        return self.query_one(AnswerLine)

    @property
    def say_line(self) -> SayLine:
        """What was last done."""
        return self.query_one(SayLine)

    @property
    def keys(self) -> KeyLine:
        """The keys at hand."""
        return self.query_one(KeyLine)

    @property
    def names(self) -> tuple[tuple[str, str], ...]:
        """Id and title of each sheet."""
        return tuple((pane.id or "", pane.words) for pane in self.query(Pane))

    def sheet(self, name: str) -> Pane:
        """A sheet by its id."""
        return self.query_one(f"#{name}", Pane)

    @property
    def list(self) -> DrawnList:
        """The list of the sheet at hand."""
        return self.sheet(self.sheet_at).list

    # What is shown

    def show(self, view: View) -> None:
        """Show a snapshot."""
        self.view = view
        if view.project is None and self.shape != "tiny":
            self.answers.say(view.settings.name)
        self.answers.show(self.answered(view))
        self.keys.show(self.group, self.keymap)
        self.fill(view)

    def answered(self, view: View) -> View:
        """What the answers on top speak of."""
        return view

    def fill(self, view: View) -> None:
        """Put the rows into the sheets."""

    def stand(self, key: Hashable) -> None:
        """Put the cursor on what was just changed."""
        self.list.go_to(key)

    def go_to_sheet(self, name: str) -> None:
        """Go to a sheet; where one is seen at a time it takes the place of the one before."""
        self.sheet_at = name
        self._lay_sheets()
        self.query_one(SheetStrip).show(self.names, name)
        self.sheet(name).take_focus()

    def _lay_sheets(self) -> None:
        """Show all sheets, or the one at hand; at once, since what is hidden takes no focus."""
        for pane in self.query(Pane):
            pane.display = self.shape != "narrow" or pane.id == self.sheet_at

    def step(self, by: int) -> None:
        """The next sheet, or the one before."""
        names = [name for name, _ in self.names]
        self.go_to_sheet(names[(names.index(self.sheet_at) + by) % len(names)])

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """A click into a sheet goes there as its key does; a focus that has gone on is no click."""
        if event.widget is not self.focused:
            return
        for node in event.widget.ancestors_with_self:
            if isinstance(node, Pane):
                if node.id and node.id != self.sheet_at:
                    self.go_to_sheet(node.id)
                return

    async def why(self) -> None:
        """Open the sum of what is at hand."""

    def action_open(self) -> None:
        """Open the line at hand."""

    def refuses(self, what: str) -> str:  # noqa: ARG002
        """Why something is not asked for here, in a sentence; nothing where it may be."""
        return ""

    def action_sheet(self, name: str) -> None:
        """Go to a sheet, by the mouse."""
        self.go_to_sheet(name)

    def action_filter(self) -> None:
        """Narrow the list at hand."""
        self.list.start_filter()

    def action_leave(self) -> None:
        """Back to the bench, which has been asleep meanwhile."""
        self.app.pop_screen()
        self.studio_app.catch_up()
