"""The sums behind a piece's account: where each figure of grams, time and money comes from."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from studio.core import say
from studio.core.answers import ProjectPlan
from studio.core.closing import Closing, ShadeAccount, agreed_sheet, unworked
from studio.core.closing_say import Part
from studio.core.demand import Demand, demand_of
from studio.core.edits.places import run_list
from studio.core.enquiry_say import hours
from studio.core.evidence import Evidence
from studio.core.hours import hours_of
from studio.core.model import Project, Studio
from studio.core.order_say import why_money
from studio.core.price_sheet import parcel_of
from studio.core.price_why import why_hours
from studio.core.pricing import LineKind, PriceError
from studio.core.reasons import Step, why_size
from studio.core.runs import RunDemand
from studio.core.trade_model import WorkLog
from studio.core.used_say import how_words, lot_words

_NOUGHT = Decimal(0)


def sums(
    closing: Closing,
    project: Project,
    plan: ProjectPlan,
    demand: Demand,
    evidence: Evidence,
    studio: Studio,
) -> tuple[Part, ...]:
    """Every figure of the account in the order in which it stands there."""
    plain = demand_of(unworked(project), studio.library, studio.settings, evidence)
    parts = [
        Part(studio.library.called(s.shade), _shade(s, project, plain.runs, studio), total=False)
        for s in closing.shades
    ]
    parts.append(Part("Size", why_size(demand, project, studio)))
    parts.append(Part("Time", _time(closing, project, plan, studio)))
    parts.append(Part("Agreed and received", why_money(project, closing.currency), total=True))
    parts.append(Part("Costs", _costs(closing, project, plan, demand, studio), total=True))
    parts.append(Part("Pay for an hour", _pay(closing), total=True))
    return tuple(parts)


def _shade(
    account: ShadeAccount, project: Project, runs: Sequence[RunDemand], studio: Studio
) -> tuple[Step, ...]:
    """Planned from the evidence there was without this piece, used from what she noted."""
    unit = studio.settings.weight_unit
    own = [r for r in runs if r.shade == account.shade]
    places = run_list(dict.fromkeys((r.ref.kind, r.ref.index) for r in own))
    steps = []
    use = next((r.use for r in own if r.use is not None), None)
    if use is not None:
        steps.append(Step(f"A body row uses, by {use.rung.value}", say.weight(use.row_g, unit)))
    planned = account.planned_g
    if own:
        words = "not known" if planned is None else say.weight(planned, unit)
        steps.append(Step(f"Planned: {places}, with tails", words))
    for note in project.used:
        if note.shade_ref == account.shade:
            how = how_words(note, studio.settings.currency)
            steps.append(
                Step(f"{lot_words(note.ref, studio)}: {how}", say.weight(note.grams, unit))
            )
    used = say.weight(account.used_g, unit) if account.used_g else "not noted"
    steps.append(Step("Used", used))
    if account.open_g:
        steps.append(Step("Worked out and not noted yet", say.weight(account.open_g, unit)))
    if account.more_g is not None and planned is not None:
        more = say.weight(account.more_g, unit)
        steps.append(Step("More than planned", f"+{more}" if account.more_g > 0 else more))
    return tuple(steps)


def _time(
    closing: Closing, project: Project, plan: ProjectPlan, studio: Studio
) -> tuple[Step, ...]:
    planned = hours_of(unworked(project), plan.size, plan.ends, studio)
    steps = [*why_hours(planned)]
    steps += [Step(f"Logged: {_log_words(n)}", f"{say.number(n.minutes)} min") for n in project.log]
    if closing.logged_min:
        steps.append(Step("Logged in all", hours(closing.logged_min)))
    return tuple(steps)


def _log_words(entry: WorkLog) -> str:
    words = [entry.kind.value]
    if entry.rows:
        words.append(f"{say.count(entry.rows, 'row')} from row {entry.first_row} on")
    if entry.on is not None:
        words.append(say.date(entry.on))
    return ", ".join(words)


def _costs(
    closing: Closing, project: Project, plan: ProjectPlan, demand: Demand, studio: Studio
) -> tuple[Step, ...]:
    """Yarn shade by shade, notions one by one, overhead and shipping from her trade; then all."""
    try:
        case = agreed_sheet(project, plan, demand, studio).case
    except PriceError as error:
        return (Step(error.text),)
    currency, rules = closing.currency, studio.trade.prices

    def money(amount: Decimal | None) -> str:
        return "not known" if amount is None else say.money(amount, currency)

    steps = [
        Step(f"Yarn, {studio.library.called(s.shade)}", money(s.used_cost)) for s in plan.shades
    ]
    steps += [Step(n.name, money(n.cost)) for n in project.notions]
    for cost in closing.costs or ():
        if cost.kind is LineKind.OVERHEAD:
            each = say.money(rules.overhead_per_hour, currency)
            words = f"Overhead, {say.money(rules.overhead, currency)} for the piece and {each} "
            steps.append(Step(f"{words}for each hour of {hours(case.minutes)}", money(cost.amount)))
        elif cost.kind is LineKind.SHIPPING:
            parcel = parcel_of(project, demand, studio)
            weight = say.weight(parcel.weight_g, studio.settings.weight_unit)
            name = parcel.tier.name if parcel.tier else parcel.why
            steps.append(
                Step(f"Shipping paid: {weight} with packing, '{name}'", money(cost.amount))
            )
        elif cost.kind not in (LineKind.YARN, LineKind.NOTIONS):
            how = f", {cost.how}" if cost.how else ""
            steps.append(Step(f"{cost.label}{how}", money(cost.amount)))
    return (*steps, Step("All costs but the hours", money(closing.cash_costs)))


def _pay(closing: Closing) -> tuple[Step, ...]:
    """Received less tax and costs, over the hours that were logged."""
    currency, earned, costs = closing.currency, closing.earned, closing.cash_costs
    if earned is None or costs is None:
        return (Step("A cost is not known, so neither is what was earned."),)
    steps = [Step("Received", say.money(closing.received, currency))]
    if closing.tax:
        steps.append(Step("Tax in it", say.money(-closing.tax, currency)))
    steps.append(Step("All costs but the hours", say.money(-costs, currency)))
    steps.append(Step("Left for your hours", say.money(earned, currency)))
    for rest, words in ((True, "once all is paid, "), (False, "")):
        pay = closing.per_hour(with_rest=rest)
        if pay is not None and (closing.to_come or not rest):
            left = earned + (closing.to_come if rest else _NOUGHT)
            over = f"Over {hours(closing.logged_min)} logged, {words}of {say.money(left, currency)}"
            steps.append(Step(f"{over}, rounded down", say.money(pay, currency)))
    if closing.per_hour() is None:
        steps.append(Step("Hours are counted once it is finished and minutes are logged."))
    return tuple(steps)
