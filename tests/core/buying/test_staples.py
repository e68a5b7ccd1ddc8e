"""Order quantities against textbook and journal examples, and yearly use against plain sums."""

from __future__ import annotations

import math
import random
import statistics
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.buying.offers import Shipping, WeightTier, flat
from studio.core.buying.staples import (
    OrderCost,
    OrderSize,
    Standing,
    TooLittle,
    Use,
    YearlyUse,
    best_order_size,
    economic_quantity,
    order_sizes,
    reorder_point,
    uses_of,
    yearly_use,
)
from studio.core.model import ShadeRef
from tests.core.buying.making import D, steps

TODAY = date(2027, 6, 1)


def test_discount_store_with_three_prices() -> None:
    # Heizer & Render, Operations Management, inventory chapter, data as printed at
    # https://quesba.com/questions/wohl-s-discount-stores-stocks-toy-race-cars-recently-the-store-
    # has-been-giv-48672 ; the table of answers from memory, recomputed (standards.md 3a).
    prices = steps((1, "5.00"), (1000, "4.80"), (2000, "4.75"))
    sizes = order_sizes(5000, D(49), D("0.20"), prices)
    assert [s.balls for s in sizes] == [700, 1000, 2000]
    assert [round(s.year, 2) for s in sizes] == [25_700.00, 24_725.00, 24_822.50]
    assert [round(s.ordering, 2) for s in sizes] == [350.00, 245.00, 122.50]
    assert [round(s.holding, 2) for s in sizes] == [350.00, 480.00, 950.00]
    best = best_order_size(5000, D(49), D("0.20"), prices)
    assert (best.balls, best.price) == (1000, D("4.80"))


def test_four_breaks_with_a_complete_published_answer() -> None:
    # https://nursingexpertshelp.com/1-using-the-data-below-find-the-least-cost-order-quantities-
    # when-there-are-quantity-discounts-order-cost-60-inventory-holding-cost-30-percent-of-item-
    # value-and-annual-demand-800/ (standards.md 3b)
    prices = steps((1, "53"), (50, "51.50"), (100, "49.50"), (200, "48"), (500, "47"))
    sizes = {s.balls: s.year for s in order_sizes(800, D(60), D("0.30"), prices)}
    assert sizes[79] == pytest.approx(42_417.9, abs=0.1)
    assert sizes[100] == pytest.approx(40_822.5)
    assert sizes[200] == pytest.approx(40_080)
    assert sizes[500] == pytest.approx(41_221)
    assert best_order_size(800, D(60), D("0.30"), prices).balls == 200


def test_harris_of_1913() -> None:
    # Harris, 'How Many Parts to Make at Once', Factory 10(2), 1913: M = 1000 a month, S = 2.00,
    # C = 0.10, 10 % interest; he prints 2190 (http://docplayer.net/10594, standards.md 3e).
    assert economic_quantity(12 * 1000, 2.0, 0.10 * 0.10) == pytest.approx(2190, abs=1)


def test_a_case_whose_printed_solution_is_wrong_elsewhere() -> None:
    # standards.md 3d, recomputed there: EOQs 400 / 408.25 / 421.64 / 447.21, 1000 at 4240.00.
    prices = steps((1, "2.50"), (200, "2.40"), (300, "2.25"), (1000, "2.00"))
    best = best_order_size(2000, D(20), D("0.20"), prices)
    assert best.balls == 1000
    assert best.year == pytest.approx(4240.00)


