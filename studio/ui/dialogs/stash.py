"""Dialogs about the stash: add a lot, correct it, use balls up, weigh a part ball."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import edits, say
from studio.core.model import Batch, Lot, ShadeRef
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, choose, choose_shade, fill_in
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure
from studio.ui.dialogs.yarn import new_yarn

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


def _the_lot(app: StripewrightApp, subject: object) -> Lot | None:
    return next((lot for lot in app.view.studio.stash.lots if lot.ref == subject), None)


def _title(app: StripewrightApp, lot: Lot) -> str:
    return f"Lot {lot.code} of {app.view.shade_name(lot.shade_ref)}"


def _lot_fields(app: StripewrightApp, lot: Lot) -> list[Field]:
    currency = app.view.settings.currency
    yarn = app.view.studio.library.yarn.get(lot.yarn)
    plain = yarn is not None and yarn.no_dye_lot
    fields = [
        Field("code", "lot on the ball band", lot.code,
              entries.any_text if plain else entries.text("The lot"),
              "empty: it has no dye lots" if plain else "band lost: any mark of your own"),
        Field("lost", "band is lost", "yes" if lot.code_lost else "no", options=YES_NO,
              check=lambda text: text == "yes"),
    ]  # fmt: skip
    for at, batch in enumerate(lot.batches or (Batch(0),)):
        number = f" {at + 1}" if len(lot.batches) > 1 else ""
        fields += [
            Field(f"balls{at}", f"full balls{number}", str(batch.balls),
                  entries.whole("Balls", 0, 10_000)),
            Field(f"price{at}", f"price a ball {currency}", figure(batch.price),
                  entries.optional(entries.number("The price")), "as paid; empty: not known"),
            Field(f"bought{at}", "bought", date_entry(batch.bought),
                  entries.optional(entries.day("Bought", clock.today())), "such as 12 Mar 2025"),
            Field(f"supplier{at}", "from", batch.supplier, entries.line),
            Field(f"kept{at}", "kept in", batch.kept, entries.line),
        ]  # fmt: skip
    return [
        *fields,
        Field("parts", "part balls g", " ".join(figure(g) for g in lot.parts_g),
              entries.grams_list, "each one weighed, parted by blanks: 31 12.5"),
        Field("note", "note", lot.note),
    ]  # fmt: skip


def _lot_from(lot: Lot, values: Values) -> Lot:
    batches = []
    for at, batch in enumerate(lot.batches or (Batch(0),)):
        price, bought = values[f"price{at}"], values[f"bought{at}"]
        new = replace(
            batch,
            balls=int(str(values[f"balls{at}"])),
            price=price if isinstance(price, Decimal) else None,
            bought=bought if isinstance(bought, date) else None,
            supplier=str(values[f"supplier{at}"]),
            kept=str(values[f"kept{at}"]),
        )
        if new != Batch(0):
            batches.append(new)
    parts = values["parts"]
    return replace(
        lot,
        code=str(values["code"]),
        code_lost=bool(values["lost"]),
        batches=tuple(batches),
        parts_g=parts if isinstance(parts, tuple) else (),
        note=str(values["note"]),
    )


async def add_lot(app: StripewrightApp, subject: object) -> None:
    """Choose the shade, then what is in the lot."""
    if not app.view.studio.library.shade:
        await new_yarn(app, None)
        if not app.view.studio.library.shade:
            return
    at = subject if isinstance(subject, ShadeRef) else None
    shades = list(app.view.studio.library.shade)
    shade = (
        shades[0]
        if len(shades) == 1
        else await choose_shade(app, "Which shade came into the house?", at=at)
    )
    if shade is None:
        return
    blank = Lot(shade.yarn, shade.shade, "", (Batch(0, bought=clock.today()),))
    title = f"A lot of {app.view.shade_name(shade)}"
    values = await fill_in(app, f"add lot {shade}", title, _lot_fields(app, blank))
    if values is not None:
        new = _lot_from(blank, values)
        app.edit(f"lot {new.code} added", lambda s: edits.add_lot(s, new), new.ref)


async def correct_lot(app: StripewrightApp, subject: object) -> None:
    """Put a lot right."""
    lot = _the_lot(app, subject)
    if lot is None:
        return
    values = await fill_in(app, f"lot {lot.ref}", _title(app, lot), _lot_fields(app, lot))
    if values is not None:
        new = _lot_from(lot, values)
        app.edit(f"lot {lot.code} corrected", lambda s: edits.set_lot(s, lot.ref, new), new.ref)


async def use_balls(app: StripewrightApp, subject: object) -> None:
    """Take full balls out of a lot."""
    lot = _the_lot(app, subject)
    if lot is None:
        return
    check = entries.whole("Balls", 1, max(1, lot.balls))
    field = Field("balls", "balls used up", "1", check, f"of {say.balls(lot.balls)}")
    values = await fill_in(app, f"use {lot.ref}", _title(app, lot), [field])
    if values is not None:
        balls = int(str(values["balls"]))
        app.edit(
            f"{say.balls(balls)} of {lot.code} used up",
            lambda s: edits.use_balls(s, lot.ref, balls),
            lot.ref,
        )


async def weigh_part(app: StripewrightApp, subject: object) -> None:
    """Put down what a part ball weighs; the first ones are offered, and a new one."""
    lot = _the_lot(app, subject)
    if lot is None:
        return
    part: int | None = None
    if lot.parts_g:
        rows = [(str(i), f"the one of {say.grams(g)}", "") for i, g in enumerate(lot.parts_g)]
        rows.append(("new", "a new part ball", "such as one just opened"))
        found = await choose(app, f"Weigh: {_title(app, lot)}", rows)
        if found is None:
            return
        part = None if found == "new" else int(str(found))
    old = "" if part is None else figure(lot.parts_g[part])
    field = Field("grams", "grams", old, entries.number("Grams", "0", "10000"), "0: it is used up")
    values = await fill_in(app, f"weigh {lot.ref} {part}", _title(app, lot), [field])
    if values is not None:
        grams = Decimal(str(values["grams"]))
        app.edit(
            f"part ball of {lot.code} weighed",
            lambda s: edits.weigh_part(s, lot.ref, part, grams),
            lot.ref,
        )
