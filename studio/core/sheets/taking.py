"""Tables in and out of the studio: one way for the screens and for the command line.

What is shown before is what is done: the preview holds the studio as it would be, and taking a
table in is nothing but that. It is one edit, all of it or nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from enum import StrEnum
from typing import Any

from studio.core import say
from studio.core.answers import ProjectPlan
from studio.core.buying.asking import book_of
from studio.core.edits.places import refuse
from studio.core.frozen import dataclass
from studio.core.model import Studio
from studio.core.sheets.fates import (
    Change,
    Effect,
    Fate,
    alike_notes,
    fate_of,
    kept_together,
    summary,
)
from studio.core.sheets.ordering import Day, ordered
from studio.core.sheets.orders import ORDER_FIELDS, order_rows, order_table, preview_orders
from studio.core.sheets.preview import Preview
from studio.core.sheets.prices import PRICE_FIELDS, preview_prices, price_table
from studio.core.sheets.pricing import priced_in
from studio.core.sheets.shelving import Lots, shelved
from studio.core.sheets.stash import STASH_FIELDS, preview_stash, stash_table
from studio.core.spreadsheet import Columns, CsvForm, Field, Table


class SheetKind(StrEnum):
    """What a table holds."""

    STASH = "stash"
    PRICES = "prices"
    ORDERS = "orders"

    @property
    def fields(self) -> Sequence[Field]:
        """What such a table may tell."""
        return _FIELDS[self]

    @property
    def words(self) -> str:
        """'the stash', 'a price list', 'a list of orders'."""
        return _WORDS[self]


_FIELDS = {
    SheetKind.STASH: STASH_FIELDS,
    SheetKind.PRICES: PRICE_FIELDS,
    SheetKind.ORDERS: ORDER_FIELDS,
}
_WORDS = {
    SheetKind.STASH: "the stash",
    SheetKind.PRICES: "a price list",
    SheetKind.ORDERS: "a list of orders",
}


@dataclass(frozen=True, slots=True)
class Request:
    """A table that is to be taken in, and how."""

    kind: SheetKind
    table: Table
    columns: Columns
    today: date
    lots: Lots = Lots.SET
    plans: Mapping[str, ProjectPlan] = field(default_factory=dict)
    """Of the pieces that are there: booking one promises it the lots of its plan."""

    def with_columns(self, columns: Columns) -> Request:
        """The same table with its columns matched otherwise."""
        return replace(self, columns=columns)

    def with_form(self, form: CsvForm) -> Request:
        """The same table with its figures read otherwise."""
        return replace(self, table=replace(self.table, form=form))


@dataclass(frozen=True, slots=True)
class Intake:
    """Every row with what becomes of it, and the studio with all sound rows in it."""

    rows: tuple[Fate, ...]
    after: Studio

    @property
    def faulty(self) -> tuple[Fate, ...]:
        """The rows that cannot be taken in."""
        return tuple(row for row in self.rows if row.change is Change.FAULTY)

    @property
    def changing(self) -> int:
        """How many rows are new or change something."""
        return sum(row.change in (Change.NEW, Change.CHANGED) for row in self.rows)

    @property
    def text(self) -> str:
        """'44 rows: 3 new, 40 as they are, 1 with a problem'."""
        return summary(self.rows)

    def taken(self, *, leave_out_faulty: bool = False) -> Studio:
        """The studio with the table in it; refuses while a row has a problem.

        With `leave_out_faulty` such rows are left out, and those that belong with them.
        """
        if self.faulty and not leave_out_faulty:
            first = self.faulty[0]
            refuse(
                f"{say.count(len(self.faulty), 'row')} of {len(self.rows)} cannot be taken in. "
                f"Line {first.line}: {first.problems[0]}"
            )
        return self.after


def intake(request: Request, studio: Studio) -> Intake:
    """What the table comes to in this studio; TableError where its columns are not matched."""
    preview = kept_together(preview_of(request, studio))
    after, effects = _merged(request, preview, studio)
    alike = alike_notes(preview.rows) if request.kind is SheetKind.STASH else {}
    fates = tuple(fate_of(row, effects.get(row.line), alike.get(row.line)) for row in preview.rows)
    return Intake(fates, after)


def preview_of(request: Request, studio: Studio) -> Preview[Any]:
    """Every row as it reads by itself."""
    settings, table, columns = studio.settings, request.table, request.columns
    if request.kind is SheetKind.STASH:
        return preview_stash(table, columns, studio.library, settings.currency)
    if request.kind is SheetKind.PRICES:
        book = book_of(studio)
        return preview_prices(table, columns, studio.library, book, settings.currency)
    return preview_orders(table, columns, settings)


def _merged(
    request: Request, preview: Preview[Any], studio: Studio
) -> tuple[Studio, dict[int, Effect]]:
    if request.kind is SheetKind.STASH:
        return shelved(preview, studio, request.lots)
    if request.kind is SheetKind.PRICES:
        return priced_in(preview, studio)
    return ordered(preview, studio, Day(request.today, request.plans))


def table_of(kind: SheetKind, studio: Studio, form: CsvForm) -> str:
    """What the studio has of this kind, as a table that can be taken in again."""
    if kind is SheetKind.STASH:
        return stash_table(studio.stash.lots, form)
    if kind is SheetKind.PRICES:
        return price_table(studio.offers, form)
    return order_table(order_rows(studio.projects), form)


def count_of(kind: SheetKind, studio: Studio) -> str:
    """How much such a table would hold: '77 lots', '9 offers', '18 pieces'."""
    if kind is SheetKind.STASH:
        return say.count(len(studio.stash.lots), "lot")
    if kind is SheetKind.PRICES:
        return say.count(len(studio.offers), "offer")
    return say.count(len(studio.projects), "piece")
