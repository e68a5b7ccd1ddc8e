"""What is typed into a form, read into values; a wrong entry is told in one sentence.

A check takes the text of a field and returns its value, or raises `ValueError` with the sentence.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Length, LengthUnit

Check = Callable[[str], object]

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

UNIT_WORDS = {
    "cm": LengthUnit.CM,
    "in": LengthUnit.INCH,
    "inch": LengthUnit.INCH,
    "inches": LengthUnit.INCH,
    '"': LengthUnit.INCH,
    "mm": LengthUnit.MM,
    "m": LengthUnit.METRE,
}


MOST_COLOURS = 12
LONGEST_NAME, LONGEST_LINE = 200, 400
"""Letters that the files allow in a name, and in a line of words."""


def text(what: str) -> Check:
    """Any text but none at all, as long as a name may be."""

    def check(entry: str) -> str:
        if not entry.strip():
            raise ValueError(f"{what} is still to be filled in.")
        return _within(entry.strip(), LONGEST_NAME)

    return check


def any_text(entry: str) -> str:
    """Any text, also none."""
    return entry.strip()


def line(entry: str) -> str:
    """Any text, also none, as long as a line of the files may be."""
    return _within(entry.strip(), LONGEST_LINE)


def _within(entry: str, most: int) -> str:
    if len(entry) > most:
        raise ValueError(f"This is one line of at most {most} letters; it has {len(entry)}.")
    return entry


def optional(check: Check) -> Check:
    """The same check, but nothing typed is None."""
    return lambda entry: check(entry) if entry.strip() else None


def whole(what: str, least: int = 0, most: int = 100_000) -> Check:
    """A whole number between two bounds."""

    def check(entry: str) -> int:
        entry = entry.strip()
        if not re.fullmatch(r"[+-]?\d{1,9}", entry):
            raise ValueError(f"{what} is a whole number, such as {max(least, 6)}.")
        number = int(entry)
        if not least <= number <= most:
            raise ValueError(f"{what} is from {least} to {most:,}; this says {number:,}.")
        return number

    return check


def number(what: str, least: str = "0", most: str = "100000", *, above: bool = False) -> Check:
    """A decimal number, read exactly; `above` leaves the least one itself out."""
    low, high = Decimal(least), Decimal(most)

    def check(entry: str) -> Decimal:
        value = _decimal(entry)
        if value is None:
            raise ValueError(f"{what} is a number, such as {max(low, Decimal(5))}.")
        if value < low or value > high or (above and value == low):
            word = "more than" if above else "from"
            raise ValueError(f"{what} is {word} {low} and up to {high:,f}; this says {value:f}.")
        return value

    return check


def share(what: str, most: str = "100") -> Check:
    """A percentage, read exactly as a share of one; a percent sign may stand behind it."""
    percent = number(what, most=most)

    def check(entry: str) -> Decimal:
        found = percent(entry.strip().removesuffix("%"))
        return say.of_percent(found)  # type: ignore[arg-type]

    return check


def hours(what: str) -> Check:
    """Hours of a day as minutes: 4, 2.5 or 2:30; nothing typed is none."""

    def check(entry: str) -> int:
        entry = entry.strip() or "0"
        clock = re.fullmatch(r"(\d{1,2}):([0-5]\d)", entry)
        value = Decimal(clock[1]) + Decimal(clock[2]) / 60 if clock else _decimal(entry)
        if value is None or value < 0:
            raise ValueError(f"{what} is hours, such as 4, 2.5 or 2:30.")
        if value > 24:
            raise ValueError(f"{what} has 24 hours at most; this says {entry}.")
        return round(value * 60)

    return check


def _decimal(entry: str) -> Decimal | None:
    entry = entry.strip().replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d{1,9}(\.\d{0,6})?|\.\d{1,6})", entry):
        return None
    try:
        return Decimal(entry)
    except InvalidOperation:
        return None


def length(what: str, unit: LengthUnit) -> Check:
    """A length over nothing; a unit may stand behind it, else it is in the studio's unit."""

    def check(entry: str) -> Length:
        found = re.fullmatch(r"\s*([\d.,]+)\s*([a-z\"]*)\s*", entry.lower())
        value = _decimal(found[1]) if found else None
        if found is None or value is None:
            raise ValueError(f"{what} is a length, such as 150 or 60 in.")
        if found[2] and found[2] not in UNIT_WORDS:
            raise ValueError(f"{what}: the unit is cm, in, mm or m; this says {found[2]}.")
        if not 0 < value <= 10_000:
            raise ValueError(f"{what} must be more than nothing and up to 10,000.")
        return Length(value, UNIT_WORDS.get(found[2], unit))

    return check


def day(what: str, today: date) -> Check:
    """A date: 2026-03-12, 12 Mar, 12 Mar 2026 or 'in 3 weeks'; without a year the next such day."""

    def check(entry: str) -> date:
        entry = entry.strip().lower()
        found = _day(entry, today)
        if found is None:
            raise ValueError(f"{what} is a day, such as 12 Mar, 2026-03-12 or in 3 weeks.")
        return found

    return check


