"""Dialogs about the stash: add a lot, correct it, use balls up, weigh a part ball; new yarns."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core import categories, edits, say
from studio.core.model import Batch, Fibre, Lot, Shade, ShadeRef, Yarn
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, choose, choose_shade, fill_in
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


def _the_lot(app: StripewrightApp, subject: object) -> Lot | None:
    return next((lot for lot in app.view.studio.stash.lots if lot.ref == subject), None)


def _title(app: StripewrightApp, lot: Lot) -> str:
    return f"Lot {lot.code} of {app.view.shade_name(lot.shade_ref)}"


def _today() -> date:
    return date.today()  # noqa: DTZ011 - the maker's own day


def _lot_fields(app: StripewrightApp, lot: Lot) -> list[Field]:
    currency = app.view.settings.currency
    fields = [
        Field("code", "lot on the ball band", lot.code, entries.text("The lot"),
              "band lost: any mark of your own"),
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
                  entries.optional(entries.day("Bought", _today())), "such as 12 Mar 2025"),
            Field(f"supplier{at}", "from", batch.supplier),
            Field(f"kept{at}", "kept in", batch.kept),
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
    shade = await choose_shade(app, "Which shade came into the house?", at=at)
    if shade is None:
        return
    blank = Lot(shade.yarn, shade.shade, "", (Batch(0, bought=_today()),))
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


# Yarns and shades


def key_from(name: str, taken: Iterable[str]) -> str:
    """A file's name made from words: plain letters and hyphens, not taken yet."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "yarn"
    known = set(taken)
    return next(k for k in (stem, *(f"{stem}-{i}" for i in range(2, 10_000))) if k not in known)


def fibres(entry: str) -> tuple[Fibre, ...]:
    """'cotton 60, wool 40' as fibres; one alone is all of it."""
    found = []
    for part in filter(None, (p.strip() for p in entry.split(","))):
        match = re.fullmatch(r"(.*?)\s*(\d{1,3})?\s*%?", part)
        name = match[1] if match else part
        percent = Decimal(match[2]) if match and match[2] else Decimal(100)
        found.append(Fibre(name.strip(), percent))
    if sum(f.percent for f in found) != 100 or not all(f.name for f in found):
        raise ValueError("Fibres are percents that make 100, such as cotton 60, wool 40.")
    return tuple(found)


def yarn_fields(currency: str) -> list[Field]:
    """The fields of a yarn, as they stand on a ball band."""
    kinds = tuple((str(i), categories.words(i)) for i in range(8))
    return [
        Field("name", "yarn", "", entries.text("The name"), "as it stands on the ball band"),
        Field("category", "weight", "4", int, options=kinds),
        Field("ball_g", "grams a ball", "50", entries.number("Grams", "0", "5000", above=True)),
        Field("ball_m", "metres a ball", "",
              entries.optional(entries.number("Metres", "0", "50000", above=True)), "may be empty"),
        Field("price", f"price a ball {currency}", "",
              entries.optional(entries.number("The price")), "today's price; may be empty"),
        Field("fibres", "fibres", "", fibres, "such as cotton 60, wool 40"),
        Field("no_dye_lot", "without dye lots", "no", options=YES_NO,
              check=lambda text: text == "yes"),
    ]  # fmt: skip


def yarn_from(values: Values, key: str, shades: tuple[Shade, ...]) -> Yarn:
    """A yarn from its fields."""
    metres, price, made_of = values["ball_m"], values["price"], values["fibres"]
    return Yarn(
        key=key,
        name=str(values["name"]),
        category=int(str(values["category"])),
        fibres=made_of if isinstance(made_of, tuple) else (),
        ball_g=Decimal(str(values["ball_g"])),
        shades=shades,
        ball_m=metres if isinstance(metres, Decimal) else None,
        price=price if isinstance(price, Decimal) else None,
        no_dye_lot=bool(values["no_dye_lot"]),
    )


def shade_fields() -> list[Field]:
    """The fields of a shade."""
    return [
        Field("name", "shade", "", entries.text("The name"), "its name on the band, or your own"),
        Field("code", "number", "", hint="the maker's number; empty: made from the name"),
        Field("colours", "colour on the screen", "#", entries.colours,
              "# and six of 0-9 a-f; several, parted by blanks, where it is variegated"),
    ]  # fmt: skip


def shade_from(values: Values, taken: tuple[Shade, ...]) -> Shade:
    """A shade from its fields."""
    name = str(values["name"])
    code = str(values["code"]) or key_from(name, [s.code for s in taken])
    colours = values["colours"]
    return Shade(code, name, colours if isinstance(colours, tuple) else ())


async def new_yarn(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """A new yarn with its first shade, or one more shade of a yarn that is there."""
    library = app.view.studio.library
    found: object = "new"
    if library.yarns:
        rows = [("new", "a new yarn", "a product line with its first shade")]
        rows += [
            (y.key, y.name, f"one more shade; it has {say.count(len(y.shades), 'shade')}")
            for y in library.yarns
        ]
        found = await choose(app, "Yarns and shades", rows, narrow=len(rows) > 8)
    if found is None:
        return
    yarn = library.yarn.get(str(found))
    if yarn is None:
        values = await fill_in(
            app, "new yarn", "A new yarn", yarn_fields(app.view.settings.currency), verb="go on"
        )
        if values is None:
            return
        yarn = yarn_from(values, key_from(str(values["name"]), list(library.yarn)), ())
    values = await fill_in(
        app, f"shade {yarn.key}", f"A shade of {yarn.name}", shade_fields(), verb="add it"
    )
    if values is None:
        return
    shade = shade_from(values, yarn.shades)
    whole = replace(yarn, shades=(*yarn.shades, shade))
    put = edits.set_yarn if yarn.key in library.yarn else edits.add_yarn
    app.edit(f"{yarn.name} {shade.name} added", lambda s: put(s, whole))
