"""Between records, which look like the files, and the core's values, both ways.

What is written leaves out every default, so that a file says only what its maker meant to say.
"""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass, replace
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any, TypeAlias

from studio.core.model import (
    Accepted,
    Assumed,
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fibre,
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
    Studio,
    Swatch,
    WeighIn,
    Weighing,
    Yarn,
)
from studio.storage.kinds import FORMAT, Kind

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from studio.storage import records as r

Thing: TypeAlias = Settings | Yarn | Stitch | Swatch | tuple[Lot, ...] | Purchase | Project
"""What one file becomes; a stash file becomes the lots of its yarn."""


def _same(cls: type[Any], record: Any) -> Any:
    """A core value from a record that has the same field names."""
    return cls(**{f.name: getattr(record, f.name) for f in fields(cls)})


def _settings(_key: str, record: r.SettingsRecord) -> Settings:
    named = {f.name: getattr(record, f.name) for f in fields(Settings) if f.name != "assumed"}
    return Settings(**named, assumed=_same(Assumed, record.assumed))


def _yarn(key: str, record: r.YarnRecord) -> Yarn:
    return Yarn(
        key=key,
        name=record.name,
        category=record.category,
        fibres=tuple(Fibre(name, percent) for name, percent in record.fibres.items()),
        ball_g=record.ball_g,
        shades=tuple(
            Shade(s.code, s.name, s.colour, s.discontinued, s.staple) for s in record.shade
        ),
        ball_m=record.ball_m,
        price=record.price,
        care=record.care,
        no_dye_lot=record.no_dye_lot,
        discontinued=record.discontinued,
        works_with=record.works_with,
    )


def _stitch(key: str, record: r.StitchRecord) -> Stitch:
    kinds = tuple(_same(RowKind, kind) for kind in record.kind)
    return Stitch(
        key=key,
        name=record.name,
        multiple=record.multiple,
        extra=record.extra,
        skipped=record.skipped,
        turning_chain=record.turning_chain,
        turning_counts=record.turning_counts,
        change_either_side=record.change_either_side,
        stitches_per_repeat=record.stitches_per_repeat,
        edge_stitches=record.edge_stitches,
        kinds=kinds or (RowKind("body"),),
        instruction=record.instruction,
    )


def _swatch(key: str, record: r.SwatchRecord) -> Swatch:
    return Swatch(
        key=key,
        yarn=record.yarn,
        stitch=record.stitch,
        hook_mm=record.hook_mm,
        before=_same(GaugeCount, record.before) if record.before else None,
        after=_same(GaugeCount, record.after) if record.after else None,
        weighed=_same(Weighing, record.weighed) if record.weighed else None,
        trials=tuple(_same(Weighing, trial) for trial in record.trial),
        note=record.note,
    )


def _stash(key: str, record: r.StashRecord) -> tuple[Lot, ...]:
    return tuple(
        Lot(
            key,
            lot.shade,
            lot.code,
            tuple(
                Batch(b.balls, b.price, b.shipping, b.bought, b.supplier, b.kept) for b in lot.batch
            ),
            lot.parts_g,
            lot.code_lost,
            lot.note,
        )
        for lot in record.lot
    )


def _purchase(key: str, record: r.PurchaseRecord) -> Purchase:
    return Purchase(
        key=key,
        supplier=record.supplier,
        arrives=record.arrives,
        lines=tuple(_same(OrderLine, line) for line in record.line),
        ordered=record.ordered,
        note=record.note,
    )


_CLAIM_KEYS = {ClaimKind.HOLD: "hold", ClaimKind.PIN: "pin", ClaimKind.ORDER: "on_order"}


def _claim(record: r.ClaimRecord) -> Claim | None:
    if record.hold is not None:
        return Claim(ClaimKind.HOLD, record.hold)
    if record.pin is not None:
        return Claim(ClaimKind.PIN, record.pin)
    return None if record.on_order is None else Claim(ClaimKind.ORDER, record.on_order)


def _border(b: r.BorderRecord) -> Border:
    return Border(b.slot, b.rounds, b.width, b.pick_up, b.corners, b.increase, _claim(b), b.grams)


def _slot_order(slot: Slot) -> tuple[int, str]:
    """Slots stand in the order of their letters: A to Z, then AA."""
    return len(slot.letter), slot.letter


def _project(key: str, record: r.ProjectRecord) -> Project:
    border, fringe = record.border, record.fringe
    slots = [Slot(letter, s.yarn, s.shade, s.lots) for letter, s in record.slots.items()]
    return Project(
        key=key,
        name=record.name,
        stage=record.stage,
        stitch=record.stitch,
        hook_mm=record.hook_mm,
        width=record.size.width,
        length=record.size.length,
        slots=tuple(sorted(slots, key=_slot_order)),
        stripes=tuple(Stripe(s.slot, s.rows, _claim(s), s.grams, s.note) for s in record.stripe),
        customer=record.customer,
        due=record.due,
        booked=record.booked,
        direction=record.direction,
        method=record.method,
        join=record.join,
        mix=record.mix,
        border=_border(border) if border else None,
        fringe=Fringe(fringe.slot, fringe.strands, fringe.cut, _claim(fringe), fringe.grams)
        if fringe
        else None,
        rows_done=record.rows_done,
        stated=_same(Stated, record.stated),
        notions=tuple(_same(Notion, notion) for notion in record.notion),
        weigh_ins=tuple(_same(WeighIn, weigh_in) for weigh_in in record.weigh_in),
        accepted=tuple(_same(Accepted, accepted) for accepted in record.accepted),
        note=record.note,
    )


