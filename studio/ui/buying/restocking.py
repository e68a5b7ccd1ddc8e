"""Ordering a staple for the shelf: how many balls, and what that costs and when it is there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio import clock
from studio.core.buying.placing import place_orders
from studio.core.buying.plan import SupplierOrder
from studio.core.buying.restock import restock, restock_words
from studio.core.buying.shelf import StapleLine
from studio.core.model import Studio
from studio.errors import EditRefusedError
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import fill_in
from studio.ui.dialogs.form import Field, Values

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


async def ask_restock(app: StripewrightApp, staple: StapleLine) -> SupplierOrder | None:
    """Ask how many balls, order them; None where nothing was ordered."""
    studio, day = app.view.studio, clock.today()
    size = staple.standing.size.balls if staple.standing else 1

    def order_of(values: Values) -> SupplierOrder:
        return restock(studio, staple, int(str(values["balls"])), day)

    def refused(values: Values) -> str:
        try:
            order_of(values)
        except EditRefusedError as error:
            return error.text
        return ""

    def preview(values: Values) -> str:
        if "balls" not in values:
            return ""
        return refused(values) or restock_words(order_of(values), studio.settings.currency)

    values = await fill_in(
        app,
        f"restock {staple.shade}",
        f"Order {staple.name}",
        [Field("balls", "balls", str(size), entries.whole("Balls", 1, 10_000))],
        note=f"At {staple.supplier}, for the shelf: no piece waits for it. "
        "Whole packs are ordered." if staple.supplier else "",
        refused=refused,
        preview=preview,
        verb="order",
    )  # fmt: skip
    if values is None:
        return None
    order = order_of(values)
    plans = app.view.snapshot.plan.projects

    def change(now: Studio) -> Studio:
        return place_orders(now, (order,), plans, day).studio

    return order if app.edit(f"{staple.name} ordered", change) else None
