"""Running the lot solver in this process, where nobody waits at the keyboard, but quietly."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace

from studio.core.lots.mip import Limits
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.lots.solve import DEFAULT, quick_answer, solve_shade

_quietened = False


def solve_here(problems: Iterable[ShadeProblem], limits: Limits = DEFAULT) -> Iterator[ShadeAnswer]:
    """Solve in this process, one after another, with nothing of the solver on standard output."""
    # Here nobody waits at the keyboard, and a longer search is quicker than the solver's import.
    patient = replace(limits, quick_steps=limits.search_steps)
    for problem in problems:
        answer, final = quick_answer(problem, patient)
        if not final:
            quieten()
            answer = solve_shade(problem, limits)
        yield answer


def quieten() -> None:
    """Let the solver print its first-run lines where nobody sees them."""
    global _quietened
    if _quietened:
        return
    import contextlib
    import ctypes

    from studio.core.lots.mip import Effort, Mip

    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        mip = Mip()
        mip.minimise({mip.column(1): 1}, None, Effort(DEFAULT))
        with contextlib.suppress(OSError, AttributeError, TypeError):
            ctypes.CDLL(None).fflush(None)
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
    _quietened = True
