"""How figures are written."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import say
from studio.core.model import LengthUnit, WeightUnit

CM, INCH = LengthUnit.CM, LengthUnit.INCH


@pytest.mark.parametrize(
    ("cm", "unit", "text"),
    [
        (152.4, CM, "152 cm"),
        (4.5, CM, "4.5 cm"),
        (15.0, CM, "15 cm"),
        (152.4, INCH, "60 in"),
        (178 / 10 * 10.16, INCH, "71.2 in"),
        (4.5, LengthUnit.MM, "45 mm"),
        (152.4, LengthUnit.METRE, "1.52 m"),
        (0.0, CM, "0 cm"),
        (-0.01, CM, "0 cm"),
    ],
)
def test_lengths(cm: float, unit: LengthUnit, text: str) -> None:
    assert say.length(cm, unit) == text


def test_sizes() -> None:
    assert say.size(152.3, 165.1, CM) == "152 x 165 cm"
    assert say.size(127.0, 152.4, INCH) == "50 x 60 in"


def test_gauge_keeps_the_span_of_the_trade() -> None:
    assert say.gauge(1.2, "stitches", CM) == "12 stitches to 10 cm"
    assert say.gauge(10 / 10.16, "stitches", INCH) == "10 stitches to 4 in"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.013, "+1.3 %"),
        (-0.004, "-0.4 %"),
        (0.0, "0.0 %"),
        (-0.0001, "0.0 %"),
        (Decimal("0.0125"), "+1.3 %"),
        (1.0, "+100.0 %"),
    ],
)
def test_signed_percent(value: float, text: str) -> None:
    assert say.signed_percent(value) == text


def test_percent() -> None:
    assert say.percent(0.095) == "9.5 %"
    assert say.percent(Decimal("0.10")) == "10 %"


@pytest.mark.parametrize(
    ("value", "grams", "ounces"),
    [
        (Decimal("4.25"), "4.3 g", "0.15 oz"),
        (61.2, "61.2 g", "2.16 oz"),
        (Decimal(61), "61 g", "2.15 oz"),
        (612.4, "612 g", "21.6 oz"),
    ],
)
def test_weights(value: float, grams: str, ounces: str) -> None:
    assert say.weight(value, WeightUnit.GRAM) == grams
    assert say.weight(value, WeightUnit.OUNCE) == ounces


def test_yarn_lengths() -> None:
    assert say.yarn_length(240.0, CM) == "240 m"
    assert say.yarn_length(240.0, INCH) == "262 yd"
    assert say.yarn_length(8.46, CM) == "8.5 m"


def test_counts() -> None:
    assert say.balls(1) == "1 ball"
    assert say.balls(3) == "3 balls"
    assert say.balls(0) == "0 balls"
    assert say.count(2, "stitch") == "2 stitches"
    assert say.count(1, "stitch") == "1 stitch"
    assert say.count(2, "foot", "feet") == "2 feet"


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        ("61.2", "EUR", "61.20 EUR"),
        ("6120", "JPY", "6120 JPY"),
        ("1.2345", "BHD", "1.235 BHD"),
        ("-3.005", "USD", "-3.01 USD"),
        ("1E+3", "EUR", "1000.00 EUR"),
    ],
)
def test_money(amount: str, currency: str, text: str) -> None:
    assert say.money(Decimal(amount), currency) == text


def test_dates_do_not_follow_the_locale() -> None:
    assert say.date(date(2027, 3, 12)) == "12 Mar 2027"
    assert say.date(date(2026, 12, 1)) == "1 Dec 2026"


def test_rows() -> None:
    assert say.rows(7, 24) == "rows 7-24"
    assert say.rows(7, 7) == "row 7"
    assert say.rows(7, 6) == "no rows"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1.0, "100 %"),
        (0.9999999, "over 99 %"),
        (0.99, "about 99 %"),
        (0.965, "about 97 %"),
        (0.01, "about 1 %"),
        (0.0001, "under 1 %"),
        (0.0, "0 %"),
    ],
)
def test_chance(value: float, text: str) -> None:
    assert say.chance(value) == text


@given(st.floats(0, 1))
def test_only_the_certain_is_a_hundred_percent(value: float) -> None:
    assert ("100 %" in say.chance(value)) == (value == 1.0)


def test_either() -> None:
    assert say.either(["a"]) == "a"
    assert say.either(["a", "b"]) == "a or b"
    assert say.either(["a", "b", "c"], "and") == "a, b and c"
    assert say.either([]) == ""
