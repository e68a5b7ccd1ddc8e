"""An order of one staple for the shelf: no piece waits for it, so it is asked for by itself."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from studio.core import say
from studio.core.buying.offers import Offer, OfferBook, Supplier, costed, stocked, usable
from studio.core.buying.parcel import expected_shipping
from studio.core.buying.plan import PlanLine, SupplierOrder
from studio.core.buying.shelf import StapleLine
from studio.core.edits.places import refuse
from studio.core.edits.purchases import MOST_BALLS
from studio.core.headline import money_figure
from studio.core.model import OrderLine, Purchase, Studio


def restock(studio: Studio, staple: StapleLine, balls: int, today: date) -> SupplierOrder:
    """So many balls of a staple where they are cheapest a year, up to whole packs.

    Refused in words where nobody stocks it, where the order is too small for its supplier, or where
    so many balls can only be mistyped.
    """
    if not 1 <= balls <= MOST_BALLS:
        refuse(f"{balls:,} balls make no sense: an order has 1 to {MOST_BALLS:,}.")
    found = _offers(studio, staple)
    if not found:
        refuse(staple.trouble or f"No supplier stocks {staple.name}.")
    choices = [c for c in (costed(offer, at, balls) for at, offer in found) if c is not None]
    if not choices:
        least = min(step.from_balls for _, offer in found for step in offer.breaks)
        refuse(f"{staple.supplier} sells {staple.name} from {say.balls(least)}.")
    goods, packs, price, at, offer = min(choices, key=lambda c: c[:2])
    supplier = next(s for s in studio.suppliers if s.key == offer.supplier)
    currency = studio.settings.currency
    if goods < supplier.minimum:
        refuse(
            f"{supplier.name} takes orders from {say.money(supplier.minimum, currency)}: "
            f"{say.balls(packs * offer.pack)} cost {say.money(goods, currency)}."
        )
    line = PlanLine(staple.shade, at, packs, offer.pack, price, goods, (), 0, Decimal(0))
    arrives = today + timedelta(days=supplier.lead_days or 0)
    shipping = _shipping(studio, supplier, line, arrives)
    free = supplier.shipping.free_from is not None and not shipping
    return SupplierOrder(supplier.key, supplier.name, arrives, (line,), goods, shipping, free)


def restock_words(order: SupplierOrder, currency: str) -> str:
    """'20 balls at 2.95, shipping 7.90: 66.90 EUR, there by 9 Dec 2026.'"""
    (line,) = order.lines
    ship = "free" if order.free else money_figure(order.shipping, currency)
    return (
        f"{say.balls(line.balls)} at {money_figure(line.ball_price, currency)}, shipping {ship}: "
        f"{say.money(order.landed, currency)}, there by {say.date(order.arrives)}."
    )


def _offers(studio: Studio, staple: StapleLine) -> list[tuple[int, Offer]]:
    """Its offers at the supplier where a year of it costs least, with their places."""
    book = usable(
        OfferBook(studio.suppliers, studio.offers), studio.library, studio.settings.currency
    )
    keys = {s.key for s in book.suppliers if s.name == staple.supplier}
    return [
        (studio.offers.index(offer), offer)
        for offer in book.offers
        if offer.supplier in keys and staple.shade in stocked(offer, studio.library)
    ]


def _shipping(studio: Studio, supplier: Supplier, line: PlanLine, arrives: date) -> Decimal:
    ordered = OrderLine(line.shade.yarn, line.shade.shade, line.balls, line.ball_price)
    return expected_shipping(studio, Purchase("", supplier.key, arrives, (ordered,)))
