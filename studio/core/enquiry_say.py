"""What an enquiry answers, in words: one fact to a line, the same on the screen and in the shell.

Each fact has a code that stays the same, so that 'why?' finds its sum.
"""

from __future__ import annotations

from decimal import Decimal

from studio.core import headline, say
from studio.core.answers import Cover, Finding, RunPlan, Weight
from studio.core.edits.places import run_list
from studio.core.enquiry import Answer, Competes, MadeLate, WeekAdded
from studio.core.enquiry_apart import Freed, Relaxed
from studio.core.frozen import dataclass
from studio.core.headline import money_figure
from studio.core.model import ShadeRef, Studio
from studio.core.price_sheet import Priced
from studio.core.trade_model import WorkHours


@dataclass(frozen=True, slots=True)
class Fact:
    """One thing that is said of a trial; `needs_you` where it speaks against taking it."""

    code: str
    label: str
    text: str
    needs_you: bool = False


def shade_name(studio: Studio, ref: ShadeRef) -> str:
    """A shade's name, or its code where the library lacks it."""
    return studio.library.shade_called(ref)


def hours(minutes: Decimal | int | float) -> str:
    """'31.5 h'."""
    return f"{say.number(float(minutes) / 60, 1)} h"


def hours_figure(minutes: Decimal | int | float) -> str:
    """'31.5', for a column whose head says the unit."""
    return say.number(float(minutes) / 60, 1, trim=False)


DECIDING = frozenset({"buy", "price", "pay", "promise", "slack", "late", "findings"})
"""What a yes or no hangs on; it stands before the rest."""


def facts(answer: Answer, studio: Studio) -> tuple[Fact, ...]:
    """Everything that is said of a trial, each on a line."""
    found = (
        *yarn_facts(answer, studio),
        *price_facts(answer, studio),
        *date_facts(answer),
        findings_fact(answer),
    )
    return tuple(sorted(found, key=lambda fact: fact.code not in DECIDING))


def yarn_facts(answer: Answer, studio: Studio) -> tuple[Fact, ...]:
    """How big it comes out and whether the yarn is there."""
    plan = answer.plan
    size = headline.size_words(plan.size, studio.settings.length_unit)
    runs = [r for r in plan.runs if r.cover is not Cover.DONE]
    found = [
        Fact("size", "comes out at", size[2] if len(size) > 2 else size[0]),
        Fact("stash", "the stash works", stash_words(answer, runs)),
        Fact("buy", "to buy", buy_words(answer), bool(answer.buy)),
    ]
    if answer.competes:
        pieces = len({c.project for c in answer.competes})
        found.append(Fact("competes", "takes it from", say.count(pieces, "quote or idea",
                                                                 "quotes and ideas")))  # fmt: skip
    else:
        found.append(Fact("competes", "takes it from", "nobody"))
    return tuple(found)


def stash_words(answer: Answer, runs: list[RunPlan]) -> str:
    """'9 of 11 runs', and those that wait for an open purchase."""
    unknown = sum(r.cover is Cover.UNKNOWN for r in runs)
    if unknown:
        return f"not known for {say.count(unknown, 'run')}"
    words = f"{len(answer.from_stash)} of {say.count(len(runs), 'run')}"
    waiting = sum(r.cover in (Cover.ORDER, Cover.LATE) for r in runs)
    return f"{words}, {waiting} on order" if waiting else words


def buy_words(answer: Answer) -> str:
    """'4 balls, 2 shades', or 'nothing'."""
    if not answer.buy:
        return "nothing"
    return f"{say.balls(answer.buy_balls)}, {say.count(len(answer.buy), 'shade')}"


def price_facts(answer: Answer, studio: Studio) -> tuple[Fact, ...]:
    """Material, time and price."""
    cost, currency = answer.plan.cost, studio.settings.currency

    def money(amount: Decimal | None) -> str:
        return "not known" if amount is None else money_figure(amount, currency)

    found = [
        Fact("used", "material used", money(cost.used)),
        Fact("cash", "material to lay out", money(cost.cash)),
    ]
    priced = answer.price
    if priced is None:
        return (*found, Fact("price", "price", "none can be made", True))
    sheet = priced.sheet
    share = sheet.margin_share
    margin = money(sheet.margin) + (f", {say.percent(share)}" if share is not None else "")
    pay = sheet.pay_per_hour
    floor = studio.trade.prices.floor_per_hour
    return (
        *found,
        Fact("hours", "time", hours(priced.hours.total_min) + (" ~" if priced.hours.rough else "")),
        Fact("price", "price", money(sheet.shown) + (" by hand" if priced.by_hand else "")),
        Fact("total", "the customer pays", money(sheet.total)),
        Fact("deposit", "deposit", money(sheet.deposit)),
        Fact("margin", "margin", margin, sheet.margin < 0),
        Fact("pay", "an hour is paid", money(pay), pay is not None and pay < floor),
    )


def date_facts(answer: Answer) -> tuple[Fact, ...]:
    """When it can be ready, and what it does to the weeks and to other pieces."""
    late = len(answer.made_late)
    laid = answer.laid
    most = max(answer.weeks, key=lambda w: w.added_min, default=None)
    adds = "nothing"
    if most is not None and most.added_min > 0:
        adds = f"up to {hours(most.added_min)} a week"
    return (
        Fact("promise", "can be promised", say.date(answer.promise.ready)),
        Fact("ready", "ready if booked", say.date(laid.ready)),
        Fact("slack", "for the day asked", slack_words(laid.late_days), laid.late),
        Fact("weeks", "adds to the weeks", adds),
        Fact("late", "makes late", say.count(late, "booked piece") if late else "nobody", late > 0),
    )


