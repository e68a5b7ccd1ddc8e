"""Works a purchase out in a thread and a child process, so that no key ever waits.

The first plan is told at once, the cheapest one follows; the newest question wins.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from studio.core.buying.asking import PieceAsked, at_once, pieces_asked
from studio.core.buying.model import Progress
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import Chosen
from studio.core.buying.together import Together, questions_of
from studio.errors import StudioError
from studio.ui.newest import Newest

if TYPE_CHECKING:
    from studio.solving_purchase import PurchaseProcess
    from studio.workshop import Workshop


@dataclass(frozen=True, eq=False)
class Question:
    """The studio, for what is bought, and the day it is asked on."""

    workshop: Workshop
    chosen: Chosen
    today: date


@dataclass(frozen=True, eq=False)
class Told:
    """How far a question is: the pieces, a plan, whether a cheaper one is still looked for.

    `stopped` where the maker ended the search: the plan is the best that was found by then.
    """

    pieces: tuple[PieceAsked, ...] = ()
    plan: PurchasePlan | None = None
    together: Together | None = None
    looking: bool = True
    stopped: bool = False
    seconds: int = 0
    gap: float | None = None
    """How far the best so far may be from the cheapest, as the search last told it."""
    trouble: str = ""
    question: Question | None = None
    """What it answers: a plan is only good for the studio that it was asked of."""


class Working(Newest[Question]):
    """Works out the newest purchase; the process is let go when nothing is wanted any more."""

    def __init__(self, tell: Callable[[Told], None]) -> None:
        super().__init__()
        self._tell = tell
        self._stopped: Question | None = None
        self._process: PurchaseProcess | None = None

    def stop(self) -> None:
        """Let the search end with the best it has."""
        self._stopped = self._wanted

    def _let_go(self) -> None:
        process, self._process = self._process, None
        if process is not None:
            process.close()

    def _say(self, question: Question, told: Told) -> None:
        if self._wanted is question:
            self._tell(told)

    def _answer(self, question: Question) -> None:
        from studio.solving_purchase import PurchaseProcess

        told = Told(question=question)
        try:
            workshop = question.workshop
            wanted = workshop.wanted(question.today, question.chosen)
            told = replace(told, pieces=pieces_asked(wanted, workshop.snapshot.plan.projects))
            asked = questions_of(wanted)
            if not asked.opened.shades:
                plan = at_once(asked)
                self._say(question, replace(told, plan=plan, looking=False))
                return
            told = replace(told, plan=at_once(asked))
            self._say(question, told)
            if self._process is None:
                self._process = PurchaseProcess()
            since = time.monotonic()

            def go_on(progress: Progress) -> None:
                seconds = int(time.monotonic() - since)
                self._say(question, replace(told, seconds=seconds, gap=progress.gap))

            together = self._process.buy(
                asked,
                go_on,
                lambda: self._stopped is question,
                lambda: self._wanted is not question,
            )
        except StudioError as error:
            self._say(question, replace(told, looking=False, trouble=error.text))
            return
        stopped = self._stopped is question
        if together is not None:
            told = replace(told, plan=together.plan, together=together)
            stopped = stopped and not together.plan.proved
        elif told.plan is not None:
            # A search that did not heed the stop was ended with all it had: the first plan stands.
            told = replace(told, plan=replace(told.plan, stopped=True))
        self._say(question, replace(told, looking=False, stopped=stopped))
