"""Orders placed outside the app: noted, changed and called off, and who waits or goes short."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from studio.core import edits
from studio.core.answers import Cover
from studio.core.buying import noting
from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.noting import Whom
from studio.core.buying.offers import Offer
from studio.core.model import Claim, ClaimKind, OrderLine, Purchase, ShadeRef, Stage, Studio
from studio.core.reconcile import Reconciled
from studio.core.ties import ties_of
from tests.core import editing, small
from tests.core.buying.making import D, seller, steps
from tests.core.buying.test_placing import checked, random_studio

TODAY = date(2027, 1, 4)
SOON, LATER = TODAY + timedelta(days=10), TODAY + timedelta(days=40)
DUE = date(2027, 2, 1)
RUST = small.RUST


def pieces(**lots: object) -> Studio:
    """Two booked pieces of 2 x 60 g of Rust a stripe, one quote; a customer wants one lot each."""
    ash = small.piece("ash", "A6 B2 A6", Stage.BOOKED, due=DUE, customer="Ilva")
    birch = small.piece("birch", "A6", Stage.BOOKED, due=DUE + timedelta(days=9))
    cedar = small.piece("cedar", "A6", Stage.QUOTED)
    made = small.studio(ash, birch, cedar, lots=(small.lot("T", 9, shade="2"),), **lots)
    return replace(made, suppliers=(seller("north", 4),), offers=(
        Offer("north", "marl", steps((1, "7.00"), (6, "6.20"))),
    ))  # fmt: skip


def line(balls: int, shade: str = "1", price: str | None = "6.50") -> OrderLine:
    return OrderLine("marl", shade, balls, None if price is None else D(price))


def order(*lines: OrderLine, arrives: date = SOON) -> Purchase:
    return Purchase("", "a stall at the fair", arrives, lines, TODAY, "She had it under the table.")


def noted(studio: Studio, balls: int, whom: Whom = Whom.BOOKED) -> Studio:
    plans = checked(studio).plan.projects
    return noting.noted(studio, order(line(balls)), whom, plans)


def waiting(seen: Reconciled) -> dict[str, Cover]:
    """Runs of Rust by their covers."""
    found = (r for p in seen.plan.projects.values() for r in p.runs if r.shade == RUST)
    return {r.ref.key: r.cover for r in found}


KEY = "a-stall-at-the-fair-2027-01-04"


def test_what_was_short_is_on_order_once_it_is_noted() -> None:
    studio = pieces()
    assert set(waiting(checked(studio)).values()) == {Cover.SHORT}
    after = noted(studio, 3)
    (made,) = after.stash.purchases
    assert made == replace(order(line(3)), key=KEY)
    covers = waiting(checked(after))
    assert covers == {
        "ash/stripe/0": Cover.ORDER,
        "ash/stripe/2": Cover.ORDER,
        "birch/stripe/0": Cover.ORDER,
        "cedar/stripe/0": Cover.SHORT,  # a quote waits only where she says so
    }
    assert after.project["ash"].stripes[0].claim == Claim(ClaimKind.ORDER, KEY)
    assert after.project["ash"].stripes[1] is studio.project["ash"].stripes[1]
    assert after.project["cedar"] is studio.project["cedar"]
    assert not checked(after).plan.promised_short


def test_stripes_that_come_from_one_lot_wait_together_or_not_at_all() -> None:
    # One ball has 100 g: ash needs more than that for both its stripes, birch has room.
    after = noted(pieces(), 1)
    assert waiting(checked(after)) == {
        "ash/stripe/0": Cover.SHORT,
        "ash/stripe/2": Cover.SHORT,
        "birch/stripe/0": Cover.ORDER,
        "cedar/stripe/0": Cover.SHORT,
    }


def test_it_may_be_for_quotes_too_or_for_the_shelf() -> None:
    assert waiting(checked(noted(pieces(), 5, Whom.QUOTED)))["cedar/stripe/0"] is Cover.ORDER
    shelf = noted(pieces(), 5, Whom.SHELF)
    assert set(waiting(checked(shelf)).values()) == {Cover.SHORT}
    assert shelf.projects == pieces().projects
    assert noting.waited_for(noted(pieces(), 5, Whom.QUOTED), KEY, RUST) is Whom.QUOTED
    assert noting.waited_for(noted(pieces(), 5), KEY, RUST) is Whom.BOOKED
    assert noting.waited_for(shelf, KEY, RUST) is Whom.SHELF


def test_what_a_pinned_lot_lacks_waits_and_the_pin_is_kept() -> None:
    pin = Claim(ClaimKind.PIN, "K")
    studio = pieces()
    ash = studio.project["ash"]
    first, *others = ash.stripes
    ash = replace(ash, stripes=(replace(first, rows=14, claim=pin), *others))
    lots = (*studio.stash.lots, small.lot("K", 1))
    studio = replace(studio, projects=(ash,), stash=replace(studio.stash, lots=lots))
    assert checked(studio).plan.promised_short
    after = noted(studio, 3)
    claim = after.project["ash"].stripes[0].claim
    assert claim is not None
    assert (claim.kind, claim.on) == (ClaimKind.PIN, "K")
    assert claim.rest is not None
    assert (claim.rest.kind, claim.rest.on) == (ClaimKind.ORDER, KEY)
    assert not checked(after).plan.promised_short


def losses(before: Studio, after: Studio) -> noting.Means:
    return noting.means(checked(before).plan, checked(after).plan, KEY, after, before)


def test_an_order_called_off_leaves_its_pieces_short_and_names_them() -> None:
    before = noted(pieces(), 3)
    after = edits.call_off(before, KEY)
    assert not after.stash.purchases
    assert after.projects == pieces().projects
    found = losses(before, after)
    assert found.promise
    assert found.losses == (
        "Ash: stripes 1 and 3 would be short of Marl Rust again.",
        "Birch: stripe 1 would be short of Marl Rust again.",
    )
    assert checked(after).plan.promised_short


def test_a_lot_that_has_enough_takes_over() -> None:
    before = noted(pieces(), 3)
    lots = (*before.stash.lots, small.lot("K", 1))
    before = replace(before, stash=replace(before.stash, lots=lots))
    found = losses(before, edits.call_off(before, KEY))
    assert "Birch: stripe 1 would be worked from lot K of Marl Rust." in found.losses


def test_fewer_balls_keep_who_fits_and_free_who_does_not() -> None:
    before = noted(pieces(), 3)
    plans = checked(before).plan.projects
    after = noting.line_changed(before, KEY, 0, line(2), Whom.BOOKED, plans)
    assert waiting(checked(after)) == {
        "ash/stripe/0": Cover.ORDER,
        "ash/stripe/2": Cover.ORDER,
        "birch/stripe/0": Cover.SHORT,
        "cedar/stripe/0": Cover.SHORT,
    }
    assert losses(before, after).losses == ("Birch: stripe 1 would be short of Marl Rust again.",)
    again = noting.line_changed(after, KEY, 0, line(3), Whom.BOOKED, checked(after).plan.projects)
    assert again == before  # one ball more, and whoever was short joins again


def test_a_price_alone_moves_nobody() -> None:
    before = noted(pieces(), 3)
    plans = checked(before).plan.projects
    after = noting.line_changed(before, KEY, 0, line(3, price="7.10"), Whom.BOOKED, plans)
    assert after.stash.purchase[KEY].lines == (line(3, price="7.10"),)
    assert all(a is b for a, b in zip(after.projects, before.projects, strict=True))
    assert losses(before, after) == noting.Means((), False)
    assert noting.line_changed(before, KEY, 0, line(3), Whom.BOOKED, plans) == before


def test_an_order_that_comes_too_late_is_told() -> None:
    before = noted(pieces(), 3)
    after = edits.set_order(before, replace(before.stash.purchase[KEY], arrives=LATER))
    assert losses(before, after).losses == (
        "Ash: stripes 1 and 3 would wait for Marl Rust until 13 Feb 2027, too late for 1 Feb 2027.",
        "Birch: stripe 1 would wait for Marl Rust until 13 Feb 2027, too late for 10 Feb 2027.",
    )


def test_lines_join_and_leave() -> None:
    studio = pieces()
    plans = checked(studio).plan.projects
    tide = noting.noted(studio, order(line(4, "2")), Whom.BOOKED, plans)
    both = noting.line_added(tide, KEY, line(3), Whom.BOOKED, checked(tide).plan.projects)
    assert [n.shade for n in both.stash.purchase[KEY].lines] == ["2", "1"]
    assert noting.tied_pieces(both, KEY, RUST) == ("ash", "birch")
    assert edits.remove_line(both, KEY, 1) == tide
    assert edits.remove_line(tide, KEY, 0) == studio
    editing.refused(lambda: edits.add_line(both, KEY, line(1)), "on this order already")


def test_what_cannot_be_is_refused() -> None:
    studio = noted(pieces(), 3)
    there = studio.stash.purchase[KEY]
    note, refused = edits.note_order, editing.refused
    refused(lambda: note(studio, there), "open purchase", "already")
    refused(lambda: note(studio, replace(order(line(1)), supplier=" ")), "needs its supplier")
    refused(lambda: note(studio, order()), "at least one line")
    refused(lambda: note(studio, order(line(0))), "0 balls make no sense")
    refused(lambda: note(studio, order(line(1, "9"))), "no shade '9'")
    refused(lambda: note(studio, order(line(1, price="1.005"))), "no amount in EUR")
    refused(lambda: note(studio, order(line(1), arrives=date(2026, 1, 1))), "before it was ordered")
    refused(lambda: edits.set_order(studio, replace(there, key="gone")), "no open purchase 'gone'")
    refused(lambda: edits.set_line(studio, KEY, 0, line(1, "2")), "stays with its shade")
    refused(lambda: edits.set_line(studio, KEY, 1, line(1)), "not on the order any more")
    refused(lambda: edits.remove_line(studio, KEY, 1), "not on the order any more")
    refused(lambda: edits.call_off(studio, "gone"), "no open purchase 'gone'")
    typed = edits.set_parcel(studio, Delivery(KEY, TODAY, (Bag("marl", "1", "L", 1),)))
    refused(lambda: edits.call_off(typed, KEY), "1 bag of this order came already")


def test_a_supplier_of_hers_is_kept_by_key_and_any_other_by_name() -> None:
    studio = pieces()
    named = replace(studio.suppliers[0], name="North Mill")
    studio = replace(studio, suppliers=(named,))
    hers = edits.note_order(studio, replace(order(line(1)), supplier="north mill"))
    assert [p.supplier for p in hers.stash.purchases] == ["north"]
    # An order that names her by name already is left as it is written.
    (made,) = hers.stash.purchases
    old = replace(
        hers, stash=replace(hers.stash, purchases=(replace(made, supplier="North Mill"),))
    )
    later = edits.set_order(old, replace(made, supplier="North Mill", arrives=LATER))
    assert [p.supplier for p in later.stash.purchases] == ["North Mill"]
    twice = edits.note_order(studio, order(line(1)))
    twice = edits.note_order(twice, order(line(2)))
    assert [p.key for p in twice.stash.purchases] == [KEY, f"{KEY}-2"]


def test_price_day_and_shade_are_proposed() -> None:
    studio = pieces()
    assert noting.price_there(studio, "north", RUST, 5) == D("7.00")
    assert noting.price_there(studio, "north", RUST, 6) == D("6.20")
    assert noting.price_there(studio, "the fair", RUST, 6) is None
    # What is asked in other money is no price in hers.
    abroad = replace(studio, suppliers=(replace(studio.suppliers[0], currency="GBP"),))
    assert noting.price_there(abroad, "north", RUST, 6) is None
    assert noting.arrival_from(studio, "north", TODAY) == date(2027, 1, 8)
    assert noting.arrival_from(studio, "the fair", TODAY) is None
    first = noting.wanted_shades(studio, checked(studio).plan, "north")[0]
    assert (first.ref, first.short_balls) == (RUST, 3)
    assert noting.line_words(line(3, price="7.4"), "EUR") == "3 balls at 7.40: 22.20 EUR"
    assert noting.line_words(line(1, price=None), "EUR") == "1 ball, price not known"


@pytest.mark.parametrize("seed", range(60))
def test_no_order_promises_more_than_it_has_and_calling_it_off_gives_all_back(seed: int) -> None:
    rng = random.Random(seed)
    studio = random_studio(rng)
    seen = checked(studio)
    lines = tuple(line(rng.randint(1, 6), shade) for shade in rng.sample("12", rng.randint(1, 2)))
    whom = rng.choice(list(Whom))
    after = noting.noted(studio, order(*lines), whom, seen.plan.projects)
    now = checked(after)
    asked: dict[ShadeRef, int] = {}
    for plan in now.plan.projects.values():
        for run in plan.runs:
            if run.lot == KEY and run.cover in noting.WAITS:
                asked[run.shade] = asked.get(run.shade, 0) + int(run.need_g * 10)
                assert plan.stage in noting.STAGES[whom]
            assert not (run.lot == KEY and run.cover is Cover.SHORT)
    for made in lines:
        assert asked.get(ShadeRef("marl", made.shade), 0) <= made.balls * 1000
    gone = edits.call_off(after, KEY)
    held = [t for p in gone.projects for s in p.stripes for t in ties_of(s.claim)]
    assert all(t.on != KEY for t in held)
    # What stayed in a lot before stays there: an order takes nothing from the stash.
    was = {r.ref.key: r for p in seen.plan.projects.values() for r in p.runs}
    for plan in now.plan.projects.values():
        for run in plan.runs:
            old = was.get(run.ref.key)
            if old is not None and old.cover is Cover.STASH and old.claim is ClaimKind.HOLD:
                assert run.cover is Cover.STASH
