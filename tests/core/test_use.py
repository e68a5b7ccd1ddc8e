"""The one formula of yarn use, against published figures and its own laws."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
import scipy
from hypothesis import assume, given
from hypothesis import strategies as st

from studio.core import use as uses
from studio.core.answers import RowUse, Rung
from studio.core.model import Assumed, Join
from studio.core.use import Observation, Supply

ASSUMED = Assumed()
BARE = Assumed(
    prior_weight=Decimal(0),
    other_piece_spread=Decimal(0),
    ball_spread=Decimal(0),
    scale_step_g=Decimal(0),
)
"""No prior, no other piece's spread, exact balls: only what was observed."""


def fit(
    seen: list[tuple[float, float]], assumed: Assumed = ASSUMED, rung: Rung = Rung.TRIAL
) -> RowUse:
    """Fit (grams, rows) at the piece's own stitches."""
    found = uses.fit(
        [Observation(g, n, 100) for g, n in seen], stitches=100, rung=rung, assumed=assumed
    )
    assert found is not None
    return found


def of_row(grams: float) -> RowUse:
    """A use that is known exactly."""
    return RowUse(Rung.WEIGH_IN, grams, 0.0, 1000.0, 10.0, 0.0, 5)


# Published and independent figures


SIX = [9.5, 9.6, 10.1, 10.2, 10.1, 10.5]


def six_of_spread_half() -> list[tuple[float, float]]:
    """Six values of mean 10 and standard deviation 0.5, one row each."""
    middle = sum(SIX) / 6
    spread = math.sqrt(sum((v - middle) ** 2 for v in SIX) / 5)
    return [(10 + 0.5 * (v - middle) / spread, 1.0) for v in SIX]


def test_the_prediction_interval_for_a_sum_of_future_values() -> None:
    # Berthouex & Brown, Statistics for Environmental Engineers, ch. 21, the formula; figures for
    # k 6, mean 10, s 0.5, 40 more, stock 410 derived from it.
    use = fit(six_of_spread_half(), BARE)
    assert uses.need(use, 40, BARE).mean_g == pytest.approx(400)
    assert uses.need(use, 40, BARE).bound_g == pytest.approx(417.6437, abs=5e-5)
    enough = uses.chance_enough([(use, 40)], Supply(0, 100.0, (410.0,)), BARE).chance
    assert 1 - enough == pytest.approx(0.152573, abs=5e-7)


@pytest.mark.parametrize(
    ("k", "one", "mean_of_k"),
    # Two-sided 95 % factors for one future value and the mean of k, derived from the same formula.
    [
        (4, 3.56, 2.25),
        (5, 3.04, 1.76),
        (6, 2.78, 1.48),
        (7, 2.62, 1.31),
        (8, 2.51, 1.18),
        (10, 2.37, 1.01),
        (20, 2.14, 0.66),
    ],
)
def test_factors_of_prediction(k: int, one: float, mean_of_k: float) -> None:
    seen = [(10.0 + (1 if i % 2 else -1), 1.0) for i in range(k)]
    middle = sum(g for g, _ in seen) / k
    s = math.sqrt(sum((g - middle) ** 2 for g, _ in seen) / (k - 1))
    both_sides = replace(BARE, confidence=Decimal("0.975"))
    use = fit(seen, both_sides)
    for rows, factor in ((1, one), (k, mean_of_k)):
        need = uses.need(use, rows, both_sides)
        half_width = (need.bound_g - need.mean_g) / rows / s
        assert half_width == pytest.approx(factor, abs=5.01e-3)


NO_INT_1 = [(130.0 + i, 60.0 + i) for i in range(11)]
"""NIST StRD, linear regression NoInt1: y and x of a line through the origin."""


def through_origin(pairs: list[tuple[float, float]]) -> tuple[float, float, float]:
    """Slope, its standard deviation and the residual one, by ordinary least squares."""
    xx = sum(x * x for _, x in pairs)
    slope = sum(x * y for y, x in pairs) / xx
    residual = math.sqrt(sum((y - slope * x) ** 2 for y, x in pairs) / (len(pairs) - 1))
    return slope, residual / math.sqrt(xx), residual


