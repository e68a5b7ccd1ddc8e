"""Every stage's value, and the assignment itself, against all assignments of 2,000 small cases.

The brute force is written from the rules of the trade (common practice, no source) and shares no
code with the solver. Half of the cases go through the solver alone, a quarter through the adding up
of lot fills, and a quarter through the quick search.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import pytest

from studio.core.lots.judge import is_allowed, value_key, value_of
from studio.core.lots.mip import Limits
from studio.core.lots.problem import Fixed, ShadeAnswer, ShadeProblem, Value
from studio.core.lots.solve import greedy_answer, solve_shade
from tests.core.lots.brute import Best, BruteForce
from tests.core.lots.cases import small_case

CASES = 2_000
SOLVER_ALONE = Limits(search_steps=0, fill_steps=0)
FILLS = Limits(search_steps=0)
ROUTES = (Limits(), SOLVER_ALONE, FILLS, SOLVER_ALONE)


@dataclass(frozen=True)
class Case:
    seed: int
    problem: ShadeProblem
    best: Best
    answer: ShadeAnswer
    greedy: ShadeAnswer


def _case(seed: int) -> Case:
    problem = small_case(seed)
    best = BruteForce(problem).best()
    assert best is not None
    answer = solve_shade(problem, ROUTES[seed % len(ROUTES)])
    return Case(seed, problem, best, answer, greedy_answer(problem))


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [_case(seed) for seed in range(CASES)]


def _numbers(value: Value) -> tuple[object, ...]:
    bought = tuple(dg for _, dg in value.buy)
    return value.repair, bought, value.pooled_balls, value.lots, value.leftovers


def test_every_stage_has_the_value_of_the_brute_force(cases: list[Case]) -> None:
    wrong = [
        case.seed
        for case in cases
        if _numbers(case.answer.value)
        != (
            case.best.repair,
            case.best.buy,
            case.best.pooled_balls,
            case.best.lots_value,
            case.best.leftovers,
        )
    ]
    assert not wrong


def test_the_answer_is_the_one_assignment_that_the_last_tie_leaves(cases: list[Case]) -> None:
    assert not [case.seed for case in cases if dict(case.answer.lots) != case.best.lots]


def test_every_case_is_proved_without_the_emergency_clock(cases: list[Case]) -> None:
    assert not [case.seed for case in cases if case.answer.gaps or case.answer.stopped]


def test_half_of_the_cases_defeat_the_greedy(cases: list[Case]) -> None:
    worse = sum(value_key(case.greedy.value) > value_key(case.answer.value) for case in cases)
    assert worse >= CASES / 2


def test_the_greedy_is_allowed_and_never_better(cases: list[Case]) -> None:
    for case in cases:
        lots = dict(case.greedy.lots)
        assert is_allowed(case.problem, lots) is None, case.seed
        assert value_key(case.greedy.value) >= value_key(case.answer.value), case.seed


def test_the_judge_agrees_with_the_brute_force(cases: list[Case]) -> None:
    for case in cases:
        assert is_allowed(case.problem, case.best.lots) is None, case.seed
        assert value_of(case.problem, case.best.lots) == case.answer.value, case.seed


def test_moved_runs_are_told(cases: list[Case]) -> None:
    for case in cases:
        held = {
            run.key: run.lot
            for piece in case.problem.pieces
            for run in piece.runs
            if run.fixed is Fixed.HOLD and run.lot is not None
        }
        moved = [key for key, lot in held.items() if case.best.lots[key] != lot]
        assert sorted(case.answer.moved) == sorted(moved), case.seed


def test_the_cases_hold_everything_that_can_occur(cases: list[Case]) -> None:
    seen: Counter[str] = Counter()
    for case in cases:
        runs = [run for piece in case.problem.pieces for run in piece.runs]
        seen.update({run.fixed.value for run in runs if run.fixed})
        seen.update({f"{len(runs)} runs", f"{len(case.problem.lots)} lots"})
        seen.update({"solver"} if case.answer.solver_calls else {"search"})
        together = any(piece.together for piece in case.problem.pieces)
        seen.update({"together"} if together else {"by stripe"})
        seen.update({"part"} if any(lot.part_dg for lot in case.problem.lots) else set())
        seen.update({"repair"} if case.answer.value.repair != (0, 0) else set())
        seen.update({"overdrawn"} if case.answer.overdrawn else set())
        seen.update({"buys"} if any(dg for _, dg in case.answer.value.buy) else {"buys nothing"})
    needed = ["begun", "pin", "order", "hold", "part", "together", "by stripe", "repair"]
    needed += ["overdrawn", "buys", "buys nothing", "solver", "search"]
    needed += [f"{n} runs" for n in (4, 5, 6, 7)] + [f"{n} lots" for n in (3, 4, 5)]
    assert {name: seen[name] for name in needed if seen[name] < 30} == {}
