"""What a piece asks for: rows, sides, evidence and the need of each run."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from decimal import Decimal

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from studio.core import demand as demands
from studio.core import use as uses
from studio.core.answers import Rung, RunKind, Side
from studio.core.demand import Demand
from studio.core.evidence import Evidence, evidence_of
from studio.core.model import (
    Border,
    Claim,
    ClaimKind,
    Fringe,
    GaugeCount,
    Join,
    Length,
    LengthUnit,
    Library,
    Method,
    Project,
    RowKind,
    Settings,
    Shade,
    Slot,
    Stage,
    Stitch,
    Stripe,
    Swatch,
    WeighIn,
    Weighing,
    Yarn,
)
from studio.core.runs import NO_SHADE, RunDemand, Unknown

HOOK = Decimal(9)
TEN = Length(Decimal(10))
SHADES = (Shade("1", "Rust", ("#a04010",)), Shade("2", "Slate", ("#405060",)))
WOOL = Yarn("wool", "Wool", 5, (), Decimal(100), SHADES, Decimal(80))
SILK = Yarn("silk", "Silk", 4, (), Decimal(50), SHADES, Decimal(100))
# One stitch and one row to the centimetre; the first row of stitches half as heavy again.
STITCH = Stitch(
    "sc", "single crochet", kinds=(RowKind("first", 1, Decimal("1.5")), RowKind("body"))
)
COUNT = GaugeCount(Decimal(10), TEN, Decimal(10), TEN)
SWATCH = Swatch("s", "wool", "sc", HOOK, after=COUNT)
LIBRARY = Library((WOOL, SILK), (STITCH,), (SWATCH,))
SETTINGS = Settings("Studio")
PROJECT = Project(
    "p",
    "Piece",
    Stage.BOOKED,
    "sc",
    HOOK,
    Length(Decimal(100)),
    Length(Decimal(100)),
    (Slot("A", "wool", "1"), Slot("B", "wool", "2")),
    (Stripe("A", 6), Stripe("B", 4), Stripe("A", 5)),
)


def weighed(grams: float, rows: float = 10, stitches: float = 100, first_row: int = 2) -> Weighing:
    return Weighing(
        Decimal(str(rows)), Decimal(str(stitches)), Decimal(str(grams)), first_row=first_row
    )


def with_swatch(library: Library = LIBRARY, **changes: object) -> Library:
    swatch = replace(SWATCH, **changes)  # type: ignore[arg-type]
    return replace(library, swatches=(swatch,))


WEIGHED = with_swatch(weighed=weighed(50))
"""5 g for a row of 100 stitches."""


def demand(
    project: Project = PROJECT,
    library: Library = WEIGHED,
    evidence: Evidence | None = None,
    settings: Settings = SETTINGS,
) -> Demand:
    return demands.demand_of(project, library, settings, evidence or {})


def stripe_runs(found: Demand) -> list[RunDemand]:
    return [run for run in found.runs if run.ref.kind is RunKind.STRIPE]


TAILS_G = 2 * 0.15 * 100 / 80


# Rows and sides


def test_where_stripes_lie() -> None:
    first, second, third = demand().stripe_rows
    assert [(s.first, s.last) for s in (first, second, third)] == [(1, 6), (7, 10), (11, 15)]
    # Derived: row r starts on the right side where r is odd.
    assert (first.first_side, first.last_side) == (Side.RIGHT, Side.WRONG)
    assert (third.first_side, third.last_side) == (Side.RIGHT, Side.RIGHT)


def test_a_stripe_ends_on_an_even_row_so_that_the_change_falls_on_the_right_side() -> None:
    # Common practice, no source.
    odd = replace(PROJECT, stripes=(Stripe("A", 5), Stripe("B", 4), Stripe("A", 3), Stripe("B", 2)))
    sides = [s.first_side for s in demand(odd).stripe_rows]
    assert sides == [Side.RIGHT, Side.WRONG, Side.WRONG, Side.RIGHT]


@given(st.lists(st.integers(1, 9).map(lambda n: 2 * n), min_size=1, max_size=9))
def test_even_stripes_all_begin_on_the_right_side(rows: list[int]) -> None:
    project = replace(PROJECT, stripes=tuple(Stripe("A", n) for n in rows))
    assert {s.first_side for s in demand(project).stripe_rows} == {Side.RIGHT}


def test_rows_done_fall_on_the_stripes_in_order() -> None:
    done = [s.done for s in demand(replace(PROJECT, rows_done=8)).stripe_rows]
    assert done == [6, 2, 0]
    done = [s.done for s in demand(replace(PROJECT, rows_done=99)).stripe_rows]
    assert done == [6, 4, 5]


# The need of stripes


def need_of(rows: float, *, tails: float = TAILS_G) -> tuple[float, int]:
    """Mean and planned need by the rules' own formula, for 5 g a row seen over 10 rows."""
    spread = 4 * 0.25**2 / 4
    sd = math.sqrt(spread * (rows + rows**2 / 10) + (0.03 * 5 * rows) ** 2)
    mean = 5 * rows
    return mean + tails, math.ceil((mean + scipy.special.stdtrit(4, 0.95) * sd + tails) * 10)


