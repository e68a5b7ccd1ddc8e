"""The book, the weeks and the piece at hand: the sheets of the order book."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from studio.core import order_say, say
from studio.core.enquiry_say import hours_figure
from studio.core.model import Project, Settings, Stage, Studio
from studio.core.order_say import Desk
from studio.core.orderbook import Row as BookRow
from studio.core.orderbook import Section
from studio.core.payments import agreed_deposit, to_come
from studio.core.quote_why import Printed, fact_lines, money_lines
from studio.core.quoting import Drift
from studio.core.trade_model import PaymentKind, Quote
from studio.ui.bars import FREE, FULL, bar
from studio.ui.beside import SheetPane
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone

WEEK, DAYS, MONEY, QUOTE, DRIFT = "week", "days", "money", "quote", "drift"
FIGURE = "figure"
BAR = 16


class BookSheet(SheetPane):
    """Every piece but ideas, by section; held ones in the order in which they are done."""

    words = "Order book"
    empty = "Nothing is quoted or booked yet. Ctrl+T tries the piece at hand as an order."

    def __init__(self) -> None:
        super().__init__("book")

    def columns(self) -> Iterable[Column]:
        """Who, what, where it stands, its money, its days."""
        return (
            Column("piece", share=3, least=18),
            Column("for", share=2, least=10, drop=3),
            Column("stage", most=18),
            Column("since", width=11, drop=7),
            Column("price", align=Align.DECIMAL, drop=4),
            Column("received", align=Align.DECIMAL, drop=6),
            Column("to come", align=Align.DECIMAL, drop=5),
            Column("due", width=11),
            Column("done by", width=11, drop=2),
            Column("slack", width=16),
            Column("start by", width=14, drop=1),
        )

    def put(self, desk: Desk, studio: Studio, today: date) -> None:
        """Fill it; the marks say what a hand-set order costs."""
        currency = studio.settings.currency
        rows: list[Row] = []
        section: Section | None = None
        for found in desk.book.rows:
            if found.section is not section:
                section = found.section
                rows.append(Row(("section", section), (section.value,), Tone.HEADING))
            rows.append(_book_row(found, currency, today))
        self.list.set_rows(rows)
        total = order_say.totals_words(desk, currency)
        self.head.show(self.words, f"{total}; amounts in {currency}" if rows else "")
        hand = (order_say.hand_words(desk.hand),) if desk.hand else ()
        self.explain((*hand, *order_say.finding_words(desk, studio)))


def _book_row(found: BookRow, currency: str, today: date) -> Row:
    late = found.late_days is not None and found.late_days > 0
    over = found.section in (Section.DONE, Section.OVER)
    start = order_say.start_words(found.latest_start, today)
    behind = found.latest_start is not None and found.latest_start.short_min > 0
    owed = found.to_give_back > 0
    return Row(
        found.project,
        (
            found.name,
            found.customer or "stock",
            Cell(order_say.stage_words(found), Tone.NEEDS_YOU if found.expired else None),
            Cell(_day(found.since), Tone.QUIET),
            order_say.figure(found.total, currency),
            Cell(
                order_say.figure(found.received, currency) if found.received else "",
                Tone.NEEDS_YOU if owed else None,
            ),
            order_say.figure(found.outstanding, currency) if found.outstanding else "",
            _day(found.due),
            Cell(_day(found.done_by), Tone.QUIET),
            Cell(order_say.slack_cell(found), Tone.NEEDS_YOU if late else None),
            Cell(start, Tone.NEEDS_YOU if behind else Tone.QUIET),
        ),
        Tone.QUIET if over else Tone.NORMAL,
        words=found.stage.value,
    )


def _day(day: date | None) -> str:
    return say.date(day) if day else ""


class CalendarSheet(SheetPane):
    """The weeks of handwork: how full each is, and who is worked in it."""

    words = "Weeks"
    empty = "Nothing is booked, so every hour is free."

    def __init__(self) -> None:
        super().__init__("calendar")

    def columns(self) -> Iterable[Column]:
        """The week, how full it is, and who is worked."""
        return (
            Column("week of", width=11),
            Column("taken", width=BAR),
            Column("h", width=5, align=Align.RIGHT),
            Column("of", width=5, align=Align.RIGHT),
            Column("worked", share=1, least=12, drop=1),
        )

    def put(self, desk: Desk, studio: Studio, at_hand: str | None, more: str) -> None:
        """Fill it; weeks in which the piece at hand is worked stand out."""
        names = {p.key: p.name for p in studio.projects}
        rows = []
        for week in desk.weeks if desk.book.schedule.laid else ():
            here = any(key == at_hand for key, _ in week.by_piece)
            who = order_say.week_who(week, names)
            tone = Tone.FOCUS if here else Tone.QUIET
            rows.append(
                Row(
                    (WEEK, week.monday),
                    (
                        Cell(say.date(week.monday)),
                        Cell(_full(week.share if week.there_min else 0.0), tone),
                        hours_figure(week.taken_min),
                        Cell(hours_figure(week.there_min), Tone.QUIET),
                        Cell(who, Tone.NORMAL if here else Tone.QUIET),
                    ),
                    detail=(who,) if who else (),
                )
            )
        self.list.set_rows(rows)
        self.head.show(self.words, "")
        self.explain((more,) if more else ())


def _full(share: float) -> str:
    drawn = bar(share, BAR)
    return drawn + FREE * (BAR - len(drawn)) if drawn != FULL * BAR else drawn


class PieceSheet(SheetPane):
    """The piece at hand: its stages, its money, its quote as sent and what has changed since."""

    words = "Piece"
    empty = "No piece at hand."

    def __init__(self) -> None:
        super().__init__("order")

    def columns(self) -> Iterable[Column]:
        """What, when or then, now, and the difference."""
        return (
            Column("", share=1, least=18),
            Column("", width=12, align=Align.RIGHT),
            Column("", width=11, align=Align.RIGHT),
            Column("", width=11, align=Align.RIGHT),
        )

    def put(
        self,
        project: Project | None,
        studio: Studio,
        drifts: tuple[Drift, ...],
        printed: Printed | None = None,
    ) -> None:
        """Fill it from the piece, or leave it empty; `printed` is what its paper is made from."""
        if project is None:
            self.list.set_rows(())
            self.head.show(self.words, "")
            return
        currency = studio.settings.currency
        rows = [*_stages(project), *_money(project, currency)]
        if project.quote is not None:
            rows += _quote(project.quote, currency)
            changed = order_say.changed_words(project, printed.plan) if printed else ""
            rows += _drifted(project, drifts, changed, studio.settings)
            rows += _behind(project.quote, printed, studio.settings)
        self.list.set_rows(rows)
        self.head.show(project.name, "")


def _stages(project: Project) -> Iterable[Row]:
    yield Row("stages", ("stages",), Tone.HEADING)
    if not project.reached:
        booked = project.booked if project.stage.holds else None
        yield Row((DAYS, 0), ("booked", _day(booked)) if booked else (project.stage.value, ""))
    for at, reached in enumerate(project.reached):
        yield Row((DAYS, at), (reached.stage.value, _day(reached.on)))
    if project.due is not None:
        yield Row((DAYS, "due"), ("due", _day(project.due)))


_PAID = {
    PaymentKind.DEPOSIT: "deposit received",
    PaymentKind.BALANCE: "balance received",
    PaymentKind.REFUND: "given back",
    PaymentKind.KEPT: "kept, for good",
}


def _money(project: Project, currency: str) -> Iterable[Row]:
    left = to_come(project)
    if left is None and not project.payments:
        return
    yield Row("money", (f"money, {currency}",), Tone.HEADING)
    deposit = agreed_deposit(project)
    if deposit:
        yield Row((MONEY, "deposit"), ("deposit asked", "", order_say.figure(deposit, currency)))
    for at, payment in enumerate(project.payments):
        words = _PAID[payment.kind]
        amount = order_say.figure(payment.amount, currency)
        cells = (words, _day(payment.on), amount if payment.kind.comes_in else f"-{amount}")
        yield Row((MONEY, at), cells, detail=(payment.note,) if payment.note else ())
    if left is not None:
        open_sum = Cell(order_say.figure(left, currency), Tone.STRONG)
        yield Row((MONEY, "left"), ("still to come", "", open_sum))


def _quote(quote: Quote, currency: str) -> Iterable[Row]:
    """The quote as the customer reads it."""
    yield Row("quote", ("the quote as sent",), Tone.HEADING)
    yield Row((QUOTE, "on"), ("sent", _day(quote.on)))
    yield Row((QUOTE, "until"), ("valid until", _day(quote.valid_until)))
    if quote.ready_by is not None:
        yield Row((QUOTE, "ready"), ("ready by", _day(quote.ready_by)))
    for line in money_lines(quote):
        amount = order_say.figure(line.amount, currency)
        tone = Tone.STRONG if line.code == "total" else None
        yield Row((QUOTE, line.code), (line.label, "", Cell(amount, tone)))


def _drifted(
    project: Project, drifts: tuple[Drift, ...], changed: str, settings: Settings
) -> Iterable[Row]:
    """What is another figure today, or another design, beside the quote."""
    if changed:
        cell = Cell("the piece was changed", Tone.CAUTION)
        yield Row("changed", (cell,), detail=(Cell(changed, Tone.CAUTION),))
    if drifts:
        heads = ("since the quote was sent", "then", "now", "difference")
        yield Row("drift", (heads[0],), Tone.HEADING)
        yield Row("drift heads", ("", *heads[1:]), Tone.QUIET)
        yield from (_drift(d, settings) for d in drifts)
    elif project.stage is Stage.QUOTED and not changed:
        yield Row("steady", ("nothing has changed since it was sent",), Tone.QUIET)


def _behind(quote: Quote, printed: Printed | None, settings: Settings) -> Iterable[Row]:
    """What else is on the paper, and what the price was made of."""
    facts = fact_lines(printed) if printed is not None else ()
    if facts:
        yield Row("facts", ("on its paper, as it stands",), Tone.HEADING)
    for code, words in facts:
        yield Row((QUOTE, code), (words,), detail=(words,))
    if quote.figures:
        yield Row("behind", ("behind the price, for you alone",), Tone.HEADING)
    for figure in quote.figures:
        amount = order_say.quoted_figure(figure.amount, figure.unit, settings)
        yield Row((FIGURE, figure), (f"  {figure.label}", "", amount), Tone.QUIET)
    for at, words in enumerate(quote.assumed):
        yield Row((QUOTE, "assumed", at), (words,), Tone.QUIET, detail=(words,))


def _drift(found: Drift, settings: Settings) -> Row:
    then, now, more = order_say.drift_words(found, settings)
    return Row((DRIFT, found), (found.label, then, now, Cell(more, Tone.CAUTION)))
