"""Edits of the stripe sequence: what they do, what they refuse, what they leave alone."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from studio.core import edits
from studio.core.model import Project, Stripe, Studio
from studio.errors import EditRefusedError
from tests.core.editing import HOLD_1, HOLD_2, ON_ORDER, PIN_1, piece, refused, stripes, studio


def test_rows_up_and_down() -> None:
    base = studio()
    assert stripes(edits.change_rows(base, "throw", 1, 2))[1] == ("B", 6)
    assert stripes(edits.change_rows(base, "throw", 1, -2))[1] == ("B", 2)
    assert stripes(edits.set_rows(base, "throw", 3, 2_000))[3] == ("B", 2_000)


def test_rows_out_of_reason_are_refused() -> None:
    base = studio()
    refused(lambda: edits.set_rows(base, "throw", 0, 0), "0 rows", "1 to 2,000")
    refused(lambda: edits.set_rows(base, "throw", 0, 2_001), "2,001 rows", "1 to 2,000")
    refused(lambda: edits.change_rows(base, "throw", 3, -2), "0 rows")
    refused(lambda: edits.set_rows(base, "throw", 4, 6), "no stripe 5", "4 stripes")
    refused(lambda: edits.set_rows(base, "throw", -1, 6), "no stripe 0")
    refused(lambda: edits.set_rows(base, "gone", 0, 6), "no project 'gone'")


def test_worked_rows_stand() -> None:
    base = studio(piece("throw", rows_done=8))  # stripe 1 worked, 2 of 4 rows of stripe 2
    refused(lambda: edits.set_rows(base, "throw", 1, 1), "2 rows worked", "fewer than 2")
    assert stripes(edits.set_rows(base, "throw", 1, 2))[1] == ("B", 2)
    refused(lambda: edits.change_rows(base, "throw", 0, 2), "a later stripe is begun")
    assert stripes(edits.change_rows(base, "throw", 2, -2))[2] == ("A", 6)


def test_a_stripe_worked_to_its_end_may_still_grow() -> None:
    base = studio(piece("throw", rows_done=10))
    assert stripes(edits.change_rows(base, "throw", 1, 2))[1] == ("B", 6)
    refused(lambda: edits.change_rows(base, "throw", 1, -2), "4 rows worked")


def test_add_and_remove() -> None:
    base = studio()
    added = edits.add_stripe(base, "throw", 1, "C", 2)
    assert stripes(added) == [("A", 6), ("C", 2), ("B", 4), ("A", 8), ("B", 2)]
    assert edits.remove_stripe(added, "throw", 1) == base
    assert stripes(edits.add_stripe(base, "throw", 4, "A", 6))[-1] == ("A", 6)
    refused(lambda: edits.add_stripe(base, "throw", 5, "A", 6), "no place 6", "1 to 5")
    refused(lambda: edits.add_stripe(base, "throw", 0, "Q", 6), "no slot 'Q'", "A, B, C")
    refused(lambda: edits.add_stripe(base, "throw", 0, "A", 0), "0 rows")


def test_a_piece_has_at_most_2000_stripes() -> None:
    full = studio(piece("throw", *(Stripe("A", 2) for _ in range(2_000))))
    refused(lambda: edits.add_stripe(full, "throw", 0, "A", 2), "2,000 stripes already")
    refused(lambda: edits.split_stripe(full, "throw", 0, 1), "2,000 stripes already")


def test_the_only_stripe_stays() -> None:
    base = studio(piece("throw", Stripe("A", 6)))
    refused(lambda: edits.remove_stripe(base, "throw", 0), "only this stripe")


def test_begun_stripes_keep_their_place() -> None:
    base = studio(piece("throw", rows_done=8))
    refused(lambda: edits.remove_stripe(base, "throw", 1), "is begun", "stripes from 3 on are free")
    refused(lambda: edits.add_stripe(base, "throw", 1, "A", 2), "is begun")
    refused(lambda: edits.move_stripe(base, "throw", 0, 3), "is begun", "keeps its place")
    refused(lambda: edits.move_stripe(base, "throw", 3, 1), "is begun")
    refused(lambda: edits.set_slot(base, "throw", 1, "A"), "stays in slot B")
    assert stripes(edits.move_stripe(base, "throw", 3, 2))[2:] == [("B", 2), ("A", 8)]
    assert stripes(edits.add_stripe(base, "throw", 2, "A", 2))[2] == ("A", 2)
    whole = studio(piece("throw", rows_done=20))
    refused(lambda: edits.remove_stripe(whole, "throw", 3), "20 rows are worked", "at the end")


def test_split_keeps_claim_and_shares_grams() -> None:
    stripe = Stripe("A", 6, HOLD_1, Decimal("40.5"), "the soft one")
    base = studio(piece("throw", stripe, rows_done=3))
    split = edits.split_stripe(base, "throw", 0, 4)
    first, second = split.project["throw"].stripes
    assert (first.rows, first.claim, first.grams, first.note) == (
        4,
        HOLD_1,
        Decimal("27.0"),
        "the soft one",
    )
    assert (second.rows, second.claim, second.grams, second.note) == (
        2,
        HOLD_1,
        Decimal("13.5"),
        "",
    )
    assert edits.merge_stripe(split, "throw", 0) == base


def test_split_refuses_what_leaves_no_row() -> None:
    base = studio(piece("throw", Stripe("A", 1), Stripe("B", 6)))
    refused(lambda: edits.split_stripe(base, "throw", 0, 1), "has one row")
    refused(lambda: edits.split_stripe(base, "throw", 1, 6), "6 rows", "1 to 5, not 6")
    refused(lambda: edits.split_stripe(base, "throw", 1, 0), "not 0")


def test_merge_wants_one_slot_and_one_claim() -> None:
    pair = (Stripe("A", 6, HOLD_1, note="a"), Stripe("A", 4, HOLD_1, note="b"), Stripe("B", 2))
    base = studio(piece("throw", *pair))
    merged = edits.merge_stripe(base, "throw", 0).project["throw"].stripes
    assert merged[0] == Stripe("A", 10, HOLD_1, note="a; b")
    refused(lambda: edits.merge_stripe(base, "throw", 1), "slots A and B")
    refused(lambda: edits.merge_stripe(base, "throw", 2), "is the last")
    apart = studio(piece("throw", Stripe("A", 6, HOLD_1), Stripe("A", 4, HOLD_2)))
    refused(lambda: edits.merge_stripe(apart, "throw", 0), "hold on 1", "hold on 2")
    half = studio(piece("throw", Stripe("A", 6, PIN_1), Stripe("A", 4)))
    refused(lambda: edits.merge_stripe(half, "throw", 0), "pin on 1", "nothing")
    grams = studio(piece("throw", Stripe("A", 6, grams=Decimal(9)), Stripe("A", 4)))
    refused(lambda: edits.merge_stripe(grams, "throw", 0), "one only")
    long = studio(piece("throw", Stripe("A", 1_500), Stripe("A", 501)))
    refused(lambda: edits.merge_stripe(long, "throw", 0), "2,001 rows")


def test_set_slot_drops_the_claim_unless_the_shade_stays() -> None:
    base = studio(piece("throw", Stripe("A", 6, HOLD_1), Stripe("A", 6, ON_ORDER)))
    moved = edits.set_slot(base, "throw", 0, "B").project["throw"].stripes
    assert moved[0] == Stripe("B", 6)
    assert moved[1].claim is ON_ORDER
    same = edits.set_slot(base, "throw", 0, "C").project["throw"].stripes
    assert same[0] == Stripe("C", 6, HOLD_1)  # slots A and C are both Moss
    refused(lambda: edits.set_slot(base, "throw", 0, "Z"), "no slot 'Z'")


def test_nothing_changed_is_the_same_studio() -> None:
    base = studio()
    assert edits.set_rows(base, "throw", 0, 6) is base
    assert edits.change_rows(base, "throw", 0, 0) is base
    assert edits.move_stripe(base, "throw", 2, 2) is base
    assert edits.set_slot(base, "throw", 0, "A") is base
    same = studio(piece("throw", Stripe("A", 6), Stripe("A", 6)))
    assert edits.move_stripe(same, "throw", 0, 1) is same


def test_untouched_stripes_stay_the_same_objects() -> None:
    base = studio()
    before = base.project["throw"].stripes
    after = edits.change_rows(base, "throw", 1, 2).project["throw"].stripes
    assert [new is old for new, old in zip(after, before, strict=True)] == [True, False, True, True]


CLAIMS = st.sampled_from([None, HOLD_1, HOLD_2, PIN_1])
STRIPES = st.lists(
    st.builds(
        Stripe,
        slot=st.sampled_from("ABC"),
        rows=st.integers(1, 30),
        claim=CLAIMS,
        grams=st.none() | st.decimals("0.1", 500, places=2),
        note=st.sampled_from(["", "soft", "knot"]),
    ),
    min_size=1,
    max_size=9,
)


@st.composite
def worked_pieces(draw: st.DrawFn) -> Project:
    sequence = draw(STRIPES)
    done = draw(st.integers(0, sum(s.rows for s in sequence)))
    return piece("throw", *sequence, rows_done=done)


def total(edited: Studio) -> int:
    return sum(s.rows for s in edited.project["throw"].stripes)


def worked_picture(edited: Studio) -> list[tuple[str, object]]:
    """Slot and claim of each worked row: what no edit may rewrite."""
    project = edited.project["throw"]
    rows = [(s.slot, s.claim) for s in project.stripes for _ in range(s.rows)]
    return list(rows[: project.rows_done])


def untouched(base: Studio, edited: Studio) -> None:
    assert edited.library is base.library
    assert edited.stash is base.stash
    assert edited.settings is base.settings
    assert edited.project["other"] is base.project["other"]


@given(worked_pieces(), st.data())
def test_split_keeps_rows_grams_and_order_and_merge_undoes_it(
    start: Project, data: st.DataObject
) -> None:
    base = studio(start, piece("other"))
    index = data.draw(st.integers(0, len(start.stripes) - 1))
    stripe = start.stripes[index]
    if stripe.rows == 1:
        return
    split = edits.split_stripe(base, "throw", index, data.draw(st.integers(1, stripe.rows - 1)))
    assert total(split) == total(base)
    assert worked_picture(split) == worked_picture(base)
    assert edits.merge_stripe(split, "throw", index) == base
    untouched(base, split)


@given(worked_pieces(), st.data())
def test_merge_keeps_rows_or_refuses_and_split_undoes_it(
    start: Project, data: st.DataObject
) -> None:
    base = studio(start, piece("other"))
    index = data.draw(st.integers(0, len(start.stripes) - 1))
    try:
        merged = edits.merge_stripe(base, "throw", index)
    except EditRefusedError:
        pair = start.stripes[index : index + 2]
        fits = len(pair) == 2 and all(
            getattr(pair[0], word) == getattr(pair[1], word) for word in ("slot", "claim")
        )
        assert not fits or (pair[0].grams is None) != (pair[1].grams is None)
        return
    assert total(merged) == total(base)
    assert worked_picture(merged) == worked_picture(base)
    untouched(base, merged)
    again = edits.split_stripe(merged, "throw", index, start.stripes[index].rows)
    assert stripes(again) == stripes(base)


@given(worked_pieces(), st.data())
def test_move_keeps_the_stripes_and_moving_back_undoes_it(
    start: Project, data: st.DataObject
) -> None:
    base = studio(start, piece("other"))
    places = st.integers(0, len(start.stripes) - 1)
    index, to = data.draw(places), data.draw(places)
    try:
        moved = edits.move_stripe(base, "throw", index, to)
    except EditRefusedError:
        first = min(index, to)
        assert sum(s.rows for s in start.stripes[:first]) < start.rows_done
        return
    now = moved.project["throw"].stripes
    assert now[to] == start.stripes[index]
    assert moved is base or now[to] is start.stripes[index]  # equal neighbours: nothing changed
    assert sorted(map(id, now)) == sorted(map(id, start.stripes))
    assert worked_picture(moved) == worked_picture(base)
    assert edits.move_stripe(moved, "throw", to, index) == base
    untouched(base, moved)


@given(worked_pieces(), st.data(), st.integers(-40, 40))
def test_rows_change_by_what_was_asked_and_back(
    start: Project, data: st.DataObject, by: int
) -> None:
    base = studio(start, piece("other"))
    index = data.draw(st.integers(0, len(start.stripes) - 1))
    try:
        changed = edits.change_rows(base, "throw", index, by)
    except EditRefusedError:
        return
    assert total(changed) == total(base) + by
    assert changed.project["throw"].rows_done <= total(changed)
    assert worked_picture(changed) == worked_picture(base)
    untouched(base, changed)
    # Growing a worked stripe leaves it open, so taking the rows back is always allowed.
    assert edits.change_rows(changed, "throw", index, -by) == base


@given(worked_pieces(), st.data())
def test_adding_and_removing_are_inverses(start: Project, data: st.DataObject) -> None:
    base = studio(start, piece("other"))
    at = data.draw(st.integers(0, len(start.stripes)))
    try:
        added = edits.add_stripe(base, "throw", at, "B", 4)
    except EditRefusedError:
        assert sum(s.rows for s in start.stripes[:at]) < start.rows_done
        return
    assert total(added) == total(base) + 4
    assert worked_picture(added) == worked_picture(base)
    assert edits.remove_stripe(added, "throw", at) == base


@given(worked_pieces(), st.data(), st.sampled_from("ABC"))
def test_a_slot_changes_one_stripe_alone(start: Project, data: st.DataObject, letter: str) -> None:
    base = studio(start, piece("other"))
    index = data.draw(st.integers(0, len(start.stripes) - 1))
    try:
        changed = edits.set_slot(base, "throw", index, letter)
    except EditRefusedError:
        assert sum(s.rows for s in start.stripes[:index]) < start.rows_done
        return
    now = changed.project["throw"].stripes
    assert replace(now[index], slot="", claim=None) == replace(
        start.stripes[index], slot="", claim=None
    )
    assert all(now[i] is s for i, s in enumerate(start.stripes) if i != index)
