"""The child process of a purchase: its answer, progress, stop, cancel, crash, and no orphan."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from studio import solving_purchase
from studio.core.buying.asking import wanted_of
from studio.core.buying.model import BuyLimits, Progress
from studio.core.buying.question import HELD
from studio.core.buying.together import Questions, buy_together, questions_of
from studio.core.reconcile import reconcile
from studio.errors import SolverError, StudioError
from studio.solving_purchase import PurchaseProcess
from tests.core.buying.test_placing import TODAY, mixed, offering

SLOW = "tests.ui.slow_child"


def asked() -> Questions:
    """A small question, answered in a moment."""
    studio = offering()
    seen = reconcile(studio)
    return questions_of(wanted_of(studio, seen.kept.outcomes, seen.plan.projects, TODAY, HELD))


@pytest.fixture
def process() -> Iterator[PurchaseProcess]:
    made = PurchaseProcess()
    yield made
    made.close()


def child_of(process: PurchaseProcess) -> subprocess.Popen[bytes]:
    assert process._child is not None
    return process._child.process


def alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


@contextmanager
def other_child(
    module: str, monkeypatch: pytest.MonkeyPatch, **surroundings: str
) -> Iterator[None]:
    """Children of this kind in place of the solver."""
    real = subprocess.Popen

    def started(command: list[str], **more: Any) -> subprocess.Popen[bytes]:
        root = str(Path(__file__).parents[1])
        path = os.pathsep.join([root, more["env"]["PYTHONPATH"]])
        more["env"] = {**more["env"], **surroundings, "PYTHONPATH": path}
        return real([sys.executable, "-m", module, *command[3:]], **more)

    monkeypatch.setattr("studio.solving.subprocess.Popen", started)
    yield


def until(true: Callable[[], bool], seconds: float = 10.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come true in time"
        time.sleep(0.02)


def test_the_child_answers_what_the_core_answers(process: PurchaseProcess) -> None:
    found = process.buy(asked())
    assert found == buy_together(asked())
    first = child_of(process).pid
    # It is kept for the next question, and dies with the process.
    assert process.buy(asked()) == found
    assert child_of(process).pid == first
    process.close()
    assert not alive(first)


def test_a_question_that_is_refused_comes_back_as_one_sentence(process: PurchaseProcess) -> None:
    problem = asked()
    # What costs nothing never reaches a least sum of goods.
    terms = tuple(replace(t, minimum=1000) for t in problem.stands.suppliers)
    sources = tuple(
        replace(s, tiers=tuple(replace(t, price=0) for t in s.tiers))
        for s in problem.stands.sources
    )
    stands = replace(problem.stands, suppliers=terms, sources=sources)
    with pytest.raises(StudioError) as found:
        process.buy(replace(problem, stands=stands, opened=stands, holds=None))
    assert found.value.text.endswith(".")
    assert "\n" not in found.value.text
    # The child lives on and serves the next question.
    assert process.buy(asked()) is not None


def test_progress_is_told_and_a_stop_gives_the_best_so_far(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[Progress] = []
    with other_child(SLOW, monkeypatch):
        found = process.buy(asked(), told.append, stopped=lambda: len(told) >= 2)
    assert len(told) >= 2
    assert found is not None
    assert found.plan.orders


def test_a_child_that_does_not_heed_the_stop_is_ended(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(solving_purchase, "STOP_S", 0.3)
    told: list[Progress] = []
    pids: list[int] = []

    def on_progress(progress: Progress) -> None:
        told.append(progress)
        pids.append(child_of(process).pid)

    with other_child(SLOW, monkeypatch, SLOW_CHILD="deaf"):
        found = process.buy(asked(), on_progress, stopped=lambda: bool(told))
    assert found is None
    assert not alive(pids[0])


def test_a_question_that_is_dropped_kills_the_child(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    pids: list[int] = []
    with other_child(SLOW, monkeypatch):
        found = process.buy(
            asked(), lambda _: pids.append(child_of(process).pid), dropped=lambda: bool(pids)
        )
    assert found is None
    assert not alive(pids[0])
    assert process._child is None


def test_closing_in_the_middle_of_a_search_leaves_no_child(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    pids: list[int] = []
    ends: list[BaseException] = []

    def ask() -> None:
        try:
            process.buy(asked(), lambda _: pids.append(child_of(process).pid))
        except SolverError as error:
            ends.append(error)

    with other_child(SLOW, monkeypatch):
        thread = threading.Thread(target=ask)
        thread.start()
        until(lambda: bool(pids))
        process.close()
        thread.join(10)
    assert not thread.is_alive()
    assert len(ends) == 1
    assert not alive(pids[0])


def test_a_crash_of_the_child_gives_one_sentence_and_the_next_question_is_served(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def kill(_: Progress) -> None:
        os.kill(child_of(process).pid, signal.SIGSEGV)

    with other_child(SLOW, monkeypatch), pytest.raises(SolverError) as found:
        process.buy(asked(), kill)
    assert found.value.text == (
        "The process that works out the purchase has ended before it answered. "
        "Nothing is lost; ask again."
    )
    monkeypatch.undo()
    assert process.buy(asked()) is not None
    # Not a word of the child reaches the terminal.
    assert "Traceback" not in "".join(capfd.readouterr())


def test_a_child_that_cannot_start_gives_one_sentence(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    with other_child("no_such_module", monkeypatch), pytest.raises(SolverError, match="ask again"):
        process.buy(asked())
    assert "No module" not in "".join(capfd.readouterr())


def test_an_error_inside_the_child_is_told_without_a_traceback(process: PurchaseProcess) -> None:
    broken = replace(asked(), stands=replace(asked().stands, sources=()))
    with pytest.raises(SolverError) as found:
        process.buy(broken)
    assert found.value.text.startswith("The purchase could not be worked out: ")
    assert "Traceback" not in found.value.text
    assert "\n" not in found.value.text


@pytest.mark.parametrize("searching", [False, True])
def test_no_orphan_is_left_when_the_program_is_killed(*, searching: bool) -> None:
    """The parent is killed without a chance to end its child; the child ends by itself."""
    program = (
        "import pytest, sys\n"
        "from studio.solving_purchase import PurchaseProcess\n"
        "from tests.test_solving_purchase import SLOW, asked, child_of, other_child\n"
        "made = PurchaseProcess()\n"
        "say = lambda _: print(child_of(made).pid, flush=True)\n"
        f"kind = SLOW if {searching} else 'studio.solving_child'\n"
        "with other_child(kind, pytest.MonkeyPatch()):\n"
        "    made.buy(asked(), say)\n"
        "say(None)\n"
        "sys.stdin.read()\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", program],
        cwd=Path(__file__).parents[1],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert parent.stdout is not None
    assert parent.stdin is not None
    pid = int(parent.stdout.readline())
    assert alive(pid)
    parent.kill()
    parent.wait()
    parent.stdout.close()
    parent.stdin.close()
    until(lambda: not alive(pid) or zombie(pid))


def zombie(pid: int) -> bool:
    """Whether it has ended, and only waits to be counted by whoever took it over."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except OSError:
        return True


def test_limits_go_to_the_child() -> None:
    small = PurchaseProcess(BuyLimits(nodes=1))
    try:
        studio = mixed()
        seen = reconcile(studio)
        questions = questions_of(
            wanted_of(studio, seen.kept.outcomes, seen.plan.projects, TODAY, HELD)
        )
        found = small.buy(questions)
    finally:
        small.close()
    assert found is not None
    assert found.plan.landed == buy_together(questions).plan.landed


def test_closing_never_waits_for_whoever_is_told_how_far_it_is(
    process: PurchaseProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The app closes on the keyboard's thread, which a word on the progress waits for."""
    telling, closed = threading.Event(), threading.Event()

    def told(_: Progress) -> None:
        telling.set()
        assert closed.wait(30)

    def ask() -> None:
        with pytest.raises(SolverError):
            process.buy(asked(), told)

    with other_child(SLOW, monkeypatch):
        thread = threading.Thread(target=ask)
        thread.start()
        assert telling.wait(30)
        child = child_of(process)
        started = time.monotonic()
        process.close()
        assert time.monotonic() - started < 5
        closed.set()
        thread.join(30)
    assert not thread.is_alive()
    assert child.wait(30) == -signal.SIGKILL
