"""The newest question wins: one thread serves whatever is wanted last, and no key ever waits."""

from __future__ import annotations

import threading
from typing import Generic, TypeVar

Question = TypeVar("Question")


class Newest(Generic[Question]):
    """Serves the newest question until there is none; `ask_for` says whether a thread is wanted."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._wanted: Question | None = None
        self._running = False

    def ask_for(self, question: Question) -> bool:
        """Take a question in the place of the one before; True where `serve` must be started."""
        with self._lock:
            self._wanted = question
            started, self._running = self._running, True
            return not started

    def drop(self) -> None:
        """Nothing is wanted any more; what must be let go is, by whoever comes last."""
        with self._lock:
            self._wanted = None
            running = self._running
        if not running:
            self._let_go()

    def serve(self) -> None:
        """Answer until the newest question is answered; runs in a thread."""
        done: Question | None = None
        while True:
            with self._lock:
                question = self._wanted
                if question is None or question is done:
                    self._running = False
                    break
            self._answer(question)
            done = question
        if question is None:
            self._let_go()

    def _stale(self, question: Question) -> bool:
        """Whether something else is wanted by now."""
        return self._wanted is not question

    def _answer(self, question: Question) -> None:
        """Work one question out, looking now and then whether it is stale."""
        raise NotImplementedError

    def _let_go(self) -> None:
        """Let go of what serving held; nothing unless a class holds something."""
