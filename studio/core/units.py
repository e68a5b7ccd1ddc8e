"""Exact factors between the units of the trade, and the fineness of a yarn from its ball.

The inch, the yard and the pound are exact by the international agreement of 1959; an ounce is a
sixteenth of a pound. Every function takes Decimal or float and answers in the same kind.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TypeVar, overload

CM_PER_INCH = Decimal("2.54")
M_PER_YARD = Decimal("0.9144")
G_PER_POUND = Decimal("453.59237")
G_PER_OUNCE = G_PER_POUND / 16

Number = TypeVar("Number", Decimal, float)


@overload
def _times(value: Decimal, factor: Decimal) -> Decimal: ...
@overload
def _times(value: float, factor: Decimal) -> float: ...
def _times(value: Decimal | float, factor: Decimal) -> Decimal | float:
    return value * factor if isinstance(value, Decimal) else value * float(factor)


@overload
def _over(value: Decimal, factor: Decimal) -> Decimal: ...
@overload
def _over(value: float, factor: Decimal) -> float: ...
def _over(value: Decimal | float, factor: Decimal) -> Decimal | float:
    return value / factor if isinstance(value, Decimal) else value / float(factor)


def inches(cm: Number) -> Number:
    """Centimetres as inches."""
    return _over(cm, CM_PER_INCH)


def centimetres(inch: Number) -> Number:
    """Inches as centimetres."""
    return _times(inch, CM_PER_INCH)


def yards(metres: Number) -> Number:
    """Metres as yards."""
    return _over(metres, M_PER_YARD)


def metres(yard: Number) -> Number:
    """Yards as metres."""
    return _times(yard, M_PER_YARD)


def ounces(grams: Number) -> Number:
    """Grams as avoirdupois ounces."""
    return _over(grams, G_PER_OUNCE)


def grams(ounce: Number) -> Number:
    """Avoirdupois ounces as grams."""
    return _times(ounce, G_PER_OUNCE)


def tex(ball_g: Number, ball_m: Number) -> Number:
    """Grams of 1000 m of the yarn (ISO 1144)."""
    return ball_g / ball_m * 1000


def metric_count(ball_g: Number, ball_m: Number) -> Number:
    """Metres of one gram of the yarn, Nm: 1000 over tex."""
    return ball_m / ball_g
