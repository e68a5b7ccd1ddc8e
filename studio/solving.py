"""Running the lot solver outside the keyboard's way, in child processes.

A child keeps the solver's import and its work off this process's interpreter lock, can be stopped
at any moment, and keeps what the solver prints off the screen. Plain pipes and threads are used,
because they work from inside the app's own threads.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import queue
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import IO, Any

from studio.core.frozen import dataclass
from studio.core.lots.explain import LotQuestion, LotReasons
from studio.core.lots.mip import Limits
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.lots.solve import DEFAULT
from studio.errors import SolverError

POLL_S = 0.05
"""How often a waiting caller looks whether it is cancelled."""

GRACE_S = 0.2
"""How long a cancelled child may finish its shade before it is ended; a new one costs as much."""

HARD_LIMIT_S = 120.0
"""A child silent for so long is taken for dead; a shade's own emergency stop comes much earlier."""

_LENGTH = struct.Struct(">Q")


@dataclass(frozen=True, slots=True)
class Stop:
    """Asks a child to end the search of this number with the best it has."""

    index: int


def send(pipe: IO[bytes], message: object) -> None:
    """Write one message."""
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    pipe.write(_LENGTH.pack(len(data)) + data)
    pipe.flush()


def receive(pipe: IO[bytes]) -> Any:
    """Read one message, None where the other side has gone.

    Both sides are this program, started by each other: the pickles come from nowhere else.
    """
    head = pipe.read(_LENGTH.size)
    if len(head) < _LENGTH.size:
        return None
    (length,) = _LENGTH.unpack(head)
    data = pipe.read(length)
    return pickle.loads(data) if len(data) == length else None


class Child:
    """One solver process, and the thread that reads what it says."""

    def __init__(self, replies: queue.Queue[tuple[Child, Any]]) -> None:
        root = str(Path(__file__).resolve().parent.parent)
        path = os.pathsep.join(filter(None, (root, os.environ.get("PYTHONPATH"))))
        self.process = subprocess.Popen(
            [sys.executable, "-m", "studio.solving_child"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": path},
        )
        self.replies = replies
        self.since: float | None = None
        """When it was asked what it has not answered yet."""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        pipe = self.process.stdout
        while pipe is not None:
            message = receive(pipe)
            self.replies.put((self, message))
            if message is None:
                pipe.close()
                return

    def ask(self, index: int, problem: object, limits: object) -> None:
        """Send a problem; a child that has gone says so through the replies."""
        self.since = time.monotonic()
        self.tell((index, problem, limits))

    def tell(self, message: object) -> None:
        """Send a message; a child that has gone is not told."""
        if self.process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                send(self.process.stdin, message)

    def end(self) -> None:
        """End the process at once and wait for it."""
        self.process.kill()
        self.process.wait()
        if self.process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self.process.stdin.close()


class SolverProcess:
    """Solves shades in child processes, which are started at the first need and then kept.

    Safe to call from any thread; one call at a time is served.
    """

    def __init__(self, limits: Limits = DEFAULT) -> None:
        self.limits = limits
        self._children: list[Child] = []
        self._replies: queue.Queue[tuple[Child, Any]] = queue.Queue()
        self._lock = threading.Lock()

    def solve_many(
        self,
        problems: Sequence[ShadeProblem],
        on_answer: Callable[[int, ShadeAnswer], None],
        cancelled: Callable[[], bool] = lambda: False,
        workers: int = 2,
    ) -> None:
        """Solve all problems, handing over each answer as it comes, until done or cancelled.

        Raises `SolverError` where a child dies; the next call starts afresh.
        """
        self._ask_all(problems, on_answer, cancelled, workers)

    def explain(
        self, question: LotQuestion, cancelled: Callable[[], bool] = lambda: False
    ) -> LotReasons | None:
        """Why a run has its lot and no other; None where it was cancelled first."""
        found: list[LotReasons] = []
        self._ask_all([question], lambda _, reasons: found.append(reasons), cancelled, 1)
        return found[0] if found else None

    def _ask_all(
        self,
        questions: Sequence[ShadeProblem | LotQuestion],
        on_answer: Callable[[int, Any], None],
        cancelled: Callable[[], bool],
        workers: int,
    ) -> None:
        with self._lock:
            waiting = list(enumerate(questions))[::-1]
            self._start(min(workers, len(questions)))
            try:
                self._serve(waiting, on_answer, cancelled)
            except BaseException:
                self._end([child for child in self._children if child.since is not None])
                raise

    def _start(self, workers: int) -> None:
        gone = [child for child in self._children if child.process.poll() is not None]
        self._end(gone)
        while len(self._children) < workers:
            self._children.append(Child(self._replies))

    def _serve(
        self,
        waiting: list[tuple[int, ShadeProblem | LotQuestion]],
        on_answer: Callable[[int, Any], None],
        cancelled: Callable[[], bool],
    ) -> None:
        for child in self._children:
            if waiting:
                child.ask(*waiting.pop(), self.limits)
        while any(child.since is not None for child in self._children):
            if cancelled():
                self._cancel()
                return
            reply = self._next_reply(POLL_S)
            if reply is None:
                self._check_silence()
                continue
            child, (index, answer) = reply
            child.since = None
            if waiting:
                child.ask(*waiting.pop(), self.limits)
            on_answer(index, answer)

    def _next_reply(self, timeout: float) -> tuple[Child, tuple[int, Any]] | None:
        """The next answer of a child still in use, None where none came in time."""
        try:
            child, message = self._replies.get(timeout=timeout)
        except queue.Empty:
            return None
        if child not in self._children:
            return None
        if message is None:
            self._end([child])
            raise SolverError(
                "The process that works out which lot works which stripe has ended before it "
                "answered. Nothing is lost; it is started again at the next change."
            )
        index, answer = message
        if not isinstance(answer, ShadeAnswer | LotReasons):
            raise SolverError(f"The solver failed on one shade: {answer}")
        return child, (index, answer)

    def _check_silence(self) -> None:
        now = time.monotonic()
        for child in self._children:
            if child.since is not None and now - child.since > HARD_LIMIT_S:
                raise SolverError(
                    f"The solver gave no answer for {HARD_LIMIT_S:.0f} seconds and was ended."
                )

    def _cancel(self) -> None:
        """Let children that are nearly through finish, end the others."""
        until = time.monotonic() + GRACE_S
        while (left := until - time.monotonic()) > 0:
            if not any(child.since is not None for child in self._children):
                return
            with contextlib.suppress(SolverError):
                if reply := self._next_reply(left):
                    reply[0].since = None
        self._end([child for child in self._children if child.since is not None])

    def _end(self, children: Iterable[Child]) -> None:
        for child in list(children):
            self._children.remove(child)
            child.end()

    def close(self) -> None:
        """End the children, also in the middle of a solve: that call then raises `SolverError`.

        Never waits for that call: it may be handing over an answer to the thread that closes.
        """
        for child in list(self._children):
            child.process.kill()
        if self._lock.acquire(blocking=False):
            try:
                self._end(self._children)
            finally:
                self._lock.release()
        else:
            threading.Thread(target=self._end_all, daemon=True).start()

    def _end_all(self) -> None:
        with self._lock:
            self._end(self._children)
