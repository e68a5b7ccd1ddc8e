"""Longer words to read, and copy: sums, reasons, help."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from studio.ui.dialogs.base import Sheet


class Words(Sheet[None]):
    """A text on a sheet; it scrolls, and can be copied."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "leave", "back", show=False, id="words.leave"),
        Binding("ctrl+c", "copy_all", "copy", show=False, id="words.copy"),
    ]

    def __init__(self, title: str, text: str | Content, *, working: bool = False) -> None:
        super().__init__()
        self.title_words = title
        self._text = text
        self._working = working

    def sheet(self) -> Iterable[Widget]:
        """The text, which scrolls where it is long."""
        with VerticalScroll(classes="sheet-words", can_focus=True) as scroll:
            scroll.compose_add_child(Static(self._shown(), id="words", markup=False))
        yield scroll

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Escape goes back; the text may be copied."""
        return (("Esc", "back", "leave"), ("Ctrl+C", "copy", "copy_all"))

    def _shown(self) -> str | Content:
        return "working it out ..." if self._working else self._text

    def show(self, text: str | Content) -> None:
        """Put the text there that was being worked out; a sheet that was left shows nothing."""
        self._text, self._working = text, False
        for words in self.query("#words").results(Static):
            words.update(text)

    @property
    def text(self) -> str:
        """What is shown, plain."""
        return self._text.plain if isinstance(self._text, Content) else self._text

    def action_copy_all(self) -> None:
        """Copy what is selected, or all of it."""
        self.app.copy_to_clipboard(self.get_selected_text() or self.text)
