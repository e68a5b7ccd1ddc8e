"""Answers variants in a thread, so that no key ever waits; the newest edit is the one answered."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from studio.core.enquiry import Answer, Ground, ask, still_open
from studio.core.trial import Variant
from studio.errors import StudioError
from studio.ui.newest import Newest

if TYPE_CHECKING:
    from studio.core.lots.problem import ShadeAnswer, ShadeProblem
    from studio.core.model import Studio
    from studio.workshop import Workshop


@dataclass(frozen=True, eq=False)
class Question:
    """The variants as they are now, which of them comes first, and the day it is asked on."""

    workshop: Workshop
    variants: tuple[Variant, ...]
    first: int
    today: date


@dataclass(frozen=True, eq=False)
class Told:
    """What came of one variant: an answer and the ground it stands on, or what is in the way.

    `of` is the studio that was asked about.
    """

    variant: Variant
    of: Studio
    answer: Answer | None = None
    ground: Ground | None = None
    trouble: str = ""


class Trying(Newest[Question]):
    """Tries the variants of the newest question, the one at hand first."""

    def __init__(self, tell: Callable[[int, Told], None]) -> None:
        super().__init__()
        self._tell = tell
        self._solved: dict[ShadeProblem, ShadeAnswer] = {}
        self._stood: tuple[object, str, Ground] | None = None
        self._known: dict[Variant, tuple[Ground, Told]] = {}

    def _answer(self, question: Question) -> None:
        places = sorted(range(len(question.variants)), key=lambda i: (i != question.first, i))
        for place in places:
            if self._stale(question):
                return
            self._tell(place, self._told(question, question.variants[place]))
        for place in places:
            while not self._stale(question):
                told = self._told(question, question.variants[place])
                open_ones = self._open(told)
                if not open_ones:
                    break
                found = question.workshop.answers_to(open_ones, lambda: self._stale(question))
                if not found:
                    return
                self._solved.update(found)
                self._stood = None
                self._tell(place, self._told(question, question.variants[place]))

    def _open(self, told: Told) -> tuple[ShadeProblem, ...]:
        """The shades of a variant that were answered quickly and not exactly."""
        if told.answer is None or told.ground is None:
            return ()
        return still_open(told.ground, told.answer, self._solved)

    def _told(self, question: Question, variant: Variant) -> Told:
        studio = question.workshop.snapshot.studio
        try:
            ground = self._ground(question, variant.trial.key)
            known = self._known.get(variant)
            if known is not None and known[0] is ground:
                return known[1]
            answer = ask(ground, variant.trial, variant.aim, variant.shown, self._solved)
        except StudioError as error:
            return Told(variant, studio, trouble=error.text)
        told = Told(variant, studio, answer, ground)
        self._known = {v: k for v, k in self._known.items() if k[0] is ground}
        self._known[variant] = (ground, told)
        return told

    def _ground(self, question: Question, without: str) -> Ground:
        """The studio without the piece; made again only where the studio or its answers changed."""
        plan = question.workshop.snapshot.plan
        if self._stood is None or self._stood[:2] != (plan, without):
            made = question.workshop.ground(question.today, without, self._solved)
            self._stood = (plan, without, made)
        return self._stood[2]
