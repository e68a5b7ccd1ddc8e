"""The forms of a supplier and of what they offer, each told at once what cannot be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core import edits, say
from studio.core.buying.offers import MOST_PACK, BreakScope, Offer, Shipping, Supplier
from studio.core.model import Studio, Yarn
from studio.ui.buying import offer_entries
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import figure
from studio.ui.dialogs.yarn import new_yarn

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Change = Callable[[Studio], Studio]

SCOPES = (
    (BreakScope.SHADE.value, "the balls of one shade"),
    (BreakScope.YARN.value, "all balls of the yarn together"),
)
NEW = "a new yarn"


async def ask_supplier(app: StripewrightApp, known: Supplier | None) -> str | None:
    """Add a supplier, or change one's terms; the key of the one that was kept."""
    currency = app.view.settings.currency
    old = known or Supplier("", "", currency)

    def made(studio: Studio, values: Values) -> Supplier:
        name, free, tiers = str(values["name"]), values["free"], values["shipping"]
        return replace(
            old,
            key=old.key or edits.supplier_key(studio, name),
            name=name,
            currency=currency,
            lead_days=int(str(values["lead"])),
            minimum=Decimal(str(values["minimum"])),
            shipping=Shipping(
                tiers if isinstance(tiers, tuple) else (),
                free if isinstance(free, Decimal) else None,
            ),
            note=str(values["note"]),
        )

    def change(values: Values) -> Change:
        put = edits.set_supplier if known else edits.add_supplier
        return lambda studio: put(studio, made(studio, values))

    values = await fill_in(
        app,
        f"supplier {old.key}",
        old.name or "A supplier",
        [
            Field("name", "name", old.name, entries.text("The name"), "whom you buy from"),
            Field("lead", "days it takes",
                  "" if old.lead_days is None else str(old.lead_days),
                  entries.whole("The number of days", 0, 1000), "from ordering to the parcel"),
            Field("minimum", f"least order {currency}", figure(old.minimum),
                  entries.number("The least order"), "the sum of goods; 0: any"),
            Field("shipping", f"shipping {currency}",
                  offer_entries.shipping_text(old.shipping, currency) if known else "",
                  offer_entries.shipping_typed, offer_entries.SHIPPING_HINT),
            Field("free", f"ships free from {currency}", figure(old.shipping.free_from),
                  entries.optional(entries.number("The sum")), "the sum of goods; empty: never"),
            Field("note", "note", old.note, hint="may be empty"),
        ],
        note="" if known else "Whom you buy from, and on what terms; what they offer follows.",
        refused=refused(app, change),
    )  # fmt: skip
    if values is None:
        return None
    key = old.key or edits.supplier_key(app.view.studio, str(values["name"]))
    label = f"{values['name']} {'changed' if known else 'added'}"
    return key if app.edit(label, change(values)) else None


async def add_offer(app: StripewrightApp, supplier: Supplier) -> bool:
    """Choose the yarn, then shades and price."""
    yarn = await _which_yarn(app, supplier)
    if yarn is None:
        return False
    return await ask_offer(app, supplier, Offer(supplier.key, yarn.key, ()), None)


async def _which_yarn(app: StripewrightApp, supplier: Supplier) -> Yarn | None:
    """One of her yarns, those that are not offered there yet first; or a new one."""
    library = app.view.studio.library
    if not library.yarns:
        app.say("First the yarn, as it stands on its ball band.")
        await new_yarn(app, None)
        return next(iter(app.view.studio.library.yarns), None)
    here = {o.yarn for o in app.view.studio.offers if o.supplier == supplier.key}
    rows = [
        (y.key, y.name, "there are prices already" if y.key in here else _shades(y))
        for y in sorted(library.yarns, key=lambda y: y.key in here)
    ]
    rows.append((NEW, NEW, "a product line with its first shade"))
    found = await choose(
        app, f"What does {supplier.name} offer?", rows, narrow=len(rows) > 8, verb="this yarn"
    )
    if found == NEW:
        before = set(library.yarn)
        await new_yarn(app, None)
        return next((y for y in app.view.studio.library.yarns if y.key not in before), None)
    return library.yarn.get(str(found)) if found is not None else None


def _shades(yarn: Yarn) -> str:
    return say.count(len(yarn.shades), "shade")


async def ask_offer(app: StripewrightApp, supplier: Supplier, old: Offer, at: int | None) -> bool:
    """Change an offer, or add one where it has no place yet."""
    currency = app.view.settings.currency
    yarn = app.view.studio.library.yarn.get(old.yarn)
    if yarn is None:
        app.say(f"There is no yarn {old.yarn}: remove the offer, and add it for another yarn.")
        return False

    def change(values: Values) -> Change:
        new = _offer(old, values)
        if at is None:
            return lambda studio: edits.add_offer(studio, new)
        return lambda studio: edits.set_offer(studio, at, new)

    values = await fill_in(
        app,
        f"offer {supplier.key} {old.yarn} {at}",
        f"{yarn.name} at {supplier.name}",
        [
            Field("price", f"price {currency}", offer_entries.price_text(old.breaks, currency),
                  offer_entries.price_typed, offer_entries.PRICE_HINT),
            Field("shades", "shades", offer_entries.shades_text(old.shades, yarn),
                  offer_entries.shades_check(yarn), "all, or names or numbers parted by commas"),
            Field("pack", "balls in a pack", str(old.pack),
                  entries.whole("A pack", 1, MOST_PACK), "1: sold singly"),
            Field("scope", "breaks count", old.scope.value, options=SCOPES),
            Field("note", "note", old.note, hint="may be empty"),
        ],
        refused=refused(app, change),
    )  # fmt: skip
    if values is None:
        return False
    verb = "added" if at is None else "changed"
    return app.edit(f"{yarn.name} at {supplier.name} {verb}", change(values))


def _offer(old: Offer, values: Values) -> Offer:
    breaks, shades = values["price"], values["shades"]
    return Offer(
        supplier=old.supplier,
        yarn=old.yarn,
        breaks=breaks if isinstance(breaks, tuple) else (),
        pack=int(str(values["pack"])),
        shades=shades if isinstance(shades, tuple) else None,
        scope=BreakScope(str(values["scope"])),
        note=str(values["note"]),
    )