_TO_CORE: dict[Kind, Callable[[str, Any], Thing]] = {
    Kind.STUDIO: _settings,
    Kind.YARN: _yarn,
    Kind.STITCH: _stitch,
    Kind.SWATCH: _swatch,
    Kind.STASH: _stash,
    Kind.PURCHASE: _purchase,
    Kind.PROJECT: _project,
}


def to_core(kind: Kind, key: str, record: r.FileRecord) -> Thing:
    """What a validated file says, as the core's value."""
    return _TO_CORE[kind](key, record)


# The order of the keys in a file; a name after ':' is the key where it differs from the field.
_KEYS: dict[type, str] = {
    Settings: "name currency length_unit weight_unit terms rate_per_hour tax_registered"
    " stash_value join lots_for_customer lots_otherwise theme assumed",
    Assumed: "prior_weight prior_spread other_piece_spread ball_spread scale_step_g confidence"
    " size_tolerance carry_rows tail min_per_end alike_difference",
    Yarn: "name category ball_g ball_m price care no_dye_lot discontinued works_with fibres"
    " shades:shade",
    Shade: "code name colours:colour discontinued staple",
    Stitch: "name multiple extra skipped turning_chain turning_counts change_either_side"
    " stitches_per_repeat edge_stitches instruction kinds:kind",
    RowKind: "name rows weight per_repeat extra_stitches instruction",
    Swatch: "yarn stitch hook_mm note before after weighed trials:trial",
    GaugeCount: "stitches stitch_span rows row_span in_repeats",
    Weighing: "rows stitches grams balls first_row minutes on note",
    Lot: "shade code code_lost parts_g note batches:batch",
    Batch: "balls price shipping bought supplier kept",
    Purchase: "supplier arrives ordered note lines:line",
    OrderLine: "yarn shade balls price",
    Project: "name stage customer due booked stitch hook_mm direction method join mix rows_done"
    " note stripes:stripe notions:notion weigh_ins:weigh_in accepted width:size slots border"
    " fringe stated",
    Slot: "yarn shade lots",
    Stripe: "slot rows claim grams note",
    Border: "slot rounds width pick_up corners increase claim grams",
    Fringe: "slot strands cut claim grams",
    Stated: "chain stitches rows width length",
    Notion: "name cost",
    WeighIn: "slot rows grams first_row on",
    Accepted: "code note",
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
    names = [name.partition(":") for name in _KEYS[cls].split()]
    return tuple((field, key or field, defaults[field]) for field, _, key in names)


_LAYOUTS = {cls: _layout(cls) for cls in _KEYS}


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


def _table(thing: Any) -> dict[str, Any]:
    """One value as a TOML table, its defaults left out."""
    table: dict[str, Any] = {}
    cls = type(thing)
    for field, key, default in _LAYOUTS[cls]:
        value = getattr(thing, field)
        if default is not MISSING and value == default:
            continue
        if field == "claim":
            table[_CLAIM_KEYS[value.kind]] = value.on
        elif field == "colours":
            table[key] = value[0] if len(value) == 1 else list(value)
        elif field == "fibres":
            table[key] = {fibre.name: _plain(fibre.percent) for fibre in value}
        elif field == "slots":
            table[key] = {s.letter: _table(s) for s in sorted(value, key=_slot_order)}
        elif key == "size":
            table[key] = {"width": _plain(thing.width), "length": _plain(thing.length)}
        else:
            table[key] = _plain(value)
    return {key: value for key, value in table.items() if value != [] and value != {}}


def to_toml(thing: Thing) -> dict[str, Any]:
    """What the file of this thing holds, in the order of its keys."""
    if isinstance(thing, tuple):
        lots = [_table(lot) for lot in thing]
        return {"format": FORMAT, **({"lot": lots} if lots else {})}
    return {"format": FORMAT, **_table(thing)}


def settled(thing: Thing) -> Thing:
    """The thing with everything in order whose order a file does not state: slots and fibres."""
    match thing:
        case Project():
            return replace(thing, slots=tuple(sorted(thing.slots, key=_slot_order)))
        case Yarn():
            return replace(thing, fibres=tuple(sorted(thing.fibres, key=lambda f: f.name)))
    return thing


STORED = frozenset({"settings", "library", "stash", "projects"})
"""The parts of a studio that have files."""


def by_file(studio: Studio) -> dict[str, tuple[Kind, Thing]]:
    """Every file that this studio has, and what it holds; lots lie in the file of their yarn."""
    files: dict[str, tuple[Kind, Thing]] = {Kind.STUDIO.file(""): (Kind.STUDIO, studio.settings)}
    keyed: tuple[tuple[Kind, Sequence[Yarn | Stitch | Swatch | Purchase | Project]], ...] = (
        (Kind.YARN, studio.library.yarns),
        (Kind.STITCH, studio.library.stitches),
        (Kind.SWATCH, studio.library.swatches),
        (Kind.PURCHASE, studio.stash.purchases),
        (Kind.PROJECT, studio.projects),
    )
    for kind, things in keyed:
        files.update({kind.file(thing.key): (kind, thing) for thing in things})
    lots: dict[str, list[Lot]] = {}
    for lot in studio.stash.lots:
        lots.setdefault(lot.yarn, []).append(lot)
    files.update({Kind.STASH.file(y): (Kind.STASH, tuple(group)) for y, group in lots.items()})
    return files
