"""What all dialogs share: a titled sheet over the bench, keys at its foot, escape to go back."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Generic, TypeVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Static

from studio.core.clean import no_turns

T = TypeVar("T")


class SheetTitle(Static):
    """The title of a dialog, sewn on with a running stitch."""

    def __init__(self, words: str) -> None:
        super().__init__(classes="sheet-title")
        self._words = no_turns(words)

    def render(self) -> Content:
        """The title and the seam behind it."""
        room = max(0, self.size.width - len(self._words) - 1)
        return Content.assemble((self._words, "bold $focus"), " ", ("╌" * room, "$frame"))


class SheetKeys(Static):
    """The keys of a dialog, each of which can be clicked."""

    def __init__(self, pairs: Iterable[tuple[str, str, str]]) -> None:
        super().__init__(classes="sheet-keys")
        self._pairs = tuple(pairs)

    def render(self) -> Content:
        """Key and words, pair by pair."""
        parts: list[Content] = []
        for key, words, action in self._pairs:
            pair = Content.assemble((key, "bold $foreground"), " ", (words, "$quiet"))
            parts.append(pair.stylize(f"@click=screen.{action}()"))
        return Content("   ").join(parts)


class Sheet(ModalScreen[T], Generic[T]):
    """A dialog over the bench that gives back a value, or None where it was left."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "leave", "back", show=False, id="dialog.leave"),
    ]

    title_words: str = ""
    tall: bool = False

    def sheet(self) -> Iterable[Widget]:
        """The widgets between the title and the keys."""
        return ()

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Key, words and action at the foot."""
        return (("Esc", "back", "leave"),)

    def compose(self) -> ComposeResult:
        """Title, body and keys on one sheet."""
        with Vertical(classes="sheet -tall" if self.tall else "sheet"):
            yield SheetTitle(self.title_words)
            yield from self.sheet()
            yield SheetKeys(self.keys())

    def action_leave(self) -> None:
        """Go back without a value."""
        self.dismiss(None)

    def on_click(self, event: events.Click) -> None:
        """A click beside the sheet goes back, as escape does."""
        if event.widget is self:
            self.action_leave()
