"""Orders placed elsewhere: noting one, changing it, calling it off; who loses by it is told first.

Each gives the purchase that is at hand afterwards, or nothing where all was left as it was.
"""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import TYPE_CHECKING

from studio.core import edits, say
from studio.core.buying import noting, parcel
from studio.core.model import Purchase, ShadeRef, Studio
from studio.errors import EditRefusedError
from studio.ui import keys
from studio.ui.buying import order_forms
from studio.ui.buying.order_forms import Change, waits_words
from studio.ui.dialogs.desk import choose
from studio.ui.enquiry.taking import meant

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

PROMISE, WAITING, OFF = "This breaks a promise", "Pieces wait for this order", "Call the order off"
LEFT = ("leave", "leave it as it was", "nothing is changed")


def _undoes(app: StripewrightApp) -> str:
    return f"{app.keymap.shown(keys.BY_ID['undo'])} undoes"


def _pending(app: StripewrightApp) -> bool:
    """Whether it is not known yet who is short; said so."""
    if app.view.snapshot.plan.pending:
        app.say("The lots are still being worked out; a moment.")
        return True
    return False


async def note(app: StripewrightApp) -> str | None:
    """Note an order: with whom, of which shade, then the rest in one form."""
    if _pending(app):
        return None
    if not app.view.studio.library.shade:
        app.say("First the yarn and its shades: F11 adds them.")
        return None
    supplier = await order_forms.which_supplier(app)
    if supplier is None:
        return None
    ref = await order_forms.which_shade(app, supplier, set(), "What was ordered?")
    made = await order_forms.order_typed(app, supplier, ref) if ref else None
    if ref is None or made is None or made.line is None:
        return None
    before = set(app.view.studio.stash.purchase)
    name = app.view.shade_name(ref)
    if not app.edit(f"order of {name} noted", made.change):
        return None
    studio = app.view.studio
    (key,) = set(studio.stash.purchase) - before
    more = app.keymap.shown(keys.BY_ID["receiving.change_order"])
    app.say(
        f"{say.balls(made.line.balls)} of {name} on order; {waits_words(studio, key, ref)}. "
        f"{more} adds a line."
    )
    return key


async def add_line(app: StripewrightApp, purchase: Purchase) -> str | None:
    """One more line on an order."""
    if _pending(app):
        return None
    there = {ShadeRef(n.yarn, n.shade) for n in purchase.lines}
    ref = await order_forms.which_shade(app, purchase.supplier, there, "What else was ordered?")
    made = await order_forms.line_typed(app, purchase, None, ref) if ref else None
    if ref is None or made is None or made.line is None:
        return None
    name = app.view.shade_name(ref)
    if not app.edit(f"{name} added to the order", made.change):
        return None
    waits = waits_words(app.view.studio, purchase.key, ref)
    app.say(f"{say.balls(made.line.balls)} of {name} added; {waits}.")
    return purchase.key


async def change_line(app: StripewrightApp, purchase: Purchase, at: int) -> str | None:
    """Balls and price of a line."""
    if _pending(app):
        return None
    line = purchase.lines[at]
    ref = ShadeRef(line.yarn, line.shade)
    made = await order_forms.line_typed(app, purchase, at, ref)
    if made is None:
        return None
    label = f"{app.view.shade_name(ref)} on order changed"
    return await _done(app, purchase, label, made.change, (ref,))


async def change_head(app: StripewrightApp, purchase: Purchase) -> str | None:
    """Supplier, days and note."""
    made = await order_forms.head_typed(app, purchase)
    if made is None:
        return None
    shades = tuple(ShadeRef(n.yarn, n.shade) for n in purchase.lines)
    name = parcel.supplier_of(app.view.studio, purchase)
    return await _done(app, purchase, f"order from {name} changed", made.change, shades)


