"""Unit factors and yarn counts against the published ones."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import units

POSITIVE = st.floats(0.001, 1e6)


def test_the_exact_factors() -> None:
    # International yard and pound agreement, 1 July 1959 (NIST SP 811, App. B.8): from memory.
    assert Decimal("2.54") == units.centimetres(Decimal(1))
    assert units.metres(Decimal(1)) == Decimal("0.9144")
    assert Decimal("453.59237") == units.G_PER_POUND
    assert units.grams(Decimal(1)) == Decimal("28.349523125")


def test_four_inches_are_not_ten_centimetres() -> None:
    assert units.centimetres(Decimal(4)) == Decimal("10.16")


@pytest.mark.parametrize(
    ("ball_g", "ball_m", "tex", "count", "yards_per_100g", "yards_per_ounce"),
    [
        # Worked labels derived from ISO 1144 and the exact factors.
        ("100", "200", 500, 2.0, 218.7227, 62.0068),
        ("50", "120", 416.6667, 2.4, 262.4672, 74.4082),
        ("100", "201.168", 497.0970, 2.01168, 220, 62.3690),
    ],
)
def test_fineness_of_a_ball(
    ball_g: str,
    ball_m: str,
    tex: float,
    count: float,
    yards_per_100g: float,
    yards_per_ounce: float,
) -> None:
    grams, metres = Decimal(ball_g), Decimal(ball_m)
    assert float(units.tex(grams, metres)) == pytest.approx(tex, abs=5e-5)
    assert float(units.metric_count(grams, metres)) == pytest.approx(count)
    per_gram = units.yards(metres) / grams
    assert float(per_gram * 100) == pytest.approx(yards_per_100g, abs=5e-5)
    assert float(per_gram * units.G_PER_OUNCE) == pytest.approx(yards_per_ounce, abs=5e-5)


@pytest.mark.parametrize(("count", "tex"), [(10, 100), (25, 40), (80, 12.5), (100, 10)])
def test_metric_count_and_tex(count: float, tex: float) -> None:
    # tge-gmbh.de, table of yarn counts: tex = 1000 / Nm.
    assert units.tex(1.0, count) == pytest.approx(tex)


@pytest.mark.parametrize(("label", "grams"), [("3.5", 99.2233), ("1.75", 49.6117), ("7", 198.4467)])
def test_ounces_on_labels(label: str, grams: float) -> None:
    # Derived from the exact pound.
    assert float(units.grams(Decimal(label))) == pytest.approx(grams, abs=5e-5)


@given(POSITIVE)
def test_there_and_back(value: float) -> None:
    assert units.centimetres(units.inches(value)) == pytest.approx(value)
    assert units.metres(units.yards(value)) == pytest.approx(value)
    assert units.grams(units.ounces(value)) == pytest.approx(value)
