"""The price of a piece, solved exactly in both directions (trade rules, section 6).

All amounts are Decimal in one currency and every line is rounded as it is charged. The formula
only says where to look: the answer is the least price with her ending whose own sheet, worked
forward line by line, leaves what was wanted. Rounding makes that sheet jump by a few minor units,
so the search starts below the formula by more than all roundings together and takes the first
price that holds.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from enum import StrEnum

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.money import minor_digits, rounded, rounded_up, unit
from studio.core.trade_model import FeeRates, PriceEnding
from studio.errors import StudioError

MIN_PER_HOUR = 60

_SLACK_UNITS = 4
"""Minor units by which the rounded sheet can differ from the formula: price, three fees and two
taxes are rounded, half a unit each, and the taxes count only by a fee's share."""

_LEAST_SLOPE = Decimal("0.001")
"""Below this a price is over a thousand times the cost, which nobody pays."""

_NOUGHT = Decimal(0)
_NO_FEES = FeeRates()


class PriceError(StudioError):
    """Figures from which no price can be made."""

    title = "No price can be made"


class LineKind(StrEnum):
    """What a line of the sheet is of; the bar picture adds lines of a kind."""

    PRICE = "price"
    SHIPPING_CHARGED = "shipping charged"
    TAX = "tax"
    YARN = "yarn"
    NOTIONS = "notions"
    HOURS = "hours"
    OVERHEAD = "overhead"
    FEES = "fees"
    SHIPPING = "shipping"
    MARGIN = "margin"


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One step of the sheet: a signed amount in whole minor units, and how it comes about."""

    kind: LineKind
    label: str
    amount: Decimal
    how: str = ""


@dataclass(frozen=True, slots=True)
class PriceCase:
    """All that a price rests on. `shipping_charged` is as shown, with tax where prices are.

    `yarn` and `notions` are used material; `cash` is what must be laid out for material, with
    such tax as cannot be reclaimed, None where it is not known. `rate` is for an hour.
    """

    currency: str
    yarn: Decimal
    minutes: Decimal
    rate: Decimal
    notions: Decimal = _NOUGHT
    overhead: Decimal = _NOUGHT
    cash: Decimal | None = None
    fees: FeeRates = _NO_FEES
    payments: int = 1
    shipping_paid: Decimal = _NOUGHT
    shipping_charged: Decimal = _NOUGHT
    tax_rate: Decimal = _NOUGHT
    tax_inclusive: bool = False
    ending: PriceEnding | None = None
    deposit_share: Decimal | None = None

    @property
    def labour(self) -> Decimal:
        """Her hours at her rate, as one line is charged."""
        return rounded(self.rate * self.minutes / MIN_PER_HOUR, self.currency)

    @property
    def outlay(self) -> Decimal:
        """Material, overhead, fixed fees and shipping: all costs that no price changes."""
        c = self.currency
        return (
            rounded(self.yarn, c)
            + rounded(self.notions, c)
            + rounded(self.overhead, c)
            + rounded(self.fees.fixed, c) * self.payments
            + rounded(self.shipping_paid, c)
        )

    @property
    def fee_share(self) -> Decimal:
        """All percentage fees as a share of the price without tax."""
        return self.fees.on_price + self.fees.on_charged + self.fees.on_total * (1 + self.tax_rate)


@dataclass(frozen=True, slots=True)
class Aim:
    """What a price must leave: a share of it as margin beyond her rate, or so much an hour."""

    margin: Decimal | None = None
    per_hour: Decimal | None = None

    def __post_init__(self) -> None:
        if (self.margin is None) == (self.per_hour is None):
            raise ValueError("aim at a margin or at an hour's pay, one of the two")


@dataclass(frozen=True, slots=True)
class PriceSheet:
    """A price worked forward. `charged` adds to the total, `leaves` to the margin.

    `price` is without tax, `shown` as she shows it. `earned` is what is left for her hours and
    the margin together.
    """

    case: PriceCase
    shown: Decimal
    price: Decimal
    total: Decimal
    tax: Decimal
    earned: Decimal
    margin: Decimal
    deposit: Decimal
    charged: tuple[PriceLine, ...]
    leaves: tuple[PriceLine, ...]

    @property
    def balance(self) -> Decimal:
        """What is left to pay after the deposit."""
        return self.total - self.deposit

    @property
    def margin_share(self) -> Decimal | None:
        """Margin over the price without tax; None where the price is nought."""
        return self.margin / self.price if self.price else None

    @property
    def pay_per_hour(self) -> Decimal | None:
        """What the price pays for an hour, rounded down; None where there are no hours."""
        if not self.case.minutes:
            return None
        exact = self.earned * MIN_PER_HOUR / self.case.minutes
        return exact.quantize(unit(self.case.currency), rounding=ROUND_FLOOR)

    def meets(self, aim: Aim) -> bool:
        """Whether it leaves what was wanted, exactly."""
        if aim.margin is not None:
            return self.margin >= aim.margin * self.price
        wanted = (aim.per_hour or _NOUGHT) * self.case.minutes
        return self.earned * MIN_PER_HOUR >= wanted


def deposit_of(
    total: Decimal, cash: Decimal | None, share: Decimal | None, currency: str
) -> Decimal:
    """The deposit: a share of the total, at least the material to lay out, at most the total."""
    if share is None:
        return rounded(_NOUGHT, currency)
    asked = max(share * total, cash or _NOUGHT)
    return min(total, rounded_up(asked, currency))


def _check(case: PriceCase) -> None:
    minor_digits(case.currency)
    fees, share = case.fees, case.deposit_share
    amounts = {
        "The material": case.yarn,
        "The sum of notions": case.notions,
        "The time": case.minutes,
        "The rate": case.rate,
        "The overhead": case.overhead,
        "The fixed fee": fees.fixed,
        "The shipping paid": case.shipping_paid,
        "The shipping charged": case.shipping_charged,
        "The tax rate": case.tax_rate,
        "A fee": min(fees.on_price, fees.on_charged, fees.on_total),
        "The share of the deposit": share or _NOUGHT,
        "The cash for material": case.cash or _NOUGHT,
    }
    for name, amount in amounts.items():
        if not amount.is_finite() or amount < 0:
            raise PriceError(f"{name} is {amount}; it must be 0 or more.")
    if share is not None and share > 1:
        raise PriceError(
            f"A deposit of {say.percent(share)} is larger than the price; 100 % is the most."
        )
    _grid(case)


def _grid(case: PriceCase) -> tuple[Decimal, Decimal]:
    """Step and tail of the prices that may be shown."""
    smallest = unit(case.currency)
    if case.ending is None:
        return smallest, _NOUGHT
    step, tail = case.ending.step, case.ending.tail
    if step <= 0 or step % smallest or tail % smallest or not 0 <= tail < step:
        raise PriceError(
            f"A price that ends in {tail} and goes up in steps of {step} cannot be paid in "
            f"{case.currency}, whose smallest amount is {smallest}."
        )
    return step, tail


def _without_tax(shown: Decimal, case: PriceCase) -> tuple[Decimal, Decimal]:
    """An amount as shown, split into what is hers and the tax on it, both as charged."""
    rate = case.tax_rate
    if case.tax_inclusive:
        tax = rounded(shown * rate / (1 + rate), case.currency)
        return shown - tax, tax
    return shown, rounded(shown * rate, case.currency)


def sheet_at(case: PriceCase, shown: Decimal) -> PriceSheet:
    """Work one shown price forward, each line rounded as it is charged."""
    _check(case)
    if not shown.is_finite() or shown < 0:
        raise PriceError(f"A price of {shown} makes no sense; it must be 0 or more.")
    if shown != rounded(shown, case.currency):
        raise PriceError(
            f"A price of {shown} cannot be paid in {case.currency}, whose smallest amount is "
            f"{unit(case.currency)}."
        )
    return _forward(case, rounded(shown, case.currency))


def _forward(case: PriceCase, shown: Decimal) -> PriceSheet:
    c = case.currency
    price, tax = _without_tax(shown, case)
    shipping, shipping_tax = _without_tax(rounded(case.shipping_charged, c), case)
    total = price + shipping + tax + shipping_tax
    fees = case.fees
    bases = (
        (fees.on_price, price, "of the price"),
        (fees.on_charged, price + shipping, "of price and shipping"),
        (fees.on_total, total, "of the total with tax"),
    )
    percent_fees = [(rate, base, rounded(rate * base, c), word) for rate, base, word in bases]
    earned = price + shipping - case.outlay - sum((f for _, _, f, _ in percent_fees), _NOUGHT)
    margin = earned - case.labour
    in_it = "in it" if case.tax_inclusive else "on it"
    rate_words = f"{say.percent(case.tax_rate, 2)} {in_it}"
    charged = [
        PriceLine(LineKind.PRICE, "Price", price, "without tax" if tax else ""),
        PriceLine(LineKind.TAX, "Tax on the price", tax, rate_words),
        PriceLine(LineKind.SHIPPING_CHARGED, "Shipping", shipping, ""),
        PriceLine(LineKind.TAX, "Tax on the shipping", shipping_tax, rate_words),
    ]
    hours = f"{say.number(case.minutes / MIN_PER_HOUR, 2)} h at {say.money(case.rate, c)}"
    leaves = [
        PriceLine(LineKind.PRICE, "Price", price),
        PriceLine(LineKind.SHIPPING_CHARGED, "Shipping charged", shipping),
        PriceLine(LineKind.YARN, "Yarn", -rounded(case.yarn, c), "used"),
        PriceLine(LineKind.NOTIONS, "Notions", -rounded(case.notions, c)),
        PriceLine(LineKind.HOURS, "Her hours", -case.labour, hours),
        PriceLine(LineKind.OVERHEAD, "Overhead", -rounded(case.overhead, c)),
        *(
            PriceLine(
                LineKind.FEES,
                f"Fee {word}",
                -fee,
                f"{say.percent(rate, 2)} of {say.money(base, c)}",
            )
            for rate, base, fee, word in percent_fees
        ),
        PriceLine(
            LineKind.FEES,
            "Fixed fees",
            -rounded(fees.fixed, c) * case.payments,
            f"{say.count(case.payments, 'payment')} at {say.money(fees.fixed, c)}",
        ),
        PriceLine(LineKind.SHIPPING, "Shipping paid", -rounded(case.shipping_paid, c)),
    ]
    return PriceSheet(
        case=case,
        shown=shown,
        price=price,
        total=total,
        tax=tax + shipping_tax,
        earned=earned,
        margin=margin,
        deposit=deposit_of(total, case.cash, case.deposit_share, c),
        charged=tuple(n for n in charged if n.amount or n.kind is LineKind.PRICE),
        leaves=tuple(n for n in leaves if n.amount or n.kind is LineKind.PRICE),
    )


def formula_price(case: PriceCase, aim: Aim) -> Decimal:
    """The price without tax that the formula gives, unrounded.

    p = [C + F - s + s (fs + ft (1+v)) + S] / [1 - m - fp - fs - ft (1+v)], with an hour's pay
    in the place of rate and margin where that is the aim. Raises PriceError where the bottom is
    not above nought, since then no price is enough.
    """
    fees = case.fees
    wanted = aim.margin or _NOUGHT
    slope = 1 - wanted - case.fee_share
    if slope < _LEAST_SLOPE:
        parts = f"The fees take {say.percent(case.fee_share, 2)} of the price"
        if aim.margin is not None:
            parts = (
                f"A margin of {say.percent(wanted, 2)} and fees of "
                f"{say.percent(case.fee_share, 2)} make {say.percent(wanted + case.fee_share, 2)}"
            )
        raise PriceError(
            f"{parts} and leave nothing for the piece itself, so no price is enough. "
            "Lower the margin or the fees."
        )
    work = case.labour
    if aim.per_hour is not None:
        work = aim.per_hour * case.minutes / MIN_PER_HOUR
    shipping, _ = _without_tax(rounded(case.shipping_charged, case.currency), case)
    from_shipping = shipping * (1 - fees.on_charged - fees.on_total * (1 + case.tax_rate))
    return (case.outlay + work - from_shipping) / slope


def price_for(case: PriceCase, aim: Aim) -> PriceSheet:
    """The least shown price with her ending that leaves what is wanted, as its sheet."""
    _check(case)
    step, tail = _grid(case)
    exact = formula_price(case, aim)
    slope = 1 - (aim.margin or _NOUGHT) - case.fee_share
    start = exact - _SLACK_UNITS * unit(case.currency) / slope
    if case.tax_inclusive:
        start *= 1 + case.tax_rate
    places = ((start - tail) / step).to_integral_value(rounding=ROUND_CEILING)
    shown = rounded(tail + step * max(places, _NOUGHT), case.currency)
    while True:
        sheet = _forward(case, shown)
        if sheet.meets(aim):
            return sheet
        shown += step


def one_ending_lower(case: PriceCase, shown: Decimal) -> Decimal | None:
    """The next lower price that she would show; None where there is none above nought."""
    step, tail = _grid(case)
    places = ((shown - tail) / step).to_integral_value(rounding=ROUND_CEILING) - 1
    lower = rounded(tail + step * places, case.currency)
    return lower if lower >= 0 else None
