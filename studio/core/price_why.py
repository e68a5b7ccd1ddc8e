"""The sum behind each figure of a price, as steps that end in the figure."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from studio.core import say
from studio.core.enquiry_say import hours
from studio.core.hours import Hours
from studio.core.model import Studio
from studio.core.money import rounded
from studio.core.price_sheet import Move, Part, Priced
from studio.core.pricing import (
    LineKind,
    PriceLine,
    formula_price,
    one_ending_lower,
    price_for,
    sheet_at,
)
from studio.core.reasons import Step

_NOUGHT = Decimal(0)


def why_hours(found: Hours) -> tuple[Step, ...]:
    """The time step by step."""
    steps = [Step(f"{n.what}: {n.how}", f"{say.number(n.total_min)} min") for n in found.lines]
    if found.rough:
        steps.append(Step("Rough: no minutes are noted for this yarn, stitch and hook yet."))
    return (*steps, Step("Time for the whole piece", hours(found.total_min)))


def without_tax(priced: Priced, amount: Decimal) -> tuple[Step, ...]:
    """From the price as it is shown to the line, where tax is in it."""
    sheet, currency = priced.sheet, priced.sheet.case.currency
    if amount == sheet.shown:
        return ()
    return (
        Step("Of that tax", say.money(sheet.shown - amount, currency)),
        Step("Price without tax", say.money(amount, currency)),
    )


def tax_steps(priced: Priced, line: PriceLine, amount: str) -> tuple[Step, ...]:
    """The tax on the price or on the shipping, from what it is on."""
    case, currency = priced.sheet.case, priced.sheet.case.currency
    on_price = line is next(n for n in priced.sheet.charged if n.kind is LineKind.TAX)
    base = priced.sheet.shown if on_price else case.shipping_charged
    what = "The price" if on_price else "Shipping"
    shown = Step(f"{what}, as shown", say.money(base, currency))
    return (shown, Step(f"Tax of {line.how}", amount))


def shipping_steps(
    priced: Priced, line: PriceLine, studio: Studio, amount: str
) -> tuple[Step, ...]:
    """From the weight to the parcel, and to what is paid or charged for it."""
    parcel, currency = priced.parcel, priced.sheet.case.currency
    steps = [Step("Weight with packing", say.weight(parcel.weight_g, studio.settings.weight_unit))]
    tier = parcel.tier
    if tier is None:
        return (*steps, Step(f"It is {parcel.why}", amount))
    up_to = say.weight(tier.up_to_g, studio.settings.weight_unit)
    steps.append(Step(f"It fits '{tier.name}', up to {up_to}", say.money(tier.paid, currency)))
    if line.kind is LineKind.SHIPPING:
        return (*steps, Step("Paid for the parcel", amount))
    steps.append(Step("The customer is charged, as shown", say.money(tier.asked, currency)))
    without = "Without the tax in it" if tier.asked != line.amount else "Charged"
    return (*steps, Step(without, amount))


def overhead_steps(studio: Studio, priced: Priced, amount: str) -> tuple[Step, ...]:
    """What each piece and each hour of it bears."""
    rules, currency = studio.trade.prices, priced.sheet.case.currency
    each = say.money(rules.overhead_per_hour, currency)
    return (
        Step("For each piece", say.money(rules.overhead, currency)),
        Step(f"For each hour {each}, {hours(priced.hours.total_min)}",
             say.money(rules.overhead_per_hour * priced.hours.total_min / 60, currency)),
        Step("Overhead", amount),
    )  # fmt: skip


def _lines(lines: tuple[PriceLine, ...], currency: str) -> tuple[Step, ...]:
    return tuple(
        Step(f"{n.label}: {n.how}" if n.how else n.label, say.money(n.amount, currency))
        for n in lines
    )


def why_margin(priced: Priced) -> tuple[Step, ...]:
    """The sheet line by line down to the margin."""
    sheet = priced.sheet
    currency = sheet.case.currency
    steps = [*_lines(sheet.leaves, currency), Step("Margin", say.money(sheet.margin, currency))]
    if sheet.margin_share is not None:
        steps.append(Step("Of the price without tax", say.percent(sheet.margin_share)))
    return tuple(steps)


def why_total(priced: Priced) -> tuple[Step, ...]:
    """What the customer pays, line by line."""
    sheet = priced.sheet
    currency = sheet.case.currency
    total = Step("All that the customer pays", say.money(sheet.total, currency))
    return (*_lines(sheet.charged, currency), total)


def why_price(priced: Priced) -> tuple[Step, ...]:
    """From cost, aim and fees to the price, and that one ending lower is not enough."""
    sheet, aim = priced.sheet, priced.aim
    case, currency = sheet.case, sheet.case.currency

    def money(amount: Decimal) -> str:
        return say.money(amount, currency)

    if priced.by_hand:
        return (Step("Set by hand", money(sheet.shown)),
                Step("The price that leaves what is wanted",
                     money(formula_price(case, aim))))  # fmt: skip
    steps = [Step("Material, overhead, fixed fees and shipping", money(case.outlay))]
    if aim.per_hour is not None:
        work = rounded(aim.per_hour * case.minutes / 60, currency)
        steps.append(Step(f"{hours(case.minutes)} at {money(aim.per_hour)} wanted", money(work)))
    else:
        steps.append(Step(f"{hours(case.minutes)} at {money(case.rate)}", money(case.labour)))
    if case.shipping_charged:
        steps.append(Step("Shipping charged, as shown", money(case.shipping_charged)))
    if aim.margin is not None:
        steps.append(Step("Margin wanted, of the price", say.percent(aim.margin, 2)))
    steps.append(Step("Fees, of the price", say.percent(case.fee_share, 2)))
    steps.append(Step("Without tax and ending, that is", money(formula_price(case, aim))))
    lower = one_ending_lower(case, sheet.shown)
    if lower is not None:
        under = sheet_at(case, lower)
        left = under.margin if aim.margin is not None else under.earned
        words = "margin" if aim.margin is not None else "for the hours"
        steps.append(Step(f"One ending lower, {money(lower)}, is not enough: {words}", money(left)))
    steps.append(Step("The least price that leaves it", money(sheet.shown)))
    return tuple(steps)


def why_deposit(priced: Priced) -> tuple[Step, ...]:
    """The deposit, and the balance that it leaves."""
    sheet, case = priced.sheet, priced.sheet.case
    currency = case.currency
    if case.deposit_share is None:
        return (Step("No deposit is asked", say.money(_NOUGHT, currency)),)
    steps = [
        Step(
            f"{say.percent(case.deposit_share)} of {say.money(sheet.total, currency)}",
            say.money(case.deposit_share * sheet.total, currency),
        )
    ]
    if case.cash is not None:
        steps.append(Step("At least the material to lay out", say.money(case.cash, currency)))
    steps.append(Step("Deposit, rounded up", say.money(sheet.deposit, currency)))
    return (*steps, Step("Balance", say.money(sheet.balance, currency)))


def why_pay(priced: Priced) -> tuple[Step, ...]:
    """What is left for the hours, and for each of them."""
    sheet, currency = priced.sheet, priced.sheet.case.currency
    paid = [n for n in sheet.leaves if n.kind is not LineKind.HOURS]
    steps = [*_lines(tuple(paid), currency)]
    steps.append(Step("Left for the hours", say.money(sheet.earned, currency)))
    if sheet.pay_per_hour is None:
        return (*steps, Step("There are no hours to share it among."))
    over = f"Over {hours(sheet.case.minutes)}, rounded down"
    return (*steps, Step(over, say.money(sheet.pay_per_hour, currency)))


def why_part(part: Part, priced: Priced) -> tuple[Step, ...]:
    """A part of the bar picture: its lines, and its share of what the customer pays."""
    sheet, currency = priced.sheet, priced.sheet.case.currency
    kinds = {LineKind.YARN: (LineKind.YARN, LineKind.NOTIONS)}.get(part.kind, (part.kind,))
    lines = [n for n in (*sheet.charged, *sheet.leaves) if n.kind in kinds]
    return (
        *_lines(tuple(lines), currency),
        Step(part.label, say.money(part.amount, currency)),
        Step(f"Of {say.money(sheet.total, currency)} that the customer pays",
             say.percent(part.share)),
    )  # fmt: skip


def why_move(move: Move, priced: Priced) -> tuple[Step, ...]:
    """By how much the price moves when one thing is a tenth dearer."""
    case, currency = priced.sheet.case, priced.sheet.case.currency
    now = price_for(replace(case, ending=None), priced.aim).shown
    return (
        Step("The price that leaves what is wanted, endings left aside", say.money(now, currency)),
        Step(f"{move.label} a tenth dearer", say.money(now + move.more, currency)),
        Step("Difference", f"+{say.money(move.more, currency)}"),
    )
