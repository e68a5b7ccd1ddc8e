"""After the orders are placed a fresh check finds on order what the plan said it covers."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.core import edits
from studio.core.answers import Cover, RunKind, RunRef
from studio.core.buying.asking import wanted_of
from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.offers import Offer, Supplier, flat
from studio.core.buying.placing import Placed, place_orders, take_offer
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import HELD, Chosen
from studio.core.buying.receiving import receive
from studio.core.buying.together import Together, buy_together, questions_of
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


def bought(
    studio: Studio, chosen: Chosen = BOUGHT_FOR, seen: Reconciled | None = None
) -> tuple[Reconciled, PurchasePlan]:
    """The check, where it has not been made already, and the cheapest purchase for it."""
    seen = seen or checked(studio)
    wanted = wanted_of(studio, seen.kept.outcomes, seen.plan.projects, TODAY, chosen)
    return seen, buy_together(questions_of(wanted)).plan


def placed(
    studio: Studio, chosen: Chosen = BOUGHT_FOR, seen: Reconciled | None = None
) -> tuple[PurchasePlan, Placed, Reconciled]:
    """The purchase, the studio with it on order, and a fresh check of that."""
    seen, plan = bought(studio, chosen, seen)
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
    again = bought(done.studio, seen=after)[1]
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
    first = checked(studio)
    _, done, seen = placed(studio, HELD, first)
    there = received(done.studio, seen)
    after = checked(there)
    assert there.stash.purchases == ()
    assert not any(s.held_g for s in after.plan.shortfalls)
    ties = [t for p in there.projects for _, _, r in runs_of(p) for t in ties_of(r.claim)]
    assert not [t for t in ties if t.kind is ClaimKind.ORDER]
    assert moved(after) <= moved(first)


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
    told = {f.code: f.text for f in after.plan.projects["ash"].findings}
    assert not told.keys() & {"short", "lot-overdrawn"}
    # That one stripe then shows two dye lots is said as such.
    assert told["lots-meet"].startswith(
        f"Stripe 1, Rust, comes from lot K and purchase {done.purchases[0]};"
    )
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


def offering() -> Studio:
    """Far holds the only ball and could wait for a cheap one; near would have to buy dear."""
    far = small.piece(
        "far", "A8", Stage.BOOKED, due=date(2027, 6, 1),
        stripes=(Stripe("A", 8, Claim(ClaimKind.HOLD, "K")),),
    )  # fmt: skip
    near = small.piece("near", "A8", Stage.BOOKED, due=date(2027, 1, 20))
    dear = Offer("fast", "marl", steps((1, "9.00")))
    cheap = Offer("slow", "marl", steps((1, "4.00")))
    base = small.studio(far, near, lots=(small.lot("K", 1),))
    return replace(base, suppliers=(seller("fast", 2), seller("slow", 30)), offers=(dear, cheap))


def asked(studio: Studio) -> tuple[Reconciled, Together]:
    seen = checked(studio)
    wanted = wanted_of(studio, seen.kept.outcomes, seen.plan.projects, TODAY, HELD)
    return seen, buy_together(questions_of(wanted))


def test_taking_the_offered_move_saves_what_was_told_and_leaves_nobody_without_yarn() -> None:
    before = offering()
    seen, found = asked(before)
    # Near buys a ball at 9.00; with far's ball for it, far waits for one at 4.00.
    assert found.plan.landed == D("9.00")
    offer = found.offer
    assert offer is not None
    assert offer.saves == D("5.00")
    done = take_offer(before, offer, seen.plan.projects, TODAY)
    (purchase,) = done.studio.stash.purchases
    paid = sum((n.balls * (n.price or D(0)) for n in purchase.lines), D(0))
    assert paid == found.plan.landed - offer.saves
    claim = done.studio.project["far"].stripes[0].claim
    assert claim == Claim(ClaimKind.ORDER, purchase.key)
    after = checked(done.studio)
    assert {k: p.runs[0].cover for k, p in after.plan.projects.items()} == {
        "far": Cover.ORDER, "near": Cover.STASH,
    }  # fmt: skip
    assert after.plan.shortfalls[0].held_g == 0
    again = asked(done.studio)[1]
    assert again.plan.orders == ()
    assert again.offer is None


def test_an_offer_that_no_longer_fits_is_refused_whole() -> None:
    before = offering()
    seen, found = asked(before)
    assert found.offer is not None
    other = edits.set_claim(before, "far", RunKind.STRIPE, 0, None)
    with pytest.raises(EditRefusedError, match="look at it anew"):
        take_offer(other, found.offer, seen.plan.projects, TODAY)


def random_offering(rng: random.Random) -> Studio:
    """Two booked pieces, the later one holding lots that the sooner one could do with."""
    near = small.piece("near", f"A{rng.randint(2, 12)} A{rng.randint(2, 9)}", Stage.BOOKED)
    far = small.piece("far", f"A{rng.randint(2, 12)} A{rng.randint(2, 9)}", Stage.BOOKED)
    lots = tuple(small.lot(code, rng.randint(1, 3)) for code in "KL"[: rng.randint(1, 2)])
    held = tuple(
        replace(s, claim=Claim(ClaimKind.HOLD, rng.choice(lots).code)) for s in far.stripes
    )
    far = replace(far, stripes=held, due=date(2027, 6, 1), mix=rng.random() < 0.5)
    near = replace(near, due=date(2027, 1, 20), mix=rng.random() < 0.3)
    base = small.studio(far, near, lots=lots)
    shops = (seller("fast", 2, shipping=flat(D(4))), seller("slow", 30, shipping=flat(D(2))))
    dear = Offer("fast", "marl", steps((1, "9.00"), (4, "8.50")))
    cheap = Offer("slow", "marl", steps((1, "4.00")))
    return replace(base, suppliers=shops, offers=(dear, cheap))


def test_any_offered_move_saves_what_was_told_and_breaks_no_promise() -> None:
    taken = 0
    for seed in range(60):
        before = random_offering(random.Random(seed))
        seen, found = asked(before)
        if found.offer is None:
            continue
        taken += 1
        done = take_offer(before, found.offer, seen.plan.projects, TODAY)
        after = checked(done.studio)
        assert found.offer.plan.net == found.plan.net - found.offer.saves
        assert not any(s.held_g for s in after.plan.shortfalls), seed
        assert asked(done.studio)[1].plan.orders == (), seed
        assert moved(after) <= moved(seen), seed
    assert taken >= 10
