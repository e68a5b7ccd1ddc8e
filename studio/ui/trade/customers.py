"""Customers: added, corrected and removed, and chosen for a piece."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from studio.core.edits import customers as edits
from studio.core.model import Studio
from studio.core.trade_model import Customer
from studio.core.trade_say import customer_words
from studio.ui.columns import Cell, Column, Row, Tone
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import fill_in, refused, the_piece
from studio.ui.dialogs.form import Field, Values
from studio.ui.trade.forms import Change

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NOBODY, NEW = "nobody", "new"
CONTACTS = 3
"""Ways to reach somebody that the form asks for; more are written in the file."""


async def customer_form(app: StripewrightApp, known: Customer | None, name: str = "") -> str:
    """Add a customer, or correct one; their key, or nothing where the form was left."""
    have = known.contact if known else ()
    fields = [
        Field("name", "name", known.name if known else name, entries.text("The name")),
        *(
            Field(f"contact-{at}", "contact" if at == 0 else "",
                  have[at] if at < len(have) else "",
                  hint="mail, telephone or address, a line for each" if at == 0 else "")
            for at in range(max(CONTACTS, len(have)))
        ),
        Field("note", "note", known.note if known else "", hint="for you; on no paper"),
    ]  # fmt: skip

    def change(values: Values) -> Change:
        plain: Any = values
        lines = (plain[f.key] for f in fields if f.key.startswith("contact"))
        contact = tuple(line for line in lines if line)

        def edit(studio: Studio) -> Studio:
            if known is not None:
                return edits.set_customer(studio, known.key, plain["name"], contact, plain["note"])
            return edits.add_customer(studio, plain["name"], contact, plain["note"])

        return edit

    title = known.name if known else "A new customer"
    values = await fill_in(
        app, f"customer {known.key if known else ''}", title, fields, refused=refused(app, change)
    )
    if values is None:
        return ""
    words = str(values["name"])
    if not app.edit(f"{words} {'changed' if known else 'added'}", change(values)):
        return ""
    return edits.customer_key(app.view.studio, words)


async def choose_customer(app: StripewrightApp, at: str, *, nobody: str) -> str | None:
    """Choose one of the customers, somebody new, or nobody; None where it was left."""
    studio = app.view.studio
    rows = [
        Row(NOBODY, (nobody, "", "")),
        Row(NEW, ("somebody new", "a name and how to reach them", ""), stays=True),
    ]
    for customer in sorted(studio.customers, key=lambda c: c.name.casefold()):
        contact, theirs = customer_words(customer, studio)
        cells = (customer.name, Cell(contact, Tone.QUIET), Cell(theirs, Tone.QUIET))
        rows.append(Row((NEW, customer.key), cells, words=customer.note))
    columns = (
        Column("", share=3, least=16),
        Column("", share=4, least=12, drop=1),
        Column("", share=3, least=10, drop=2),
    )
    here = (NEW, at) if at in studio.customer else NOBODY
    names = Choose("For whom", columns, rows, at=here, verb="take")
    found = await app.push_screen_wait(names)
    if found is None:
        return None
    if found == NOBODY:
        return ""
    if found == NEW:
        unknown = "" if at in studio.customer else at
        return await customer_form(app, None, names.typed or unknown) or None
    assert isinstance(found, tuple)
    return str(found[1])


async def customer_of(app: StripewrightApp, subject: object) -> None:
    """Choose whom the piece at hand is for."""
    piece = the_piece(app, subject)
    key = await choose_customer(app, piece.customer, nobody="nobody: for stock, or a gift")
    if key is None:
        return
    name = app.view.studio.customer[key].name if key else "stock"
    app.edit(
        f"{piece.name} for {name}",
        lambda studio: edits.set_customer_of(studio, piece.key, key),
        piece.key,
    )


async def remove_customer(app: StripewrightApp, customer: Customer) -> None:
    """Drop a customer for whom there is no piece."""
    app.edit(f"{customer.name} removed", lambda s: edits.remove_customer(s, customer.key))