def slack_words(late_days: int | None) -> str:
    """'3 days to spare', 'on the day', '4 days late', 'no day asked'."""
    if late_days is None:
        return "no day asked"
    if late_days == 0:
        return "on the day"
    if late_days < 0:
        return f"{say.count(-late_days, 'day')} to spare"
    return f"{say.count(late_days, 'day')} late"


def competes_words(found: Competes, studio: Studio) -> str:
    """What another piece would have to buy."""
    name = studio.project[found.project].name
    shade = shade_name(studio, found.shade)
    balls = f", {say.balls(found.more_balls)}" if found.more_balls else ""
    more = say.weight(found.more_g, studio.settings.weight_unit)
    return f"{name} ({found.stage.value}) would buy {more} more of {shade}{balls}."


def late_words(found: MadeLate, studio: Studio) -> str:
    """A booked piece that would be late."""
    name = studio.project[found.project].name
    then = slack_words(found.before_days)
    return f"{name} would be {slack_words(found.after_days)} instead of {then}."


def freed_words(found: Freed, studio: Studio) -> str:
    """What moving holds would save: offered, never done."""
    shade = shade_name(studio, found.shade)
    pieces = dict.fromkeys(key.partition("/")[0] for key in found.moves)
    names = say.either([studio.project[p].name for p in pieces if p in studio.project], "and")
    less = say.weight(found.less_g, studio.settings.weight_unit)
    sure = "" if found.proved else " A quick answer; it may be another amount."
    return (
        f"{less} of {shade} less to buy ({say.balls(found.less_balls)}), if "
        f"{say.count(len(found.moves), 'hold')} of {names} moved to other lots.{sure}"
    )


def relaxed_words(found: Relaxed, studio: Studio) -> str:
    """What a lot for each stripe would save."""
    shade = shade_name(studio, found.shade)
    less = say.weight(found.less_g, studio.settings.weight_unit)
    sure = "" if found.proved else " A quick answer; it may be more."
    return (
        f"{less} of {shade} less to buy ({say.balls(found.less_balls)}), if each stripe in slot "
        f"{found.slot} took a lot of its own.{sure}"
    )


def week_words(week: WeekAdded) -> str:
    """How full a week is with the piece."""
    added = week.added_min
    more = ""
    if added:
        more = f", {hours(abs(added))} {'more' if added > 0 else 'less'} by this piece"
    return (
        f"{hours(week.after_min)} of {hours(week.there_min)} taken{more}."
        if week.there_min
        else "No hours this week."
    )


def hours_words(found: WorkHours) -> str:
    """'Mon-Fri 3 h, at most 5 h a day': the week in words."""
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    groups: list[tuple[int, int, int]] = []
    for day, minutes in enumerate(found.weekday_min):
        if groups and groups[-1][2] == minutes:
            groups[-1] = (groups[-1][0], day, minutes)
        else:
            groups.append((day, day, minutes))
    parts = [
        f"{names[a]}{f'-{names[b]}' if b > a else ''} {hours(minutes)}"
        for a, b, minutes in groups
        if minutes
    ]
    week = ", ".join(parts) or "no hours"
    return f"{week}; at most {hours(found.daily_limit_min)} a day"


def aim_words(priced: Priced, currency: str) -> str:
    """What the price was made from."""
    if priced.by_hand:
        return f"a price of {say.money(priced.sheet.shown, currency)}"
    if priced.aim.margin is not None:
        return f"a margin of {say.percent(priced.aim.margin)}"
    return f"{say.money(priced.aim.per_hour or Decimal(0), currency)} an hour"


def week_shares(week: WeekAdded) -> tuple[float, float]:
    """How full a week is without the piece and with it, as shares of its hours."""
    if not week.there_min:
        return (1.0, 1.0) if week.after_min else (0.0, 0.0)
    return week.before_min / week.there_min, week.after_min / week.there_min


@dataclass(frozen=True, slots=True)
class RunGroup:
    """Runs of one shade that the same lot works (or that wait for the same), and their need."""

    shade: ShadeRef
    cover: Cover
    lot: str | None
    runs: tuple[RunPlan, ...]

    @property
    def need_g(self) -> Decimal:
        """What all of them need."""
        return headline.need_g(self.runs)

    @property
    def places(self) -> str:
        """'stripes 1, 3, 5-7, the border'."""
        return run_list((r.ref.kind, r.ref.index) for r in self.runs)


def run_groups(answer: Answer) -> tuple[RunGroup, ...]:
    """The runs by where their yarn comes from: stash, open purchases, then what is bought."""
    order = (Cover.STASH, Cover.ORDER, Cover.LATE, Cover.SHORT, Cover.UNKNOWN, Cover.DONE)
    found: dict[tuple[ShadeRef, Cover, str | None], list[RunPlan]] = {}
    for run in answer.plan.runs:
        found.setdefault((run.shade, run.cover, run.lot), []).append(run)
    groups = [RunGroup(*key, tuple(runs)) for key, runs in found.items() if key[1] in order]
    return tuple(sorted(groups, key=lambda g: order.index(g.cover)))


def findings_of(answer: Answer) -> tuple[Finding, ...]:
    """What is found about the piece and its price, the loudest first."""
    priced = answer.price
    found = [*answer.asked, *(priced.findings if priced else ()), *answer.plan.findings]
    order = list(Weight)
    return tuple(sorted((f for f in found if not f.accepted), key=lambda f: order.index(f.weight)))


def findings_fact(answer: Answer) -> Fact:
    """How many findings there are."""
    found = findings_of(answer)
    stops = sum(f.weight is Weight.STOP for f in found)
    words = say.count(len(found), "finding") if found else "none"
    if stops:
        words += f", {stops} needs you" if stops == 1 else f", {stops} need you"
    return Fact("findings", "findings", words, stops > 0)
