"""The files of her trade as types: how she charges and works, customers, quotes, suppliers."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from studio.core.buying.offers import MOST_PACK, BreakScope
from studio.core.trade_model import (
    FeeRates,
    PaymentKind,
    PriceRules,
    StapleRules,
    Times,
    Trade,
    WorkKind,
)
from studio.storage import rules
from studio.storage.records_base import (
    AboveZero,
    Count,
    CountFromOne,
    Currency,
    Days,
    Exact,
    FileRecord,
    HoursOfDay,
    LaxStage,
    Line,
    Many,
    Name,
    Record,
    ShareFromZero,
    ShareToOne,
    Signed,
    Text,
    noted,
)

_FEES, _PRICES, _TIMES, _TRADE = FeeRates(), PriceRules(), Times(), Trade()
_STAPLES = StapleRules()
_WEEK = _TRADE.hours.weekday_min


class FeesRecord(Record):
    """What a sale costs through others: shares of three bases, and an amount for each payment."""

    on_price: ShareFromZero = noted("Of the price without tax.", _FEES.on_price)
    on_charged: ShareFromZero = noted("Of price and shipping without tax.", _FEES.on_charged)
    on_total: ShareFromZero = noted("Of all that the customer pays.", _FEES.on_total)
    fixed: Exact = noted("For each payment.", _FEES.fixed)


class EndingRecord(Record):
    """Which prices are shown: the tail, and every step beyond it."""

    step: AboveZero
    tail: Exact = Decimal(0)


class PricesRecord(Record):
    """How a price is found; shares are fractions of one."""

    margin: ShareFromZero = noted("Of the price.", _PRICES.margin)
    overhead: Exact = noted("For each piece.", _PRICES.overhead)
    overhead_per_hour: Exact = _PRICES.overhead_per_hour
    floor_per_hour: Exact = noted("Below it an hour's pay is told.", _PRICES.floor_per_hour)
    tax_rate: ShareFromZero = noted("Charged where she is registered for it.", _PRICES.tax_rate)
    tax_inclusive: bool = noted("Whether prices have the tax in them.", _PRICES.tax_inclusive)
    deposit_share: ShareToOne = Field(
        default_factory=lambda: _PRICES.deposit_share or Decimal(0),
        description="Of all that the customer pays; 0 asks no deposit.",
    )
    valid_days: Days = noted("How long a quote holds.", _PRICES.valid_days)
    per_area: Exact | None = noted("Her rule of thumb for a square metre.", None)
    fees: FeesRecord = Field(default_factory=FeesRecord)
    ending: EndingRecord | None = None


class ParcelRecord(Record):
    """A parcel up to a weight."""

    name: Name
    up_to_g: AboveZero
    paid: Exact
    charged: Exact | None = noted("Left out: what is paid.", None)


class DayOffRecord(Record):
    """Days without handwork, first and last counted."""

    first: date
    last: date
    note: Line = ""

    _in_order = model_validator(mode="after")(rules.days_in_order)


def _hours(minutes: int) -> Any:
    """Hours that are left out; the default is minutes, which a schema of hours must not tell."""
    return Field(default_factory=lambda: minutes)


class HoursRecord(Record):
    """Hours of handwork by weekday, as a number (2.5) or as text ("2:30")."""

    monday: HoursOfDay = _hours(_WEEK[0])
    tuesday: HoursOfDay = _hours(_WEEK[1])
    wednesday: HoursOfDay = _hours(_WEEK[2])
    thursday: HoursOfDay = _hours(_WEEK[3])
    friday: HoursOfDay = _hours(_WEEK[4])
    saturday: HoursOfDay = _hours(_WEEK[5])
    sunday: HoursOfDay = _hours(_WEEK[6])
    daily_limit: HoursOfDay = _hours(_TRADE.hours.daily_limit_min)
    day_off: Many[DayOffRecord] = ()


class TaskRecord(Record):
    """Work that every piece asks once."""

    name: Name
    minutes: Exact


def _tasks() -> tuple[TaskRecord, ...]:
    return tuple(TaskRecord(name=t.name, minutes=t.minutes) for t in _TIMES.tasks)


class TimesRecord(Record):
    """Minutes that no evidence of hers has replaced yet."""

    stitches_per_min: AboveZero = _TIMES.stitches_per_min
    min_per_strand: Exact = noted("Cutting and knotting one strand.", _TIMES.min_per_strand)
    task: Many[TaskRecord] = Field(default_factory=_tasks)


class StaplesRecord(Record):
    """How shades that are always kept are reordered."""

    order_cost: Exact = noted("Of each order, beside its shipping.", _STAPLES.order_cost)
    holding: ShareFromZero = noted("Of a ball's price, for keeping it a year.", _STAPLES.holding)
    service: Annotated[ShareFromZero, Field(ge=Decimal("0.5"))] = noted(
        "The chance that the shelf lasts until the parcel comes.", _STAPLES.service
    )


class TradeRecord(FileRecord):
    """trade.toml: how she charges and works."""

    transit_days: Days = noted("From her door to the customer's.", _TRADE.transit_days)
    drying_days: Days = noted("From the last stitch to the parcel.", _TRADE.drying_days)
    lead_days: Days = noted("From ordering yarn to having it.", _TRADE.lead_days)
    packing_g: Exact = _TRADE.packing_g
    hand_order: Many[Name] = noted("Keys of projects in the order she works them.", ())
    shipping: Many[ParcelRecord] = ()
    prices: PricesRecord = Field(default_factory=PricesRecord)
    hours: HoursRecord = Field(default_factory=HoursRecord)
    times: TimesRecord = Field(default_factory=TimesRecord)
    staples: StaplesRecord = Field(default_factory=StaplesRecord)


class CustomerRecord(Record):
    """Somebody who orders."""

    key: Name = noted("What projects call them.")
    name: Name
    contact: Many[Line] = noted("One line for each way to reach them.", ())
    note: Text = ""


class CustomersRecord(FileRecord):
    """customers.toml: everybody who orders, and how to reach them."""

    customer: Annotated[Many[CustomerRecord], AfterValidator(rules.customers_once)] = ()


class PaymentRecord(Record):
    """Money received, or for a refund given back."""

    kind: Annotated[PaymentKind, Field(strict=False)]
    amount: AboveZero
    on: date
    note: Line = ""


class ReachedRecord(Record):
    """The day a stage was reached."""

    stage: LaxStage
    on: date


class WorkLogRecord(Record):
    """Minutes spent on the piece."""

    minutes: AboveZero
    kind: Annotated[WorkKind, Field(strict=False)] = WorkKind.CROCHET
    rows: Count = noted("Over how many rows.", 0)
    first_row: CountFromOne = 1
    on: date | None = None
    note: Line = ""


class FigureRecord(Record):
    """One figure of a quote as it was when it was sent."""

    code: Name
    label: Name
    amount: Signed
    unit: Line = ""


class QuoteRecord(Record):
    """A quote as it was sent; nothing of it is computed again."""

    on: date
    valid_until: date
    price: Exact
    shipping: Exact
    tax: Exact
    total: Exact
    deposit: Exact
    currency: Currency
    tax_rate: ShareFromZero = Decimal(0)
    tax_inclusive: bool = False
    ready_by: date | None = None
    figure: Many[FigureRecord] = noted("The lines behind it, which no customer sees.", ())
    assumed: Many[Text] = noted("What it rested on.", ())
    design: Text = noted("The stripes and shades that were drawn.", "")

    _valid_for_some_time = model_validator(mode="after")(rules.valid_for_some_time)


class BreakRecord(Record):
    """From so many balls on, every ball costs this."""

    from_balls: CountFromOne = Field(alias="from")
    price: Exact


class WeightTierRecord(Record):
    """What a parcel of yarn costs up to so many grams; without them, whatever its weight."""

    up_to_g: AboveZero | None = None
    cost: Exact


def _number_or(**properties: Any) -> WithJsonSchema:
    """The schema of a number, or of a list of tables with these keys."""
    table = {
        "type": "object",
        "properties": properties,
        "required": [key for key in properties if key != "up_to_g"],
        "additionalProperties": False,
    }
    money = {"type": "number", "minimum": 0}
    return WithJsonSchema({"anyOf": [money, {"type": "array", "items": table}]})


_FROM_ZERO = {"type": "number", "minimum": 0}


class OfferRecord(Record):
    """One yarn at this supplier."""

    yarn: Name = noted("Key of the yarn.")
    shades: Many[Name] | None = noted("Codes of the shades it has; left out: all.", None)
    pack: Annotated[int, Field(ge=1, le=MOST_PACK)] = noted("Balls in a pack.", 1)
    price: Annotated[
        Many[BreakRecord],
        BeforeValidator(rules.one_price),
        _number_or(**{"from": {"type": "integer", "minimum": 1}, "price": _FROM_ZERO}),
    ] = noted("Of a ball, or a list of prices from so many balls on.")
    scope: Annotated[BreakScope, Field(strict=False)] = noted(
        "Which balls count towards a break.", BreakScope.SHADE
    )
    note: Line = ""


class SupplierRecord(FileRecord):
    """suppliers/KEY.toml: whom she buys from, and what is on offer there."""

    name: Name
    currency: Currency = noted("The money of its prices, which is that of the studio.")
    lead_days: Days | None = noted("From order to parcel.", None)
    seen_days: Many[Days] = noted("How long the last parcels took; receiving adds to it.", ())
    minimum: Exact = noted("The least sum of goods in an order.", Decimal(0))
    free_from: Exact | None = noted("The sum of goods that ships free.", None)
    note: Text = ""
    shipping: Annotated[
        Many[WeightTierRecord],
        BeforeValidator(rules.one_cost),
        _number_or(up_to_g={"type": "number", "exclusiveMinimum": 0}, cost=_FROM_ZERO),
    ] = Field(default_factory=lambda: (WeightTierRecord(cost=Decimal(0)),))
    offer: Many[OfferRecord] = ()


class SheetRecord(Record):
    """How the columns of one kind of spreadsheet were matched."""

    dates: Literal["year first", "day first", "month first"] = "year first"
    columns: dict[Name, Name] = noted("Field = the column's head.", {})


class ColumnsRecord(FileRecord):
    """columns.toml: how she matched the columns of her spreadsheets."""

    stash: SheetRecord | None = None
    prices: SheetRecord | None = None
    orders: SheetRecord | None = None
