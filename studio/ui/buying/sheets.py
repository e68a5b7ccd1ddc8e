"""The sheets of a purchase: what to buy, for which pieces, what stands beside it, the staples."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from studio.core import say
from studio.core.buying import words
from studio.core.buying.asking import PieceAsked, book_troubles
from studio.core.buying.compared import Compared, compared
from studio.core.buying.plan import PlanLine, PurchasePlan, SupplierOrder
from studio.core.buying.problem import Need
from studio.core.buying.question import Chosen
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import TooLittle
from studio.core.headline import money_figure
from studio.core.model import ShadeRef, Stage
from studio.ui.bars import bar
from studio.ui.beside import SheetPane
from studio.ui.buying.working import Told
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.view import View

WAY, LINE, PIECE, SAID, STAPLE = "way", "line", "piece", "said", "staple"
COMPARED = "compared"

BAR = 12
"""Cells of the bars that hold the ways to buy side by side: what the last column has at 80."""

WORKING = "working ..."


@dataclass(frozen=True)
class Shown:
    """All that the sheets are filled from."""

    view: View
    told: Told
    staples: tuple[StapleLine, ...]
    chosen: Chosen
    keys: Mapping[str, str]
    """The keys in force of the actions that the sheets name, by verb."""


class OrdersSheet(SheetPane):
    """What cannot be had or not in time, each supplier's order, then all ways side by side."""

    words = "What to buy"

    def __init__(self) -> None:
        super().__init__("orders")

    def columns(self) -> Iterable[Column]:
        """Shade, amount, price of a ball, cost, balls beyond need, what it is for."""
        return (
            Column("shade", share=3, least=15),
            Column("order", width=13, align=Align.RIGHT),
            Column("a ball", align=Align.DECIMAL, drop=2),
            Column("cost", align=Align.DECIMAL),
            Column("over", width=4, align=Align.RIGHT, drop=3),
            Column("for", share=2, least=12, drop=1),
        )

    def put(self, shown: Shown) -> None:
        """Fill it, or say why there is nothing."""
        told = shown.told
        currency = shown.view.settings.currency
        plan = told.plan
        if plan is None:
            self.list.set_empty(told.trouble or WORKING)
            self.list.set_rows(())
            self.head.show(self.words, "")
            self.explain(())
            return
        self.list.set_empty(_nothing(shown))
        rows = [*_ways(plan, shown.view), *_orders(plan, shown.view), *_compared(shown)]
        first = None if self.list.rows else next((r.key for r in rows if r.selectable), None)
        self.list.set_rows(rows, first)
        self.head.show(self.words, say.money(plan.landed, currency) if plan.orders else "")
        over = any(line.surplus for order in plan.orders for line in order.lines)
        marks = [f"amounts in {currency}"] if plan.orders else []
        marks += ["over: balls beyond need"] if over else []
        if plan.not_sold:
            marks.append(f"{shown.keys['suppliers']} opens suppliers and what they offer")
        self.explain([*filter(None, (told.trouble, _sure(plan, shown))), *marks])


def _nothing(shown: Shown) -> str:
    """Why nothing is to be bought, and what else might be."""
    words_now = "Nothing is short for these pieces: there is nothing to buy."
    if not shown.chosen.projects and Stage.IDEA not in shown.chosen.stages:
        words_now += f" {shown.keys['more']} looks at more stages: quotes, then ideas."
    if not shown.view.studio.suppliers:
        words_now += f" No supplier is known yet; {shown.keys['suppliers']} adds one."
    return words_now


def _shade(view: View, ref: ShadeRef) -> Cell:
    return Cell(view.shade_name(ref), patch=view.patch(ref, view.letters.get(ref, "")))


def _sure(plan: PurchasePlan, shown: Shown) -> str:
    """Where a cheaper one may still come, in a few words; nothing where none will."""
    if not plan.orders or plan.proved:
        return ""
    if shown.told.looking:
        return f"looking for a cheaper one; {shown.keys['stop']} stops it"
    return "stopped: a cheaper one may be there" if shown.told.stopped else "not proved"


def _ways(plan: PurchasePlan, view: View) -> Iterator[Row]:
    found = list(words.in_the_way(plan, view.studio))
    if not found:
        return
    yield Row("ways", ("not to be had, or not in time",), Tone.HEADING)
    late = {n.need: n for n in plan.late}
    for at, (need, text) in enumerate(found):
        says = f"{say.count(late[need].days, 'day')} late" if need in late else "nobody has it"
        yield Row(
            (WAY, at),
            (
                _shade(view, need.shade),
                Cell(says, Tone.NEEDS_YOU),
                "",
                "",
                "",
                words.piece_name(view.studio, need.project),
            ),
            detail=(Cell(text, Tone.NEEDS_YOU),),
        )


