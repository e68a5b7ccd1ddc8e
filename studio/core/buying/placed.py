"""An open purchase as the order that it was, so that its paper can be written at any time."""

from __future__ import annotations

from decimal import Decimal

from studio.core.buying.offers import Offer, named_supplier, stocked
from studio.core.buying.parcel import expected_shipping, supplier_of
from studio.core.buying.plan import PlanLine, SupplierOrder
from studio.core.edits.places import check_shade
from studio.core.model import OrderLine, Purchase, ShadeRef, Studio

NO_OFFER = -1
"""The place of an offer that is not there any more."""


def placed_order(studio: Studio, purchase: Purchase) -> SupplierOrder:
    """What is still on order, in the packs in which its supplier sells it at that price.

    Lines without a price cost nothing here; shipping is what the supplier's terms say today.
    Refused where a yarn or shade is not in the library any more.
    """
    supplier = named_supplier(studio.suppliers, purchase.supplier)
    key = supplier.key if supplier else purchase.supplier
    lines = tuple(_line(studio, key, line) for line in purchase.lines)
    shipping = expected_shipping(studio, purchase)
    return SupplierOrder(
        key,
        supplier_of(studio, purchase) or purchase.key,
        purchase.arrives,
        lines,
        sum((line.cost for line in lines), Decimal(0)),
        shipping,
        supplier is not None and supplier.shipping.free_from is not None and not shipping,
    )


def _line(studio: Studio, supplier: str, line: OrderLine) -> PlanLine:
    ref, price = ShadeRef(line.yarn, line.shade), line.price or Decimal(0)
    check_shade(studio, ref)
    found = [
        (at, offer)
        for at, offer in enumerate(studio.offers)
        if offer.supplier == supplier
        and _sold_as(offer, line)
        and ref in stocked(offer, studio.library)
    ]
    at, pack = (found[0][0], found[0][1].pack) if found else (NO_OFFER, 1)
    packs = line.balls // pack
    return PlanLine(ref, at, packs, pack, price, price * line.balls, (), 0, Decimal(0))


def _sold_as(offer: Offer, line: OrderLine) -> bool:
    """Whether the balls are whole packs of this offer, at one of its prices."""
    prices = {step.price for step in offer.breaks}
    return offer.yarn == line.yarn and line.balls % offer.pack == 0 and line.price in prices
