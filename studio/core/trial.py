"""The piece of an enquiry: made from a design, changed aside, then quoted or booked as one edit.

Nothing here touches the studio until `quoted` or `taken`: a trial is a plain project that is
changed by the same edits as any other, in a studio that is thrown away.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import booking, edits, gauge, say
from studio.core.edits.places import put_project, refuse, the_project
from studio.core.edits.projects import free_key
from studio.core.enquiry import Answer
from studio.core.frozen import dataclass
from studio.core.mends import fitted_rows
from studio.core.model import Length, Method, Project, ShadeRef, Stage, Studio
from studio.core.pricing import Aim

Change = Callable[[Studio], Studio]


@dataclass(frozen=True, slots=True)
class Variant:
    """A trial and how it is priced: by what it must leave (`aim`), or at a price tried (`shown`).

    Neither takes the studio's margin, or the price that was set by hand.
    """

    trial: Project
    aim: Aim | None = None
    shown: Decimal | None = None


def trial_of(studio: Studio, design: str) -> Project:
    """An idea or a quote as it stands; any other piece's design as a fresh idea, not yet added."""
    piece = the_project(studio, design)
    if piece.stage in booking.OPEN:
        return piece
    name = _free_name(studio, piece.name)
    copied = edits.copy_project(studio, design, name)
    return next(p for p in copied.projects if p.key not in studio.project)


def _free_name(studio: Studio, name: str) -> str:
    taken = {p.name.casefold() for p in studio.projects}
    wanted, count = f"{name} again", 2
    while wanted.casefold() in taken:
        wanted, count = f"{name} again {count}", count + 1
    return wanted


def changed(studio: Studio, trial: Project, change: Change) -> Project:
    """The trial after an edit of the studio; a refusal is the edit's own."""
    others = tuple(p for p in studio.projects if p.key != trial.key)
    return change(replace(studio, projects=(*others, trial))).project[trial.key]


def named(studio: Studio, trial: Project, name: str) -> Project:
    """The trial by another name; refused where it is empty or another piece has it.

    A piece that is not in the studio yet is filed under its name too; one that is keeps its file.
    """
    plain = name.strip()
    new = changed(studio, trial, lambda s: edits.set_project(s, trial.key, name=plain))
    return new if trial.key in studio.project else replace(new, key=free_key(studio, plain))


def named_alike(variants: Iterable[Variant], like: Project) -> tuple[Variant, ...]:
    """The variants under one name: they are one piece, tried in several ways."""
    return tuple(replace(v, trial=replace(v.trial, key=like.key, name=like.name)) for v in variants)


def resized(studio: Studio, trial: Project, width: Length, length: Length) -> Project:
    """Another size, the stripes fitted to it in pairs of rows with order and proportion kept."""
    asked = changed(studio, trial, lambda s: edits.set_size(s, trial.key, width, length))
    return _fitted(studio, asked)


def _fitted(studio: Studio, trial: Project) -> Project:
    """Fit the rows to the size asked; as they are where grams are entered or no gauge is known."""
    stitch = studio.library.stitch.get(trial.stitch)
    found = gauge.gauge_of(trial, studio.library)
    size = gauge.size_of(trial, stitch, found) if stitch and found else None
    if size is None or trial.method is not Method.ROWS or size.rows == size.rows_for_target:
        return trial
    rows = fitted_rows([s.rows for s in trial.stripes], size.rows_for_target)
    stripes = tuple(replace(s, rows=n) for s, n in zip(trial.stripes, rows, strict=True))
    return replace(trial, stripes=stripes)


def redesigned(studio: Studio, trial: Project, design: str) -> Project:
    """The stripes, shades, stitch, border and fringe of another piece, in the size of the trial."""
    pattern = trial_of(studio, design)
    taken = replace(
        trial,
        stitch=pattern.stitch,
        hook_mm=pattern.hook_mm,
        slots=pattern.slots,
        stripes=pattern.stripes,
        direction=pattern.direction,
        method=pattern.method,
        border=pattern.border,
        fringe=pattern.fringe,
        stated=pattern.stated,
        minutes=pattern.minutes,
    )
    return _fitted(studio, booking_free(taken))


