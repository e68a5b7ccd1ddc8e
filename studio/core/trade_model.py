"""What the maker states of her trade: hours, fees, tax, shipping, customers, quotes, payments.

Nothing here is computed. Shares are fractions of one, money is Decimal in the studio's currency,
times are minutes. Default values are assumed (trade rules) until she changes them.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass

if TYPE_CHECKING:
    from studio.core.model import Stage

_NOUGHT = Decimal(0)


@dataclass(frozen=True, slots=True)
class Customer:
    """Somebody who orders; `contact` is free text, one line for each way to reach them."""

    key: str
    name: str
    contact: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class FeeRates:
    """What a sale costs through others: shares of three bases, and an amount for each payment."""

    on_price: Decimal = _NOUGHT
    """Of the price without tax."""
    on_charged: Decimal = _NOUGHT
    """Of the price and the shipping charged, without tax."""
    on_total: Decimal = _NOUGHT
    """Of all that the customer pays, tax included."""
    fixed: Decimal = _NOUGHT
    """For each payment."""


@dataclass(frozen=True, slots=True)
class PriceEnding:
    """Which prices are shown: `tail`, and every `step` beyond it (0.90 and 1: 0.90, 1.90 ...)."""

    step: Decimal
    tail: Decimal = _NOUGHT


@dataclass(frozen=True, slots=True)
class PriceRules:
    """How a price is found: margin on it, overhead, tax, fees, ending, deposit."""

    margin: Decimal = Decimal("0.2")
    overhead: Decimal = _NOUGHT
    """For each piece."""
    overhead_per_hour: Decimal = _NOUGHT
    floor_per_hour: Decimal = _NOUGHT
    """Below this an hour's pay is a finding; nought sets no floor."""
    tax_rate: Decimal = _NOUGHT
    """Charged only where the studio is registered for tax."""
    tax_inclusive: bool = True
    """Whether prices and shipping are shown and entered with tax in them."""
    fees: FeeRates = FeeRates()
    ending: PriceEnding | None = None
    """None shows every amount that can be charged."""
    deposit_share: Decimal | None = Decimal("0.3")
    """Of all that the customer pays; None asks no deposit, so that there is one payment."""
    valid_days: int = 14
    per_area: Decimal | None = None
    """Her rule of thumb for a square metre, where she has one."""


@dataclass(frozen=True, slots=True)
class ShippingTier:
    """A parcel up to a weight: what she pays, and what the customer is charged (None: the same)."""

    name: str
    up_to_g: Decimal
    paid: Decimal
    charged: Decimal | None = None

    @property
    def asked(self) -> Decimal:
        """What the customer is charged for it."""
        return self.paid if self.charged is None else self.charged


@dataclass(frozen=True, slots=True)
class DayOff:
    """Days without handwork, first and last counted."""

    first: date
    last: date
    note: str = ""


@dataclass(frozen=True, slots=True)
class WorkHours:
    """Minutes of handwork by weekday from Monday, days off, and the most in a day."""

    weekday_min: tuple[int, int, int, int, int, int, int] = (180, 180, 180, 180, 180, 0, 0)
    days_off: tuple[DayOff, ...] = ()
    daily_limit_min: int = 300


@dataclass(frozen=True, slots=True)
class Task:
    """Work that every piece asks once, whatever its size."""

    name: str
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class Times:
    """Minutes that no evidence of hers has replaced yet."""

    stitches_per_min: Decimal = Decimal(20)
    """Very rough (common practice, no source): every figure made from it is marked so."""
    min_per_strand: Decimal = Decimal("0.5")
    """Cutting and knotting one strand of fringe."""
    tasks: tuple[Task, ...] = (
        Task("blocking", Decimal(30)),
        Task("photographs", Decimal(20)),
        Task("packing", Decimal(20)),
        Task("messages", Decimal(30)),
    )


@dataclass(frozen=True, slots=True)
class StapleRules:
    """What decides how much of a shade that is always kept is ordered at once, and when."""

    order_cost: Decimal = _NOUGHT
    """Of each order, beside its shipping: her time, what the bank takes."""
    holding: Decimal = Decimal("0.2")
    """Part of a ball's price that keeping it for a year costs (common practice, no source)."""
    service: Decimal = Decimal("0.95")
    """The chance that the shelf lasts until the parcel comes (assumed)."""


@dataclass(frozen=True, slots=True)
class Trade:
    """How she charges and works; beside the settings, since no yarn answer rests on it."""

    prices: PriceRules = PriceRules()
    shipping: tuple[ShippingTier, ...] = ()
    packing_g: Decimal = Decimal(100)
    hours: WorkHours = WorkHours()
    times: Times = Times()
    transit_days: int = 3
    drying_days: int = 2
    lead_days: int = 10
    """From ordering yarn to having it."""
    hand_order: tuple[str, ...] = ()
    """Project keys in the order she will work them; empty works by due date."""
    staples: StapleRules = StapleRules()


class WorkKind(StrEnum):
    """What logged minutes went into."""

    CROCHET = "crochet"
    ENDS = "ends"
    TASK = "task"


@dataclass(frozen=True, slots=True)
class WorkLog:
    """Minutes spent on a piece; crochet says from which row on and over how many rows."""

    minutes: Decimal
    kind: WorkKind = WorkKind.CROCHET
    rows: int = 0
    first_row: int = 1
    on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class StageDate:
    """The day a stage was reached."""

    stage: Stage
    on: date


class PaymentKind(StrEnum):
    """What money that changed hands was for; a refund goes to the customer.

    `KEPT` changes no hands: of what was paid for a sale that came to nothing, so much stays hers.
    """

    DEPOSIT = "deposit"
    BALANCE = "balance"
    REFUND = "refund"
    KEPT = "kept"

    @property
    def comes_in(self) -> bool:
        """Whether a customer pays it."""
        return self in (PaymentKind.DEPOSIT, PaymentKind.BALANCE)


@dataclass(frozen=True, slots=True)
class Payment:
    """Money received, given back, or kept of it; `amount` is never negative."""

    kind: PaymentKind
    amount: Decimal
    on: date
    note: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a quote as it was when it was sent, money unless `unit` says otherwise."""

    code: str
    label: str
    amount: Decimal
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Quote:
    """A quote as it was sent; nothing of it is ever computed again.

    `price` and `shipping` are as shown (with tax in them where `tax_inclusive`), `tax` is all tax
    in the total. `figures` are the lines of the sheet behind it, which no customer sees, `assumed`
    the sentences on what it rested on. `design` is what was drawn (see quoting.design_of), empty
    where that was not written down.
    """

    on: date
    valid_until: date
    price: Decimal
    shipping: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    currency: str
    tax_rate: Decimal = _NOUGHT
    tax_inclusive: bool = False
    ready_by: date | None = None
    figures: tuple[Figure, ...] = ()
    assumed: tuple[str, ...] = ()
    design: str = ""

    @property
    def balance(self) -> Decimal:
        """What is left to pay after the deposit."""
        return self.total - self.deposit
