"""A price list as a table: one row for each price of each shade at each supplier."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from studio.core.buying.offers import BreakScope, Offer, OfferBook, PriceBreak
from studio.core.model import Library
from studio.core.sheets.preview import Preview, Row, preview_rows, shade_of_yarn, yarn_of
from studio.core.spreadsheet import Columns, CsvForm, Field, Table, write_table

PRICE_FIELDS = (
    Field("supplier", True, ("shop",)),
    Field("yarn", True, ("quality",)),
    Field("shade", False, ("colour", "color", "shade code")),
    Field("pack", False, ("balls per pack", "pack size")),
    Field("from", False, ("from balls", "quantity")),
    Field("price", True, ("price per ball",)),
    Field("counts", False, ("break on",)),
)


@dataclass(frozen=True, slots=True)
class PriceRow:
    """One price of a price list; `shade` None stands for all shades of the yarn."""

    supplier: str
    yarn: str
    shade: str | None
    pack: int
    from_balls: int
    price: Decimal
    scope: BreakScope


def preview_prices(
    table: Table, columns: Columns, library: Library, book: OfferBook, currency: str
) -> Preview[PriceRow]:
    """Each row as one price from one supplier, who must be there already."""
    return preview_rows(
        table, columns, PRICE_FIELDS, lambda row: _price_row(row, library, book, currency)
    )


def _price_row(row: Row, library: Library, book: OfferBook, currency: str) -> PriceRow | None:
    cells = row.cells
    name = row.needed("supplier")
    wanted = name.casefold()
    suppliers = [s.key for s in book.suppliers if wanted in (s.key.casefold(), s.name.casefold())]
    if name and len(suppliers) != 1:
        row.problems.append(f"supplier: {name!r} is not among the suppliers; add it first.")
    yarn = yarn_of(row, library)
    text = cells.text("shade")
    shade = shade_of_yarn(row, yarn, text) if yarn and text else None
    pack = row.take("pack", cells.count)
    start = row.take("from", cells.count)
    for field, value in (("pack", pack), ("from", start)):
        if value == 0:
            row.problems.append(f"{field}: it is 1 or more.")
    row.needed("price")
    price = row.money("price", currency)
    scope = cells.text("counts").casefold() or BreakScope.SHADE.value
    if scope not in {s.value for s in BreakScope}:
        row.problems.append(f"counts: {scope!r} is neither 'shade' nor 'yarn'.")
    if row.problems or yarn is None or price is None:
        return None
    return PriceRow(suppliers[0], yarn.key, shade, pack or 1, start or 1, price, BreakScope(scope))


def offers_of(rows: Iterable[PriceRow]) -> tuple[Offer, ...]:
    """Prices as offers: shades with the same prices in the same pack are one offer."""
    prices: dict[tuple[str, str, int, BreakScope, str | None], list[PriceBreak]] = {}
    for row in rows:
        key = (row.supplier, row.yarn, row.pack, row.scope, row.shade)
        prices.setdefault(key, []).append(PriceBreak(row.from_balls, row.price))
    alike: dict[tuple[object, ...], list[tuple[Offer, str | None]]] = {}
    for (supplier, yarn, pack, scope, shade), breaks in prices.items():
        steps = tuple(sorted(breaks, key=lambda s: s.from_balls))
        offer = Offer(supplier, yarn, steps, pack, None, scope)
        alike.setdefault((supplier, yarn, pack, scope, shade is None, steps), []).append(
            (offer, shade)
        )
    return tuple(
        replace(found[0][0], shades=_codes(shade for _, shade in found)) for found in alike.values()
    )


def _codes(shades: Iterable[str | None]) -> tuple[str, ...] | None:
    codes = tuple(code for code in shades if code is not None)
    return codes or None


def price_table(offers: Iterable[Offer], form: CsvForm) -> str:
    """Offers as a price list: one row for each price of each shade."""
    rows = [
        (
            offer.supplier, offer.yarn, code or "", str(offer.pack), str(step.from_balls),
            form.figure(step.price), offer.scope.value,
        )
        for offer in offers
        for code in (offer.shades or (None,))
        for step in offer.breaks
    ]  # fmt: skip
    return write_table([f.name for f in PRICE_FIELDS], rows, form)
