"""The files as types: one model for each kind of file, from which the JSON Schemas are made too.

This is the only module that imports pydantic, and it is itself imported only when a file is read,
since the first paint of the app must not wait for it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
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
    model_validator,
)
from pydantic_core import PydanticCustomError

from studio.core.model import (
    Assumed,
    CrochetTerms,
    Direction,
    Join,
    Length,
    LengthUnit,
    LotRule,
    Method,
    Settings,
    Stage,
    StashValue,
    WeightUnit,
)
from studio.storage.currencies import CURRENCIES
from studio.storage.kinds import FORMAT, Kind

T = TypeVar("T")

MAX_LENGTH_MM = 1_000_000
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


def _above_zero(length: Length) -> Length:
    if length.value <= 0:
        raise PydanticCustomError("length_zero", "must be more than zero", {})
    return length


def _currency(code: str) -> str:
    if code not in CURRENCIES:
        raise PydanticCustomError("currency", "this currency is not known", {"code": code})
    return code


def _as_many(value: object) -> object:
    return [value] if isinstance(value, str) else value


Many = Annotated[tuple[T, ...], Field(strict=False)]
Name = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
Line = Annotated[str, Field(max_length=400, pattern=r"^[^\x00-\x1f\x7f-\x9f]*$")]
Text = Annotated[str, Field(max_length=20_000, pattern=r"^[^\x00-\x08\x0b-\x1f\x7f-\x9f]*$")]
Letter = Annotated[str, Field(pattern=r"^[A-Za-z0-9]{1,4}$")]
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
# An enum is written as its word, which strict mode would not take.
LaxStage = Annotated[Stage, Field(strict=False)]
LaxJoin = Annotated[Join, Field(strict=False)]
LaxLotRule = Annotated[LotRule, Field(strict=False)]


class Record(BaseModel):
    """Unknown keys are refused and nothing is guessed: "6" is not 6."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, defer_build=True)


def _sum_100(fibres: dict[str, Decimal]) -> dict[str, Decimal]:
    if (total := sum(fibres.values())) != 100:
        raise PydanticCustomError("fibres", "must sum to 100", {"total": str(total)})
    return fibres


def _one_body(kinds: tuple[KindRecord, ...]) -> tuple[KindRecord, ...]:
    bodies = [i for i, kind in enumerate(kinds) if kind.rows is None]
    if kinds and bodies != [len(kinds) - 1]:
        raise PydanticCustomError("kinds", "only the last kind has no rows", {})
    return kinds


def _shades_once(shades: tuple[ShadeRecord, ...]) -> tuple[ShadeRecord, ...]:
    _refuse_twice([shade.code for shade in shades], "shade")
    return shades


def _lots_once(lots: tuple[LotRecord, ...]) -> tuple[LotRecord, ...]:
    _refuse_twice([(lot.shade, lot.code) for lot in lots], "lot")
    return lots


def _refuse_twice(codes: Sequence[object], what: str) -> None:
    seen: set[object] = set()
    for index, code in enumerate(codes):
        if code in seen:
            shown = code[-1] if isinstance(code, tuple) else code
            raise PydanticCustomError(
                "twice", "is there twice", {"what": what, "index": index, "code": shown}
            )
        seen.add(code)


class FileRecord(Record):
    """What every file begins with."""

    format: Annotated[int, Field(ge=1, le=FORMAT, description="Version of the file format.")]


def _noted(description: str, default: Any = ..., **rules: Any) -> Any:
    """A field with the words that the JSON Schema shows for it."""
    return Field(default, description=description, **rules)


_ASSUMED = Assumed()
_SETTINGS = Settings("")