def test_the_use_is_a_weighted_line_through_the_origin() -> None:
    # Certified values of NIST StRD NoInt1 (from memory, recomputed) prove the plain routine here.
    slope, deviation, residual = through_origin(NO_INT_1)
    assert slope == pytest.approx(2.07438016528926, rel=1e-13)
    assert deviation == pytest.approx(0.0165289256198347, rel=1e-12)
    assert residual == pytest.approx(3.56753034006338, rel=1e-12)
    # Yarn use scatters with the rows, so ours is the same line weighted by 1 / rows: the routine
    # on data divided by the root of their rows gives our mean, spread and doubt about the mean.
    use = fit(NO_INT_1, BARE)
    weighted, doubt, spread = through_origin(
        [(y / math.sqrt(x), math.sqrt(x)) for y, x in NO_INT_1]
    )
    assert use.row_g == pytest.approx(weighted)
    assert use.spread_g2 == pytest.approx(spread**2)
    assert uses.variance(use, 100) == pytest.approx(100 * spread**2 + (100 * doubt) ** 2)
    assert use.row_g == pytest.approx(slope, abs=deviation)


def test_the_formula_with_its_prior() -> None:
    # Worked by hand from the trade rules, with scipy's t.
    use = fit([(102, 10), (198, 20)])
    mean = 300 / 30
    spread = (4 * (0.05 * mean) ** 2 + 2**2 / 10 + 2**2 / 20) / 5
    assert (use.row_g, use.freedom, use.observations) == (mean, 5, 2)
    assert use.spread_g2 == pytest.approx(spread)
    sd = math.sqrt(spread * (40 + 40**2 / 30) + (0.03 * 400) ** 2)
    bound = 400 + scipy.special.stdtrit(5, 0.95) * sd
    assert uses.need(use, 40, ASSUMED).bound_g == pytest.approx(bound)
    own = fit([(102, 10), (198, 20)], rung=Rung.WEIGH_IN)
    assert uses.variance(own, 40) == pytest.approx(spread * (40 + 40**2 / 30))


def test_rows_of_another_width_are_normalised() -> None:
    seen = [Observation(50, 10, 50)]
    use = uses.fit(seen, stitches=100, rung=Rung.SWATCH, assumed=ASSUMED)
    assert use is not None
    # 10 rows of 50 stitches are 5 rows of 100.
    assert (use.row_g, use.rows_seen) == (10, 5)


def test_what_cannot_be_fitted() -> None:
    bad = [Observation(0, 10, 50), Observation(10, 0, 50), Observation(10, 10, 0)]
    assert uses.fit(bad, stitches=100, rung=Rung.TRIAL, assumed=ASSUMED) is None
    assert uses.fit([], stitches=100, rung=Rung.TRIAL, assumed=ASSUMED) is None
    good = [Observation(10, 1, 100)]
    assert uses.fit(good, stitches=0, rung=Rung.TRIAL, assumed=ASSUMED) is None


def test_a_single_observation_without_a_prior_still_has_a_spread() -> None:
    use = fit([(100, 10)], BARE)
    assert use.freedom == 1
    assert use.spread_g2 == pytest.approx((0.05 * 10) ** 2)


def test_rough_figures_are_rough() -> None:
    # From memory: single crochet in a medium yarn weighs about 550 g to the square metre.
    use = uses.rough(4, 10_000, ASSUMED)
    assert use is not None
    assert use.row_g == pytest.approx(550, rel=0.03)
    need = uses.need(use, 1, ASSUMED)
    assert need.bound_g > 1.4 * need.mean_g
    figures = [uses.rough(c, 100, ASSUMED) for c in range(8)]
    grams = [f.row_g for f in figures if f]
    assert len(grams) == 8
    assert grams == sorted(grams)
    assert uses.rough(8, 100, ASSUMED) is None
    assert uses.rough(4, 0, ASSUMED) is None


