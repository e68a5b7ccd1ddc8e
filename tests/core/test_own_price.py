"""Her own price of a yarn against today's: told where it is too low and moves money, then taken."""

from dataclasses import replace
from decimal import Decimal

import pytest

from studio.core.answers import Finding
from studio.core.buying.offers import BreakScope, Offer, PriceBreak, Supplier
from studio.core.mends import mend
from studio.core.model import Stage, StashValue, Studio
from studio.core.own_price import asked_today, dearer
from studio.core.reconcile import reconcile
from tests.core.small import RUST, TIDE, lot, piece, studio

HOUSE = Supplier("dye", "the dye shed", "EUR", 5)
ABROAD = Supplier("far", "the far shed", "USD", 5)
IN_HOUSE = (lot("x", 30), lot("y", 30, shade="2"))


def offer(*steps: tuple[int, str], supplier: str = "dye", **more: object) -> Offer:
    breaks = tuple(PriceBreak(n, Decimal(price)) for n, price in steps)
    return Offer(supplier, "marl", breaks, **more)  # type: ignore[arg-type]


def offering(*offers: Offer, stage: Stage = Stage.QUOTED, **settings: object) -> Studio:
    made = studio(piece("a", "A20 B20", stage), lots=IN_HOUSE, **settings)
    return replace(made, suppliers=(HOUSE, ABROAD), offers=offers)


def told(made: Studio) -> list[Finding]:
    return [f for f in reconcile(made).plan.projects["a"].findings if f.code == "price-low"]


def test_a_dearer_offer_is_told_with_what_it_moves_and_taken_over() -> None:
    made = offering(offer((1, "8.00")))
    (found,) = told(made)
    before = reconcile(made).plan.projects["a"]
    after_studio = mend(made, found, before)
    assert after_studio.library.yarn["marl"].price == 8
    after = reconcile(after_studio).plan.projects["a"]
    assert after.cost.used is not None
    assert before.cost.used is not None
    more = after.cost.used - before.cost.used
    assert more > 0
    assert "counts at 7.00 a ball, but the least anyone asks for 2 balls of Rust is 8.00" in (
        found.text
    )
    assert f"costs {more} EUR more" in found.text
    assert told(after_studio) == []


@pytest.mark.parametrize(
    "offers",
    [
        (),
        (offer((1, "7.00")),),
        (offer((1, "8.00")), offer((1, "6.90"))),
        (offer((1, "8.00"), (2, "7.00")),),
        (
            offer(
                (1, "8.00"),
                (5, "7.00"),
            ),
            offer((4, "6.50"), pack=4),
        ),
        (offer((1, "8.00"), (4, "7.00"), scope=BreakScope.YARN),),
        (offer((1, "9.00"), supplier="far"),),
    ],
)
def test_nothing_is_told_where_it_can_be_had_for_that(offers: tuple[Offer, ...]) -> None:
    assert told(offering(*offers)) == []


def test_only_where_it_moves_money() -> None:
    offers = (offer((1, "8.00")),)
    assert told(offering(*offers, stash_value=StashValue.PAID)) == []
    assert told(offering(*offers, stage=Stage.DELIVERED)) == []
    assert told(offering(*offers, stage=Stage.BOOKED)) == []
    bare = replace(offering(*offers, stage=Stage.BOOKED), stash=studio().stash)
    assert len(told(bare)) == 1


def test_without_any_offer_the_newest_price_paid_tells() -> None:
    made = studio(piece("a", "A20"), lots=(lot("x", 30, price="6.00"), lot("xx", 1, price="7.50")))
    (found,) = told(made)
    assert "you last paid 7.50" in found.text
    older = studio(piece("a", "A20"), lots=(lot("x", 30, price="7.50"), lot("xx", 1)))
    assert told(older) == []


def test_an_offer_that_changes_is_told_at_that_edit() -> None:
    cheap = offering(offer((1, "7.00")))
    kept = reconcile(cheap).kept
    risen = replace(cheap, offers=(offer((1, "8.00")),))
    now = reconcile(risen, kept).plan.projects["a"].findings
    assert now == reconcile(risen).plan.projects["a"].findings
    assert "price-low" in {f.code for f in now}


def test_the_least_of_all_offers_and_whole_packs() -> None:
    made = offering(offer((1, "8.00")), offer((1, "7.50"), pack=10), offer((20, "1.00")))
    asked = asked_today(made, RUST, 2, 2)
    assert asked is not None
    assert (asked.price, asked.supplier) == (Decimal("1.00"), "the dye shed")


def test_a_parcel_is_held_against_her_own_price() -> None:
    made = offering()
    paid = ((RUST, Decimal("7.20")), (TIDE, Decimal("7.90")))
    assert dearer(made, paid) == {"marl": Decimal("7.90")}
    assert dearer(made, ((RUST, Decimal("7.00")),)) == {}
