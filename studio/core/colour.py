"""Colour: how different two shades are, for her and for a colour-blind customer.

Screen colours stand in for dyed yarn, so a difference is a guide to contrast between stripes and
no match of dye lots. coloraide is imported where it is used, since not every start needs it.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from studio.core.ciede import difference_of, lab_of

if TYPE_CHECKING:
    from coloraide import Color


class Sight(StrEnum):
    """Full colour vision, and the three kinds of colour blindness."""

    FULL = "full"
    PROTAN = "protan"
    DEUTAN = "deutan"
    TRITAN = "tritan"


@lru_cache(maxsize=4096)
def _color(code: str) -> Color:
    from coloraide import Color

    return Color(code)


@lru_cache(maxsize=4096)
def seen_by(code: str, sight: Sight) -> str:
    """The hex colour as somebody of this sight sees it."""
    if sight is Sight.FULL:
        return code
    return _color(code).filter(sight.value).convert("srgb").to_string(hex=True, fit="clip")


@lru_cache(maxsize=16384)
def ciede2000(one: str, other: str) -> float:
    """The CIEDE2000 difference of two hex colours."""
    return difference_of(lab_of(one), lab_of(other))


@lru_cache(maxsize=4096)
def lightness(code: str) -> float:
    """OKLab lightness from 0, black, to 1, white."""
    return float(_color(code).convert("oklab")["lightness"])


def difference(one: Sequence[str], other: Sequence[str], sight: Sight = Sight.FULL) -> float:
    """How far two shades differ, each of one colour or, where variegated, of several.

    The largest distance from a colour of either to its nearest in the other: shades are as far
    apart as the one colour that stands out. A shade without colours differs from nothing.
    """
    ours = [seen_by(code, sight) for code in one]
    theirs = [seen_by(code, sight) for code in other]
    if not ours or not theirs:
        return 0.0
    return max(
        max(min(ciede2000(a, b) for b in theirs) for a in ours),
        max(min(ciede2000(a, b) for a in ours) for b in theirs),
    )


def alike(
    one: Sequence[str], other: Sequence[str], limit: float, sight: Sight = Sight.FULL
) -> bool:
    """Whether two shades are too alike to tell apart as neighbours."""
    return difference(one, other, sight) < limit
