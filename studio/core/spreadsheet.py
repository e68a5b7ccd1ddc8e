"""Tables as text: reading and writing CSV of any delimiter, and matching its columns once.

Nothing here knows files: the text comes in and goes out whole. A delimiter, a decimal comma and a
byte-order mark are found by looking; what stays doubtful, such as 3/4/2027, is asked and not
guessed.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from studio.core import say
from studio.core.frozen import dataclass
from studio.errors import StudioError

BOM = "\ufeff"
DELIMITERS = (";", "\t", ",", "|")
LOOK_ROWS = 50
"""Rows looked at to find out how a table is written."""

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z")
_COMMA_FIGURE = re.compile(r"-?\d+,\d{1,2}\Z|-?\d{1,3}(?:\.\d{3})+,\d+\Z")
_POINT_FIGURE = re.compile(r"-?\d+\.\d{1,2}\Z|-?\d{1,3}(?:,\d{3})+\.\d+\Z")
_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)\Z", re.ASCII)
_UNIT = re.compile(r"\A[^\d+-]{1,3}|[^\d]{1,3}\Z")
_SPACES = re.compile(r"[\s\u00a0\u202f']")
_FORMULA = re.compile(r"'*[=+\-@＝＋－＠]")
_ESCAPED = re.compile(r"''*[=+\-@＝＋－＠]")


class TableError(StudioError):
    """A text that is no table, or not the wanted one."""

    title = "This table cannot be read"


@dataclass(frozen=True, slots=True)
class CsvForm:
    """How a table is written: what parts its fields, its decimal mark, its byte-order mark.

    `sure` is false where nothing in it tells the decimal mark; 1,234 is then asked about.
    """

    delimiter: str = ","
    decimal: str = "."
    bom: bool = False
    sure: bool = True

    def figure(self, value: Decimal) -> str:
        """A figure in this form, with nothing lost and no exponent."""
        text = f"{value:f}"
        return text.replace(".", self.decimal)


@dataclass(frozen=True, slots=True)
class Table:
    """Headers and rows of fields; `lines` are the places in the text where the rows begin."""

    headers: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    form: CsvForm


def _fields(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Rows with the line they begin on; blank lines are passed over.

    Quotes that never close, and what the reader cannot take, are told as one kind of error.
    """
    lines = (found.group() for found in _LINE.finditer(text))
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    begins = 1
    try:
        for row in reader:
            if any(field.strip() for field in row):
                yield begins, row
            begins = reader.line_num + 1
    except csv.Error as error:
        raise TableError(f"Line {begins} cannot be read as a table ({error}).") from None


def detect(text: str) -> CsvForm:
    """How a table is written, by its first rows.

    The delimiter is the one that parts the most rows into the same number of fields, two at least;
    a single column has none, and a comma stands for it.
    """
    bom = text.startswith(BOM)
    body = text.removeprefix(BOM)
    best: tuple[tuple[int, int], str, list[list[str]]] | None = None
    for delimiter in DELIMITERS:
        try:
            rows = [row for _, row in _first(_fields(body, delimiter))]
        except TableError:
            continue
        counts = Counter(len(row) for row in rows)
        alike = max(((n, size) for size, n in counts.items() if size > 1), default=(0, 0))
        if best is None or alike > best[0]:
            best = (alike, delimiter, rows)
    if best is None or best[0][0] == 0:
        return CsvForm(bom=bom, sure=False)
    mark = _decimal_mark(best[2])
    return CsvForm(best[1], mark or ".", bom, sure=mark is not None)


