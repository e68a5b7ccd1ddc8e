"""A list of her customers' orders as a table: enough to begin projects with."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from studio.core import say
from studio.core.model import Length, LengthUnit, Project, Stage
from studio.core.sheets.preview import Preview, Row, day_cell, preview_rows
from studio.core.spreadsheet import Cells, Columns, CsvForm, Field, Table, write_table

ORDER_FIELDS = (
    Field("name", True, ("piece", "project", "order")),
    Field("customer", False, ("for",)),
    Field("stage", False, ("status",)),
    Field("due", False, ("due date", "hand over")),
    Field("width", False),
    Field("length", False),
    Field("note", False, ("notes",)),
)


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One order of a list: enough to begin a project with."""

    name: str
    customer: str = ""
    stage: Stage = Stage.BOOKED
    due: date | None = None
    width: Length | None = None
    length: Length | None = None
    note: str = ""


def preview_orders(table: Table, columns: Columns, unit: LengthUnit) -> Preview[OrderRow]:
    """Each row as an order; a size without a unit is in `unit`."""
    return preview_rows(table, columns, ORDER_FIELDS, lambda row: _order_row(row, unit))


def _order_row(row: Row, unit: LengthUnit) -> OrderRow | None:
    cells = row.cells
    name = row.needed("name")
    stage = cells.text("stage").casefold() or Stage.BOOKED.value
    if stage not in {s.value for s in Stage}:
        stages = say.either([s.value for s in Stage])
        row.problems.append(f"stage: {stage!r} is none of {stages}.")
    due = row.take("due", cells.day)
    width = row.take("width", lambda field: _length(cells, field, unit))
    length = row.take("length", lambda field: _length(cells, field, unit))
    if row.problems:
        return None
    return OrderRow(
        name, cells.text("customer"), Stage(stage), due, width, length, cells.text("note")
    )


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
    mark = {None: unit.value, '"': "in"}.get(found[2], found[2])
    return Length(figure, LengthUnit(mark))


def order_rows(projects: Iterable[Project]) -> Iterator[OrderRow]:
    """Projects as they would stand in a list of orders."""
    for p in projects:
        yield OrderRow(p.name, p.customer, p.stage, p.due, p.width, p.length, p.note)


def order_table(rows: Iterable[OrderRow], form: CsvForm) -> str:
    """A list of orders as a table; sizes carry their unit."""
    return write_table(
        [f.name for f in ORDER_FIELDS],
        [
            (
                r.name, r.customer, r.stage.value, day_cell(r.due), _size(r.width, form),
                _size(r.length, form), r.note,
            )
            for r in rows
        ],
        form,
    )  # fmt: skip


def _size(length: Length | None, form: CsvForm) -> str:
    return "" if length is None else f"{form.figure(length.value)} {length.unit.value}"
