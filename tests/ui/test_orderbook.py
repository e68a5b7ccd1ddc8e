"""The order book: its lines, its weeks, and what is done with a piece from the keyboard."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from studio.core import edits
from studio.core.booking import send_quote
from studio.core.enquiry import ask, ground_of
from studio.core.model import Stage, Studio
from studio.core.trade_model import Figure, Payment, PaymentKind, Quote, StageDate
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.message import Words
from studio.ui.orderbook.screen import OrderBookScreen
from studio.ui.orderbook.sheets import FIGURE
from studio.ui.orderbook.sheets import QUOTE as QUOTE_ROW
from tests.core import trading
from tests.core.trading import D, lot, piece
from tests.ui import small

TODAY = trading.TODAY
QUOTE = Quote(date(2027, 2, 1), date(2027, 2, 15), D(200), D(10), D(0), D(210), D(63), "EUR",
              assumed=("The time is rough.",))  # fmt: skip


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)


def studio() -> Studio:
    """Two booked pieces of 10.5 h each at 2 h a day, an expired quote, stock, a cancelled one."""
    return trading.studio(
        piece("first", ("A", 40, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12), quote=QUOTE,
              booked=TODAY, reached=(StageDate(Stage.BOOKED, TODAY),)),
        piece("second", ("B", 40, "2"), stage=Stage.BOOKED, due=date(2027, 3, 20)),
        piece("asked", ("A", 40, ""), stage=Stage.QUOTED, quote=QUOTE),
        piece("fair", ("A", 5, ""), stage=Stage.IN_STOCK, customer="", price=D(150)),
        lots=(lot("1", 9), lot("2", 9, "20")),
    )  # fmt: skip


async def opened(app: StripewrightApp, pilot: Pilot[None], key: str) -> OrderBookScreen:
    app.stand_on_piece(key)
    await pilot.press("ctrl+o")
    await small.settled(app, pilot)
    await pilot.pause()
    assert isinstance(app.screen, OrderBookScreen)
    return app.screen


def line(screen: OrderBookScreen, key: str) -> str:
    rows = screen.book.list
    return rows.row_text(next(row for row in rows.rows if row.key == key))


def sheet(screen: OrderBookScreen, name: str) -> str:
    found = screen.sheet(name).list
    return "\n".join(found.row_text(row) for row in found.rows)


def now(app: StripewrightApp, key: str) -> Any:
    return app.workshop.snapshot.studio.project[key]


async def test_the_book_its_weeks_and_an_order_set_by_hand(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (200, 50), studio()) as (app, pilot):
        screen = await opened(app, pilot, "first")
        sections = [r.key[1].value for r in screen.book.list.rows
                    if isinstance(r.key, tuple)]  # fmt: skip
        assert sections == ["promised and in hand", "quotes", "in stock"]
        # 10.5 h at 2 h a day from Monday the 1st: done on the 8th, three days to hand it over.
        assert line(screen, "first") == (
            "First  ilva  booked  1 Mar 2027  210.00  210.00  12 Mar 2027  8 Mar 2027  "
            "1 day to spare  2 Mar 2027"
        )
        assert "quoted, expired" in line(screen, "asked")
        assert "2 promised" in screen.book.head.render().plain
        weeks = sheet(screen, "calendar").splitlines()
        assert weeks[0].startswith("1 Mar 2027  ████████████████  10.0  10.0  First 10 h")
        assert "First 0.5 h, Second 9.5 h" in weeks[1]
        # One more hour a week is only tried.
        await pilot.press("plus")
        await pilot.pause()
        marks = screen.sheet("calendar").query_one(".marks").content  # type: ignore[attr-defined]
        assert "With 1 h more a week: 0 late as now" in str(marks)
        await pilot.press("minus")
        assert app.workshop.snapshot.undo_label is None
        # Set by hand, what it costs is said; undo takes it back.
        await pilot.press("ctrl+down")
        await pilot.pause()
        assert app.workshop.snapshot.studio.trade.hand_order == ("second", "first")
        assert "6 days late" in line(screen, "first")
        marks = screen.book.query_one(".marks").content  # type: ignore[attr-defined]
        assert "greatest lateness +7 days" in str(marks)
        assert screen.project == now(app, "first")
        await pilot.press("ctrl+z")
        await pilot.pause()
        assert "1 day to spare" in line(screen, "first")
        # Why: the days and the money.
        await pilot.press("question_mark")
        await pilot.pause()
        shown: Any = app.screen
        assert isinstance(shown, Words)
        assert "Ready to hand over" in shown.text
        assert shown.text.rstrip().endswith("210.00 EUR")


async def test_payments_stages_cancelling_and_papers(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "first")
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        (paid,) = now(app, "first").payments
        assert (paid.kind, paid.amount, paid.on) == (PaymentKind.DEPOSIT, D(63), TODAY)
        assert "147.00" in line(screen, "first")
        assert "147.00 EUR is still to come" in screen.say_line.words
        # More than is left is refused, in words.
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press("tab", *"500", "enter")
        await pilot.pause()
        assert "147.00 EUR is left to pay for First" in screen.say_line.words
        assert len(now(app, "first").payments) == 1
        await pilot.press("greater_than_sign")
        await pilot.pause()
        assert now(app, "first").stage is Stage.MAKING
        assert now(app, "first").reached[-1] == StageDate(Stage.MAKING, TODAY)
        # The paper names what was agreed.
        screen.action_paper()
        await pilot.pause()
        await pilot.pause()
        shown: Any = app.screen
        assert shown.title_words == "Order confirmation: First"
        assert "210.00 EUR" in shown.text
        assert "147.00 EUR" in shown.text
        await pilot.press("escape", "delete")
        await pilot.pause()
        # On which day is asked; today stands there.
        await pilot.press("enter")
        await pilot.pause()
        assert now(app, "first").stage is Stage.CANCELLED
        assert now(app, "first").stripes[0].claim is None
        assert "63.00 EUR was received" in screen.say_line.words
        # What was received is given back from the menu: the only thing left besides the paper.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert [p.kind.value for p in now(app, "first").payments] == ["deposit", "refund"]
        # Nobody owes anything for an order that was called off.
        assert screen.say_line.words.endswith(" EUR given back.")


async def test_a_quote_drifts_beside_itself_and_stock_is_sold_and_comes_back(
    tmp_path: Path,
) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "asked")
        assert "The time is rough." in sheet(screen, "order")
        # 40 g of Wool at 4.50 for 50 g are 3.60; the quote knew of no yarn.
        assert "Yarn  0.00  3.60  +3.60" in sheet(screen, "order")
        assert now(app, "asked").quote == QUOTE
        app.stand_on_piece("fair")
        await pilot.pause()
        assert screen.project == now(app, "fair")
        await pilot.press("greater_than_sign")
        await pilot.pause()
        assert "cannot be done" in screen.say_line.words
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"Walk", "tab", *"140", "enter")
        await pilot.pause()
        sold = now(app, "fair")
        assert (sold.stage, sold.customer, sold.price) == (Stage.DELIVERED, "Walk", Decimal(140))
        assert [p.amount for p in sold.payments] == [Decimal(140)]
        assert "delivered" in line(screen, "fair")
        # It comes back a few days later: the menu, with the day that is typed.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press(*"5 Mar", "enter")
        await pilot.pause()
        assert now(app, "fair").stage is Stage.IN_STOCK
        assert now(app, "fair").reached[-1] == StageDate(Stage.IN_STOCK, date(2027, 3, 5))
        assert now(app, "fair").customer == ""
        assert "140.00 EUR was received for it" in screen.say_line.words
        # The money is given back, and it is sold again.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert [p.kind for p in now(app, "fair").payments] == [
            PaymentKind.BALANCE, PaymentKind.REFUND]  # fmt: skip
        await pilot.press("f3")
        assert app.screen is app.bench


async def test_each_figure_of_the_paper_is_followed_back(tmp_path: Path) -> None:
    quote = replace(
        QUOTE,
        figures=(
            Figure("shipping_charged", "Shipping charged", D(10)),
            Figure("yarn", "Yarn", D(60)),
            Figure("hours", "Her hours", D(105)),
            Figure("margin", "Margin", D(45)),
            Figure("time", "Time", D(420), "min"),
            Figure("rate", "Rate for an hour", D(15)),
        ),
    )
    asked = piece("asked", ("A", 40, ""), stage=Stage.QUOTED, quote=quote)
    async with small.opened(tmp_path, (80, 24), trading.studio(asked)) as (app, pilot):
        screen = await opened(app, pilot, "asked")
        screen.go_to_sheet("order")
        await pilot.pause()
        said = {}
        for code in ("until", "price", "shipping", "total", "deposit", "balance", "size", "fibres"):
            if code == "size":  # made by hand: no swatch, so no size that could be followed
                assert not screen.list.go_to((QUOTE_ROW, code))
                continue
            assert screen.list.go_to((QUOTE_ROW, code)), code
            await pilot.press("question_mark")
            await pilot.pause()
            assert isinstance(app.screen, Words)
            assert app.screen.title_words == "The quote of Asked"
            said[code] = " ".join(app.screen.text.split())
            assert said[code].startswith("Ctrl+T tries it as it stands today.")
            await pilot.press("escape")
            await pilot.pause()
        assert "15 Feb 2027" in said["until"]
        assert (
            "Shipping charged -10.00 EUR Yarn 60.00 EUR Her hours 105.00 EUR Margin 45.00 EUR "
            "Price, as sent on 1 Feb 2027 200.00 EUR" in said["price"]
        )
        assert "In all 210.00 EUR Of all it is 30 %" in said["deposit"]
        assert "Balance 147.00 EUR" in said["balance"]
        assert "Wool, as expected 40 g of that wool, 80 % 32 g" in said["fibres"]
        # A figure behind the price has its own sum.
        assert screen.list.go_to((FIGURE, quote.figures[2]))
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert "Time 420 min Rate for an hour 15.00 EUR" in " ".join(app.screen.text.split())


async def test_of_a_cancelled_order_a_part_is_kept(tmp_path: Path) -> None:
    paid = Payment(PaymentKind.DEPOSIT, D(63), TODAY)
    over = piece("over", ("A", 40, ""), stage=Stage.CANCELLED, quote=QUOTE, payments=(paid,))
    async with small.opened(tmp_path, (120, 36), trading.studio(over)) as (app, pilot):
        screen = await opened(app, pilot, "over")
        assert "63.00 EUR to give back" in screen.book.head.render().plain
        screen.action_keep()
        await pilot.pause()
        await pilot.pause()
        await pilot.press(*"20", "enter")
        await pilot.pause()
        assert now(app, "over").payments[-1] == Payment(PaymentKind.KEPT, D(20), TODAY)
        assert "kept, for good" in sheet(screen, "order")
        assert "43.00 EUR to give back" in screen.book.head.render().plain
        screen.action_refund()
        await pilot.pause()
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert "to give back" not in screen.book.head.render().plain
        assert now(app, "over").payments[-1].amount == D(43)


async def test_a_week_without_hours_is_told_calmly(tmp_path: Path) -> None:
    whole = studio()
    hours = replace(whole.trade.hours, weekday_min=(0, 0, 0, 0, 0, 0, 0))
    whole = replace(whole, trade=replace(whole.trade, hours=hours))
    async with small.opened(tmp_path, (80, 24), whole) as (app, pilot):
        screen = await opened(app, pilot, "first")
        assert "There is no hour of handwork in the week" in screen.say_line.words
        assert screen.book.list.rows == ()
        await pilot.press("plus", "tab", "ctrl+up", "question_mark", "escape")
        await pilot.pause()
        assert app.screen is app.bench


async def test_a_piece_is_made_for_stock_and_sold_from_it_by_the_keyboard(tmp_path: Path) -> None:
    whole = trading.studio(piece("fair", ("A", 40, ""), customer=""), lots=(lot("1", 9),))
    async with small.opened(tmp_path, (120, 36), whole) as (app, pilot):
        app.stand_on_piece("fair")
        # An idea is booked as it is tried; nobody has ordered it, so nothing is to come.
        await pilot.press("ctrl+t")
        for _ in range(300):
            await pilot.pause(0.01)
            if getattr(app.screen, "answer", None) is not None:
                break
        await pilot.press("ctrl+k")
        for _ in range(300):
            await pilot.pause(0.01)
            if isinstance(app.screen, OrderBookScreen):
                break
        screen = app.screen
        assert isinstance(screen, OrderBookScreen)
        await pilot.pause()
        assert now(app, "fair").stripes[0].claim.on == "1"
        assert "to come" not in screen.book.head.render().plain
        await pilot.press("greater_than_sign", "greater_than_sign", "greater_than_sign")
        await pilot.pause()
        assert now(app, "fair").stage is Stage.IN_STOCK
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"Walk", "tab", *"140", "tab", "tab", *"4 Mar", "enter")
        await pilot.pause()
        sold = now(app, "fair")
        assert [(r.stage, r.on) for r in sold.reached] == [
            (Stage.BOOKED, TODAY),
            (Stage.MAKING, TODAY),
            (Stage.FINISHING, TODAY),
            (Stage.IN_STOCK, TODAY),
            (Stage.DELIVERED, date(2027, 3, 4)),
        ]
        assert [(p.amount, p.on) for p in sold.payments] == [(D(140), date(2027, 3, 4))]
        assert "from stock" in line(screen, "fair")


async def test_a_quote_is_declined_or_booked_from_the_book(tmp_path: Path) -> None:
    open_quote = replace(QUOTE, valid_until=date(2027, 3, 30))
    whole = trading.studio(
        piece("one", ("A", 40, ""), stage=Stage.QUOTED, quote=open_quote),
        piece("two", ("A", 60, ""), stage=Stage.QUOTED, quote=open_quote),
        lots=(lot("1", 9),),
    )
    async with small.opened(tmp_path, (120, 36), whole) as (app, pilot):
        screen = await opened(app, pilot, "one")
        await pilot.press("delete")
        await pilot.pause()
        await pilot.press(*"3 Mar", "enter")
        await pilot.pause()
        assert now(app, "one").reached[-1] == StageDate(Stage.DECLINED, date(2027, 3, 3))
        assert now(app, "one").quote == open_quote
        screen.book.list.go_to("two")
        await pilot.pause()
        await pilot.press("greater_than_sign")
        for _ in range(200):
            await pilot.pause(0.01)
            if now(app, "two").stage is Stage.BOOKED:
                break
        assert now(app, "two").stripes[0].claim.on == "1"
        assert now(app, "two").quote == open_quote
        assert "1 run held from the stash" in screen.say_line.words


async def test_a_piece_that_was_changed_since_its_quote_is_told_beside_it(tmp_path: Path) -> None:
    new = piece("new", ("A", 40, ""), ("C", 20, ""))
    home = trading.studio(new)
    price = ask(ground_of(home, trading.TODAY, without="new"), new).price
    assert price is not None
    home = send_quote(home, "new", price, trading.TODAY)
    async with small.opened(tmp_path, (80, 24), home) as (app, pilot):
        screen = await opened(app, pilot, "new")
        screen.go_to_sheet("order")
        await pilot.pause()
        keys = [row.key for row in screen.list.rows]
        assert "steady" in keys
        assert "changed" not in keys
        # The same yarn and the same price, in another order: no figure tells of it.
        assert app.edit("moved", lambda s: edits.move_stripe(s, "new", 0, 1), "new")
        await pilot.pause()
        rows = {row.key: row for row in screen.list.rows}
        assert "steady" not in rows
        assert "drift" not in rows
        assert "other stripes or shades" in str(rows["changed"].detail)
