"""From the core's values to TOML tables, in the order of the keys of a file.

What is written leaves out every default, so that a file says only what its maker meant to say.
"""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.offers import (
    Offer,
    OfferBook,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
)
from studio.core.model import (
    Accepted,
    Assumed,
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fringe,
    GaugeCount,
    Length,
    Lot,
    Notion,
    OrderLine,
    Project,
    Purchase,
    RowKind,
    Settings,
    Shade,
    Slot,
    Stated,
    Stitch,
    Stripe,
    Swatch,
    Used,
    WeighIn,
    Weighing,
    Yarn,
)
from studio.core.trade_model import (
    Customer,
    DayOff,
    FeeRates,
    Figure,
    Payment,
    PriceEnding,
    PriceRules,
    Quote,
    ShippingTier,
    StageDate,
    StapleRules,
    Task,
    Times,
    Trade,
    WorkHours,
    WorkLog,
)
from studio.storage.kinds import FORMAT
from studio.storage.things import (
    ColumnChoices,
    CustomerList,
    SheetColumns,
    Thing,
    slot_order,
)

if TYPE_CHECKING:
    from collections.abc import Callable

_CLAIM_KEYS = {ClaimKind.HOLD: "hold", ClaimKind.PIN: "pin", ClaimKind.ORDER: "on_order"}
_WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

# The order of the keys in a file; a name after ':' is the key where it differs from the field.
KEYS: dict[type, str] = {
    Settings: "name currency length_unit weight_unit terms rate_per_hour tax_registered"
    " stash_value join lots_for_customer lots_otherwise theme assumed",
    Assumed: "prior_weight prior_spread other_piece_spread ball_spread scale_step_g confidence"
    " size_tolerance carry_rows tail min_per_end alike_difference",
    Yarn: "name category ball_g ball_m price care no_dye_lot discontinued works_with fibres"
    " shades:shade",
    Shade: "code name colours:colour discontinued staple barcodes",
    Stitch: "name multiple extra skipped turning_chain turning_counts change_either_side"
    " stitches_per_repeat edge_stitches instruction kinds:kind",
    RowKind: "name rows weight per_repeat extra_stitches instruction",
    Swatch: "yarn stitch hook_mm note before after weighed trials:trial",
    GaugeCount: "stitches stitch_span rows row_span in_repeats",
    Weighing: "rows stitches grams balls first_row minutes on note",
    Lot: "shade code code_lost parts_g note batches:batch",
    Batch: "balls price shipping bought supplier kept",
    Purchase: "supplier arrives ordered part_came note lines:line parcel",
    Delivery: "on shipping tax share_by rest_comes rest_arrives kept bags:bag prices:price",
    Bag: "yarn shade code balls fate code_lost",
    OrderLine: "yarn shade balls price",
    Project: "name stage customer due booked price stitch hook_mm direction method join mix"
    " for_baby collected minutes rows_done note stripes:stripe notions:notion weigh_ins:weigh_in"
    " used payments:payment reached log accepted width:size slots border fringe stated quote",
    Slot: "yarn shade lots",
    Stripe: "slot rows claim grams note",
    Border: "slot rounds width pick_up corners increase claim grams",
    Fringe: "slot strands cut claim grams",
    Stated: "chain stitches rows width length",
    Notion: "name cost",
    WeighIn: "slot rows grams first_row on",
    Used: "yarn shade lot grams paid on by rows whole",
    Accepted: "code note",
    Quote: "on valid_until price shipping tax total deposit currency tax_rate tax_inclusive"
    " ready_by figures:figure assumed design",
    Figure: "code label amount unit",
    Payment: "kind amount on note",
    StageDate: "stage on",
    WorkLog: "minutes kind rows first_row on note",
    Trade: "transit_days drying_days lead_days packing_g hand_order shipping prices hours times"
    " staples",
    StapleRules: "order_cost holding service",
    ShippingTier: "name up_to_g paid charged",
    PriceRules: "margin overhead overhead_per_hour floor_per_hour tax_rate tax_inclusive"
    " deposit_share valid_days per_area fees ending",
    FeeRates: "on_price on_charged on_total fixed",
    PriceEnding: "step tail",
    WorkHours: "weekday_min:monday daily_limit_min:daily_limit days_off:day_off",
    DayOff: "first last note",
    Times: "stitches_per_min min_per_strand tasks:task",
    Task: "name minutes",
    CustomerList: "customers:customer",
    Customer: "key name contact note",
    Supplier: "name currency lead_days seen_days minimum note shipping",
    WeightTier: "up_to_g cost",
    Offer: "yarn shades pack breaks:price scope note",
    PriceBreak: "from_balls:from price",
    ColumnChoices: "stash prices orders",
    SheetColumns: "dates columns",
}
# Stated even where they are the default: what every other figure in the studio is meant in.
_ALWAYS = frozenset({(Settings, "currency"), (Settings, "length_unit"), (Settings, "weight_unit")})


