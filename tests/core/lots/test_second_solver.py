"""Middle-sized problems against another solver: CP-SAT with one Boolean for each run and lot."""

from __future__ import annotations

import random

import pytest

from studio.core.lots.mip import Limits
from studio.core.lots.problem import Fixed, ShadeProblem
from studio.core.lots.solve import solve_shade
from tests.bench.lots import make_lots, make_piece, shade_of
from tests.core.lots.second import SecondSolver

ALONE = Limits(search_steps=0, fill_steps=0)


def middle_case(seed: int) -> ShadeProblem:
    """Some 20 runs of four pieces over seven lots, too many for looking at all assignments."""
    rng = random.Random(seed)
    lots = make_lots(rng, 7, 3)
    pieces = [
        make_piece(rng, f"p{at}", rng.randint(3, 6), rng.random() < 0.25, (2, 4, 6, 8))
        for at in range(4)
    ]
    return shade_of(rng, lots, pieces, held=1)


@pytest.mark.parametrize("seed", range(20))
def test_the_second_solver_has_the_same_value_at_every_stage(seed: int) -> None:
    problem = middle_case(seed)
    answer = solve_shade(problem, ALONE if seed % 2 else Limits())
    assert answer.proved
    bought, lots, leftovers = SecondSolver(problem).stages()
    assert [dg for _, dg in answer.value.buy] == bought
    assert answer.value.lots == lots
    assert answer.value.leftovers == leftovers


def test_the_middle_cases_are_not_plain() -> None:
    problems = [middle_case(seed) for seed in range(20)]
    runs = [run for problem in problems for piece in problem.pieces for run in piece.runs]
    assert len(runs) >= 15 * len(problems)
    assert {run.fixed for run in runs} >= {None, Fixed.HOLD, Fixed.BEGUN}
    assert sum(solve_shade(problem, ALONE).solver_calls > 0 for problem in problems) >= 10


@pytest.mark.parametrize("seed", range(20, 26))
def test_adding_up_fills_and_the_solver_agree_down_to_the_last_tie(seed: int) -> None:
    problem = middle_case(seed)
    added = solve_shade(problem, Limits(search_steps=0))
    alone = solve_shade(problem, ALONE)
    assert added.proved
    assert alone.proved
    assert added.lots == alone.lots


def test_the_fills_spare_the_solver_work() -> None:
    problems = [middle_case(seed) for seed in range(20)]
    added = sum(solve_shade(p, Limits(search_steps=0)).solver_calls for p in problems)
    assert added < sum(solve_shade(p, ALONE).solver_calls for p in problems)
