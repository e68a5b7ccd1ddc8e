"""'Why?' on the lines of an enquiry: each sheet's row key leads to its sum."""

from __future__ import annotations

from collections.abc import Hashable
from datetime import date
from typing import TYPE_CHECKING, Any

from studio.core import enquiry_why, price_why, say
from studio.core.answers import Finding
from studio.core.enquiry import Answer, Ground
from studio.core.enquiry_say import (
    competes_words,
    freed_words,
    late_words,
    relaxed_words,
    run_groups,
    shade_name,
)
from studio.core.order_say import why_drift
from studio.core.quoting import Drift
from studio.core.reasons import Step
from studio.ui.dialogs.message import Words
from studio.ui.enquiry.asked import FACT
from studio.ui.enquiry.sheets import (
    APART,
    COMPETES,
    DRIFT,
    FOUND,
    FREED,
    GROUP,
    LATE,
    LINE,
    MOVE,
    PART,
    RELAXED,
    SUM,
    THUMB,
    WEEK,
)
from studio.ui.keys import BY_ID
from studio.ui.why import WIDTH, sum_text

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


def why_line(app: StripewrightApp, answer: Answer, ground: Ground, key: Hashable) -> None:
    """Open the sum of a line, where it has one."""
    title, steps = steps_of(answer, ground, key)
    if not steps:
        app.say("There is nothing behind this line but what it says.")
        return
    if isinstance(key, tuple) and key[0] in (LINE, SUM, PART, MOVE):
        place = f"{app.keymap.shown(BY_ID['trade'])} shows your own rates, fees and parcels"
        steps = (*steps, Step(""), Step(f"{place} behind it."))
    app.push_screen(Words(title, sum_text(steps, min(WIDTH, app.size.width - 8))))


def steps_of(answer: Answer, ground: Ground, key: Hashable) -> tuple[str, tuple[Step, ...]]:
    """Title and sum of a line by its key."""
    kind: Any
    kind, *rest = key if isinstance(key, tuple) else (key,)
    place: Any = rest[0] if rest else None
    name = answer.project.name
    if kind in (FACT, SUM):
        code = str(place)
        return f"Why: {name}", (() if code == "trouble" else enquiry_why.why(answer, ground, code))
    if kind == WEEK and isinstance(place, date):
        return f"The week of {say.date(place)}", enquiry_why.why_week(answer, ground, place)
    if kind == FOUND and isinstance(place, Finding):
        return "Finding", (Step(place.text),)
    if kind == DRIFT and isinstance(place, Drift):
        return place.label, why_drift(place, ground.studio.settings)
    if kind in APART:
        return name, _apart(answer, ground, kind, rest)
    if kind == GROUP:
        return _group(answer, ground, place)
    return f"Price of {name}", _price(answer, ground, kind, rest)


def _apart(answer: Answer, ground: Ground, kind: object, rest: list[Any]) -> tuple[Step, ...]:
    """What it would take, free or loosen, and whom it would make late: each a sentence."""
    studio, key = ground.studio, tuple(rest)
    found: dict[str, list[tuple[tuple[object, ...], str]]] = {
        COMPETES: [((c.project, c.shade), competes_words(c, studio)) for c in answer.competes],
        FREED: [((f.shade,), freed_words(f, studio)) for f in answer.freed],
        RELAXED: [((r.slot, r.shade), relaxed_words(r, studio)) for r in answer.relaxed],
        LATE: [((n.project,), late_words(n, studio)) for n in answer.made_late],
    }
    return tuple(Step(words) for place, words in found[str(kind)] if place == key)


def _group(answer: Answer, ground: Ground, place: int) -> tuple[str, tuple[Step, ...]]:
    group = run_groups(answer)[place]
    steps = enquiry_why.why_group(answer, ground, group)
    cost = enquiry_why.why_shade(answer, ground, group.shade)
    heads = (Step(""), Step("What the shade costs in this piece"))
    title = f"{shade_name(ground.studio, group.shade)}: {group.places}"
    return title, (*steps, *heads, *cost)


def _price(answer: Answer, ground: Ground, kind: object, rest: list[Any]) -> tuple[Step, ...]:
    priced = answer.price
    if priced is None:
        return (Step(answer.no_price),)
    if kind == LINE:
        side, at = rest
        lines = priced.sheet.charged if side == "charged" else priced.sheet.leaves
        return enquiry_why.why_line(answer, ground, lines[at])
    if kind == PART:
        return price_why.why_part(priced.parts[rest[0]], priced)
    if kind == MOVE:
        return price_why.why_move(priced.moves[rest[0]], priced)
    if kind == THUMB:
        thumb = priced.thumbs[rest[0]]
        currency = priced.sheet.case.currency
        return (
            Step("A rule of thumb, only to compare (common practice)"),
            Step(thumb.how, say.money(thumb.amount, currency)),
        )
    return ()
