"""The files as types: one model for each kind of file, from which the JSON Schemas are made too."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, Field, model_validator

from studio.core.model import (
    Assumed,
    CrochetTerms,
    Direction,
    LengthUnit,
    Method,
    Settings,
    StashValue,
    UsedFrom,
    WeightUnit,
)
from studio.storage import rules
from studio.storage.kinds import Kind
from studio.storage.records_base import (
    AboveZero,
    Barcode,
    Colours,
    Count,
    CountFromOne,
    Currency,
    Exact,
    FileRecord,
    Hook,
    LaxJoin,
    LaxLotRule,
    LaxStage,
    LaxUsedFrom,
    LengthAboveZero,
    LengthText,
    Letter,
    Line,
    Many,
    Name,
    Record,
    Share,
    Text,
    noted,
)
from studio.storage.records_purchase import PurchaseRecord
from studio.storage.records_trade import (
    ColumnsRecord,
    CustomersRecord,
    PaymentRecord,
    QuoteRecord,
    ReachedRecord,
    SupplierRecord,
    TradeRecord,
    WorkLogRecord,
)

_ASSUMED = Assumed()
_SETTINGS = Settings("")


class AssumedRecord(Record):
    """Starting values that no evidence of hers has replaced yet; shares are fractions of one."""

    prior_weight: AboveZero = noted("Weight of the assumed spread.", _ASSUMED.prior_weight)
    prior_spread: Exact = noted("Assumed spread of grams per row.", _ASSUMED.prior_spread)
    other_piece_spread: Exact = noted(
        "Added spread of evidence from another piece.", _ASSUMED.other_piece_spread
    )
    ball_spread: Exact = noted("Spread of an unopened ball.", _ASSUMED.ball_spread)
    scale_step_g: AboveZero = noted("Smallest step of the scale.", _ASSUMED.scale_step_g)
    confidence: Share = noted("One-sided chance behind a planned need.", _ASSUMED.confidence)
    size_tolerance: Exact = noted("Beyond it stated sizes disagree.", _ASSUMED.size_tolerance)
    carry_rows: Count = noted("Most rows that a colour is carried.", _ASSUMED.carry_rows)
    tail: LengthText = Field(
        default_factory=lambda: _ASSUMED.tail, description="Length of one yarn tail."
    )
    min_per_end: Exact = noted("Minutes to weave in one end.", _ASSUMED.min_per_end)
    alike_difference: Exact = noted(
        "Colour difference (CIEDE2000) under which shades are alike.", _ASSUMED.alike_difference
    )


class SettingsRecord(FileRecord):
    """studio.toml: the studio's units, money and defaults."""

    name: Name = noted("What the studio is called.")
    currency: Currency = noted(
        "The money of every price in the studio (ISO 4217).", _SETTINGS.currency
    )
    length_unit: Annotated[LengthUnit, Field(strict=False)] = noted(
        "How lengths are shown.", _SETTINGS.length_unit
    )
    weight_unit: Annotated[WeightUnit, Field(strict=False)] = noted(
        "How yarn is shown.", _SETTINGS.weight_unit
    )
    terms: Annotated[CrochetTerms, Field(strict=False)] = noted(
        "Whose stitch names are used.", _SETTINGS.terms
    )
    rate_per_hour: Exact = noted("What an hour of hers costs.", _SETTINGS.rate_per_hour)
    tax_registered: bool = noted("Prices are without input tax.", _SETTINGS.tax_registered)
    stash_value: Annotated[StashValue, Field(strict=False)] = noted(
        "The price of yarn that is in the house.", _SETTINGS.stash_value
    )
    join: LaxJoin = noted("Where a new ball may be joined.", _SETTINGS.join)
    lots_for_customer: LaxLotRule = noted(
        "Lots of a slot where there is a customer.", _SETTINGS.lots_for_customer
    )
    lots_otherwise: LaxLotRule = noted("Lots of a slot elsewhere.", _SETTINGS.lots_otherwise)
    theme: Line = noted("Theme of the app; empty for its own.", _SETTINGS.theme)
    assumed: AssumedRecord = Field(default_factory=AssumedRecord, description="Starting values.")


class ShadeRecord(Record):
    """One colour of a yarn."""

    code: Name = noted("The maker's code; stash, purchases and projects use it.")
    name: Name
    colour: Colours = noted("#rrggbb, or a list of them where the shade is variegated.")
    discontinued: bool = False
    staple: bool = noted("Always kept in the house.", False)
    barcodes: Many[Barcode] = noted("Numbers under the barcodes of its ball bands (GTIN).", ())


