"""Edits of slots, claims and whole projects."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import edits
from studio.core.answers import RunKind
from studio.core.model import (
    Claim,
    ClaimKind,
    Direction,
    Length,
    LotRule,
    ShadeRef,
    Stage,
    Stated,
    Stripe,
    Studio,
    WeighIn,
)
from studio.core.naming import fresh_key
from tests.core.editing import (
    HOLD_1,
    ON_ORDER,
    PIN_1,
    border,
    cm,
    fringe,
    piece,
    refused,
    studio,
)

MOSS = ShadeRef("wool", "10")
CLAY = ShadeRef("wool", "20")


def test_keys_are_made_from_names() -> None:
    assert fresh_key("Füllhörnchen No. 5", (), "yarn") == "fullhornchen-no-5"
    assert fresh_key("Fell", ("fell", "fell-2"), "yarn") == "fell-3"
    assert fresh_key("羊毛", (), "yarn") == "yarn"


def test_add_and_remove_a_slot() -> None:
    base = studio()
    added = edits.add_slot(base, "throw", "D", CLAY)
    assert added.project["throw"].slots[-1].shade_ref == CLAY
    assert edits.remove_slot(added, "throw", "D") == base
    refused(lambda: edits.add_slot(base, "throw", "A", CLAY), "slot A already", "free letter is D")
    refused(lambda: edits.add_slot(base, "throw", "d", CLAY), "'d'", "A to Z")
    refused(lambda: edits.add_slot(base, "throw", "D", ShadeRef("silk", "1")), "no yarn 'silk'")
    refused(lambda: edits.add_slot(base, "throw", "D", ShadeRef("wool", "9")), "10, 20")


def test_a_slot_in_use_stays() -> None:
    base = studio()
    refused(lambda: edits.remove_slot(base, "throw", "A"), "stripe 1, stripe 3")
    bordered = edits.set_border(base, "throw", border("C"))
    refused(lambda: edits.remove_slot(bordered, "throw", "C"), "the border")
    weighed = studio(replace(piece("throw"), weigh_ins=(WeighIn("C", 4, Decimal(20)),)))
    refused(lambda: edits.remove_slot(weighed, "throw", "C"), "a weigh-in")


def test_re_colouring_frees_what_was_held() -> None:
    start = piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 4, HOLD_1), Stripe("A", 8))
    base = studio(replace(start, border=border("A", PIN_1), fringe=fringe("B", HOLD_1)))
    mapped = edits.map_slot(base, "throw", "A", CLAY).project["throw"]
    assert mapped.slot("A") == replace(start.slots[0], shade="20")
    assert [s.claim for s in mapped.stripes] == [None, HOLD_1, None]
    assert mapped.border == border("A")
    assert mapped.fringe == fringe("B", HOLD_1)
    assert mapped.stripes[1] is start.stripes[1]
    assert mapped.stripes[2] is start.stripes[2]
    assert edits.map_slot(base, "throw", "A", MOSS) is base


def test_a_worked_slot_keeps_its_shade() -> None:
    base = studio(piece("throw", rows_done=1))
    refused(lambda: edits.map_slot(base, "throw", "A", CLAY), "stripe 1", "stays Wool Moss")
    assert edits.map_slot(base, "throw", "B", MOSS) != base
    weighed = studio(replace(piece("throw"), weigh_ins=(WeighIn("B", 4, Decimal(20)),)))
    refused(lambda: edits.map_slot(weighed, "throw", "B", MOSS), "weigh-ins of Wool Clay")


def test_lot_rule() -> None:
    base = studio()
    one = edits.set_lot_rule(base, "throw", "B", LotRule.ONE)
    assert one.project["throw"].slots[1].lots is LotRule.ONE
    assert edits.set_lot_rule(one, "throw", "B", None) == base
    assert edits.set_lot_rule(base, "throw", "B", None) is base


def test_claims_are_set_and_dropped() -> None:
    base = studio(replace(piece("throw"), border=border("B")))
    held = edits.set_claim(base, "throw", RunKind.STRIPE, 2, HOLD_1)
    assert [s.claim for s in held.project["throw"].stripes] == [None, None, HOLD_1, None]
    assert edits.set_claim(held, "throw", RunKind.STRIPE, 2, None) == base
    assert edits.set_claim(held, "throw", RunKind.STRIPE, 2, HOLD_1) is held
    pinned = edits.set_claim(base, "throw", RunKind.BORDER, 0, PIN_1)
    assert pinned.project["throw"].border == border("B", PIN_1)
    ordered = edits.set_claim(base, "throw", RunKind.STRIPE, 0, ON_ORDER)
    assert ordered.project["throw"].stripes[0].claim == ON_ORDER


def test_claims_on_what_is_not_there_are_refused() -> None:
    base = studio()

    def claim(kind: ClaimKind, on: str, index: int = 0, project: str = "throw") -> Studio:
        return edits.set_claim(base, project, RunKind.STRIPE, index, Claim(kind, on))

    refused(lambda: claim(ClaimKind.HOLD, "9"), "no lot '9' of Wool Moss", "1, 2")
    refused(lambda: claim(ClaimKind.ORDER, "p9"), "no open purchase 'p9'")
    refused(lambda: claim(ClaimKind.ORDER, "p1", 1), "has no Wool Clay")
    refused(lambda: claim(ClaimKind.HOLD, "1", 0, "other"), "stage 'quoted'", "Pin")
    refused(lambda: edits.set_claim(base, "throw", RunKind.FRINGE, 0, HOLD_1), "has no fringe")


def test_a_begun_run_stays_with_its_lot() -> None:
    first = Stripe("A", 6, HOLD_1)
    base = studio(piece("throw", first, Stripe("A", 6, ON_ORDER), rows_done=2))
    refused(
        lambda: edits.set_claim(base, "throw", RunKind.STRIPE, 0, None), "lot 1", "split the stripe"
    )
    split = edits.split_stripe(base, "throw", 0, 2)
    freed = edits.set_claim(split, "throw", RunKind.STRIPE, 1, None)
    assert freed.project["throw"].stripes[1].claim is None
    arrived = studio(piece("throw", Stripe("A", 6, ON_ORDER), rows_done=2))
    assert edits.set_claim(arrived, "throw", RunKind.STRIPE, 0, HOLD_1) != arrived


def test_border_and_fringe() -> None:
    base = studio(replace(piece("throw"), border=border("A", HOLD_1), fringe=fringe("A", HOLD_1)))
    wider = replace(border("A", HOLD_1), rounds=5)
    assert edits.set_border(base, "throw", wider).project["throw"].border == wider
    moved = edits.set_border(base, "throw", border("B", HOLD_1)).project["throw"]
    assert moved.border == border("B")
    assert moved.fringe == fringe("A", HOLD_1)
    assert edits.set_border(base, "throw", border("C", HOLD_1)).project["throw"].border == border(
        "C", HOLD_1
    )  # slot C is the same shade
    assert edits.set_fringe(base, "throw", None).project["throw"].fringe is None
    assert edits.set_fringe(base, "throw", fringe("B", HOLD_1)).project["throw"].fringe == fringe(
        "B"
    )
    assert edits.set_border(base, "throw", border("A", HOLD_1)) is base
    refused(lambda: edits.set_border(base, "throw", replace(wider, rounds=0)), "0 rounds")
    refused(lambda: edits.set_border(base, "throw", replace(wider, width=cm(-1))), "-1 cm")
    refused(lambda: edits.set_border(base, "throw", replace(wider, pick_up=Decimal(0))), "picks up")
    refused(lambda: edits.set_border(base, "throw", border("Q")), "no slot 'Q'")
    refused(lambda: edits.set_fringe(base, "throw", replace(fringe(), strands=0)), "0 strands")
    refused(lambda: edits.set_fringe(base, "throw", replace(fringe(), cut=cm(0))), "0 cm")


def test_grams_by_hand() -> None:
    base = studio(replace(piece("throw"), border=border("A", HOLD_1)))
    entered = edits.set_grams(base, "throw", RunKind.STRIPE, 1, Decimal("31.5"))
    assert entered.project["throw"].stripes[1].grams == Decimal("31.5")
    assert edits.set_grams(entered, "throw", RunKind.STRIPE, 1, None) == base
    assert edits.set_grams(base, "throw", RunKind.BORDER, 0, None) is base
    refused(lambda: edits.set_grams(base, "throw", RunKind.STRIPE, 1, Decimal(-1)), "-1 g")
    refused(lambda: edits.set_grams(base, "throw", RunKind.STRIPE, 1, Decimal("NaN")), "NaN g")


def test_size() -> None:
    base = studio()
    inches = Length(Decimal(60), base.settings.length_unit.INCH)
    sized = edits.set_size(base, "throw", inches, cm(180)).project["throw"]
    assert (sized.width, sized.length) == (inches, cm(180))
    assert sized.stripes is base.project["throw"].stripes
    assert edits.set_size(base, "throw", cm(100), cm(120)) is base
    refused(lambda: edits.set_size(base, "throw", cm(0), cm(120)), "width of 0 cm")
    refused(lambda: edits.set_size(base, "throw", cm(100), cm(-5)), "length of -5 cm")
    refused(lambda: edits.set_size(base, "throw", cm(100), cm(2_001)), "at most 2,000 cm")
    refused(lambda: edits.set_size(base, "throw", cm("NaN"), cm(100)), "NaN")


def test_rows_done() -> None:
    base = studio()
    assert edits.set_rows_done(base, "throw", 20).project["throw"].rows_done == 20
    assert edits.set_rows_done(base, "throw", 0) is base
    refused(lambda: edits.set_rows_done(base, "throw", 21), "20 rows", "not 21")
    refused(lambda: edits.set_rows_done(base, "throw", -1), "not -1")


def test_booking_invents_no_hold_and_ending_frees_all() -> None:
    quote = piece("throw", Stripe("A", 6, PIN_1), Stripe("A", 4, ON_ORDER), stage=Stage.QUOTED)
    base = studio(replace(quote, border=border("B")))
    booked = edits.set_project(base, "throw", stage=Stage.BOOKED, booked=date(2026, 11, 25))
    assert booked.project["throw"].stripes is base.project["throw"].stripes
    assert booked.project["throw"].booked == date(2026, 11, 25)
    for over in (Stage.CANCELLED, Stage.DECLINED):
        ended = edits.set_project(booked, "throw", stage=over).project["throw"]
        assert [s.claim for s in ended.stripes] == [None, None]
        assert ended.border is base.project["throw"].border


def test_back_to_a_quote_holds_nothing_but_keeps_pins() -> None:
    start = piece("throw", Stripe("A", 6, HOLD_1), Stripe("A", 4, PIN_1), Stripe("A", 2, ON_ORDER))
    base = studio(replace(start, fringe=fringe("B", HOLD_1)))
    quoted = edits.set_project(base, "throw", stage=Stage.QUOTED).project["throw"]
    assert [s.claim for s in quoted.stripes] == [None, PIN_1, ON_ORDER]
    assert quoted.fringe == fringe("B")
    making = edits.set_project(base, "throw", stage=Stage.MAKING).project["throw"]
    delivered = edits.set_project(base, "throw", stage=Stage.DELIVERED).project["throw"]
    assert making.stripes is start.stripes
    assert delivered.stripes is start.stripes  # it records what worked them


def test_what_a_project_says_of_itself() -> None:
    base = studio()
    changed = edits.set_project(
        base, "throw", name="Evening throw", hook_mm=Decimal("5.5"), mix=True, note="soft"
    ).project["throw"]
    assert (changed.key, changed.name, changed.mix) == ("throw", "Evening throw", True)
    assert edits.set_project(base, "throw", name="Throw") is base
    assert edits.set_project(base, "throw", name="THROW").project["throw"].name == "THROW"
    refused(lambda: edits.set_project(base, "throw", name="other"), "called Other already")
    refused(lambda: edits.set_project(base, "throw", name=" "), "needs a name")
    refused(lambda: edits.set_project(base, "throw", name="a\nb"), "one line")
    refused(lambda: edits.set_project(base, "throw", name="a" * 201), "at most 200", "201")
    refused(lambda: edits.set_project(base, "throw", stitch="knot"), "no stitch 'knot'", "sc, hdc")
    refused(lambda: edits.set_project(base, "throw", hook_mm=Decimal(0)), "hook of 0 mm")
    refused(
        lambda: edits.set_project(base, "throw", stated=Stated(width=cm(0))), "width", "more than 0"
    )
    with pytest.raises(TypeError, match="slots"):
        edits.set_project(base, "throw", slots=())


def test_a_begun_piece_keeps_its_stitch() -> None:
    base = studio(piece("throw", rows_done=2))
    refused(lambda: edits.set_project(base, "throw", stitch="hdc"), "2 rows worked", "'sc'")
    refused(lambda: edits.set_project(base, "throw", direction=Direction.ALONG), "direction")
    assert edits.set_project(base, "throw", hook_mm=Decimal(4)) != base


def test_add_project() -> None:
    base = studio()
    added = edits.add_project(base, piece("third"))
    assert [p.key for p in added.projects] == ["throw", "other", "third"]
    assert (
        edits.remove_project(edits.set_project(added, "third", stage=Stage.IDEA), "third") == base
    )
    bad = piece("third")
    refused(lambda: edits.add_project(base, piece("throw")), "'throw' already")
    refused(lambda: edits.add_project(base, replace(bad, name="OTHER")), "called Other already")
    refused(lambda: edits.add_project(base, replace(bad, stripes=())), "at least one")
    refused(lambda: edits.add_project(base, replace(bad, stitch="knot")), "no stitch 'knot'")
    refused(lambda: edits.add_project(base, piece("third", Stripe("Q", 2))), "slot Q")
    refused(lambda: edits.add_project(base, piece("third", Stripe("A", 0))), "0 rows")
    refused(lambda: edits.add_project(base, replace(bad, border=border("Q"))), "slot Q")
    refused(lambda: edits.add_project(base, replace(bad, width=cm(0))), "width of 0 cm")
    twice = replace(bad, slots=(*bad.slots, bad.slots[0]))
    refused(lambda: edits.add_project(base, twice), "slot twice")
    elsewhere = replace(bad, slots=(*bad.slots[:2], replace(bad.slots[2], yarn="silk")))
    refused(lambda: edits.add_project(base, elsewhere), "no yarn 'silk'")


def test_copy_project_takes_the_design_only() -> None:
    start = piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 4, note="soft"), rows_done=4)
    start = replace(start, weigh_ins=(WeighIn("A", 4, Decimal(30)),), fringe=fringe("B", HOLD_1))
    base = edits.accept_finding(studio(start), "throw", "alike", "a fade is meant")
    copied = edits.copy_project(base, "throw", "Érable, again!")
    new = copied.project["erable-again"]
    assert new.stripes == (Stripe("A", 6), Stripe("B", 4, note="soft"))
    assert new.fringe == fringe("B")
    assert (new.stage, new.customer, new.due, new.rows_done) == (Stage.IDEA, "", None, 0)
    assert new.weigh_ins == ()
    assert new.accepted == base.project["throw"].accepted
    assert copied.project["throw"] is base.project["throw"]
    assert edits.copy_project(copied, "throw", "erable again").projects[-1].key == "erable-again-2"
    refused(lambda: edits.copy_project(base, "throw", "throw"), "called Throw already")


def test_a_piece_that_holds_yarn_is_not_removed() -> None:
    base = studio()
    refused(lambda: edits.remove_project(base, "throw"), "stage 'booked'", "holds yarn")
    left = edits.remove_project(base, "other")
    assert left.projects == (base.project["throw"],)


def test_accepting_a_finding() -> None:
    base = studio()
    once = edits.accept_finding(base, "throw", "alike", "a fade")
    assert edits.accept_finding(once, "throw", "alike", "a fade") is once
    again = edits.accept_finding(once, "throw", "alike", "meant")
    assert [a.note for a in again.project["throw"].accepted] == ["meant"]


@given(st.sampled_from(list(Stage)), st.sampled_from(list(Stage)))
def test_a_stage_never_touches_rows_or_other_projects(first: Stage, then: Stage) -> None:
    start = piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 4, PIN_1), rows_done=3)
    base = studio(replace(start, stage=first), piece("other"))
    changed = edits.set_project(base, "throw", stage=then)
    now = changed.project["throw"]
    assert now.rows_done == 3
    assert [(s.slot, s.rows) for s in now.stripes] == [("A", 6), ("B", 4)]
    assert changed.project["other"] is base.project["other"]
    assert changed.stash is base.stash
    if first is then:
        assert changed is base
