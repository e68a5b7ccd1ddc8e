"""Promising yarn from anywhere in the app, and asking before a promise is broken."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Hashable, Sequence
from typing import TYPE_CHECKING

from studio import clock
from studio.core import booking, say, trial
from studio.core.booking import HoldsBrokenError
from studio.core.enquiry import Answer
from studio.core.enquiry_found import expired_words
from studio.core.model import Stage, Studio
from studio.core.standing import StandingError
from studio.core.trial import Variant
from studio.ui.dialogs.desk import choose
from studio.ui.dialogs.used import offer_words

if TYPE_CHECKING:
    from datetime import date

    from studio.ui.app import StripewrightApp

Change = Callable[[Studio], Studio]

TOLD = 3
"""Broken promises told one by one; the rest are counted."""


def _as_it_is(studio: Studio) -> Studio:
    return studio


async def to_stage(
    app: StripewrightApp, key: str, stage: Stage, change: Change = _as_it_is
) -> None:
    """Bring a piece to a stage from today on, with another change of it in the same edit.

    Where it begins to hold yarn it is accepted as its enquiry would show it: behind all that is
    promised, before every quote and idea.
    """
    piece, today = app.view.studio.project[key], clock.today()
    label = f"{piece.name} to {stage.value}"
    if piece.stage.holds or not stage.holds:
        done = app.edit(label, lambda s: booking.to_stage(change(s), key, stage, None, today), key)
        closing = done and stage in (Stage.FINISHING, Stage.DELIVERED, Stage.IN_STOCK)
        if closing and (words := offer_words(app, key)):
            app.say(f"{piece.name}: {stage.value}. {words}")
        return
    answer = await _answer(app, key, change, today)
    if app.edit(label, lambda s: trial.brought(change(s), answer, stage, today), key):
        app.trials.pop(key, None)
        app.say(taken_words(answer))


async def _answer(app: StripewrightApp, key: str, change: Change, today: date) -> Answer:
    """The exact answer for the studio as it is in the end, though it be changed meanwhile."""
    app.say("Working out which lots it can have ...")
    while True:
        studio = app.workshop.snapshot.studio
        asked = trial.asked_for(change(studio).project[key])
        answer = await asyncio.to_thread(app.workshop.answer_to, Variant(asked), today)
        if app.workshop.snapshot.studio is studio:
            return answer


def taken_words(answer: Answer) -> str:
    """What was promised, and until when."""
    held = say.count(len(answer.from_stash), "run")
    to_buy = f", {say.balls(answer.buy_balls)} to buy" if answer.buy_balls else ""
    day = say.date(trial.promised_for(answer))
    words = f"Booked for {day}: {held} held from the stash{to_buy}."
    return f"{words} {expired_words(answer.project, clock.today())}".rstrip()


async def before_touching(
    app: StripewrightApp, label: str, change: Change, stand: Hashable, error: StandingError
) -> None:
    """Say what a change would touch; her yes to it holds until she leaves."""
    rows = (
        ("leave", "leave it as it was", "nothing is changed"),
        ("do", "do it all the same", "undo brings it back"),
    )
    if await meant(app, error.title, error.sentences, rows, "do it"):
        app.workshop.meant |= error.marks
        app.edit(label, change, stand)
    else:
        app.say("Left as it was.")


async def before_breaking(
    app: StripewrightApp,
    label: str,
    change: Change,
    stand: Hashable,
    error: HoldsBrokenError | StandingError,
) -> None:
    """Say which promises a change would break, and make it only where that is meant."""
    if isinstance(error, StandingError):
        await before_touching(app, label, change, stand, error)
        return
    found: HoldsBrokenError | None = error
    if error.open_problems:
        app.say("Looking whether a promise would break ...")
        found = await asyncio.to_thread(app.workshop.breaks, change)
    if found is None:
        app.edit(label, change, stand, mind_holds=False)
        return
    rows = (
        ("leave", "leave it as it was", "every promise stands"),
        ("do", "do it all the same", "undo brings it back"),
    )
    if await meant(app, error.title, found.sentences, rows, "do it"):
        app.edit(label, change, stand, mind_holds=False)
    else:
        app.say("Left as it was; every promise stands.")


async def meant(
    app: StripewrightApp,
    title: str,
    sentences: Sequence[str],
    rows: Sequence[tuple[str, str, str]],
    verb: str,
) -> bool:
    """Say what a change means, and ask whether it is to be done: the row called 'do'."""
    more = len(sentences) - TOLD
    told = list(sentences[:TOLD])
    told += [f"And {say.count(more, 'other promise')}."] if more > 0 else []
    return await choose(app, title, rows, note=" ".join(told), verb=verb) == "do"
