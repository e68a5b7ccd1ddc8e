"""The last day on which yarn may come, laid backward by hand over a week of three-hour days."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core.calendar import NoHoursError
from studio.core.model import Method, Project, Stage, Stripe, Studio
from studio.core.need_by import BACK, need_by
from studio.core.reconcile import reconcile
from studio.core.trade_model import DayOff, Times, Trade, WorkHours
from tests.core import small

MONDAY = date(2027, 1, 4)
"""Today; hours of handwork are three on each weekday, none on Saturday and Sunday."""


def piece(
    key: str, hours: int, due: date | None, stage: Stage = Stage.BOOKED, **more: object
) -> Project:
    """A piece of so many hours of crochet and nothing else."""
    stripes = (Stripe("A", 4, grams=Decimal(80)),)
    made = small.piece(
        key, "A4", stage, stripes=stripes, method=Method.BY_HAND, minutes=Decimal(hours * 60)
    )
    return replace(made, due=due, **more)  # type: ignore[arg-type]


def last_days(*pieces: Project, more: tuple[str, ...] = (), **trade: object) -> dict[str, date]:
    rules = Trade(times=Times(tasks=()), transit_days=0, drying_days=0)
    studio: Studio = replace(small.studio(*pieces), trade=replace(rules, **trade))  # type: ignore[arg-type]
    assumed = replace(studio.settings.assumed, min_per_end=Decimal(0))
    studio = replace(studio, settings=replace(studio.settings, assumed=assumed))
    return dict(need_by(studio, reconcile(studio).plan.projects, MONDAY, more))


def test_it_is_the_day_before_the_latest_start() -> None:
    # Six hours are two days: Thursday 14 and Friday 15 January. Yarn may come on Wednesday 13.
    assert last_days(piece("ash", 6, date(2027, 1, 15))) == {"ash": date(2027, 1, 13)}


def test_a_weekend_and_days_off_are_stepped_over() -> None:
    # Nine hours until Monday 18: Monday, Friday 15 and Thursday 14; off on Thursday, Wednesday 13.
    made = piece("ash", 9, date(2027, 1, 18))
    assert last_days(made) == {"ash": date(2027, 1, 13)}
    off = (DayOff(date(2027, 1, 14), date(2027, 1, 14)),)
    assert last_days(made, hours=WorkHours(days_off=off)) == {"ash": date(2027, 1, 12)}


def test_pieces_due_on_one_day_are_laid_one_before_the_other() -> None:
    # Both are due on Friday 15: one is worked on Thursday and Friday, the other on Tuesday and
    # Wednesday.
    two = (piece("ash", 6, date(2027, 1, 15)), piece("birch", 6, date(2027, 1, 15)))
    assert sorted(last_days(*two).values()) == [date(2027, 1, 11), date(2027, 1, 13)]


def test_transit_and_drying_come_off_the_due_date() -> None:
    # Two days of drying and three of the post: the work ends on Sunday 10, so on Friday 8.
    made = piece("ash", 3, date(2027, 1, 15), customer="Ilva")
    assert last_days(made, transit_days=3, drying_days=2) == {"ash": date(2027, 1, 7)}


def test_a_day_in_the_past_says_that_it_is_late() -> None:
    # Thirty hours are ten days: from Monday 21 December until Friday 1 January.
    assert last_days(piece("ash", 30, date(2027, 1, 1))) == {"ash": date(2026, 12, 20)}
    # What would have begun more than a year ago is told as a year ago.
    long = last_days(piece("ash", 5000, date(2027, 1, 15)))["ash"]
    assert long < MONDAY - BACK + (BACK / 100)


def test_quotes_count_only_where_asked_for_and_undated_pieces_never() -> None:
    pieces = (
        piece("ash", 3, date(2027, 1, 15), Stage.QUOTED),
        piece("birch", 3, None),
    )
    assert last_days(*pieces) == {}
    assert last_days(*pieces, more=("ash",)) == {"ash": date(2027, 1, 14)}


def test_a_week_without_hours_is_refused() -> None:
    with pytest.raises(NoHoursError):
        last_days(
            piece("ash", 3, date(2027, 1, 15)), hours=WorkHours(weekday_min=(0, 0, 0, 0, 0, 0, 0))
        )