def test_needs_by_the_formula() -> None:
    first, second, third = stripe_runs(demand())
    for run, rows in ((first, 6.5), (second, 4.0), (third, 5.0)):
        mean, need = need_of(rows)
        assert run.effective_left == rows
        assert run.mean_g == pytest.approx(mean)
        assert run.need_dg == need
        assert run.whole_mean_g == pytest.approx(mean)
        assert run.sure_g == pytest.approx(TAILS_G)
        assert not run.begun
        assert not run.done
    assert (second.slot, second.shade) == ("B", ("wool", "2"))
    assert second.ref.key == "p/stripe/1"


def test_a_first_row_of_heavier_stitches_uses_more_than_the_rest() -> None:
    # Common practice, no source.
    same = replace(PROJECT, stripes=(Stripe("A", 6), Stripe("A", 6)))
    first, second = stripe_runs(demand(same))
    assert first.mean_g - second.mean_g == pytest.approx(2.5)


def test_worked_rows_need_nothing() -> None:
    first, second, third = stripe_runs(demand(replace(PROJECT, rows_done=8)))
    assert (first.need_dg, first.mean_g, first.done, first.begun) == (0, 0.0, True, True)
    assert first.whole_mean_g == pytest.approx(5 * 6.5 + TAILS_G)
    assert (second.rows, second.rows_left, second.begun, second.done) == (4, 2, True, False)
    # The tail with which it began is worked.
    mean, need = need_of(2, tails=TAILS_G / 2)
    assert second.mean_g == pytest.approx(mean)
    assert second.need_dg == need
    assert (third.begun, third.need_dg) == (False, need_of(5)[1])


@pytest.mark.parametrize("stage", [Stage.IN_STOCK, Stage.DELIVERED])
def test_a_finished_piece_needs_nothing(stage: Stage) -> None:
    piece = replace(PROJECT, stage=stage, border=BORDER, fringe=FRINGE)
    found = demand(piece)
    assert all(run.done and run.need_dg == 0 and run.mean_g == 0 for run in found.runs)
    assert all(run.whole_mean_g > 0 for run in found.runs)


def test_claims_are_passed_on() -> None:
    hold = Claim(ClaimKind.HOLD, "L1")
    project = replace(PROJECT, stripes=(Stripe("A", 6, hold), Stripe("B", 4)))
    assert [run.claim for run in demand(project).runs] == [hold, None]


@given(st.integers(1, 300), st.integers(0, 40), st.sampled_from(Join))
def test_longer_stripes_need_no_less(rows: int, more: int, join: Join) -> None:
    def need(count: int) -> RunDemand:
        stripes = (Stripe("B", 2), Stripe("A", count))
        return demand(replace(PROJECT, stripes=stripes, join=join)).runs[1]

    less, greater = need(rows), need(rows + more)
    assert less.need_dg <= greater.need_dg
    assert less.mean_g <= less.need_dg / 10 + 1e-6


def test_tails_are_left_out_where_metres_are_not_known() -> None:
    library = replace(WEIGHED, yarns=(replace(WOOL, ball_m=None), SILK))
    found = demand(library=library)
    assert found.without_metres == ("wool",)
    assert found.runs[1].mean_g == pytest.approx(20)
    assert demand().without_metres == ()


def test_rows_per_ball() -> None:
    # 100 g at 5 g a row are 20 rows; the safe figure is even too.
    expected, safe = demand().rows_per_ball["wool"]
    assert expected == 20
    assert safe == 18
    t = scipy.special.stdtrit(4, 0.95)
    for rows, enough in ((18, True), (20, False)):
        sd = math.sqrt(0.25**2 * (rows + rows**2 / 10) + (0.03 * 5 * rows) ** 2 + 2**2)
        assert (5 * rows + t * sd <= 100) == enough