class YarnRecord(FileRecord):
    """yarns/KEY.toml: one product line and its shades."""

    name: Name
    category: Annotated[int, Field(ge=0, le=7)] = noted("Yarn weight category.")
    ball_g: AboveZero = noted("Grams of a ball.")
    ball_m: AboveZero | None = noted("Metres of a ball.", None)
    price: Exact | None = noted("Today's price of a ball, landed.", None)
    care: Line = noted("Care in words.", "")
    no_dye_lot: bool = False
    discontinued: bool = False
    works_with: Many[Name] = noted("Keys of yarns that it may be worked with.", ())
    fibres: Annotated[dict[Name, AboveZero], AfterValidator(rules.sum_100)] = noted(
        "Fibre = percent by weight; they sum to 100. Left out: not known.", {}
    )
    shade: Annotated[Many[ShadeRecord], AfterValidator(rules.shades_once)] = ()


class KindRecord(Record):
    """Rows of one kind: so many at the start, or without `rows` the body of the piece."""

    name: Name
    rows: CountFromOne | None = noted("How many; left out for the body.", None)
    weight: AboveZero = noted("Yarn of one stitch against a body stitch.", Decimal(1))
    per_repeat: CountFromOne | None = noted("Stitches in a repeat of such a row.", None)
    extra_stitches: Annotated[int, Field(ge=-1000, le=1000)] = 0
    instruction: Text = ""


class StitchRecord(FileRecord):
    """stitches/KEY.toml: chain = multiple x n + extra; stitches = chain - skipped (+ 1)."""

    name: Name
    multiple: CountFromOne = 1
    extra: Annotated[int, Field(ge=-1000, le=1000)] = 0
    skipped: Count = noted("Chains skipped before the first stitch.", 1)
    turning_chain: Count = noted("Chains at the turn.", 1)
    turning_counts: bool = noted("Whether the turning chain is a stitch.", False)
    change_either_side: bool = noted("Whether a colour may end on an odd row.", False)
    stitches_per_repeat: CountFromOne | None = None
    edge_stitches: Count = 0
    instruction: Text = ""
    kind: Annotated[Many[KindRecord], AfterValidator(rules.one_body)] = noted(
        "Rows from the foundation up; the last one is the body.", (), max_length=50
    )


class CountRecord(Record):
    """Stitches and rows counted over measured spans."""

    stitches: AboveZero
    stitch_span: LengthAboveZero
    rows: AboveZero
    row_span: LengthAboveZero
    in_repeats: bool = noted("`stitches` counts repeats of the pattern.", False)


class WeighingRecord(Record):
    """So many grams, or whole balls, worked so many rows at so many stitches."""

    rows: AboveZero
    stitches: AboveZero
    grams: AboveZero | None = None
    balls: AboveZero | None = None
    first_row: CountFromOne = noted("The row of the piece at which it began.", 1)
    minutes: AboveZero | None = None
    on: date | None = None
    note: Text = ""

    _one_amount = model_validator(mode="after")(rules.one_amount)


class SwatchRecord(FileRecord):
    """swatches/KEY.toml: evidence for one yarn, stitch and hook."""

    yarn: Name = noted("Key of the yarn.")
    stitch: Name = noted("Key of the stitch.")
    hook_mm: Hook
    note: Text = ""
    before: CountRecord | None = noted("Counted before washing.", None)
    after: CountRecord | None = noted("Counted after washing.", None)
    weighed: WeighingRecord | None = noted("The swatch on the scale.", None)
    trial: Many[WeighingRecord] = noted("Rows that known yarn has worked.", ())


class BatchRecord(Record):
    """Full balls bought together and still in the house."""

    balls: Count
    price: Exact | None = noted("Paid for a ball.", None)
    shipping: Exact = noted("Its share for each ball.", Decimal(0))
    bought: date | None = None
    supplier: Line = ""
    kept: Line = noted("Where it lies.", "")


class LotRecord(Record):
    """All balls of one dye lot: full ones by batch, part balls in grams."""

    shade: Name = noted("Code of the shade.")
    code: Line = noted("Dye-lot code; left out for a yarn without dye lots.", "")
    code_lost: bool = noted("The band is lost: the code is only her mark.", False)
    parts_g: Many[AboveZero] = noted("Grams of each part ball.", ())
    note: Text = ""
    batch: Many[BatchRecord] = ()


class StashRecord(FileRecord):
    """stash/YARN.toml: the lots of one yarn that are in the house now."""

    lot: Annotated[Many[LotRecord], AfterValidator(rules.lots_once)] = ()


