"""A new piece, guided: its size, its shades, its stripes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import edits, say, sequence
from studio.core.edits.projects import free_key
from studio.core.gauge import gauge_for
from studio.core.model import Length, LengthUnit, Project, Slot, Stage, Stitch, Stripe
from studio.ui.columns import Cell, Column, Row
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import choose, choose_shade, fill_in
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import length_entry
from studio.ui.dialogs.swatch import new_swatch

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"

FIRST_STITCH = Stitch("single-crochet", "single crochet", multiple=1, extra=1, skipped=1)
"""Where the studio has no stitch yet: a chain of one more, the first one skipped."""


async def new_piece(app: StripewrightApp, subject: object) -> bool:  # noqa: ARG001
    """Ask for size, shades and stripes, and begin the piece as an idea."""
    if not app.view.studio.library.shade:
        app.say("A piece needs yarn: add a yarn and a shade first.")
        await app.begin("new_yarn")
        if not app.view.studio.library.shade:
            return False
    values = await fill_in(
        app, "new piece", "A new piece: what it is to be", _fields(app), verb="go on"
    )
    if values is None:
        return False
    slots = await _choose_slots(app, str(values["name"]))
    if not slots:
        return False
    await _offer_swatch(app, values, slots)
    return await _stripes(app, values, slots)


async def _offer_swatch(app: StripewrightApp, values: Values, slots: tuple[Slot, ...]) -> None:
    """Ask for a swatch where none tells the gauge: without one nothing can be said of the size."""
    library = app.view.studio.library
    stitch, hook = str(values["stitch"]), Decimal(str(values["hook_mm"]))
    if stitch not in library.stitch or any(
        gauge_for(library, slot.yarn, stitch, hook) for slot in slots
    ):
        return
    yarn = app.view.yarn_name(slots[0].yarn)
    rows = [
        ("yes", "I have one to count", "size and yarn are known then"),
        ("no", "not yet", "its size is not known so far"),
    ]
    what = f"{yarn}, {library.stitch[stitch].name.lower()}, {hook:f} mm"
    note = f"Stitches and rows come from a swatch, and there is none of {what} yet."
    if await choose(app, "Is there a swatch?", rows, note=note) == "yes":
        await new_swatch(app, (slots[0].yarn, stitch, hook))


def _fields(app: StripewrightApp) -> list[Field]:
    studio = app.view.studio
    unit = studio.settings.length_unit
    inches = unit is LengthUnit.INCH
    width = Length(Decimal(48 if inches else 120), unit)
    length = Length(Decimal(60 if inches else 150), unit)
    stitches = studio.library.stitches or (FIRST_STITCH,)
    hooks = [s.hook_mm for s in studio.library.swatches]
    return [
        Field("name", "name", "", entries.text("The name"), "what you call it"),
        Field("customer", "customer", "", hint="empty: for stock, or a gift"),
        Field("due", "due", "", entries.optional(entries.day("Due", clock.today())),
              "such as 12 Mar; may be empty"),
        Field("width", "width", length_entry(width), entries.length("The width", unit)),
        Field("length", "length", length_entry(length), entries.length("The length", unit)),
        Field("stitch", "stitch", stitches[0].key,
              options=tuple((s.key, s.name) for s in stitches)),
        Field("hook_mm", "hook mm", f"{hooks[0]:f}" if hooks else "5.5",
              entries.number("The hook", "0", "50", above=True)),
    ]  # fmt: skip


async def _choose_slots(app: StripewrightApp, name: str) -> tuple[Slot, ...]:
    """Shade after shade until she says that is all."""
    slots: list[Slot] = []
    while len(slots) < len(LETTERS):
        letter = LETTERS[len(slots)]
        at = slots[-1].shade_ref if slots else None
        shade = await choose_shade(app, f"{name}: shade for slot {letter}", at=at, verb="take it")
        if shade is None:
            break
        slots.append(Slot(letter, shade.yarn, shade.shade))
        if not await _another(app, name, slots):
            break
    return tuple(slots)


async def _another(app: StripewrightApp, name: str, slots: list[Slot]) -> bool:
    view = app.view
    chosen = ", ".join(f"{s.letter} {view.shade_name(s.shade_ref)}" for s in slots)
    rows = [
        Row("more", (Cell("one more shade"),)),
        Row("done", (Cell("that is all of them"),)),
    ]
    found = await app.push_screen_wait(
        Choose(f"{name}: its shades", [Column("", share=1)], rows, note=chosen, narrow=False,
               at="more" if len(slots) < 2 else "done")
    )  # fmt: skip
    return found == "more"


async def _stripes(app: StripewrightApp, values: Values, slots: tuple[Slot, ...]) -> bool:
    letters = "".join(s.letter for s in slots)
    example = " ".join(f"{letter}6" for letter in letters)
    read = entries.stripe_sequence(letters)

    def preview(right: Values) -> str:
        found = right.get("stripes")
        if not isinstance(found, tuple):
            return ""
        piece = _piece(app, values, slots, found, repeat=bool(right.get("repeat")))
        words = say.count(len(piece.stripes), "stripe")
        wanted = sequence.rows_wanted(piece, app.view.studio.library)
        if wanted is None:
            return f"{words}. No swatch for this yarn, stitch and hook yet, so no length is known."
        return f"{words}; {say.count(wanted, 'row')} come nearest the length asked."

    fields = [
        Field("stripes", "stripes", example, read, "a letter and its rows: A6 B2 A6 C18"),
        Field("repeat", "repeat to the length", "yes", check=lambda text: text == "yes",
              options=(("yes", "yes"), ("no", "no"))),
    ]  # fmt: skip
    typed = await fill_in(
        app, "new stripes", f"{values['name']}: its stripes", fields, verb="begin the piece",
        preview=preview,
    )  # fmt: skip
    if typed is None or not isinstance(typed["stripes"], tuple):
        return False
    piece = _piece(app, values, slots, typed["stripes"], repeat=bool(typed["repeat"]))
    stitch_known = piece.stitch in app.view.studio.library.stitch
    made = app.edit(
        f"{piece.name} begun",
        lambda s: edits.add_project(
            s if stitch_known else edits.add_stitch(s, FIRST_STITCH), piece
        ),
    )
    if made:
        app.stand_on_piece(piece.key)
        app.ask("stripes")
    return made


def _piece(
    app: StripewrightApp,
    values: Values,
    slots: tuple[Slot, ...],
    stripes: tuple[tuple[str, int], ...],
    *,
    repeat: bool,
) -> Project:
    name, due = str(values["name"]), values["due"]
    width, length = values["width"], values["length"]
    if not isinstance(width, Length) or not isinstance(length, Length):
        raise TypeError("the form gives lengths")
    made = tuple(Stripe(letter, rows) for letter, rows in stripes)
    piece = Project(
        key=free_key(app.view.studio, name),
        name=name,
        stage=Stage.IDEA,
        stitch=str(values["stitch"]),
        hook_mm=Decimal(str(values["hook_mm"])),
        width=width,
        length=length,
        slots=slots,
        stripes=made,
        customer=str(values["customer"]),
        due=due if isinstance(due, date) else None,
    )
    if repeat:
        wanted = sequence.rows_wanted(piece, app.view.studio.library)
        if wanted is not None:
            return replace(piece, stripes=sequence.repeated(made, wanted))
    return piece