# Evidence

OTHER = replace(
    PROJECT,
    key="other",
    width=Length(Decimal(50)),
    weigh_ins=(WeighIn("B", 10, Decimal(30)),),
)
TRIED = with_swatch(weighed=weighed(50), trials=(weighed(60),))


def rung_of(project: Project, library: Library, evidence: Evidence) -> tuple[Rung, float]:
    use = demand(project, library, evidence).row_use["wool"]
    return use.rung, use.row_g


def test_the_best_evidence_counts() -> None:
    evidence = evidence_of((PROJECT, OTHER), TRIED)
    own = replace(PROJECT, weigh_ins=(WeighIn("A", 10, Decimal(70)),))
    assert rung_of(own, TRIED, evidence) == (Rung.WEIGH_IN, 7)
    # 30 g for 10 rows of 50 stitches are 6 g for a row of 100.
    assert rung_of(PROJECT, TRIED, evidence) == (Rung.PIECES, 6)
    assert rung_of(PROJECT, TRIED, {}) == (Rung.TRIAL, 6)
    assert rung_of(PROJECT, WEIGHED, {}) == (Rung.SWATCH, 5)
    rung, grams = rung_of(PROJECT, LIBRARY, {})
    # A bulky yarn, 9.5 stitches to 4 in, over a row of 100 square centimetres.
    assert rung is Rung.ROUGH
    assert grams == pytest.approx(uses.ROUGH_DENSITY * 10.16 / 9.5 * 100)


def test_only_evidence_of_this_piece_is_free_of_the_spread_between_pieces() -> None:
    own = replace(PROJECT, weigh_ins=(WeighIn("A", 10, Decimal(70)),))
    assert demand(own).row_use["wool"].elsewhere == 0
    assert demand().row_use["wool"].elsewhere == pytest.approx(0.03)


def test_a_weigh_in_counts_for_every_slot_of_its_yarn_and_for_no_other_yarn() -> None:
    slots = (*PROJECT.slots, Slot("C", "silk", "1"))
    own = replace(PROJECT, slots=slots, weigh_ins=(WeighIn("B", 10, Decimal(70)),))
    found = demand(own).row_use
    assert found["wool"].rung is Rung.WEIGH_IN
    assert found["silk"].rung is Rung.ROUGH


def test_a_piece_is_no_evidence_of_another_kind_for_itself() -> None:
    evidence = evidence_of((OTHER,), TRIED)
    assert rung_of(replace(OTHER, weigh_ins=()), TRIED, evidence)[0] is Rung.TRIAL


@pytest.mark.parametrize(
    "other",
    [
        replace(OTHER, hook_mm=Decimal(8)),
        replace(OTHER, stitch="?"),
        replace(OTHER, slots=(Slot("B", "silk", "1"),)),
        replace(OTHER, width=Length(Decimal(0))),
        replace(OTHER, weigh_ins=(WeighIn("?", 10, Decimal(30)),)),
    ],
)
def test_evidence_of_another_yarn_stitch_or_hook_does_not_count(other: Project) -> None:
    evidence = evidence_of((other,), TRIED)
    assert rung_of(PROJECT, TRIED, evidence)[0] is Rung.TRIAL


def test_a_trial_from_the_foundation_counts_its_heavier_row() -> None:
    library = with_swatch(trials=(weighed(52.5, first_row=1),))
    assert demand(library=library).row_use["wool"].row_g == pytest.approx(5)


def test_a_trial_in_whole_balls() -> None:
    trial = Weighing(Decimal(20), Decimal(100), balls=Decimal(1), first_row=2)
    assert demand(library=with_swatch(trials=(trial,))).row_use["wool"].row_g == pytest.approx(5)
    nothing = Weighing(Decimal(20), Decimal(100))
    found = demand(library=with_swatch(trials=(nothing,)))
    assert found.row_use["wool"].rung is Rung.ROUGH


def test_a_swatch_of_fewer_stitches_is_carried_to_the_piece() -> None:
    library = with_swatch(weighed=weighed(10, rows=10, stitches=20))
    use = demand(library=library).row_use["wool"]
    assert use.row_g == pytest.approx(5)
    assert use.rows_seen == pytest.approx(2)


# Border and fringe

BORDER = Border("B", 2, Length(Decimal(2)), corners=12, increase=8)
FRINGE = Fringe("A", 100, Length(Decimal(40)))


