"""A stash as a table: one row for each batch of full balls, and one for each part ball."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal

from studio.core import say
from studio.core.edits.stash import PART_OVER_BALL
from studio.core.lots.problem import BUY
from studio.core.model import Batch, Library, Lot, LotRef, Yarn
from studio.core.shades import ORDER_PREFIX
from studio.core.sheets.preview import (
    LONGEST_NOTE,
    Preview,
    Row,
    day_cell,
    figure_cell,
    preview_rows,
    shade_of_yarn,
    yarn_of,
)
from studio.core.spreadsheet import Columns, CsvForm, Field, Table, write_table

STASH_FIELDS = (
    Field("yarn", True, ("brand", "quality")),
    Field("shade", True, ("colour", "color", "shade code")),
    Field("lot", False, ("dye lot", "dyelot", "dye-lot")),
    Field("balls", False, ("skeins", "full balls", "quantity")),
    Field("part", False, ("part ball", "part balls", "part ball g")),
    Field("price", False, ("price per ball", "paid")),
    Field("shipping", False, ("shipping per ball", "postage")),
    Field("bought", False, ("date", "purchase date"), day=True),
    Field("supplier", False, ("shop", "from")),
    Field("kept", False, ("place", "where", "box")),
    Field("note", False, ("notes",)),
    Field("code lost", False, ("band lost",)),
)

_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"", "no", "n", "false", "0"})


def preview_stash(table: Table, columns: Columns, library: Library, currency: str) -> Preview[Lot]:
    """Each row as a lot with its balls or its part ball."""
    return preview_rows(table, columns, STASH_FIELDS, lambda row: _lot(row, library, currency))


def _lot(row: Row, library: Library, currency: str) -> Lot | None:
    cells = row.cells
    yarn = yarn_of(row, library)
    name = row.needed("shade")
    shade = shade_of_yarn(row, yarn, name) if yarn and name else None
    code = _code(row, yarn)
    row.group = (yarn.key if yarn else cells.text("yarn"), shade or name, code)
    balls = row.count("balls")
    part = _part(row, yarn)
    if not cells.told & {"balls", "part"}:
        row.problems.append("balls: the row has neither balls nor a part ball.")
    price, shipping = row.money("price", currency), row.money("shipping", currency)
    bought = row.take("bought", cells.day)
    batch = Batch(
        balls or 0, price, shipping or Decimal(0), bought, row.words("supplier"), row.words("kept")
    )
    note = row.words("note", LONGEST_NOTE)
    lost = cells.text("code lost").casefold()
    if lost not in _YES | _NO:
        row.problems.append(f"code lost: {lost!r} is neither yes nor no.")
    if yarn is None or shade is None or row.problems:
        return None
    batches = () if balls is None else (batch,)
    parts = () if part is None else (part,)
    return Lot(yarn.key, shade, code, batches, parts, lost in _YES, note)


def _code(row: Row, yarn: Yarn | None) -> str:
    """The code of the lot, which only a yarn without dye lots may lack."""
    code = row.words("lot")
    if yarn and not code and not yarn.no_dye_lot:
        row.problems.append("lot: it is empty; give the code of the ball band, or a mark of yours.")
    if code == BUY or code.startswith(ORDER_PREFIX):
        row.problems.append(f"lot: a lot cannot be called {code!r}.")
    return code


def _part(row: Row, yarn: Yarn | None) -> Decimal | None:
    """The grams of a part ball, which are at most those of a ball as it may really weigh."""
    part = row.figure("part")
    if part is None:
        return None
    most = yarn.ball_g * PART_OVER_BALL if yarn else part
    if not 0 < part <= most:
        ball = f" and at most the {yarn.ball_g} g of a ball, or little more" if yarn else ""
        row.problems.append(f"part: {part} g; a part ball has more than 0 g{ball}.")
        return None
    return part


def lots_together(rows: Iterable[Lot]) -> tuple[Lot, ...]:
    """Rows of one lot as that lot, its batches and part balls in their order."""
    lots: dict[LotRef, Lot] = {}
    notes: dict[LotRef, list[str]] = {}
    for row in rows:
        notes.setdefault(row.ref, []).append(row.note)
        old = lots.get(row.ref)
        lots[row.ref] = (
            row
            if old is None
            else replace(
                old,
                batches=(*old.batches, *row.batches),
                parts_g=(*old.parts_g, *row.parts_g),
                code_lost=old.code_lost or row.code_lost,
            )
        )
    return tuple(replace(lot, note=notes_together(notes[ref])) for ref, lot in lots.items())


def notes_together(notes: Iterable[str]) -> str:
    """What rows of one lot note, each once and a line to each, so that none is dropped unseen."""
    told = dict.fromkeys(note.strip() for note in notes if note.strip())
    return "\n".join(told)


def stash_table(lots: Iterable[Lot], form: CsvForm) -> str:
    """A stash as a table: one row for each batch, and one for each part ball.

    A lot of which nothing is left has a row of 0 balls, so that the table names every lot.
    """
    rows: list[tuple[str, ...]] = []
    for lot in lots:
        lost = "yes" if lot.code_lost else ""
        head = (lot.yarn, lot.shade, lot.code)
        tail = (lot.note, lost)
        batches = lot.batches or (() if lot.parts_g else (Batch(0),))
        rows.extend((*head, *_batch_cells(batch, form), *tail) for batch in batches)
        rows.extend(
            (*head, "", form.figure(part), "", "", "", "", "", *tail) for part in lot.parts_g
        )
    return write_table([f.name for f in STASH_FIELDS], rows, form)


def _batch_cells(batch: Batch, form: CsvForm) -> tuple[str, ...]:
    return (
        str(batch.balls),
        "",
        figure_cell(batch.price, form),
        figure_cell(batch.shipping or None, form),
        day_cell(batch.bought),
        batch.supplier,
        batch.kept,
    )


def holding(lot: Lot) -> str:
    """'3 balls and 2 part balls (34 g, 61.5 g)', 'nothing'."""
    words = [say.balls(lot.balls)] if lot.balls or not lot.parts_g else []
    if lot.parts_g:
        grams = ", ".join(say.grams(part) for part in lot.parts_g)
        words.append(f"{say.count(len(lot.parts_g), 'part ball')} ({grams})")
    return " and ".join(words)
