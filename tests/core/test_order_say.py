"""The order book in words; its hand-set order and its doings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from studio.core import order_say
from studio.core.model import Stage, Studio
from studio.core.order_say import Doing
from studio.core.reasons import Step
from studio.core.reconcile import reconcile
from studio.core.trade_model import Payment, PaymentKind, Quote, WorkHours
from studio.errors import EditRefusedError
from tests.core.trading import TODAY, TRADE, D, lot, piece, studio

QUOTE = Quote(TODAY, date(2027, 3, 15), D(200), D(10), D(0), D(210), D(63), "EUR")


def home(*more: object) -> Studio:
    """Two booked pieces of 10.5 h, at 2 h a day: five and a bit days each."""
    first = piece("first", ("A", 40, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12), quote=QUOTE)
    second = piece("second", ("B", 40, ""), stage=Stage.BOOKED, due=date(2027, 3, 20))
    lots = (lot("1", 9), lot("2", 9, "20"))
    return studio(first, second, *more, lots=lots)  # type: ignore[arg-type]


def desk(found: Studio) -> order_say.Desk:
    return order_say.desk_of(found, reconcile(found).plan.projects, TODAY)


def test_the_totals_are_said() -> None:
    stock = piece("fair", ("A", 5, ""), stage=Stage.IN_STOCK, customer="")
    assert order_say.totals_words(desk(home(stock)), "EUR") == (
        "2 promised, 210.00 EUR to come, 1 in stock"
    )


def test_a_hand_set_order_says_what_it_costs_and_is_dropped_again() -> None:
    found = home()
    plans = reconcile(found).plan.projects
    order = order_say.working_order(found, plans, TODAY)
    assert order == ("first", "second")
    by_hand = order_say.moved(found, order, "second", -1)
    assert by_hand.trade.hand_order == ("second", "first")
    cost = desk(by_hand).hand
    assert cost is not None
    # By due date: first done on Mon 8 Mar, handed over on the 11th, 1 day early; second on the
    # 18th, 2 days early. The other way round the first is 6 days late.
    assert (cost.greatest_more, cost.total_more) == (7, 6)
    assert order_say.hand_words(cost) == (
        "The order is set by hand: 2 pieces done on other days, greatest lateness +7 days, "
        "lateness in all +6 days."
    )
    assert order_say.by_due_date(by_hand) == found
    assert order_say.by_due_date(found) is found


def test_what_is_not_held_has_no_place_in_the_working_order() -> None:
    with pytest.raises(EditRefusedError, match="Only what is booked"):
        order_say.moved(home(), ("first", "second"), "idea", 1)


def test_more_hours_bring_the_last_day_nearer() -> None:
    found = replace(home(), trade=replace(TRADE, hours=WorkHours((60, 60, 60, 60, 60, 0, 0))))
    plans = reconcile(found).plan.projects
    more = order_say.more_hours(found, plans, TODAY, 5)
    assert more is not None
    assert more.late[1] < more.late[0]
    assert more.last_day[1] is not None
    assert more.last_day[0] is not None
    assert more.last_day[1] < more.last_day[0]
    assert order_say.more_words(more).startswith("With 5 h more a week: ")
    assert order_say.more_hours(found, plans, TODAY, 500) is None


@pytest.mark.parametrize(
    ("stage", "more", "wanted"),
    [
        (Stage.QUOTED, {"quote": QUOTE}, [Doing.TRY, Doing.BOOK, Doing.PAY, Doing.QUOTE_PAPER,
                                         Doing.WRITE_QUOTE, Doing.CUSTOMER, Doing.DECLINE]),
        (Stage.BOOKED, {"quote": QUOTE, "booked": TODAY},
         [Doing.ON, Doing.PAY, Doing.CONFIRMATION, Doing.WRITE_CONFIRMATION, Doing.QUOTE_PAPER,
          Doing.WRITE_QUOTE, Doing.CUSTOMER, Doing.CANCEL]),
        (Stage.IN_STOCK, {}, [Doing.SELL, Doing.USED, Doing.CLOSING]),
        (Stage.DELIVERED, {"price": D(50), "payments": (
            Payment(PaymentKind.BALANCE, D(50), TODAY),)},
         [Doing.REFUND, Doing.TAKE_BACK, Doing.USED, Doing.CLOSING]),
        (Stage.CANCELLED, {}, []),
    ],
)  # fmt: skip
def test_only_what_the_stage_allows_can_be_done(
    stage: Stage, more: dict[str, object], wanted: list[Doing]
) -> None:
    assert list(order_say.doings(piece("one", ("A", 5, ""), stage=stage, **more))) == wanted


def test_the_next_payment_is_what_is_left_of_the_deposit_then_the_balance() -> None:
    paid = (Payment(PaymentKind.DEPOSIT, D(20), TODAY),)
    one = piece("one", ("A", 5, ""), stage=Stage.BOOKED, quote=QUOTE, payments=paid)
    assert order_say.next_payment(one) == (PaymentKind.DEPOSIT, D(43))
    paid = (Payment(PaymentKind.DEPOSIT, D(63), TODAY),)
    assert order_say.next_payment(replace(one, payments=paid)) == (PaymentKind.BALANCE, D(147))


def test_the_sums_end_in_what_is_shown() -> None:
    found = home()
    book = desk(found)
    row = next(r for r in book.book.rows if r.project == "first")
    steps = order_say.why_days(row, found.project["first"], book, found)
    # 10.5 h at 2 h a day, to be done on Tue 9 Mar: from Tue 2 Mar on, and second is due later.
    assert steps[-1] == Step("To be begun by, or it or one due after it is late", "2 Mar 2027")
    assert steps[-2].figure == order_say.slack_cell(row) == "1 day to spare"
    money = order_say.why_money(found.project["first"], "EUR")
    assert money[-1].figure == "210.00 EUR"


def test_the_book_says_what_is_wrong_with_hours_and_days() -> None:
    hours = replace(TRADE.hours, weekday_min=(120, 420, 120, 120, 120, 0, 0), daily_limit_min=300)
    past = piece("late", ("A", 5, "1"), stage=Stage.BOOKED, due=date(2027, 2, 20))
    found = studio(past, trade=replace(TRADE, hours=hours))
    over, due = order_say.finding_words(desk(found), found)
    assert over.startswith("Tuesdays have more handwork than the daily limit of 5 h;")
    assert due == "Late: It was due on 20 Feb 2027, which is past. Agree another date."
