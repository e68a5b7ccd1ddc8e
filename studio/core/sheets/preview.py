"""Rows of a table with what each would become and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Generic, TypeVar

from studio.core import say
from studio.core.buying.offers import is_money
from studio.core.model import Library, Yarn
from studio.core.spreadsheet import Cells, Columns, CsvForm, Field, Table, TableError, cells_of

T = TypeVar("T")

_SIGNS = {"EUR": "€", "GBP": "£", "USD": "$"}


@dataclass(frozen=True, slots=True)
class RowPreview(Generic[T]):
    """One row: the line it stands on, what it would become, and what is wrong with it."""

    line: int
    cells: Mapping[str, str]
    value: T | None
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Preview(Generic[T]):
    """All rows of a table, none taken over yet."""

    rows: tuple[RowPreview[T], ...]

    @property
    def faulty(self) -> tuple[RowPreview[T], ...]:
        """The rows that have a problem."""
        return tuple(r for r in self.rows if r.problems)

    def accepted(self, *, leave_out_faulty: bool = False) -> tuple[T, ...]:
        """What the rows become; refuses while any has a problem, unless those are left out."""
        if self.faulty and not leave_out_faulty:
            first = self.faulty[0]
            raise TableError(
                f"{say.count(len(self.faulty), 'row')} of {len(self.rows)} cannot be taken over. "
                f"Line {first.line}: {first.problems[0]}"
            )
        return tuple(r.value for r in self.rows if r.value is not None and not r.problems)


class Row:
    """Reads one row and gathers what is wrong, so that all of it is told at once."""

    def __init__(self, cells: Cells) -> None:
        self.cells = cells
        self.problems: list[str] = []

    def take(self, field: str, read: Callable[[str], T | None]) -> T | None:
        """What a reader makes of a field; its objection becomes a problem."""
        try:
            return read(field)
        except ValueError as error:
            self.problems.append(f"{field}: {error}.")
            return None

    def money(self, field: str, currency: str) -> Decimal | None:
        """An amount of 0 or more in the currency's decimals, None where the field is empty.

        The currency's code or sign may stand beside it; that of another one may not.
        """
        plain = self.cells.text(field)
        for mark in (currency, _SIGNS.get(currency, currency)):
            plain = plain.removeprefix(mark).removesuffix(mark).strip()
        cells = replace(self.cells, values={field: plain})
        amount = self.take(field, cells.figure)
        if amount is not None and not is_money(amount, currency):
            self.problems.append(f"{field}: {amount} is not an amount of 0 or more in {currency}.")
            return None
        return amount

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
        rows.append(RowPreview(cells.line, cells.values, value, tuple(row.problems)))
    return Preview(tuple(rows))


def yarn_of(row: Row, library: Library) -> Yarn | None:
    """A yarn by key or name."""
    text = row.needed("yarn")
    if not text:
        return None
    wanted = text.casefold()
    found = [y for y in library.yarns if wanted in (y.key.casefold(), y.name.casefold())]
    if len(found) == 1:
        return found[0]
    many = "more than one yarn is called so" if found else "there is no such yarn in the library"
    row.problems.append(f"yarn: {text!r}: {many}.")
    return None


def shade_of_yarn(row: Row, yarn: Yarn, text: str) -> str | None:
    """A shade of the yarn by code or name."""
    wanted = text.casefold()
    found = [s.code for s in yarn.shades if s.code.casefold() == wanted] or [
        s.code for s in yarn.shades if s.name.casefold() == wanted
    ]
    if len(found) == 1:
        return found[0]
    many = f"more than one shade of {yarn.name} is" if found else f"no shade of {yarn.name} is"
    row.problems.append(f"shade: {many} called {text!r}.")
    return None


def figure_cell(value: Decimal | None, form: CsvForm) -> str:
    """A figure as it is written; empty where there is none."""
    return "" if value is None else form.figure(value)


def day_cell(day: date | None) -> str:
    """A day as it is written; empty where there is none."""
    return "" if day is None else day.isoformat()
