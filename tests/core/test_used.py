"""Used yarn leaves its lot: by hand from the rules, and laws that hold for every lot.

The small studio has round figures: 100 stitches in a row, 10 g a row, balls of 100 g. A ball cost
6.00 and 0.50 of the shipping. All sums here are worked out apart, by plain arithmetic.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import edits
from studio.core.booking import HoldsBrokenError
from studio.core.edits import Take
from studio.core.edits.used import lot_g, opened
from studio.core.model import (
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fringe,
    Length,
    Lot,
    LotRef,
    LotRule,
    Project,
    Slot,
    Stage,
    Stripe,
    Studio,
    Used,
    UsedFrom,
    WeighIn,
)
from studio.core.reconcile import reconcile
from studio.core.used import ToNote, to_note, worked_runs
from studio.errors import EditRefusedError
from studio.workshop import Workshop
from tests.core.editing import refused
from tests.core.small import RUST, TIDE, YARN, lot, piece, studio

D = Decimal
DAY = date(2026, 11, 20)
X = LotRef("marl", "1", "x")
Y = LotRef("marl", "2", "y")


def held(code: str, kind: ClaimKind = ClaimKind.HOLD, **more: Any) -> Claim:
    return Claim(kind, code, **more)


def begun(rows_done: int = 8, stage: Stage = Stage.MAKING, **changes: Any) -> Project:
    """A6 B4 A6: Rust from lot x, Tide from lot y."""
    made = piece("throw", "A6 B4 A6", stage, rows_done=rows_done)
    stripes = tuple(replace(s, claim=held("x" if s.slot == "A" else "y")) for s in made.stripes)
    return replace(made, **{"stripes": stripes, **changes})


def house(*pieces: Project, **more: Any) -> Studio:
    lots = more.pop("lots", (lot("x", 2), lot("y", 1, shade="2")))
    return studio(*pieces, lots=lots, **more)


def noting(made: Studio, key: str = "throw") -> tuple[ToNote, ...]:
    demand = reconcile(made).kept.worked[key].demand
    worked = worked_runs(made.project[key], demand.runs, made.settings)
    return to_note(worked, demand.covered)


def grams(made: Studio, ref: LotRef) -> Decimal:
    return sum((lot_g(n, YARN) for n in made.stash.lots if n.ref == ref), D(0))


# What was worked


def test_rows_done_are_worked_out_by_lot() -> None:
    """8 rows are 6 of Rust and 2 of Tide, at 10 g each."""
    assert noting(house(begun())) == (
        ToNote(RUST, "x", D(60), ("A",)),
        ToNote(TIDE, "y", D(20), ("B",)),
    )


def test_it_is_the_mean_and_not_the_planned_need() -> None:
    plan = reconcile(house(begun(0))).plan.projects["throw"]
    assert plan.runs[0].need_g > D(60)
    assert noting(house(begun(6)))[0].grams == D(60)


def test_a_finished_piece_counts_border_and_fringe_too() -> None:
    """2 x 100 stitches at the ends, 2 x 16 rows at the sides, 4 corners: 236 stitches, 23.6 g.

    Forty strands of 25 cm are 10 m; a ball of 100 g has 200 m, so that they weigh 5 g.
    """
    border = Border("A", 1, Length(D(0)), corners=4, increase=0, claim=held("x"))
    fringe = Fringe("B", 40, Length(D(25)), claim=held("y"))
    made = house(begun(16, border=border, fringe=fringe))
    metres = replace(YARN, ball_m=D(200))
    made = replace(made, library=replace(made.library, yarns=(metres,)))
    # Two tails of 15 cm a strand, 0.15 g: one strand a stripe.
    assert [(n.lot, n.grams) for n in noting(made)] == [("x", D("120.3")), ("y", D("40.2"))]
    whole = edits.set_project(made, "throw", stage=Stage.DELIVERED)
    # The border has a strand of its own: 120 + 0.30 + 23.6 + 0.15, and 40 + 0.15 + 5.
    found = {n.lot: float(n.grams) for n in noting(whole)}
    assert found == {"x": pytest.approx(144.05, abs=0.051), "y": pytest.approx(45.2)}


def test_what_is_noted_is_not_counted_again() -> None:
    made = edits.take_used(house(begun()), "throw", [Take(X, D(60))], DAY)
    assert noting(made) == (ToNote(TIDE, "y", D(20), ("B",)),)
    further = edits.set_rows_done(made, "throw", 12)
    assert noting(further) == (
        ToNote(RUST, "x", D(20), ("A",)),
        ToNote(TIDE, "y", D(40), ("B",)),
    )


def test_a_weighing_that_differs_is_not_made_up_for_later() -> None:
    """55 g were weighed for the 60 g expected: nothing is left to note, and 2 rows more are 20."""
    made = edits.take_used(house(begun()), "throw", [Take(X, D(55), UsedFrom.GIVEN)], DAY)
    assert [n.lot for n in noting(made)] == ["y"]
    assert noting(edits.set_rows_done(made, "throw", 12))[0] == ToNote(RUST, "x", D(20), ("A",))


def test_rows_from_a_lot_that_nobody_wrote_down_are_asked_for() -> None:
    plain = begun(stripes=piece("throw", "A6 B4 A6").stripes)
    made = house(plain)
    assert noting(made)[0] == ToNote(RUST, None, D(60), ("A",))
    told = edits.take_used(made, "throw", [Take(X, D(60))], DAY)
    assert [n.shade for n in noting(told)] == [TIDE]


def test_once_she_said_which_lot_it_was_no_rest_is_asked_for() -> None:
    """56 g were weighed for the 60 g expected; rows that come later are asked for again."""
    plain = begun(6, stripes=piece("throw", "A6 A4 B4").stripes)
    told = edits.take_used(house(plain), "throw", [Take(X, D(56), UsedFrom.WEIGHED)], DAY)
    assert noting(told) == ()
    assert noting(edits.set_rows_done(told, "throw", 10)) == (ToNote(RUST, None, D(40), ("A",)),)


def test_one_lot_for_a_slot_tells_of_its_untied_runs() -> None:
    stripes = (Stripe("A", 6), Stripe("B", 4), Stripe("A", 6, held("x")))
    one = (Slot("A", "marl", "1", LotRule.ONE), Slot("B", "marl", "2"))
    assert noting(house(begun(stripes=stripes, slots=one)))[0].lot == "x"
    assert noting(house(begun(stripes=stripes)))[0].lot is None
    other = (stripes[0], Stripe("A", 4, held("z")), stripes[2])
    assert noting(house(begun(stripes=other, slots=one)))[0].lot is None


def test_row_pairs_of_a_mixed_run_go_to_their_own_lots() -> None:
    """Pairs 1 and 3 are of lot x, pair 2 of lot z: of 6 rows 40 g and 20 g."""
    tie = held("x", rest=held("z", pairs=(2,)))
    mixed = begun(6, stripes=(Stripe("A", 6, tie), Stripe("B", 4)), mix=True)
    found = noting(house(mixed, lots=(lot("x", 2), lot("z", 1))))
    assert {(n.lot, n.grams) for n in found} == {("x", D(40)), ("z", D(20))}


def test_what_a_lot_lacked_came_from_elsewhere_at_the_end() -> None:
    """25 g of the 60 g were promised from lot z: the last ones of the run."""
    tie = held("x", rest=held("z", grams=D(25)))
    made = house(begun(6, stripes=(Stripe("A", 6, tie),)), lots=(lot("x", 2), lot("z", 1)))
    assert {(n.lot, n.grams) for n in noting(made)} == {("x", D(35)), ("z", D(25))}
    half = edits.set_rows_done(made, "throw", 2)
    assert {(n.lot, n.grams) for n in noting(half)} == {("x", D(20))}


def test_yarn_bought_for_a_run_is_of_a_lot_that_is_asked_for() -> None:
    made = house(begun(6, stripes=(Stripe("A", 6, held("p", ClaimKind.ORDER)),)))
    assert [n.lot for n in noting(made)] == [None]


# Out of the lot


def test_a_ball_is_opened_and_the_rest_of_it_returns() -> None:
    made = edits.take_used(house(begun()), "throw", [Take(X, D(60))], DAY)
    there = made.stash.by_shade[RUST][0]
    assert (there.balls, there.parts_g) == (1, (D(40),))
    # 60 of 100 g of a ball of 6.50.
    assert made.project["throw"].used == (
        Used("marl", "1", "x", D(60), D("3.90"), DAY, UsedFrom.WORKED_OUT, 8),
    )


BATCHES = (
    Batch(2, D(8), bought=date(2026, 5, 1)),
    Batch(1, D(4), D(1), bought=date(2025, 5, 1)),
)


@pytest.mark.parametrize(
    ("parts", "take", "left", "balls", "paid"),
    [
        # The smallest part ball that suffices; its price is the average of (5 + 2 x 8) / 3 a ball.
        ((30, 20, 45), 20, (30, 45), (2, 1), "1.40"),
        ((30, 20, 45), 25, (20, 45, 5), (2, 1), "1.75"),
        # The largest whole, then the smallest that suffices.
        ((30, 20, 45), 60, (30, 5), (2, 1), "4.20"),
        # All of them, then the oldest ball at 5.00, then one of 8.00.
        ((20,), 50, (70,), (2, 0), "2.90"),
        ((), 150, (50,), (1, 0), "9.00"),
        ((), 300, (), (0, 0), "21.00"),
    ],
)
def test_part_balls_first_then_the_oldest_batch(
    parts: tuple[int, ...], take: int, left: tuple[int, ...], balls: tuple[int, int], paid: str
) -> None:
    there = Lot("marl", "1", "x", BATCHES, tuple(map(D, parts)))
    made = edits.take_used(house(begun(), lots=(there,)), "throw", [Take(X, D(take))])
    (now,) = made.stash.lots
    assert sorted(now.parts_g) == sorted(map(D, left))
    assert tuple(b.balls for b in now.batches) == balls
    assert made.project["throw"].used[0].paid == D(paid)


def test_a_lot_without_a_price_costs_what_nobody_knows() -> None:
    made = edits.take_used(
        house(begun(), lots=(lot("x", 2, price=None),)), "throw", [Take(X, D(60))]
    )
    assert made.project["throw"].used[0].paid is None


def test_more_than_the_lot_has_is_refused() -> None:
    made = house(begun())
    refused(
        lambda: edits.take_used(made, "throw", [Take(X, D("200.1"))]),
        "Lot x of Marl Rust has 200 g",
        "200.1 g cannot have been used",
    )
    refused(lambda: edits.take_used(made, "throw", [Take(LotRef("marl", "1", "q"), D(1))]), "'q'")
    for wrong in ("0", "-3", "NaN", "1000000"):
        take = Take(X, D(wrong))
        with pytest.raises(EditRefusedError, match="more than 0"):
            edits.take_used(made, "throw", [take])


def test_what_is_left_on_the_scale_tells_what_was_used() -> None:
    made = house(begun())
    assert edits.used_of_left(made, X, D("137.5")) == D("62.5")
    for left, words in (("201", "had 200 g, so 201 g"), ("-1", "0 g or more")):
        with pytest.raises(EditRefusedError, match=words):
            edits.used_of_left(made, X, D(left))


def test_yarn_that_is_out_already_is_noted_only() -> None:
    made = house(begun())
    after = edits.take_used(made, "throw", [Take(X, D(60), out=True)], DAY)
    assert after.stash is made.stash
    assert after.project["throw"].used[0].paid == D("3.90")
    gone = LotRef("marl", "1", "long gone")
    told = edits.take_used(made, "throw", [Take(gone, D(60), out=True)], DAY)
    assert told.project["throw"].used[0].paid is None


lots = st.builds(
    Lot,
    st.just("marl"),
    st.just("1"),
    st.just("x"),
    st.lists(
        st.builds(
            Batch,
            st.integers(0, 4),
            st.none() | st.decimals(0, 20, places=2),
            bought=st.none() | st.dates(date(2024, 1, 1), date(2026, 1, 1)),
        ),
        max_size=3,
    ).map(tuple),
    st.lists(st.decimals("0.1", "99.9", places=1), max_size=4).map(tuple),
)


@given(lots, st.data())
def test_a_lot_before_is_the_lot_after_and_what_was_used(there: Lot, data: st.DataObject) -> None:
    had = lot_g(there, YARN)
    if not had:
        return
    take = data.draw(st.decimals("0.1", had, places=1))
    after = opened(there, YARN, take, D(1))
    assert lot_g(after.lot, YARN) + take == had
    assert all(0 < p < 100 for p in after.lot.parts_g)
    # No full ball is opened while part balls are enough, and never more than it needs.
    over = take - sum(there.parts_g)
    assert there.balls - after.lot.balls == (math.ceil(over / 100) if over > 0 else 0)
    # At most one part ball is new, and it is smaller than a ball.
    assert len(set(after.lot.parts_g) - set(there.parts_g)) <= 1


@given(lots, st.data())
def test_every_note_can_be_put_right_and_taken_out_again(there: Lot, data: st.DataObject) -> None:
    had = lot_g(there, YARN)
    if not had:
        return
    gram = st.decimals("0.1", had, places=1)
    made = house(begun(), lots=(there,))
    noted = edits.take_used(made, "throw", [Take(X, data.draw(gram))], DAY)
    other = edits.set_used(noted, "throw", 0, data.draw(gram))
    assert grams(other, X) + other.project["throw"].used[0].grams == had
    out = edits.set_used(other, "throw", 0, D(0))
    assert grams(out, X) == had
    assert out.project["throw"].used == ()
    # What returns lies in part balls that an edit of hers would let in.
    assert edits.weigh_part(out, X, None, D(1)) is not out


def test_a_note_that_is_not_there_is_refused() -> None:
    made = house(begun())
    refused(lambda: edits.set_used(made, "throw", 0, D(5)), "no such note")
    refused(lambda: edits.drop_used(made, "throw", 0), "no such note")


def test_notes_follow_a_lot_whose_code_was_put_right() -> None:
    made = edits.take_used(house(begun()), "throw", [Take(X, D(60))])
    there = made.stash.by_shade[RUST][0]
    renamed = edits.set_lot(made, X, replace(there, code="x1"))
    assert renamed.project["throw"].used[0].lot == "x1"
    assert [n.lot for n in noting(renamed)] == ["y"]


def test_a_copy_has_used_nothing() -> None:
    made = edits.take_used(house(begun()), "throw", [Take(X, D(60))])
    copied = edits.copy_project(made, "throw", "Another")
    assert copied.project["another"].used == ()


def test_a_shade_that_was_used_stays_in_its_yarn() -> None:
    made = edits.take_used(house(begun()), "throw", [Take(X, D(60))])
    done = edits.set_project(made, "throw", stage=Stage.DELIVERED)
    mapped = replace(done.project["throw"], slots=(Slot("A", "marl", "2"), Slot("B", "marl", "2")))
    bare = replace(done, projects=(mapped,), stash=replace(done.stash, lots=()))
    refused(
        lambda: edits.set_yarn(bare, replace(YARN, shades=YARN.shades[1:])), "was used for Throw"
    )


# Promises


def test_taking_what_was_promised_to_this_piece_breaks_no_promise() -> None:
    """Both Rust stripes are promised of 200 g; the first is worked and noted, the second stays."""
    shop = Workshop(house(begun(6)))
    shop.do("used", lambda s: edits.take_used(s, "throw", [Take(X, D(60))]), mind_holds=True)
    (state,) = (n for n in shop.snapshot.plan.lots.values() if n.ref == X)
    assert state.total_g == D(140)
    assert state.held_g == shop.snapshot.plan.projects["throw"].runs[2].need_g
    shop.undo()
    assert grams(shop.snapshot.studio, X) == D(200)
    assert shop.snapshot.studio.project["throw"].used == ()


def test_no_other_pieces_promise_is_broken_in_silence() -> None:
    other = piece("other", "A10", Stage.BOOKED, stripes=(Stripe("A", 10, held("x")),))
    shop = Workshop(house(begun(16), other, lots=(lot("x", 3), lot("y", 1, shade="2"))))
    before = shop.snapshot

    def take(grams: int) -> None:
        shop.do("used", lambda s: edits.take_used(s, "throw", [Take(X, D(grams))]), mind_holds=True)

    with pytest.raises(HoldsBrokenError, match="Other: stripe 1"):
        take(250)
    assert shop.snapshot is before
    take(120)
    assert shop.snapshot.plan.projects["other"].runs[0].lot == "x"


# Cost


def test_what_is_noted_costs_what_was_paid_and_the_rest_what_its_lot_does() -> None:
    """120 g of Rust at 6.50 a ball are 7.80; 60 g of them stay at that in a dearer lot."""
    made = house(begun(6))
    before = reconcile(made).plan.projects["throw"].shades[0]
    assert before.used_cost == D("7.80")
    noted = edits.take_used(made, "throw", [Take(X, D(60))])
    same = reconcile(noted).plan.projects["throw"].shades[0]
    assert same.used_cost == D("7.80")
    there = noted.stash.by_shade[RUST][0]
    dear = replace(there, batches=(replace(there.batches[0], price=D("9.50")),))
    dearer = reconcile(edits.set_lot(noted, X, dear)).plan.projects["throw"].shades[0]
    assert dearer.used_cost == D("3.90") + D("6.00")


def test_all_noted_is_all_paid_and_nothing_twice() -> None:
    """A finished piece: 130 g really went, at 6.50 a ball 8.45, whatever 120 g would cost."""
    made = house(begun(16, Stage.DELIVERED))
    noted = edits.take_used(made, "throw", [Take(X, D(130)), Take(Y, D(40))])
    plan = reconcile(noted).plan.projects["throw"]
    assert {s.shade: s.used_cost for s in plan.shades} == {RUST: D("8.45"), TIDE: D("2.60")}
    assert all(s.need_g == 0 for s in plan.shades)
    assert plan.cost.cash_yarn == 0


def test_a_note_of_a_lot_nobody_wrote_down_counts_once() -> None:
    plain = begun(6, stripes=(Stripe("A", 6),), stage=Stage.DELIVERED)
    noted = edits.take_used(house(plain), "throw", [Take(X, D(60))])
    assert reconcile(noted).plan.projects["throw"].shades[0].used_cost == D("3.90")


def test_yarn_of_a_shade_that_the_piece_has_no_more_still_costs() -> None:
    made = edits.take_used(house(begun(6)), "throw", [Take(X, D(60))])
    mapped = replace(made.project["throw"], slots=(Slot("A", "marl", "2"), Slot("B", "marl", "2")))
    plan = reconcile(replace(made, projects=(mapped,))).plan.projects["throw"]
    (shade,) = (s for s in plan.shades if s.shade == RUST)
    assert (shade.used_cost, shade.slots) == (D("3.90"), ())


# Evidence


def weighed(made: Studio, ref: LotRef, grams: str) -> Studio:
    return edits.take_used(made, "throw", [Take(ref, D(grams), UsedFrom.WEIGHED)], DAY)


def test_a_weighing_of_one_stripe_is_a_weigh_in_too() -> None:
    made = weighed(house(begun(6)), X, "66")
    assert made.project["throw"].weigh_ins == (WeighIn("A", 6, D(66), 1, DAY),)
    # The next one tells of the rows since then: rows 11 to 14 of the same slot.
    further = weighed(edits.set_rows_done(made, "throw", 14), X, "44")
    assert further.project["throw"].weigh_ins[1] == WeighIn("A", 4, D(44), 11, DAY)


def test_a_weighing_over_several_stripes_or_places_is_none() -> None:
    assert weighed(house(begun(16)), X, "130").project["throw"].weigh_ins == ()
    border = Border("B", 1, Length(D(0)), claim=held("y"))
    whole = begun(16, Stage.DELIVERED, border=border)
    assert weighed(house(whole), Y, "60").project["throw"].weigh_ins == ()
    mixed = begun(6, mix=True)
    assert weighed(house(mixed), X, "66").project["throw"].weigh_ins == ()


def test_rows_that_were_weighed_in_are_not_weighed_twice() -> None:
    seen = begun(6, weigh_ins=(WeighIn("A", 4, D(41), 3, DAY),))
    assert len(weighed(house(seen), X, "66").project["throw"].weigh_ins) == 1


def test_a_weighing_that_may_be_of_two_lots_is_no_weigh_in() -> None:
    stripes = (Stripe("A", 6), Stripe("A", 4, held("x")))
    assert weighed(house(begun(10, stripes=stripes)), X, "66").project["throw"].weigh_ins == ()
    tie = held("x", rest=held("z", grams=D(25)))
    rest = begun(6, stripes=(Stripe("A", 6, tie),))
    assert weighed(house(rest), X, "35").project["throw"].weigh_ins == ()


def test_worked_out_grams_are_no_evidence() -> None:
    made = edits.take_used(house(begun(6)), "throw", [Take(X, D(60))], DAY)
    assert made.project["throw"].weigh_ins == ()