def _orders(plan: PurchasePlan, view: View) -> Iterator[Row]:
    currency = view.settings.currency
    for order in plan.orders:
        landed = say.money(order.landed, currency)
        head = f"{order.name}, there by {say.date(order.arrives)}: {landed}"
        yield Row(("order", order.supplier), (head,), Tone.HEADING)
        for at, line in enumerate(order.lines):
            yield _line(order, at, line, view)
        ship = "free" if order.free else money_figure(order.shipping, currency)
        detail = f"goods {money_figure(order.goods, currency)}, in all {landed}"
        yield Row(("shipping", order.supplier), ("shipping", "", "", ship), Tone.QUIET, (detail,))
    if len(plan.orders) > 1:
        # The head of the sheet says it too, but has no room in a narrow terminal.
        goods, ship = (money_figure(m, currency) for m in (plan.goods, plan.shipping))
        yield Row(
            ("in all",),
            ("in all", "", "", money_figure(plan.landed, currency)),
            detail=(f"goods {goods}, shipping {ship}",),
        )


def _line(order: SupplierOrder, at: int, line: PlanLine, view: View) -> Row:
    currency = view.settings.currency
    return Row(
        (LINE, order.supplier, at, line.shade),
        (
            _shade(view, line.shade),
            words.amount_words(line),
            money_figure(line.ball_price, currency),
            money_figure(line.cost, currency),
            str(line.surplus) if line.surplus else "",
            words.for_words(line, view.studio),
        ),
        detail=tuple(words.use_words(line, view.studio)),
        words=view.yarn_name(line.shade.yarn),
    )


def _compared(shown: Shown) -> Iterator[Row]:
    """The plan beside every other way to buy, as bars."""
    together, currency = shown.told.together, shown.view.settings.currency
    ways = compared(together, shown.view.studio) if together is not None else ()
    if ways:
        yield Row("compared", ("this plan beside other ways, in all",), Tone.HEADING)
    for at, way in enumerate(ways):
        tone = Tone.STRONG if way.is_plan else None
        drawn = Cell(bar(way.share, BAR), Tone.FOCUS if way.is_plan else Tone.QUIET)
        cost = Cell(money_figure(way.landed, currency), tone)
        cells = (Cell(way.label, tone), "", "", cost, "", drawn)
        yield Row((COMPARED, at), cells, detail=_against(way, currency))


def _against(way: Compared, currency: str) -> tuple[str, ...]:
    if way.is_plan:
        return ("goods and shipping of all the orders above",)
    more = f"{say.money(abs(way.more), currency)} {'dearer' if way.more > 0 else 'cheaper'}"
    return (f"{way.label}: {more if way.more else 'the same'}", *way.orders)


class PiecesSheet(SheetPane):
    """Every piece that needs yarn, and whether it is bought for."""

    words = "For which pieces"

    def __init__(self) -> None:
        super().__init__("pieces")

    def columns(self) -> Iterable[Column]:
        """Bought for or not, the piece, its stage, the balls it lacks, and by when."""
        return (
            Column("buy", width=3),
            Column("piece", share=1, least=18),
            Column("stage", width=9, drop=1),
            Column("lacks", width=5, align=Align.RIGHT),
            Column("yarn by", width=11, align=Align.RIGHT),
        )

    def put(self, shown: Shown) -> None:
        """A line for each piece."""
        told = shown.told
        pieces = sorted(told.pieces, key=lambda piece: not piece.balls)
        self.list.set_empty(WORKING if told.looking else "No piece needs yarn.")
        late = dict(words.late_pieces(told.plan, shown.view.studio)) if told.plan else {}
        self.list.set_rows(_piece(p, late.get(p.key, "")) for p in pieces)
        covered = [p for p in pieces if p.covered]
        chosen = words.chosen_words(shown.chosen)
        self.head.show(self.words, f"{chosen}: {len(covered)} of {len(pieces)}" if pieces else "")
        self.explain(("lacks: balls to buy",) if any(p.balls for p in pieces) else ())


def _piece(piece: PieceAsked, late: str) -> Row:
    lacks = bool(piece.balls)
    by = say.date(piece.by) if piece.by and lacks else ""
    return Row(
        (PIECE, piece.key),
        (
            "yes" if piece.covered else "no",
            piece.name,
            Cell(piece.stage.value, Tone.QUIET),
            str(piece.balls) if lacks else "",
            Cell(by, Tone.NEEDS_YOU) if late else by,
        ),
        Tone.NORMAL if piece.covered and lacks else Tone.QUIET,
        (Cell(late, Tone.NEEDS_YOU),) if late else (),
    )


