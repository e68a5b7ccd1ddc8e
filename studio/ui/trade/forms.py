"""The forms of her trade: each part's figures together, told at once what cannot be."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

from studio import clock
from studio.core import say
from studio.core.edits import trade as edits
from studio.core.model import Studio
from studio.core.trade_model import DayOff, FeeRates, PriceEnding, ShippingTier, StapleRules, Task
from studio.core.trade_say import WEEKDAYS, Part, TradeLine, hours_words
from studio.errors import EditRefusedError
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Change = Callable[[Studio], Studio]
Fields = Callable[[Studio, int | None], Sequence[Field]]
Edit = Callable[[Studio, Any, int | None], Studio]


async def ask_part(app: StripewrightApp, part: Part, line: TradeLine | None) -> None:
    """Change a part of the trade; without a line a day off, parcel or task is added."""
    make, edit, note = FORMS[part]
    at = line.at if line else None
    fields = make(app.view.studio, at)
    here = next((f.key for f in fields if line and f.label == line.label), "")

    def change(values: Values) -> Change:
        return lambda studio: edit(studio, values, at)

    title = TITLES.get(part, part.value.capitalize())
    values = await fill_in(
        app,
        f"trade {part} {at}",
        title,
        fields,
        note=note,
        refused=refused(app, change),
        at=here,
    )
    if values is not None and app.edit(f"{title.lower()} changed", change(values)):
        app.say(f"Kept: {title.lower()}.")


TITLES: Final[Mapping[Part, str]] = {
    Part.PARCEL: "A parcel",
    Part.TASK: "A task",
    Part.OFF: "Days off",
    Part.PACKING: "Packing",
}


def _yes(text: str) -> bool:
    return text == "yes"


def percent_entry(share: Decimal | None) -> str:
    """A share as it would be typed."""
    return "" if share is None else say.percent(share, 4).removesuffix(" %")


def _leave(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    rules, settings = studio.trade.prices, studio.settings
    money = settings.currency
    return [
        Field("rate_per_hour", "an hour of work", figure(settings.rate_per_hour),
              entries.number("The rate"), f"{money}, your rate"),
        Field("margin", "margin", percent_entry(rules.margin), entries.share("The margin", "99.9"),
              "percent of the price, beyond your rate"),
        Field("overhead", "overhead of a piece", figure(rules.overhead),
              entries.number("The overhead"), f"{money}: light, table, photographs"),
        Field("overhead_per_hour", "overhead of an hour", figure(rules.overhead_per_hour),
              entries.number("The overhead"), f"{money} for each hour of work"),
        Field("floor_per_hour", "floor of an hour", figure(rules.floor_per_hour),
              entries.number("The floor"), f"{money}; 0 sets no floor"),
    ]  # fmt: skip


def _set_leave(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_prices(studio, **values)


def _fees(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    fees, check = studio.trade.prices.fees, entries.share("A fee", "99.9")
    bases = (("on_price", "of the price", "percent of the price without tax"),
             ("on_charged", "of price and shipping", "percent of both, without tax"),
             ("on_total", "of all that is paid", "percent, tax included"))  # fmt: skip
    return [
        *(
            Field(key, label, percent_entry(getattr(fees, key)), check, hint)
            for key, label, hint in bases
        ),
        Field("fixed", "for each payment", figure(fees.fixed), entries.number("The fee"),
              f"{studio.settings.currency}; with a deposit there are two payments"),
    ]  # fmt: skip


def _set_fees(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_prices(studio, fees=FeeRates(**values))


def _tax(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    rules = studio.trade.prices
    return [
        Field("tax_rate", "rate", percent_entry(rules.tax_rate), entries.share("The tax", "99.9"),
              "percent; what applies is for your local law and an adviser to say"),
        Field("tax_registered", "registered for tax",
              "yes" if studio.settings.tax_registered else "no", _yes, options=YES_NO),
        Field("tax_inclusive", "prices with it", "yes" if rules.tax_inclusive else "no", _yes,
              options=(("yes", "yes, in them"), ("no", "no, added to them"))),
    ]  # fmt: skip


def _shown(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    rules, money = studio.trade.prices, studio.settings.currency
    ending, number = rules.ending, entries.optional(entries.number("It"))
    return [
        Field("step", "prices go by", figure(ending.step) if ending else "",
              entries.optional(entries.number("The step", above=True)),
              f"{money}, such as 5; empty shows every amount"),
        Field("tail", "and end in", figure(ending.tail) if ending and ending.tail else "", number,
              f"{money}, such as 0.90; empty ends in the step"),
        Field("deposit_share", "deposit", percent_entry(rules.deposit_share),
              entries.optional(entries.share("The deposit", "1000")),
              "percent of all that is paid; empty asks none"),
        Field("valid_days", "a quote holds", str(rules.valid_days),
              entries.whole("It", 0, 1000), "days from the day it is sent"),
        Field("per_area", "a square metre", figure(rules.per_area), number,
              f"{money}, a rule of thumb; empty has none"),
    ]  # fmt: skip


def _set_shown(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    plain = dict(values)
    step, tail = plain.pop("step"), plain.pop("tail")
    if step is None and tail is not None:
        raise EditRefusedError("An ending needs the step from one price to the next, such as 1.")
    ending = None if step is None else PriceEnding(step, tail or Decimal(0))
    share = plain.pop("deposit_share") or None
    return edits.set_prices(studio, ending=ending, deposit_share=share, **plain)


def _week(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    hours = studio.trade.hours
    days = zip(WEEKDAYS, hours.weekday_min, strict=True)
    return [
        *(
            Field(day.lower(), day, hours_words(minutes) if minutes else "", entries.hours(day),
                  "hours, such as 4 or 2:30; empty is a day off")
            for day, minutes in days
        ),
        Field("limit", "at most in a day", hours_words(hours.daily_limit_min),
              entries.hours("A day"), "hours; what is beyond them is not planned"),
    ]  # fmt: skip


def _set_week(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_hours(studio, [values[d.lower()] for d in WEEKDAYS], values["limit"])


def _off(studio: Studio, at: int | None) -> list[Field]:
    off = studio.trade.hours.days_off[at] if at is not None else None
    today = clock.today()
    return [
        Field("first", "first day", date_entry(off.first if off else None),
              entries.day("The first day", today), "such as 24 Dec"),
        Field("last", "last day", date_entry(off.last if off else None),
              entries.optional(entries.day("The last day", today)), "empty is the same day"),
        Field("note", "note", off.note if off else ""),
    ]  # fmt: skip


def _set_off(studio: Studio, values: Any, at: int | None) -> Studio:
    first: date = values["first"]
    new = DayOff(first, values["last"] or first, values["note"])
    return edits.put_day_off(studio, new, at)


def _around(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    trade = studio.trade
    return [
        Field("drying_days", "drying", str(trade.drying_days), entries.whole("Drying", 0, 1000),
              "days from the last stitch to the parcel"),
        Field("transit_days", "on its way", str(trade.transit_days),
              entries.whole("The way", 0, 1000), "days from parcel to customer"),
        Field("lead_days", "yarn comes in", str(trade.lead_days),
              entries.whole("The wait", 0, 1000), "days from ordering yarn to having it"),
    ]  # fmt: skip


def _packing(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    return [
        Field("packing_g", "packing", figure(studio.trade.packing_g), entries.number("Packing"),
              "grams of bag, tissue and carton")
    ]  # fmt: skip


def _set_packing(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_packing(studio, values["packing_g"])


def _set_around(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_days(studio, **values)


def _parcel(studio: Studio, at: int | None) -> list[Field]:
    tier, money = (studio.trade.shipping[at] if at is not None else None), studio.settings.currency
    return [
        Field("name", "name", tier.name if tier else "", entries.text("Its name"),
              "such as small parcel"),
        Field("up_to_g", "up to g", figure(tier.up_to_g if tier else None),
              entries.number("The weight", above=True), "grams, packing counted"),
        Field("paid", "you pay", figure(tier.paid if tier else None), entries.number("It"), money),
        Field("charged", "customer pays", figure(tier.charged if tier else None),
              entries.optional(entries.number("It")), f"{money}; empty is what you pay"),
    ]  # fmt: skip


def _set_parcel(studio: Studio, values: Any, at: int | None) -> Studio:
    return edits.put_parcel(studio, ShippingTier(**values), at)


def _task(studio: Studio, at: int | None) -> list[Field]:
    task = studio.trade.times.tasks[at] if at is not None else None
    return [
        Field("name", "what", task.name if task else "", entries.text("The task"),
              "such as blocking"),
        Field("minutes", "minutes", figure(task.minutes if task else None),
              entries.number("It"), "for a piece, whatever its size"),
    ]  # fmt: skip


def _set_task(studio: Studio, values: Any, at: int | None) -> Studio:
    return edits.put_task(studio, Task(**values), at)


def _times(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    times = studio.trade.times
    return [
        Field("stitches_per_min", "stitches in a minute", figure(times.stitches_per_min),
              entries.number("It", above=True), "rough, until your own minutes are noted"),
        Field("min_per_strand", "a strand of fringe", figure(times.min_per_strand),
              entries.number("It"), "minutes to cut and knot one"),
    ]  # fmt: skip


def _set_times(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_times(studio, **values)


def _staples(studio: Studio, at: int | None) -> list[Field]:  # noqa: ARG001
    rules, money = studio.trade.staples, studio.settings.currency
    return [
        Field("order_cost", "an order costs", figure(rules.order_cost), entries.number("It"),
              f"{money} beside its shipping: your time, what the bank takes"),
        Field("holding", "keeping for a year", percent_entry(rules.holding),
              entries.share("Keeping", "99.9"), "percent of a ball's price"),
        Field("service", "the shelf lasts", percent_entry(rules.service),
              entries.share("The chance", "99.99"), "percent of times until the parcel comes"),
    ]  # fmt: skip


def _set_staples(studio: Studio, values: Any, at: int | None) -> Studio:  # noqa: ARG001
    return edits.set_staples(studio, StapleRules(**values))


FORMS: Final[Mapping[Part, tuple[Fields, Edit, str]]] = {
    Part.LEAVE: (_leave, _set_leave, "A price covers material, fees, overhead and your hours; the "
                 "margin is what is left beyond them."),
    Part.FEES: (_fees, _set_fees, "Each on the base that it is really taken of."),
    Part.TAX: (_tax, _set_leave, "Charged only where you are registered for it."),
    Part.SHOWN: (_shown, _set_shown, ""),
    Part.WEEK: (_week, _set_week, ""),
    Part.OFF: (_off, _set_off, "No handwork is planned on these days."),
    Part.AROUND: (_around, _set_around, ""),
    Part.PACKING: (_packing, _set_packing, ""),
    Part.PARCEL: (_parcel, _set_parcel, "The smallest parcel that holds the piece is counted."),
    Part.TASK: (_task, _set_task, ""),
    Part.STAPLES: (_staples, _set_staples, "How much is ordered at once, and when."),
    Part.TIMES: (_times, _set_times, "Used until minutes are noted for the yarn, stitch and hook."),
}  # fmt: skip
