"""Working out a purchase in a child process: told how far it is, and stopped at any moment."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from typing import Any

from studio.core.buying.model import BuyLimits, Progress
from studio.core.buying.together import Questions, Together
from studio.errors import SolverError, StudioError
from studio.solving import HARD_LIMIT_S, POLL_S, Child, Stop

STOP_S = 2.0
"""How long a stopped search may take to hand over the best it has, before it is ended."""


class PurchaseProcess:
    """Solves one purchase at a time in a child that is started at the first need and then kept.

    Safe to call from any thread; a later call waits until the one before has come to its end.
    """

    def __init__(self, limits: BuyLimits | None = None) -> None:
        self.limits = limits
        self._child: Child | None = None
        self._replies: queue.Queue[tuple[Child, Any]] = queue.Queue()
        self._lock = threading.Lock()
        self._asked = 0

    def buy(
        self,
        asked: Questions,
        on_progress: Callable[[Progress], None] = lambda _: None,
        stopped: Callable[[], bool] = lambda: False,
        dropped: Callable[[], bool] = lambda: False,
    ) -> Together | None:
        """The cheapest purchase; where `stopped` the best so far, None where `dropped`.

        Raises what the question itself is refused for, and `SolverError` where the child dies.
        """
        with self._lock:
            child = self._ready()
            self._asked += 1
            child.ask(self._asked, asked, self.limits)
            try:
                found = self._wait(child, on_progress, stopped, dropped)
            except BaseException:
                self._end()
                raise
            child.since = None
        return found

    def _ready(self) -> Child:
        if self._child is None or self._child.process.poll() is not None:
            self._end()
            self._child = Child(self._replies)
        return self._child

    def _wait(
        self,
        child: Child,
        on_progress: Callable[[Progress], None],
        stopped: Callable[[], bool],
        dropped: Callable[[], bool],
    ) -> Together | None:
        heard, stop_at = time.monotonic(), None
        while True:
            if dropped():
                self._end()
                return None
            if stop_at is None and stopped():
                child.tell(Stop(self._asked))
                stop_at = time.monotonic()
            message = self._next(child)
            now = time.monotonic()
            if message is not None and message[0] == self._asked:
                heard = now
                if isinstance(message[1], Progress):
                    on_progress(message[1])
                else:
                    return _sound(message[1])
            elif stop_at is not None and now - stop_at > STOP_S:
                self._end()
                return None
            elif now - heard > HARD_LIMIT_S:
                raise SolverError(
                    f"The purchase gave no answer for {HARD_LIMIT_S:.0f} seconds and was ended."
                )

    def _next(self, child: Child) -> Any:
        """The next message of the child; None where none came in time."""
        try:
            sender, message = self._replies.get(timeout=POLL_S)
        except queue.Empty:
            return None
        if sender is not child:
            return None
        if message is None:
            raise SolverError(
                "The process that works out the purchase has ended before it answered. "
                "Nothing is lost; ask again."
            )
        return message

    def _end(self) -> None:
        if self._child is not None:
            self._child.end()
            self._child = None

    def close(self) -> None:
        """End the child, also in the middle of a search: that call then raises `SolverError`.

        Never waits for that call: it may be telling how far it is to the thread that closes.
        """
        child = self._child
        if child is not None:
            child.process.kill()
        if self._lock.acquire(blocking=False):
            try:
                self._end()
            finally:
                self._lock.release()
        else:
            threading.Thread(target=self._end_later, daemon=True).start()

    def _end_later(self) -> None:
        with self._lock:
            self._end()


def _sound(answer: object) -> Together:
    """The answer, or the trouble that came in its place."""
    if isinstance(answer, Together):
        return answer
    if isinstance(answer, tuple):
        title, text = answer
        raise StudioError(text, title=title)
    raise SolverError(f"The purchase could not be worked out: {answer}")
