"""Booked work laid over her hours: done-by, lateness, utilisation, latest starts, promise dates.

Time runs in whole minutes of handwork: `Axis` counts them from the first day on and turns them
into dates, so that days off vanish from the sums and come back in the answers. At each minute the
available piece with the earliest end of work is worked, and a piece may be interrupted when yarn
arrives for a more urgent one. That makes the greatest lateness as small as it can be (Jackson's
rule with interruption; the argument holds for any hours, since only the order of dates counts).
"""

from __future__ import annotations

import heapq
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.trade_model import WorkHours
from studio.errors import StudioError

DAY = timedelta(days=1)

MOST_DAYS = 366 * 60
"""No plan reaches further; a year of days off then says so instead of being counted for ever."""

_GROW = 256


class NoHoursError(StudioError):
    """A week without handwork: nothing can ever be done."""

    title = "No hours to work in"


@dataclass(frozen=True, slots=True)
class Job:
    """One piece's work: minutes left, the first day it can be worked, and when it is handed over.

    `after_days` is drying and transit between the end of work and the hand-over. `due` None is
    work without a date, which comes after all that has one. `later` are further minutes that wait
    for yarn, each with the first day they can be worked.
    """

    key: str
    minutes: int
    due: date | None = None
    release: date | None = None
    after_days: int = 0
    later: tuple[tuple[date, int], ...] = ()

    @property
    def total_min(self) -> int:
        """All minutes left, those that wait included."""
        return self.minutes + sum(m for _, m in self.later)

    @property
    def last_release(self) -> date | None:
        """The day from which all of it can be worked; None where that is now."""
        days = [day for day, _ in self.later]
        return max([*days, self.release] if self.release else days, default=None)

    @property
    def end_of_work(self) -> date:
        """The last day on which it may be worked and still be handed over in time."""
        return date.max if self.due is None else self.due - timedelta(days=self.after_days)


def day_minutes(hours: WorkHours, day: date) -> int:
    """Minutes of handwork planned on a day: never more than the daily limit."""
    if any(off.first <= day <= off.last for off in hours.days_off):
        return 0
    return min(hours.weekday_min[day.weekday()], hours.daily_limit_min)


class Axis:
    """Minutes of handwork counted from the start of a day on; grows as far as it is asked."""

    def __init__(self, hours: WorkHours, start: date) -> None:
        limit = hours.daily_limit_min
        if any(m < 0 or m > 24 * 60 for m in hours.weekday_min) or limit < 0:
            raise NoHoursError("The minutes of a day are 0 to 1,440; correct the weekly hours.")
        if not any(min(m, limit) for m in hours.weekday_min):
            raise NoHoursError(
                "There is no hour of handwork in the week, so nothing can be given a date. "
                "State the hours of at least one weekday."
            )
        self.hours = hours
        self.start = start
        self._before = [0]  # minutes before day i, counted from the start
        self._off = {
            off.first + timedelta(days=i)
            for off in hours.days_off
            for i in range(max(0, min((off.last - off.first).days, MOST_DAYS)) + 1)
        }
        self._week = [min(m, limit) for m in hours.weekday_min]

    def _grow(self, days: int) -> None:
        if days > MOST_DAYS:
            raise NoHoursError(
                "The days off leave no hours to finish this in the next sixty years. "
                "Look at the days off."
            )
        before = self._before
        day = self.start + timedelta(days=len(before) - 1)
        for _ in range(max(days + 1 - len(before), _GROW)):
            before.append(before[-1] + (0 if day in self._off else self._week[day.weekday()]))
            day += DAY

    def at(self, day: date) -> int:
        """Minutes before the start of a day; nought for a day before the axis begins."""
        count = (day - self.start).days
        if count <= 0:
            return 0
        if count > MOST_DAYS:
            raise NoHoursError(
                f"{say.date(day)} is more than sixty years off, and no work can be laid there. "
                "Look at the days on which yarn comes."
            )
        if count >= len(self._before):
            self._grow(count)
        return self._before[count]

    def by_end_of(self, day: date) -> int | None:
        """Minutes up to the end of a day; None for one beyond all plans, which never ends."""
        return None if (day - self.start).days >= MOST_DAYS else self.at(day + DAY)

    def day_of_end(self, minute: int) -> date:
        """The day on which work that ends at this minute ends."""
        while self._before[-1] < minute:
            self._grow(len(self._before) + _GROW)
        return self.start + timedelta(days=max(0, bisect_left(self._before, minute) - 1))

    def day_of_start(self, minute: int) -> date:
        """The day on which work that begins at this minute begins."""
        while self._before[-1] <= minute:
            self._grow(len(self._before) + _GROW)
        return self.start + timedelta(days=bisect_right(self._before, minute) - 1)


