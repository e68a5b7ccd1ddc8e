"""All words for figures: how lengths, grams, money, dates, rows and chances are written.

The app, the papers and the command line all speak through here, so that a figure reads the same
everywhere. Lengths come in centimetres and yarn in grams; the studio's units decide what is shown.
"""

from __future__ import annotations

import datetime
from decimal import ROUND_HALF_UP, Decimal

from studio.core import units
from studio.core.model import LengthUnit, WeightUnit
from studio.core.money import minor_digits, rounded

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

Figure = Decimal | float


def number(value: Figure, digits: int = 0, *, trim: bool = True) -> str:
    """A figure to so many decimals, half up, without a minus on nought; trailing noughts go."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    text = f"{exact.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP):f}"
    if trim and "." in text:
        text = text.rstrip("0").rstrip(".")
    return text.lstrip("-") if not text.strip("-0.") else text


def count(amount: int, word: str, many: str | None = None) -> str:
    """'1 ball', '3 balls', '2 stitches'."""
    return f"{amount} {word if amount == 1 else many or plural(word)}"


def plural(word: str) -> str:
    """'balls', 'stitches'."""
    return word + ("es" if word.endswith(("ch", "sh", "s", "x")) else "s")


def balls(amount: int) -> str:
    """'1 ball', '3 balls'."""
    return count(amount, "ball")


def _length_figure(cm: float, unit: LengthUnit) -> str:
    if unit is LengthUnit.INCH:
        return number(units.inches(cm), 1)
    if unit is LengthUnit.MM:
        return number(cm * 10)
    if unit is LengthUnit.METRE:
        return number(cm / 100, 2)
    return number(cm, 0 if abs(cm) >= 20 else 1)


def length(cm: float, unit: LengthUnit) -> str:
    """'152 cm', '4.5 cm', '59.8 in'."""
    return f"{_length_figure(cm, unit)} {unit.value}"


def size(width_cm: float, length_cm: float, unit: LengthUnit) -> str:
    """'152 x 165 cm'."""
    return f"{_length_figure(width_cm, unit)} x {_length_figure(length_cm, unit)} {unit.value}"


def gauge(per_cm: float, counted: str, unit: LengthUnit) -> str:
    """'12 stitches to 10 cm' or '10 stitches to 4 in': the span that the trade counts over."""
    if unit is LengthUnit.INCH:
        return f"{number(units.centimetres(4.0) * per_cm, 1)} {counted} to 4 in"
    return f"{number(10 * per_cm, 1)} {counted} to 10 cm"


def _hundred(fraction: Figure) -> Figure:
    # A float is read as it is written, so that 0.145 is 14.5 and not 14.4999.
    return (fraction if isinstance(fraction, Decimal) else Decimal(repr(float(fraction)))) * 100


def percent(fraction: Figure, digits: int = 1) -> str:
    """'9.5 %'."""
    return f"{number(_hundred(fraction), digits)} %"


def of_percent(hundredths: Decimal) -> Decimal:
    """The fraction that so many percent are: 20 gives 0.2, exactly."""
    return hundredths.scaleb(-2)


def signed_percent(fraction: Figure, digits: int = 1) -> str:
    """'+1.3 %', '-0.4 %', '0.0 %'."""
    text = number(_hundred(fraction), digits, trim=False)
    sign = "+" if text.strip("0.") and not text.startswith("-") else ""
    return f"{sign}{text} %"


def grams(value: Figure) -> str:
    """'4.2 g', '61.2 g', '612 g': tenths only below 100 g."""
    return f"{number(value, 1 if abs(float(value)) < 100 else 0)} g"


def ounces(value_g: Figure) -> str:
    """Grams written as ounces: '2.16 oz', '21.6 oz'."""
    value = units.ounces(float(value_g))
    return f"{number(value, 2 if abs(value) < 10 else 1)} oz"


def weight(value_g: Figure, unit: WeightUnit) -> str:
    """Yarn in the studio's unit of weight."""
    return grams(value_g) if unit is WeightUnit.GRAM else ounces(value_g)


def metres(value_m: Figure) -> str:
    """'8.5 m', '240 m'."""
    return f"{number(value_m, 1 if abs(float(value_m)) < 10 else 0)} m"


def yards(value_m: Figure) -> str:
    """Metres written as yards: '262 yd'."""
    value = units.yards(float(value_m))
    return f"{number(value, 1 if abs(value) < 10 else 0)} yd"


def yarn_length(value_m: Figure, unit: LengthUnit) -> str:
    """A length of yarn: yards where the studio works in inches, else metres."""
    return yards(value_m) if unit is LengthUnit.INCH else metres(value_m)


def money(amount: Decimal, currency: str) -> str:
    """'61.20 EUR', '6120 JPY': the currency's own decimals, and its code."""
    return f"{rounded(amount, currency):.{minor_digits(currency)}f} {currency}"


def date(day: datetime.date) -> str:
    """'12 Mar 2027'."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def rows(first: int, last: int) -> str:
    """'row 7', 'rows 7-24', 'no rows'."""
    if last < first:
        return "no rows"
    return f"row {first}" if first == last else f"rows {first}-{last}"


def chance(value: float) -> str:
    """'about 97 %', 'over 99 %', 'under 1 %'; '100 %' and '0 %' only where it is certain."""
    if value >= 1.0:
        return "100 %"
    if value <= 0.0:
        return "0 %"
    if value > 0.99:
        return "over 99 %"
    if value < 0.01:
        return "under 1 %"
    return f"about {number(_hundred(value))} %"


def either(words: list[str], link: str = "or") -> str:
    """'a', 'a or b', 'a, b or c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {link} {words[-1]}"
