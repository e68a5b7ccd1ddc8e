"""The forms of an order that was placed elsewhere: from whom, which shade, how many, until when."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import edits, say
from studio.core.buying import noting, parcel
from studio.core.buying.noting import Whom
from studio.core.buying.words import piece_name
from studio.core.edits.purchases import MOST_BALLS
from studio.core.headline import money_figure
from studio.core.model import OrderLine, Purchase, ShadeRef, Studio
from studio.errors import EditRefusedError
from studio.ui.columns import Align, Cell, Column, Row
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import choose, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Change = Callable[[Studio], Studio]

ELSE = ("else", "")
WHOM = (
    (Whom.BOOKED.value, "booked pieces that are short"),
    (Whom.QUOTED.value, "booked pieces, then quotes"),
    (Whom.IDEAS.value, "booked pieces, quotes, then ideas"),
    (Whom.SHELF.value, "the shelf: no piece waits for it"),
)
DAY_HINT = "such as 12 Mar, or in 3 weeks"


@dataclass(frozen=True)
class Made:
    """What was typed: the change that it makes, and the line or order that it is about."""

    change: Change
    line: OrderLine | None = None
    purchase: Purchase | None = None


async def which_supplier(app: StripewrightApp) -> str | None:
    """One of hers, somebody whom something is on order from, or nothing for a name to be typed."""
    studio = app.view.studio
    rows: list[tuple[tuple[str, str], str, str]] = [
        (("supplier", s.key), s.name,
         "" if s.lead_days is None else f"takes {say.count(s.lead_days, 'day')}")
        for s in studio.suppliers
    ]  # fmt: skip
    known = {s.name.casefold() for s in studio.suppliers}
    others = dict.fromkeys(parcel.supplier_of(studio, p) for p in studio.stash.purchases)
    rows += [
        (("supplier", name), name, "something is on order there")
        for name in others
        if name.casefold() not in known
    ]
    if not rows:
        return ""
    rows.append((ELSE, "somebody else", "you type the name"))
    found = await choose(
        app, "With whom was it ordered?", rows, narrow=len(rows) > 8, verb="with them"
    )
    return found[1] if isinstance(found, tuple) else None


async def which_shade(
    app: StripewrightApp, supplier: str, without: set[ShadeRef], title: str
) -> ShadeRef | None:
    """One of all shades, those that booked pieces are short of first, then what is sold there."""
    view = app.view
    currency = view.settings.currency
    rows = [
        Row(
            w.ref,
            (
                Cell(view.shade_name(w.ref), patch=view.patch(w.ref, view.letters.get(w.ref, ""))),
                view.yarn_name(w.ref.yarn),
                str(w.short_balls) if w.short_balls else "",
                "" if w.price is None else money_figure(w.price, currency),
            ),
            words=w.ref.shade,
        )
        for w in noting.wanted_shades(view.studio, view.snapshot.plan, supplier)
        if w.ref not in without
    ]
    columns = (
        Column("shade", share=3, least=14),
        Column("yarn", share=2, least=10),
        Column("short", width=6, align=Align.RIGHT),
        Column("a ball", width=7, align=Align.DECIMAL, drop=1),
    )
    note = f"Short: balls that booked pieces still need. Prices in {currency}, as offered there."
    found = await app.push_screen_wait(Choose(title, columns, rows, note=note, verb="this shade"))
    return found if isinstance(found, ShadeRef) else None


def _line_fields(app: StripewrightApp, line: OrderLine, whom: Whom) -> list[Field]:
    currency = app.view.settings.currency
    return [
        Field("balls", "balls", str(line.balls), entries.whole("Balls", 1, MOST_BALLS)),
        Field("price", f"price a ball {currency}", figure(line.price),
              entries.optional(entries.number("The price")), "as agreed; empty: not known"),
        Field("whom", "it is for", whom.value, options=WHOM),
    ]  # fmt: skip


def _line(old: OrderLine, values: Values) -> OrderLine:
    price = values["price"]
    balls = int(str(values["balls"]))
    return replace(old, balls=balls, price=price if isinstance(price, Decimal) else None)


def _line_preview(
    app: StripewrightApp, old: OrderLine, change: Callable[[Values], Change], key: str
) -> Callable[[Values], str]:
    """What the line costs, and who would wait for it."""
    ref = ShadeRef(old.yarn, old.shade)

    def preview(values: Values) -> str:
        if not {"balls", "price", "whom"} <= set(values):
            return ""
        words = noting.line_words(_line(old, values), app.view.settings.currency)
        try:
            after = change(values)(app.view.studio)
        except (EditRefusedError, KeyError):
            return f"{words}."
        made = key or next(iter(set(after.stash.purchase) - set(app.view.studio.stash.purchase)))
        return f"{words}; {waits_words(after, made, ref)}."

    return preview


def waits_words(studio: Studio, key: str, ref: ShadeRef) -> str:
    """'River wrap and Moss throw wait for it'."""
    names = [piece_name(studio, piece) for piece in noting.tied_pieces(studio, key, ref)]
    verb = "waits" if len(names) == 1 else "wait"
    return f"{say.either(names, 'and')} {verb} for it" if names else "no piece waits for it"


async def order_typed(app: StripewrightApp, supplier: str, ref: ShadeRef) -> Made | None:
    """A new order with its first line; the supplier's name is asked where it is none of hers."""
    view, today = app.view, clock.today()
    plans = view.snapshot.plan.projects
    line = _proposed(app, supplier, ref)

    def purchase(values: Values) -> Purchase:
        ordered, arrives = values["ordered"], values["arrives"]
        assert isinstance(ordered, date)
        assert isinstance(arrives, date)
        made = _line(line, values)
        name = supplier or str(values["supplier"])
        return Purchase("", name, arrives, (made,), ordered, str(values["note"]))

    def change(values: Values) -> Change:
        new, whom = purchase(values), Whom(str(values["whom"]))
        return lambda studio: noting.noted(studio, new, whom, plans)

    name = [] if supplier else [
        Field("supplier", "ordered with", "", entries.text("The supplier"), "any name"),
    ]  # fmt: skip
    values = await fill_in(
        app,
        f"order {supplier} {ref}",
        f"{view.yarn_name(ref.yarn)} {view.shade_name(ref)} on order",
        [
            *name,
            *_line_fields(app, line, Whom.BOOKED),
            *_day_fields(today, noting.arrival_from(view.studio, supplier, today)),
            Field("note", "note", "", entries.line, "such as whom you spoke to; may be empty"),
        ],
        note=_from_words(app, supplier),
        refused=refused(app, change),
        preview=_line_preview(app, line, change, ""),
        verb="note it",
    )
    return None if values is None else Made(change(values), _line(line, values), purchase(values))


