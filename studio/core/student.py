"""Student's t distribution for whole or fractional degrees of freedom.

Through the regularised incomplete beta function by its continued fraction (modified Lentz), good
to about 1e-12; the quantile inverts it by bisection that Newton steps speed up.
"""

from __future__ import annotations

import math
from functools import lru_cache

_NORMAL_FROM = 1e8
"""Beyond so many degrees of freedom t and normal agree to the last digits."""
_TINY = 1e-300


def _beta_fraction(a: float, b: float, x: float) -> float:
    c = 1.0
    d = 1.0 / _off_zero(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for step in range(1, 20_000):
        twice = a + 2 * step
        for factor in (
            step * (b - step) * x / ((twice - 1.0) * twice),
            -(a + step) * (a + b + step) * x / (twice * (twice + 1.0)),
        ):
            d = 1.0 / _off_zero(1.0 + factor * d)
            c = _off_zero(1.0 + factor / c)
            value *= c * d
        if abs(c * d - 1.0) < 1e-16:
            break
    return value


def _off_zero(value: float) -> float:
    return value if abs(value) > _TINY else _TINY


def _incomplete_beta(a: float, b: float, x: float, rest: float) -> float:
    """The regularised incomplete beta of x; `rest` is 1 - x without its rounding."""
    if x <= 0.0:
        return 0.0
    if rest <= 0.0:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log(rest)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, rest) / b


@lru_cache(maxsize=4096)
def cdf(t: float, freedom: float) -> float:
    """The chance that a t variate with so many degrees of freedom is at most `t`."""
    if not freedom > 0:
        raise ValueError("degrees of freedom must be above nought")
    if math.isnan(t):
        raise ValueError("t must be a number")
    if math.isinf(t):
        return 1.0 if t > 0 else 0.0
    if freedom > _NORMAL_FROM:
        return 0.5 * math.erfc(-t / math.sqrt(2.0))
    whole = freedom + t * t
    tail = 0.5 * _incomplete_beta(freedom / 2, 0.5, freedom / whole, t * t / whole)
    return 1.0 - tail if t > 0 else tail


def _density(t: float, freedom: float) -> float:
    log = (
        math.lgamma((freedom + 1) / 2)
        - math.lgamma(freedom / 2)
        - 0.5 * math.log(freedom * math.pi)
        - (freedom + 1) / 2 * math.log1p(t * t / freedom)
    )
    return math.exp(log)


@lru_cache(maxsize=1024)
def quantile(chance: float, freedom: float) -> float:
    """The t that is exceeded with chance 1 - `chance`."""
    if not 0.0 < chance < 1.0:
        raise ValueError("a chance must lie between nought and one")
    if not freedom > 0:
        raise ValueError("degrees of freedom must be above nought")
    if freedom > _NORMAL_FROM:
        # Imported here, since it is rarely asked for and the module is slow to import.
        from statistics import NormalDist

        return NormalDist().inv_cdf(chance)
    if chance == 0.5:
        return 0.0
    # Below the middle the tail is exact, above it 1 - tail is not: so the lower side is inverted.
    lower = min(chance, 1.0 - chance)
    low, high = -1.0, 0.0
    while cdf(low, freedom) > lower:
        low *= 2.0
        if low < -1e150:
            break
    t = (low + high) / 2
    for _ in range(400):
        over = cdf(t, freedom) - lower
        if over > 0:
            high = t
        else:
            low = t
        density = _density(t, freedom)
        stepped = t - over / density if density > 0 else low
        stepped = stepped if low < stepped < high else (low + high) / 2
        if abs(stepped - t) <= 1e-15 * abs(t):
            break
        t = stepped
    return -t if chance > 0.5 else t