# Laws

SEEN = st.lists(st.tuples(st.floats(1, 500), st.floats(0.5, 60)), min_size=1, max_size=6)
RUNGS = st.sampled_from([Rung.WEIGH_IN, Rung.PIECES, Rung.SWATCH])
ROWS = st.floats(0, 400)


@given(SEEN, RUNGS, ROWS, st.floats(0, 50))
def test_need_grows_with_rows_and_is_never_below_the_mean(
    seen: list[tuple[float, float]], rung: Rung, rows: float, more: float
) -> None:
    use = fit(seen, rung=rung)
    need, wider = uses.need(use, rows, ASSUMED), uses.need(use, rows + more, ASSUMED)
    assert need.bound_g >= need.mean_g
    assert wider.mean_g >= need.mean_g
    assert wider.bound_g >= need.bound_g


@given(SEEN, RUNGS, st.floats(1, 400), st.floats(0.5, 60))
def test_evidence_that_agrees_narrows(
    seen: list[tuple[float, float]], rung: Rung, rows: float, seen_more: float
) -> None:
    use = fit(seen, rung=rung)
    surer = fit([*seen, (use.row_g * seen_more, seen_more)], rung=rung)
    assert surer.row_g == pytest.approx(use.row_g)
    assert uses.need(surer, rows, ASSUMED).bound_g <= uses.need(use, rows, ASSUMED).bound_g * (
        1 + 1e-9
    )


@given(SEEN, RUNGS, st.floats(1, 200), st.floats(1, 200))
def test_runs_apart_need_no_less_than_together(
    seen: list[tuple[float, float]], rung: Rung, one: float, other: float
) -> None:
    use = fit(seen, rung=rung)
    apart = uses.need(use, one, ASSUMED).bound_g + uses.need(use, other, ASSUMED).bound_g
    assert apart >= uses.need(use, one + other, ASSUMED).bound_g - 1e-6


@given(SEEN, RUNGS, st.floats(20, 2000), st.floats(0, 400))
def test_rows_within_is_need_backwards(
    seen: list[tuple[float, float]], rung: Rung, grams: float, extra: float
) -> None:
    use = fit(seen, rung=rung)
    rows = uses.rows_within(use, grams, extra, ASSUMED)
    t = scipy.special.stdtrit(use.freedom, 0.95)
    if rows == 0:
        assert t * math.sqrt(extra) >= grams - 1e-6
    else:
        reached = rows * use.row_g + t * math.sqrt(uses.variance(use, rows) + extra)
        assert reached == pytest.approx(grams, rel=1e-6)


# Rows from balls


@given(st.floats(3 / 22 + 1e-9, 3 / 20))
def test_both_roundings_of_the_ball_come_out_of_one_model(ball_per_row: float) -> None:
    # Common practice, no source: a ball gives 6 rows; three together give 20 but not 22.
    use = of_row(50 * ball_per_row)
    rows = [
        uses.rows_from_balls(use, n, 50, Join.ANYWHERE, even=True, assumed=BARE)[0] for n in (1, 3)
    ]
    assert rows == [6, 20]


@given(st.floats(0.01, 0.5))
def test_three_balls_fix_the_use_to_that_interval(ball_per_row: float) -> None:
    assume(abs(ball_per_row - 3 / 22) > 1e-9)
    assume(abs(ball_per_row - 3 / 20) > 1e-9)
    rows, _ = uses.rows_from_balls(
        of_row(50 * ball_per_row), 3, 50, Join.ANYWHERE, even=True, assumed=BARE
    )
    assert (rows == 20) == (3 / 22 < ball_per_row <= 3 / 20)


def test_a_trial_of_three_balls_lands_in_the_interval() -> None:
    use = fit([(150, 21)])
    assert 3 / 22 < use.row_g / 50 < 3 / 20