def _from_words(app: StripewrightApp, supplier: str) -> str:
    if not supplier:
        return "More lines follow one by one."
    name = parcel.called(app.view.studio, supplier)
    return f"From {name}. More lines follow one by one."


def _proposed(app: StripewrightApp, supplier: str, ref: ShadeRef) -> OrderLine:
    """What booked pieces are short of, at the supplier's price."""
    view = app.view
    wanted = noting.wanted_shades(view.studio, view.snapshot.plan, supplier)
    found = next(w for w in wanted if w.ref == ref)
    return OrderLine(ref.yarn, ref.shade, found.short_balls or 1, found.price)


def _day_fields(ordered: date | None, arrives: date | None) -> list[Field]:
    """When it was ordered, which mostly lies behind, and when it is there."""
    today = clock.today()
    return [
        Field("ordered", "ordered on", date_entry(ordered), entries.past_day("Ordered on", today),
              "such as 12 Mar"),
        Field("arrives", "there by", date_entry(arrives), entries.day("There by", today), DAY_HINT),
    ]  # fmt: skip


async def line_typed(
    app: StripewrightApp, purchase: Purchase, at: int | None, ref: ShadeRef
) -> Made | None:
    """The balls and price of a line of an order; a new one where it has no place yet."""
    view, key = app.view, purchase.key
    plans = view.snapshot.plan.projects
    old = _proposed(app, purchase.supplier, ref) if at is None else purchase.lines[at]
    whom = Whom.BOOKED if at is None else noting.waited_for(view.studio, key, ref)

    def change(values: Values) -> Change:
        new, whose = _line(old, values), Whom(str(values["whom"]))
        if at is None:
            return lambda studio: noting.line_added(studio, key, new, whose, plans)
        return lambda studio: noting.line_changed(studio, key, at, new, whose, plans)

    values = await fill_in(
        app,
        f"line {key} {ref} {at}",
        f"{view.yarn_name(ref.yarn)} {view.shade_name(ref)} on order",
        _line_fields(app, old, whom),
        note=f"From {parcel.purchase_words(view.studio, purchase, clock.today())}.",
        refused=refused(app, change),
        preview=_line_preview(app, old, change, key),
    )
    return None if values is None else Made(change(values), _line(old, values))


async def head_typed(app: StripewrightApp, purchase: Purchase) -> Made | None:
    """With whom, the days and the note of an order."""

    def made(values: Values) -> Purchase:
        ordered, arrives = values["ordered"], values["arrives"]
        return replace(
            purchase,
            supplier=_same(app, purchase, str(values["supplier"])),
            ordered=ordered if isinstance(ordered, date) else None,
            arrives=arrives if isinstance(arrives, date) else purchase.arrives,
            note=str(values["note"]),
        )

    def change(values: Values) -> Change:
        return lambda studio: edits.set_order(studio, made(values))

    ordered, arrives = _day_fields(purchase.ordered, purchase.arrives)
    values = await fill_in(
        app,
        f"order of {purchase.key}",
        "The order",
        [
            Field("supplier", "ordered with", parcel.supplier_of(app.view.studio, purchase),
                  entries.text("The supplier"), "one of yours, or any name"),
            replace(ordered, check=entries.optional(ordered.check)),
            arrives,
            Field("note", "note", purchase.note, entries.line, "may be empty"),
        ],
        refused=refused(app, change),
    )  # fmt: skip
    return None if values is None else Made(change(values), None, made(values))


def _same(app: StripewrightApp, purchase: Purchase, typed: str) -> str:
    """The word for the supplier that the order has, where the name was left as it is."""
    return purchase.supplier if typed == parcel.supplier_of(app.view.studio, purchase) else typed
