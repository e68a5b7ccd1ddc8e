"""After the orders are placed a fresh check finds on order what the plan said it covers."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.core import edits
from studio.core.answers import Cover, RunRef
from studio.core.buying.asking import wanted_of
from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.offers import Offer, Supplier, flat
from studio.core.buying.placing import Placed, place_orders
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import HELD, Chosen
from studio.core.buying.receiving import receive
from studio.core.buying.together import buy_together, questions_of
from studio.core.edits.places import runs_of
from studio.core.lots.solve import solve_shade
from studio.core.model import (
    Claim,
    ClaimKind,
    Method,
    Project,
    ShadeRef,
    Stage,
    Stripe,
    Studio,
)
from studio.core.reconcile import Reconciled, reconcile
from studio.core.ties import ties_of
from studio.errors import EditRefusedError
from tests.core import small
from tests.core.buying.making import D, seller, steps

TODAY = date(2027, 1, 4)
RUST = small.RUST
BOUGHT_FOR = Chosen(stages=frozenset({Stage.BOOKED, Stage.MAKING, Stage.FINISHING, Stage.QUOTED}))
SHOPS: tuple[tuple[Supplier, ...], tuple[Offer, ...]] = (
    (seller("north", 4, shipping=flat(D("4.90"))), seller("south", 20, shipping=flat(D("3.00")))),
    (
        Offer("north", "marl", steps((1, "7.00"), (6, "6.20"))),
        Offer("south", "marl", steps((1, "5.00")), pack=3),
    ),
)


def checked(studio: Studio) -> Reconciled:
    """The check with every question proved."""
    first = reconcile(studio)
    return reconcile(studio, first.kept, {q: solve_shade(q) for q in first.open_problems.values()})


def bought(studio: Studio, chosen: Chosen = BOUGHT_FOR) -> tuple[Reconciled, PurchasePlan]:
    """The check and the cheapest purchase for it."""
    seen = checked(studio)
    wanted = wanted_of(studio, seen.kept.outcomes, seen.plan.projects, TODAY, chosen)
    return seen, buy_together(questions_of(wanted)).plan


def placed(studio: Studio, chosen: Chosen = BOUGHT_FOR) -> tuple[PurchasePlan, Placed, Reconciled]:
    """The purchase, the studio with it on order, and a fresh check of that."""
    seen, plan = bought(studio, chosen)
    done = place_orders(studio, plan.orders, seen.plan.projects, TODAY)
    return plan, done, checked(done.studio)


def shop(studio: Studio) -> Studio:
    suppliers, offers = SHOPS
    return replace(studio, suppliers=suppliers, offers=offers)


def lacks(seen: Reconciled) -> dict[ShadeRef, Decimal]:
    """Grams that the check finds nowhere, by shade, for what was bought for."""
    return {s.shade: s.quoted_g for s in seen.plan.shortfalls if s.quoted_g}


def covers(seen: Reconciled, keys: Iterable[str]) -> set[Cover]:
    """The covers of those runs."""
    runs = {r.ref.key: r for p in seen.plan.projects.values() for r in p.runs}
    return {runs[key].cover for key in keys}


def random_studio(rng: random.Random) -> Studio:
    """Two shades, up to three pieces of every kind of tie, and stock for part of them."""
    lots = [
        small.lot(code, rng.randint(1, 3), shade=shade)
        for shade in ("1", "2")
        for code in "KLM"[: rng.randint(0, 2)]
    ]
    codes = {shade: [n.code for n in lots if n.shade == shade] for shade in ("1", "2")}
    pieces = []
    for key in ("ash", "birch", "cedar")[: rng.randint(1, 3)]:
        stage = rng.choice([Stage.BOOKED, Stage.BOOKED, Stage.MAKING, Stage.QUOTED])
        rows = [rng.randint(1, 11) for _ in range(rng.randint(2, 5))]
        design = " ".join(f"{rng.choice('AB')}{count}" for count in rows)
        made = small.piece(key, design, stage, due=TODAY + timedelta(days=rng.randint(10, 90)))
        made = replace(
            made,
            mix=rng.random() < 0.5,
            customer=rng.choice(["", "Ilva"]),
            rows_done=rng.randint(0, sum(rows) // 2) if stage is Stage.MAKING else 0,
            stripes=tuple(tied(rng, s, codes) for s in made.stripes),
        )
        if rng.random() < 0.25:
            made = by_hand(made)
        pieces.append(made)
    return shop(small.studio(*pieces, lots=tuple(lots)))


def tied(rng: random.Random, stripe: Stripe, codes: dict[str, list[str]]) -> Stripe:
    there = codes["1" if stripe.slot == "A" else "2"]
    kind = rng.choice([None, None, ClaimKind.HOLD, ClaimKind.HOLD, ClaimKind.PIN])
    if not there or kind is None:
        return stripe
    return replace(stripe, claim=Claim(kind, rng.choice(there)))


def by_hand(piece: Project) -> Project:
    stripes = tuple(replace(s, grams=D(11 * s.rows)) for s in piece.stripes)
    return replace(piece, method=Method.BY_HAND, stripes=stripes)


@pytest.mark.parametrize("seed", range(150))
def test_nothing_is_short_that_the_plan_said_it_covers(seed: int) -> None:
    studio = random_studio(random.Random(seed))
    plan, done, after = placed(studio)
    assert plan.not_sold == ()
    assert done.untied == ()
    assert lacks(after) == {}
    runs = [k for o in plan.orders for n in o.lines for p in n.needs for k in p.need.runs]
    assert Cover.SHORT not in covers(after, runs)
    # What was ordered is on order for them, and no run asks more of a purchase than it brings.
    assert not [f for p in after.plan.projects.values() for f in p.findings if f.code == "short"]
    again = bought(done.studio)[1]
    assert again.orders == ()


def moved(seen: Reconciled) -> set[str]:
    """The runs that had to leave the lot they were promised."""
    runs = [r for p in seen.plan.projects.values() for r in p.runs if r.moved_from]
    return {RunRef(r.ref.project, r.ref.kind, r.ref.index).key for r in runs}


def received(studio: Studio, seen: Reconciled) -> Studio:
    """Every open purchase as it was ordered, each shade in a new dye lot of its own."""
    for purchase in studio.stash.purchases:
        bags = tuple(
            Bag(n.yarn, n.shade, f"new {purchase.key} {n.shade}", n.balls) for n in purchase.lines
        )
        needs = {r.ref.key: int(r.need_g * 10) for p in seen.plan.projects.values() for r in p.runs}
        studio = receive(studio, Delivery(purchase.key, purchase.arrives, bags), needs).studio
    return studio


@pytest.mark.parametrize("seed", range(60))
def test_when_the_parcels_come_every_tie_passes_to_the_new_lots(seed: int) -> None:
    studio = random_studio(random.Random(seed))
    # Only booked pieces hold yarn, so only theirs is promised to them when it comes.
    _, done, seen = placed(studio, HELD)
    there = received(done.studio, seen)
    after = checked(there)
    assert there.stash.purchases == ()
    assert not any(s.held_g for s in after.plan.shortfalls)
    ties = [t for p in there.projects for _, _, r in runs_of(p) for t in ties_of(r.claim)]
    assert not [t for t in ties if t.kind is ClaimKind.ORDER]
    assert moved(after) <= moved(checked(studio))


def mixed() -> Studio:
    """Twelve rows of Rust that may mix lots, 125 g; one ball of it is in the house."""
    made = small.piece(
        "ash", "A12", Stage.BOOKED, mix=True, method=Method.BY_HAND,
        stripes=(Stripe("A", 12, grams=D(126)),), due=date(2027, 3, 1),
    )  # fmt: skip
    return shop(small.studio(made, lots=(small.lot("K", 1),)))


def test_row_pairs_that_were_bought_wait_and_the_others_keep_their_lot() -> None:
    # By hand: six pairs of 21 g; the ball of 100 g works four, two are bought: 42 g, one ball.
    plan, done, after = placed(mixed())
    (line,) = plan.orders[0].lines
    assert line.balls == 1
    (purchase,) = done.purchases
    claim = done.studio.project["ash"].stripes[0].claim
    assert claim is not None
    assert (claim.kind, claim.on, len(claim.pairs)) == (ClaimKind.ORDER, purchase, 2)
    found = [r.cover for r in after.plan.projects["ash"].runs]
    assert sorted(found) == [Cover.ORDER] * 2 + [Cover.STASH] * 4


def test_what_a_pinned_lot_lacks_waits_and_the_pin_is_kept() -> None:
    # By hand: 120 g pinned to a ball of 100 g lack 20 g.
    made = small.piece(
        "ash", "A12", Stage.BOOKED, method=Method.BY_HAND, due=date(2027, 3, 1),
        stripes=(Stripe("A", 12, Claim(ClaimKind.PIN, "K"), D(120)),),
    )  # fmt: skip
    before = shop(small.studio(made, lots=(small.lot("K", 1),)))
    assert lacks(checked(before)) == {RUST: D(20)}
    _, done, after = placed(before)
    claim = done.studio.project["ash"].stripes[0].claim
    rest = Claim(ClaimKind.ORDER, done.purchases[0], (), D(20))
    assert claim == Claim(ClaimKind.PIN, "K", rest=rest)
    runs = after.plan.projects["ash"].runs
    assert [(r.cover, r.need_g) for r in runs] == [(Cover.STASH, D(100)), (Cover.ORDER, D(20))]
    codes = {f.code for f in after.plan.projects["ash"].findings}
    assert not codes & {"short", "lot-overdrawn"}
    there = received(done.studio, after)
    held = there.project["ash"].stripes[0].claim
    assert held is not None
    assert held.rest == Claim(ClaimKind.HOLD, f"new {done.purchases[0]} 1", (), D(20))


def test_a_stripe_that_is_cut_keeps_the_ties_of_its_row_pairs() -> None:
    _, done, before = placed(mixed())
    cut = edits.split_stripe(done.studio, "ash", 0, 6)
    after = checked(cut)
    runs = after.plan.projects["ash"].runs
    assert sorted(r.cover for r in runs) == sorted(
        r.cover for r in before.plan.projects["ash"].runs
    )
    with pytest.raises(EditRefusedError, match="tied to different yarn"):
        edits.merge_stripe(cut, "ash", 0)


def test_a_lot_that_gets_another_code_takes_the_rest_with_it() -> None:
    rest = Claim(ClaimKind.HOLD, "L", grams=D(20))
    made = small.piece(
        "ash", "A12", Stage.BOOKED, stripes=(Stripe("A", 12, Claim(ClaimKind.PIN, "K", rest=rest)),)
    )
    there = small.studio(made, lots=(small.lot("K", 1), small.lot("L", 1)))
    old = there.stash.lots[1]
    now = edits.set_lot(there, old.ref, replace(old, code="L-2"))
    claim = now.project["ash"].stripes[0].claim
    assert claim == Claim(ClaimKind.PIN, "K", rest=replace(rest, on="L-2"))
    with pytest.raises(EditRefusedError, match="is promised to Ash"):
        edits.remove_lot(there, old.ref)


def test_ties_by_pairs_mean_nothing_where_lots_may_not_mix() -> None:
    _, done, _ = placed(mixed())
    strict = replace(done.studio.project["ash"], mix=False)
    after = checked(replace(done.studio, projects=(strict,)))
    (run,) = after.plan.projects["ash"].runs
    assert (run.cover, run.claim) == (Cover.SHORT, None)
