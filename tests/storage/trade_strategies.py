"""Hypothesis strategies for what a studio's files say of her trade: prices, hours, suppliers."""

from __future__ import annotations

from datetime import timedelta
from typing import TypeVar

from hypothesis import strategies as st

from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
)
from studio.core.model import Stage
from studio.core.trade_model import (
    Customer,
    DayOff,
    FeeRates,
    Figure,
    Payment,
    PaymentKind,
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
    WorkKind,
    WorkLog,
)
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

T = TypeVar("T")


def _some(things: st.SearchStrategy[T], most: int = 2) -> st.SearchStrategy[tuple[T, ...]]:
    return st.lists(things, max_size=most).map(tuple)


shares = st.decimals(0, "0.999", places=3)
minutes_of_day = st.integers(0, 24 * 60)
days = st.integers(0, 400)
currencies = st.sampled_from(["EUR", "JPY", "KWD"])

customers = st.lists(
    st.builds(Customer, key=names, name=names, contact=_some(lines), note=texts),
    max_size=3,
    unique_by=lambda customer: customer.key,
).map(tuple)

days_off = st.builds(
    lambda first, more, note: DayOff(first, first + timedelta(days=more), note), dates, days, lines
)
trades = st.builds(
    Trade,
    prices=st.builds(
        PriceRules,
        margin=shares,
        overhead=exact,
        overhead_per_hour=exact,
        floor_per_hour=exact,
        tax_rate=shares,
        tax_inclusive=st.booleans(),
        fees=st.builds(FeeRates, shares, shares, shares, exact),
        ending=st.none() | st.builds(PriceEnding, above_zero, exact),
        # A share of nothing is no deposit, which has one way to be said.
        deposit_share=st.none() | shares.filter(bool),
        valid_days=days,
        per_area=st.none() | exact,
    ),
    shipping=_some(st.builds(ShippingTier, names, above_zero, exact, st.none() | exact)),
    packing_g=exact,
    hours=st.builds(
        WorkHours,
        weekday_min=st.tuples(*[minutes_of_day] * 7),
        days_off=_some(days_off),
        daily_limit_min=minutes_of_day,
    ),
    times=st.builds(Times, above_zero, exact, _some(st.builds(Task, names, exact))),
    transit_days=days,
    drying_days=days,
    lead_days=days,
    hand_order=_some(names),
    staples=st.builds(StapleRules, exact, shares, st.decimals("0.5", "0.999", places=3)),
)

signed = st.decimals(-(10**6), 10**6, places=2) | st.decimals(-100, 100, places=20)


@st.composite
def quotes(draw: st.DrawFn) -> Quote:
    """Any quote; its figures may have all the decimals that a computation leaves."""
    on = draw(dates)
    return Quote(
        on=on,
        valid_until=on + timedelta(days=draw(days)),
        price=draw(exact),
        shipping=draw(exact),
        tax=draw(exact),
        total=draw(exact),
        deposit=draw(exact),
        currency=draw(currencies),
        tax_rate=draw(shares),
        tax_inclusive=draw(st.booleans()),
        ready_by=draw(st.none() | dates),
        figures=draw(_some(st.builds(Figure, names, names, signed, lines), 3)),
        assumed=draw(_some(texts)),
    )


payments = _some(st.builds(Payment, st.sampled_from(PaymentKind), above_zero, dates, lines))
reached = _some(st.builds(StageDate, st.sampled_from(Stage), dates), 3)
logs = _some(
    st.builds(
        WorkLog,
        minutes=above_zero,
        kind=st.sampled_from(WorkKind),
        rows=counts,
        first_row=ones_up,
        on=st.none() | dates,
        note=lines,
    )
)

breaks = _some(st.builds(PriceBreak, ones_up, exact), 3)
tiers = _some(st.builds(WeightTier, st.none() | above_zero, exact), 3)


@st.composite
def books(draw: st.DrawFn) -> OfferBook:
    """Any book of offers, sound or not: what is wrong with it is told when it is used."""
    suppliers = draw(
        st.lists(
            st.builds(
                Supplier,
                key=keys,
                name=names,
                currency=currencies,
                lead_days=st.none() | days,
                minimum=exact,
                shipping=st.builds(Shipping, tiers, st.none() | exact),
                note=texts,
                seen_days=_some(days, 3),
            ),
            max_size=2,
            unique_by=lambda supplier: supplier.key,
        )
    )
    suppliers.sort(key=lambda supplier: supplier.key)
    offers = [
        draw(
            st.builds(
                Offer,
                supplier=st.just(supplier.key),
                yarn=names,
                breaks=breaks,
                pack=st.integers(1, 1000),
                shades=st.none() | _some(names),
                scope=st.sampled_from(BreakScope),
                note=lines,
            )
        )
        for supplier in suppliers
        for _ in range(draw(st.integers(0, 2)))
    ]
    return OfferBook(tuple(suppliers), tuple(offers))


minutes = st.none() | above_zero
prices = st.none() | exact
