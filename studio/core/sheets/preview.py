"""Rows of a table with what each would become and what is wrong with it."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Generic, TypeVar

from studio.core import say
from studio.core.buying.offers import is_money
from studio.core.frozen import dataclass
from studio.core.model import Library, Yarn
from studio.core.spreadsheet import Cells, Columns, CsvForm, Field, Table, TableError, cells_of

T = TypeVar("T")

_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}

LONGEST_LINE = 400
LONGEST_NOTE = 20_000
MOST_COUNT = 1_000_000
MOST_FIGURE = Decimal(10**9)
MOST_DECIMALS = 6
"""What the files of a studio can hold: characters of a line and of a note, balls, figures."""


@dataclass(frozen=True, slots=True)
class RowPreview(Generic[T]):
    """One row: the line it stands on, what it would become, and what is wrong with it.

    `group` names the thing it speaks of, so that rows of one lot go in together or not at all;
    `notes` say what she may want to look at though nothing is wrong.
    """

    line: int
    cells: Mapping[str, str]
    value: T | None
    problems: tuple[str, ...]
    notes: tuple[str, ...] = ()
    group: tuple[str, ...] = ()

    @property
    def told(self) -> frozenset[str]:
        """The fields that have something in them."""
        return frozenset(field for field, text in self.cells.items() if text)


@dataclass(frozen=True, slots=True)
class Preview(Generic[T]):
    """All rows of a table, none taken over yet; `matched` are the fields it has a column for."""

    rows: tuple[RowPreview[T], ...]
    matched: frozenset[str] = frozenset()

    @property
    def faulty(self) -> tuple[RowPreview[T], ...]:
        """The rows that have a problem."""
        return tuple(r for r in self.rows if r.problems)

    def accepted(self, *, leave_out_faulty: bool = False) -> tuple[T, ...]:
        """What the rows become; refuses while any has a problem, unless those are left out."""
        if self.faulty and not leave_out_faulty:
            first = self.faulty[0]
            raise TableError(
                f"{say.count(len(self.faulty), 'row')} of {len(self.rows)} cannot be taken in. "
                f"Line {first.line}: {first.problems[0]}"
            )
        return tuple(r.value for r in self.rows if r.value is not None and not r.problems)


class Row:
    """Reads one row and gathers what is wrong, so that all of it is told at once."""

    def __init__(self, cells: Cells) -> None:
        self.cells = cells
        self.problems: list[str] = []
        self.notes: list[str] = []
        self.group: tuple[str, ...] = ()

    def take(self, field: str, read: Callable[[str], T | None]) -> T | None:
        """What a reader makes of a field; its objection becomes a problem."""
        try:
            return read(field)
        except ValueError as error:
            self.problems.append(f"{field}: {error}.")
            return None

    def count(self, field: str, least: int = 0, most: int = MOST_COUNT) -> int | None:
        """A whole number between two bounds, None where the field is empty."""
        found = self.take(field, self.cells.count)
        if found is not None and not least <= found <= most:
            self.problems.append(f"{field}: {found:,}; it is {least} to {most:,}.")
            return None
        return found

    def figure(self, field: str, text: str | None = None) -> Decimal | None:
        """A figure that a file can hold, None where there is none; `text` instead of the cell's."""
        cells = self.cells if text is None else replace(self.cells, values={field: text})
        amount = self.take(field, cells.figure)
        if amount is None:
            return None
        if abs(amount) > MOST_FIGURE or round(amount, MOST_DECIMALS) != amount:
            self.problems.append(
                f"{field}: {self.cells.text(field)[:40]!r} is too long a number; at most "
                f"{MOST_FIGURE:,} and {MOST_DECIMALS} decimals."
            )
            return None
        return amount

    def money(self, field: str, currency: str) -> Decimal | None:
        """An amount of 0 or more in the currency's decimals, None where the field is empty.

        The currency's code or sign may stand beside it; that of another one may not.
        """
        plain = self.cells.text(field)
        for mark in (currency, _SIGNS.get(currency, currency)):
            plain = plain.removeprefix(mark).removesuffix(mark).strip()
        amount = self.figure(field, plain)
        if amount is not None and not is_money(amount, currency):
            self.problems.append(f"{field}: {amount} is not an amount of 0 or more in {currency}.")
            return None
        return amount

    def words(self, field: str, most: int = LONGEST_LINE) -> str:
        """A text that a file can hold: so many characters, no signs that cannot be seen.

        Lines may end only in a note, which is told by its length.
        """
        text = self.cells.text(field).replace("\r\n", "\n").replace("\r", "\n")
        kept = "\n\t" if most >= LONGEST_NOTE else ""
        if len(text) > most:
            self.problems.append(f"{field}: it has {len(text):,} characters; {most:,} is the most.")
        elif any(unicodedata.category(c) == "Cc" and c not in kept for c in text):
            self.problems.append(f"{field}: it has a line end or a sign that cannot be seen.")
        return text

    def needed(self, field: str) -> str:
        """A text that must be there."""
        text = self.cells.text(field)
        if not text:
            self.problems.append(f"{field}: it is empty.")
        return text


