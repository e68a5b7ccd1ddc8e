"""From validated records, which look like the files, to the core's values."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
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
    Fibre,
    Fringe,
    GaugeCount,
    Lot,
    Notion,
    OrderLine,
    Project,
    Purchase,
    RowKind,
    Settings,
    Shade,
    ShadeRef,
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
from studio.storage.kinds import Kind
from studio.storage.things import (
    ColumnChoices,
    CustomerList,
    SheetColumns,
    Thing,
    slot_order,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from studio.storage import records as r
    from studio.storage import records_base as rb
    from studio.storage import records_purchase as rp
    from studio.storage import records_trade as rt


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
            Shade(s.code, s.name, s.colour, s.discontinued, s.staple, s.barcodes)
            for s in record.shade
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


def _purchase(key: str, record: rp.PurchaseRecord) -> Purchase:
    return Purchase(
        key=key,
        supplier=record.supplier,
        arrives=record.arrives,
        lines=tuple(_same(OrderLine, line) for line in record.line),
        ordered=record.ordered,
        note=record.note,
        parcel=_delivery(key, record.parcel) if record.parcel else None,
        part_came=record.part_came,
    )


def _delivery(purchase: str, record: rp.DeliveryRecord) -> Delivery:
    return Delivery(
        purchase=purchase,
        on=record.on,
        bags=tuple(_same(Bag, bag) for bag in record.bag),
        shipping=record.shipping,
        tax=record.tax,
        share_by=record.share_by,
        prices=tuple((ShadeRef(n.yarn, n.shade), n.price) for n in record.price),
        rest_comes=record.rest_comes,
        rest_arrives=record.rest_arrives,
        kept=record.kept,
    )


def _claim(record: r.ClaimRecord) -> Claim | None:
    rest = record.rest
    second = None
    if rest is not None:
        second = _claim_on(rest.hold, None, rest.on_order, rest.pairs, rest.grams)
    return _claim_on(record.hold, record.pin, record.on_order, record.pairs, None, second)


def _claim_on(
    hold: str | None,
    pin: str | None,
    on_order: str | None,
    pairs: tuple[int, ...],
    grams: Decimal | None,
    rest: Claim | None = None,
) -> Claim | None:
    named = ((ClaimKind.HOLD, hold), (ClaimKind.PIN, pin), (ClaimKind.ORDER, on_order))
    found = next(((kind, on) for kind, on in named if on is not None), None)
    return None if found is None else Claim(*found, pairs, grams, rest)


def _border(b: r.BorderRecord) -> Border:
    return Border(b.slot, b.rounds, b.width, b.pick_up, b.corners, b.increase, _claim(b), b.grams)


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
        slots=tuple(sorted(slots, key=slot_order)),
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
        used=tuple(_same(Used, used) for used in record.used),
        accepted=tuple(_same(Accepted, accepted) for accepted in record.accepted),
        note=record.note,
        quote=_quote(record.quote) if record.quote else None,
        price=record.price,
        payments=tuple(_same(Payment, payment) for payment in record.payment),
        reached=tuple(_same(StageDate, reached) for reached in record.reached),
        log=tuple(_same(WorkLog, log) for log in record.log),
        minutes=record.minutes,
        for_baby=record.for_baby,
        collected=record.collected,
    )


def _quote(record: rt.QuoteRecord) -> Quote:
    named = {f.name: getattr(record, f.name) for f in fields(Quote) if f.name != "figures"}
    return Quote(**named, figures=tuple(_same(Figure, figure) for figure in record.figure))


def _trade(_key: str, record: rt.TradeRecord) -> Trade:
    hours, times = record.hours, record.times
    week = (
        hours.monday, hours.tuesday, hours.wednesday, hours.thursday, hours.friday,
        hours.saturday, hours.sunday,
    )  # fmt: skip
    return Trade(
        prices=_prices(record.prices),
        shipping=tuple(_same(ShippingTier, parcel) for parcel in record.shipping),
        packing_g=record.packing_g,
        hours=WorkHours(
            week, tuple(_same(DayOff, day) for day in hours.day_off), hours.daily_limit
        ),
        times=Times(
            times.stitches_per_min,
            times.min_per_strand,
            tuple(_same(Task, task) for task in times.task),
        ),
        transit_days=record.transit_days,
        drying_days=record.drying_days,
        lead_days=record.lead_days,
        hand_order=record.hand_order,
        staples=_same(StapleRules, record.staples),
    )


def _prices(record: rt.PricesRecord) -> PriceRules:
    other = ("fees", "ending", "deposit_share")
    named = {f.name: getattr(record, f.name) for f in fields(PriceRules) if f.name not in other}
    return PriceRules(
        **named,
        fees=_same(FeeRates, record.fees),
        ending=_same(PriceEnding, record.ending) if record.ending else None,
        deposit_share=record.deposit_share or None,
    )


def _customers(_key: str, record: rt.CustomersRecord) -> CustomerList:
    return CustomerList(tuple(_same(Customer, customer) for customer in record.customer))


def _supplier(key: str, record: rt.SupplierRecord) -> OfferBook:
    tiers = tuple(_same(WeightTier, tier) for tier in record.shipping)
    supplier = Supplier(
        key=key,
        name=record.name,
        currency=record.currency,
        lead_days=record.lead_days,
        minimum=record.minimum,
        shipping=Shipping(tiers, record.free_from),
        note=record.note,
        seen_days=record.seen_days,
    )
    offers = tuple(
        Offer(
            supplier=key,
            yarn=offer.yarn,
            breaks=tuple(_same(PriceBreak, step) for step in offer.price),
            pack=offer.pack,
            shades=offer.shades,
            scope=offer.scope,
            note=offer.note,
        )
        for offer in record.offer
    )
    return OfferBook((supplier,), offers)


def _columns(_key: str, record: rt.ColumnsRecord) -> ColumnChoices:
    def sheet(found: rt.SheetRecord | None) -> SheetColumns | None:
        return SheetColumns(tuple(found.columns.items()), found.dates) if found else None

    return ColumnChoices(sheet(record.stash), sheet(record.prices), sheet(record.orders))


_TO_CORE: dict[Kind, Callable[[str, Any], Thing]] = {
    Kind.STUDIO: _settings,
    Kind.TRADE: _trade,
    Kind.CUSTOMERS: _customers,
    Kind.YARN: _yarn,
    Kind.STITCH: _stitch,
    Kind.SWATCH: _swatch,
    Kind.STASH: _stash,
    Kind.SUPPLIER: _supplier,
    Kind.PURCHASE: _purchase,
    Kind.PROJECT: _project,
    Kind.COLUMNS: _columns,
}


def to_core(kind: Kind, key: str, record: rb.FileRecord) -> Thing:
    """What a validated file says, as the core's value."""
    return _TO_CORE[kind](key, record)