class AssumedRecord(Record):
    """Starting values that no evidence of hers has replaced yet; shares are fractions of one."""

    prior_weight: AboveZero = _noted("Weight of the assumed spread.", _ASSUMED.prior_weight)
    prior_spread: Exact = _noted("Assumed spread of grams per row.", _ASSUMED.prior_spread)
    other_piece_spread: Exact = _noted(
        "Added spread of evidence from another piece.", _ASSUMED.other_piece_spread
    )
    ball_spread: Exact = _noted("Spread of an unopened ball.", _ASSUMED.ball_spread)
    scale_step_g: AboveZero = _noted("Smallest step of the scale.", _ASSUMED.scale_step_g)
    confidence: Share = _noted("One-sided chance behind a planned need.", _ASSUMED.confidence)
    size_tolerance: Exact = _noted("Beyond it stated sizes disagree.", _ASSUMED.size_tolerance)
    carry_rows: Count = _noted("Most rows that a colour is carried.", _ASSUMED.carry_rows)
    tail: LengthText = Field(
        default_factory=lambda: _ASSUMED.tail, description="Length of one yarn tail."
    )
    min_per_end: Exact = _noted("Minutes to weave in one end.", _ASSUMED.min_per_end)
    alike_difference: Exact = _noted(
        "Colour difference (CIEDE2000) under which shades are alike.", _ASSUMED.alike_difference
    )


class SettingsRecord(FileRecord):
    """studio.toml: the studio's units, money and defaults."""

    name: Name = _noted("What the studio is called.")
    currency: Annotated[str, AfterValidator(_currency)] = _noted(
        "The money of every price in the studio (ISO 4217).", _SETTINGS.currency
    )
    length_unit: Annotated[LengthUnit, Field(strict=False)] = _noted(
        "How lengths are shown.", _SETTINGS.length_unit
    )
    weight_unit: Annotated[WeightUnit, Field(strict=False)] = _noted(
        "How yarn is shown.", _SETTINGS.weight_unit
    )
    terms: Annotated[CrochetTerms, Field(strict=False)] = _noted(
        "Whose stitch names are used.", _SETTINGS.terms
    )
    rate_per_hour: Exact = _noted("What an hour of hers costs.", _SETTINGS.rate_per_hour)
    tax_registered: bool = _noted("Prices are without input tax.", _SETTINGS.tax_registered)
    stash_value: Annotated[StashValue, Field(strict=False)] = _noted(
        "The price of yarn that is in the house.", _SETTINGS.stash_value
    )
    join: LaxJoin = _noted("Where a new ball may be joined.", _SETTINGS.join)
    lots_for_customer: LaxLotRule = _noted(
        "Lots of a slot where there is a customer.", _SETTINGS.lots_for_customer
    )
    lots_otherwise: LaxLotRule = _noted("Lots of a slot elsewhere.", _SETTINGS.lots_otherwise)
    theme: Line = _noted("Theme of the app; empty for its own.", _SETTINGS.theme)
    assumed: AssumedRecord = Field(default_factory=AssumedRecord, description="Starting values.")


class ShadeRecord(Record):
    """One colour of a yarn."""

    code: Name = _noted("The maker's code; stash, purchases and projects use it.")
    name: Name
    colour: Colours = _noted("#rrggbb, or a list of them where the shade is variegated.")
    discontinued: bool = False
    staple: bool = _noted("Always kept in the house.", False)


class YarnRecord(FileRecord):
    """yarns/KEY.toml: one product line and its shades."""

    name: Name
    category: Annotated[int, Field(ge=0, le=7)] = _noted("Yarn weight category.")
    ball_g: AboveZero = _noted("Grams of a ball.")
    ball_m: AboveZero | None = _noted("Metres of a ball.", None)
    price: Exact | None = _noted("Today's price of a ball, landed.", None)
    care: Line = _noted("Care in words.", "")
    no_dye_lot: bool = False
    discontinued: bool = False
    works_with: Many[Name] = _noted("Keys of yarns that it may be worked with.", ())
    fibres: Annotated[dict[Name, AboveZero], AfterValidator(_sum_100)] = _noted(
        "Fibre = percent by weight; they sum to 100."
    )
    shade: Annotated[Many[ShadeRecord], AfterValidator(_shades_once)] = ()


class KindRecord(Record):
    """Rows of one kind: so many at the start, or without `rows` the body of the piece."""

    name: Name
    rows: CountFromOne | None = _noted("How many; left out for the body.", None)
    weight: AboveZero = _noted("Yarn of one stitch against a body stitch.", Decimal(1))
    per_repeat: CountFromOne | None = _noted("Stitches in a repeat of such a row.", None)
    extra_stitches: Annotated[int, Field(ge=-1000, le=1000)] = 0
    instruction: Text = ""