@dataclass(frozen=True, slots=True)
class Laid:
    """One piece on the calendar. `late_days` counts from the due date, below nought is slack.

    `ready` is the day it can be handed over. `spare_min` is handwork between its end and the end
    of its last day; None without a date. `pieces` are its stretches of minutes on the axis.
    """

    key: str
    begins: date
    done_by: date
    ready: date
    due: date | None
    late_days: int | None
    spare_min: int | None
    pieces: tuple[tuple[int, int], ...]

    @property
    def late(self) -> bool:
        """Whether it is handed over after its due date."""
        return self.late_days is not None and self.late_days > 0


@dataclass(frozen=True, slots=True)
class Week:
    """A week from its Monday: minutes there are, and minutes that are taken."""

    monday: date
    there_min: int
    taken_min: int
    by_piece: tuple[tuple[str, int], ...]

    @property
    def share(self) -> float:
        """Taken over what there is; a week without hours is full."""
        return self.taken_min / self.there_min if self.there_min else 1.0


@dataclass(frozen=True, slots=True)
class LatestStart:
    """When work must begin for it and all due after it to be on time, arrivals ignored.

    `short_min` says by how much the start lies in the past; the day is then today.
    """

    key: str
    day: date | None
    short_min: int = 0


@dataclass(frozen=True, slots=True)
class Schedule:
    """All pieces laid over her hours, in the order in which they are done."""

    laid: tuple[Laid, ...]

    @property
    def by_key(self) -> Mapping[str, Laid]:
        """Laid pieces by project key."""
        return {n.key: n for n in self.laid}

    @property
    def greatest_late_days(self) -> int | None:
        """The greatest lateness; None where nothing has a date."""
        return max((n.late_days for n in self.laid if n.late_days is not None), default=None)

    @property
    def late_count(self) -> int:
        """How many pieces are late."""
        return sum(n.late for n in self.laid)

    @property
    def total_late_days(self) -> int:
        """Days of lateness over all late pieces."""
        return sum(n.late_days for n in self.laid if n.late_days is not None and n.late_days > 0)


Rank = tuple[int, date, str]


def _ranks(jobs: Sequence[Job], order: Sequence[str]) -> dict[str, Rank]:
    """Who is worked first: the hand-set order, then the earliest end of work, then the key."""
    place = {key: at for at, key in enumerate(order)}
    return {j.key: (place.get(j.key, len(place)), j.end_of_work, j.key) for j in jobs}


def _run(
    jobs: Sequence[Job], axis: Axis, ranks: Mapping[str, Rank]
) -> dict[str, list[tuple[int, int]]]:
    """Work the best-ranked available job at each minute; stretches of each job, merged."""
    waiting = sorted(
        (axis.at(day) if day else 0, j.key, minutes)
        for j in jobs
        for day, minutes in ((j.release, j.minutes), *j.later)
        if minutes or not j.total_min
    )
    stretches: dict[str, list[tuple[int, int]]] = {j.key: [] for j in jobs}
    left = dict.fromkeys(stretches, 0)
    ready: list[tuple[Rank, str]] = []
    now, at = 0, 0
    while at < len(waiting) or ready:
        if not ready:
            now = max(now, waiting[at][0])
        while at < len(waiting) and waiting[at][0] <= now:
            _, key, minutes = waiting[at]
            if not left[key]:
                heapq.heappush(ready, (ranks[key], key))
            left[key] += minutes
            at += 1
        key = ready[0][1]
        until = now + left[key]
        if at < len(waiting):
            until = min(until, waiting[at][0])
        runs = stretches[key]
        if runs and runs[-1][1] == now:
            runs[-1] = (runs[-1][0], until)
        elif until > now or not runs:
            runs.append((now, until))
        left[key] -= until - now
        now = until
        while ready and not left[ready[0][1]]:
            heapq.heappop(ready)
    return stretches


def _laid(job: Job, runs: list[tuple[int, int]], axis: Axis) -> Laid:
    first, last = runs[0][0], runs[-1][1]
    begins = axis.day_of_start(first) if job.total_min else axis.day_of_end(first)
    done = max(axis.day_of_end(last), job.last_release or axis.start)
    ready = done + timedelta(days=job.after_days)
    limit = axis.by_end_of(job.end_of_work)
    return Laid(
        key=job.key,
        begins=begins,
        done_by=done,
        ready=ready,
        due=job.due,
        late_days=None if job.due is None else (ready - job.due).days,
        spare_min=None if limit is None else limit - last,
        pieces=tuple(runs),
    )