@pytest.mark.parametrize(
    ("per_ball", "anywhere", "edge"),
    # The trade rules' own figures for two balls, in even rows.
    [(9.5, 18, 18), (9.4, 18, 18), (8.9, 16, 16), (9.0, 18, 18)],
)
def test_two_balls_joined(per_ball: float, anywhere: int, edge: int) -> None:
    for join, expected in ((Join.ANYWHERE, anywhere), (Join.EDGE, edge)):
        found = uses.rows_from_balls(of_row(1.0), 2, per_ball, join, even=True, assumed=BARE)
        assert found == (expected, expected)


def test_a_remnant_under_a_row_is_lost_only_at_the_edge() -> None:
    use = of_row(1.0)
    rows = {
        join: uses.rows_from_balls(use, 3, 9.5, join, even=False, assumed=BARE)[0] for join in Join
    }
    assert rows == {Join.ANYWHERE: 28, Join.EDGE: 27}


@given(SEEN, RUNGS, st.integers(0, 12), st.floats(20, 200), st.sampled_from(Join), st.booleans())
def test_safe_rows_are_no_more_than_expected(
    seen: list[tuple[float, float]],
    rung: Rung,
    balls: int,
    ball_g: float,
    join: Join,
    even: bool,
) -> None:
    use = fit(seen, rung=rung)
    expected, safe = uses.rows_from_balls(use, balls, ball_g, join, even=even, assumed=ASSUMED)
    assert 0 <= safe <= expected
    if even:
        assert expected % 2 == safe % 2 == 0
    more = uses.rows_from_balls(use, balls + 1, ball_g, join, even=even, assumed=ASSUMED)
    assert more[0] >= expected
    assert more[1] >= safe
    pooled = uses.rows_from_balls(use, balls, ball_g, Join.ANYWHERE, even=even, assumed=ASSUMED)
    assert pooled[0] >= expected


# The need of a run


@given(SEEN, RUNGS, st.integers(0, 80), st.floats(20, 200), st.floats(0, 2), st.sampled_from(Join))
def test_the_need_of_a_run_grows_with_its_rows(
    seen: list[tuple[float, float]],
    rung: Rung,
    rows: int,
    ball_g: float,
    tails: float,
    join: Join,
) -> None:
    use = fit(seen, rung=rung)
    now, then = (uses.run_need(use, n, n, ball_g, tails, join, ASSUMED) for n in (rows, rows + 1))
    assert now.bound_g >= now.mean_g
    assert then.bound_g >= now.bound_g - 1e-9
    assert then.mean_g >= now.mean_g
    if rows:
        assert now.mean_g >= rows * use.row_g + tails - 1e-9


def test_balls_joined_at_the_edge_are_whole_but_for_the_last() -> None:
    use = of_row(1.0)

    def bound(rows: int) -> float:
        return uses.run_need(use, rows, rows, 9.5, 0.0, Join.EDGE, BARE).bound_g

    assert bound(9) == pytest.approx(9)
    assert bound(10) == pytest.approx(9.5 + 1)
    assert bound(18) == pytest.approx(2 * 9.5)
    assert bound(20) == pytest.approx(2 * 9.5 + 2)
    anywhere = uses.run_need(use, 19, 19, 9.5, 0.0, Join.ANYWHERE, BARE)
    assert anywhere.bound_g == pytest.approx(19)


def test_a_heavier_first_row_takes_from_the_first_ball() -> None:
    # 9.5 g balls: the first row takes 2 g, so the first ball works 8 rows and the next one.
    need = uses.run_need(of_row(1.0), 9, 10.0, 9.5, 0.0, Join.EDGE, BARE)
    assert need.bound_g == pytest.approx(9.5 + 1)


def test_a_ball_under_a_row_is_joined_within_it() -> None:
    need = uses.run_need(of_row(20.0), 3, 3, 15.0, 0.0, Join.EDGE, BARE)
    assert need.bound_g == pytest.approx(60)


