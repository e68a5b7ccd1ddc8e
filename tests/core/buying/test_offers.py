"""What is wrong with an offer is said in a sentence that names the supplier and what to change."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    Shipping,
    Supplier,
    WeightTier,
    flat,
    problems_of,
    said,
    stocked,
    usable,
)
from studio.core.buying.problem import Tier
from studio.core.model import Library, ShadeRef
from tests.core.buying.making import TODAY, D, asked, need, seller, steps, yarn

LIBRARY = Library(yarns=(yarn(),))
GOOD = Offer("north", "wool", steps((1, "4.00"), (10, "3.50")))


def texts(
    *offers: Offer, suppliers: tuple[Supplier, ...] = (seller("north"),), currency: str = "EUR"
) -> str:
    return "\n".join(said(problems_of(OfferBook(suppliers, offers), LIBRARY, currency)))


def test_a_sound_book_has_no_problems() -> None:
    assert texts(GOOD) == ""


@pytest.mark.parametrize(
    ("offer", "words"),
    [
        (replace(GOOD, breaks=steps((1, "4.00"), (10, "4.20"))), "costs more from 10 balls"),
        (replace(GOOD, breaks=steps((1, "4.00"), (10, "3.50"), (10, "3.20"))), "may not overlap"),
        (replace(GOOD, breaks=()), "has no price"),
        (replace(GOOD, breaks=steps((0, "4.00"))), "prices start from 1"),
        (replace(GOOD, breaks=steps((1, "4.005"))), "at most 2 decimals"),
        (replace(GOOD, breaks=steps((1, "-1"))), "0 or more"),
        (replace(GOOD, breaks=steps((1, "NaN"))), "0 or more"),
        (replace(GOOD, pack=0), "packs of 0 balls"),
        (replace(GOOD, shades=()), "stocks no shade"),
        (replace(GOOD, shades=("1", "99")), "no shade '99'"),
        (replace(GOOD, yarn="silk"), "'silk'"),
        (replace(GOOD, supplier="south"), "'south'"),
    ],
)
def test_a_faulty_offer_is_named_and_left_out(offer: Offer, words: str) -> None:
    found = texts(GOOD if offer.supplier == "south" else offer, offer)
    assert words in found
    assert all(line.endswith(".") for line in found.splitlines())
    assert offer not in usable(OfferBook((seller("north"),), (offer,)), LIBRARY, "EUR").offers


@pytest.mark.parametrize(
    ("supplier", "words"),
    [
        (replace(seller("north"), lead_days=None), "has no lead time"),
        (replace(seller("north"), lead_days=-1), "lead time of -1 days"),
        (replace(seller("north"), currency="SEK"), "reckons in EUR"),
        (seller("north", minimum="-5"), "minimum order"),
        (seller("north", shipping=Shipping(())), "no limit"),
        (seller("north", shipping=Shipping((WeightTier(D(500), D(5)),))), "no limit"),
        (
            seller("north", shipping=Shipping((WeightTier(D(500), D(5)), WeightTier(None, D(4))))),
            "falls for a heavier parcel",
        ),
        (
            seller(
                "north",
                shipping=Shipping(
                    (WeightTier(D(9), D(5)), WeightTier(D(9), D(6)), WeightTier(None, D(7)))
                ),
            ),
            "overlap",
        ),
        (seller("north", shipping=flat(D("4.999"))), "shipping cost"),
        (seller("north", shipping=flat(D(5), D(-1))), "free shipping"),
    ],
)
def test_a_faulty_supplier_is_left_out_with_all_offers(supplier: Supplier, words: str) -> None:
    assert words in texts(GOOD, suppliers=(supplier,))
    left = usable(OfferBook((supplier,), (GOOD,)), LIBRARY, "EUR")
    assert left == OfferBook()


def test_a_supplier_without_offers_and_two_of_one_name_are_said() -> None:
    assert "no offers" in texts()
    assert "two suppliers" in texts(GOOD, suppliers=(seller("north"), seller("north")))


def test_a_shade_offered_twice_in_the_same_pack_is_said_but_two_packs_are_fine() -> None:
    assert "twice in packs of 1" in texts(GOOD, replace(GOOD, shades=("2",)))
    assert texts(GOOD, replace(GOOD, pack=10)) == ""


def test_all_shades_leaves_out_what_is_no_longer_made_unless_it_is_named() -> None:
    made = yarn()
    shades = (replace(made.shades[0], discontinued=True), *made.shades[1:])
    library = Library(yarns=(replace(made, shades=shades),))
    assert [r.shade for r in stocked(GOOD, library)] == ["2", "3"]
    assert [r.shade for r in stocked(replace(GOOD, shades=("1",)), library)] == ["1"]
    problem = asked([need("1", "2")], [seller("north")], [GOOD], library)
    assert "no longer made" in problem.not_sold[0].text


def test_a_currency_without_decimals_keeps_whole_prices() -> None:
    prices = replace(GOOD, breaks=steps((1, "400")))
    offer_problem = problems_of(
        OfferBook((replace(seller("north"), currency="JPY"),), (prices,)), LIBRARY, "JPY"
    )
    assert offer_problem == ()
    assert "0 decimals" in texts(
        replace(GOOD, breaks=steps((1, "400.5"))), currency="JPY",
        suppliers=(replace(seller("north"), currency="JPY"),),
    )  # fmt: skip


def test_breaks_are_counted_in_whole_packs() -> None:
    prices = steps((1, "4.00"), (12, "3.50"), (14, "3.40"), (20, "3.00"))
    problem = asked([need("1", "2")], [seller("north")], [replace(GOOD, breaks=prices, pack=10)])
    # From 12 and from 14 balls both begin with the second pack of ten, as does 20.
    assert problem.sources[0].tiers == (Tier(1, 4000), Tier(2, 3000))


def test_what_nobody_stocks_or_brings_in_time_is_said_first() -> None:
    problem = asked(
        [need("1", "2", "throw", days=1), need("3", "1", "shawl"), need("1", "4", "shawl", days=9)],
        [seller("north", 3), seller("south", 5)],
        [replace(GOOD, shades=("1",)), replace(GOOD, supplier="south", shades=("1",))],
    )
    assert [n.need.project for n in problem.not_sold] == ["shawl"]
    assert problem.not_sold[0].text == (
        "No supplier stocks Wool Shade 3: add an offer of it, or choose another shade."
    )
    (late,) = problem.late
    assert (late.need.project, late.arrives, late.days) == ("throw", TODAY + timedelta(days=3), 2)
    # The late need is bought where it comes first; the other may come from either.
    groups = problem.shades[0].alternatives[0].groups
    assert [g.sources for g in groups] == [(0,), (0, 1)]


def test_yarn_that_comes_on_the_last_day_is_in_time() -> None:
    for days, late in ((3, 0), (2, 1)):
        problem = asked([need("1", "2", days=days)], [seller("north", 3)], [GOOD])
        assert len(problem.late) == late


def test_a_shade_whose_only_supplier_is_faulty_says_what_to_mend() -> None:
    for supplier, offer, words in (
        (replace(seller("north"), lead_days=None), GOOD, "North has no lead time"),
        (seller("north"), replace(GOOD, pack=0), "comes in packs of 0 balls"),
        (seller("north"), replace(GOOD, breaks=steps((1, "4"), (9, "5"))), "costs more from 9"),
    ):
        problem = asked([need("1", "2")], [supplier], [offer])
        text = problem.not_sold[0].text
        assert text.startswith("Wool Shade 1 cannot be bought as the offers stand. ")
        assert words in text
        assert text.endswith(".")


def test_no_offers_at_all() -> None:
    problem = asked([need("1", "2")], [], [])
    assert "There are no offers yet" in problem.not_sold[0].text
    assert problem.shades == ()


def test_needs_with_the_same_choice_are_rounded_to_balls_together() -> None:
    problem = asked(
        [need("1", "1.5", "throw", days=9), need("1", "1.5", "shawl")], [seller("north")], [GOOD]
    )
    (group,) = problem.shades[0].alternatives[0].groups
    assert group.dg == 1500
    assert BreakScope.SHADE is GOOD.scope
    assert Decimal(group.dg) / 500 == 3


def test_a_worth_over_the_price_is_cut_to_it() -> None:
    from studio.core.buying.question import StapleWorth

    problem = asked(
        [need("1", "2")], [seller("north")], [GOOD],
        staples={ShadeRef("wool", "1"): StapleWorth(D(9), 4)},
    )  # fmt: skip
    assert (problem.shades[0].worth, problem.shades[0].worth_balls) == (350, 4)