class BesideSheet(SheetPane):
    """How sure the plan is, and what else could be done."""

    words = "Beside it"

    def __init__(self) -> None:
        super().__init__("beside")

    def columns(self) -> Iterable[Column]:
        """Sentences."""
        return (Column("", share=1, least=20),)

    def put(self, shown: Shown) -> None:
        """A line for each sentence; whole at hand."""
        told = shown.told
        nothing = "What else could be done is told here once there is something to order."
        self.list.set_empty(WORKING if told.looking else nothing)
        rows = []
        for at, (tone, text, more) in enumerate(sentences(shown)):
            whole = (text,) if len(text) > self.list.size.width - 3 else ()
            rows.append(Row((SAID, at), (Cell(text, tone),), detail=(*whole, *more)))
        self.list.set_rows(rows)
        self.head.show(self.words, "")


Said = tuple[Tone, str, tuple[str, ...]]
"""A sentence, how loudly it is said, and what belongs to it."""


def sentences(shown: Shown) -> Iterator[Said]:
    """What stands beside a plan: how sure it is, what else could be done, faults of the offers."""
    plan, studio = shown.told.plan, shown.view.studio
    if plan is not None and plan.orders:
        yield _proof(plan, shown)
        for text in words.aside_words(plan, studio):
            yield Tone.NORMAL, text, ()
    yield from _lots(shown)
    for text in book_troubles(studio):
        yield Tone.NEEDS_YOU, text, ()


def _proof(plan: PurchasePlan, shown: Shown) -> Said:
    told = shown.told
    if told.looking:
        gap = told.gap
        most = (f"At most {say.percent(gap)} to gain.",) if gap is not None and gap < 1 else ()
        stop = f"{shown.keys['stop']} stops it"
        return Tone.FOCUS, f"Looking for a cheaper one, {told.seconds} s; {stop}.", most
    if told.stopped:
        return Tone.CAUTION, words.stopped_words(plan), (f"{shown.keys['stop']} looks on.",)
    text = words.proof_words(plan)
    return Tone.GOOD if plan.proved else Tone.CAUTION, f"{text[0].upper()}{text[1:]}.", ()


def _lots(shown: Shown) -> Iterator[Said]:
    together, studio = shown.told.together, shown.view.studio
    if together is None:
        return
    for text in words.together_words(together, studio):
        moves = tuple(words.move_words(m, studio) for m in together.plan.moves)
        yield Tone.NORMAL, text, moves
    if together.offer is not None:
        moves = tuple(words.move_words(m, studio) for m in together.offer.moves)
        yield Tone.CAUTION, words.offer_words(together.offer, studio), moves


class StaplesSheet(SheetPane):
    """The shades she always keeps."""

    words = "Staples"

    def __init__(self) -> None:
        super().__init__("staples")

    def columns(self) -> Iterable[Column]:
        """Shade, use a year, free, on order, reorder point, order size and where."""
        return (
            Column("shade", share=2, least=12),
            Column("a year", align=Align.DECIMAL),
            Column("free", align=Align.DECIMAL),
            Column("ordered", width=7, align=Align.RIGHT, drop=2),
            Column("reorder at", width=10, align=Align.RIGHT),
            Column("order", width=5, align=Align.RIGHT),
            Column("from", share=1, least=8, drop=1),
        )

    def put(self, shown: Shown) -> None:
        """A line for each staple, those to reorder first; why no figure is told where none is."""
        self.list.set_empty(
            f"No shade is marked as a staple. {shown.keys['staple']} marks the shade at hand."
        )
        staples = sorted(shown.staples, key=lambda line: not line.due)
        self.list.set_rows(_staple(line, shown.view) for line in staples)
        due = [line for line in shown.staples if line.due]
        self.head.show(self.words, "time to reorder" if due else "")
        order = f"{shown.keys['add']} orders the one at hand"
        self.explain(("all figures in balls", order) if shown.staples else ())


def _staple(line: StapleLine, view: View) -> Row:
    shade, detail = _shade(view, line.shade), tuple(words.staple_words(line))
    if isinstance(line.use, TooLittle):
        quiet = Cell("not told", Tone.QUIET)
        return Row((STAPLE, line.shade), (shade, quiet), detail=detail)
    year = say.number(line.use.balls, 1)
    standing = line.standing
    if standing is None:
        return Row((STAPLE, line.shade), (shade, year), detail=detail)
    return Row(
        (STAPLE, line.shade),
        (
            shade,
            year,
            Cell(say.number(standing.free_balls, 1), Tone.NEEDS_YOU if line.due else None),
            str(standing.ordered_balls),
            str(standing.point.balls),
            str(standing.size.balls),
            line.supplier,
        ),
        detail=detail,
    )


def shade_at(key: object, needs: Iterable[Need]) -> ShadeRef | None:
    """The shade of the line at hand, where it is about one."""
    if not isinstance(key, tuple):
        return None
    if key[0] in (LINE, STAPLE):
        return key[-1] if isinstance(key[-1], ShadeRef) else None
    if key[0] == WAY:
        return list(needs)[key[1]].shade
    return None
