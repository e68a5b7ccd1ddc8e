"""Choosing one thing from a list that narrows as letters are typed."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import ClassVar

from textual import events, on
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Input, Static

from studio.ui.dialogs.base import Sheet
from studio.ui.drawn_list import Column, DrawnList, Row


class FilterEntry(Input):
    """The line in which a list is narrowed; up and down are the list's."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "screen.list_step(-1)", show=False, id="choose.up"),
        Binding("down", "screen.list_step(1)", show=False, id="choose.down"),
        Binding("pageup", "screen.list_page(-1)", show=False, id="choose.page_up"),
        Binding("pagedown", "screen.list_page(1)", show=False, id="choose.page_down"),
    ]


class Choose(Sheet[Hashable]):
    """A list to choose from; gives the chosen row's key, or None where it was left.

    With `narrow` a line to type in stands above the list; without it, letters do nothing, which
    is calmer for two or three choices.
    """

    tall = True

    def __init__(
        self,
        title: str,
        columns: Sequence[Column],
        rows: Iterable[Row],
        *,
        note: str = "",
        narrow: bool = True,
        at: Hashable = None,
        verb: str = "take it",
    ) -> None:
        super().__init__()
        self.title_words = title
        self.tall = narrow
        self._columns = tuple(columns)
        self._rows = tuple(rows)
        self._note = note
        self._narrow = narrow
        self._at = at
        self._verb = verb
        self._typed = ""

    def sheet(self) -> Iterable[Widget]:
        """The note, the line to type in and the list."""
        if self._note:
            yield Static(self._note, classes="sheet-note", markup=False)
        if self._narrow:
            yield FilterEntry(placeholder="type to narrow the list", compact=True, id="narrow")
        entries = DrawnList(*self._columns, empty="Nothing to choose from.", id="entries")
        if not self._narrow:
            entries.styles.height = min(14, len(self._rows) + 1)
        yield entries

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Enter takes, escape goes back."""
        return (("Enter", self._verb, "take"), ("Esc", "back", "leave"))

    @property
    def entries(self) -> DrawnList:
        """The list."""
        return self.query_one("#entries", DrawnList)

    def on_mount(self) -> None:
        """Fill the list and stand where the maker will want to begin."""
        self.entries.set_rows(self._rows, self._at)
        (self.query_one("#narrow") if self._narrow else self.entries).focus()

    @property
    def typed(self) -> str:
        """What was typed that is not in the list; nothing where it only led to a row of it."""
        wanted = self._typed.casefold().split()
        return "" if any(row.has(wanted) for row in self._rows) else self._typed.strip()

    @on(Input.Changed, "#narrow")
    def _narrowed(self, event: Input.Changed) -> None:
        self._typed = event.value
        self.entries.filter(event.value)
        # What is found best stands first, and Enter takes it.
        if event.value:
            self.entries.action_first()

    @on(Input.Submitted, "#narrow")
    def _submitted(self) -> None:
        self.action_take()

    @on(DrawnList.Opened)
    def _opened(self) -> None:
        self.action_take()

    def action_take(self) -> None:
        """Give back the row at hand."""
        if self.entries.key is not None:
            self.dismiss(self.entries.key)

    def action_list_step(self, by: int) -> None:
        """Up or down a line from the line that is typed in."""
        if by < 0:
            self.entries.action_cursor_up()
        else:
            self.entries.action_cursor_down()

    def action_list_page(self, pages: int) -> None:
        """Up or down a page."""
        self.entries.action_page(pages)

    def on_key(self, event: events.Key) -> None:
        """A letter typed while the list has the focus goes on narrowing it."""
        if self._narrow and self.focused is self.entries and event.is_printable and event.character:
            entry = self.query_one("#narrow", Input)
            entry.focus()
            entry.insert_text_at_cursor(event.character)
            event.stop()
