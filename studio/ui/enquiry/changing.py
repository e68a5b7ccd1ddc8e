"""Changing what an enquiry asks: name, customer, design, size, shades, day and price."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Final

from studio import clock
from studio.core import say, trial
from studio.core.model import Length, Project, Studio
from studio.core.pricing import Aim
from studio.core.trial import Variant
from studio.ui.columns import Align, Cell, Column, Row
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import choose_shade, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure, length_entry

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Change = Callable[["StripewrightApp", Variant, str], Awaitable[Variant | None]]


async def name(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """What the piece is called, on its quote and in the order book."""
    piece = variant.trial

    def by_name(values: Values) -> Callable[[Studio], Project]:
        return lambda studio: trial.named(studio, piece, str(values["name"]))

    hint = "stands on its quote, in its file's name and in the order book"
    field = Field("name", "name", piece.name, entries.text("The name"), hint)
    values = await fill_in(
        app, f"enquiry name {piece.key}", "What the piece is called", [field],
        refused=refused(app, by_name)
    )  # fmt: skip
    if values is None:
        return None
    return replace(variant, trial=by_name(values)(app.view.studio))


async def customer(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """Who asks: a customer of the file, somebody new, or nobody yet."""
    from studio.ui.trade.customers import choose_customer

    key = await choose_customer(app, variant.trial.customer, nobody="nobody yet")
    return None if key is None else replace(variant, trial=replace(variant.trial, customer=key))


async def design(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """Another piece's design in the size that is asked."""
    unit = app.view.settings.length_unit
    rows = [
        Row(
            p.key,
            (
                p.name,
                Cell(say.size(p.width.cm, p.length.cm, unit)),
                Cell(say.count(len(p.stripes), "stripe")),
                Cell(p.stage.value),
            ),
        )
        for p in app.view.studio.projects
    ]
    columns = (
        Column("", share=3, least=16),
        Column("", width=14, drop=1),
        Column("", width=10, align=Align.RIGHT, drop=2),
        Column("", width=10, drop=3),
    )
    note = "Its stripes, shades, stitch, border and fringe, fitted to the size that is asked."
    found = await app.push_screen_wait(
        Choose("Which design", columns, rows, note=note, at=variant.trial.key)
    )
    if found is None:
        return None
    made = trial.redesigned(app.view.studio, variant.trial, str(found))
    return replace(variant, trial=made)


async def size(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """Another size; the stripes are fitted to it."""
    unit = app.view.settings.length_unit
    piece = variant.trial
    fields = [
        Field("width", "width", length_entry(piece.width), entries.length("The width", unit)),
        Field("length", "length", length_entry(piece.length), entries.length("The length", unit)),
    ]
    note = "The stripes are fitted to it in pairs of rows, order and proportion kept."
    values = await fill_in(app, "enquiry size", "What size", fields, note=note)
    if values is None:
        return None
    width, length = values["width"], values["length"]
    assert isinstance(width, Length)
    assert isinstance(length, Length)
    return replace(variant, trial=trial.resized(app.view.studio, piece, width, length))


async def slot(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:
    """Another shade for one slot."""
    letter = what.removeprefix("slot ")
    place = variant.trial.slot(letter)
    if place is None:
        app.say(f"This variant's design has no slot {letter}.")
        return None
    found = await choose_shade(
        app, f"Shade {letter} of the piece", at=place.shade_ref, note="Free is what nobody holds."
    )
    if found is None:
        return None
    return replace(variant, trial=trial.recoloured(app.view.studio, variant.trial, letter, found))


async def due(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """The day it is wanted for."""
    today = clock.today()
    check = entries.optional(entries.day("The day", today))
    field = Field("due", "wanted for", date_entry(variant.trial.due), check,
                  "such as 12 Mar, or in 3 weeks; empty asks for no day")  # fmt: skip
    values = await fill_in(app, "enquiry due", "Wanted for which day", [field])
    if values is None:
        return None
    day = values["due"]
    return replace(variant, trial=trial.due_on(variant.trial, day, today))  # type: ignore[arg-type]


WAYS: Final = (
    ("margin", "the margin it must leave, percent"),
    ("hourly", "what an hour must be paid"),
    ("price", "a price, to see what it pays"),
)


async def wanted(app: StripewrightApp, variant: Variant, what: str) -> Variant | None:  # noqa: ARG001
    """What the price is made from: a margin, an hour's pay, or a price to try."""
    rules, currency = app.view.studio.trade.prices, app.view.settings.currency
    aim = variant.aim or Aim(margin=rules.margin)
    if variant.shown is not None:
        way, value = "price", figure(variant.shown)
    elif aim.per_hour is not None:
        way, value = "hourly", figure(aim.per_hour)
    else:
        way, value = "margin", say.percent(aim.margin or Decimal(0), 4).removesuffix(" %")
    fields = [
        Field("way", "priced by", way, options=WAYS),
        Field("value", f"% or {currency}", value, entries.number("It")),
    ]
    values = await fill_in(app, "enquiry price", "What makes the price", fields)
    if values is None:
        return None
    number = Decimal(str(values["value"]))
    match values["way"]:
        case "price":
            return replace(variant, aim=None, shown=number)
        case "hourly":
            return replace(variant, aim=Aim(per_hour=number), shown=None)
        case _:
            return replace(variant, aim=Aim(margin=say.of_percent(number)), shown=None)


CHANGES: Final[Mapping[str, Change]] = {
    "name": name,
    "customer": customer,
    "design": design,
    "size": size,
    "slot": slot,
    "due": due,
    "wanted": wanted,
}
