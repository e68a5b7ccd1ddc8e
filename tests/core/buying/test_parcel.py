"""What is typed at the parcel: shades, dye lots, what is still to come, and what it means."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core.answers import Weight
from studio.core.buying.delivery import Bag, Delivery, Fate
from studio.core.buying.offers import Shipping, WeightTier, flat
from studio.core.buying.parcel import (
    begun,
    by_arrival,
    expected_shipping,
    left_of,
    line_states,
    lot_entry,
    lot_typed,
    meaning,
    need_dg_of,
    new_batches,
    overdue,
    price_now,
    prices_with,
    purchase_words,
    received_words,
    shade_typed,
    supplier_of,
    waiting,
)
from studio.core.buying.receiving import receive
from studio.core.model import (
    Library,
    LotRef,
    OrderLine,
    Purchase,
    Shade,
    ShadeRef,
    Stash,
)
from studio.core.reconcile import reconcile
from tests.core.buying.making import D, seller
from tests.core.buying.test_receiving import CLAY, GRAMS, MOSS, moss, ordered, parcel
from tests.core.editing import studio, yarn

BAND = "4006381333931"
"""A sound barcode: 3 x (0+6+8+3+3+3) + (4+0+3+1+3+9) = 69 + 20 = 89, so its last digit is 1."""


def purchase(*lines: OrderLine, **more: object) -> Purchase:
    base = Purchase("p9", "north", date(2026, 12, 20), lines or (OrderLine(*MOSS, 10, D(4)),))
    return replace(base, **more)  # type: ignore[arg-type]


def library() -> Library:
    moss_too = Shade("10", "Moss", ("#667755",), barcodes=(BAND,))
    silk = yarn("silk", shades=(moss_too, Shade("30", "Clay", ("#aa6644",))))
    return replace(studio().library, yarns=(yarn(), silk))


@pytest.mark.parametrize("entry", ["Clay", "clay ", "20", "Wool Clay", "wool/20"])
def test_a_shade_of_the_order_is_found_by_name_or_code(entry: str) -> None:
    order = purchase(OrderLine(*MOSS, 2), OrderLine(*CLAY, 3))
    assert shade_typed(library(), order, entry) == CLAY


def test_shades_of_the_order_come_first_and_any_other_by_its_own_name() -> None:
    # Both yarns have a Moss; only one of them is on the order.
    assert shade_typed(library(), purchase(), "Moss") == MOSS
    assert shade_typed(library(), purchase(), "30") == ("silk", "30")
    assert shade_typed(library(), purchase(), "silk moss") == ("silk", "10")


def test_a_scanned_band_finds_its_shade_in_whatever_groups_it_is_typed() -> None:
    for entry in (BAND, "4006381-333931", "4 006381 333931"):
        assert shade_typed(library(), purchase(), entry) == ("silk", "10")


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("", "Scan the barcode of the ball band, or type the shade."),
        ("  ", "Scan the barcode of the ball band, or type the shade."),
        ("Ochre", "No shade is called Ochre: scan the band, or type its name."),
        ("12345", "No shade is called 12345: scan the band, or type its name."),
        ("Clay", "More than one shade is called Clay: add its yarn."),
        ("96385074", "The barcode 96385074 is sound, but no shade has it: type the shade."),
    ],
)
def test_what_is_no_shade_is_told_in_one_sentence(entry: str, says: str) -> None:
    # 96385074: 3 x (9+3+5+7) + (6+8+0) = 72 + 14 = 86, so the check digit is 4.
    with pytest.raises(ValueError, match=r"\.$") as found:
        shade_typed(library(), purchase(), entry)
    assert str(found.value) == says


def test_a_mistyped_band_says_what_its_last_digit_would_be() -> None:
    with pytest.raises(ValueError, match="its last digit would be 1"):
        shade_typed(library(), purchase(), "4006381333932")


def test_a_dye_lot_is_typed_as_it_stands_or_as_lost_or_none() -> None:
    assert lot_typed(" 22-B ") == ("22-B", False)
    assert lot_typed("?") == ("", True)
    assert lot_typed("-") == ("", False)
    # Eight digits may be a dye lot, and so may thirteen that do not check.
    assert lot_typed("96385074") == ("96385074", False)
    assert lot_typed("6291041500214") == ("6291041500214", False)
    with pytest.raises(ValueError, match="the number of a barcode"):
        lot_typed("6291041500213")
    assert (lot_entry("22-B", False), lot_entry("", True)) == ("22-B", "?")
    with pytest.raises(ValueError, match="Type the dye lot of the ball band"):
        lot_typed("  ")


def test_lines_of_one_shade_are_served_in_order_and_only_by_good_balls() -> None:
    order = purchase(OrderLine(*MOSS, 4, D(4)), OrderLine(*CLAY, 2), OrderLine(*MOSS, 6, D(3)))
    typed = parcel(moss("77", 5), moss("78", 2, Fate.DAMAGED), Bag(*CLAY, "5", 1))
    assert [(s.ref, s.typed, s.left) for s in line_states(order, typed)] == [
        (MOSS, 4, 0),
        (CLAY, 1, 1),
        (MOSS, 1, 5),
    ]
    assert left_of(order, typed, MOSS) == 5
    assert left_of(order, None, MOSS) == 10


def test_more_than_was_ordered_leaves_nothing_to_come() -> None:
    assert left_of(purchase(), parcel(moss("77", 14)), MOSS) == 0


def test_expected_shipping_follows_the_suppliers_terms() -> None:
    # Ten balls of 50 g: 500 g and 40.00.
    tiers = (WeightTier(D(300), D("3.50")), WeightTier(None, D("6.00")))
    there = studio()

    def asked(shipping: Shipping) -> Decimal:
        shop = seller("north", shipping=shipping)
        return expected_shipping(replace(there, suppliers=(shop,)), purchase())

    assert asked(Shipping(tiers)) == D("6.00")
    assert asked(Shipping((WeightTier(D(500), D("3.50")), WeightTier(None, D(6))))) == D("3.50")
    assert asked(Shipping(tiers, D(40))) == 0
    assert asked(Shipping(tiers, D("40.01"))) == D("6.00")
    # Whoever is not among the suppliers states no terms.
    assert expected_shipping(there, purchase()) == 0
    assert begun(there, purchase(), date(2026, 12, 18)) == Delivery("p9", date(2026, 12, 18), ())


def test_an_order_of_which_goods_came_says_that_the_rest_is_to_come() -> None:
    told = purchase_words(studio(), purchase(), date(2026, 12, 1))
    rest = purchase_words(studio(), replace(purchase(), part_came=True), date(2026, 12, 1))
    assert rest == told.replace("there by", "the rest there by")


def test_shipping_is_proposed_with_the_first_goods_of_an_order_alone() -> None:
    shop = seller("north", shipping=flat(D("4.90")))
    there = replace(studio(), suppliers=(shop,))
    assert begun(there, purchase(), date(2026, 12, 18)).shipping == D("4.90")
    rest = replace(purchase(), part_came=True)
    assert begun(there, rest, date(2026, 12, 18)).shipping == 0


def test_a_supplier_is_known_by_key_or_name() -> None:
    there = replace(studio(), suppliers=(replace(seller("north"), name="The mill"),))
    for word in ("north", "The mill", "the mill"):
        assert supplier_of(there, purchase(supplier=word)) == "The mill"
    assert supplier_of(there, purchase(supplier="a friend")) == "a friend"


def test_purchases_stand_by_arrival_and_say_where_they_are_overdue() -> None:
    later, sooner = purchase(), purchase(key="p1", arrives=date(2026, 12, 2))
    assert by_arrival(Stash((), (later, sooner))) == (sooner, later)
    today = date(2026, 12, 3)
    assert overdue(sooner, today)
    assert not overdue(later, today)
    assert not overdue(sooner, sooner.arrives)
    told = purchase_words(studio(), replace(sooner, ordered=date(2026, 11, 20)), today)
    assert told == "north, ordered 20 Nov 2026, there by 2 Dec 2026 (overdue)"


def test_who_waits_for_a_shade_is_named() -> None:
    there = ordered()
    plans = reconcile(there).plan.projects
    purchases = there.stash.purchase["p9"]
    # The pieces have no swatch, so nothing can be said of what they need.
    assert waiting(purchases, plans, CLAY) == ()
    assert set(need_dg_of(plans)) >= {"throw/stripe/0", "wrap/stripe/0"}


def test_the_price_as_typed_or_as_ordered() -> None:
    order = purchase()
    as_ordered = parcel(moss("77", 5))
    assert price_now(as_ordered, order, MOSS) == 4
    assert price_now(as_ordered, order, CLAY) is None
    dearer = parcel(moss("77", 5), prices=((MOSS, D("4.50")),))
    assert price_now(dearer, order, MOSS) == D("4.50")


def test_only_a_price_that_differs_is_kept_and_a_wrong_bag_has_none() -> None:
    order, bag = purchase(), moss("77", 5)
    none = parcel(bag)
    assert prices_with(none, order, bag, D(4)) == ()
    assert prices_with(none, order, bag, D("4.50")) == ((MOSS, D("4.50")),)
    typed = parcel(bag, prices=((MOSS, D("4.50")),))
    assert prices_with(typed, order, bag, D(4)) == ()
    assert prices_with(typed, order, moss("1", 1, Fate.WRONG), D(9)) == ((MOSS, D("4.50")),)
    assert prices_with(typed, order, bag, None) == ((MOSS, D("4.50")),)


def test_what_a_parcel_means_is_said_sentence_by_sentence() -> None:
    before = ordered()
    typed = parcel(
        moss("77", 5), moss("78", 3), shipping=D("4.00"), prices=((MOSS, D("4.50")),),
        rest_comes=False,
    )  # fmt: skip
    found = receive(before, typed, GRAMS)
    said = list(meaning(before, found))
    assert (None, "Lot 77 of Wool Moss, a new lot: 5 balls at 5.00 EUR landed.") in said
    assert (None, "Lot 78 of Wool Moss, a new lot: 3 balls at 5.00 EUR landed.") in said
    assert (Weight.CAUTION, "Wool Moss came in 2 dye lots: 77 and 78.") in said
    assert (Weight.CAUTION, "Wool Moss costs 4.50 EUR a ball, ordered at 4.00 EUR.") in said
    # Throw needs 350 g of one lot, which neither 250 g nor 150 g is.
    short = [text for weight, text in said if weight is Weight.STOP]
    assert len(short) == 1
    assert short[0].startswith("Throw, stripe 1 and stripe 3: short of Wool Moss again.")
    assert all(text.endswith(".") for _, text in said)
    assert received_words(found) == "2 lots on the shelf, 1 piece short again."
    batches = new_batches(before, found.studio, LotRef(*MOSS, "77"))
    assert [(b.balls, b.price, b.shipping) for b in batches] == [(5, D("4.50"), D("0.50"))]


def test_shades_are_those_of_the_yarn_that_was_typed() -> None:
    with pytest.raises(ValueError, match="No shade is called wool/99"):
        shade_typed(library(), purchase(), "wool/99")
    assert shade_typed(Library(), purchase(), "wool/10") == ShadeRef("wool", "10")
