"""What the calendar is asked beside the plan: an order set by hand, more hours, and cautions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date

from studio.core import say
from studio.core.answers import Finding, Weight
from studio.core.calendar import Job, Schedule
from studio.core.frozen import dataclass
from studio.core.money import share_units
from studio.core.trade_model import WorkHours


@dataclass(frozen=True, slots=True)
class OrderCost:
    """What a hand-set order costs against working by due date, in days of lateness."""

    greatest_more: int
    total_more: int
    pieces: tuple[tuple[str, int], ...]
    """Pieces done on another day: days later, below nought earlier."""


def cost_of_order(by_hand: Schedule, by_due: Schedule) -> OrderCost:
    """Compare two schedules of the same jobs."""
    before = by_due.by_key
    moved = tuple(
        (n.key, (n.ready - before[n.key].ready).days)
        for n in by_hand.laid
        if n.ready != before[n.key].ready
    )
    greatest = (by_hand.greatest_late_days or 0) - (by_due.greatest_late_days or 0)
    return OrderCost(greatest, by_hand.total_late_days - by_due.total_late_days, moved)


def with_more(hours: WorkHours, minutes: int) -> WorkHours | None:
    """The week with so many more minutes, spread evenly over the days that have room for them.

    Days of work below the daily limit share them; None where the limit leaves no room.
    """
    room = [max(0, hours.daily_limit_min - m) if m else 0 for m in hours.weekday_min]
    if sum(room) < minutes:
        return None
    week = list(hours.weekday_min)
    left = minutes
    while left:
        open_days = [i for i, r in enumerate(room) if r]
        for i, more in zip(open_days, share_units(left, [1] * len(open_days)), strict=True):
            given = min(more, room[i])
            week[i] += given
            room[i] -= given
            left -= given
    a, b, c, d, e, f, g = week
    return replace(hours, weekday_min=(a, b, c, d, e, f, g))


def hours_findings(hours: WorkHours, jobs: Iterable[Job], today: date) -> tuple[Finding, ...]:
    """Cautions on the hours and dates themselves: too much in a day, a due date in the past."""
    found = []
    limit = hours.daily_limit_min
    names = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
    over = [name for name, m in zip(names, hours.weekday_min, strict=True) if m > limit]
    if over:
        found.append(
            Finding(
                "over-daily-limit",
                Weight.CAUTION,
                f"{say.either(over, 'and')} have more handwork than the daily limit of "
                f"{say.number(limit / 60, 1)} h; the plan counts the limit. Rest the hands, or "
                "raise the limit.",
            )
        )
    found += [
        Finding(
            "due-in-past",
            Weight.STOP,
            f"It was due on {say.date(job.due)}, which is past. Agree another date.",
            job.key,
        )
        for job in jobs
        if job.due is not None and job.due < today
    ]
    return tuple(found)
