"""The solver process: reads questions from its standard input, writes answers to its output.

Whatever a library prints goes nowhere: the output that the parent reads is moved aside before
anything is imported that could print. A purchase tells how far it is, and may be asked to stop.
"""

from __future__ import annotations

import os
import queue
import sys
import threading
import time
from typing import TYPE_CHECKING, Any, BinaryIO

if TYPE_CHECKING:
    from studio.core.buying.model import Progress

TELL_EVERY_S = 0.2
"""How often the parent is told how far a purchase is."""


def _take_output() -> BinaryIO:
    """The pipe to the parent; file descriptor 1 leads nowhere from here on."""
    pipe = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return pipe


class _Asked:
    """What the parent asks, read in a thread so that a stop is heard in the middle of a search."""

    def __init__(self) -> None:
        from studio.solving import Stop, receive

        self.waiting: queue.Queue[Any] = queue.Queue()
        self.stopped: set[int] = set()

        def read() -> None:
            while True:
                message = receive(sys.stdin.buffer)
                if message is None:
                    # The parent is gone, however it ended: nobody waits for what is worked out.
                    os._exit(0)
                if isinstance(message, Stop):
                    self.stopped.add(message.index)
                else:
                    self.waiting.put(message)

        threading.Thread(target=read, daemon=True).start()


class _Telling:
    """Tells the parent how far a purchase is, now and then; says whether to go on."""

    def __init__(self, output: BinaryIO, index: int, asked: _Asked) -> None:
        self.output = output
        self.index = index
        self.asked = asked
        self.told_at = 0.0

    def __call__(self, progress: Progress) -> bool:
        from studio.solving import send

        if time.monotonic() - self.told_at >= TELL_EVERY_S:
            self.told_at = time.monotonic()
            send(self.output, (self.index, progress))
        return self.index not in self.asked.stopped


def _answered(question: Any, limits: Any, telling: _Telling) -> object:
    """The answer, or why there is none: an error for the maker as itself, any other as words."""
    from studio.core.buying.together import Questions, buy_together
    from studio.core.lots.explain import LotQuestion, reasons_of
    from studio.core.lots.solve import solve_shade
    from studio.errors import StudioError

    try:
        if isinstance(question, Questions):
            return buy_together(question, limits, telling)
        if isinstance(question, LotQuestion):
            return reasons_of(question, limits)
        return solve_shade(question, limits)
    except StudioError as error:
        return error.title, error.text
    except (ArithmeticError, LookupError, TypeError, ValueError, RuntimeError) as error:
        return f"{type(error).__name__}: {error}"


def main() -> None:
    """Answer until the parent closes the pipe, which ends the process."""
    output = _take_output()
    from studio.solving import send

    asked = _Asked()
    while True:
        index, problem, limits = asked.waiting.get()
        try:
            send(output, (index, _answered(problem, limits, _Telling(output, index, asked))))
        except BrokenPipeError:
            return


if __name__ == "__main__":
    main()
