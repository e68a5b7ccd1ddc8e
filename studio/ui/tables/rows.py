"""Every row of a table with what becomes of it, before anything is written."""

from __future__ import annotations

from collections.abc import Iterable
from enum import Enum
from typing import ClassVar

from textual import on
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from studio.core import say
from studio.core.sheets.fates import Change, Fate
from studio.core.sheets.taking import Intake
from studio.ui.columns import Align, Cell, Column, Row, Tone
from studio.ui.dialogs.base import Sheet
from studio.ui.dialogs.message import Words
from studio.ui.drawn_list import DrawnList

HEADS = {
    Change.FAULTY: "with a problem",
    Change.NEW: "new",
    Change.CHANGED: "changed",
    Change.SAME: "in the studio so already",
}
"""The rows by what becomes of them, what wants a look first."""


class Next(Enum):
    """What she wants after the rows."""

    TAKE = "take it in"
    COLUMNS = "back to the columns"


class RowsSheet(Sheet[Next]):
    """The rows; Ctrl+K takes in what has no problem, Enter reads a row in full."""

    CSS = "RowsSheet .sheet.-tall { width: 100%; max-width: 150; height: 90%; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+k", "take", "take it in", show=False, id="rows.take"),
    ]
    tall = True

    def __init__(self, looked: Intake, title: str, doubts: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.title_words = title
        self.looked = looked
        self._doubts = doubts

    @property
    def verb(self) -> str:
        """What Ctrl+K does, or nothing where there is nothing that it could do."""
        if not self.looked.changing:
            return ""
        return "take in the others" if self.looked.faulty else "take it in"

    def sheet(self) -> Iterable[Widget]:
        """How many rows do what, and the rows."""
        yield Static(self._note(), classes="sheet-note", markup=False)
        yield DrawnList(
            Column("line", width=5, align=Align.RIGHT),
            Column("what", share=2, least=18),
            Column("what becomes of it", share=3, least=24),
            empty="There is no row under the heads.",
            id="entries",
        )

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Ctrl+k takes in, enter reads in full, escape goes back to the columns."""
        take = (("Ctrl+K", self.verb, "take"),) if self.verb else ()
        return (*take, ("Enter", "read in full", "read"), ("Esc", "columns", "leave"))

    def on_mount(self) -> None:
        """Stand on the first row that wants a look."""
        self.entries.set_rows(self._rows(0))
        self.entries.focus()
        self.call_after_refresh(self._fit)

    def on_resize(self) -> None:
        """What is cut depends on the room."""
        self.call_after_refresh(self._fit)

    def _fit(self) -> None:
        """Say in full under the line at hand only what its cell has no room for."""
        places = self.entries.layout_now.places
        if places:
            self.entries.set_rows(self._rows(places[-1].width))

    @property
    def entries(self) -> DrawnList:
        """The list."""
        return self.query_one("#entries", DrawnList)

    def _note(self) -> str:
        told = [f"{self.looked.text}."]
        if self.looked.faulty and self.looked.changing:
            told.append(
                f"{say.count(len(self.looked.faulty), 'row')} would be left out. "
                "Nothing is written yet."
            )
        elif self.looked.changing:
            told.append("Nothing is written yet.")
        elif not self.looked.faulty and self.looked.rows:
            told.append("There is nothing to do.")
        if any(row.notes for row in self.looked.rows):
            told.append("! has a word more to read.")
        return " ".join((*told, *self._doubts))

    def _rows(self, room: int) -> Iterable[Row]:
        for change, words in HEADS.items():
            found = [row for row in self.looked.rows if row.change is change]
            if found:
                yield Row(change, (words,), Tone.HEADING)
            yield from (_row(row, room) for row in found)

    def action_take(self) -> None:
        """Take in what can be."""
        if self.verb:
            self.dismiss(Next.TAKE)

    def action_leave(self) -> None:
        """Back to the columns."""
        self.dismiss(Next.COLUMNS)

    @on(DrawnList.Opened)
    def _opened(self) -> None:
        self.action_read()

    def action_read(self) -> None:
        """The row at hand in full: its cells, and all that is said of it."""
        row = next((r for r in self.looked.rows if r.line == self.entries.key), None)
        if row is not None:
            self.app.push_screen(Words(f"Line {row.line}", in_full(row)))


TONES = {Change.FAULTY: Tone.NEEDS_YOU, Change.SAME: Tone.QUIET}


def _row(row: Fate, room: int) -> Row:
    told = [*row.problems, *filter(None, [row.words])]
    first = Cell(told[0] if told else "", TONES.get(row.change))
    more = told if first.cells > room else told[1:]
    detail = (*(Cell(text) for text in more), *(Cell(note, Tone.CAUTION) for note in row.notes))
    mark = f"! {row.what}" if row.notes else row.what
    return Row(row.line, (str(row.line), mark, first), detail=detail)


def in_full(row: Fate) -> str:
    """A row as words: what it is, what becomes of it, and each of its fields."""
    width = max((len(field) for field in row.cells), default=0)
    fields = [f"{field:<{width}}  {text}" for field, text in row.cells.items() if text]
    told = [row.what, *row.problems, *filter(None, [row.words]), *row.notes]
    return "\n".join((*told, "", *fields))