def _layout(cls: type[Any]) -> tuple[tuple[str, str, object], ...]:
    """For each key of a table: the field, the key, and the default at which it is left out."""
    defaults: dict[str, object] = {}
    for f in fields(cls):
        given = f.default if f.default_factory is MISSING else f.default_factory()
        defaults[f.name] = MISSING if (cls, f.name) in _ALWAYS else given
    if cls is Lot:
        defaults["code"] = ""
    names = [name.partition(":") for name in KEYS[cls].split()]
    return tuple((field, key or field, defaults[field]) for field, _, key in names)


_LAYOUTS = {cls: _layout(cls) for cls in KEYS}


def _plain(value: object) -> Any:
    """A value in the types that TOML knows."""
    match value:
        case Length():
            return f"{value.value:f} {value.unit.value}"
        case StrEnum():
            return value.value
        case Decimal():
            # A whole number is written without '.0', and reads as the same Decimal.
            return int(value) if value.as_tuple().exponent == 0 else value
        case tuple():
            return [_plain(part) for part in value]
        case _ if is_dataclass(value):
            return _table(value)
    return value


def _hours(minutes: int) -> Decimal | int | str:
    """Minutes as hours: a number where it has an end, else as 0:50."""
    if minutes % 60 == 0:
        return minutes // 60
    return f"{minutes // 60}:{minutes % 60:02}" if minutes % 3 else Decimal(minutes) / 60


def _week(hours: WorkHours) -> dict[str, Any]:
    usual = WorkHours().weekday_min
    days = zip(_WEEKDAYS, hours.weekday_min, usual, strict=True)
    return {day: _hours(minutes) for day, minutes, default in days if minutes != default}


def _shipping(shipping: Shipping) -> dict[str, Any]:
    tiers = shipping.tiers
    flat = len(tiers) == 1 and tiers[0].up_to_g is None
    table = {"free_from": _plain(shipping.free_from)} if shipping.free_from is not None else {}
    shown = _plain(tiers[0].cost) if flat else _plain(tiers)
    return table if tiers == Shipping().tiers else {**table, "shipping": shown}


def _price(breaks: tuple[PriceBreak, ...]) -> Any:
    plain = len(breaks) == 1 and breaks[0].from_balls == 1
    return _plain(breaks[0].price if plain else breaks)


def _claim(claim: Claim) -> dict[str, Any]:
    table: dict[str, Any] = {_CLAIM_KEYS[claim.kind]: claim.on}
    if claim.pairs:
        table["pairs"] = list(claim.pairs)
    if claim.grams is not None:
        table["grams"] = _plain(claim.grams)
    if claim.rest is not None:
        table["rest"] = _claim(claim.rest)
    return table


_WRITTEN_OTHERWISE: dict[tuple[type, str], Callable[[Any], dict[str, Any]]] = {
    (Yarn, "fibres"): lambda yarn: {"fibres": {f.name: _plain(f.percent) for f in yarn.fibres}},
    (Project, "width"): lambda p: {"size": {"width": _plain(p.width), "length": _plain(p.length)}},
    (Project, "slots"): lambda p: {
        "slots": {s.letter: _table(s) for s in sorted(p.slots, key=slot_order)}
    },
    (Shade, "colours"): lambda shade: {
        "colour": shade.colours[0] if len(shade.colours) == 1 else list(shade.colours)
    },
    **{(cls, "claim"): lambda run: _claim(run.claim) for cls in (Stripe, Border, Fringe)},
    # A file has no word for nothing, and a deposit of nothing is none.
    (PriceRules, "deposit_share"): lambda rules: {
        "deposit_share": _plain(rules.deposit_share or Decimal(0))
    },
    (WorkHours, "weekday_min"): _week,
    (WorkHours, "daily_limit_min"): lambda hours: {"daily_limit": _hours(hours.daily_limit_min)},
    (Delivery, "prices"): lambda delivery: {
        "price": [
            {"yarn": ref.yarn, "shade": ref.shade, "price": _plain(price)}
            for ref, price in delivery.prices
        ]
    },
    (Supplier, "shipping"): lambda supplier: _shipping(supplier.shipping),
    (Offer, "breaks"): lambda offer: {"price": _price(offer.breaks)},
    (SheetColumns, "columns"): lambda sheet: {"columns": dict(sheet.columns)},
}


def _table(thing: Any) -> dict[str, Any]:
    """One value as a TOML table, its defaults left out."""
    table: dict[str, Any] = {}
    cls = type(thing)
    for field, key, default in _LAYOUTS[cls]:
        value = getattr(thing, field)
        if value == default or (value is None and default is MISSING):
            continue
        if otherwise := _WRITTEN_OTHERWISE.get((cls, field)):
            table.update(otherwise(thing))
        elif value != () or default is not MISSING:
            # What may be empty and is left out where it is; else that it is empty is said.
            table[key] = _plain(value)
    return {key: value for key, value in table.items() if value != {}}


def to_toml(thing: Thing) -> dict[str, Any]:
    """What the file of this thing holds, in the order of its keys."""
    if isinstance(thing, tuple):
        lots = [_table(lot) for lot in thing]
        return {"format": FORMAT, **({"lot": lots} if lots else {})}
    if isinstance(thing, OfferBook):
        offers = [_table(offer) for offer in thing.offers]
        own = _table(thing.suppliers[0])
        return {"format": FORMAT, **own, **({"offer": offers} if offers else {})}
    return {"format": FORMAT, **_table(thing)}
