"""Laws that hold whatever the problem: order of files, more yarn, limits, long groups."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core.lots.arrange import arrange, changes_in
from studio.core.lots.frame import build_frame
from studio.core.lots.judge import is_allowed, value_key, value_of
from studio.core.lots.mip import Limits
from studio.core.lots.problem import Lot, Piece, Run, ShadeProblem
from studio.core.lots.solve import greedy_answer, quick_answer, solve_shade
from tests.bench.lots import staple
from tests.core.lots.cases import small_case

cases = st.integers(10_000, 1_000_000).map(small_case)


@settings(max_examples=60, deadline=None)
@given(cases, st.randoms(use_true_random=False))
def test_the_order_in_which_lots_are_listed_changes_nothing(
    problem: ShadeProblem, rng: random.Random
) -> None:
    lots = list(problem.lots)
    rng.shuffle(lots)
    assert solve_shade(replace(problem, lots=tuple(lots))) == solve_shade(problem)


@settings(max_examples=60, deadline=None)
@given(cases)
def test_a_big_new_lot_never_buys_more(problem: ShadeProblem) -> None:
    before = solve_shade(problem).value
    after = solve_shade(replace(problem, lots=(*problem.lots, Lot("new", 10_000)))).value
    assert after.repair <= before.repair
    if after.repair == before.repair:
        assert [dg for _, dg in after.buy] <= [dg for _, dg in before.buy]


@settings(max_examples=60, deadline=None)
@given(cases)
def test_a_piece_that_chooses_last_takes_nothing_from_those_before(problem: ShadeProblem) -> None:
    last = Piece("last", False, (Run("last run", "a", 25),))
    more = replace(problem, pieces=(*problem.pieces, last))
    before, after = solve_shade(problem).value, solve_shade(more).value
    assert after.repair == before.repair
    assert after.buy[:-1] == before.buy


@settings(max_examples=40, deadline=None)
@given(cases)
def test_a_run_that_needs_nothing_is_never_short(problem: ShadeProblem) -> None:
    idle = Piece("idle", True, (Run("idle run", "a", 0),))
    answer = solve_shade(replace(problem, pieces=(*problem.pieces, idle)))
    assert answer.value.buy[-1] == (0, 0)
    assert is_allowed(replace(problem, pieces=(*problem.pieces, idle)), dict(answer.lots)) is None


@settings(max_examples=40, deadline=None)
@given(cases)
def test_a_quick_answer_that_calls_itself_final_is_the_answer(problem: ShadeProblem) -> None:
    answer, final = quick_answer(problem)
    if final:
        assert answer.lots == solve_shade(problem, Limits(search_steps=0)).lots
    else:
        assert not answer.proved


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 3), st.integers(0, 3)), min_size=2, max_size=8),
    st.randoms(use_true_random=False),
)
def test_arranging_a_group_needs_as_few_changes_as_any_order(
    wanted: list[tuple[int, int]], rng: random.Random
) -> None:
    """Against shuffles that keep each need's lots: none has fewer changes of lot."""
    lots = tuple(Lot(code, 1_000) for code in "ABCD")
    runs = tuple(Run(f"r{at}", "a", need) for at, (need, _) in enumerate(wanted))
    frame = build_frame(ShadeProblem(100, lots, (Piece("p", True, runs),)))
    lot_of = [lot for _, lot in wanted]
    counts: dict[int, dict[int, int]] = {}
    for at, cls in enumerate(frame.classes):
        for run in cls.runs:
            each = counts.setdefault(at, {})
            each[lot_of[run]] = each.get(lot_of[run], 0) + 1
    changes, places, exact = arrange(frame, frame.groups[0], counts)
    assert exact
    assert changes == changes_in([places[run] for run in range(len(runs))])
    for _ in range(40):
        tried = list(lot_of)
        for cls in frame.classes:
            mixed = [lot_of[run] for run in cls.runs]
            rng.shuffle(mixed)
            for run, lot in zip(cls.runs, mixed, strict=True):
                tried[run] = lot
        assert changes <= changes_in(tried)


def test_limits_leave_gaps_but_nothing_worse_than_the_greedy() -> None:
    problem = staple(4, 1.0)
    cut = solve_shade(problem, Limits(search_steps=0, nodes=1, iterations=0))
    greedy = greedy_answer(problem)
    assert cut.gaps
    assert not cut.stopped
    assert all(0 <= gap.gap <= 1 for gap in cut.gaps)
    assert value_key(cut.value) < value_key(greedy.value)
    assert is_allowed(problem, dict(cut.lots)) is None
    assert value_of(problem, dict(cut.lots)) == cut.value


def test_the_emergency_clock_says_that_it_struck() -> None:
    cut = solve_shade(staple(4, 1.0), Limits(search_steps=0, seconds=0.05))
    assert cut.stopped
    assert cut.gaps


def test_the_same_question_has_the_same_answer_after_others() -> None:
    problem = staple(9)
    first = solve_shade(problem)
    solve_shade(staple(3))
    assert solve_shade(problem) == first


@pytest.mark.parametrize("count", [300, 1_500])
def test_a_very_long_group_is_answered(count: int) -> None:
    rng = random.Random(count)
    runs = tuple(Run(f"r{at}", "a", rng.choice([40, 90, 130])) for at in range(count))
    lots = tuple(Lot(f"L{at}", 9_000) for at in range(6))
    problem = ShadeProblem(1_000, lots, (Piece("p", True, runs),))
    answer, _ = quick_answer(problem)
    assert is_allowed(problem, dict(answer.lots)) is None
