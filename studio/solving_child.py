"""The solver process: reads problems from its standard input, writes answers to its output.

Whatever a library prints goes nowhere: the output that the parent reads is moved aside before
anything is imported that could print.
"""

from __future__ import annotations

import os
import sys
from typing import BinaryIO


def _take_output() -> BinaryIO:
    """The pipe to the parent; file descriptor 1 leads nowhere from here on."""
    pipe = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.close(nowhere)
    return pipe


def main() -> None:
    """Answer until the parent closes the pipe."""
    output = _take_output()
    from studio.core.lots.solve import solve_shade
    from studio.solving import receive, send

    while (asked := receive(sys.stdin.buffer)) is not None:
        index, problem, limits = asked
        try:
            answer: object = solve_shade(problem, limits)
        except (ArithmeticError, LookupError, TypeError, ValueError, RuntimeError) as error:
            answer = f"{type(error).__name__}: {error}"
        try:
            send(output, (index, answer))
        except BrokenPipeError:
            return


if __name__ == "__main__":
    main()