def booking_free(trial: Project) -> Project:
    """The trial without any tie to yarn: another design's pins and purchases are not its own."""
    border, fringe = trial.border, trial.fringe
    return replace(
        trial,
        stripes=tuple(replace(s, claim=None) for s in trial.stripes),
        border=replace(border, claim=None) if border else None,
        fringe=replace(fringe, claim=None) if fringe else None,
    )


def recoloured(studio: Studio, trial: Project, letter: str, shade: ShadeRef) -> Project:
    """The slot in another shade."""
    return changed(studio, trial, lambda s: edits.map_slot(s, trial.key, letter, shade))


def due_on(trial: Project, due: date | None, today: date) -> Project:
    """The trial for another date; a date in the past is refused."""
    if due is not None and due < today:
        refuse(f"{say.date(due)} is past; ask for a day from today on.")
    return replace(trial, due=due)


def promised_for(answer: Answer) -> date:
    """The date it is quoted and booked for: the one asked, else the earliest promise."""
    return answer.project.due or answer.promise.ready


def refreshed(studio: Studio, trial: Project) -> Project:
    """The trial with what the studio has written down of it meanwhile: stage, quote, money."""
    piece = studio.project.get(trial.key)
    if piece is None:
        return replace(trial, stage=Stage.IDEA, quote=None, payments=(), reached=())
    return replace(
        trial,
        stage=piece.stage,
        quote=piece.quote,
        payments=piece.payments,
        reached=piece.reached,
    )


def kept(studio: Studio, trial: Project) -> Studio:
    """The studio with the trial in it, at the stage it has there."""
    trial = refreshed(studio, trial)
    if trial.key not in studio.project:
        return edits.add_project(studio, trial)
    if trial.stage not in booking.OPEN:
        refuse(f"{trial.name} is no longer an idea or a quote, so it cannot be tried.")
    return put_project(studio, trial)


def quoted(studio: Studio, answer: Answer, on: date) -> Studio:
    """Freeze the answer's price as the piece's quote; refused where there is no price."""
    if answer.price is None:
        refuse(answer.no_price)
    trial = answer.project
    home = kept(studio, trial)
    return booking.send_quote(home, trial.key, answer.price, on, promised_for(answer))


def taken(studio: Studio, answer: Answer, on: date) -> Studio:
    """Book the piece as it was tried: its lots are held, its price is frozen, its date stands.

    A quote that was sent stays as sent; a piece that somebody orders unquoted gets its quote now,
    where it has a price, so that what was agreed is written down. Made for stock it needs none.
    """
    trial = answer.project
    home = _secured(kept(studio, trial), answer)
    sold = trial.customer and home.project[trial.key].quote is None
    if answer.price is not None and sold:
        home = booking.send_quote(home, trial.key, answer.price, on, promised_for(answer))
    return booking.accept(home, trial.key, answer.plan, on, promised_for(answer))


def _secured(studio: Studio, answer: Answer) -> Studio:
    """The studio in which booked pieces hold what they plan on, in the shades the piece lacks.

    A stripe that was changed after booking may hold nothing yet. The piece was tried behind it;
    once it is booked for an earlier date, what it lacks would choose first.
    """
    lacking, day = {s.shade for s in answer.buy}, promised_for(answer)
    for piece in studio.projects:
        plan = answer.kept.plans.get(piece.key)
        tried = answer.kept.studio.project.get(piece.key) if answer.kept.studio else None
        behind = piece.due is None or piece.due > day
        if piece.stage.holds and behind and plan is not None and tried == piece:
            studio = put_project(studio, booking.promised(piece, plan, lacking))
    return studio


def asked_for(piece: Project) -> Project:
    """A piece as it is tried before it is brought to a stage that holds yarn.

    One that is over, or in stock, is tried like an idea.
    """
    return piece if piece.stage in booking.OPEN else replace(piece, stage=Stage.IDEA)


def brought(studio: Studio, answer: Answer, stage: Stage, on: date) -> Studio:
    """Bring a piece to a stage that holds yarn, on the lots that its enquiry showed.

    From an idea or a quote that is accepting it, whatever stage it goes on to.
    """
    key = answer.project.key
    if the_project(studio, key).stage not in booking.OPEN:
        return booking.to_stage(studio, key, stage, answer.plan, on)
    booked = taken(studio, answer, on)
    return booked if stage is Stage.BOOKED else booking.to_stage(booked, key, stage, None, on)