def test_every_strand_adds_two_tails() -> None:
    # Common practice, no source. Three balls are three strands.
    use = of_row(10.0)
    assert uses.run_need(use, 25, 25, 100, 0.5, Join.ANYWHERE, BARE).mean_g == pytest.approx(251.5)
    begun = uses.run_need(use, 25, 25, 100, 0.5, Join.ANYWHERE, BARE, begun=True)
    assert begun.mean_g == pytest.approx(251.25)
    assert uses.run_need(use, 0, 0, 100, 0.5, Join.ANYWHERE, BARE) == uses.NOTHING


@pytest.mark.parametrize(("grams", "strands"), [(0, 1), (50, 1), (100, 1), (100.5, 2), (300, 3)])
def test_strands(grams: float, strands: int) -> None:
    assert uses.strands_for(grams, 100) == strands
    assert uses.strands_for(grams, 0) == 1


# The chance that it is enough


@given(SEEN, RUNGS, st.floats(1, 200))
def test_the_bound_is_what_is_enough_at_the_assumed_chance(
    seen: list[tuple[float, float]], rung: Rung, rows: float
) -> None:
    exact = replace(ASSUMED, ball_spread=Decimal(0), scale_step_g=Decimal(0))
    use = fit(seen, rung=rung)
    supply = Supply(0, 100.0, (uses.need(use, rows, exact).bound_g,))
    assert uses.chance_enough([(use, rows)], supply, exact).chance == pytest.approx(0.95)


@given(SEEN, st.lists(st.floats(1, 40), min_size=2, max_size=5), st.integers(0, 20))
def test_rows_of_one_use_are_pooled_first(
    seen: list[tuple[float, float]], runs: list[float], balls: int
) -> None:
    use = fit(seen)
    supply = Supply(balls, 50.0, (12.0,))
    pooled = uses.chance_enough([(use, sum(runs))], supply, ASSUMED).chance
    apart = uses.chance_enough([(use, n) for n in runs], supply, ASSUMED).chance
    assert apart == pytest.approx(pooled)


@given(SEEN, st.floats(1, 200), st.integers(0, 20), st.integers(1, 5))
def test_more_exact_yarn_is_never_a_worse_chance(
    seen: list[tuple[float, float]], rows: float, balls: int, more: int
) -> None:
    exact = replace(ASSUMED, ball_spread=Decimal(0), scale_step_g=Decimal(0))
    use = fit(seen)
    less, greater = (
        uses.chance_enough([(use, rows)], Supply(n, 50.0), exact).chance
        for n in (balls, balls + more)
    )
    assert 0 <= less <= greater <= 1


def test_unopened_balls_and_the_scale_add_their_doubt() -> None:
    supply = Supply(10, 50.0, (30.0, 20.0))
    assert supply.grams == 550
    # Ten balls off by 1 g each, two readings off by a uniform gram.
    assert supply.variance(ASSUMED) == pytest.approx(10 * 1.0**2 + 2 / 12)
    use = fit([(100, 10), (101, 10), (99, 10)], rung=Rung.WEIGH_IN)
    t = (550 - 500) / math.sqrt(uses.variance(use, 50) + supply.variance(ASSUMED))
    expected = scipy.special.stdtr(use.freedom, t)
    assert uses.chance_enough([(use, 50)], supply, ASSUMED).chance == pytest.approx(expected)


def test_different_uses_add_as_independent_with_the_fewest_degrees_of_freedom() -> None:
    one, other = fit([(100, 10)]), fit([(55, 5), (54, 5), (50, 5)])
    supply = Supply(0, 50.0, (400.0,))
    mean = 20 * one.row_g + 10 * other.row_g + 15
    sd = math.sqrt(uses.variance(one, 20) + uses.variance(other, 10) + 1 / 12)
    expected = scipy.special.stdtr(4, (400 - mean) / sd)
    asked = [(one, 20.0), (other, 10.0)]
    found = uses.chance_enough(asked, supply, ASSUMED, sure_g=15)
    assert found.chance == pytest.approx(expected)


