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
from studio.core.enquiry import Answer, Ground
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
from studio.core.hours import Hours, hours_of
from studio.core.model import ShadeRef, Stage, Studio
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
    )
    shade = next(s for s in answer.plan.shades if s.shade == ref)
    return why_cost(cost, share, shade, studio)


def why_material(answer: Answer, studio: Studio) -> tuple[Step, ...]:
    """Material shade by shade, then notions; used and cash stand one after the other."""
    cost, currency = answer.plan.cost, studio.settings.currency

    def money(amount: Decimal | None) -> str:
        return "not known" if amount is None else say.money(amount, currency)

    steps = [
        Step(f"{shade_name(studio, s.shade)}, used", money(s.used_cost)) for s in answer.plan.shades
    ]
    if cost.notions:
        steps.append(Step("Notions", money(cost.notions)))
    steps.append(Step("Used", money(cost.used)))
    steps += [
        Step(f"{shade_name(studio, s.shade)}, {say.balls(s.buy_balls)} to buy", money(s.cash_cost))
        for s in answer.plan.shades
        if s.buy_g > 0
    ]
    if cost.notions:
        steps.append(Step("Notions", money(cost.notions)))
    return (*steps, Step("To lay out", money(cost.cash)))


def why_hours(found: Hours) -> tuple[Step, ...]:
    """The time step by step."""
    steps = [Step(f"{n.what}: {n.how}", f"{say.number(n.total_min)} min") for n in found.lines]
    if found.rough:
        steps.append(Step("Rough: no minutes are noted for this yarn, stitch and hook yet."))
    return (*steps, Step("Time for the whole piece", hours(found.total_min)))


def why_line(answer: Answer, ground: Ground, line: PriceLine) -> tuple[Step, ...]:
    """The sum behind one line of the price sheet."""
    if line.kind in (LineKind.YARN, LineKind.NOTIONS):
        return why_material(answer, ground.studio)
    priced = answer.price
    assert priced is not None
    currency = priced.sheet.case.currency
    amount = say.money(abs(line.amount), currency)
    if line.kind is LineKind.HOURS:
        return (*why_hours(priced.hours), Step(line.how, amount))
    if line.kind is LineKind.PRICE:
        return why_price(priced)
    if line.kind in (LineKind.SHIPPING, LineKind.SHIPPING_CHARGED):
        parcel = priced.parcel
        weight = say.weight(parcel.weight_g, ground.studio.settings.weight_unit)
        tier = f"fits '{parcel.tier.name}'" if parcel.tier else parcel.why
        return (Step("Weight with packing", weight), Step(f"It {tier}", amount))
    if line.kind is LineKind.OVERHEAD:
        return _overhead(ground.studio, priced, amount)
    return (Step(f"{line.label}: {line.how}" if line.how else line.label, amount),)


def _overhead(studio: Studio, priced: Priced, amount: str) -> tuple[Step, ...]:
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


def _deposit(priced: Priced) -> tuple[Step, ...]:
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


def _pay(priced: Priced) -> tuple[Step, ...]:
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
        Step("Ready, if booked as it is asked", say.date(answer.laid.ready)),
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


def _job(answer: Answer, ground: Ground) -> Job:
    project, plan, studio = answer.project, answer.plan, ground.studio
    found = hours_of(project, plan.size, plan.ends, studio)
    return job_of(project, plan, found, studio, ground.today)


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
    "used": lambda a, g: why_material(a, g.studio),
    "cash": lambda a, g: why_material(a, g.studio),
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
    "deposit": _deposit,
    "margin": why_margin,
    "pay": _pay,
}