class StitchRecord(FileRecord):
    """stitches/KEY.toml: chain = multiple x n + extra; stitches = chain - skipped (+ 1)."""

    name: Name
    multiple: CountFromOne = 1
    extra: Annotated[int, Field(ge=-1000, le=1000)] = 0
    skipped: Count = _noted("Chains skipped before the first stitch.", 1)
    turning_chain: Count = _noted("Chains at the turn.", 1)
    turning_counts: bool = _noted("Whether the turning chain is a stitch.", False)
    change_either_side: bool = _noted("Whether a colour may end on an odd row.", False)
    stitches_per_repeat: CountFromOne | None = None
    edge_stitches: Count = 0
    instruction: Text = ""
    kind: Annotated[Many[KindRecord], AfterValidator(_one_body)] = _noted(
        "Rows from the foundation up; the last one is the body.", (), max_length=50
    )


class CountRecord(Record):
    """Stitches and rows counted over measured spans."""

    stitches: AboveZero
    stitch_span: LengthAboveZero
    rows: AboveZero
    row_span: LengthAboveZero
    in_repeats: bool = _noted("`stitches` counts repeats of the pattern.", False)


class WeighingRecord(Record):
    """So many grams, or whole balls, worked so many rows at so many stitches."""

    rows: AboveZero
    stitches: AboveZero
    grams: AboveZero | None = None
    balls: AboveZero | None = None
    first_row: CountFromOne = _noted("The row of the piece at which it began.", 1)
    minutes: AboveZero | None = None
    on: date | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _one_amount(self) -> WeighingRecord:
        if (self.grams is None) == (self.balls is None):
            raise PydanticCustomError("amount", "needs either grams or balls", {})
        return self


class SwatchRecord(FileRecord):
    """swatches/KEY.toml: evidence for one yarn, stitch and hook."""

    yarn: Name = _noted("Key of the yarn.")
    stitch: Name = _noted("Key of the stitch.")
    hook_mm: Hook
    note: Text = ""
    before: CountRecord | None = _noted("Counted before washing.", None)
    after: CountRecord | None = _noted("Counted after washing.", None)
    weighed: WeighingRecord | None = _noted("The swatch on the scale.", None)
    trial: Many[WeighingRecord] = _noted("Rows that known yarn has worked.", ())


class BatchRecord(Record):
    """Full balls bought together and still in the house."""

    balls: Count
    price: Exact | None = _noted("Paid for a ball.", None)
    shipping: Exact = _noted("Its share for each ball.", Decimal(0))
    bought: date | None = None
    supplier: Line = ""
    kept: Line = _noted("Where it lies.", "")


class LotRecord(Record):
    """All balls of one dye lot: full ones by batch, part balls in grams."""

    shade: Name = _noted("Code of the shade.")
    code: Line = _noted("Dye-lot code; left out for a yarn without dye lots.", "")
    code_lost: bool = _noted("The band is lost: the code is only her mark.", False)
    parts_g: Many[AboveZero] = _noted("Grams of each part ball.", ())
    note: Text = ""
    batch: Many[BatchRecord] = ()


class StashRecord(FileRecord):
    """stash/YARN.toml: the lots of one yarn that are in the house now."""

    lot: Annotated[Many[LotRecord], AfterValidator(_lots_once)] = ()


class LineRecord(Record):
    """Balls of one shade on order."""

    yarn: Name
    shade: Name
    balls: CountFromOne
    price: Exact | None = None


class PurchaseRecord(FileRecord):
    """purchases/KEY.toml: one open purchase."""

    supplier: Name
    arrives: date
    ordered: date | None = None
    note: Text = ""
    line: Many[LineRecord] = ()


class ClaimRecord(Record):
    """A run, which may be tied to one lot or to one open purchase."""

    hold: Line | None = _noted("Code of the lot promised at booking.", None)
    pin: Line | None = _noted("Code of the lot the maker chose.", None)
    on_order: Name | None = _noted("Key of the open purchase it was bought for.", None)
    grams: Exact | None = _noted("Entered where rows are not computed.", None)

    @model_validator(mode="after")
    def _one_claim(self) -> ClaimRecord:
        given = [n for n in ("hold", "pin", "on_order") if getattr(self, n) is not None]
        if len(given) > 1:
            raise PydanticCustomError("claims", "only one claim", {"given": " and ".join(given)})
        return self