def preview_rows(
    table: Table,
    columns: Columns,
    fields: Sequence[Field],
    read: Callable[[Row], T | None],
) -> Preview[T]:
    """Every row read by `read`, which says what is wrong by the row."""
    rows = []
    for cells in cells_of(table, columns, fields):
        row = Row(cells)
        value = read(row)
        rows.append(
            RowPreview(
                cells.line,
                cells.values,
                value,
                tuple(row.problems),
                tuple(row.notes),
                row.group or (f"line {cells.line}",),
            )
        )
    return Preview(tuple(rows), frozenset(columns.by_field))


def called(text: str, things: Iterable[T], *names: Callable[[T], str]) -> list[T]:
    """The things that a text names: exactly by the first kind of name, else in any case by each."""
    every = list(things)
    exact = [t for t in every if names[0](t) == text]
    if exact:
        return exact[:1]
    wanted = text.casefold()
    for name in names:
        found = [t for t in every if name(t).casefold() == wanted]
        if found:
            return found
    return []


def near(text: str, names: Iterable[str]) -> str:
    """' Is it Moss?' for the name that is nearest to what was written; nothing without one."""
    known = {name.casefold(): name for name in names}
    found = get_close_matches(text.casefold(), known, n=1, cutoff=0.7)
    return f" Is it {known[found[0]]}?" if found else ""


def yarn_of(row: Row, library: Library) -> Yarn | None:
    """A yarn by key or name."""
    text = row.needed("yarn")
    if not text:
        return None
    found = called(text, library.yarns, lambda y: y.key, lambda y: y.name)
    if len(found) == 1:
        return found[0]
    if found:
        row.problems.append(f"yarn: more than one yarn is called {text!r}; write its key.")
    else:
        hint = near(text, (y.name for y in library.yarns))
        row.problems.append(f"yarn: {text!r}: there is no such yarn in the library.{hint}")
    return None


def shade_of_yarn(row: Row, yarn: Yarn, text: str) -> str | None:
    """A shade of the yarn by code or name; a code that lost its noughts is found again."""
    found = called(text, yarn.shades, lambda s: s.code, lambda s: s.name)
    if not found and text.isascii() and text.isdigit():
        found = [s for s in yarn.shades if s.code.lstrip("0") == text.lstrip("0")]
        if len(found) == 1:
            row.notes.append(f"shade {text} is read as {found[0].code}: its noughts were lost.")
    if len(found) == 1:
        return found[0].code
    many = f"more than one shade of {yarn.name} is" if found else f"no shade of {yarn.name} is"
    hint = "" if found else near(text, (s.name for s in yarn.shades))
    row.problems.append(f"shade: {many} called {text!r}.{hint}")
    return None


def figure_cell(value: Decimal | None, form: CsvForm) -> str:
    """A figure as it is written; empty where there is none."""
    return "" if value is None else form.figure(value)


def day_cell(day: date | None) -> str:
    """A day as it is written; empty where there is none."""
    return "" if day is None else day.isoformat()
