"""The order book in words, its hand-set order, and what one more hour a week would do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core import headline, say
from studio.core.answers import Finding, ProjectPlan
from studio.core.calendar import (
    Axis,
    LatestStart,
    Schedule,
    Week,
    schedule,
    weeks,
)
from studio.core.calendar_ask import OrderCost, cost_of_order, hours_findings, with_more
from studio.core.edits.places import refuse
from studio.core.enquiry_say import hours, slack_words
from studio.core.frozen import dataclass
from studio.core.model import Project, Settings, Stage, Studio
from studio.core.orderbook import OrderBook, Row, order_book
from studio.core.payments import agreed_deposit, credit, outstanding, to_come, to_give_back
from studio.core.quoting import Drift, redesigned_since, resized_since
from studio.core.reasons import Step
from studio.core.trade_model import PaymentKind
from studio.core.workload import after_days, booked_jobs


@dataclass(frozen=True)
class Desk:
    """The book, its weeks, and what a hand-set order costs against working by due date."""

    book: OrderBook
    weeks: tuple[Week, ...]
    hand: OrderCost | None
    findings: tuple[Finding, ...] = ()
    """Cautions on the hours and the dates."""


def desk_of(studio: Studio, plans: Mapping[str, ProjectPlan], today: date) -> Desk:
    """The book as it stands; raises NoHoursError where the week has no hours."""
    book = order_book(studio, plans, today)
    axis = Axis(studio.trade.hours, today)
    jobs = booked_jobs(studio, plans, today)
    hand = None
    if studio.trade.hand_order:
        hand = cost_of_order(book.schedule, schedule(jobs, axis))
    found = hours_findings(studio.trade.hours, jobs, today)
    return Desk(book, weeks(book.schedule, axis), hand, found)


def finding_words(desk: Desk, studio: Studio) -> tuple[str, ...]:
    """The cautions in sentences, each with the piece that it is about."""
    return tuple(
        f"{studio.project[f.project].name}: {f.text}" if f.project else f.text
        for f in desk.findings
    )


def totals_words(desk: Desk, currency: str) -> str:
    """'9 promised, 3 late, 412.00 EUR to come'."""
    found = desk.book.totals
    parts = [f"{found.held} promised"]
    if found.late:
        parts.append(f"{found.late} late")
    if found.outstanding:
        parts.append(f"{say.money(found.outstanding, currency)} to come")
    if found.stock:
        parts.append(f"{found.stock} in stock")
    if found.owed_back:
        parts.append(f"{say.money(found.owed_back, currency)} to give back")
    return ", ".join(parts)


def hand_words(found: OrderCost) -> str:
    """What the hand-set order costs."""
    if not found.pieces:
        return "The order is set by hand, and changes no day against working by due date."
    greatest = _signed_days(found.greatest_more)
    return (
        f"The order is set by hand: {say.count(len(found.pieces), 'piece')} done on other days, "
        f"greatest lateness {greatest}, lateness in all {_signed_days(found.total_more)}."
    )


def _signed_days(days: int) -> str:
    return f"{'+' if days > 0 else ''}{say.count(days, 'day')}"


def slack_cell(row: Row) -> str:
    """'12 days to spare', '4 days late', '' where nothing is laid on the calendar."""
    if row.done_by is None or row.due is None:
        return ""
    return slack_words(row.late_days)


def start_words(found: LatestStart | None, today: date) -> str:
    """The latest start: a day, or by how much it is behind."""
    if found is None or found.day is None:
        return ""
    if found.short_min:
        return f"{hours(found.short_min)} behind"
    return "today" if found.day == today else say.date(found.day)


def stage_words(row: Row) -> str:
    """The stage, with what is special about it."""
    if row.expired:
        return f"{row.stage.value}, expired"
    return f"{row.stage.value}, from stock" if row.from_stock else row.stage.value


def week_who(week: Week, names: Mapping[str, str]) -> str:
    """'Damson 6 h, Cinder 9 h': who is worked in a week."""
    return ", ".join(f"{names.get(key, key)} {hours(m)}" for key, m in week.by_piece)


def week_words(week: Week) -> str:
    """How full a week is."""
    if not week.there_min:
        return "no hours"
    return f"{hours(week.taken_min)} of {hours(week.there_min)}"


@dataclass(frozen=True, slots=True)
class MoreHours:
    """What so many more minutes a week do: days, late pieces and lateness before and after."""

    minutes: int
    late: tuple[int, int]
    greatest_days: tuple[int | None, int | None]
    last_day: tuple[date | None, date | None]


def more_hours(
    studio: Studio, plans: Mapping[str, ProjectPlan], today: date, extra: int
) -> MoreHours | None:
    """The effect of so many hours more a week; None where the daily limit has no room for them."""
    trade, minutes = studio.trade, extra * 60
    wider = with_more(trade.hours, minutes)
    if wider is None:
        return None
    jobs = booked_jobs(studio, plans, today)
    before = schedule(jobs, Axis(trade.hours, today), trade.hand_order)
    after = schedule(jobs, Axis(wider, today), trade.hand_order)
    return MoreHours(
        minutes,
        (before.late_count, after.late_count),
        (before.greatest_late_days, after.greatest_late_days),
        (_last(before), _last(after)),
    )


def _last(found: Schedule) -> date | None:
    return max((n.done_by for n in found.laid), default=None)


def more_words(found: MoreHours) -> str:
    """The effect in a sentence."""
    before, after = found.late
    last, sooner = found.last_day
    words = f"With {hours(found.minutes)} more a week: "
    if last is None or sooner is None:
        return words + "nothing is booked, so nothing changes."
    words += f"{after} late instead of {before}" if after != before else f"{after} late as now"
    was, now = found.greatest_days
    if was is not None and now is not None and max(was, 0) != max(now, 0):
        words += f", the greatest lateness {say.count(max(now, 0), 'day')} instead of {max(was, 0)}"
    return f"{words}; all done by {say.date(sooner)} instead of {say.date(last)}."


# The hand-set order


def working_order(studio: Studio, plans: Mapping[str, ProjectPlan], today: date) -> tuple[str, ...]:
    """Held pieces in the order in which they go first: as set by hand, then by end of work."""
    jobs = {j.key: j for j in booked_jobs(studio, plans, today)}
    by_hand = [key for key in studio.trade.hand_order if key in jobs]
    rest = sorted((jobs[k].end_of_work, k) for k in jobs if k not in by_hand)
    return (*by_hand, *(key for _, key in rest))


def moved(studio: Studio, order: tuple[str, ...], key: str, by: int) -> Studio:
    """The studio with a held piece earlier or later in a working order set by hand."""
    if key not in order:
        refuse("Only what is booked, in making or finishing has a place in the working order.")
    at = order.index(key)
    to = min(max(at + by, 0), len(order) - 1)
    if to == at:
        return studio
    rest = [k for k in order if k != key]
    rest.insert(to, key)
    return replace(studio, trade=replace(studio.trade, hand_order=tuple(rest)))


def by_due_date(studio: Studio) -> Studio:
    """The studio worked by due date again."""
    if not studio.trade.hand_order:
        return studio
    return replace(studio, trade=replace(studio.trade, hand_order=()))


# What can be done with a piece


class Doing(StrEnum):
    """What the order book can do with a piece."""

    TRY = "try it as an order"
    BOOK = "book it"
    ON = "to its next stage"
    PAY = "note a payment"
    REFUND = "give money back"
    KEEP = "keep money of it"
    SELL = "sell it from stock"
    TAKE_BACK = "take it back"
    DECLINE = "decline"
    CANCEL = "cancel the order"
    QUOTE_PAPER = "show the quote"
    WRITE_QUOTE = "write the quote"
    CONFIRMATION = "show the order confirmation"
    WRITE_CONFIRMATION = "write the order confirmation"
    CUSTOMER = "say whom it is for"
    USED = "note the yarn used"
    CLOSING = "actual against planned"


def doings(project: Project) -> tuple[Doing, ...]:
    """What can be done with a piece at its stage, the usual thing first."""
    stage = project.stage
    tried = stage in (Stage.IDEA, Stage.QUOTED)
    paying = stage.holds or stage in (Stage.QUOTED, Stage.DELIVERED)
    stands = stage.holds or stage is Stage.DELIVERED
    begun = stage in (Stage.MAKING, Stage.FINISHING, Stage.IN_STOCK, Stage.DELIVERED)
    ordered = project.quote is not None and project.booked is not None and stands
    may = (
        (Doing.TRY, tried),
        (Doing.BOOK, tried),
        (Doing.ON, stage.holds),
        (Doing.SELL, stage is Stage.IN_STOCK),
        (Doing.PAY, paying and _owes(project)),
        (Doing.REFUND, credit(project) > 0),
        (Doing.KEEP, to_give_back(project) > 0),
        (Doing.TAKE_BACK, stage is Stage.DELIVERED),
        (Doing.USED, begun),
        (Doing.CLOSING, begun),
        (Doing.CONFIRMATION, ordered),
        (Doing.WRITE_CONFIRMATION, ordered),
        (Doing.QUOTE_PAPER, project.quote is not None),
        (Doing.WRITE_QUOTE, project.quote is not None),
        (Doing.CUSTOMER, tried or stage.holds),
        (Doing.DECLINE, tried),
        (Doing.CANCEL, stage.holds),
    )
    return tuple(doing for doing, allowed in may if allowed)


def _owes(project: Project) -> bool:
    left = outstanding(project)
    return left is None or left > 0


def next_payment(project: Project) -> tuple[PaymentKind, Decimal | None]:
    """The payment that comes next: what is left of the deposit, then the balance."""
    paid, deposit = credit(project), agreed_deposit(project)
    if deposit > paid:
        return PaymentKind.DEPOSIT, deposit - paid
    return PaymentKind.BALANCE, outstanding(project)


# Sums


def why_days(row: Row, project: Project, desk: Desk, studio: Studio) -> tuple[Step, ...]:
    """How the days of a held piece come about."""
    laid = desk.book.schedule.by_key.get(row.project)
    if laid is None:
        return (Step("Only what is booked, in making or finishing is laid on the calendar."),)
    days = after_days(project, studio)
    minutes = sum(b - a for a, b in laid.pieces)
    steps = [
        Step("Work left", hours(minutes)),
        Step("Begun on", say.date(laid.begins)),
        Step("In so many stretches, others coming between", str(len(laid.pieces))),
        Step("Done by", say.date(laid.done_by)),
        Step("Drying and transit after the work", say.count(days, "day")),
        Step("Ready to hand over", say.date(laid.ready)),
    ]
    if laid.due is not None:
        steps.append(Step(f"Due {say.date(laid.due)}", slack_words(laid.late_days)))
    start = row.latest_start
    if start is not None and start.day is not None:
        words = f"{hours(start.short_min)} behind" if start.short_min else say.date(start.day)
        steps.append(Step("To be begun by, or it or one due after it is late", words))
    return tuple(steps)


def why_money(project: Project, currency: str) -> tuple[Step, ...]:
    """What was agreed, paid and is open."""
    quote = project.quote
    steps = []
    if quote is not None:
        steps = [Step("Price, as quoted", say.money(quote.price, currency))]
        if quote.shipping:
            steps.append(Step("Shipping", say.money(quote.shipping, currency)))
        if quote.tax:
            where = "Tax, in it" if quote.tax_inclusive else "Tax, on it"
            steps.append(Step(where, say.money(quote.tax, currency)))
        steps.append(Step("In all", say.money(quote.total, currency)))
    elif project.price is not None:
        steps = [Step("Price, as sold", say.money(project.price, currency))]
    for payment in project.payments:
        amount = -payment.amount if payment.kind.comes_in else payment.amount
        words = "Kept of a sale before" if payment.kind is PaymentKind.KEPT else payment.kind.value
        steps.append(Step(f"{words.capitalize()}, {say.date(payment.on)}",
                          say.money(amount, currency)))  # fmt: skip
    if outstanding(project) is None:
        return (*steps, Step("Still to come", "no price is agreed"))
    left = to_come(project)
    words = (
        "nothing: nobody has ordered it, or it is over"
        if left is None
        else say.money(left, currency)
    )
    return (*steps, Step("Still to come", words))


def figure(amount: Decimal | None, currency: str) -> str:
    """An amount for a column, nothing where there is none."""
    return "" if amount is None else headline.money_figure(amount, currency)


def quoted_figure(amount: Decimal, unit: str, settings: Settings) -> str:
    """A figure of a quote: money as money, lengths as she shows them, else with its unit."""
    if unit == "cm":
        return say.length(float(amount), settings.length_unit)
    return f"{say.number(amount, 1)} {unit}" if unit else figure(amount, settings.currency)


def drift_words(found: Drift, settings: Settings) -> tuple[str, str, str]:
    """A drifted figure then, now, and the difference with its sign."""
    then, now, more = (
        quoted_figure(value, found.unit, settings) for value in (found.then, found.now, found.more)
    )
    return then, now, more if more.startswith("-") else f"+{more}"


def why_drift(found: Drift, settings: Settings) -> tuple[Step, ...]:
    """One figure of a quote that is another today."""
    then, now, more = drift_words(found, settings)
    return (
        Step(f"{found.label}, when the quote was sent", then),
        Step(f"{found.label}, today", now),
        Step("Difference", more),
    )


def changed_words(project: Project, plan: ProjectPlan) -> str:
    """What is said with the paper of a piece that was changed since it was quoted; else ''."""
    quote = project.quote
    if quote is None:
        return ""
    said = []
    if resized_since(quote, plan.size):
        said.append("comes out at another size")
    if redesigned_since(quote, project):
        said.append("has other stripes or shades")
    if not said:
        return ""
    return (
        f"{project.name} {say.either(said, 'and')} than when its quote was sent: the paper shows "
        "the piece as it is now, at the price as it was sent."
    )


def why_week(week: Week, names: Mapping[str, str]) -> tuple[Step, ...]:
    """Who is worked in a week and how long."""
    steps = [Step(f"Week of {say.date(week.monday)}")]
    steps += [Step(names.get(key, key), hours(minutes)) for key, minutes in week.by_piece]
    return (*steps, Step(f"Of {hours(week.there_min)} there are", hours(week.taken_min)))
