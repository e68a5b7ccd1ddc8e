"""Yarn weight categories 0 to 7 with their usual single crochet gauge and hook.

The table of the Craft Yarn Council's Standard Yarn Weight System, as reprinted in a crochet
magazine of October 2018 (row 7 from 2014/15). The council calls its ranges guidelines only, so a
yarn outside them gives a hint and never more. Ranges overlap.
"""

from __future__ import annotations

from decimal import Decimal

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Stitch
from studio.core.units import centimetres


@dataclass(frozen=True, slots=True)
class Category:
    """One category: single crochets to 4 in and hook in mm, each from and to; None is open.

    Category 0 is counted in double crochet, so its counts are never compared with a gauge.
    """

    number: int
    name: str
    stitches: tuple[int | None, int | None]
    hook_mm: tuple[Decimal | None, Decimal | None]
    in_double_crochet: bool = False


def _mm(text: str) -> Decimal:
    return Decimal(text)


CATEGORIES = (
    Category(0, "Lace", (32, 42), (_mm("1.5"), _mm("2.25")), in_double_crochet=True),
    Category(1, "Super fine", (21, 32), (_mm("2.25"), _mm("3.5"))),
    Category(2, "Fine", (16, 20), (_mm("3.5"), _mm("4.5"))),
    Category(3, "Light", (12, 17), (_mm("4.5"), _mm("5.5"))),
    Category(4, "Medium", (11, 14), (_mm("5.5"), _mm("6.5"))),
    Category(5, "Bulky", (8, 11), (_mm("6.5"), _mm("9"))),
    Category(6, "Super bulky", (6, 9), (_mm("9"), _mm("16"))),
    Category(7, "Jumbo", (None, 5), (_mm("16"), None)),
)
_SLACK_MM = {7: 1}
"""Other prints begin category 7 at 15 mm (from memory): too little to give a hint about."""


def category(number: int) -> Category | None:
    """The category with this number, if there is one."""
    return CATEGORIES[number] if 0 <= number < len(CATEGORIES) else None


def words(number: int) -> str:
    """'5 Bulky': digit and word."""
    found = category(number)
    return f"{number} {found.name}" if found else f"{number} (no such category)"


def _range(low: Decimal | int | None, high: Decimal | int | None, unit: str) -> str:
    if low is None:
        return f"{high} {unit} or fewer"
    return f"{low} {unit} or more" if high is None else f"{low} to {high} {unit}"


def _outside(value: float, low: Decimal | int | None, high: Decimal | int | None) -> bool:
    return (low is not None and value < float(low)) or (high is not None and value > float(high))


def counts_in_single(stitch: Stitch) -> bool:
    """Whether its gauge may be compared: a plain stitch with the turning chain of single crochet.

    That chain is 1 (Crochet Guild of America lesson, 1997); taller stitches and patterned ones
    are counted otherwise than the table counts.
    """
    return stitch.turning_chain == 1 and stitch.stitches_per_repeat is None


def hook_hint(number: int, hook_mm: Decimal) -> str | None:
    """A sentence where the hook lies outside the usual range of the category, else None."""
    found = category(number)
    if found is None:
        return None
    low, high = found.hook_mm
    if not _outside(float(hook_mm), low and low - _SLACK_MM.get(number, 0), high):
        return None
    usual = _range(*found.hook_mm, "mm")
    return f"A {say.number(hook_mm, 2)} mm hook is unusual for {words(number)} yarn ({usual})."


def gauge_hint(number: int, stitches_per_cm: float, stitch: Stitch) -> str | None:
    """A sentence where a single crochet gauge is outside the category's usual range, else None."""
    found = category(number)
    if found is None or found.in_double_crochet or not counts_in_single(stitch):
        return None
    per_span = stitches_per_cm * centimetres(4.0)
    # Half a stitch either way is the reading error of a count over 4 in.
    low, high = found.stitches
    if not _outside(per_span, low and low - Decimal("0.5"), high and high + Decimal("0.5")):
        return None
    usual = _range(low, high, "single crochets")
    counted = say.number(per_span, 1)
    return f"{counted} stitches to 4 in are unusual for {words(number)} yarn ({usual})."
