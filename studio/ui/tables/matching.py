"""Which column of hers holds what: each field of ours beside her column and what stands in it."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace
from typing import ClassVar

from textual import on
from textual.binding import Binding, BindingType
from textual.widget import Widget
from textual.widgets import Static

from studio.core import say
from studio.core.sheets.shelving import Lots
from studio.core.sheets.taking import Request, SheetKind
from studio.core.spreadsheet import Columns, DateOrder, dated
from studio.ui.columns import CUT, Cell, Column, Row, Tone
from studio.ui.dialogs.base import Sheet
from studio.ui.dialogs.choose import Choose
from studio.ui.drawn_list import DrawnList

NOT_THERE = "not in the table"
SAMPLES = 3
"""How many fields of a column are shown, the first that have something in them."""

MARKS = {".": ("a point", "as in 4.50"), ",": ("a comma", "as in 4,50")}
DATES = {
    DateOrder.YEAR_FIRST: ("year first", "2027-03-04; others are asked about"),
    DateOrder.DAY_FIRST: ("day first", "as in 4.3.2027"),
    DateOrder.MONTH_FIRST: ("month first", "as in 3/4/2027"),
}
LOTS = {
    Lots.SET: ("set to the table", "it tells all there is of a lot"),
    Lots.ADD: ("added to", "it tells what came new"),
}
PARTED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}


@dataclass(frozen=True)
class Matched:
    """The table with its columns matched; she wants to see the rows."""

    request: Request


def samples(request: Request, head: str) -> str:
    """The first few things that stand in a column."""
    at = request.table.headers.index(head)
    found = list(dict.fromkeys(r[at] for r in request.table.rows if at < len(r) and r[at]))
    return "  ".join(found[:SAMPLES]) + (f"  {CUT}" if len(found) > SAMPLES else "")


def missing(request: Request) -> list[str]:
    """The fields that the table must have and that no column is matched with."""
    known = request.columns.by_field
    return [f.name for f in request.kind.fields if f.needed and f.name not in known]


class MatchSheet(Sheet[Matched]):
    """The fields with her columns; Enter chooses another, Ctrl+K goes on to the rows."""

    CSS = "MatchSheet .sheet.-tall { width: 100; height: 90%; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+k", "go_on", "look at the rows", show=False, id="match.go_on"),
    ]
    tall = True

    def __init__(self, request: Request, name: str, doubts: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.title_words = f"Take in {request.kind.words}: which column holds what"
        self.request = request
        self._name = name
        self._doubts = doubts

    def sheet(self) -> Iterable[Widget]:
        """What the table is, what is still to be matched, and the list."""
        yield Static(self._note(), classes="sheet-note", id="match-note", markup=False)
        yield DrawnList(
            Column("field", width=11),
            Column("your column", share=2, least=14),
            Column("what stands in it", share=3, least=12),
            id="entries",
        )

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Enter changes, ctrl+k goes on, escape goes back."""
        return (
            ("Enter", "change", "change"),
            ("Ctrl+K", "look at the rows", "go_on"),
            ("Esc", "back", "leave"),
        )

    def on_mount(self) -> None:
        """Stand on the first field that is still to be matched."""
        wanted = missing(self.request)
        self._show(("field", wanted[0]) if wanted else None)
        self.entries.focus()

    @property
    def entries(self) -> DrawnList:
        """The list."""
        return self.query_one("#entries", DrawnList)

    def _note(self) -> str:
        table, wanted = self.request.table, missing(self.request)
        parted = PARTED.get(table.form.delimiter, "other signs")
        told = [f"{self._name}: {say.count(len(table.rows), 'row')}, parted by {parted}."]
        if wanted:
            verb = "is" if len(wanted) == 1 else "are"
            told.append(f"Still to be matched {verb} {say.either(wanted, 'and')}.")
        return " ".join((*told, *self._doubts))

    def _show(self, at: Hashable = None) -> None:
        self.query_one("#match-note", Static).update(self._note())
        self.entries.set_rows(self._rows(), at)

    def _rows(self) -> Iterable[Row]:
        request, known = self.request, self.request.columns.by_field
        for field in request.kind.fields:
            head = known.get(field.name)
            if head is not None:
                cells: tuple[Cell | str, ...] = (
                    field.name, head, Cell(samples(request, head), Tone.QUIET),
                )  # fmt: skip
            elif field.needed:
                cells = (field.name, Cell("choose a column", Tone.NEEDS_YOU), "")
            else:
                cells = (Cell(field.name, Tone.QUIET), Cell(NOT_THERE, Tone.QUIET), "")
            yield Row(("field", field.name), cells)
        yield Row("how", ("how it is read",), Tone.HEADING)
        mark, example = MARKS[request.table.form.decimal]
        sure = "" if request.table.form.sure else "; nothing in the table tells"
        yield Row("decimal", ("decimals", mark, Cell(example + sure, Tone.QUIET)))
        dates, example = DATES[request.columns.dates]
        yield Row("dates", ("dates", dates, Cell(example, Tone.QUIET)))
        if request.kind is SheetKind.STASH:
            how, why = LOTS[request.lots]
            yield Row("lots", ("lots there", how, Cell(why, Tone.QUIET)))

    # What is changed

    @on(DrawnList.Opened)
    def _opened(self) -> None:
        self.action_change()

    def action_change(self) -> None:
        """Another column for the field at hand, or the other way to read the table."""
        key = self.entries.key
        if isinstance(key, tuple):
            self._choose_column(str(key[1]))
            return
        if key == "decimal":
            form = self.request.table.form
            other = "," if form.decimal == "." else "."
            # Said by her, it is no guess any more.
            self.request = self.request.with_form(replace(form, decimal=other, sure=True))
        elif key == "dates":
            orders = list(DATES)
            at = orders.index(self.request.columns.dates)
            columns = self.request.columns
            dates = orders[(at + 1) % len(orders)]
            self.request = self.request.with_columns(replace(columns, dates=dates))
        elif key == "lots":
            other_way = Lots.SET if self.request.lots is Lots.ADD else Lots.ADD
            self.request = replace(self.request, lots=other_way)
        self._show(key)

    def _choose_column(self, field: str) -> None:
        request, known = self.request, self.request.columns.by_field
        of = {head: name for name, head in known.items()}
        rows = [Row("", (Cell(NOT_THERE, Tone.QUIET), ""))]
        for head in filter(None, request.table.headers):
            taken = f"{of[head]} now; " if of.get(head, field) != field else ""
            rows.append(Row(head, (head, Cell(taken + samples(request, head), Tone.QUIET))))
        columns = (Column("your column", share=2, least=14), Column("", share=3, least=12, drop=1))
        self.app.push_screen(
            Choose(f"Which column is the {field}?", columns, rows, at=known.get(field, "")),
            lambda head: self._match(field, head),
        )

    def _match(self, field: str, head: object) -> None:
        if head is None:
            return
        request = self.request
        now = {f: h for f, h in request.columns.headers if f != field and h != head}
        if head:
            now[field] = str(head)
        pairs = tuple((f.name, now[f.name]) for f in request.kind.fields if f.name in now)
        columns = Columns(pairs, request.columns.dates)
        if any(f.day and f.name == field for f in request.kind.fields):
            columns = dated(request.kind.fields, request.table, columns)
        self.request = request.with_columns(columns)
        self._show(("field", field))

    def action_go_on(self) -> None:
        """On to the rows, where everything that must be matched is."""
        wanted = missing(self.request)
        if wanted:
            self.entries.go_to(("field", wanted[0]))
            return
        self.dismiss(Matched(self.request))
