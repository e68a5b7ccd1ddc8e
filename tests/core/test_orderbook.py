"""The order book: rows, their order, money and totals."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core.calendar import NoHoursError
from studio.core.model import Stage, Studio
from studio.core.orderbook import OrderBook, Section, order_book
from studio.core.reconcile import reconcile
from studio.core.trade_model import (
    Customer,
    Payment,
    PaymentKind,
    Quote,
    StageDate,
    WorkHours,
)
from tests.core.trading import TODAY, TRADE, D, lot, piece, studio

QUOTE = Quote(
    date(2027, 2, 1), date(2027, 2, 15), D(200), D(10), D(0), D(210), D(63), "EUR"
)  # fmt: skip


def paid(amount: str, kind: PaymentKind = PaymentKind.DEPOSIT) -> Payment:
    return Payment(kind, D(amount), date(2027, 2, 20))


def home() -> Studio:
    pieces = (
        piece("late", ("A", 40, "1"), stage=Stage.MAKING, due=date(2027, 3, 5), quote=QUOTE,
              payments=(paid("63"),), reached=(StageDate(Stage.MAKING, date(2027, 2, 21)),)),
        piece("soon", ("A", 40, "1"), stage=Stage.BOOKED, due=date(2027, 3, 4), quote=QUOTE),
        piece("idea", ("A", 40, "")),
        piece("asked", ("A", 40, ""), stage=Stage.QUOTED, quote=QUOTE),
        piece("fair", ("A", 40, ""), stage=Stage.IN_STOCK, price=D(150), customer=""),
        piece("sold", ("A", 40, ""), stage=Stage.DELIVERED, price=D(99), customer="Walk-in",
              reached=(StageDate(Stage.IN_STOCK, date(2027, 1, 2)),
                       StageDate(Stage.DELIVERED, date(2027, 2, 2))),
              payments=(paid("99", PaymentKind.BALANCE),)),
        piece("off", ("A", 40, ""), stage=Stage.CANCELLED, quote=QUOTE,
              payments=(paid("63"), paid("20", PaymentKind.REFUND))),
    )  # fmt: skip
    found = studio(*pieces, lots=(lot("1", 9),))
    return replace(found, customers=(Customer("ilva", "Ilva Q.", ("ilva@example.org",)),))


def book(found: Studio) -> OrderBook:
    return order_book(found, reconcile(found).plan.projects, TODAY)


def test_rows_stand_by_section_and_by_when_they_are_done() -> None:
    rows = book(home()).rows
    assert [(r.project, r.section) for r in rows] == [
        ("soon", Section.HELD),
        ("late", Section.HELD),
        ("asked", Section.QUOTES),
        ("fair", Section.STOCK),
        ("sold", Section.DONE),
        ("off", Section.OVER),
    ]


def test_a_row_says_dates_lateness_and_money() -> None:
    rows = {r.project: r for r in book(home()).rows}
    soon, late = rows["soon"], rows["late"]
    # 630 minutes each at 120 a day; drying and transit take three days after the work.
    assert (soon.done_by, soon.ready, soon.late_days) == (date(2027, 3, 8), date(2027, 3, 11), 7)
    assert (late.done_by, late.late_days) == (date(2027, 3, 15), 13)
    assert (soon.customer, rows["sold"].customer) == ("Ilva Q.", "Walk-in")
    assert (late.total, late.deposit, late.deposit_paid) == (D(210), D(63), True)
    assert (late.received, late.outstanding) == (D(63), D(147))
    assert (soon.deposit_paid, soon.outstanding) == (False, D(210))
    assert (late.since, soon.since) == (date(2027, 2, 21), None)
    assert rows["asked"].expired
    assert not soon.expired
    assert rows["sold"].from_stock
    assert rows["fair"].done_by is None


def test_latest_starts_say_how_much_is_past() -> None:
    rows = {r.project: r for r in book(home()).rows}
    # 'soon' is to end on Monday 1 March, 'late' on the 2nd: 120 and 240 minutes there, 630 needed
    # for each, the second of them begun 390 minutes before today and the first 1,020.
    starts = {k: rows[k].latest_start for k in ("soon", "late")}
    assert [s.short_min for s in starts.values() if s] == [1020, 390]


def test_totals() -> None:
    totals = book(home()).totals
    assert (totals.held, totals.late, totals.stock) == (2, 2, 1)
    assert (totals.agreed, totals.received, totals.outstanding) == (D(420), D(63), D(357))
    assert (totals.stock_price, totals.owed_back) == (D(150), D(43))


def test_a_hand_set_order_is_followed() -> None:
    by_hand = replace(home(), trade=replace(TRADE, hand_order=("late",)))
    assert [r.project for r in book(by_hand).rows][:2] == ["late", "soon"]


def test_an_empty_book_and_a_week_without_hours() -> None:
    empty = book(studio())
    assert (empty.rows, empty.totals.agreed) == ((), Decimal(0))
    idle = replace(TRADE, hours=WorkHours((0,) * 7))
    with pytest.raises(NoHoursError):
        book(replace(home(), trade=idle))


def test_money_of_a_piece_that_came_back_is_to_be_given_back() -> None:
    back = piece("back", ("A", 10, ""), stage=Stage.IN_STOCK, customer="",
                 payments=(paid("63"),))  # fmt: skip
    kept = replace(back, key="kept", payments=(paid("63"), paid("63", PaymentKind.KEPT)))
    home = studio(back, kept)
    found = order_book(home, reconcile(home).plan.projects, TODAY)
    rows = {r.project: r for r in found.rows}
    assert (rows["back"].to_give_back, rows["kept"].to_give_back) == (D(63), D(0))
    assert found.totals.owed_back == D(63)