Pairs = Annotated[Many[CountFromOne], Field(max_length=1000)]


class RestRecord(Record):
    """A part of a run that is tied to another lot or purchase than the rest of it."""

    hold: Line | None = noted("Code of the lot it is promised.", None)
    on_order: Name | None = noted("Key of the open purchase it was bought for.", None)
    pairs: Pairs = noted("Row pairs of a run that mixes lots.", ())
    grams: AboveZero | None = noted("So much of what its lot lacks.", None)

    _one_claim = model_validator(mode="after")(rules.one_claim_of_rest)


class ClaimRecord(Record):
    """A run, which may be tied to one lot or to one open purchase, and a part of it to another."""

    hold: Line | None = noted("Code of the lot promised at booking.", None)
    pin: Line | None = noted("Code of the lot the maker chose.", None)
    on_order: Name | None = noted("Key of the open purchase it was bought for.", None)
    pairs: Pairs = noted("Only these row pairs of a run that mixes lots are tied.", ())
    rest: RestRecord | None = None
    grams: Exact | None = noted("Entered where rows are not computed.", None)

    _one_claim = model_validator(mode="after")(rules.one_claim)


class SlotRecord(Record):
    """The shade a colour place of the design is mapped to."""

    yarn: Name = noted("Key of the yarn.")
    shade: Name = noted("Code of the shade.")
    lots: LaxLotRule | None = noted("Whether all its runs come from one lot.", None)


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
    width: LengthText = noted("What it adds on each side.")
    pick_up: AboveZero = noted("Stitches for each row along the sides.", Decimal(1))
    corners: Count = 12
    increase: Count = 8


class FringeRecord(ClaimRecord):
    """Strands knotted along both ends."""

    slot: Letter
    strands: CountFromOne
    cut: LengthAboveZero = noted("Length that a strand is cut to.")


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


class UsedRecord(Record):
    """Yarn that went into the piece and has left its lot."""

    yarn: Name = noted("Key of the yarn.")
    shade: Name = noted("Code of the shade.")
    lot: Line = noted("Code of the lot; left out for a yarn without dye lots.", "")
    grams: AboveZero
    paid: Exact | None = noted("What these grams were bought for; left out: not known.", None)
    on: date | None = None
    by: LaxUsedFrom = noted("How she knows.", UsedFrom.WORKED_OUT)
    rows: Count = noted("Rows of the piece that were done then.", 0)
    whole: bool = noted("Border and fringe were done then too.", False)


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
    price: Exact | None = noted("A price set by hand, as it is shown.", None)
    stitch: Name = noted("Key of the stitch.")
    hook_mm: Hook
    direction: Annotated[Direction, Field(strict=False)] = Direction.ACROSS
    method: Annotated[Method, Field(strict=False)] = Method.ROWS
    join: LaxJoin | None = None
    mix: bool = noted("Whether one run may take several lots.", False)
    for_baby: bool = False
    collected: bool = noted("Handed over in person, without a parcel.", False)
    minutes: AboveZero | None = noted("Her own guess of the crochet for all of it.", None)
    rows_done: Count = 0
    note: Text = ""
    stripe: Many[StripeRecord] = noted("From the foundation up.", (), max_length=2000)
    notion: Many[NotionRecord] = ()
    weigh_in: Many[WeighInRecord] = ()
    used: Many[UsedRecord] = noted("Yarn that has left its lots for it.", ())
    payment: Many[PaymentRecord] = noted("Money that changed hands.", ())
    reached: Many[ReachedRecord] = noted("The day each stage was reached.", ())
    log: Many[WorkLogRecord] = noted("Minutes spent on it.", ())
    accepted: Many[AcceptedRecord] = ()
    size: SizeRecord
    slots: dict[Letter, SlotRecord] = noted("Colour places by letter.", {})
    border: BorderRecord | None = None
    fringe: FringeRecord | None = None
    stated: StatedRecord = Field(default_factory=StatedRecord)
    quote: QuoteRecord | None = noted("The quote as it was sent.", None)


RECORDS: dict[Kind, type[FileRecord]] = {
    Kind.STUDIO: SettingsRecord,
    Kind.TRADE: TradeRecord,
    Kind.CUSTOMERS: CustomersRecord,
    Kind.YARN: YarnRecord,
    Kind.STITCH: StitchRecord,
    Kind.SWATCH: SwatchRecord,
    Kind.STASH: StashRecord,
    Kind.SUPPLIER: SupplierRecord,
    Kind.PURCHASE: PurchaseRecord,
    Kind.PROJECT: ProjectRecord,
    Kind.COLUMNS: ColumnsRecord,
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
