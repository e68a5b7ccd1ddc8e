"""Hypothesis strategies for any studio that the file format can say."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from hypothesis import strategies as st

from studio.core.buying.delivery import Bag, Delivery, Fate, ShareBy
from studio.core.model import (
    Accepted,
    Assumed,
    Batch,
    Border,
    Claim,
    ClaimKind,
    CrochetTerms,
    Direction,
    Fibre,
    Fringe,
    GaugeCount,
    Join,
    Length,
    LengthUnit,
    Library,
    Lot,
    LotRule,
    Method,
    Notion,
    OrderLine,
    Project,
    Purchase,
    RowKind,
    Settings,
    Shade,
    ShadeRef,
    Slot,
    Stage,
    Stash,
    StashValue,
    Stated,
    Stitch,
    Stripe,
    Studio,
    Swatch,
    Used,
    UsedFrom,
    WeighIn,
    Weighing,
    WeightUnit,
    Yarn,
)
from studio.core.trade_model import Trade
from tests.storage import trade_strategies as trade
from tests.storage.simple import (
    above_zero,
    counts,
    dates,
    exact,
    keys,
    lines,
    names,
    ones_up,
    texts,
)

T = TypeVar("T", Stitch, Swatch, Purchase, Project)

letters = st.sampled_from(["A", "B", "C", "D"])


def lengths(least: str = "0.1") -> st.SearchStrategy[Length]:
    """A length of this value or more."""
    number = st.decimals(Decimal(least), 5000, places=1)
    return st.builds(Length, number, st.sampled_from(LengthUnit))


colours = st.from_regex(r"#[0-9a-f]{6}", fullmatch=True)
shades = st.builds(
    Shade,
    code=names,
    name=names,
    colours=st.lists(colours, min_size=1, max_size=3).map(tuple),
    discontinued=st.booleans(),
    staple=st.booleans(),
    barcodes=st.lists(st.from_regex(r"[0-9]{8}|[0-9]{12,14}", fullmatch=True), max_size=2).map(
        tuple
    ),
)


@st.composite
def fibres(draw: st.DrawFn) -> tuple[Fibre, ...]:
    """Fibres that sum to 100."""
    named = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    shares = [draw(st.decimals(1, 33, places=1)) for _ in named[1:]]
    whole = [*shares, Decimal(100) - sum(shares, Decimal(0))]
    return tuple(Fibre(name, share) for name, share in zip(named, whole, strict=True))


yarns = st.builds(
    Yarn,
    key=keys,
    name=names,
    category=st.integers(0, 7),
    fibres=st.just(()) | fibres(),
    ball_g=above_zero,
    shades=st.lists(shades, max_size=3, unique_by=lambda s: s.code).map(tuple),
    ball_m=st.none() | above_zero,
    price=st.none() | exact,
    care=lines,
    no_dye_lot=st.booleans(),
    discontinued=st.booleans(),
    works_with=st.lists(names, max_size=2).map(tuple),
)


@st.composite
def row_kinds(draw: st.DrawFn) -> tuple[RowKind, ...]:
    """Some rows of other kinds, then the body."""
    kind = st.builds(
        RowKind,
        name=names,
        rows=ones_up,
        weight=above_zero,
        per_repeat=st.none() | ones_up,
        extra_stitches=st.integers(-9, 9),
        instruction=texts,
    )
    *first, body = draw(st.lists(kind, min_size=1, max_size=3))
    return (*first, replace(body, rows=None))


stitches = st.builds(
    Stitch,
    key=keys,
    name=names,
    multiple=ones_up,
    extra=st.integers(-9, 9),
    skipped=counts,
    turning_chain=counts,
    turning_counts=st.booleans(),
    change_either_side=st.booleans(),
    stitches_per_repeat=st.none() | ones_up,
    edge_stitches=counts,
    kinds=row_kinds(),
    instruction=texts,
)
gauge_counts = st.builds(
    GaugeCount, above_zero, lengths(), above_zero, lengths(), in_repeats=st.booleans()
)


@st.composite
def weighings(draw: st.DrawFn) -> Weighing:
    """Grams or balls, never both."""
    grams = draw(st.none() | above_zero)
    return Weighing(
        rows=draw(above_zero),
        stitches=draw(above_zero),
        grams=grams,
        balls=draw(above_zero) if grams is None else None,
        first_row=draw(ones_up),
        minutes=draw(st.none() | above_zero),
        on=draw(st.none() | dates),
        note=draw(texts),
    )


hooks = st.decimals(1, 50, places=2)
swatches = st.builds(
    Swatch,
    key=keys,
    yarn=names,
    stitch=names,
    hook_mm=hooks,
    before=st.none() | gauge_counts,
    after=st.none() | gauge_counts,
    weighed=st.none() | weighings(),
    trials=st.lists(weighings(), max_size=2).map(tuple),
    note=texts,
)
batches = st.builds(
    Batch,
    balls=counts,
    price=st.none() | exact,
    shipping=exact,
    bought=st.none() | dates,
    supplier=lines,
    kept=lines,
)
lots = st.builds(
    Lot,
    yarn=st.just("-"),
    shade=names,
    code=lines,
    batches=st.lists(batches, max_size=2).map(tuple),
    parts_g=st.lists(above_zero, max_size=3).map(tuple),
    code_lost=st.booleans(),
    note=texts,
)
bags = st.builds(Bag, names, names, lines, ones_up, st.sampled_from(Fate), code_lost=st.booleans())
deliveries = st.builds(
    Delivery,
    purchase=st.just("-"),
    on=dates,
    bags=st.lists(bags, max_size=3).map(tuple),
    shipping=exact,
    tax=exact,
    share_by=st.sampled_from(ShareBy),
    prices=st.dictionaries(st.builds(ShadeRef, names, names), exact, max_size=2).map(
        lambda prices: tuple(prices.items())
    ),
    rest_comes=st.booleans(),
    rest_arrives=st.none() | dates,
    kept=lines,
)


def own_parcel(purchase: Purchase) -> Purchase:
    """A purchase whose parcel is its own."""
    parcel = purchase.parcel
    return replace(purchase, parcel=parcel and replace(parcel, purchase=purchase.key))


purchases = st.builds(
    Purchase,
    key=keys,
    supplier=names,
    arrives=dates,
    lines=st.lists(st.builds(OrderLine, names, names, ones_up, st.none() | exact), max_size=3).map(
        tuple
    ),
    ordered=st.none() | dates,
    note=texts,
    parcel=st.none() | deliveries,
    part_came=st.booleans(),
)
pairs = st.lists(ones_up, max_size=3).map(tuple)
rests = st.builds(
    Claim,
    st.sampled_from([ClaimKind.HOLD, ClaimKind.ORDER]),
    names,
    pairs=pairs,
    grams=st.none() | above_zero,
)
claims = st.none() | st.builds(
    Claim, st.sampled_from(ClaimKind), names, pairs=pairs, rest=st.none() | rests
)
grams = st.none() | exact
stripes = st.builds(
    Stripe, slot=letters, rows=st.integers(1, 2000), claim=claims, grams=grams, note=texts
)
slots = st.builds(
    Slot, letter=letters, yarn=names, shade=names, lots=st.none() | st.sampled_from(LotRule)
)
borders = st.builds(
    Border,
    slot=letters,
    rounds=st.integers(1, 9),
    width=lengths("0"),
    pick_up=above_zero,
    corners=counts,
    increase=counts,
    claim=claims,
    grams=grams,
)
fringes = st.builds(Fringe, slot=letters, strands=ones_up, cut=lengths(), claim=claims, grams=grams)
stated = st.builds(
    Stated,
    chain=st.none() | ones_up,
    stitches=st.none() | ones_up,
    rows=st.none() | ones_up,
    width=st.none() | lengths(),
    length=st.none() | lengths(),
)
projects = st.builds(
    Project,
    key=keys,
    name=names,
    stage=st.sampled_from(Stage),
    stitch=names,
    hook_mm=hooks,
    width=lengths(),
    length=lengths(),
    slots=st.lists(slots, max_size=3, unique_by=lambda s: s.letter).map(
        lambda found: tuple(sorted(found, key=lambda s: (len(s.letter), s.letter)))
    ),
    stripes=st.lists(stripes, max_size=6).map(tuple),
    customer=lines,
    due=st.none() | dates,
    booked=st.none() | dates,
    direction=st.sampled_from(Direction),
    method=st.sampled_from(Method),
    join=st.none() | st.sampled_from(Join),
    mix=st.booleans(),
    border=st.none() | borders,
    fringe=st.none() | fringes,
    rows_done=counts,
    stated=stated,
    notions=st.lists(st.builds(Notion, names, exact), max_size=2).map(tuple),
    weigh_ins=st.lists(
        st.builds(WeighIn, letters, ones_up, above_zero, ones_up, st.none() | dates), max_size=2
    ).map(tuple),
    used=st.lists(
        st.builds(
            Used,
            names,
            names,
            lines,
            above_zero,
            st.none() | exact,
            st.none() | dates,
            st.sampled_from(UsedFrom),
            counts,
            st.booleans(),
        ),
        max_size=2,
    ).map(tuple),
    accepted=st.lists(st.builds(Accepted, names, texts), max_size=2).map(tuple),
    note=texts,
    quote=st.none() | trade.quotes(),
    price=trade.prices,
    payments=trade.payments,
    reached=trade.reached,
    log=trade.logs,
    minutes=trade.minutes,
    for_baby=st.booleans(),
    collected=st.booleans(),
)
settings = st.builds(
    Settings,
    name=names,
    currency=st.sampled_from(["EUR", "JPY", "KWD"]),
    length_unit=st.sampled_from(LengthUnit),
    weight_unit=st.sampled_from(WeightUnit),
    terms=st.sampled_from(CrochetTerms),
    rate_per_hour=exact,
    tax_registered=st.booleans(),
    stash_value=st.sampled_from(StashValue),
    join=st.sampled_from(Join),
    lots_for_customer=st.sampled_from(LotRule),
    lots_otherwise=st.sampled_from(LotRule),
    theme=lines,
    assumed=st.builds(
        Assumed,
        prior_weight=above_zero,
        confidence=st.decimals("0.5", "0.999", places=3),
        carry_rows=counts,
        tail=lengths("0"),
    ),
)


def _keyed(things: st.SearchStrategy[T]) -> st.SearchStrategy[tuple[T, ...]]:
    """Up to two things of one kind, sorted by key."""
    found = st.lists(things, max_size=2, unique_by=lambda thing: thing.key)
    return found.map(lambda listed: tuple(sorted(listed, key=lambda thing: thing.key)))


@st.composite
def studios(draw: st.DrawFn) -> Studio:
    """A whole studio, in the order in which a folder is read."""
    known = draw(st.lists(yarns, max_size=2, unique_by=lambda y: y.key))
    stash = [
        replace(lot, yarn=key)
        for key in sorted(yarn.key for yarn in known)
        for lot in draw(st.lists(lots, max_size=3, unique_by=lambda lot: (lot.shade, lot.code)))
    ]
    book = draw(trade.books())
    return Studio(
        draw(settings),
        Library(
            tuple(sorted(known, key=lambda y: y.key)),
            draw(_keyed(stitches)),
            draw(_keyed(swatches)),
        ),
        Stash(tuple(stash), tuple(own_parcel(p) for p in draw(_keyed(purchases)))),
        draw(_keyed(projects)),
        draw(trade.customers),
        draw(st.just(Trade()) | trade.trades),
        book.suppliers,
        book.offers,
    )
