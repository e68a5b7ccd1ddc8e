"""Booking, what ends it, frozen quotes, payments, and holds that a change would break."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core import booking, edits, quoting
from studio.core.answers import Cover, RunKind
from studio.core.edits.places import run_list, run_places
from studio.core.enquiry import Answer, ask, ground_of
from studio.core.model import (
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fringe,
    Length,
    OrderLine,
    Project,
    Purchase,
    Stage,
    Studio,
)
from studio.core.order_say import changed_words
from studio.core.payments import outstanding, pay, received, to_give_back
from studio.core.price_sheet import priced
from studio.core.reconcile import reconcile
from studio.core.trade_model import PaymentKind, StageDate
from studio.errors import EditRefusedError
from tests.core.small import piece as small_piece
from tests.core.test_used import house as small_house
from tests.core.trading import TODAY, WOOL, D, hold, lot, piece, studio

LATER = date(2027, 3, 9)


def answer_of(home: Studio, key: str) -> Answer:
    return ask(ground_of(home, TODAY, without=key), home.project[key])


def quoted(home: Studio, key: str = "new") -> Studio:
    price = answer_of(home, key).price
    assert price is not None
    return booking.send_quote(home, key, price, TODAY, date(2027, 4, 1))


def taken(home: Studio, key: str = "new", on: date = TODAY) -> Studio:
    return booking.accept(home, key, answer_of(home, key).plan, on)


def refused(words: str) -> pytest.RaisesExc[EditRefusedError]:
    return pytest.raises(EditRefusedError, match=words)


def claims(home: Studio, key: str = "new") -> list[Claim | None]:
    return [s.claim for s in home.project[key].stripes]


def test_a_quote_is_frozen_as_sent() -> None:
    home = quoted(studio(piece("new", ("A", 90, ""))))
    new = home.project["new"]
    quote = new.quote
    assert quote is not None
    assert (new.stage, new.reached) == (Stage.QUOTED, (StageDate(Stage.QUOTED, TODAY),))
    assert (quote.on, quote.valid_until) == (TODAY, date(2027, 3, 15))
    # Yarn 8.10, 10.5 h at 15, overhead 5, two payments at 0.30, parcel 6.90: 178.10. Less the 7.50
    # charged for the parcel, of which 3 % goes: 170.825, over 1 - 0.2 - 0.03: 221.85, so 222.
    assert (quote.price, quote.shipping, quote.total) == (D(222), D("7.50"), D("229.50"))
    assert quote.deposit == D("68.85")
    assert (quote.currency, quote.ready_by) == ("EUR", date(2027, 4, 1))
    amounts = {f.code: f.amount for f in quote.figures}
    assert amounts["yarn"] == D("8.10")
    assert amounts["hours"] == D("157.50")
    assert amounts["fee_of_the_total_with_tax"] == D("6.89")
    assert amounts["time"] == 630
    total = quote.price + quote.shipping
    spent = sum(
        (
            a
            for c, a in amounts.items()
            if c not in ("shipping_charged", "margin", "time", "rate", "cash")
        ),
        Decimal(0),
    )
    assert total - spent == amounts["margin"]


def test_drift_stands_beside_the_quote() -> None:
    home = quoted(studio(piece("new", ("A", 90, ""))))
    quote = home.project["new"].quote
    assert quote is not None
    dearer = edits.set_yarn(home, replace(WOOL, price=D("9.00")))
    answer = answer_of(dearer, "new")
    assert answer.price is not None
    at_quote = priced(answer.project, answer.plan, answer.demand, dearer, shown=quote.price)
    found = {d.code: (d.then, d.now, d.more) for d in quoting.drift(quote, at_quote, answer.price)}
    assert found["price"] == (D(222), D(233), D(11))
    assert found["yarn"] == (D("8.10"), D("16.20"), D("8.10"))
    assert found["margin"][2] == D("-8.10")
    assert found.keys() == {"price", "yarn", "margin"}
    assert dearer.project["new"].quote is quote
    assert quoting.drift(quote, at_quote) != ()
    same = answer_of(home, "new").price
    assert same is not None
    assert quoting.drift(quote, same, same) == ()


def test_accepting_turns_the_lots_into_holds_that_no_later_piece_takes() -> None:
    home = taken(studio(piece("new", ("A", 90, ""), ("B", 20, ""))))
    assert claims(home) == [hold("1"), None]  # the older of two lots that would do
    new = home.project["new"]
    assert (new.stage, new.booked) == (Stage.BOOKED, TODAY)
    assert new.reached == (StageDate(Stage.BOOKED, TODAY),)
    rush = piece("rush", ("A", 100, ""), stage=Stage.BOOKED, due=date(2027, 3, 2))
    after = reconcile(edits.add_project(home, rush)).plan
    assert [r.lot for r in after.projects["new"].runs] == ["1", None]
    assert [r.lot for r in after.projects["rush"].runs] == ["2"]


def test_border_and_fringe_are_held_too_and_pins_stay() -> None:
    pinned = Claim(ClaimKind.PIN, "1")
    new = piece(
        "new", ("A", 40, ""),
        border=Border("A", 2, Length(D(2)), claim=pinned, grams=D(20)),
        fringe=Fringe("A", 50, Length(D(20)), grams=D(10)),
    )  # fmt: skip
    home = taken(studio(new)).project["new"]
    assert home.border is not None
    assert home.fringe is not None
    assert home.border.claim == pinned
    assert home.fringe.claim == home.stripes[0].claim == hold("1")  # one lot for a customer


def test_a_mixed_stripe_is_held_only_where_its_row_pairs_agree() -> None:
    new = piece("new", ("A", 140, ""), mix=True)
    assert claims(taken(studio(new))) == [hold("1")]
    split = piece("new", ("A", 160, ""), mix=True)
    home = taken(studio(split))
    assert {r.lot for r in reconcile(home).plan.projects["new"].runs} == {"1", "2"}
    assert claims(home) == [None]


@pytest.mark.parametrize("end", [booking.cancel, booking.decline])
def test_what_ends_it_frees_its_yarn(end: object) -> None:
    home = studio(piece("new", ("A", 150, "")))
    if end is booking.cancel:
        home = booking.cancel(taken(home), "new", LATER)
        assert home.project["new"].reached[-1] == StageDate(Stage.CANCELLED, LATER)
    else:
        home = booking.decline(home, "new", LATER)
    assert claims(home) == [None]
    other = edits.add_project(home, piece("other", ("A", 150, "")))
    assert answer_of(other, "other").buy_balls == 0


def test_stages_go_forward_and_dates_do_not_go_back() -> None:
    home = taken(studio(piece("new", ("A", 90, ""))), on=LATER)
    for stage in (Stage.MAKING, Stage.FINISHING, Stage.DELIVERED):
        home = booking.move_on(home, "new", LATER)
        assert home.project["new"].stage is stage
    with refused("at stage 'delivered'"):
        booking.move_on(home, "new", LATER)
    again = taken(studio(piece("new", ("A", 90, ""))), on=LATER)
    with refused("reached its last stage on 9 Mar 2027"):
        booking.move_on(again, "new", TODAY)


def test_stock_sale_and_return() -> None:
    home = taken(studio(piece("fair", ("A", 90, ""), customer="")), "fair")
    for _ in range(3):
        home = booking.move_on(home, "fair", LATER)
    assert home.project["fair"].stage is Stage.IN_STOCK
    with refused("Say who buys"):
        booking.sell(home, "fair", " ", D(120), LATER)
    with refused("too many decimals"):
        booking.sell(home, "fair", "Ilva", D("120.005"), LATER)
    sold = booking.sell(home, "fair", "Ilva", D(120), LATER)
    assert (sold.project["fair"].stage, sold.project["fair"].price) == (Stage.DELIVERED, D(120))
    paid = pay(sold, "fair", PaymentKind.BALANCE, D(120), LATER)
    back = pay(booking.take_back(paid, "fair", LATER), "fair", PaymentKind.REFUND, D(120), LATER)
    fair = back.project["fair"]
    assert (fair.stage, fair.customer, received(fair)) == (Stage.IN_STOCK, "", D(0))


def test_a_piece_that_came_back_is_sold_again_once_its_money_is_settled() -> None:
    """Sold for 120, back, 100 given back and 20 kept, sold again for 90: 110 in all."""
    home = taken(studio(piece("fair", ("A", 90, ""), customer="")), "fair")
    for _ in range(3):
        home = booking.move_on(home, "fair", LATER)
    home = booking.sell(home, "fair", "Ilva", D(120), LATER)
    home = pay(home, "fair", PaymentKind.BALANCE, D(120), LATER)
    with refused("all that was paid counts for its price"):
        pay(home, "fair", PaymentKind.KEPT, D(20), LATER)
    home = booking.take_back(home, "fair", LATER)
    assert to_give_back(home.project["fair"]) == D(120)
    with refused("120.00 EUR was paid for Fair before it came back"):
        booking.sell(home, "fair", "Maren", D(90), LATER)
    home = pay(home, "fair", PaymentKind.REFUND, D(100), LATER)
    with refused("20.00 EUR was paid for Fair, so 21.00 EUR cannot be kept"):
        pay(home, "fair", PaymentKind.KEPT, D(21), LATER)
    home = pay(home, "fair", PaymentKind.KEPT, D(20), LATER)
    assert to_give_back(home.project["fair"]) == 0
    home = booking.sell(home, "fair", "Maren", D(90), LATER)
    assert outstanding(home.project["fair"]) == D(90)
    home = pay(home, "fair", PaymentKind.BALANCE, D(90), LATER)
    fair = home.project["fair"]
    assert (outstanding(fair), received(fair)) == (D(0), D(110))
    with refused("90.00 EUR was paid for Fair, so 91.00 EUR cannot be given back"):
        pay(home, "fair", PaymentKind.REFUND, D(91), LATER)


def test_a_deposit_may_be_kept_of_an_order_that_was_cancelled() -> None:
    home = quoted(studio(piece("new", ("A", 90, ""))))
    home = taken(home)
    home = pay(home, "new", PaymentKind.DEPOSIT, D("68.85"), TODAY)
    home = booking.cancel(home, "new", TODAY)
    assert to_give_back(home.project["new"]) == D("68.85")
    home = pay(home, "new", PaymentKind.KEPT, D("68.85"), TODAY)
    assert to_give_back(home.project["new"]) == 0
    assert received(home.project["new"]) == D("68.85")


def test_wrong_stages_and_dates_are_refused_in_words() -> None:
    home = studio(piece("new", ("A", 90, ""), due=date(2027, 2, 20)))
    with refused("due on 20 Feb 2027, which is past"):
        taken(home)
    ready = answer_of(home, "new")
    later = booking.accept(home, "new", ready.plan, TODAY, date(2027, 5, 1))
    assert later.project["new"].due == date(2027, 5, 1)
    with refused("to be booked it must be at 'idea' or 'quoted'"):
        booking.accept(later, "new", ready.plan, TODAY)
    with refused("to be cancelled"):
        booking.cancel(home, "new", TODAY)
    with refused("to be sold from stock"):
        booking.sell(home, "new", "Ilva", D(1), TODAY)
    assert ready.price is not None
    with refused("is past, so it cannot be promised"):
        booking.send_quote(home, "new", ready.price, TODAY, date(2027, 2, 1))


def test_payments_add_up_and_too_much_is_refused() -> None:
    home = quoted(studio(piece("new", ("A", 90, ""))))
    with refused("A deposit of 300.00 EUR is larger than the price of New, 229.50 EUR"):
        pay(home, "new", PaymentKind.DEPOSIT, D(300), TODAY)
    home = pay(home, "new", PaymentKind.DEPOSIT, D("68.85"), TODAY)
    assert outstanding(home.project["new"]) == D("160.65")
    with refused("160.65 EUR is left to pay"):
        pay(home, "new", PaymentKind.BALANCE, D("160.66"), TODAY)
    home = pay(home, "new", PaymentKind.BALANCE, D("160.65"), TODAY)
    assert outstanding(home.project["new"]) == 0
    with refused("cannot be given back"):
        pay(home, "new", PaymentKind.REFUND, D("229.51"), TODAY)
    home = pay(home, "new", PaymentKind.REFUND, D("29.50"), TODAY)
    assert received(home.project["new"]) == D(200)
    with refused("too many decimals"):
        pay(home, "new", PaymentKind.REFUND, D("0.001"), TODAY)
    with refused("more than 0"):
        pay(home, "new", PaymentKind.REFUND, D(0), TODAY)


@dataclass(frozen=True)
class Tried:
    """An edit made aside, and the promises it would break."""

    studio: Studio
    broken: tuple[booking.BrokenHold, ...]


def try_edit(home: Studio, edit: Callable[[Studio], Studio]) -> Tried:
    before = reconcile(home)
    after = edit(home)
    result = reconcile(after, before.kept)
    return Tried(after, booking.broken_holds(before.plan, result.plan))


def held_home() -> Studio:
    """Two booked pieces, the first on lot 1 and the second on lot 2."""
    return studio(
        piece("first", ("A", 120, "1"), stage=Stage.BOOKED, due=date(2027, 5, 1)),
        piece("second", ("A", 80, "2"), stage=Stage.BOOKED, due=date(2027, 6, 1)),
    )


def test_a_lighter_lot_breaks_its_hold_and_says_so_before() -> None:
    home = held_home()
    tried = try_edit(
        home, lambda s: replace(s, stash=replace(s.stash, lots=(lot("1", 2), lot("2", 2))))
    )
    (broken,) = tried.broken
    assert (broken.run.project, broken.run.kind, broken.lot) == ("first", RunKind.STRIPE, "1")
    assert broken.moves_to is None
    assert booking.broken_sentences(tried.broken, tried.studio) == (
        "First: stripe 1 is promised lot 1 of Wool Moss and would have to be bought anew.",
    )
    assert home.stash.lots[0].balls == 3


def test_a_broken_hold_that_finds_another_lot_names_it() -> None:
    third = replace(lot("3", 3), batches=(Batch(3),))
    home = studio(*held_home().projects, lots=(lot("1", 3), lot("2", 2), third))
    tried = try_edit(
        home, lambda s: replace(s, stash=replace(s.stash, lots=(lot("1", 2), lot("2", 2), third)))
    )
    (broken,) = tried.broken
    assert (broken.moves_to, tried.studio.project["first"].stripes[0].claim) == ("3", hold("1"))
    (said,) = booking.broken_sentences(tried.broken, tried.studio)
    assert "would have to move to lot 3" in said


def test_what_was_broken_before_is_not_said_again() -> None:
    light = replace(held_home(), stash=replace(held_home().stash, lots=(lot("1", 2), lot("2", 2))))
    assert reconcile(light).plan.projects["first"].runs[0].cover is Cover.SHORT
    idle = piece("idle", ("A", 10, ""))
    assert try_edit(light, lambda s: edits.add_project(s, idle)).broken == ()
    grown = try_edit(light, lambda s: edits.set_grams(s, "second", RunKind.STRIPE, 0, D(130)))
    assert [b.run.project for b in grown.broken] == ["second"]


def test_a_run_whose_promise_is_broken_may_grow_on_without_a_word() -> None:
    light = replace(held_home(), stash=replace(held_home().stash, lots=(lot("1", 2), lot("2", 2))))
    grown = try_edit(light, lambda s: edits.set_grams(s, "first", RunKind.STRIPE, 0, D(130)))
    assert grown.broken == ()


def test_a_change_that_breaks_nothing_says_nothing() -> None:
    tried = try_edit(held_home(), lambda s: edits.set_grams(s, "first", RunKind.STRIPE, 0, D(150)))
    assert tried.broken == ()


def test_yarn_bought_for_a_run_that_no_longer_covers_it_is_a_broken_promise() -> None:
    on_order = Claim(ClaimKind.ORDER, "p1")
    project: Project = piece("first", ("A", 120, ""), stage=Stage.BOOKED)
    project = replace(project, stripes=(replace(project.stripes[0], claim=on_order),))
    purchase = Purchase("p1", "Shop", date(2027, 4, 1), (OrderLine("wool", "10", 3),))
    home = studio(project, purchases=(purchase,))
    fewer = replace(purchase, lines=(OrderLine("wool", "10", 2),))
    tried = try_edit(home, lambda s: replace(s, stash=replace(s.stash, purchases=(fewer,))))
    (broken,) = tried.broken
    (said,) = booking.broken_sentences(tried.broken, tried.studio)
    assert said == "First: stripe 1 would be short of Wool Moss, though it is promised p1."
    assert not broken.moved


def test_runs_that_lose_the_same_promise_are_named_together() -> None:
    long = piece("long", *[("A", 20, "1")] * 5, ("B", 10, ""), stage=Stage.BOOKED)
    tried = try_edit(
        studio(long), lambda s: replace(s, stash=replace(s.stash, lots=(lot("1", 1), lot("2", 2))))
    )
    (said,) = booking.broken_sentences(tried.broken, tried.studio)
    assert said == (
        "Long: stripes 1-5 are promised lot 1 of Wool Moss and would have to move to lot 2."
    )


def test_runs_of_a_broken_promise_are_joined_as_one_says_them() -> None:
    stripe, border = RunKind.STRIPE, (RunKind.BORDER, 0)
    runs = [(stripe, 28), (stripe, 30), border]
    assert run_places(runs) == "stripes 29 and 31 and the border"
    assert run_places([(stripe, n) for n in (0, 2, 4, 5, 6)]) == "stripes 1, 3 and 5-7"
    assert run_places([border]) == "the border"
    assert run_list(runs) == "stripes 29, 31, the border"


@pytest.mark.parametrize(
    ("unread", "words"),
    [
        ("trade.toml", "prices and hours are not known"),
        ("studio.toml", "prices and hours are not known"),
        ("projects/other.toml", "which yarn is promised already is not known"),
        ("stash/wool.toml", "which yarn is promised already is not known"),
        ("yarns/wool.toml", "which yarn is promised already is not known"),
    ],
)
def test_nothing_is_promised_on_what_a_file_that_cannot_be_read_may_say(
    unread: str, words: str
) -> None:
    home = studio(piece("new", ("A", 90, "")))
    plan = answer_of(home, "new").plan
    lost = replace(home, unread=frozenset({unread}))
    with refused(f"{unread} could not be read.*{words}"):
        booking.accept(lost, "new", plan, TODAY)
    with refused(f"{unread} could not be read"):
        booking.to_stage(lost, "new", Stage.MAKING, plan, TODAY)


def test_what_has_nothing_to_do_with_a_piece_does_not_keep_it_from_being_booked() -> None:
    home = studio(piece("new", ("A", 90, "")))
    lost = replace(home, unread=frozenset({"customers.toml", "stash/silk.toml"}))
    assert taken(lost).project["new"].stage is Stage.BOOKED


@pytest.mark.parametrize("unread", ["trade.toml", "studio.toml"])
def test_no_price_is_made_of_rates_that_could_not_be_read(unread: str) -> None:
    home = studio(piece("new", ("A", 90, "")))
    answer = answer_of(replace(home, unread=frozenset({unread})), "new")
    assert answer.price is None
    assert answer.no_price.startswith(f"{unread} could not be read")


def test_a_quote_remembers_the_size_and_says_when_it_is_another() -> None:
    """Sizes are of the small studio: 100 stitches are 100 cm, 16 rows 20 cm."""
    home = small_house(small_piece("throw", "A6 B4 A6"))
    price = ask(ground_of(home, TODAY, without="throw"), home.project["throw"]).price
    assert price is not None
    home = booking.send_quote(home, "throw", price, TODAY, date(2027, 4, 1))
    quote = home.project["throw"].quote
    assert quote is not None
    sizes = {f.code: (f.amount, f.unit) for f in quote.figures if f.unit == "cm"}
    assert sizes == {"width": (D(100), "cm"), "length": (D(20), "cm")}
    plan = reconcile(home).plan.projects["throw"]
    assert not quoting.resized_since(quote, plan.size)
    longer = edits.set_rows(home, "throw", 0, 8)
    again = reconcile(longer)
    assert quoting.resized_since(quote, again.plan.projects["throw"].size)
    assert "another size" in changed_words(longer.project["throw"], again.plan.projects["throw"])
    demand = again.kept.worked["throw"].demand
    now = priced(longer.project["throw"], again.plan.projects["throw"], demand, longer)
    found = {d.code: d.more for d in quoting.drift(quote, now)}
    assert found["length"] == D("2.5")  # two rows of 1.25 cm
    # Other stripes are told as well as what they do to the size.
    words = changed_words(longer.project["throw"], again.plan.projects["throw"])
    assert "another size and has other stripes or shades" in words
    # A quote from before sizes were written down tells of no change in them.
    old = replace(quote, figures=tuple(f for f in quote.figures if f.unit != "cm"))
    assert not quoting.resized_since(old, again.plan.projects["throw"].size)
    assert "length" not in {d.code for d in quoting.drift(old, now)}


def test_a_quote_keeps_what_was_drawn_and_says_when_a_shade_is_another() -> None:
    home = quoted(studio(piece("new", ("A", 40, ""), ("B", 20, ""))))
    new = home.project["new"]
    assert new.quote is not None
    assert new.quote.design == quoting.design_of(new) == "A4 B4; A wool/10, B wool/20, C cotton/10"
    plan = reconcile(home).plan.projects["new"]
    assert changed_words(new, plan) == ""
    slots = (new.slots[0], replace(new.slots[1], shade="10"), *new.slots[2:])
    recoloured = replace(new, slots=slots)
    assert quoting.redesigned_since(new.quote, recoloured)
    assert changed_words(recoloured, plan) == (
        f"{new.name} has other stripes or shades than when its quote was sent: the paper shows "
        "the piece as it is now, at the price as it was sent."
    )
    # One from before the design was written down tells of no change in it.
    old = replace(new.quote, design="")
    assert changed_words(replace(recoloured, quote=old), plan) == ""
