"""A purchase in words: each thing that a plan must say, said once, in whole sentences."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from studio.core.buying import asking, words
from studio.core.buying.asking import wanted_of
from studio.core.buying.offers import BreakScope, Offer, Supplier, flat
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import HELD, Chosen, StapleWorth
from studio.core.buying.together import Together, buy_together, questions_of
from studio.core.model import Method, Project, Stage, Stripe, Studio
from tests.core import small
from tests.core.buying.making import D, seller, steps
from tests.core.buying.test_placing import TODAY, checked, offering

NORTH = replace(seller("north", 4, shipping=flat(D("4.90"), D(60))), name="Northlight")
SOUTH = replace(seller("south", 20, shipping=flat(D("3.00"))), name="Southmill")


def piece(
    key: str, rust: int, tide: int = 0, stage: Stage = Stage.BOOKED, days: int | None = 60
) -> Project:
    """A piece of so many grams of Rust, and of Tide."""
    stripes = [Stripe("A", 4, grams=D(rust))] + ([Stripe("B", 4, grams=D(tide))] if tide else [])
    made = small.piece(key, "A4", stage, method=Method.BY_HAND, stripes=tuple(stripes))
    return replace(made, due=None if days is None else TODAY + timedelta(days=days))


def studio(
    *pieces: Project,
    offers: tuple[Offer, ...],
    suppliers: tuple[Supplier, ...] = (NORTH, SOUTH),
) -> Studio:
    return replace(small.studio(*pieces), suppliers=suppliers, offers=offers)


def found(
    there: Studio, chosen: Chosen = HELD, staples: dict[object, StapleWorth] | None = None
) -> Together:
    seen = checked(there)
    wanted = wanted_of(
        there, seen.kept.outcomes, seen.plan.projects, TODAY, chosen, staples  # type: ignore[arg-type]
    )  # fmt: skip
    return buy_together(questions_of(wanted))


def plan_of(there: Studio) -> PurchasePlan:
    return found(there).plan


DEAR = Offer("north", "marl", steps((1, "7.00"), (10, "6.00")))
CHEAP = Offer("south", "marl", steps((1, "6.50")))


def test_cost_by_supplier_with_shipping_and_the_day_it_comes() -> None:
    there = studio(piece("ash", 580), offers=(DEAR,), suppliers=(NORTH,))
    (order,) = plan_of(there).orders
    # Six balls at 7.00; 42.00 is under the 60.00 that ship free.
    told = words.order_words(order, "EUR")
    assert (order.goods, order.shipping) == (D("42.00"), D("4.90"))
    assert told == "goods 42.00, shipping 4.90, there by 8 Jan 2027"
    many = studio(piece("ash", 1000), offers=(DEAR,), suppliers=(NORTH,))
    (order,) = plan_of(many).orders
    assert words.order_words(order, "EUR") == "goods 60.00, free shipping, there by 8 Jan 2027"


def test_what_each_line_is_for_with_its_runs_grams_cost_and_day() -> None:
    there = studio(piece("ash", 250), piece("birch", 150, days=None), offers=(CHEAP,))
    (line,) = plan_of(there).orders[0].lines
    assert words.amount_words(line) == "4 balls"
    assert words.for_words(line, there) == "Ash, Birch"
    told = list(words.use_words(line, there))
    # 26.00 shared by 250 g and 150 g: 16.25 and 9.75.
    assert told[0].startswith("Ash, stripe 1: 250 g, 16.25 EUR, by ")
    assert told[1] == "Birch, stripe 1: 150 g, 9.75 EUR"
    packs = studio(piece("ash", 250), offers=(replace(CHEAP, pack=5),))
    (line,) = plan_of(packs).orders[0].lines
    assert words.amount_words(line) == "1 pack of 5"
    assert list(words.use_words(line, packs))[-1] == "2 balls beyond need"


def test_surplus_and_what_it_is_worth() -> None:
    there = studio(piece("ash", 250), offers=(replace(CHEAP, pack=5),))
    assert words.surplus_words(plan_of(there), "EUR") == "2 balls beyond need"
    worth = {small.RUST: StapleWorth(D("5.00"), 12)}
    both = found(there, staples=worth)  # type: ignore[arg-type]
    assert words.surplus_words(both.plan, "EUR") == "2 balls beyond need, worth 10.00 EUR"
    (line,) = both.plan.orders[0].lines
    assert list(words.use_words(line, there))[-1] == (
        "2 balls beyond need, worth 10.00 EUR as a staple"
    )
    exact = studio(piece("ash", 200), offers=(CHEAP,))
    assert words.surplus_words(plan_of(exact), "EUR") == "nothing beyond need"


def test_the_runner_up_and_all_from_one_supplier() -> None:
    # Six balls: 39.00 + 3.00 from Southmill, 42.00 + 4.90 from Northlight.
    there = studio(piece("ash", 580), offers=(DEAR, CHEAP))
    plan = plan_of(there)
    assert plan.landed == D("42.00")
    assert plan.runner_up is not None
    assert words.runner_up_words(plan.runner_up, there) == (
        "The next plan that truly differs, from Northlight: 46.90 EUR, 4.90 EUR dearer."
    )
    assert [words.single_words(s, there) for s in plan.singles] == [
        "All from Southmill: 42.00 EUR, the same.",
        "All from Northlight: 46.90 EUR, 4.90 EUR dearer.",
    ]


def test_a_supplier_that_lacks_a_shade_or_its_minimum_says_so() -> None:
    dear = replace(NORTH, minimum=D(50))
    free = replace(DEAR, breaks=steps((1, "0.00")))
    there = studio(
        piece("ash", 200, 200), offers=(free, replace(CHEAP, shades=("1",)),
        Offer("south", "marl", steps((1, "6.50")), 2, ("2",))), suppliers=(dear, SOUTH),
    )  # fmt: skip
    told = [words.single_words(s, there) for s in plan_of(there).singles]
    assert told == [
        "All from Southmill: 29.00 EUR, the same.",
        "All from Northlight: it cannot be done, its minimum or first price is not reached.",
    ]
    half = studio(piece("ash", 200, 200), offers=(DEAR, replace(CHEAP, shades=("1",))))
    told = [words.single_words(s, half) for s in plan_of(half).singles]
    assert "All from Southmill: it does not bring Marl Tide in time." in told


@pytest.mark.parametrize(
    ("grams", "offer", "says"),
    [
        (
            # Nine at 7.00 and shipping are 67.90 before; ten at 6.00 ship free at 60.00.
            880, replace(DEAR, breaks=steps((1, "6.20"), (10, "5.80"))),
            "1 ball more of Marl Rust at Northlight reaches a price break on the shade: "
            "it costs 2.20 EUR instead of 6.20 EUR.",
        ),
        (
            780, replace(DEAR, breaks=steps((1, "7.00"))),
            "1 ball more of Marl Rust at Northlight reaches free shipping: "
            "it costs 2.10 EUR instead of 7.00 EUR.",
        ),
    ],
)  # fmt: skip
def test_a_break_or_free_shipping_that_is_nearly_reached(
    grams: int, offer: Offer, says: str
) -> None:
    shop = replace(NORTH, shipping=flat(D("4.90"), D(60) if "free" in says else None))
    there = studio(piece("ash", grams), offers=(offer,), suppliers=(shop,))
    plan = plan_of(there)
    assert says in [words.near_words(near, there) for near in plan.near]


def test_a_break_over_the_yarn_is_named_as_such() -> None:
    over = Offer("north", "marl", steps((1, "6.20"), (10, "5.80")), scope=BreakScope.YARN)
    there = studio(
        piece("ash", 500, 400), offers=(over,), suppliers=(replace(NORTH, shipping=flat(D(4))),)
    )
    (near,) = plan_of(there).near
    assert "reaches a price break over the yarn" in words.near_words(near, there)


def test_what_cannot_be_had_or_not_in_time_is_said_first_with_what_it_delays() -> None:
    only = Offer("south", "marl", steps((1, "6.50")), 1, ("1",))
    there = studio(piece("ash", 200, 100, days=9), piece("birch", 0, 100), offers=(only,))
    ash, birch = there.projects
    only_tide = replace(birch, stripes=birch.stripes[1:])
    there = replace(there, projects=(ash, only_tide))
    told = list(words.in_the_way(plan_of(there), there))
    texts = [text for _, text in told]
    assert texts[0] == (
        "No supplier stocks Marl Tide: add an offer of it, or choose another shade. "
        "Ash and Birch wait for it."
    )
    need, late = told[1]
    assert need.project == "ash"
    assert late.startswith(
        "Ash waits for Marl Rust, which Southmill delivers on 24 Jan 2027 at the earliest: "
    )
    assert late.endswith(" days late.")


def test_what_is_due_before_any_delivery_says_how_late_it_is() -> None:
    there = studio(piece("ash", 200, days=-3), offers=(DEAR,), suppliers=(NORTH,))
    plan = plan_of(there)
    ((need, text),) = list(words.in_the_way(plan, there))
    (late,) = plan.late
    assert late.arrives == date(2027, 1, 8)
    assert need.need_by is not None
    assert late.days == (late.arrives - need.need_by).days
    assert f"{late.days} days late." in text
    # It is bought all the same, where it comes first.
    assert [o.supplier for o in plan.orders] == ["north"]


def test_how_sure_it_is() -> None:
    there = studio(piece("ash", 580), offers=(DEAR, CHEAP))
    plan = plan_of(there)
    assert words.proof_words(plan) == "proved: nothing is cheaper"
    near = replace(plan, proved=False, gap=0.02)
    assert words.proof_words(near) == "not proved: at most 2 % over the cheapest"
    assert words.proof_words(replace(near, stopped=True)).startswith("stopped: at most 2 %")


def test_what_a_person_would_pay() -> None:
    # Each shade where it is cheapest: Rust from Southmill, Tide from Northlight, two parcels.
    there = studio(
        piece("ash", 200, 200),
        offers=(replace(DEAR, breaks=steps((1, "6.40")), shades=("2",)), CHEAP),
    )
    plan = plan_of(there)
    # Together 26.00 + 3.00; apart 13.00 + 3.00 and 12.80 + 4.90.
    assert (plan.landed, plan.person) == (D("29.00"), D("33.70"))
    assert words.person_words(plan, there) == (
        "Each shade where it is cheapest: 33.70 EUR, 4.70 EUR dearer."
    )


def test_an_offered_move_is_said_and_what_taking_it_does() -> None:
    there = offering()
    offer = found(there).offer
    assert offer is not None
    assert words.offer_words(offer, there) == (
        "Moving 1 hold saves 5.00 EUR. It is only offered: the holds stay until you move them."
    )
    assert list(words.taking_words(offer, there)) == [
        "Far, stripe 1: from lot K to new yarn.",
        "Order from Slow: 1 ball of Marl Rust, 4.00 EUR.",
    ]


def test_the_pieces_and_stages_that_are_bought_for() -> None:
    there = studio(
        piece("ash", 200), piece("birch", 200, stage=Stage.QUOTED),
        piece("cedar", 200, stage=Stage.IDEA), offers=(CHEAP,),
    )  # fmt: skip
    seen = checked(there)

    def asked(chosen: Chosen) -> tuple[list[str], int]:
        wanted = wanted_of(there, seen.kept.outcomes, seen.plan.projects, TODAY, chosen)
        covered = [p.key for p in asking.pieces_asked(wanted, seen.plan.projects) if p.covered]
        orders = buy_together(questions_of(wanted)).plan.orders
        return covered, sum(line.balls for o in orders for line in o.lines)

    assert asked(HELD) == (["ash"], 2)
    quotes = asking.wider(HELD)
    assert asked(quotes) == (["ash", "birch"], 4)
    assert asked(asking.wider(quotes)) == (["ash", "birch", "cedar"], 6)
    assert asking.wider(asking.wider(quotes)) == asking.wider(quotes)
    assert asked(asking.narrower(quotes)) == (["ash"], 2)
    assert asking.narrower(HELD) == HELD
    one = asking.toggled(HELD, "cedar", there.project)
    assert asked(one) == (["ash", "cedar"], 4)
    assert asked(asking.toggled(one, "ash", there.project)) == (["cedar"], 2)
