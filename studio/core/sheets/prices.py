"""A price list as a table: one row for each price of each shade at each supplier."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from studio.core import say
from studio.core.buying.offers import MOST_PACK, BreakScope, Offer, OfferBook
from studio.core.frozen import dataclass
from studio.core.model import Library
from studio.core.sheets.preview import (
    Preview,
    Row,
    called,
    preview_rows,
    shade_of_yarn,
    yarn_of,
)
from studio.core.spreadsheet import Columns, CsvForm, Field, Table, write_table

PRICE_FIELDS = (
    Field("supplier", True, ("shop",)),
    Field("yarn", True, ("quality",)),
    Field("shade", False, ("colour", "color", "shade code")),
    Field("pack", False, ("balls per pack", "pack size")),
    Field("from", False, ("from balls", "quantity")),
    Field("price", True, ("price per ball",)),
    Field("counts", False, ("break on",)),
    Field("note", False, ("notes",)),
)


@dataclass(frozen=True, slots=True)
class PriceRow:
    """One price of a price list.

    `shade` None stands for all shades of the yarn; `pack`, `from_balls`, `scope`, `note` are None
    where the row does not tell them.
    """

    supplier: str
    yarn: str
    shade: str | None
    pack: int | None
    from_balls: int | None
    price: Decimal
    scope: BreakScope | None = None
    note: str | None = None


def preview_prices(
    table: Table, columns: Columns, library: Library, book: OfferBook, currency: str
) -> Preview[PriceRow]:
    """Each row as one price from one supplier, who must be there already."""
    return preview_rows(
        table, columns, PRICE_FIELDS, lambda row: _price_row(row, library, book, currency)
    )


def _price_row(row: Row, library: Library, book: OfferBook, currency: str) -> PriceRow | None:
    cells = row.cells
    supplier = _supplier(row, book)
    yarn = yarn_of(row, library)
    text = cells.text("shade")
    shade = shade_of_yarn(row, yarn, text) if yarn and text else None
    row.group = (supplier, yarn.key if yarn else cells.text("yarn"), shade or text)
    pack = row.count("pack", 1, MOST_PACK)
    start = row.count("from", 1)
    row.needed("price")
    price = row.money("price", currency)
    scope = cells.text("counts").casefold()
    if scope and scope not in set(BreakScope):
        row.problems.append(f"counts: {scope!r} is neither 'shade' nor 'yarn'.")
    note = row.words("note")
    if row.problems or yarn is None or price is None:
        return None
    counts = BreakScope(scope) if scope else None
    return PriceRow(supplier, yarn.key, shade, pack, start, price, counts, note or None)


def _supplier(row: Row, book: OfferBook) -> str:
    """The supplier's key, or what the row calls them where there is none of that name."""
    name = row.needed("supplier")
    found = called(name, book.suppliers, lambda s: s.key, lambda s: s.name)
    if name and len(found) != 1:
        known = say.either([s.name for s in book.suppliers], "and") or "none yet"
        row.problems.append(
            f"supplier: {name!r} is not among the suppliers ({known}); add it first."
        )
    return found[0].key if len(found) == 1 else name


def price_table(offers: Iterable[Offer], form: CsvForm) -> str:
    """Offers as a price list: one row for each price of each shade."""
    rows = [
        (
            offer.supplier, offer.yarn, code or "", str(offer.pack), str(step.from_balls),
            form.figure(step.price), offer.scope.value, offer.note,
        )
        for offer in offers
        for code in ((None,) if offer.shades is None else offer.shades)
        for step in offer.breaks
    ]  # fmt: skip
    return write_table([f.name for f in PRICE_FIELDS], rows, form)
