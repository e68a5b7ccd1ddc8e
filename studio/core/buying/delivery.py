"""What is typed of a parcel: its bags with their dye lots, its prices, shipping and tax.

It lies with its purchase until it is put on the shelf, so that nothing typed is lost by leaving.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import ShadeRef


class Fate(StrEnum):
    """What is to be done with a bag."""

    GOOD = "good"
    DAMAGED = "damaged"
    """It was ordered, but cannot be used; it stays outstanding."""
    WRONG = "wrong"
    """It was not ordered; it goes back and is not booked."""


class ShareBy(StrEnum):
    """How shipping is shared among what came."""

    VALUE = "value"
    WEIGHT = "weight"


@dataclass(frozen=True, slots=True)
class Bag:
    """Balls of one dye lot. A band without a code has `code_lost`, and gets a mark of its own."""

    yarn: str
    shade: str
    code: str
    balls: int
    fate: Fate = Fate.GOOD
    code_lost: bool = False

    @property
    def ref(self) -> ShadeRef:
        """The shade in the bag."""
        return ShadeRef(self.yarn, self.shade)


@dataclass(frozen=True, slots=True)
class Delivery:
    """What came for one purchase. `prices` are those that differ from the order, for each ball.

    `shipping` and `tax` are for this parcel; tax only where she cannot reclaim it. `rest_comes`
    says whether what did not come is still expected, `rest_arrives` when.
    """

    purchase: str
    on: date
    bags: tuple[Bag, ...]
    shipping: Decimal = Decimal(0)
    tax: Decimal = Decimal(0)
    share_by: ShareBy = ShareBy.VALUE
    prices: tuple[tuple[ShadeRef, Decimal], ...] = ()
    rest_comes: bool = True
    rest_arrives: date | None = None
    kept: str = ""


def extras_words(delivery: Delivery, currency: str) -> str:
    """'Shipping 4.90 EUR, shared by value; tax 2.00 EUR.'; nothing where there are neither."""
    parts = []
    if delivery.shipping:
        amount = say.money(delivery.shipping, currency)
        parts.append(f"shipping {amount}, shared by {delivery.share_by.value}")
    if delivery.tax:
        parts.append(f"tax {say.money(delivery.tax, currency)}, shared by value")
    words = "; ".join(parts)
    return f"{words[:1].upper()}{words[1:]}." if words else ""