def _first(rows: Iterable[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
    for at, row in enumerate(rows):
        if at == LOOK_ROWS:
            return
        yield row


def _decimal_mark(rows: Sequence[Sequence[str]]) -> str | None:
    """The mark that more figures have before one or two decimals; None where none has."""
    cells = [_UNIT.sub("", _SPACES.sub("", cell)) for row in rows for cell in row]
    commas = sum(bool(_COMMA_FIGURE.match(c)) for c in cells)
    points = sum(bool(_POINT_FIGURE.match(c)) for c in cells)
    if commas == points:
        return None
    return "," if commas > points else "."


def read_table(text: str, form: CsvForm | None = None) -> Table:
    """A text as a table: its first row with anything in it is the headers."""
    form = form or detect(text)
    rows = list(_fields(text.removeprefix(BOM), form.delimiter))
    if not rows:
        raise TableError("There is nothing in this table.")
    headers = tuple(unguarded(h) for h in rows[0][1])
    named = [h.casefold() for h in headers if h]
    twice = next((h for h in headers if h and named.count(h.casefold()) > 1), None)
    if twice is not None:
        raise TableError(f"Two columns are called {twice!r}: rename one of them.")
    body = rows[1:]
    return Table(
        headers,
        tuple(tuple(unguarded(f) for f in row) for _, row in body),
        tuple(line for line, _ in body),
        form,
    )


def guarded(field: str) -> str:
    """The field so that no spreadsheet takes it for a formula: an apostrophe before = + - or @.

    One that begins so already gets one more, so that `unguarded` gives back what was there.
    """
    text = field.strip()
    return "'" + text if _FORMULA.match(text) else text


def unguarded(field: str) -> str:
    """What a field says without the apostrophe that keeps it from being a formula."""
    text = field.strip()
    return text[1:].strip() if _ESCAPED.match(text) else text


class _Lines:
    """Where the CSV writer writes to; it asks for nothing but `write`."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def write(self, text: str) -> int:
        self.parts.append(text)
        return len(text)


def write_table(headers: Sequence[str], rows: Iterable[Sequence[str]], form: CsvForm) -> str:
    """A table as text, lines ended as RFC 4180 has it; no field of it is a formula."""
    out = _Lines()
    writer = csv.writer(out, delimiter=form.delimiter)
    writer.writerow([guarded(h) for h in headers])
    writer.writerows([guarded(field) for field in row] for row in rows)
    return (BOM if form.bom else "") + "".join(out.parts)


def read_figure(cell: str, form: CsvForm) -> Decimal:
    """A figure as the table writes it; spaces and thousands marks are passed over.

    Raises ValueError with the end of a sentence where it is none.
    """
    text = _SPACES.sub("", cell)
    thousands = "." if form.decimal == "," else ","
    whole, mark, part = text.partition(form.decimal)
    if not form.sure and (mark or thousands in whole) and len(text.strip("+-")) > 4:
        _doubtful(cell, text)
    if thousands in part or not _grouped(whole, thousands):
        raise ValueError(f"{cell!r} is not a number")
    plain = whole.replace(thousands, "") + ("." + part if mark else "")
    if not _PLAIN.match(plain):
        raise ValueError(f"{cell!r} is not a number")
    try:
        return Decimal(plain)
    except InvalidOperation:
        raise ValueError(f"{cell!r} is not a number") from None


def _doubtful(cell: str, text: str) -> None:
    """Refuse what reads as one number with a decimal point and as another with a comma."""
    for mark in ".,":
        whole, found, part = text.partition(mark)
        if found and len(part) == 3 and part.isdigit() and 0 < len(whole.lstrip("+-")) <= 3:
            raise ValueError(f"{cell!r} could be two numbers: say which mark parts the decimals")


def _grouped(whole: str, thousands: str) -> bool:
    """Whether thousands marks, where there are any, part groups of three."""
    first, *others = whole.lstrip("+-").split(thousands)
    return not others or (0 < len(first) <= 3 and all(len(g) == 3 for g in others))


def read_count(cell: str, form: CsvForm) -> int:
    """A whole number of 0 or more."""
    value = read_figure(cell, form)
    if value < 0 or value != value.to_integral_value():
        raise ValueError(f"{cell!r} is not a whole number of 0 or more")
    return int(value)


class DateOrder(StrEnum):
    """How dates are written beside the one way that is never in doubt, 2027-03-04."""

    YEAR_FIRST = "year first"
    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})\Z", re.ASCII)
_OTHER = re.compile(r"(\d{1,2})[./-]\s*(\d{1,2})[./-]\s*(\d{4})\Z", re.ASCII)


def read_date(cell: str, order: DateOrder) -> date:
    """A day; raises ValueError with the end of a sentence where it is none or could be two."""
    if found := _ISO.match(cell):
        year, month, day = (int(n) for n in found.groups())
    elif found := _OTHER.match(cell):
        first, second, year = (int(n) for n in found.groups())
        if order is DateOrder.YEAR_FIRST:
            raise ValueError(f"{cell!r} could be two days: say whether day or month comes first")
        day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
    else:
        raise ValueError(f"{cell!r} is not a date such as 2027-03-04")
    try:
        return date(year, month, day)
    except ValueError:
        raise ValueError(f"{cell!r} is not a day of the calendar") from None


def date_order_of(cells: Iterable[str]) -> DateOrder | None:
    """The order that a column's dates can only have, None where they leave it open or differ."""
    orders = set()
    for cell in cells:
        if found := _OTHER.match(cell):
            first, second = int(found[1]), int(found[2])
            if first > 12:
                orders.add(DateOrder.DAY_FIRST)
            if second > 12:
                orders.add(DateOrder.MONTH_FIRST)
    return orders.pop() if len(orders) == 1 else None


@dataclass(frozen=True, slots=True)
class Field:
    """One thing that a table may tell: its name in the file we write, and whether it must.

    `others` are words that people head such a column with; `day` says that it holds dates.
    """

    name: str
    needed: bool = False
    others: tuple[str, ...] = ()
    day: bool = False


@dataclass(frozen=True, slots=True)
class Columns:
    """Which header holds which field, as she matched them once, and how dates are written."""

    headers: tuple[tuple[str, str], ...]
    dates: DateOrder = DateOrder.YEAR_FIRST

    @property
    def by_field(self) -> Mapping[str, str]:
        """The header of each matched field."""
        return dict(self.headers)


def guess(fields: Sequence[Field], headers: Sequence[str]) -> Columns:
    """The columns that say by their name what they hold, as a proposal to her."""
    left = {h.casefold(): h for h in headers if h}
    found = []
    for field in fields:
        for word in (field.name, *field.others):
            header = left.pop(word.casefold(), None)
            if header is not None:
                found.append((field.name, header))
                break
    return Columns(tuple(found))


def proposed(fields: Sequence[Field], table: Table, kept: Columns | None) -> Columns:
    """The columns as she matched them the last time where the table has them, else by their names.

    Where the dates of the table can only be written in one way, that one is proposed.
    """
    guessed = guess(fields, table.headers)
    there = {h.casefold(): h for h in table.headers if h}
    known = () if kept is None else kept.headers
    mine = {f: there[h.casefold()] for f, h in known if h.casefold() in there}
    taken = set(mine.values())
    rest = {f: h for f, h in guessed.headers if f not in mine and h not in taken}
    found = {**mine, **rest}
    headers = tuple((f.name, found[f.name]) for f in fields if f.name in found)
    order = DateOrder.YEAR_FIRST if kept is None else kept.dates
    return dated(fields, table, Columns(headers, order))


def dated(fields: Sequence[Field], table: Table, columns: Columns) -> Columns:
    """The columns with dates in the only order that the table's own dates can have, if any."""
    heads = [columns.by_field[f.name] for f in fields if f.day and f.name in columns.by_field]
    places = [table.headers.index(head) for head in heads]
    cells = (row[at] for row in table.rows for at in places if at < len(row))
    return Columns(columns.headers, date_order_of(cells) or columns.dates)


@dataclass(frozen=True, slots=True)
class Cells:
    """The fields of one row, by field name; the line it stands on; its form."""

    line: int
    values: Mapping[str, str]
    form: CsvForm
    dates: DateOrder

    def text(self, field: str) -> str:
        """The field's text, empty where it is not there."""
        return self.values.get(field, "")

    @property
    def told(self) -> frozenset[str]:
        """The fields that have something in them."""
        return frozenset(field for field, text in self.values.items() if text)

    def figure(self, field: str) -> Decimal | None:
        """The field's figure, None where it is empty."""
        cell = self.text(field)
        return read_figure(cell, self.form) if cell else None

    def count(self, field: str) -> int | None:
        """The field's whole number, None where it is empty."""
        cell = self.text(field)
        return read_count(cell, self.form) if cell else None

    def day(self, field: str) -> date | None:
        """The field's date, None where it is empty."""
        cell = self.text(field)
        return read_date(cell, self.dates) if cell else None


def cells_of(table: Table, columns: Columns, fields: Sequence[Field]) -> tuple[Cells, ...]:
    """Every row by field; refuses where a needed column is missing, and says which there are."""
    places: dict[str, int] = {}
    at = {h.casefold(): i for i, h in enumerate(table.headers) if h}
    for field, header in columns.headers:
        place = at.get(header.casefold())
        if place is None:
            raise TableError(
                f"There is no column {header!r} in this table; "
                f"its columns are {_listed(table.headers)}."
            )
        places[field] = place
    missing = [f.name for f in fields if f.needed and f.name not in places]
    if missing:
        raise TableError(
            f"No column is matched with {say.either(missing, 'and')}; "
            f"the table's columns are {_listed(table.headers)}."
        )
    return tuple(
        Cells(
            line,
            {field: row[place] for field, place in places.items() if place < len(row)},
            table.form,
            columns.dates,
        )
        for line, row in zip(table.lines, table.rows, strict=True)
    )


def _listed(headers: Sequence[str]) -> str:
    return ", ".join(h for h in headers if h) or "without names"
