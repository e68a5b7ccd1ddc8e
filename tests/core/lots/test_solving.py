"""The solver in child processes and in place: quiet, cancelled at once, restarted after a death."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator

import pytest

from studio.core.lots.mip import Limits
from studio.core.lots.problem import ShadeAnswer
from studio.core.lots.solve import solve_shade
from studio.errors import SolverError
from studio.solving import SolverProcess
from studio.solving_here import solve_here
from tests.bench.lots import staple
from tests.core.lots.cases import small_case

SOLVER_ALONE = Limits(search_steps=0)


@pytest.fixture
def solver() -> Iterator[SolverProcess]:
    made = SolverProcess(SOLVER_ALONE)
    yield made
    made.close()


def test_children_answer_as_this_process_does(solver: SolverProcess) -> None:
    problems = [small_case(seed) for seed in range(40)]
    got: dict[int, ShadeAnswer] = {}
    solver.solve_many(problems, got.__setitem__, lambda: False)
    assert [got[at] for at in range(40)] == [solve_shade(p, SOLVER_ALONE) for p in problems]
    assert list(solve_here(problems, SOLVER_ALONE)) == [got[at] for at in range(40)]


def test_no_problems_start_nothing(solver: SolverProcess) -> None:
    solver.solve_many([], lambda _index, _answer: None)
    assert not solver._children


def test_cancel_returns_within_half_a_second() -> None:
    solver = SolverProcess(Limits(search_steps=0, nodes=10**6, iterations=10**9))
    started = time.monotonic()
    until = started + 1.0
    solver.solve_many(
        [staple(1, 1.0), staple(9, 1.0)],
        lambda _index, _answer: None,
        lambda: time.monotonic() > until,
    )
    assert time.monotonic() - until < 0.5
    got: list[int] = []
    solver.solve_many([small_case(1)], lambda index, _: got.append(index))
    assert got == [0]
    solver.close()


def test_a_killed_child_is_told_clearly_and_replaced(solver: SolverProcess) -> None:
    slow = [staple(seed, 1.0) for seed in (1, 9)]
    solver.limits = Limits(search_steps=0, nodes=10**6, iterations=10**9)

    def kill_soon() -> None:
        time.sleep(0.7)
        os.kill(solver._children[0].process.pid, signal.SIGKILL)

    killer = threading.Thread(target=kill_soon)
    killer.start()
    with pytest.raises(SolverError, match="ended before it answered"):
        solver.solve_many(slow, lambda _index, _answer: None)
    killer.join()
    got: list[int] = []
    solver.solve_many([small_case(1)], lambda index, _: got.append(index))
    assert got == [0]


def test_closing_never_waits_for_whoever_takes_an_answer(solver: SolverProcess) -> None:
    """The app closes on the keyboard's thread, which an answer just coming in waits for."""
    handing_over, closed = threading.Event(), threading.Event()

    def take(_index: int, _answer: ShadeAnswer) -> None:
        handing_over.set()
        assert closed.wait(30)

    asking = threading.Thread(target=solver.solve_many, args=([small_case(1)], take))
    asking.start()
    assert handing_over.wait(30)
    children = [child.process for child in solver._children]
    started = time.monotonic()
    solver.close()
    assert time.monotonic() - started < 5
    closed.set()
    asking.join(30)
    assert not asking.is_alive()
    assert [child.wait(30) for child in children] == [-signal.SIGKILL]


def test_an_error_in_the_callers_function_leaves_the_solver_usable(solver: SolverProcess) -> None:
    def fail(_index: int, _answer: ShadeAnswer) -> None:
        raise ValueError("the caller's own")

    problems = [small_case(seed) for seed in range(6)]
    with pytest.raises(ValueError, match="own"):
        solver.solve_many(problems, fail)
    got: set[int] = set()
    solver.solve_many(problems, lambda index, _: got.add(index))
    assert got == set(range(6))


def test_solving_in_place_prints_nothing() -> None:
    """In a process of its own, since the solver prints at its first run only."""
    code = (
        "from studio.solving_here import solve_here\n"
        "from studio.core.lots.mip import Limits\n"
        "from tests.core.lots.cases import small_case\n"
        "problems = [small_case(seed) for seed in range(1, 20, 2)]\n"
        "answers = list(solve_here(problems, Limits(quick_steps=0, search_steps=0)))\n"
        "assert sum(answer.solver_calls for answer in answers) > 0\n"
        "print(len(answers))\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "10\n"
    assert done.stderr == ""


def test_the_solver_is_imported_only_where_it_solves() -> None:
    code = "import sys, studio.solving; print('highspy' in sys.modules, 'numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False False\n"