def test_nothing_asked_is_always_enough_and_the_exact_is_certain() -> None:
    assert uses.chance_enough([], Supply(0, 50.0), ASSUMED).chance == 1.0
    assert uses.chance_enough([(of_row(1.0), 0)], Supply(0, 50.0), ASSUMED).chance == 1.0
    assert uses.chance_enough([], Supply(1, 50.0), BARE, sure_g=50).chance == 1.0
    assert uses.chance_enough([], Supply(1, 50.0), BARE, sure_g=51).chance == 0.0


def test_two_pieces_on_one_swatch_share_the_doubt_about_it() -> None:
    # The same weighing for rows of 100 and of 150 stitches: one row of the second is one and a
    # half of the first, and where the swatch says too little it does so for both.
    seen = [Observation(100.0, 10.0, 100.0)]
    narrow, wide = (
        uses.fit(seen, stitches=n, rung=Rung.SWATCH, assumed=ASSUMED) for n in (100.0, 150.0)
    )
    assert narrow is not None
    assert wide is not None
    assert uses.evidence_of(narrow) == uses.evidence_of(wide)
    other = uses.fit(
        [Observation(101.0, 10.0, 100.0)], stitches=150.0, rung=Rung.SWATCH, assumed=ASSUMED
    )
    assert other is not None
    supply = Supply(0, 50.0, (30 * 10.0 + 20 * 15.0 + 40,))
    shared = uses.chance_enough([(narrow, 30.0), (wide, 20.0)], supply, ASSUMED)
    apart = uses.chance_enough([(narrow, 30.0), (other, 20.0)], supply, ASSUMED)
    assert shared.chance < apart.chance
    # By hand, of the formula in this module's head: the doubts about the mean are summed first.
    own = narrow.spread_g2 * 30 + wide.spread_g2 * 20 + 1 / 12
    doubt = sum(
        n * math.sqrt(u.spread_g2 / u.rows_seen + (u.elsewhere * u.row_g) ** 2)
        for u, n in ((narrow, 30), (wide, 20))
    )
    expected = scipy.special.stdtr(4, 40 / math.sqrt(own + doubt**2))
    assert shared.chance == pytest.approx(expected)
    assert [share for _, share in shared.doubts] == [
        pytest.approx(doubt / math.sqrt(own + doubt**2))
    ]


@given(st.lists(st.tuples(st.floats(0.02, 0.999), st.floats(0.0, 0.95)), min_size=2, max_size=4))
def test_lots_on_one_swatch_run_short_together(lots: list[tuple[float, float]]) -> None:
    """scipy's multivariate normal is another way to the same chance."""
    from scipy.stats import multivariate_normal  # a second to read in, and only wanted here

    swatch = (1, 100.0)
    found = uses.chance_of_all([uses.Enough(c, ((swatch, share),)) for c, share in lots])
    shares = [share for _, share in lots]
    ties = [[1.0 if i == j else a * b for j, b in enumerate(shares)] for i, a in enumerate(shares)]
    bounds = scipy.special.ndtri([chance for chance, _ in lots])
    expected = multivariate_normal.cdf(bounds, mean=[0.0] * len(lots), cov=ties)
    assert found == pytest.approx(float(expected), abs=2e-4)
    alone = math.prod(chance for chance, _ in lots)
    assert alone - 1e-6 <= found <= min(chance for chance, _ in lots) + 1e-6


def test_lots_on_different_evidence_are_independent_and_an_empty_one_is_certain() -> None:
    apart = [uses.Enough(0.9, (((1, 100.0), 0.8),)), uses.Enough(0.8, (((1, 50.0), 0.8),))]
    assert uses.chance_of_all(apart) == pytest.approx(0.72)
    assert uses.chance_of_all([uses.Enough(0.9), uses.Enough(1.0)]) == pytest.approx(0.9)
    assert uses.chance_of_all([uses.Enough(0.9), uses.Enough(0.0)]) == 0.0
    assert uses.chance_of_all([]) == 1.0