def past_day(what: str, today: date) -> Check:
    """A day that is over, or today; without a year the last such day."""

    def check(entry: str) -> date:
        entry = entry.strip().lower()
        found = _day(entry, today)
        if found is not None and found > today and not re.search(r"\d{4}|^in ", entry):
            found = _day(f"{entry} {found.year - 1}", today)
        if found is None:
            raise ValueError(f"{what} is a day, such as 12 Mar or 2026-03-12.")
        if found > today:
            raise ValueError(f"{what}: {say.date(found)} has still to come.")
        return found

    return check


def _day(entry: str, today: date) -> date | None:
    try:
        return date.fromisoformat(entry)
    except ValueError:
        pass
    if found := re.fullmatch(r"in (\d{1,3}) (day|week)s?", entry):
        return today + timedelta(days=int(found[1]) * (7 if found[2] == "week" else 1))
    found = re.fullmatch(r"(\d{1,2})\.? ?([a-z]{3})[a-z]*\.? ?(\d{4})?", entry)
    if found is None or found[2] not in MONTHS:
        return None
    month = MONTHS.index(found[2]) + 1
    try:
        if found[3]:
            return date(int(found[3]), month, int(found[1]))
        this_year = date(today.year, month, int(found[1]))
        return this_year if this_year >= today else date(today.year + 1, month, int(found[1]))
    except ValueError:
        return None


def colours(entry: str) -> tuple[str, ...]:
    """One or more colours: hex values such as #6b8f71, or colour words of CSS such as olive."""
    found = tuple(part.lower() for part in re.split(r"[\s,]+", entry.strip()) if part)
    if not found:
        raise ValueError("A shade needs a colour for the screen, such as olive or #6b8f71.")
    if len(found) > MOST_COLOURS:
        raise ValueError(f"A shade has at most {MOST_COLOURS} colours; these are {len(found)}.")
    return tuple(_colour(part) for part in found)


def _colour(part: str) -> str:
    if re.fullmatch(r"#?[0-9a-f]{6}", part):
        return part if part.startswith("#") else f"#{part}"
    if re.fullmatch(r"[a-z]{3,20}", part):
        from textual.color import Color, ColorParseError

        # The colour words of the W3C's CSS Color Module; Textual knows all of them.
        with suppress(ColorParseError):
            return Color.parse(part).hex6.lower()
    raise ValueError(
        f"A colour is a plain word such as olive, teal or indigo, or # and six of 0-9 a-f; "
        f"this says {part}."
    )


def grams_list(entry: str) -> tuple[Decimal, ...]:
    """Part balls in grams, parted by blanks: '31 12.5'."""
    found: list[Decimal] = []
    for part in re.split(r"[\s;]+", entry.strip()):
        if not part:
            continue
        value = _decimal(part)
        if value is None or not 0 < value <= 10_000:
            raise ValueError(f"Part balls are grams parted by blanks, such as 31 12.5; not {part}.")
        found.append(value)
    return tuple(found)


def stripe_sequence(letters: str) -> Check:
    """A stripe sequence such as 'A6 B2 A6 C18': slot letters with their rows."""

    def check(entry: str) -> tuple[tuple[str, int], ...]:
        parts = re.findall(r"([A-Za-z])\s*(\d{1,4})", entry)
        rest = re.sub(r"([A-Za-z])\s*(\d{1,4})", "", entry)
        if not parts or re.sub(r"[\s,;-]+", "", rest):
            raise ValueError("Stripes are a letter and its rows, such as A6 B2 A6 C18.")
        for letter, rows in parts:
            if letter.upper() not in letters:
                known = ", ".join(letters)
                raise ValueError(f"{letter.upper()} is no slot of this piece; it has {known}.")
            if int(rows) < 1:
                raise ValueError("A stripe has at least one row.")
        return tuple((letter.upper(), int(rows)) for letter, rows in parts)

    return check


@dataclass(frozen=True, slots=True)
class UsedEntry:
    """Grams used of a lot, or what is left of it: full balls and grams."""

    grams: Decimal
    left: bool = False
    balls: int = 0


_LEFT = re.compile(r"^left\b|\bleft$", re.IGNORECASE)
_BALLS = re.compile(r"(\d{1,5})\s*(?:x|balls?|full)\b", re.IGNORECASE)


def used(entry: str) -> UsedEntry | None:
    """'60' used, or 'left 40', 'left 2 balls 31 12.5'; None where nothing is typed."""
    text = entry.strip()
    if not text:
        return None
    left = bool(_LEFT.search(text))
    rest = _LEFT.sub("", text).strip()
    balls = sum(int(n) for n in _BALLS.findall(rest)) if left else 0
    parts = _BALLS.sub(" ", rest).replace("+", " ").split() if left else [rest]
    if left and not (parts or balls):
        raise ValueError("Say what is left too, such as: left 40, or: left 2 balls 31.")
    check = number("Grams", "0", "100000")
    try:
        found = [check(part.removesuffix("g").strip()) for part in parts]
    except ValueError as error:
        raise ValueError(f"{error} Or say what is left, such as: left 40.") from error
    grams = sum((value for value in found if isinstance(value, Decimal)), Decimal(0))
    return UsedEntry(grams, left, balls)
