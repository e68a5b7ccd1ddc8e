"""The last day on which yarn may come for each piece: the day before its latest start.

Latest starts are laid backward from the hand-over dates over all booked pieces, arrivals ignored.
Yarn can be worked from the day after it comes, as the calendar has it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from studio.core.answers import ProjectPlan
from studio.core.calendar import DAY, Axis, latest_starts
from studio.core.hours import hours_of
from studio.core.model import Studio
from studio.core.workload import job_of

BACK = timedelta(days=366)
"""How far back a latest start that is past is still told to the day."""


def need_by(
    studio: Studio, plans: Mapping[str, ProjectPlan], today: date, more: Iterable[str] = ()
) -> Mapping[str, date]:
    """By project key, for what is booked and for `more` pieces; those without a date are left out.

    A day in the past says that the start is late already. Raises `NoHoursError` where there is no
    hour of handwork in the week.
    """
    wanted = frozenset(more)
    jobs = [
        job_of(project, plan, hours_of(project, plan.size, plan.ends, studio), studio, today)
        for project in studio.projects
        if (project.stage.holds or project.key in wanted)
        and project.due is not None
        and (plan := plans.get(project.key)) is not None
    ]
    axis = Axis(studio.trade.hours, today - BACK)
    return {n.key: n.day - DAY for n in latest_starts(jobs, axis) if n.day is not None}
