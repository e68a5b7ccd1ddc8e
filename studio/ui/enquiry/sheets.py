"""The price, the yarn and the weeks of a trial: the other sheets of an enquiry."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from decimal import Decimal

from studio.core import order_say, say
from studio.core.answers import Cover, Finding, Weight
from studio.core.enquiry import Answer, Competes, MadeLate
from studio.core.enquiry_apart import Freed, Relaxed
from studio.core.enquiry_say import (
    RunGroup,
    competes_words,
    findings_of,
    freed_words,
    hours_figure,
    late_words,
    relaxed_words,
    run_groups,
    shade_name,
    week_shares,
    week_words,
)
from studio.core.headline import money_figure
from studio.core.model import Settings, ShadeRef, Studio
from studio.core.price_sheet import Priced
from studio.core.pricing import PriceLine
from studio.core.quoting import Drift
from studio.ui.bars import bar, stacked
from studio.ui.beside import SheetPane
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.enquiry.asked import WORKING, Shown
from studio.ui.swatch import Patch

LINE, PART, MOVE, THUMB, SUM = "line", "part", "move", "thumb", "sum"
GROUP, WEEK, FOUND, DRIFT = "group", "week", "found", "drift"
COMPETES, FREED, RELAXED, LATE = "competes", "freed", "relaxed", "late"
APART = frozenset((COMPETES, FREED, RELAXED, LATE))

BAR = 20
RUNS = 10
"""Runs in words that surely fit into their column; longer ones open in full under the line."""
TONES = {Weight.STOP: Tone.NEEDS_YOU, Weight.CAUTION: Tone.CAUTION, Weight.NOTE: Tone.QUIET}


class _Sheet(SheetPane):
    """A sheet about the variant at hand."""

    def put(self, shown: Shown) -> None:
        """Fill it, or say why there is nothing yet."""
        told = shown.here
        if told is None or told.answer is None:
            self.list.set_empty(told.trouble if told else WORKING)
            self.list.set_rows(())
            self.head.show(self.words, "")
            return
        first = None if self.list.rows else self.first_of(told.answer)
        self.list.set_rows(self.rows_of(told.answer, shown.studio), first)
        self.head.show(self.words, self.sum_of(told.answer, shown.studio))

    def first_of(self, answer: Answer) -> Hashable:  # noqa: ARG002
        """The line to stand on at first."""
        return None

    def rows_of(self, answer: Answer, studio: Studio) -> list[Row]:
        """Its rows."""
        raise NotImplementedError

    def sum_of(self, answer: Answer, studio: Studio) -> str:
        """What stands at the end of its head."""
        raise NotImplementedError


class PriceSheetPane(_Sheet):
    """The price line by line, where the money goes, what moves it, rules of thumb, findings."""

    words = "Price"

    def __init__(self) -> None:
        super().__init__("price")

    def columns(self) -> Iterable[Column]:
        """What, how it comes about, and the amount."""
        return (
            Column("", share=2, least=18),
            Column("", share=3, least=24),
            Column("amount", align=Align.DECIMAL, most=12),
        )

    def sum_of(self, answer: Answer, studio: Studio) -> str:
        """The currency that all amounts are in."""
        return "" if answer.price is None else studio.settings.currency

    def rows_of(self, answer: Answer, studio: Studio) -> list[Row]:
        """Every step of the price."""
        currency = studio.settings.currency
        if answer.price is None:
            words = Cell(answer.no_price, Tone.NEEDS_YOU)
            rows = [Row("none", (Cell("no price", Tone.NEEDS_YOU), words), detail=(words,))]
        else:
            rows = [
                *_price(answer.price, currency),
                *_drifts(answer.drift, studio.settings),
                *_pictures(answer.price, currency),
            ]
        found = findings_of(answer)
        if found:
            rows.append(Row("found", ("findings",), Tone.HEADING))
            rows += [_finding(f) for f in found]
        return rows


def _finding(finding: Finding) -> Row:
    tone = TONES[finding.weight]
    return Row(
        (FOUND, finding),
        (Cell(finding.weight.value, tone), Cell(finding.text)),
        detail=(Cell(finding.text, Tone.NORMAL),),
    )


def _price(priced: Priced, currency: str) -> Iterable[Row]:
    sheet = priced.sheet

    def line(at: int, side: str, found: PriceLine) -> Row:
        amount = money_figure(found.amount, currency)
        return Row((LINE, side, at), (found.label, Cell(found.how, Tone.QUIET), amount))

    yield Row("pays", ("what the customer pays",), Tone.HEADING)
    yield from (line(i, "charged", n) for i, n in enumerate(sheet.charged))
    yield _strong("total", "total", "", money_figure(sheet.total, currency))
    deposit = money_figure(sheet.deposit, currency)
    balance = money_figure(sheet.balance, currency)
    yield Row((SUM, "deposit"), ("of that as deposit", "", deposit))
    yield Row((SUM, "deposit", 2), ("and as balance", "", balance))
    yield Row("leaves", ("what it leaves",), Tone.HEADING)
    yield from (line(i, "leaves", n) for i, n in enumerate(sheet.leaves))
    loss = sheet.margin < 0
    share = "" if sheet.margin_share is None else f"{say.percent(sheet.margin_share)} of the price"
    margin = money_figure(sheet.margin, currency)
    yield _strong("margin", "loss" if loss else "margin", share, margin, needs_you=loss)
    if sheet.pay_per_hour is not None:
        words = "margin and hours together"
        yield _strong("pay", "an hour is paid", words, money_figure(sheet.pay_per_hour, currency))


def _drifts(found: tuple[Drift, ...], settings: Settings) -> Iterable[Row]:
    """What has changed since a quote was sent; it stands beside the quote, never in it."""
    if not found:
        return
    yield Row("drift", ("since the quote was sent",), Tone.HEADING)
    for each in found:
        then, now, more = order_say.drift_words(each, settings)
        words = Cell(f"{then}, now {now}", Tone.QUIET)
        yield Row((DRIFT, each), (each.label, words, Cell(more, Tone.CAUTION)))


def _strong(code: str, label: str, how: str, amount: str, *, needs_you: bool = False) -> Row:
    tone = Tone.NEEDS_YOU if needs_you else Tone.STRONG
    return Row((SUM, code), (Cell(label, tone), Cell(how, Tone.QUIET), Cell(amount, tone)))


def _pictures(priced: Priced, currency: str) -> Iterable[Row]:
    yield Row("goes", ("where the money goes",), Tone.HEADING)
    for at, part in enumerate(priced.parts):
        words = Cell(f"{bar(part.share, BAR):<{BAR}} {say.percent(part.share, 0)}", Tone.FOCUS)
        yield Row((PART, at), (part.label, words, money_figure(part.amount, currency)))
    most = max((m.more for m in priced.moves), default=None)
    if most:
        yield Row("moves", ("what moves the price: each a tenth dearer",), Tone.HEADING)
        for at, move in enumerate(priced.moves):
            words = Cell(bar(float(move.more / most), BAR), Tone.FOCUS)
            yield Row((MOVE, at), (move.label, words, f"+{money_figure(move.more, currency)}"))
    yield Row("thumbs", ("rules of thumb, only to compare",), Tone.HEADING)
    for at, thumb in enumerate(priced.thumbs):
        amount = money_figure(thumb.amount, currency)
        cells = (thumb.name, Cell(thumb.how, Tone.QUIET), amount)
        yield Row((THUMB, at), cells, Tone.QUIET, detail=(f"{thumb.name}: {thumb.how}",))


class YarnSheet(_Sheet):
    """Which runs the free stash works, what must be bought, and what is offered apart."""

    words = "Yarn"

    def __init__(self) -> None:
        super().__init__("yarn")

    def columns(self) -> Iterable[Column]:
        """Shade, runs, need, and where it comes from."""
        return (
            Column("shade", share=2, least=14),
            Column("runs", share=3, least=10, drop=1),
            Column("need", width=7, unit="g", align=Align.RIGHT),
            Column("from", width=16),
        )

    def sum_of(self, answer: Answer, studio: Studio) -> str:  # noqa: ARG002
        """Whether it is the last word."""
        return "still working out the lots ..." if answer.pending else ""

    def rows_of(self, answer: Answer, studio: Studio) -> list[Row]:
        """Runs by where their yarn comes from, then what else it touches."""
        rows: list[Row] = []
        cover = None
        for at, group in enumerate(run_groups(answer)):
            if group.cover is not cover:
                cover = group.cover
                rows.append(Row(("cover", cover), (COVERS[cover],), Tone.HEADING))
            rows.append(_group(at, group, answer, studio))
        if answer.competes:
            rows.append(Row("competes", ("it takes yarn from quotes and ideas",), Tone.HEADING))
            rows += [_competes(c, studio) for c in answer.competes]
        if answer.freed:
            rows.append(Row("freed", ("offered apart: if holds moved",), Tone.HEADING))
            rows += [_freed(f, studio) for f in answer.freed]
        if answer.relaxed:
            rows.append(Row("relaxed", ("offered apart: if each stripe took a lot",), Tone.HEADING))
            rows += [_relaxed(r, studio) for r in answer.relaxed]
        return rows


COVERS = {
    Cover.STASH: "the free stash works",
    Cover.ORDER: "on order",
    Cover.LATE: "on order, but later than asked",
    Cover.SHORT: "to buy, each in a new lot",
    Cover.UNKNOWN: "not known",
    Cover.DONE: "worked already",
    Cover.NONE: "not asked for",
}


def _figure(grams: Decimal) -> str:
    return say.grams(grams).removesuffix(" g")


def _shade(ref: ShadeRef, studio: Studio) -> Cell:
    shade = studio.library.shade.get(ref)
    return Cell(shade_name(studio, ref), patch=Patch(shade.colours if shade else ()))


def _competes(found: Competes, studio: Studio) -> Row:
    name = studio.project[found.project].name
    cells = (
        _shade(found.shade, studio),
        Cell(f"{name}, {found.stage.value}"),
        f"+{_figure(found.more_g)}",
        Cell(f"buys {say.balls(found.more_balls)} more", Tone.CAUTION),
    )
    text = competes_words(found, studio)
    return Row((COMPETES, found.project, found.shade), cells, detail=(text,))


def _freed(found: Freed, studio: Studio) -> Row:
    less = f"{say.balls(found.less_balls)} less"
    moves = Cell(f"{say.count(len(found.moves), 'hold')} moved", Tone.QUIET)
    cells = (_shade(found.shade, studio), moves, f"-{_figure(found.less_g)}", less)
    return Row((FREED, found.shade), cells, detail=(freed_words(found, studio),))


def _relaxed(found: Relaxed, studio: Studio) -> Row:
    less = f"{say.balls(found.less_balls)} less"
    slot = Cell(f"slot {found.slot}", Tone.QUIET)
    cells = (_shade(found.shade, studio), slot, f"-{_figure(found.less_g)}", less)
    return Row((RELAXED, found.slot, found.shade), cells, detail=(relaxed_words(found, studio),))


def _group(at: int, group: RunGroup, answer: Answer, studio: Studio) -> Row:
    short = group.cover is Cover.SHORT
    if group.cover is Cover.STASH:
        place = f"lot {group.lot}"
    elif short:
        place = say.balls(_balls(answer, group.shade))
    else:
        place = group.lot or ""
    return Row(
        (GROUP, at),
        (
            _shade(group.shade, studio),
            Cell(group.places, Tone.QUIET),
            _figure(group.need_g),
            Cell(place, Tone.NEEDS_YOU if short else None),
        ),
        detail=(group.places,) if len(group.places) > RUNS else (),
    )


def _balls(answer: Answer, shade: ShadeRef) -> int:
    return next((s.buy_balls for s in answer.buy if s.shade == shade), 0)


class WeeksSheet(_Sheet):
    """The weeks of handwork with the piece in them, and the booked pieces it would make late."""

    words = "Weeks"

    def __init__(self) -> None:
        super().__init__("weeks")

    def columns(self) -> Iterable[Column]:
        """The week, how full it is as a bar and in hours, and what the piece adds."""
        return (
            Column("week of", width=11),
            Column("taken ▒ by this piece", width=BAR + 1),
            Column("taken", width=7, unit="h", align=Align.RIGHT),
            Column("of", width=5, unit="h", align=Align.RIGHT),
            Column("adds", width=6, unit="h", align=Align.RIGHT),
        )

    def sum_of(self, answer: Answer, studio: Studio) -> str:  # noqa: ARG002
        """The day that can be promised."""
        return f"can be promised for {say.date(answer.promise.ready)}"

    def first_of(self, answer: Answer) -> Hashable:
        """The first week that it makes fuller."""
        return next(((WEEK, w.monday) for w in answer.weeks if w.added_min), None)

    def rows_of(self, answer: Answer, studio: Studio) -> list[Row]:
        """Pieces made late first, then week by week."""
        rows: list[Row] = []
        if answer.made_late:
            rows.append(Row("late", ("it would make late",), Tone.HEADING))
            rows += [_late(made, studio) for made in answer.made_late]
            rows.append(Row("weeks", ("the weeks",), Tone.HEADING))
        for week in answer.weeks:
            before, after = week_shares(week)
            added = week.added_min
            rows.append(
                Row(
                    (WEEK, week.monday),
                    (
                        Cell(say.date(week.monday), None if added else Tone.QUIET),
                        Cell(stacked(before, after, BAR), Tone.FOCUS if added else Tone.QUIET),
                        hours_figure(week.after_min),
                        Cell(hours_figure(week.there_min), Tone.QUIET),
                        f"+{hours_figure(added)}" if added > 0 else "",
                    ),
                    hint=week_words(week),
                )
            )
        return rows


def _late(made: MadeLate, studio: Studio) -> Row:
    name = studio.project[made.project].name
    cells = (
        say.date(made.ready),
        Cell(name, Tone.NEEDS_YOU),
        "",
        "",
        Cell(f"{made.after_days} d", Tone.NEEDS_YOU),
    )
    return Row((LATE, made.project), cells, detail=(late_words(made, studio),))