def test_the_border_by_its_rounds() -> None:
    # A border of 2 cm leaves 96 stitches; rounds of 2 x 96 + 2 x 15 + 12, then 8 more.
    found = demand(replace(PROJECT, border=BORDER)).runs[-1]
    assert found.ref.kind is RunKind.BORDER
    assert found.effective_left == pytest.approx((234 + 242) / 96)
    # The swatch's 5 g were for 100 stitches.
    assert found.mean_g == pytest.approx(5 * (234 + 242) / 100 + TAILS_G)
    assert (found.rows, found.rows_left) == (2, 2)
    assert found.need_dg > found.mean_g * 10


def test_the_fringe_by_its_strands() -> None:
    # 100 strands of 40 cm are 40 m, 50 g of this yarn; an inch is 2.54 cm.
    found = demand(replace(PROJECT, fringe=FRINGE)).runs[-1]
    assert found.mean_g == pytest.approx(50)
    assert found.need_dg == math.ceil(500 * (1 + 0.02 * scipy.special.ndtri(0.95)))
    inches = replace(FRINGE, cut=Length(Decimal(10), LengthUnit.INCH))
    assert demand(replace(PROJECT, fringe=inches)).runs[-1].mean_g == pytest.approx(31.75)


def test_entered_grams_go_before_rounds_and_strands() -> None:
    border, fringe = replace(BORDER, grams=Decimal("12.34")), replace(FRINGE, grams=Decimal(8))
    runs = demand(replace(PROJECT, border=border, fringe=fringe)).runs
    assert [run.need_dg for run in runs[-2:]] == [124, 80]


# By hand

BY_HAND = replace(
    PROJECT,
    method=Method.BY_HAND,
    stripes=(Stripe("A", 6, grams=Decimal("30.05")), Stripe("B", 4)),
)


def test_by_hand_the_entered_grams_are_the_need() -> None:
    found = demand(BY_HAND, LIBRARY)
    assert found.size is None
    entered, missing = found.runs
    assert (entered.known, entered.need_dg, entered.use) == (True, 301, None)
    assert entered.sure_g == pytest.approx(30.05)
    assert (missing.known, missing.reason, missing.need_dg) == (False, Unknown.GRAMS, 0)


def test_by_hand_worked_rows_take_their_share() -> None:
    entered = demand(replace(BY_HAND, rows_done=2)).runs[0]
    assert (entered.need_dg, entered.begun) == (201, True)
    assert entered.whole_mean_g == pytest.approx(30.05)
    done = demand(replace(BY_HAND, rows_done=6)).runs[0]
    assert (done.need_dg, done.done) == (0, True)


def test_by_hand_needs_neither_stitch_nor_swatch_but_a_shade() -> None:
    bare = replace(LIBRARY, stitches=(), swatches=())
    assert demand(BY_HAND, bare).runs[0].known
    other = replace(BY_HAND, slots=(Slot("A", "wool", "9"),))
    assert demand(other, bare).runs[0].reason is Unknown.SHADE


def test_by_hand_border_and_fringe_want_grams() -> None:
    runs = demand(replace(BY_HAND, border=BORDER, fringe=FRINGE)).runs
    assert [run.reason for run in runs[-2:]] == [Unknown.GRAMS, Unknown.GRAMS]


# Mixed lots


def test_mixed_stripes_fall_into_row_pairs() -> None:
    mixed = demand(replace(PROJECT, mix=True, rows_done=3))
    whole = demand(replace(PROJECT, rows_done=3))
    first = [run for run in mixed.runs if run.ref.index == 0]
    assert [run.ref.part for run in first] == [1, 2, 3]
    assert [run.rows for run in mixed.runs if run.ref.index == 2] == [2, 2, 1]
    assert [(run.rows_left, run.begun, run.done) for run in first] == [
        (0, True, True),
        (1, True, False),
        (2, False, False),
    ]
    for index, run in enumerate(stripe_runs(whole)):
        parts = [part for part in mixed.runs if part.ref.index == index]
        assert sum(part.mean_g for part in parts) == pytest.approx(run.mean_g)
        assert sum(part.whole_mean_g for part in parts) == pytest.approx(run.whole_mean_g)
        assert sum(part.effective_left for part in parts) == pytest.approx(run.effective_left)
        total = sum(part.need_dg for part in parts)
        assert run.need_dg <= total < run.need_dg + len(parts)


def test_the_heavier_first_row_is_in_the_first_pair() -> None:
    first, second, _ = (r for r in demand(replace(PROJECT, mix=True)).runs if r.ref.index == 0)
    assert first.mean_g / second.mean_g == pytest.approx(2.5 / 2)


