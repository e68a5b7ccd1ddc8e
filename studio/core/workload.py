"""The work that a piece still asks of the calendar, and when its yarn lets it be done."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date, timedelta

from studio.core.answers import Cover, ProjectPlan, RunPlan
from studio.core.calendar import DAY, Job
from studio.core.hours import Hours, hours_of
from studio.core.model import Project, Studio


def after_days(project: Project, studio: Studio) -> int:
    """Days between the end of work and the hand-over: drying, and transit where it travels."""
    trade = studio.trade
    travels = bool(project.customer) and not project.collected
    return trade.drying_days + (trade.transit_days if travels else 0)


def yarn_from(run: RunPlan, studio: Studio, today: date) -> date | None:
    """The first day a run's yarn can be worked; None where it is in the house.

    Yarn still to be bought comes after the lead time. What is on order, or overdue, can be worked
    from the day after it comes, since the hour of its coming is not known.
    """
    if run.cover in (Cover.ORDER, Cover.LATE):
        purchase = studio.stash.purchase.get(run.lot or "")
        if purchase is not None:
            return max(purchase.arrives, today) + DAY
    if run.cover is Cover.SHORT:
        return today + timedelta(days=studio.trade.lead_days) + DAY
    return None


def job_of(project: Project, plan: ProjectPlan, hours: Hours, studio: Studio, today: date) -> Job:
    """The piece's minutes left, those behind a run without yarn waiting until it is there.

    Runs are worked in their order; crochet is laid on them by the yarn they use, and ends and
    tasks come last.
    """
    total = math.ceil(hours.left_min)
    crochet = min(total, math.ceil(hours.crochet_left_min))
    left = [r for r in plan.runs if r.cover is not Cover.DONE]
    weight = sum(r.mean_g for r in left)
    waits: list[tuple[date | None, int]] = [(None, 0)]
    behind, given = 0.0, 0
    for run in left:
        comes = yarn_from(run, studio, today)
        held_up = waits[-1][0]
        if comes is not None and (held_up is None or comes > held_up):
            waits.append((comes, 0))
        behind += run.mean_g
        upto = round(crochet * behind / weight) if weight > 0 else crochet
        waits[-1] = (waits[-1][0], waits[-1][1] + upto - given)
        given = upto
    waits[-1] = (waits[-1][0], waits[-1][1] + total - given)
    return Job(
        key=project.key,
        minutes=waits[0][1],
        due=project.due,
        after_days=after_days(project, studio),
        later=tuple((day, minutes) for day, minutes in waits[1:] if day is not None),
    )


def booked_jobs(studio: Studio, plans: Mapping[str, ProjectPlan], today: date) -> tuple[Job, ...]:
    """The work of every piece that is promised or in hand."""
    return tuple(
        job_of(project, plan, hours_of(project, plan.size, plan.ends, studio), studio, today)
        for project in studio.projects
        if project.stage.holds and (plan := plans.get(project.key)) is not None
    )
