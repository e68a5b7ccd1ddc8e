"""Chain, stitches, rows and size from gauge."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import gauge as gauges
from studio.core.answers import Gauge, Measure, Size
from studio.core.model import (
    Border,
    Direction,
    GaugeCount,
    Length,
    LengthUnit,
    Library,
    Method,
    Project,
    RowKind,
    Slot,
    Stage,
    Stitch,
    Stripe,
    Swatch,
)

CM, INCH = LengthUnit.CM, LengthUnit.INCH
HOOK = Decimal(9)
RIB = Stitch("rib", "ribbed single", multiple=2, extra=1)
PLAIN = Stitch("sc", "single crochet")
SHELL = Stitch("shell", "shells", multiple=6, extra=2, stitches_per_repeat=6, edge_stitches=1)


def cm(value: float) -> Length:
    return Length(Decimal(str(value)), CM)


def inch(value: float) -> Length:
    return Length(Decimal(str(value)), INCH)


def count(stitches: float, rows: float, span: Length, *, in_repeats: bool = False) -> GaugeCount:
    return GaugeCount(Decimal(str(stitches)), span, Decimal(str(rows)), span, in_repeats)


def swatch(key: str, before: GaugeCount | None = None, after: GaugeCount | None = None) -> Swatch:
    return Swatch(key, "wool", "rib", HOOK, before, after)


def gauge(stitches: float, rows: float, *, in_repeats: bool = False) -> Gauge:
    return Gauge(stitches, rows, Measure.WASHED, ("s",), in_repeats)


BULKY = gauge(10 / 10.16, 8 / 10.16)

PROJECT = Project(
    "p",
    "Piece",
    Stage.IDEA,
    "rib",
    HOOK,
    inch(60),
    inch(64),
    (Slot("A", "wool", "1"), Slot("B", "silk", "2")),
    (Stripe("A", 6), Stripe("B", 6)),
)


def size(project: Project, stitch: Stitch, of: Gauge) -> Size:
    found = gauges.size_of(project, stitch, of)
    assert found is not None
    return found


# Chain and stitches


@pytest.mark.parametrize(("chain", "stitches"), [(15, 14), (179, 178)])
def test_a_multiple_of_two_plus_one(chain: int, stitches: int) -> None:
    # Common practice, no source.
    assert gauges.stitches_for(RIB, chain) == stitches
    assert gauges.chain_for(RIB, (chain - 1) // 2) == chain


def test_foundation_of_single_crochet() -> None:
    # Published dishcloth pattern: "ch 26, 25 sc", the first in the second chain.
    assert gauges.stitches_for(PLAIN, 26) == 25


@pytest.mark.parametrize(("skipped", "more"), [(2, 1), (3, 2), (4, 3)])
def test_a_turning_chain_that_counts(skipped: int, more: int) -> None:
    # From memory: half double, double and treble need chains of n + 1, n + 2 and n + 3.
    stitch = Stitch("x", "x", skipped=skipped, turning_counts=True)
    assert gauges.stitches_for(stitch, 100 + more) == 100


@pytest.mark.parametrize(
    ("width", "stitches", "span"),
    # Derived from 14 stitches to 4 in, and from the same count to 10 cm over 127 cm.
    [(inch(50), 175, inch(4)), (cm(127), 178, cm(10))],
)
def test_four_inches_are_not_ten_centimetres(width: Length, stitches: int, span: Length) -> None:
    found = gauges.gauge_of_swatches([swatch("s", after=count(14, 16, span))], PLAIN)
    assert found is not None
    project = replace(PROJECT, width=width)
    assert size(project, PLAIN, found).stitches == stitches


def test_the_nearest_multiple_of_six_plus_one() -> None:
    # Derived: 50 in at 14 to 4 in is 175 stitches, 6 x 29 + 1; and 150 stitches are 151, chain 152.
    stitch = Stitch("six", "six", multiple=6, extra=2)
    found = size(replace(PROJECT, width=inch(50)), stitch, gauge(14 / 10.16, 1.0))
    assert (found.stitches, found.repeats) == (175, 29)
    found = size(replace(PROJECT, width=cm(150)), stitch, gauge(1.0, 1.0))
    assert (found.stitches, found.chain) == (151, 152)


def test_a_tie_goes_to_the_wider() -> None:
    # 2 n stitches at one to the cm: 101 cm lies between 100 and 102.
    found = size(replace(PROJECT, width=cm(101)), RIB, gauge(1.0, 1.0))
    assert found.stitches == 102


def test_at_least_one_repeat() -> None:
    assert size(replace(PROJECT, width=cm(1)), RIB, BULKY).repeats == 1
    deep = Stitch("deep", "deep", skipped=4)
    assert size(replace(PROJECT, width=cm(1)), deep, BULKY).stitches >= 1
    wide = Border("A", 4, cm(400))
    assert size(replace(PROJECT, border=wide), RIB, BULKY).repeats == 1


@given(
    st.integers(1, 20),
    st.integers(0, 9),
    st.floats(0.2, 5),
    st.floats(5, 400),
    st.floats(0, 50),
    st.booleans(),
)
def test_width_laws(
    multiple: int, extra: int, per_cm: float, target: float, more: float, in_repeats: bool
) -> None:
    stitch = Stitch("x", "x", multiple, extra)
    of = gauge(per_cm, 1.0, in_repeats=in_repeats)
    near = gauges.nearest_repeats(stitch, of, target)
    assert near <= gauges.nearest_repeats(stitch, of, target + more)
    off = abs(gauges.row_width_cm(stitch, of, near) - target)
    assert off <= abs(gauges.row_width_cm(stitch, of, near + 1) - target) + 1e-6
    if near > gauges.least_repeats(stitch):
        assert off <= abs(gauges.row_width_cm(stitch, of, near - 1) - target) + 1e-6


@given(st.integers(1, 20), st.integers(0, 9), st.integers(0, 5), st.booleans(), st.integers(1, 400))
def test_the_chain_rule_backwards(
    multiple: int, extra: int, skipped: int, counts: bool, repeats: int
) -> None:
    stitch = Stitch("x", "x", multiple, extra, skipped, turning_counts=counts)
    stitches = gauges.stitches_for(stitch, gauges.chain_for(stitch, repeats))
    assert gauges.repeats_for(stitch, stitches) == pytest.approx(repeats)


# Gauge


def library(*swatches: Swatch) -> Library:
    return Library((), (RIB, PLAIN), swatches)


def test_swatches_of_the_same_yarn_stitch_and_hook_are_pooled() -> None:
    ours = (
        swatch("one", after=count(10, 8, inch(4))),
        swatch("two", after=count(31, 23, inch(12))),
    )
    others = (
        replace(ours[0], key="other", yarn="silk"),
        replace(ours[0], key="other", stitch="sc"),
        replace(ours[0], key="other", hook_mm=Decimal(8)),
    )
    found = gauges.gauge_for(library(*ours, *others), "wool", "rib", Decimal("9.0"))
    assert found is not None
    assert found.swatches == ("one", "two")
    assert found.stitches_per_cm == pytest.approx(41 / (16 * 2.54))
    assert found.rows_per_cm == pytest.approx(31 / (16 * 2.54))


def test_washed_counts_come_first() -> None:
    group = (
        swatch("washed", before=count(10, 10, cm(10)), after=count(11, 12, cm(10))),
        swatch("not yet", before=count(20, 20, cm(10))),
    )
    found = gauges.gauge_of_swatches(group, RIB)
    assert found is not None
    assert (found.measure, found.swatches) == (Measure.WASHED, ("washed",))
    assert found.stitches_per_cm == pytest.approx(1.1)
    # What is 100 cm washed holds 110 stitches and was 110 cm on the hook.
    assert found.to_hook == pytest.approx((1.1, 1.2))
    made = replace(PROJECT, width=cm(100), length=cm(100), stripes=(Stripe("A", 120),))
    wide, long = gauges.on_hook(size(made, PLAIN, found), Direction.ACROSS)
    assert (wide, long) == pytest.approx((110, 120))
    made = replace(made, direction=Direction.ALONG)
    wide, long = gauges.on_hook(size(made, PLAIN, found), Direction.ALONG)
    assert (wide, long) == pytest.approx((120, 110))


def test_unwashed_counts_serve_where_nothing_is_washed() -> None:
    found = gauges.gauge_of_swatches([swatch("s", before=count(10, 8, inch(4)))], RIB)
    assert found is not None
    assert found.measure is Measure.UNWASHED
    assert found.to_hook == (1.0, 1.0)


@pytest.mark.parametrize(
    "bad",
    [
        count(0, 8, inch(4)),
        count(10, 0, inch(4)),
        count(10, 8, cm(0)),
        count(-10, 8, cm(10)),
        count(10, 8, cm(-10)),
    ],
)
def test_a_gauge_of_nothing_is_no_gauge(bad: GaugeCount) -> None:
    assert gauges.gauge_of_swatches([swatch("s", after=bad)], RIB) is None
    good = swatch("good", before=count(10, 8, inch(4)))
    found = gauges.gauge_of_swatches([swatch("s", after=bad), good], RIB)
    assert found is not None
    assert found.swatches == ("good",)


def test_gauge_in_repeats() -> None:
    # 4 repeats to 20 cm: 5 cm each, and one edge stitch of a sixth of that.
    found = gauges.gauge_of_swatches(
        [swatch("s", after=count(4, 10, cm(20), in_repeats=True))], SHELL
    )
    assert found is not None
    assert found.in_repeats
    assert gauges.row_width_cm(SHELL, found, 20) == pytest.approx(100 + 5 / 6)
    made = size(replace(PROJECT, width=cm(101)), SHELL, found)
    assert (made.repeats, made.chain) == (20, 122)


def test_repeats_and_stitches_together_count_as_stitches() -> None:
    group = (
        swatch("repeats", after=count(4, 10, cm(20), in_repeats=True)),
        swatch("stitches", after=count(12, 5, cm(10))),
    )
    found = gauges.gauge_of_swatches(group, SHELL)
    assert found is not None
    assert not found.in_repeats
    assert found.stitches_per_cm == pytest.approx(36 / 30)


def test_the_main_yarn_works_the_most_rows() -> None:
    assert gauges.main_yarn(PROJECT) == "wool"
    longer = replace(PROJECT, stripes=(Stripe("A", 6), Stripe("B", 8), Stripe("?", 90)))
    assert gauges.main_yarn(longer) == "silk"
    assert gauges.main_yarn(replace(PROJECT, slots=())) is None


def test_gauge_of_the_next_yarn_where_the_main_one_has_no_swatch() -> None:
    wool = swatch("wool", after=count(10, 8, inch(4)))
    silk = replace(swatch("silk", after=count(12, 8, inch(4))), yarn="silk")
    longer = replace(PROJECT, stripes=(Stripe("A", 6), Stripe("B", 8)))
    for swatches, expected in (((wool, silk), "silk"), ((wool,), "wool")):
        found = gauges.gauge_of(longer, library(*swatches))
        assert found is not None
        assert found.swatches == (expected,)
    assert gauges.gauge_of(longer, library()) is None


# Size


def test_rows_and_length_of_the_sampler() -> None:
    # Common practice, no source: 6 stripes of 6, 4 of 18 and 1 of 20 are 128 rows and 64 in.
    stripes = (*[Stripe("A", 6)] * 6, *[Stripe("B", 18)] * 4, Stripe("A", 20))
    made = size(replace(PROJECT, stripes=stripes), RIB, BULKY)
    assert made.rows == 128
    assert made.length_cm / 2.54 == pytest.approx(64)
    assert made.rows_for_target == 128
    assert made.length_off == pytest.approx(0)


def test_rows_for_a_length() -> None:
    # Derived: 60 in at 16 rows to 4 in are 240 rows, 6 colours of 8 rows 5 times.
    made = size(replace(PROJECT, length=inch(60)), RIB, gauge(1.0, 16 / 10.16))
    assert made.rows_for_target == 240 == 6 * 8 * 5


def test_rows_are_even_unless_colour_may_change_on_either_side() -> None:
    project = replace(PROJECT, length=cm(101))
    assert size(project, PLAIN, gauge(1.0, 1.0)).rows_for_target == 102
    either = replace(PLAIN, change_either_side=True)
    assert size(project, either, gauge(1.0, 1.0)).rows_for_target == 101


def test_border_widths_are_part_of_the_size() -> None:
    border = Border("A", 3, cm(4))
    project = replace(PROJECT, width=cm(108), length=cm(58), stripes=(Stripe("A", 50),))
    made = size(replace(project, border=border), PLAIN, gauge(1.0, 1.0))
    assert (made.stitches, made.width_cm, made.length_cm) == (100, 108, 58)
    assert made.rows_for_target == 50


def test_along_the_length() -> None:
    project = replace(PROJECT, width=cm(50), length=cm(120), direction=Direction.ALONG)
    made = size(replace(project, stripes=(Stripe("A", 60),)), PLAIN, gauge(1.0, 2.0))
    assert made.stitches == 120
    assert (made.width_cm, made.length_cm) == (30, 120)
    assert made.width_off == pytest.approx(-0.4)
    assert made.rows_for_target == 100


def test_what_has_no_size() -> None:
    assert gauges.size_of(replace(PROJECT, method=Method.BY_HAND), RIB, BULKY) is None
    assert gauges.size_of(replace(PROJECT, width=cm(0)), RIB, BULKY) is None
    assert gauges.size_of(PROJECT, replace(RIB, multiple=0), BULKY) is None


# Rows of several kinds

KINDS = Stitch(
    "k",
    "mesh",
    multiple=2,
    extra=1,
    kinds=(
        RowKind("foundation", 1, Decimal("1.5")),
        RowKind("set-up", 2, Decimal(1), per_repeat=1, extra_stitches=1),
        RowKind("body", None, Decimal(1), per_repeat=2),
    ),
)


def test_kinds_of_rows() -> None:
    names = [gauges.row_kind(KINDS, row).name for row in (1, 2, 3, 4, 500)]
    assert names == ["foundation", "set-up", "set-up", "body", "body"]
    assert [gauges.stitches_in_row(KINDS, 50, row) for row in (1, 2, 4)] == [100, 51, 100]


def test_a_first_row_of_heavier_stitches_uses_more_than_the_rest() -> None:
    # Common practice, no source.
    first = gauges.effective_rows(KINDS, 50, 1, 1)
    rest = gauges.effective_rows(KINDS, 50, 4, 4)
    assert (first, rest) == (1.5, 1.0)
    assert gauges.effective_rows(KINDS, 50, 1, 6) == pytest.approx(1.5 + 2 * 0.51 + 3)


def test_a_part_row_counts_as_a_part() -> None:
    assert gauges.effective_rows(KINDS, 50, 1, 0.5) == pytest.approx(0.75)
    assert gauges.effective_rows(KINDS, 50, 4, 8.5) == pytest.approx(5.5)
    assert gauges.effective_rows(KINDS, 50, 4, 3) == 0.0


@given(st.integers(1, 60), st.integers(0, 60), st.integers(0, 60))
def test_effective_rows_add_up(first: int, some: int, more: int) -> None:
    middle, last = first + some - 1, first + some + more - 1
    whole = gauges.effective_rows(KINDS, 40, first, last)
    parts = gauges.effective_rows(KINDS, 40, first, middle) + gauges.effective_rows(
        KINDS, 40, middle + 1, last
    )
    assert whole == pytest.approx(parts)
    one_by_one = sum(gauges.effective_rows(KINDS, 40, r, r) for r in range(first, last + 1))
    assert whole == pytest.approx(one_by_one)


def test_a_stitch_without_kinds_or_weight_still_counts_rows() -> None:
    assert gauges.effective_rows(replace(RIB, kinds=()), 10, 1, 7) == 7
    weightless = (RowKind("foundation", 1), RowKind("body", None, Decimal(0)))
    assert gauges.effective_rows(replace(RIB, kinds=weightless), 10, 1, 7) == 7


def test_border_rounds_grow() -> None:
    border = Border("A", 3, cm(2), pick_up=Decimal("0.75"), corners=12, increase=8)
    # Two ends of 100, two sides of three quarters of 85 rows (63.75, to whole stitches), corners.
    assert gauges.border_stitches(border, 100, 85) == (340, 348, 356)
    assert gauges.border_stitches(replace(border, rounds=0), 100, 85) == ()
