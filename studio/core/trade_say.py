"""How she charges and works, in words: each figure of her trade as one line of its part."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.headline import money_figure
from studio.core.model import Studio
from studio.core.trade_model import Customer, PriceEnding

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class Part(StrEnum):
    """What is changed together, in one form."""

    LEAVE = "what a piece must leave"
    FEES = "what others take of a sale"
    TAX = "tax"
    SHOWN = "what is shown and asked"
    WEEK = "hours of handwork"
    OFF = "days off"
    AROUND = "days around the handwork"
    PACKING = "weighed with every parcel"
    PARCEL = "parcels, by the weight they carry"
    TASK = "work that every piece asks once"
    TIMES = "minutes until your own are noted"
    STAPLES = "shades that are always kept"


@dataclass(frozen=True, slots=True)
class TradeLine:
    """One figure: where it is changed, what it is called, what it is, what it means.

    `at` is its place in a list of days off, parcels or tasks. `share` is part of the longest day,
    for a bar.
    """

    part: Part
    label: str
    figure: str
    words: str = ""
    at: int | None = None
    share: float | None = None


def _percent(share: Decimal) -> str:
    return say.percent(share, 4)


def hours_words(minutes: int) -> str:
    """'4', '2:30', '' for none: hours of a day as they are typed."""
    return f"{minutes // 60}" if minutes % 60 == 0 else f"{minutes // 60}:{minutes % 60:02}"


def price_lines(studio: Studio) -> tuple[TradeLine, ...]:
    """How a price is found: what it must leave, fees, tax, and what is shown and asked."""
    return (*_leaves(studio), *_fees(studio), *_tax(studio), *_shown(studio))


def _leaves(studio: Studio) -> Iterable[TradeLine]:
    rules, settings, part = studio.trade.prices, studio.settings, Part.LEAVE

    def money(amount: Decimal) -> str:
        return money_figure(amount, settings.currency)

    floor = rules.floor_per_hour
    yield TradeLine(part, "an hour of work", money(settings.rate_per_hour), "your rate")
    yield TradeLine(part, "margin", _percent(rules.margin), "of the price, beyond your rate")
    yield TradeLine(part, "overhead of a piece", money(rules.overhead), "light, table, photographs")
    yield TradeLine(part, "overhead of an hour", money(rules.overhead_per_hour))
    yield TradeLine(
        part,
        "floor of an hour",
        money(floor) if floor else "none",
        "below it a price is a finding" if floor else "no price is too low",
    )


def _fees(studio: Studio) -> Iterable[TradeLine]:
    fees, part = studio.trade.prices.fees, Part.FEES
    yield TradeLine(part, "of the price", _percent(fees.on_price), "without tax")
    yield TradeLine(part, "of price and shipping", _percent(fees.on_charged), "without tax")
    yield TradeLine(part, "of all that is paid", _percent(fees.on_total), "tax included")
    fixed = money_figure(fees.fixed, studio.settings.currency)
    yield TradeLine(part, "for each payment", fixed, "deposit and balance are two")


def _tax(studio: Studio) -> Iterable[TradeLine]:
    rules, part = studio.trade.prices, Part.TAX
    registered = studio.settings.tax_registered
    charged = "charged" if registered else "not charged: you are not registered for it"
    yield TradeLine(part, "rate", _percent(rules.tax_rate), charged)
    yield TradeLine(part, "registered for tax", "yes" if registered else "no")
    where = "as you state them" if rules.tax_inclusive else "it is added to them"
    yield TradeLine(part, "prices with it", "yes" if rules.tax_inclusive else "no", where)


def _ending(ending: PriceEnding | None, currency: str) -> tuple[str, str]:
    """The step from one shown price to the next, and what all of them end in."""
    if ending is None:
        return "all", "every amount can be a price"
    words = f"each ending in {money_figure(ending.tail, currency)}" if ending.tail else ""
    return money_figure(ending.step, currency), words or "from one price to the next"


def _shown(studio: Studio) -> Iterable[TradeLine]:
    rules, currency, part = studio.trade.prices, studio.settings.currency, Part.SHOWN
    step, words = _ending(rules.ending, currency)
    yield TradeLine(part, "prices go by", step, words)
    share = rules.deposit_share
    words = "one payment" if share is None else "of all that is paid, at least the yarn to buy"
    yield TradeLine(part, "deposit", "none" if share is None else _percent(share), words)
    yield TradeLine(part, "a quote holds", say.count(rules.valid_days, "day"), "from its day")
    area = rules.per_area
    figure = "none" if area is None else money_figure(area, currency)
    yield TradeLine(part, "a square metre", figure, "rule of thumb, only to compare")


def hour_lines(studio: Studio) -> tuple[TradeLine, ...]:
    """The week, the days off, and the days around the handwork."""
    return (*_week(studio), *_off(studio), *_around(studio))


def _week(studio: Studio) -> Iterable[TradeLine]:
    hours, part = studio.trade.hours, Part.WEEK
    longest = max(hours.weekday_min) or 1
    for name, minutes in zip(WEEKDAYS, hours.weekday_min, strict=True):
        over = minutes > hours.daily_limit_min
        words = f"{hours_words(hours.daily_limit_min)} h are planned" if over else ""
        figure = hours_words(minutes) if minutes else ""
        yield TradeLine(part, name, figure, words, share=minutes / longest)
    planned = sum(min(minutes, hours.daily_limit_min) for minutes in hours.weekday_min)
    yield TradeLine(part, "in a week", hours_words(planned), "as they are planned")
    yield TradeLine(
        part, "at most in a day", hours_words(hours.daily_limit_min), "your hands' limit"
    )


def _off(studio: Studio) -> Iterable[TradeLine]:
    for at, off in enumerate(studio.trade.hours.days_off):
        days = say.count((off.last - off.first).days + 1, "day")
        first, last = say.date(off.first), say.date(off.last)
        if off.first.year == off.last.year:
            first = first.removesuffix(f" {off.first.year}")
        label = last if off.first == off.last else f"{first} - {last}"
        yield TradeLine(Part.OFF, label, days, off.note, at)


def _around(studio: Studio) -> Iterable[TradeLine]:
    trade, part = studio.trade, Part.AROUND
    yield TradeLine(part, "drying", say.count(trade.drying_days, "day"), "last stitch to parcel")
    yield TradeLine(part, "on its way", say.count(trade.transit_days, "day"), "parcel to customer")
    yield TradeLine(part, "yarn comes in", say.count(trade.lead_days, "day"), "from its order")


def other_lines(studio: Studio) -> tuple[TradeLine, ...]:
    """Parcels, tasks, times that no evidence has replaced, and what staples are bought by."""
    return (*_parcels(studio), *_tasks(studio), *_times(studio), *_staples(studio))


def _parcels(studio: Studio) -> Iterable[TradeLine]:
    trade, settings = studio.trade, studio.settings
    for at, tier in enumerate(trade.shipping):
        up_to = f"up to {say.weight(tier.up_to_g, settings.weight_unit)}"
        charged = "as paid"
        if tier.charged is not None:
            charged = say.money(tier.charged, settings.currency)
        words = f"{up_to}, customer pays {charged}"
        paid = money_figure(tier.paid, settings.currency)
        yield TradeLine(Part.PARCEL, tier.name, paid, words, at)
    packing = say.weight(trade.packing_g, settings.weight_unit)
    yield TradeLine(Part.PACKING, "packing", packing, "bag, tissue and carton")


def _tasks(studio: Studio) -> Iterable[TradeLine]:
    for at, task in enumerate(studio.trade.times.tasks):
        minutes = f"{say.number(task.minutes, 2)} min"
        yield TradeLine(Part.TASK, task.name, minutes, "", at)


def _times(studio: Studio) -> Iterable[TradeLine]:
    times, part = studio.trade.times, Part.TIMES
    pace = say.number(times.stitches_per_min, 2)
    yield TradeLine(part, "stitches in a minute", pace, "rough; your own minutes beat it")
    strand = f"{say.number(times.min_per_strand, 2)} min"
    yield TradeLine(part, "a strand of fringe", strand, "cut and knotted")


def _staples(studio: Studio) -> Iterable[TradeLine]:
    rules, part = studio.trade.staples, Part.STAPLES
    order = money_figure(rules.order_cost, studio.settings.currency)
    yield TradeLine(part, "an order costs", order, "beside its shipping")
    yield TradeLine(part, "keeping for a year", _percent(rules.holding), "of a ball's price")
    yield TradeLine(part, "the shelf lasts", _percent(rules.service), "of times, until yarn comes")


def customer_words(customer: Customer, studio: Studio) -> tuple[str, str]:
    """How to reach them in a line, and their pieces."""
    theirs = [p.name for p in studio.projects if p.customer == customer.key]
    return ", ".join(customer.contact), say.either(theirs, "and")
