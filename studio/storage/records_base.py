"""What every record is made of: numbers, names, lengths, dates, and the rules they keep.

Pydantic is imported only by this module and its neighbours `records*`, which are themselves
imported only when a file is read, since the first paint of the app must not wait for them.
"""

from __future__ import annotations

import os
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

from studio.core.model import Join, Length, LotRule, Stage, UsedFrom
from studio.storage import rules
from studio.storage.kinds import FORMAT

T = TypeVar("T")

# None is used, and looking through every installed package for one takes a while.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

_HOURS_PATTERN = r"^(([01]?[0-9]|2[0-3]):[0-5][0-9]|24:00)$"
_LENGTH_PATTERN = r"^[0-9]+(\.[0-9]+)? ?(mm|cm|m|in)$"

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
    BeforeValidator(rules.as_many),
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
    PlainValidator(rules.length),
    WithJsonSchema({"type": "string", "pattern": _LENGTH_PATTERN, "examples": ["150 cm", "60 in"]}),
]
LengthAboveZero = Annotated[LengthText, AfterValidator(rules.above_zero)]
Currency = Annotated[str, AfterValidator(rules.currency)]
HoursOfDay = Annotated[
    int,
    PlainValidator(rules.hours_of_day),
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
LaxUsedFrom = Annotated[UsedFrom, Field(strict=False)]
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