@given(
    yearly=st.integers(1, 400),
    order_cost=st.integers(0, 60),
    rate=st.integers(1, 60),
    pack=st.sampled_from([1, 3, 10]),
    starts=st.lists(st.integers(2, 120), max_size=3, unique=True),
)
def test_no_size_is_cheaper(
    yearly: int, order_cost: int, rate: int, pack: int, starts: list[int]
) -> None:
    prices = [(1, "9.00")]
    for at, start in enumerate(sorted(starts)):
        prices.append((start, str(D("8.60") - at * D("0.40"))))
    breaks = steps(*prices)
    best = best_order_size(yearly, D(order_cost), D(rate) / 100, breaks, pack)
    for packs in range(1, 300 // pack):
        balls = packs * pack
        price = float([b.price for b in breaks if b.from_balls <= balls][-1])
        cost = yearly * price + yearly / balls * order_cost + balls / 2 * rate / 100 * price
        assert best.year <= cost + 1e-6


@given(
    yearly=st.integers(1, 200),
    fixed=st.integers(0, 20),
    rate=st.integers(1, 60),
    pack=st.sampled_from([1, 3, 5]),
    start=st.integers(2, 40),
    limits=st.lists(st.integers(1, 60), max_size=2, unique=True),
    free=st.none() | st.integers(1, 500),
)
def test_no_size_is_cheaper_with_its_parcel(
    yearly: int,
    fixed: int,
    rate: int,
    pack: int,
    start: int,
    limits: list[int],
    free: int | None,
) -> None:
    """Against every size in turn: shipping rises with weight, and is free from a sum."""
    breaks, shipping = steps((1, "9.00"), (start, "8.20")), [4 * n + 5 for n in range(3)]
    tiers = [WeightTier(D(n * 100), D(c)) for n, c in zip(sorted(limits), shipping, strict=False)]
    terms = Shipping((*tiers, WeightTier(None, D(30))), None if free is None else D(free))
    best = best_order_size(yearly, OrderCost(D(fixed), terms, D(100)), D(rate) / 100, breaks, pack)

    def year(balls: int) -> float:
        price = 8.2 if balls >= start else 9.0
        parcel = next((float(t.cost) for t in tiers if balls * 100 <= (t.up_to_g or 0)), 30.0)
        if free is not None and balls * round(price * 100) >= free * 100:
            parcel = 0.0
        ordering = yearly / balls * (fixed + parcel)
        return yearly * price + ordering + balls / 2 * rate / 100 * price

    assert best.year == pytest.approx(year(best.balls))
    assert best.year <= min(year(packs * pack) for packs in range(1, 300 // pack)) + 1e-6


def test_free_shipping_may_be_worth_a_larger_order() -> None:
    # By hand: 15.35 balls a year at 6.60, 2.00 an order, 7.90 a parcel and free from 120.00.
    # Orders of 15: 101.31 + 10.13 + 9.90 = 121.34; of 20 (132.00, free): 101.31 + 1.54 + 13.20.
    terms = flat(D("7.90"), D(120))
    cost = OrderCost(D(2), terms, D(100))
    best = best_order_size(15.35, cost, D("0.2"), steps((1, "6.60")), 5)
    assert best.balls == 20
    assert best.year == pytest.approx(116.045)
    assert best_order_size(15.35, D("9.90"), D("0.2"), steps((1, "6.60")), 5).balls == 15


def uses(count: int, every_days: int, balls: int = 2) -> list[Use]:
    return [Use(TODAY - timedelta(days=every_days * n), Decimal(balls)) for n in range(count)]


def test_no_figure_below_eight_uses_or_twelve_months() -> None:
    few = yearly_use(uses(7, 60), TODAY)
    assert isinstance(few, TooLittle)
    assert few.text == "7 uses so far: yearly use is told from 8 uses on."
    short = yearly_use(uses(12, 30), TODAY)
    assert isinstance(short, TooLittle)
    assert "330 days" in short.text
    assert isinstance(yearly_use(uses(8, 53), TODAY), YearlyUse)
    assert isinstance(yearly_use([], TODAY), TooLittle)


def test_uses_are_what_delivered_pieces_took() -> None:
    moss, clay = ShadeRef("wool", "10"), ShadeRef("wool", "20")
    delivered = [
        (date(2027, 3, 1), {moss: 75.0, clay: 30.0}),
        (date(2026, 9, 1), {clay: 20.0}),
    ]
    assert uses_of(moss, D(50), delivered) == (Use(date(2027, 3, 1), D("1.5")),)
    assert [u.balls for u in uses_of(clay, D(50), delivered)] == [D("0.4"), D("0.6")]


def test_later_uses_and_those_before_the_records_do_not_count() -> None:
    later = [*uses(7, 60), Use(TODAY + timedelta(days=3), D(9))]
    assert isinstance(yearly_use(later, TODAY), TooLittle)
    found = yearly_use(uses(20, 50), TODAY, since=TODAY - timedelta(days=500))
    assert isinstance(found, YearlyUse)
    assert found.uses == 11
    assert found.since == TODAY - timedelta(days=500)


def test_yearly_use_is_the_sum_over_the_time() -> None:
    found = yearly_use(uses(24, 30, 3), TODAY)
    assert isinstance(found, YearlyUse)
    assert found.balls == pytest.approx(24 * 3 / (23 * 30) * 365.25)


def test_spread_counts_the_months_without_use() -> None:
    # Two years, six balls in every other month: the months are 6, 0, 6, 0 ...
    days = [round((2 * n + 0.5) * 365.25 / 12) for n in range(12)]
    taken = [Use(TODAY - timedelta(days=d), D(6)) for d in days]
    found = yearly_use(taken, TODAY, since=TODAY - timedelta(days=731))
    assert isinstance(found, YearlyUse)
    assert found.month_spread == pytest.approx(statistics.stdev([6.0, 0.0] * 12))


def test_reorder_point_without_spread_is_the_use_of_the_lead_time() -> None:
    steady = YearlyUse(36.525, 0.0, 20, TODAY)
    point = reorder_point(steady, 30)
    assert point.safety == 0
    assert point.balls == 3


def test_safety_stock_follows_the_formula() -> None:
    # z = 1.645 (one-sided 95 %, NIST e-Handbook 1.3.6.7.1); a lead time of two months.
    use = YearlyUse(120.0, 4.0, 20, TODAY)
    point = reorder_point(use, 365.25 / 6)
    assert point.safety == pytest.approx(1.645 * 4 * math.sqrt(2), rel=1e-3)
    assert point.lead_use == pytest.approx(20)


def test_seen_lead_times_replace_the_stated_one() -> None:
    use = YearlyUse(365.25, 0.0, 20, TODAY)
    point = reorder_point(use, 5, [10, 14])
    assert point.lead_days == 12
    assert point.safety == pytest.approx(1.645 * math.sqrt(8), rel=1e-3)


def test_safety_stock_lasts_as_often_as_it_says() -> None:
    # A simulation of 20 000 lead times of one month with normal use.
    use = YearlyUse(120.0, 3.0, 20, TODAY)
    point = reorder_point(use, 365.25 / 12)
    rng = random.Random(1)
    shelf = point.lead_use + point.safety
    lasts = sum(rng.gauss(10, 3) <= shelf for _ in range(20_000)) / 20_000
    assert lasts == pytest.approx(0.95, abs=0.006)


def test_time_to_reorder_counts_what_is_on_order() -> None:
    point = reorder_point(YearlyUse(120.0, 0.0, 20, TODAY), 365.25 / 12)
    size = OrderSize(40, D(4), 0.0, 0.0, 0.0)
    low = Standing(D("6.5"), 0, point, size)
    assert low.due
    assert low.text("Wool Moss") == (
        "Time to reorder Wool Moss: 6.5 balls free, reorder point 10, order 40."
    )
    assert not Standing(D("6.5"), 10, point, size).due
