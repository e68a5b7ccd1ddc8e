"""The four answers in words, in several lengths; a sequence repeated to a length."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core import headline, sequence
from studio.core.answers import Cost
from studio.core.headline import State
from studio.core.model import LengthUnit, LotRef, ShadeRef, Stage, Stripe
from tests.ui import fake


def name(ref: ShadeRef) -> str:
    return {"07": "Lichen", "12": "Ink"}[ref.shade]


def test_the_size_says_what_was_asked_and_how_far_off_it_is() -> None:
    size = fake.plan().projects["moor-blanket"].size
    # 152 over 150 is 1.33 % more; 165.4 over 165 is 0.24 % more.
    assert headline.size_words(size, LengthUnit.CM) == (
        "152 x 165 cm (asked 150 x 165, +1.3 % wide, +0.2 % long)",
        "152 x 165 cm (asked 150 x 165, +1.3 %)",
        "152 x 165 cm (+1.3 %)",
        "152 x 165 cm",
    )
    assert headline.size_words(None, LengthUnit.CM)[-1] == "size not known"


def test_what_is_short_comes_before_what_is_late_or_on_order() -> None:
    plan = fake.plan().projects["moor-blanket"]
    lichen = plan.shades[0]
    ink = replace(lichen, shade=ShadeRef("harbour-cotton", "12"), buy_balls=2)
    here = replace(lichen, buy_g=Decimal(0), buy_balls=0)
    late = replace(here, late_g=Decimal(10))
    order = replace(here, order_g=Decimal(10))

    def said(*shades: object, **more: object) -> tuple[State, tuple[str, ...]]:
        found = headline.yarn_words(replace(plan, shades=shades, **more), name)  # type: ignore[arg-type]
        return found.state, found.words

    assert said(lichen, ink) == (
        State.SHORT,
        (
            "short 1 ball Lichen, 2 balls Ink",
            "short 3 balls of 2 shades",
            "short 3 balls",
            "3 short",
        ),
    )
    assert said(late, order)[0] is State.LATE
    assert said(order, here) == (State.ORDER, ("Lichen on order", "on order"))
    assert said(here)[0] is State.HERE
    assert said(replace(here, need_g=Decimal(0)))[0] is State.DONE
    assert said()[0] is State.UNKNOWN
    assert said(lichen, pending=True)[0] is State.WORKING
    assert said(lichen, stage=Stage.DELIVERED)[0] is State.DONE


def test_cost_and_due_date() -> None:
    cost = Cost(Decimal("60.40"), Decimal("73.70"), None, Decimal("0.80"))
    assert headline.cost_words(cost, "EUR")[0] == "used 61.20  cash 74.50 EUR"
    assert headline.cost_words(replace(cost, cash_yarn=None), "EUR")[0] == (
        "used 61.20  cash not known EUR"
    )
    unknown = Cost(None, None, None, Decimal(0))
    assert headline.cost_words(unknown, "EUR")[0] == "no prices yet"
    assert headline.due_words(date(2027, 3, 12)) == ("due 12 Mar 2027", "due 12 Mar")
    assert headline.due_words(None) == ("no date",)


def test_what_is_free_is_counted_over_all_lots_of_a_shade() -> None:
    free = headline.free_by_shade(fake.plan())
    lots = fake.plan().lots
    pair = [lots[LotRef("harbour-cotton", "12", code)].free_g for code in ("1180", "1203")]
    assert free[ShadeRef("harbour-cotton", "12")] == pair[0] + pair[1]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (20, [8, 4, 8]),
        (24, [8, 4, 8, 4]),
        (18, [8, 4, 6]),
        (17, [8, 4, 6]),
        (12, [8, 4]),
        (5, [8, 4]),
    ],
)
def test_a_sequence_is_repeated_and_its_last_stripe_cut(rows: int, expected: list[int]) -> None:
    found = sequence.repeated((Stripe("A", 8), Stripe("B", 4)), rows)
    assert [s.rows for s in found] == expected
    assert [s.slot for s in found] == list("ABABABAB"[: len(expected)])
    assert sequence.repeated((), 10) == ()