class SlotRecord(Record):
    """The shade a colour place of the design is mapped to."""

    yarn: Name = _noted("Key of the yarn.")
    shade: Name = _noted("Code of the shade.")
    lots: LaxLotRule | None = _noted("Whether all its runs come from one lot.", None)


class StripeRecord(ClaimRecord):
    """Consecutive rows in one slot."""

    slot: Letter
    rows: Annotated[int, Field(ge=1, le=2000)]
    note: Text = ""


class SizeRecord(Record):
    """The asked size of the finished piece."""

    width: LengthAboveZero
    length: LengthAboveZero


class BorderRecord(ClaimRecord):
    """Rounds worked about the finished piece."""

    slot: Letter
    rounds: Annotated[int, Field(ge=1, le=200)]
    width: LengthText = _noted("What it adds on each side.")
    pick_up: AboveZero = _noted("Stitches for each row along the sides.", Decimal(1))
    corners: Count = 12
    increase: Count = 8


class FringeRecord(ClaimRecord):
    """Strands knotted along both ends."""

    slot: Letter
    strands: CountFromOne
    cut: LengthAboveZero = _noted("Length that a strand is cut to.")


class StatedRecord(Record):
    """Chain, rows and sizes written down by hand, to be held against the gauge."""

    chain: CountFromOne | None = None
    stitches: CountFromOne | None = None
    rows: CountFromOne | None = None
    width: LengthAboveZero | None = None
    length: LengthAboveZero | None = None


class NotionRecord(Record):
    """Something bought for the piece that is not yarn."""

    name: Name
    cost: Exact


class WeighInRecord(Record):
    """Grams a slot used over rows of this very piece."""

    slot: Letter
    rows: CountFromOne
    grams: AboveZero
    first_row: CountFromOne = 2
    on: date | None = None


class AcceptedRecord(Record):
    """A finding that the maker has accepted."""

    code: Name
    note: Text = ""


class ProjectRecord(FileRecord):
    """projects/KEY.toml: one piece."""

    name: Name
    stage: LaxStage
    customer: Line = ""
    due: date | None = None
    booked: date | None = None
    stitch: Name = _noted("Key of the stitch.")
    hook_mm: Hook
    direction: Annotated[Direction, Field(strict=False)] = Direction.ACROSS
    method: Annotated[Method, Field(strict=False)] = Method.ROWS
    join: LaxJoin | None = None
    mix: bool = _noted("Whether one run may take several lots.", False)
    rows_done: Count = 0
    note: Text = ""
    stripe: Many[StripeRecord] = _noted("From the foundation up.", (), max_length=2000)
    notion: Many[NotionRecord] = ()
    weigh_in: Many[WeighInRecord] = ()
    accepted: Many[AcceptedRecord] = ()
    size: SizeRecord
    slots: dict[Letter, SlotRecord] = _noted("Colour places by letter.", {})
    border: BorderRecord | None = None
    fringe: FringeRecord | None = None
    stated: StatedRecord = Field(default_factory=StatedRecord)


RECORDS: dict[Kind, type[FileRecord]] = {
    Kind.STUDIO: SettingsRecord,
    Kind.YARN: YarnRecord,
    Kind.STITCH: StitchRecord,
    Kind.SWATCH: SwatchRecord,
    Kind.STASH: StashRecord,
    Kind.PURCHASE: PurchaseRecord,
    Kind.PROJECT: ProjectRecord,
}


def schema() -> dict[str, dict[str, Any]]:
    """A JSON Schema (2020-12) for each kind of file, by the kind's name."""
    return {
        kind.value: {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            **_without_null(record.model_json_schema()),
        }
        for kind, record in RECORDS.items()
    }


def _without_null(part: Any) -> Any:
    """The schema less every `null`, which no TOML file can hold."""
    if isinstance(part, list):
        return [_without_null(p) for p in part]
    if not isinstance(part, dict):
        return part
    plain = {k: _without_null(v) for k, v in part.items() if not (k == "default" and v is None)}
    choices = [c for c in plain.get("anyOf", []) if c != {"type": "null"}]
    if len(choices) == 1:
        del plain["anyOf"]
        return {**choices[0], **plain}
    return plain | ({"anyOf": choices} if choices else {})
