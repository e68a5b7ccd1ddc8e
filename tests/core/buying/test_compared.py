"""The ways to buy side by side: the same figures as the sentences, once each, in order."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from studio.core.buying.compared import compared
from tests.core.buying.making import D
from tests.core.buying.test_placing import offering
from tests.core.buying.test_words import CHEAP, DEAR, NORTH, found, piece, studio


def test_nothing_bought_or_no_other_way_is_no_picture() -> None:
    assert compared(found(studio(offers=(CHEAP,))), studio(offers=(CHEAP,))) == ()
    only = studio(piece("ash", 200), offers=(DEAR,), suppliers=(NORTH,))
    assert compared(found(only), only) == ()


def test_a_supplier_alone_that_is_the_plan_or_the_runner_up_stands_once() -> None:
    there = studio(piece("ash", 580), offers=(DEAR, CHEAP))
    both = found(there)
    # Both are told as sentences too; the picture has each purchase once.
    assert len(both.plan.singles) == 2
    plan, other = compared(both, there)
    assert (plan.label, plan.landed, plan.more, plan.is_plan) == ("this plan", D(42), D(0), True)
    assert (other.label, other.landed, other.more) == ("from Northlight", D("46.90"), D("4.90"))
    assert other.share == 1.0
    assert round(plan.share, 4) == round(42 / 46.9, 4)
    assert other.orders == (
        "Northlight: 6 balls Marl Rust; goods 42.00, shipping 4.90, there by 8 Jan 2027",
    )


def test_what_moving_a_hold_would_cost_stands_before_the_plan() -> None:
    there = offering()
    together = found(there)
    assert together.offer is not None
    first, second, *_ = compared(together, there)
    assert (first.label, first.landed) == ("with 1 hold moved", together.offer.plan.landed)
    assert first.more == -together.offer.saves
    assert second.is_plan


@given(st.integers(1, 15), st.integers(0, 15))
def test_the_cheapest_comes_first_and_every_share_is_of_the_dearest(rust: int, tide: int) -> None:
    there = studio(piece("ash", rust * 70, tide * 70), offers=(DEAR, CHEAP))
    ways = compared(found(there), there)
    landed = [way.landed for way in ways]
    assert landed == sorted(landed)
    assert [way.is_plan for way in ways].count(True) == (1 if ways else 0)
    for way in ways:
        assert Decimal(repr(way.share)).quantize(D("0.0001")) == (way.landed / landed[-1]).quantize(
            D("0.0001")
        )
        assert way.more == way.landed - next(w.landed for w in ways if w.is_plan)
