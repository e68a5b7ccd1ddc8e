"""The published yarn weight categories, and hints that stay hints."""

from __future__ import annotations

from decimal import Decimal

import pytest

from studio.core import categories
from studio.core.model import Stitch

SINGLE = Stitch("sc", "single crochet")
DOUBLE = Stitch("dc", "double crochet", turning_chain=3, turning_counts=True, skipped=3)
SHELLS = Stitch("shell", "shells", stitches_per_repeat=6, multiple=6)

# Craft Yarn Council, Standard Yarn Weight System, as reprinted in a crochet magazine, Oct 2018.
PUBLISHED = {
    0: ("Lace", (32, 42), ("1.5", "2.25")),
    1: ("Super fine", (21, 32), ("2.25", "3.5")),
    2: ("Fine", (16, 20), ("3.5", "4.5")),
    3: ("Light", (12, 17), ("4.5", "5.5")),
    4: ("Medium", (11, 14), ("5.5", "6.5")),
    5: ("Bulky", (8, 11), ("6.5", "9")),
    6: ("Super bulky", (6, 9), ("9", "16")),
    7: ("Jumbo", (None, 5), ("16", None)),
}


@pytest.mark.parametrize("number", PUBLISHED)
def test_the_table(number: int) -> None:
    found = categories.category(number)
    assert found is not None
    name, stitches, hook = PUBLISHED[number]
    assert (found.number, found.name, found.stitches) == (number, name, stitches)
    assert found.hook_mm == tuple(None if h is None else Decimal(h) for h in hook)


def per_cm(stitches: float) -> float:
    return stitches / 10.16


def test_a_bulky_yarn_on_a_9_mm_hook_lies_in_its_range() -> None:
    # Common practice, no source: 10 stitches to 4 in in a bulky yarn on a 9 mm hook.
    assert categories.hook_hint(5, Decimal(9)) is None
    assert categories.gauge_hint(5, per_cm(10), SINGLE) is None


def test_a_hint_says_what_is_usual() -> None:
    hint = categories.hook_hint(5, Decimal("5.50"))
    assert hint == "A 5.5 mm hook is unusual for 5 Bulky yarn (6.5 to 9 mm)."
    hint = categories.gauge_hint(5, per_cm(14), SINGLE)
    assert hint is not None
    assert hint.startswith("14 stitches to 4 in are unusual for 5 Bulky yarn")
    assert "8 to 11 single crochets" in hint


@pytest.mark.parametrize(("number", "stitches"), [(2, 16), (3, 17), (4, 12), (5, 8), (6, 9)])
def test_overlapping_ends_belong_to_both(number: int, stitches: int) -> None:
    assert categories.gauge_hint(number, per_cm(stitches), SINGLE) is None


def test_lace_is_counted_in_double_crochet_and_never_compared() -> None:
    assert categories.gauge_hint(0, per_cm(5), SINGLE) is None


@pytest.mark.parametrize("stitch", [DOUBLE, SHELLS])
def test_other_stitches_are_not_compared(stitch: Stitch) -> None:
    assert categories.gauge_hint(5, per_cm(30), stitch) is None
    assert categories.gauge_hint(5, per_cm(30), SINGLE) is not None


def test_the_border_of_jumbo_is_in_doubt() -> None:
    assert categories.hook_hint(7, Decimal(15)) is None
    assert categories.hook_hint(7, Decimal(12)) is not None
    assert categories.hook_hint(7, Decimal(25)) is None
    assert categories.gauge_hint(7, per_cm(6), SINGLE) is not None


@pytest.mark.parametrize("number", [-1, 8])
def test_no_such_category(number: int) -> None:
    assert categories.category(number) is None
    assert categories.hook_hint(number, Decimal(5)) is None
    assert categories.gauge_hint(number, 1.0, SINGLE) is None
    assert "no such" in categories.words(number)
