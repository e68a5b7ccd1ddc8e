"""The sum behind each figure of an enquiry, as steps that end in the figure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Final

from studio.core import say
from studio.core.answers import RunRef
from studio.core.calendar import Job, schedule, weeks
from studio.core.costing import shade_cost
from studio.core.enquiry import Answer, Ground, booked_for
from studio.core.enquiry_say import (
    RunGroup,
    buy_words,
    competes_words,
    findings_of,
    hours,
    hours_words,
    late_words,
    shade_name,
    slack_words,
    week_words,
)
from studio.core.hours import hours_of
from studio.core.model import ShadeRef, Stage, Studio
from studio.core.price_sheet import Priced
from studio.core.price_why import (
    overhead_steps,
    shipping_steps,
    tax_steps,
    why_deposit,
    why_hours,
    why_margin,
    why_pay,
    why_price,
    why_total,
    without_tax,
)
from studio.core.pricing import LineKind, PriceLine
from studio.core.reasons import Step, run_words, why_cost, why_need, why_size
from studio.core.workload import after_days, job_of

_NOUGHT = Decimal(0)


def why(answer: Answer, ground: Ground, code: str) -> tuple[Step, ...]:
    """The sum of a fact by its code."""
    if code in _OF_ANSWER:
        return _OF_ANSWER[code](answer, ground)
    if answer.price is None:
        return (Step(answer.no_price),)
    return _OF_PRICE[code](answer.price)


def why_run(answer: Answer, ground: Ground, run: RunRef) -> tuple[Step, ...]:
    """The planned need of a run, and the lot that works it."""
    demand = next(r for r in answer.demand.runs if r.ref == run)
    plan = next(r for r in answer.plan.runs if r.ref == run)
    place = f"lot {plan.lot}" if plan.lot else "a new lot, bought for it"
    steps = why_need(demand, answer.project, ground.studio)
    return (*steps, Step(f"It is {plan.cover.value}", place))


def why_shade(answer: Answer, ground: Ground, ref: ShadeRef) -> tuple[Step, ...]:
    """What a shade costs the piece, at what a quote counts."""
    studio = ground.studio
    outcome = answer.kept.outcomes.get(ref)
    share = outcome.share(answer.project.key) if outcome else None
    runs = answer.kept.worked[answer.project.key].by_shade[ref]
    cost = shade_cost(
        replace(answer.project, stage=Stage.QUOTED),
        ref,
        runs,
        outcome.lot_of if outcome else {},
        share,
        studio.library,
        studio.stash,
        studio.settings,
        answer.demand.covered,
    )
    shade = next(s for s in answer.plan.shades if s.shade == ref)
    return why_cost(cost, share, shade, studio)


def why_used(answer: Answer, studio: Studio) -> tuple[Step, ...]:
    """Material used, shade by shade, then notions."""
    cost, currency = answer.plan.cost, studio.settings.currency
    return (
        *_yarn_used(answer, studio),
        *_notions(answer, currency),
        Step("Material used", _money(cost.used, currency)),
    )


def why_cash(answer: Answer, studio: Studio) -> tuple[Step, ...]:
    """What must be laid out: its share of each shade to buy, then notions."""
    cost, currency = answer.plan.cost, studio.settings.currency
    bought = [
        Step(
            f"{shade_name(studio, s.shade)}, {say.balls(s.buy_balls)} to buy",
            _money(s.cash_cost, currency),
        )
        for s in answer.plan.shades
        if s.buy_g > 0
    ]
    steps = bought or [Step("No yarn is to be bought for it", _money(_NOUGHT, currency))]
    return (*steps, *_notions(answer, currency), Step("To lay out", _money(cost.cash, currency)))


def _yarn_used(answer: Answer, studio: Studio) -> tuple[Step, ...]:
    currency = studio.settings.currency
    return tuple(
        Step(
            f"{shade_name(studio, s.shade)}, used",
            _money(s.used_cost, currency),
        )
        for s in answer.plan.shades
    )


def _notions(answer: Answer, currency: str) -> tuple[Step, ...]:
    return tuple(Step(n.name, _money(n.cost, currency)) for n in answer.project.notions)


def _money(amount: Decimal | None, currency: str) -> str:
    return "not known" if amount is None else say.money(amount, currency)


def why_line(answer: Answer, ground: Ground, line: PriceLine) -> tuple[Step, ...]:
    """The sum behind one line of the price sheet, which ends in its amount."""
    priced, studio = answer.price, ground.studio
    assert priced is not None
    currency = priced.sheet.case.currency
    amount = say.money(abs(line.amount), currency)
    match line.kind:
        case LineKind.YARN:
            return (*_yarn_used(answer, studio), Step("Yarn used", amount))
        case LineKind.NOTIONS:
            return (*_notions(answer, currency), Step("Notions", amount))
        case LineKind.HOURS:
            return (*why_hours(priced.hours), Step(line.how, amount))
        case LineKind.PRICE:
            return (*why_price(priced), *without_tax(priced, line.amount))
        case LineKind.TAX:
            return tax_steps(priced, line, amount)
        case LineKind.SHIPPING | LineKind.SHIPPING_CHARGED:
            return shipping_steps(priced, line, studio, amount)
        case LineKind.OVERHEAD:
            return overhead_steps(studio, priced, amount)
        case _:
            return (Step(f"{line.label}: {line.how}" if line.how else line.label, amount),)


def _yarn(answer: Answer, studio: Studio) -> tuple[Step, ...]:
    unit = studio.settings.weight_unit
    steps = [
        Step(
            f"{shade_name(studio, s.shade)}: needs {say.weight(s.need_g, unit)}, "
            f"stash {say.weight(s.stash_g, unit)}, on order "
            f"{say.weight(s.order_g + s.late_g, unit)}",
            f"buy {say.weight(s.buy_g, unit)}" if s.buy_g else "",
        )
        for s in answer.plan.shades
    ]
    return (*steps, Step("To buy, in new lots", buy_words(answer)))


def _dates(answer: Answer, ground: Ground) -> tuple[Step, ...]:
    """From hours and arrivals to the days."""
    project, studio = answer.project, ground.studio
    job = _job(answer, ground)
    days = after_days(project, studio)
    steps = [
        Step("The week", hours_words(studio.trade.hours)),
        Step("Work in it", hours(job.total_min)),
    ]
    steps += [
        Step(f"Of that waiting for yarn until {say.date(day)}", hours(minutes))
        for day, minutes in job.later
    ]
    steps += [
        Step("Done, worked by due date among all booked pieces", say.date(answer.laid.done_by)),
        Step("Drying and transit after the work", say.count(days, "day")),
        Step(f"Ready, if booked {_for_day(answer)}", say.date(answer.laid.ready)),
    ]
    if project.due is not None:
        asked = f"Against {say.date(project.due)}, the day asked"
        steps.append(Step(asked, slack_words(answer.laid.late_days)))
    steps.append(
        Step(
            "The earliest day that makes no booked piece later than its due date, or than it is "
            "now",
            say.date(answer.promise.ready),
        )
    )
    return tuple(steps)


def _for_day(answer: Answer) -> str:
    """For which day it is booked."""
    if answer.project.due is not None:
        return "as it is asked"
    return f"for {say.date(answer.promise.ready)}, the earliest promise, as no day is asked"


def _job(answer: Answer, ground: Ground) -> Job:
    project, plan, studio = answer.project, answer.plan, ground.studio
    found = hours_of(project, plan.size, plan.ends, studio)
    return booked_for(job_of(project, plan, found, studio, ground.today), answer.promise)


def why_week(answer: Answer, ground: Ground, monday: date) -> tuple[Step, ...]:
    """Who works in a week, the tried piece among them."""
    studio = ground.studio
    jobs = (*ground.jobs, _job(answer, ground))
    both = schedule(jobs, ground.axis, studio.trade.hand_order)
    week = next((w for w in weeks(both, ground.axis) if w.monday == monday), None)
    if week is None:
        return (Step("Nothing is worked in this week."),)
    names = {p.key: p.name for p in (*studio.projects, answer.project)}
    steps = [Step(names[key], hours(minutes)) for key, minutes in week.by_piece]
    return (*steps, Step(f"Of {hours(week.there_min)} there are", hours(week.taken_min)))


def _competes(answer: Answer, ground: Ground) -> tuple[Step, ...]:
    found = tuple(Step(competes_words(c, ground.studio)) for c in answer.competes)
    return found or (Step("No quote or idea has to buy more because of it."),)


def _weeks(answer: Answer, ground: Ground) -> tuple[Step, ...]:  # noqa: ARG001
    found = tuple(
        Step(f"Week of {say.date(w.monday)}: {week_words(w)}", hours(w.added_min))
        for w in answer.weeks
        if w.added_min
    )
    return found or (Step("No week is fuller because of it."),)


def _late(answer: Answer, ground: Ground) -> tuple[Step, ...]:
    made = tuple(Step(late_words(n, ground.studio)) for n in answer.made_late)
    return made or (Step("No booked piece is later than it may be."),)


def _findings(answer: Answer, ground: Ground) -> tuple[Step, ...]:  # noqa: ARG001
    found = tuple(Step(f"{f.weight.value}: {f.text}") for f in findings_of(answer))
    return found or (Step("Nothing speaks against it."),)


def why_group(answer: Answer, ground: Ground, group: RunGroup) -> tuple[Step, ...]:
    """The need of runs that one lot works: of a single run in full, else run by run."""
    if len(group.runs) == 1:
        return why_run(answer, ground, group.runs[0].ref)
    unit = ground.studio.settings.weight_unit
    demands = {r.ref: r for r in answer.demand.runs}
    steps = [Step(run_words(demands[r.ref]), say.weight(r.need_g, unit)) for r in group.runs]
    return (*steps, Step("Planned need together", say.weight(group.need_g, unit)))


_OF_ANSWER: Final[Mapping[str, Callable[[Answer, Ground], tuple[Step, ...]]]] = {
    "size": lambda a, g: why_size(a.demand, a.project, g.studio),
    "stash": lambda a, g: _yarn(a, g.studio),
    "buy": lambda a, g: _yarn(a, g.studio),
    "competes": _competes,
    "used": lambda a, g: why_used(a, g.studio),
    "cash": lambda a, g: why_cash(a, g.studio),
    "promise": _dates,
    "ready": _dates,
    "slack": _dates,
    "weeks": _weeks,
    "late": _late,
    "findings": _findings,
}

_OF_PRICE: Final[Mapping[str, Callable[[Priced], tuple[Step, ...]]]] = {
    "hours": lambda p: why_hours(p.hours),
    "price": why_price,
    "total": why_total,
    "deposit": why_deposit,
    "margin": why_margin,
    "pay": why_pay,
}