def _checked(jobs: Iterable[Job]) -> tuple[Job, ...]:
    found = tuple(jobs)
    if len({j.key for j in found}) < len(found):
        raise ValueError("two jobs with one key")
    if any(min(j.minutes, j.after_days, *(m for _, m in j.later)) < 0 for j in found):
        raise ValueError("minutes and days are 0 or more")
    return found


def schedule(jobs: Iterable[Job], axis: Axis, order: Sequence[str] = ()) -> Schedule:
    """Lay the jobs over the axis, by end of work or, where set by hand, in her own order.

    In her order too a piece whose yarn is not there lets the next one go first meanwhile.
    """
    found = _checked(jobs)
    stretches = _run(found, axis, _ranks(found, order))
    laid = [_laid(j, stretches[j.key], axis) for j in found]
    return Schedule(tuple(sorted(laid, key=lambda n: (n.pieces[-1][1], n.key))))


def weeks(done: Schedule, axis: Axis) -> tuple[Week, ...]:
    """Utilisation by week, from the week of the first day to that of the last piece."""
    end = max((n.pieces[-1][1] for n in done.laid), default=0)
    monday = axis.start - timedelta(days=axis.start.weekday())
    stretches = sorted((a, b, n.key) for n in done.laid for a, b in n.pieces if b > a)
    found: list[Week] = []
    at = 0
    while not found or axis.at(monday) < end:
        low, high = axis.at(monday), axis.at(monday + 7 * DAY)
        taken: dict[str, int] = {}
        while at < len(stretches) and stretches[at][0] < high:
            a, b, key = stretches[at]
            taken[key] = taken.get(key, 0) + min(b, high) - max(a, low)
            if b > high:
                break
            at += 1
        found.append(Week(monday, high - low, sum(taken.values()), tuple(taken.items())))
        monday += 7 * DAY
    return tuple(found)


def latest_starts(jobs: Iterable[Job], axis: Axis) -> tuple[LatestStart, ...]:
    """When each piece must be begun at the latest, backward from hand-over, arrivals ignored."""
    found = sorted(_checked(jobs), key=lambda j: (j.end_of_work, j.key), reverse=True)
    free: int | None = None
    starts = []
    for job in found:
        end = axis.by_end_of(job.end_of_work)
        if end is None:
            starts.append(LatestStart(job.key, None))
            continue
        free = (end if free is None else min(end, free)) - job.total_min
        day = axis.start if free < 0 else min(axis.day_of_start(free), job.end_of_work)
        starts.append(LatestStart(job.key, day, max(0, -free)))
    return tuple(reversed(starts))


@dataclass(frozen=True, slots=True)
class Promise:
    """The earliest day a new piece can be handed over, and the day its work ends."""

    ready: date
    done_by: date


def earliest_promise(
    jobs: Iterable[Job], new: Job, axis: Axis, order: Sequence[str] = ()
) -> Promise:
    """The earliest hand-over of a new piece that makes no booked one later than it may be.

    Each booked piece may be as late as the larger of its due date and its present finish; one
    without a date may wait. Working by these dates meets all of them if anything can, so the
    least day for the new piece at which that works is the exact answer; it is found by halving.
    """
    booked = _checked(jobs)
    present = schedule(booked, axis, order).by_key
    allowed = {
        j.key: max(j.end_of_work, present[j.key].done_by) for j in booked if j.due is not None
    }

    def fits(end: date) -> bool:
        ends = {**{j.key: allowed.get(j.key, date.max) for j in booked}, new.key: end}
        ranks = {key: (0, day, key) for key, day in ends.items()}
        runs = _run((*booked, new), axis, ranks)
        return all(
            (limit := axis.by_end_of(day)) is None or runs[key][-1][1] <= limit
            for key, day in ends.items()
        )

    # Behind everything else it fits for certain.
    total = sum(j.total_min for j in (*booked, new))
    releases = [day for j in (*booked, new) if (day := j.last_release)]
    behind = total + max((axis.at(day) for day in releases), default=0)
    low = max(axis.start, new.last_release or axis.start)
    high = max(axis.day_of_end(behind), low)
    while low < high:
        middle = low + timedelta(days=(high - low).days // 2)
        if fits(middle):
            high = middle
        else:
            low = middle + DAY
    return Promise(high + timedelta(days=new.after_days), high)
