"""A list of her customers' orders as a table: who wants which piece, how large, by when."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import say
from studio.core.edits.projects import LONGEST_NAME
from studio.core.frozen import dataclass
from studio.core.model import Length, LengthUnit, Project, Settings, Stage
from studio.core.sheets.preview import (
    LONGEST_NOTE,
    MOST_DECIMALS,
    Preview,
    Row,
    day_cell,
    figure_cell,
    preview_rows,
)
from studio.core.spreadsheet import Cells, Columns, CsvForm, Field, Table, write_table

ORDER_FIELDS = (
    Field("name", True, ("piece", "project", "order")),
    Field("customer", False, ("for",)),
    Field("stage", False, ("status",)),
    Field("due", False, ("due date", "hand over"), day=True),
    Field("booked", False, ("order date", "ordered"), day=True),
    Field("width", False),
    Field("length", False),
    Field("price", False, ("agreed price",)),
    Field("like", False, ("design", "pattern")),
    Field("note", False, ("notes",)),
)


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One order of a list; what is None or empty is not told by it.

    `like` names the piece whose shades and stripes a new one takes.
    """

    name: str
    customer: str = ""
    stage: Stage | None = None
    due: date | None = None
    booked: date | None = None
    width: Length | None = None
    length: Length | None = None
    price: Decimal | None = None
    like: str = ""
    note: str = ""


def preview_orders(table: Table, columns: Columns, settings: Settings) -> Preview[OrderRow]:
    """Each row as an order; a size without a unit is in that of the studio."""
    return preview_rows(table, columns, ORDER_FIELDS, lambda row: _order_row(row, settings))


def _order_row(row: Row, settings: Settings) -> OrderRow | None:
    cells, unit = row.cells, settings.length_unit
    row.needed("name")
    name = row.words("name", LONGEST_NAME)
    row.group = (name.casefold(),) if name else ()
    stage = cells.text("stage").casefold()
    if stage and stage not in set(Stage):
        stages = say.either([s.value for s in Stage])
        row.problems.append(f"stage: {stage!r} is none of {stages}.")
    due, booked = row.take("due", cells.day), row.take("booked", cells.day)
    width = row.take("width", lambda field: _length(cells, field, unit))
    length = row.take("length", lambda field: _length(cells, field, unit))
    price = row.money("price", settings.currency)
    customer, note = row.words("customer"), row.words("note", LONGEST_NOTE)
    if row.problems:
        return None
    reached = Stage(stage) if stage else None
    like = cells.text("like")
    return OrderRow(name, customer, reached, due, booked, width, length, price, like, note)


_LENGTH = re.compile(r"([^a-zA-Z\"]*?)\s*(cm|mm|in|m|\")?\Z")


def _length(cells: Cells, field: str, unit: LengthUnit) -> Length | None:
    text = cells.text(field)
    if not text:
        return None
    found = _LENGTH.match(text.casefold())
    if found is None:
        raise ValueError(f"{text!r} is not a length such as 120 cm")
    figure = replace(cells, values={field: found[1]}).figure(field)
    if figure is None or figure <= 0:
        raise ValueError(f"{text!r} is not a length over 0")
    if round(figure, MOST_DECIMALS) != figure:
        raise ValueError(f"{text!r} has more than {MOST_DECIMALS} decimals")
    mark = {None: unit.value, '"': "in"}.get(found[2], found[2])
    return Length(figure, LengthUnit(mark))


def order_rows(projects: Iterable[Project]) -> Iterator[OrderRow]:
    """Projects as they would stand in a list of orders."""
    for p in projects:
        yield OrderRow(
            p.name, p.customer, p.stage, p.due, p.booked, p.width, p.length, agreed_price(p),
            note=p.note,
        )  # fmt: skip


def agreed_price(project: Project) -> Decimal | None:
    """The price set by hand, else the one of the quote as it was sent."""
    if project.price is not None:
        return project.price
    return None if project.quote is None else project.quote.price


def order_table(rows: Iterable[OrderRow], form: CsvForm) -> str:
    """A list of orders as a table; sizes carry their unit."""
    return write_table(
        [f.name for f in ORDER_FIELDS],
        [
            (
                r.name, r.customer, r.stage.value if r.stage else "", day_cell(r.due),
                day_cell(r.booked), _size(r.width, form), _size(r.length, form),
                figure_cell(r.price, form), r.like, r.note,
            )
            for r in rows
        ],
        form,
    )  # fmt: skip


def _size(length: Length | None, form: CsvForm) -> str:
    return "" if length is None else f"{form.figure(length.value)} {length.unit.value}"
