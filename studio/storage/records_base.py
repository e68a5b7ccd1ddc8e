"""What every record is made of: numbers, names, lengths, dates, and the rules they keep.

Pydantic is imported only by this module and its neighbours `records*`, which are themselves
imported only when a file is read, since the first paint of the app must not wait for them.
"""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from studio.core.model import Join, Length, LengthUnit, LotRule, Stage
from studio.core.money import MINOR_DIGITS
from studio.storage.kinds import FORMAT

T = TypeVar("T")

# None is used, and looking through every installed package for one takes a while.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

MINUTES_OF_DAY = 24 * 60
_HOURS = re.compile(r"([01]?[0-9]|2[0-4]):([0-5][0-9])", re.ASCII)
_HOURS_PATTERN = r"^(([01]?[0-9]|2[0-3]):[0-5][0-9]|24:00)$"
_LENGTH = re.compile(r"\s*([0-9]{1,9}(?:\.[0-9]{1,6})?)\s*([^\s0-9.]*)\s*", re.ASCII)
_LENGTH_PATTERN = r"^[0-9]+(\.[0-9]+)? ?(mm|cm|m|in)$"


def _length(value: object) -> Length:
    """Read '150 cm'; a bare number has lost its unit, and which it was cannot be known."""
    shape = r'a number and its unit, such as "150 cm" or "60 in"'
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        raise PydanticCustomError("length_unit", "the unit is missing", {"expected": shape})
    match = _LENGTH.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        raise PydanticCustomError("length", "this is no length", {"expected": shape})
    number, unit = match.groups()
    if not unit:
        raise PydanticCustomError("length_unit", "the unit is missing", {"expected": shape})
    if unit not in tuple(LengthUnit):
        raise PydanticCustomError(
            "length_unit_unknown", "this unit is not known", {"unit": unit, "expected": shape}
        )
    return Length(Decimal(number), LengthUnit(unit))


def _hours_of_day(value: object) -> int:
    """Read 3, 2.5 or '2:30' as minutes."""
    if isinstance(value, str) and (match := _HOURS.fullmatch(value)):
        minutes = Decimal(match[1]) * 60 + Decimal(match[2])
    elif isinstance(value, int | Decimal) and not isinstance(value, bool):
        minutes = Decimal(value) * 60
    else:
        minutes = Decimal("NaN")
    if not (minutes.is_finite() and 0 <= minutes <= MINUTES_OF_DAY and minutes % 1 == 0):
        raise PydanticCustomError("hours", "these are no hours of a day", {})
    return int(minutes)


def _above_zero(length: Length) -> Length:
    if length.value <= 0:
        raise PydanticCustomError("length_zero", "must be more than zero", {})
    return length


def _currency(code: str) -> str:
    if code not in MINOR_DIGITS:
        raise PydanticCustomError("currency", "this currency is not known", {"code": code})
    return code


def _as_many(value: object) -> object:
    return [value] if isinstance(value, str) else value


Many = Annotated[tuple[T, ...], Field(strict=False)]
Name = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
Line = Annotated[str, Field(max_length=400, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
Text = Annotated[str, Field(max_length=20_000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$")]
Letter = Annotated[str, Field(pattern=r"^[A-Z]$")]
Barcode = Annotated[str, Field(pattern=r"^[0-9]{8}$|^[0-9]{12,14}$")]
_COLOUR_PATTERN = r"^#[0-9A-Fa-f]{6}$"
Colour = Annotated[str, Field(pattern=_COLOUR_PATTERN)]
_COLOUR_SCHEMA = {"type": "string", "pattern": _COLOUR_PATTERN}
Colours = Annotated[
    Many[Colour],
    BeforeValidator(_as_many),
    Field(min_length=1, max_length=12),
    WithJsonSchema(
        {"anyOf": [_COLOUR_SCHEMA, {"type": "array", "items": _COLOUR_SCHEMA, "minItems": 1}]}
    ),
]

_NUMBER: dict[str, Any] = {"strict": False, "decimal_places": 6, "le": 10**9}
Exact = Annotated[Decimal, Field(ge=0, **_NUMBER)]
AboveZero = Annotated[Decimal, Field(gt=0, **_NUMBER)]
Share = Annotated[Decimal, Field(gt=0, lt=1, strict=False, decimal_places=6)]
ShareFromZero = Annotated[Decimal, Field(ge=0, lt=1, strict=False, decimal_places=6)]
ShareToOne = Annotated[Decimal, Field(ge=0, le=1, strict=False, decimal_places=6)]
Signed = Annotated[Decimal, Field(ge=-(10**9), le=10**9, strict=False)]
"""A figure as it was computed, with all its decimals."""
Days = Annotated[int, Field(ge=0, le=1000)]
Hook = Annotated[
    Decimal,
    Field(gt=0, le=100, strict=False, decimal_places=6, description="Hook size in mm."),
]
Count = Annotated[int, Field(ge=0, le=1_000_000)]
CountFromOne = Annotated[int, Field(ge=1, le=1_000_000)]
LengthText = Annotated[
    Length,
    PlainValidator(_length),
    WithJsonSchema({"type": "string", "pattern": _LENGTH_PATTERN, "examples": ["150 cm", "60 in"]}),
]
LengthAboveZero = Annotated[LengthText, AfterValidator(_above_zero)]
Currency = Annotated[str, AfterValidator(_currency)]
HoursOfDay = Annotated[
    int,
    PlainValidator(_hours_of_day),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 0, "maximum": 24},
                {"type": "string", "pattern": _HOURS_PATTERN},
            ]
        }
    ),
]
"""Hours of a day as minutes."""
# An enum is written as its word, which strict mode would not take.
LaxStage = Annotated[Stage, Field(strict=False)]
LaxJoin = Annotated[Join, Field(strict=False)]
LaxLotRule = Annotated[LotRule, Field(strict=False)]


class Record(BaseModel):
    """Unknown keys are refused and nothing is guessed: "6" is not 6."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)


class FileRecord(Record):
    """What every file begins with."""

    format: Annotated[int, Field(ge=1, le=FORMAT, description="Version of the file format.")]


def noted(description: str, default: Any = ..., **rules: Any) -> Any:
    """A field with the words that the JSON Schema shows for it."""
    return Field(default, description=description, **rules)


def refuse_twice(codes: Sequence[object], what: str, key: str = "code") -> None:
    """Refuse the second of two that have the same code, or whatever key tells them apart."""
    seen: set[object] = set()
    for index, code in enumerate(codes):
        if code in seen:
            shown = code[-1] if isinstance(code, tuple) else code
            raise PydanticCustomError(
                "twice",
                "is there twice",
                {"what": what, "index": index, "code": shown, "key": key},
            )
        seen.add(code)
