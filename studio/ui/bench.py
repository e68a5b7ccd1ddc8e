"""The bench: the answer line, four panes and the findings, laid out for the terminal's size."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Literal

from textual import events
from textual.app import ComposeResult
from textual.containers import Container
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Static

from studio.ui.answer_line import AnswerLine
from studio.ui.foot import PANES, KeyLine, PaneStrip, SayLine
from studio.ui.keymap import NO_KEYMAP, Keymap

if TYPE_CHECKING:
    from studio.ui.panes.findings import FindingsPane
    from studio.ui.panes.pane import Pane
    from studio.ui.panes.stripes import StripesPane
    from studio.ui.view import View

Shape = Literal["tiny", "narrow", "middle", "wide"]
SHAPES: tuple[Shape, ...] = ("tiny", "narrow", "middle", "wide")

SMALLEST = (40, 10)
NARROW = (100, 30)
WIDE = (160, 40)

TINY_WORDS = "A little more room, please: 40 columns and 10 lines."


def wear(screen: Screen[Any], kind: str, worn: str, names: Iterable[str]) -> None:
    """Take one class of a kind and drop the others: all below is styled once, not for each."""
    had = screen.classes
    for name in names:
        screen.set_class(name == worn, f"-{kind}{name}", update=False)
    if screen.classes != had:
        screen.update_node_styles()


def shape_for(width: int, height: int) -> Shape:
    """The layout for a terminal of this many columns and lines."""
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return "tiny"
    if width < NARROW[0] or height < NARROW[1]:
        return "narrow"
    if width < WIDE[0] or height < WIDE[1]:
        return "middle"
    return "wide"


class Unfurnished(Static):
    """A pane's place with its name, until the pane stands in it."""

    def render(self) -> Content:
        """The name and its seam."""
        name = str(self.content)
        seam = "╌" * max(0, self.size.width - len(name) - 1)
        return Content.assemble((name, "bold"), " ", (seam, "$frame"))


class Bench(Screen[None], inherit_bindings=False):
    """The one screen of the app; dialogs open over it."""

    AUTO_FOCUS = ""
    ALLOW_SELECT = True
    is_desk = True

    def __init__(self) -> None:
        super().__init__(id="bench")
        self.view: View | None = None
        self.at = "stripes"
        self.shape: Shape = "middle"
        self.keymap: Keymap = NO_KEYMAP
        self.furnished = False

    def compose(self) -> ComposeResult:
        """Answers on top, the panes between, words and keys at the foot."""
        yield AnswerLine()
        yield PaneStrip()
        with Container(id="floor"):
            for name in ("projects", "stripes", "findings", "stash", "cost"):
                yield Unfurnished(dict(PANES)[name], id=name, classes="pane")
        yield SayLine()
        yield KeyLine()

    async def furnish(self) -> None:
        """Put the panes in their places; they are too much to be there at the first paint."""
        from studio.ui.panes.cost import CostPane
        from studio.ui.panes.findings import FindingsPane
        from studio.ui.panes.projects import ProjectsPane
        from studio.ui.panes.stash import StashPane
        from studio.ui.panes.stripes import StripesPane

        floor = self.query_one("#floor", Container)
        with self.app.batch_update():
            await floor.remove_children()
            panes = (ProjectsPane(), StripesPane(), FindingsPane(), StashPane(), CostPane())
            await floor.mount(*panes)
        self.furnished = True
        self.go_to(self.at)

    def on_mount(self) -> None:
        """Take the shape of the terminal from the first paint on."""
        self._take_shape(self.app.size.width, self.app.size.height)
        self.go_to(self.at)

    def on_resize(self, event: events.Resize) -> None:
        """Take another shape where the terminal asks for it."""
        self._take_shape(event.size.width, event.size.height)

    def _take_shape(self, width: int, height: int) -> None:
        shape = shape_for(width, height)
        self.shape = shape
        wear(self, "", shape, SHAPES)
        if self.furnished:
            self._wake()
        if shape == "tiny":
            self.answers.say(TINY_WORDS)
        elif self.view is not None:
            self._show_words()

    # The parts

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
    def pane(self) -> Pane:
        """The pane at hand."""
        return self.pane_of(self.at)

    def pane_of(self, name: str) -> Pane:
        """A pane by its name."""
        from studio.ui.panes.pane import Pane

        return self.query_one(f"#{name}", Pane)

    @property
    def stripes(self) -> StripesPane:
        """The stripe editor."""
        from studio.ui.panes.stripes import StripesPane

        return self.query_one(StripesPane)

    @property
    def findings(self) -> FindingsPane:
        """The findings."""
        from studio.ui.panes.findings import FindingsPane

        return self.query_one(FindingsPane)

    # What is shown

    def show(self, view: View) -> None:
        """Show a snapshot from a piece; each pane redraws what differs."""
        self.view = view
        for name, _ in PANES:
            self.pane_of(name).show(view, seen=self.sees(name))
        self.answers.show(view)
        self._show_words()

    def _show_words(self) -> None:
        view = self.view
        if view is None:
            return
        if self.shape == "tiny":
            return
        if view.project is None:
            words = "opening the studio ..." if not view.settings.name else view.settings.name
            self.answers.say(words)
        findings = view.open_findings
        name = view.project.name if view.project else ""
        self.query_one(PaneStrip).show(self.at, findings, name, self.keymap)
        self.keys.show(self.at, self.keymap)

    def use_keymap(self, keymap: Keymap) -> None:
        """Show the keys in force from now on."""
        self.keymap = keymap
        self._show_words()
        self.keys.show(self.at, keymap)

    # Where the maker is

    def go_to(self, name: str) -> None:
        """Go to a pane; where one is seen at a time it takes the place of the one before."""
        wear(self, "at-", name, [pane for pane, _ in PANES])
        self.at = name
        if self.furnished:
            self._wake()
            self.pane.take_focus()
        self._show_words()
        self.keys.show(name, self.keymap)

    def sees(self, name: str) -> bool:
        """Whether a pane is filled at every change: it is in view, or all else leans on it."""
        if name == "stripes" or self.shape == "wide":
            return True
        if self.shape == "middle":
            yarn = name in ("stash", "cost")
            return (
                self.at == "findings"
                if name == "findings"
                else not (yarn and self.at == "findings")
            )
        return name == self.at

    def _wake(self) -> None:
        for name, _ in PANES:
            if self.sees(name):
                self.pane_of(name).wake()

    def step(self, by: int) -> None:
        """Go to the next pane that can be seen, or the one before."""
        names = [name for name, _ in PANES]
        if self.shape == "middle":
            names.remove("findings")
        at = names.index(self.at) if self.at in names else 0
        self.go_to(names[(at + by) % len(names)])

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """A click into a pane goes there as its key does."""
        for node in event.widget.ancestors_with_self:
            if node.id and node.has_class("pane"):
                if node.id != self.at:
                    self.go_to(node.id)
                return
