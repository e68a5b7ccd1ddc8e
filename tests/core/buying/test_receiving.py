"""From plan to order, from parcel to shelf: what passes where, and what is refused."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.answers import Cover
from studio.core.buying.decide import purchase_plan
from studio.core.buying.delivery import Bag, Delivery, Fate, ShareBy
from studio.core.buying.handing import Passing
from studio.core.buying.offers import Offer, Supplier, flat, is_money
from studio.core.buying.papers import as_csv, as_html, as_text, order_paper
from studio.core.buying.placing import place_orders
from studio.core.buying.question import HELD, needs_of, purchase_problem
from studio.core.buying.receiving import Received, receive
from studio.core.model import (
    Claim,
    ClaimKind,
    Lot,
    LotRule,
    Method,
    OrderLine,
    Project,
    Purchase,
    ShadeRef,
    Stage,
    Stash,
    Stripe,
    Studio,
)
from studio.core.prices import paid
from studio.core.reconcile import reconcile
from studio.core.shades import ORDER_PREFIX
from studio.core.spreadsheet import CsvForm
from studio.errors import EditRefusedError
from tests.core.buying.making import D, seller, steps
from tests.core.editing import piece, studio, yarn

MOSS, CLAY = ShadeRef("wool", "10"), ShadeRef("wool", "20")
ON = Claim(ClaimKind.ORDER, "p9")
TODAY = date(2026, 12, 1)
GRAMS = {"throw/stripe/0": 2000, "throw/stripe/2": 1500, "wrap/stripe/0": 1000}


def ordered(*lines: OrderLine, projects: tuple[Project, ...] = ()) -> Studio:
    """A studio with the purchase p9 open, and two pieces whose runs of Moss wait for it."""
    base = studio(*(projects or (throw(), wrap())))
    purchase = Purchase("p9", "north", date(2026, 12, 20), lines or (OrderLine(*MOSS, 10, D(4)),))
    return replace(base, stash=Stash(base.stash.lots, (purchase,)))


def throw(rule: LotRule | None = None) -> Project:
    made = piece("throw", Stripe("A", 8, ON), Stripe("B", 4), Stripe("A", 6, ON))
    slots = (replace(made.slots[0], lots=rule), *made.slots[1:])
    return replace(made, slots=slots)


def wrap() -> Project:
    return replace(piece("wrap", Stripe("A", 4, ON)), due=date(2027, 2, 1))


def parcel(*bags: Bag, **more: object) -> Delivery:
    base = Delivery("p9", date(2026, 12, 18), bags)
    return Delivery(**{**{f: getattr(base, f) for f in base.__dataclass_fields__}, **more})


def moss(code: str, balls: int, fate: Fate = Fate.GOOD) -> Bag:
    return Bag(*MOSS, code, balls, fate)


def lot(after: Received, code: str, ref: ShadeRef = MOSS) -> Lot:
    return next(n for n in after.studio.stash.by_shade[ref] if n.code == code)


def claims(after: Studio, key: str = "throw") -> list[Claim | None]:
    return [s.claim for s in after.project[key].stripes]


def refused(delivery: Delivery, *words: str, before: Studio | None = None) -> None:
    before = before or ordered()
    with pytest.raises(EditRefusedError) as found:
        receive(before, delivery, GRAMS)
    assert found.value.text.endswith(".")
    for word in words:
        assert word in found.value.text


def test_a_whole_delivery_of_one_lot_passes_every_hold() -> None:
    after = receive(ordered(), parcel(moss("77", 10)), GRAMS)
    assert lot(after, "77").balls == 10
    assert claims(after.studio) == [Claim(ClaimKind.HOLD, "77"), None, Claim(ClaimKind.HOLD, "77")]
    assert claims(after.studio, "wrap") == [Claim(ClaimKind.HOLD, "77")]
    assert after.studio.stash.purchases == ()
    assert after.left == ()
    assert after.split == ()
    assert {t.passing for t in after.touched} == {Passing.HELD}
    assert [t.project for t in after.touched] == ["throw", "wrap"]
    assert after.touched[0].text == (
        "Throw, stripe 1 and stripe 3: now held in lot 77 of Wool Moss."
    )


def test_two_dye_lots_keep_a_slot_that_asks_for_one_together() -> None:
    # The throw's slot needs 350 g of one lot, the wrap 100 g: 8 balls of 50 g serve the throw.
    after = receive(ordered(), parcel(moss("77", 2), moss("78", 8)), GRAMS)
    assert after.split == (MOSS,)
    assert {c.on for c in claims(after.studio) if c} == {"78"}
    assert claims(after.studio, "wrap") == [Claim(ClaimKind.HOLD, "77")]


def test_what_fits_no_lot_is_short_again_and_named() -> None:
    after = receive(ordered(), parcel(moss("77", 5), moss("78", 5)), GRAMS)
    assert claims(after.studio) == [None, None, None]
    short = next(t for t in after.touched if t.project == "throw")
    assert short.passing is Passing.SHORT
    assert short.text == (
        "Throw, stripe 1 and stripe 3: short of Wool Moss again. It needs 350 g of one lot, and "
        "no lot that came has more than 250 g left."
    )


def test_by_stripe_the_two_lots_serve_both_stripes() -> None:
    before = ordered(projects=(throw(LotRule.BY_STRIPE), wrap()))
    after = receive(before, parcel(moss("77", 5), moss("78", 5)), GRAMS)
    found = claims(after.studio)
    assert found[0] is not None
    assert found[2] is not None
    assert {found[0].on, found[2].on} == {"77", "78"}


def test_the_first_in_choosing_order_is_served_first() -> None:
    after = receive(ordered(), parcel(moss("77", 7), rest_comes=False), GRAMS)
    by = {t.project: t.passing for t in after.touched}
    assert by == {"throw": Passing.HELD, "wrap": Passing.SHORT}
    assert claims(after.studio, "wrap") == [None]
    assert after.notes == ("3 balls of Wool Moss will not come; the order is closed.",)
    assert after.studio.stash.purchases == ()


def test_lots_are_dealt_so_that_all_are_served_where_they_can_be() -> None:
    # 300 g and 400 g for 200, 200 and 300 g: the tightest lot for the first would leave the last.
    pieces = tuple(
        replace(piece(key, Stripe("A", 4, ON)), due=date(2027, 1, day))
        for key, day in (("one", 1), ("two", 2), ("three", 3))
    )
    before = ordered(OrderLine(*MOSS, 14, D(4)), projects=pieces)
    grams = {"one/stripe/0": 2000, "two/stripe/0": 2000, "three/stripe/0": 3000}
    after = receive(before, parcel(moss("77", 6), moss("78", 8)), grams)
    assert {t.project: t.lot for t in after.touched} == {"one": "78", "two": "78", "three": "77"}


def test_a_part_delivery_leaves_the_rest_open() -> None:
    later = date(2027, 1, 9)
    after = receive(ordered(), parcel(moss("77", 7), rest_arrives=later), GRAMS)
    (rest,) = after.studio.stash.purchases
    assert (rest.key, rest.arrives, rest.lines) == ("p9", later, (OrderLine(*MOSS, 3, D(4)),))
    assert claims(after.studio, "wrap") == [ON]
    again = receive(after.studio, parcel(moss("79", 3)), GRAMS)
    assert claims(again.studio, "wrap") == [Claim(ClaimKind.HOLD, "79")]
    assert again.studio.stash.purchases == ()


def test_shades_of_which_nothing_came_keep_their_claims() -> None:
    before = ordered(OrderLine(*MOSS, 10, D(4)), OrderLine(*CLAY, 4, D(4)))
    after = receive(before, parcel(Bag(*CLAY, "5", 4)), GRAMS)
    assert claims(after.studio) == claims(before)
    assert after.touched == ()


def test_nothing_comes_at_all_and_the_order_is_closed() -> None:
    after = receive(ordered(), parcel(rest_comes=False), GRAMS)
    assert claims(after.studio) == [None, None, None]
    assert "does not come" in after.touched[0].text
    assert after.studio.stash.lots == ordered().stash.lots


def test_a_damaged_ball_is_not_booked_and_stays_outstanding() -> None:
    after = receive(ordered(), parcel(moss("77", 9), moss("77", 1, Fate.DAMAGED)), GRAMS)
    assert lot(after, "77").balls == 9
    assert after.left == (OrderLine(*MOSS, 1, D(4)),)
    assert after.notes[0] == "Damaged, and not in the stash: 1 ball of Wool Moss."


def test_a_wrong_ball_is_not_booked() -> None:
    after = receive(ordered(), parcel(moss("77", 10), Bag(*CLAY, "3", 2, Fate.WRONG)), GRAMS)
    assert after.notes == (
        "Not ordered, and not in the stash: 2 balls of Wool Clay. "
        "Send back, or add to the stash as a lot of its own.",
    )
    assert sum(n.balls for n in after.studio.stash.by_shade[CLAY]) == 5


def test_a_dearer_price_is_told_and_goes_onto_the_lot() -> None:
    after = receive(ordered(), parcel(moss("77", 10), prices=((MOSS, D("4.40")),)), GRAMS)
    (change,) = after.prices
    assert (change.ordered, change.paid) == (D(4), D("4.40"))
    assert lot(after, "77").batches[0].price == D("4.40")


def test_more_balls_of_a_lot_that_is_there_are_a_batch_of_it() -> None:
    after = receive(ordered(), parcel(moss("1", 10)), GRAMS)
    assert [b.balls for b in lot(after, "1").batches] == [3, 10]
    assert lot(after, "1").parts_g == (D(20), D(31))


def test_a_lost_code_is_a_lot_of_its_own() -> None:
    bags = (Bag(*MOSS, "", 4, code_lost=True), Bag(*MOSS, "", 6, code_lost=True))
    after = receive(ordered(), parcel(*bags), GRAMS)
    marks = [r.code for r in after.lots]
    assert marks == ["no code 2026-12-18", "no code 2026-12-18 bag 2"]
    assert all(lot(after, m).code_lost for m in marks)


def test_yarn_without_dye_lots_joins_its_one_lot() -> None:
    before = ordered(OrderLine("plain", "10", 4, D(2)))
    after = receive(before, parcel(Bag("plain", "10", "", 4)), {})
    assert [r.code for r in after.lots] == ["any"]
    assert lot(after, "any", ShadeRef("plain", "10")).balls == 9


@pytest.mark.parametrize(
    ("delivery", "words"),
    [
        (parcel(moss("77", 11)), "10 balls of Wool Moss are still to come and 11 are typed in"),
        (parcel(moss("77", 6), moss("78", 5, Fate.DAMAGED)), "11 are typed in"),
        (parcel(moss("77", 0)), "1 or more"),
        (parcel(moss("", 4)), "no dye lot"),
        (parcel(Bag(*CLAY, "4", 1)), "not on this order"),
        (parcel(), "Nothing is typed in"),
        (parcel(moss("77", 1), shipping=D("1.005")), "shipping is 1.005"),
        (parcel(moss("77", 1), tax=D(-1)), "tax is -1"),
        (parcel(moss("77", 1), prices=((CLAY, D(1)),)), "not on this order"),
        (parcel(moss("77", 1), prices=((MOSS, D("NaN")),)), "price of Wool Moss"),
        (parcel(moss("buy", 1)), "cannot be called"),
        (replace(parcel(moss("77", 1)), purchase="p8"), "no open purchase 'p8'"),
    ],
)
def test_what_cannot_have_come_is_refused_and_nothing_changes(
    delivery: Delivery, words: str
) -> None:
    before = ordered()
    refused(delivery, words, before=before)
    assert before == ordered()


def test_an_amount_of_any_size_is_looked_at() -> None:
    assert is_money(D("1E+300"), "EUR")
    assert [is_money(D(text), "EUR") for text in ("0", "1.10", "1.100", "1.105")] == [
        True, True, True, False
    ]  # fmt: skip


def test_one_ball_too_many_is_said_in_the_singular() -> None:
    before = ordered(OrderLine(*MOSS, 1, D(4)))
    refused(parcel(moss("7", 2)), "1 ball of Wool Moss is still to come", before=before)


def test_shipping_by_value_and_by_weight() -> None:
    # 10 balls at 4.00 and 10 at 1.00, all of 50 g, share 5.00.
    before = ordered(OrderLine(*MOSS, 10, D(4)), OrderLine(*CLAY, 10, D(1)))
    bags = (moss("77", 10), Bag(*CLAY, "5", 10))
    by_value = receive(before, parcel(*bags, shipping=D(5)), GRAMS)
    assert lot(by_value, "77").batches[0].shipping == D("0.40")
    assert lot(by_value, "5", CLAY).batches[0].shipping == D("0.10")
    by_weight = receive(before, parcel(*bags, shipping=D(5), share_by=ShareBy.WEIGHT), GRAMS)
    assert lot(by_weight, "77").batches[0].shipping == D("0.25")


def test_landed_price_is_what_the_books_then_use() -> None:
    after = receive(ordered(), parcel(moss("77", 10), shipping=D(7), tax=D(8)), GRAMS)
    price = paid(after.studio.library, after.studio.stash, lot(after, "77"))
    assert price.per_g == (D(40) + 7 + 8) / 10 / 50


@given(
    counts=st.lists(st.integers(1, 9), min_size=1, max_size=4),
    shipping=st.integers(0, 2000),
    tax=st.integers(0, 2000),
    by=st.sampled_from(list(ShareBy)),
    price=st.sampled_from([None, "0", "3.33", "4.10"]),
)
def test_every_cent_of_a_parcel_is_on_some_ball(
    counts: list[int], shipping: int, tax: int, by: ShareBy, price: str | None
) -> None:
    each = None if price is None else D(price)
    before = ordered(OrderLine(*MOSS, sum(counts), each))
    bags = [moss(f"n{at}", n) for at, n in enumerate(counts)]
    after = receive(
        before,
        parcel(*bags, shipping=D(shipping) / 100, tax=D(tax) / 100, share_by=by),
        GRAMS,
    )
    new = [b for r in after.lots for b in lot(after, r.code).batches]
    assert sum(b.balls for b in new) == sum(counts)
    landed = sum((b.balls * ((b.price or 0) + b.shipping) for b in new), Decimal(0))
    assert landed == sum(counts) * (each or 0) + D(shipping + tax) / 100
    assert all(b.shipping == b.shipping.quantize(D("0.01")) for b in new)


def test_balls_are_neither_lost_nor_made_over_part_deliveries() -> None:
    now = ordered(OrderLine(*MOSS, 6, D(4)), OrderLine(*MOSS, 4, D(3)))
    first = receive(now, parcel(moss("77", 7)), GRAMS)
    # Six at 4.00 are served before four at 3.00.
    assert [(b.balls, b.price) for b in lot(first, "77").batches] == [(6, D(4)), (1, D(3))]
    second = receive(first.studio, parcel(moss("77", 3)), GRAMS)
    assert lot(second, "77").balls == 10
    assert second.studio.stash.purchases == ()


def by_hand() -> Studio:
    """One booked piece whose grams are entered, short of Moss and Clay, and no purchases."""
    made = piece("throw", Stripe("A", 8, grams=D(300)), Stripe("B", 4, grams=D(400)))
    base = studio(replace(made, method=Method.BY_HAND, stage=Stage.BOOKED))
    return replace(base, stash=Stash((), ()))


def shop() -> tuple[Supplier, tuple[Offer, ...]]:
    return (
        seller("north", 5, shipping=flat(D("4.90"))),
        (Offer("north", "wool", steps((1, "4.50"), (10, "4.20")), 2),),
    )


def test_from_shortfall_to_orders_to_lots() -> None:
    from studio.core.buying.offers import OfferBook

    before = by_hand()
    seen = reconcile(before)
    outcomes = tuple(seen.kept.outcomes.values())
    needs = needs_of(outcomes, before.project, HELD)
    short = {s.shade: s.held_balls for s in seen.plan.shortfalls}
    assert short == {MOSS: 6, CLAY: 8}
    supplier, offers = shop()
    book = OfferBook((supplier,), offers)
    plan = purchase_plan(purchase_problem(needs, book, before.library, "EUR", TODAY))
    assert plan.landed == 14 * D("4.50") + D("4.90")
    placed = place_orders(before, plan.orders, seen.plan.projects, TODAY)
    assert placed.untied == ()
    assert placed.purchases == ("north-2026-12-01",)
    after = reconcile(placed.studio)
    assert {r.cover for p in after.plan.projects.values() for r in p.runs} == {Cover.ORDER}
    assert not after.plan.promised_short
    bags = (Bag(*MOSS, "77", 6), Bag(*CLAY, "5", 8))
    runs = {r.ref.key: int(r.need_g * 10) for p in after.plan.projects.values() for r in p.runs}
    delivery = Delivery(placed.purchases[0], TODAY + timedelta(days=5), bags, D("4.90"))
    got = receive(placed.studio, delivery, runs)
    last = reconcile(got.studio)
    assert {r.cover for p in last.plan.projects.values() for r in p.runs} == {Cover.STASH}
    assert not any(code.startswith(ORDER_PREFIX) for code in (r.code for r in got.lots))


def test_a_second_order_of_a_day_has_a_key_of_its_own() -> None:
    before = by_hand()
    seen = reconcile(before)
    needs = needs_of(seen.kept.outcomes.values(), before.project)
    from studio.core.buying.offers import OfferBook

    supplier, offers = shop()
    question = purchase_problem(needs, OfferBook((supplier,), offers), before.library, "EUR", TODAY)
    orders = purchase_plan(question).orders
    once = place_orders(before, orders, seen.plan.projects, TODAY)
    twice = place_orders(once.studio, orders, seen.plan.projects, TODAY)
    assert twice.purchases == ("north-2026-12-01-2",)
    # The runs are on the first order by now, and stay there.
    assert len(twice.untied) == 2


def test_papers_of_an_order_name_no_customer_and_ask_for_one_dye_lot() -> None:
    from studio.core.buying.offers import OfferBook

    before = by_hand()
    odd = replace(yarn(), name='\u202eWool "<soft>" & thick')
    library = replace(before.library, yarns=(odd, *before.library.yarns[1:]))
    before = replace(before, library=library)
    needs = needs_of(reconcile(before).kept.outcomes.values(), before.project)
    supplier, offers = shop()
    question = purchase_problem(needs, OfferBook((supplier,), offers), library, "EUR", TODAY)
    (order,) = purchase_plan(question).orders
    paper = order_paper(order, library, before.settings, TODAY)
    text, page = as_text(paper), as_html(paper)
    for found in (text, page, as_csv(paper, CsvForm())):
        assert "Ilva" not in found
        assert "Throw" not in found
    assert text.splitlines()[0] == "Order from Test to North, 1 Dec 2026"
    assert 'Wool "<soft>" & thick, Clay (20)  4 packs of 2  at 4.50 EUR  36.00 EUR' in text
    assert "Total 67.90 EUR" in text
    assert "from one dye lot" in text
    assert "&lt;soft&gt;" in page
    assert "<soft>" not in page
    rows = list(csv.reader(as_csv(paper, CsvForm(";", ",")).splitlines(), delimiter=";"))
    assert [r[5:] for r in rows[1:]] == [
        ["6", "4,50", "27,00", "all of one lot"],
        ["8", "4,50", "36,00", "all of one lot"],
    ]


def test_an_order_knows_that_goods_of_it_came() -> None:
    base = ordered()
    (open_,) = base.stash.purchases
    assert not open_.part_came
    (rest,) = receive(base, parcel(moss("77", 4)), GRAMS).studio.stash.purchases
    assert rest.part_came
    # What cannot be used brought no goods.
    damaged = moss("77", 4, Fate.DAMAGED)
    (rest,) = receive(base, parcel(damaged), GRAMS).studio.stash.purchases
    assert not rest.part_came


def test_a_parcel_says_how_long_its_supplier_really_took() -> None:
    base = ordered()
    shop = seller("north", 5)
    (open_,) = base.stash.purchases
    sent = replace(open_, ordered=date(2026, 12, 7))
    base = replace(base, suppliers=(shop,), stash=Stash(base.stash.lots, (sent,)))
    # Ordered on the 7th, on the table on the 18th.
    first = receive(base, parcel(moss("77", 4)), GRAMS).studio
    assert first.suppliers[0].seen_days == (11,)
    rest = replace(parcel(moss("78", 6)), on=date(2026, 12, 21))
    assert receive(first, rest, GRAMS).studio.suppliers[0].seen_days == (11, 14)
    # Without the day of the order, before it, or years after it, nothing is learnt.
    for when in (None, date(2026, 12, 19), date(2016, 12, 7)):
        odd = replace(base, stash=Stash(base.stash.lots, (replace(sent, ordered=when),)))
        assert receive(odd, parcel(moss("77", 4)), GRAMS).studio.suppliers == (shop,)
    many = replace(shop, seen_days=tuple(range(12)))
    kept = receive(replace(base, suppliers=(many,)), parcel(moss("77", 4)), GRAMS).studio
    assert kept.suppliers[0].seen_days == (*range(1, 12), 11)