@given(st.lists(st.integers(0, 30), min_size=1, max_size=6), st.integers(0, 60))
def test_parts_always_cover_the_stripe(rows: list[int], done: int) -> None:
    project = replace(PROJECT, stripes=tuple(Stripe("A", n) for n in rows), rows_done=done)
    whole = stripe_runs(demand(project))
    parts = stripe_runs(demand(replace(project, mix=True)))
    for run in whole:
        mine = [p for p in parts if p.ref.index == run.ref.index]
        assert sum(p.rows for p in mine) == run.rows
        assert sum(p.rows_left for p in mine) == run.rows_left
        assert sum(p.need_dg for p in mine) >= run.need_dg
    assert len({run.ref.key for run in parts}) == len(parts)


# What is missing never raises


@pytest.mark.parametrize(
    ("project", "library", "reason"),
    [
        (replace(PROJECT, slots=()), WEIGHED, Unknown.SLOT),
        (PROJECT, replace(WEIGHED, yarns=()), Unknown.YARN),
        (PROJECT, replace(WEIGHED, yarns=(replace(WOOL, shades=()),)), Unknown.SHADE),
        (PROJECT, replace(WEIGHED, stitches=()), Unknown.STITCH),
        (PROJECT, replace(WEIGHED, swatches=()), Unknown.GAUGE),
        (replace(PROJECT, hook_mm=Decimal(8)), WEIGHED, Unknown.GAUGE),
        (replace(PROJECT, width=Length(Decimal(0))), WEIGHED, Unknown.SIZE),
        (PROJECT, replace(LIBRARY, yarns=(replace(WOOL, category=9),)), Unknown.USE),
    ],
)
def test_unknown_runs_say_why(project: Project, library: Library, reason: Unknown) -> None:
    found = demand(replace(project, border=BORDER, rows_done=6), library)
    assert {run.reason for run in found.runs} == {reason}
    assert all(not run.known and run.need_dg == 0 and run.mean_g == 0 for run in found.runs)
    assert [run.done for run in found.runs] == [True, False, False, False]
    assert [s.last for s in found.stripe_rows] == [6, 10, 15]
    mixed = demand(replace(project, mix=True), library)
    assert {run.reason for run in mixed.runs} == {reason}
    assert len(mixed.runs) == 3 + 2 + 3


def test_one_missing_slot_leaves_the_rest() -> None:
    found = demand(replace(PROJECT, slots=(Slot("A", "wool", "1"),)))
    assert [run.known for run in found.runs] == [True, False, True]
    assert found.runs[1].shade == NO_SHADE


def test_a_fringe_needs_metres_and_nothing_else() -> None:
    piece = replace(PROJECT, fringe=FRINGE)
    assert demand(piece, replace(WEIGHED, swatches=())).runs[-1].known
    library = replace(WEIGHED, yarns=(replace(WOOL, ball_m=None),))
    assert demand(piece, library).runs[-1].reason is Unknown.METRES


@pytest.mark.parametrize("rows", [0, -3, 10_000])
def test_stripes_of_no_rows_and_of_thousands(rows: int) -> None:
    stripes = (Stripe("A", rows), Stripe("B", 4))
    for mix in (False, True):
        found = demand(replace(PROJECT, stripes=stripes, mix=mix))
        assert found.stripe_rows[1].first == max(0, rows) + 1
        assert sum(r.rows for r in found.runs) == max(0, rows) + 4
    assert demand(replace(PROJECT, stripes=())).runs == ()


def test_yarn_of_weightless_balls_does_not_divide_by_nought() -> None:
    library = replace(WEIGHED, yarns=(replace(WOOL, ball_g=Decimal(0)),))
    found = demand(replace(PROJECT, join=Join.EDGE, fringe=FRINGE), library)
    assert found.rows_per_ball["wool"] == (0, 0)


def test_300_stripes_are_worked_out_between_two_keystrokes() -> None:
    stripes = tuple(Stripe("AB"[i % 2], 2 + i % 7) for i in range(300))
    project = replace(PROJECT, stripes=stripes, border=BORDER, fringe=FRINGE, rows_done=100)
    demand(project)
    best = min(_seconds(project) for _ in range(5))
    # Measured at about 2 ms; the limit leaves room for a busy machine, not for another order.
    assert best < 0.02


def _seconds(project: Project) -> float:
    start = time.process_time()
    demand(project)
    return time.process_time() - start
