"""Student's t against printed tables and against scipy."""

from __future__ import annotations

import math

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from studio.core import student

TABLE = {
    # NIST/SEMATECH e-Handbook 1.3.6.7.2, upper quantiles, as reprinted; also 10 CFR 429 App. A.
    1: (3.078, 6.314, 12.706, 31.821, 63.657),
    2: (1.886, 2.920, 4.303, 6.965, 9.925),
    3: (1.638, 2.353, 3.182, 4.541, 5.841),
    4: (1.533, 2.132, 2.776, 3.747, 4.604),
    5: (1.476, 2.015, 2.571, 3.365, 4.032),
    10: (1.372, 1.812, 2.228, 2.764, 3.169),
    20: (1.325, 1.725, 2.086, 2.528, 2.845),
    math.inf: (1.282, 1.645, 1.960, 2.326, 2.576),
}
UPPER = (0.10, 0.05, 0.025, 0.01, 0.005)


@pytest.mark.parametrize("freedom", TABLE)
def test_printed_quantiles(freedom: float) -> None:
    for upper, printed in zip(UPPER, TABLE[freedom], strict=True):
        assert student.quantile(1 - upper, freedom) == pytest.approx(printed, abs=5.01e-4)


def test_a_published_quantile_between_the_lines() -> None:
    # NIST/SEMATECH e-Handbook 1.3.5.2, data set ZARR13: t(0.975, 194) = 1.9723 (from memory).
    assert student.quantile(0.975, 194) == pytest.approx(1.9723, abs=5e-5)


@given(st.floats(0.5, 5000), st.floats(-60, 60))
def test_cdf_against_scipy(freedom: float, t: float) -> None:
    assert student.cdf(t, freedom) == pytest.approx(
        scipy.special.stdtr(freedom, t), rel=1e-9, abs=1e-13
    )


@given(st.floats(0.5, 5000), st.floats(0.0005, 0.9995))
def test_quantile_against_scipy(freedom: float, chance: float) -> None:
    expected = scipy.special.stdtrit(freedom, chance)
    assert student.quantile(chance, freedom) == pytest.approx(expected, rel=1e-8, abs=1e-8)


@given(st.floats(0.7, 1e5), st.floats(0.001, 0.999))
def test_quantile_undoes_cdf(freedom: float, chance: float) -> None:
    assert student.cdf(student.quantile(chance, freedom), freedom) == pytest.approx(chance)


def test_the_ends() -> None:
    assert student.cdf(math.inf, 3) == 1.0
    assert student.cdf(-math.inf, 3) == 0.0
    assert student.cdf(0.0, 3) == 0.5
    assert student.quantile(0.5, 3) == 0.0
    assert student.cdf(1.96, 1e12) == pytest.approx(scipy.special.ndtr(1.96))


@pytest.mark.parametrize(("chance", "freedom"), [(0.0, 3), (1.0, 3), (0.9, 0), (0.9, -1)])
def test_senseless_questions(chance: float, freedom: float) -> None:
    with pytest.raises(ValueError, match="must"):
        student.quantile(chance, freedom)


def test_cdf_needs_freedom_and_a_number() -> None:
    with pytest.raises(ValueError, match="freedom"):
        student.cdf(1.0, 0)
    with pytest.raises(ValueError, match="number"):
        student.cdf(math.nan, 3)
