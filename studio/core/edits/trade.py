"""Edits of her trade: prices, fees, hours, days off, parcels, tasks and times."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from studio.core import say
from studio.core.edits.library import set_settings
from studio.core.edits.places import counted, refuse
from studio.core.model import Settings, Studio
from studio.core.money import rounded
from studio.core.trade_model import (
    DayOff,
    PriceRules,
    ShippingTier,
    StapleRules,
    Task,
    Times,
    Trade,
    WorkHours,
)

_NOUGHT = Decimal(0)
_DAY_MIN = 24 * 60
_LONGEST_DAYS = 1000
"""Transit, drying and lead times, or the days of a quote, beyond this are a slip of the finger."""

_LEAST_SERVICE = Decimal("0.5")

Thing = TypeVar("Thing")


def set_prices(
    studio: Studio,
    *,
    rate_per_hour: Decimal | None = None,
    tax_registered: bool | None = None,
    **changes: Any,
) -> Studio:
    """Change how a price is found; refused where no price could ever be enough.

    The rate and the registration stand in the studio's settings and are changed with it.
    """
    settings: dict[str, Any] = {}
    if rate_per_hour is not None:
        settings["rate_per_hour"] = rate_per_hour
    if tax_registered is not None:
        settings["tax_registered"] = tax_registered
    after = set_settings(studio, **settings) if settings else studio
    rules = replace(studio.trade.prices, **changes)
    _check_prices(rules, after.settings)
    if rules == studio.trade.prices:
        return after
    return _with(after, prices=rules)


def set_hours(studio: Studio, weekday_min: Sequence[int], daily_limit_min: int) -> Studio:
    """Change the hours of each weekday from Monday, and the most in a day."""
    if len(weekday_min) != len(WorkHours().weekday_min):
        raise TypeError("a week has seven days")
    for minutes in (*weekday_min, daily_limit_min):
        if not 0 <= minutes <= _DAY_MIN:
            refuse(f"{minutes / 60:g} hours do not fit in a day: 0 to 24 are allowed.")
    if not any(min(minutes, daily_limit_min) for minutes in weekday_min):
        refuse(
            "A week without an hour of handwork gives nothing a date: at least one day needs "
            "hours, and the daily limit must be more than 0."
        )
    days: Any = tuple(weekday_min)
    hours = replace(studio.trade.hours, weekday_min=days, daily_limit_min=daily_limit_min)
    return _with(studio, hours=hours)


def put_day_off(studio: Studio, new: DayOff, at: int | None = None) -> Studio:
    """Add days without handwork, or change those at this place; kept in the order of their days."""
    if new.last < new.first:
        refuse(f"The last day off, {new.last}, is before the first, {new.first}.")
    found = _put(studio.trade.hours.days_off, new, at, "days off", _first_day)
    return _with(studio, hours=replace(studio.trade.hours, days_off=found))


def _first_day(off: DayOff) -> date:
    return off.first


def remove_day_off(studio: Studio, at: int) -> Studio:
    """Work on these days again."""
    found = _without(studio.trade.hours.days_off, at, "days off")
    return _with(studio, hours=replace(studio.trade.hours, days_off=found))


def put_parcel(studio: Studio, new: ShippingTier, at: int | None = None) -> Studio:
    """Add a parcel, or change the one at this place; kept from light to heavy."""
    _check_name(new.name, "A parcel")
    if not (new.up_to_g.is_finite() and new.up_to_g > 0):
        refuse(f"A parcel up to {new.up_to_g} g holds nothing: it must be more than 0 g.")
    _check_money(new.paid, "What you pay for the parcel", studio.settings)
    if new.charged is not None:
        _check_money(new.charged, "What the customer is charged", studio.settings)
    for place, other in enumerate(studio.trade.shipping):
        if place != at and other.up_to_g == new.up_to_g:
            refuse(f"'{other.name}' is a parcel up to {other.up_to_g:f} g already; change that.")
    found = _put(studio.trade.shipping, new, at, "parcel", lambda tier: tier.up_to_g)
    return _with(studio, shipping=found)


def remove_parcel(studio: Studio, at: int) -> Studio:
    """Send nothing in this parcel any more."""
    return _with(studio, shipping=_without(studio.trade.shipping, at, "parcel"))


def put_task(studio: Studio, new: Task, at: int | None = None) -> Studio:
    """Add work that every piece asks once, or change the task at this place."""
    _check_name(new.name, "A task")
    if not (new.minutes.is_finite() and new.minutes >= 0):
        refuse(f"{new.name} takes {new.minutes} minutes: it must be 0 or more.")
    tasks = studio.trade.times.tasks
    for place, other in enumerate(tasks):
        if place != at and other.name.casefold() == new.name.casefold():
            refuse(f"There is a task '{other.name}' already; change that.")
    found = _put(tasks, new, at, "task", None)
    return _with(studio, times=replace(studio.trade.times, tasks=found))


def remove_task(studio: Studio, at: int) -> Studio:
    """Count this work no more."""
    found = _without(studio.trade.times.tasks, at, "task")
    return _with(studio, times=replace(studio.trade.times, tasks=found))


def set_times(studio: Studio, stitches_per_min: Decimal, min_per_strand: Decimal) -> Studio:
    """Change the minutes that no evidence of hers has replaced yet."""
    if not (stitches_per_min.is_finite() and stitches_per_min > 0):
        refuse(f"{stitches_per_min} stitches a minute make no piece: it must be more than 0.")
    if not (min_per_strand.is_finite() and min_per_strand >= 0):
        refuse(f"A strand of fringe takes {min_per_strand} minutes: it must be 0 or more.")
    times: Times = replace(
        studio.trade.times, stitches_per_min=stitches_per_min, min_per_strand=min_per_strand
    )
    return _with(studio, times=times)


def set_days(studio: Studio, *, transit_days: int, drying_days: int, lead_days: int) -> Studio:
    """Change how long things take beside the handwork."""
    for words, days in (
        ("To the customer", transit_days),
        ("Drying", drying_days),
        ("Yarn from its order", lead_days),
    ):
        if not 0 <= days <= _LONGEST_DAYS:
            refuse(f"{words} takes {counted(days, 'day')}: 0 to {_LONGEST_DAYS:,} are allowed.")
    return _with(studio, transit_days=transit_days, drying_days=drying_days, lead_days=lead_days)


def set_packing(studio: Studio, packing_g: Decimal) -> Studio:
    """Change what the packing of a parcel weighs."""
    if not (packing_g.is_finite() and packing_g >= 0):
        refuse(f"Packing weighs {packing_g} g: it must be 0 or more.")
    return _with(studio, packing_g=packing_g)


def set_staples(studio: Studio, rules: StapleRules) -> Studio:
    """Change what decides how much of a shade that is always kept is ordered, and when."""
    _check_money(rules.order_cost, "What an order costs", studio.settings)
    if not (rules.holding.is_finite() and 0 <= rules.holding < 1):
        refuse("Keeping a ball for a year costs a part of its price: 0 % to under 100 %.")
    if not _LEAST_SERVICE <= rules.service < 1:
        refuse(
            f"That the shelf lasts in {say.percent(rules.service)} of cases makes no sense: 50 % "
            "to under 100 % is allowed."
        )
    return _with(studio, staples=rules)


def _with(studio: Studio, **changes: Any) -> Studio:
    """The studio with its trade changed; the same studio where nothing was."""
    trade: Trade = replace(studio.trade, **changes)
    return studio if trade == studio.trade else replace(studio, trade=trade)


def _put(
    have: tuple[Thing, ...],
    new: Thing,
    at: int | None,
    what: str,
    order: Callable[[Thing], Any] | None,
) -> tuple[Thing, ...]:
    if at is None:
        found = [*have, new]
    else:
        _check_place(have, at, what)
        found = [*have[:at], new, *have[at + 1 :]]
    return tuple(sorted(found, key=order) if order is not None else found)


def _without(have: tuple[Thing, ...], at: int, what: str) -> tuple[Thing, ...]:
    _check_place(have, at, what)
    return (*have[:at], *have[at + 1 :])


def _check_place(have: Sequence[object], at: int, what: str) -> None:
    if not 0 <= at < len(have):
        refuse(f"There is no such {what} any more.")


def _check_name(name: str, what: str) -> None:
    if not name.strip():
        refuse(f"{what} needs a name.")


def _check_money(amount: Decimal, what: str, settings: Settings) -> None:
    currency = settings.currency
    if not (amount.is_finite() and amount >= 0):
        refuse(f"{what} is {amount}: it must be 0 or more.")
    if amount != rounded(amount, currency):
        refuse(f"{what} is {amount}: {currency} is not paid in so small parts.")


def _check_prices(rules: PriceRules, settings: Settings) -> None:
    """Refuse rules from which no price can be made, by trying to price a piece that costs 1."""
    from studio.core.pricing import Aim, PriceCase, PriceError, price_for

    _check_money(rules.fees.fixed, "The fixed fee", settings)
    for field in fields(rules.fees):
        if not getattr(rules.fees, field.name).is_finite():
            refuse("A fee is a share of the price, or an amount.")
    amounts = {
        "The margin": rules.margin,
        "The overhead for a piece": rules.overhead,
        "The overhead for an hour": rules.overhead_per_hour,
        "The floor for an hour": rules.floor_per_hour,
        "The rule for a square metre": rules.per_area or _NOUGHT,
    }
    for name, amount in amounts.items():
        if not (amount.is_finite() and amount >= 0):
            refuse(f"{name} is {amount}: it must be 0 or more.")
    if not 0 <= rules.valid_days <= _LONGEST_DAYS:
        refuse(
            f"A quote cannot hold for {counted(rules.valid_days, 'day')}: 0 to {_LONGEST_DAYS:,} "
            "are allowed."
        )
    if not (rules.tax_rate.is_finite() and 0 <= rules.tax_rate < 1):
        # Also where she charges none yet: no file could hold it.
        refuse(f"The tax rate is {rules.tax_rate}: it is a share of the price, 0 to under 1.")
    probe = PriceCase(
        currency=settings.currency,
        yarn=Decimal(1),
        minutes=_NOUGHT,
        rate=settings.rate_per_hour,
        fees=rules.fees,
        tax_rate=rules.tax_rate if settings.tax_registered else _NOUGHT,
        tax_inclusive=rules.tax_inclusive,
        ending=rules.ending,
        deposit_share=rules.deposit_share,
    )
    try:
        price_for(probe, Aim(margin=rules.margin))
    except PriceError as error:
        refuse(error.text)