async def remove_line(app: StripewrightApp, purchase: Purchase, at: int) -> str | None:
    """Take a line out; the last one calls its order off."""
    if len(purchase.lines) == 1:
        return await call_off(app, purchase)
    line = purchase.lines[at]
    ref = ShadeRef(line.yarn, line.shade)
    label = f"{app.view.shade_name(ref)} taken out of the order"
    return await _done(
        app, purchase, label, lambda s: edits.remove_line(s, purchase.key, at), (ref,)
    )


async def call_off(app: StripewrightApp, purchase: Purchase) -> str | None:
    """Take the order away, once she has been told who is short then and has said yes."""
    shades = tuple(ShadeRef(n.yarn, n.shade) for n in purchase.lines)
    name = parcel.supplier_of(app.view.studio, purchase)

    def change(studio: Studio) -> Studio:
        return edits.call_off(studio, purchase.key)

    losses = await _losses(app, purchase, change, shades)
    if losses is None:
        return None
    balls = say.balls(sum(n.balls for n in purchase.lines))
    told = (f"{balls} from {name} would not come.", *losses.losses)
    if not losses.losses:
        told = (*told, "No piece waits for them.")
    rows = (
        ("leave", "leave it on order", "nothing is changed"),
        ("do", "call it off", "undo brings it back"),
    )
    if not await meant(app, OFF, told, rows, "do it"):
        app.say("Left on order.")
        return None
    label = f"order from {name} called off"
    if not app.edit(label, change, mind_holds=False):
        return None
    app.say(f"{label[:1].upper()}{label[1:]}; {_undoes(app)}.")
    return purchase.key


async def _losses(
    app: StripewrightApp, purchase: Purchase, change: Change, shades: Sequence[ShadeRef]
) -> noting.Means | None:
    """Who loses by a change, worked out exactly; None where it is refused, which is said."""
    before = app.view.snapshot
    try:
        then, plan = await asyncio.to_thread(app.workshop.plan_after, change, shades)
    except EditRefusedError as error:
        app.say(error.text, needs_you=True)
        return None
    return noting.means(before.plan, plan, purchase.key, then, before.studio)


async def _done(
    app: StripewrightApp,
    purchase: Purchase,
    label: str,
    change: Change,
    shades: Sequence[ShadeRef],
) -> str | None:
    """Make a change; where somebody loses by it, only once that has been told and is meant."""
    found = await _losses(app, purchase, change, shades)
    if found is None:
        return None
    if found.losses:
        rows = (LEFT, ("do", "do it all the same", "undo brings it back"))
        title = PROMISE if found.promise else WAITING
        if not await meant(app, title, found.losses, rows, "do it"):
            app.say("Left as it was.")
            return None
    if not app.edit(label, change, mind_holds=not found.losses):
        return None
    app.say(f"{label[:1].upper()}{label[1:]}; {_undoes(app)}.")
    return purchase.key


async def what_to_change(app: StripewrightApp, purchase: Purchase, at: int) -> str | None:
    """All that can be done with an order, the line at hand first."""
    line = purchase.lines[at]
    shade = app.view.shade_name(ShadeRef(line.yarn, line.shade))
    currency = app.view.settings.currency
    rows = [
        ("line", f"{shade}: balls and price", noting.line_words(line, currency)),
        ("add", "one more line", "another shade on the same order"),
        ("head", "supplier, days and note", "from whom, and there by when"),
        ("remove", f"take {shade} out", "it will not come"),
        ("off", "call the whole order off", "nothing of it will come"),
    ]
    if len(purchase.lines) == 1:
        rows = [row for row in rows if row[0] != "remove"]
    title = f"The order from {parcel.supplier_of(app.view.studio, purchase)}"
    match await choose(app, title, rows, verb="go on"):
        case "line":
            return await change_line(app, purchase, at)
        case "add":
            return await add_line(app, purchase)
        case "head":
            return await change_head(app, purchase)
        case "remove":
            return await remove_line(app, purchase, at)
        case "off":
            return await call_off(app, purchase)
    return None
