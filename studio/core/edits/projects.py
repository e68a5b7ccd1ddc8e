"""Edits of a project as a whole: its stage, words, size and progress; adding, copying, removing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

from studio.core.edits.customers import customer_key
from studio.core.edits.places import (
    check_shade,
    counted,
    put_project,
    refuse,
    the_project,
)
from studio.core.edits.stripes import MOST_ROWS
from studio.core.model import (
    Accepted,
    ClaimKind,
    Length,
    Project,
    Stage,
    Stated,
    Studio,
)
from studio.core.naming import fresh_key

MOST_CM = 2_000
"""The longest side that is taken for meant rather than mistyped."""

LONGEST_NAME = 200
"""The longest name that a project file may state."""

SETTABLE = frozenset(
    {
        "name",
        "customer",
        "due",
        "booked",
        "stage",
        "stitch",
        "hook_mm",
        "direction",
        "method",
        "join",
        "mix",
        "note",
        "stated",
        "notions",
        "weigh_ins",
    }
)
"""What `set_project` may change; everything else has an edit of its own."""

OVER = frozenset({Stage.DECLINED, Stage.CANCELLED})


def set_size(studio: Studio, project: str, width: Length, length: Length) -> Studio:
    """Ask for another size; stripes and rows stay as they are."""
    piece = the_project(studio, project)
    for side, asked in (("width", width), ("length", length)):
        _check_side(piece, side, asked)
    return put_project(studio, replace(piece, width=width, length=length))


def set_rows_done(studio: Studio, project: str, rows: int) -> Studio:
    """State how many rows are worked, counted from the first stripe."""
    piece = the_project(studio, project)
    total = sum(s.rows for s in piece.stripes)
    if not 0 <= rows <= total:
        refuse(
            f"{piece.name} has {counted(total, 'row')}, so 0 to {total:,} can be worked, "
            f"not {rows:,}."
        )
    return put_project(studio, replace(piece, rows_done=rows))


def set_project(studio: Studio, project: str, **changes: Any) -> Studio:
    """Change what a project says of itself (`SETTABLE`).

    A piece that is declined or cancelled lets go of all its yarn; one that goes back to a quote or
    an idea keeps its pins and purchases but holds nothing. No hold is made here.
    """
    unknown = sorted(changes.keys() - SETTABLE)
    if unknown:
        raise TypeError(f"set_project cannot change {', '.join(unknown)}")
    piece = the_project(studio, project)
    _check_words(studio, piece, changes)
    _check_work(studio, piece, changes)
    if "customer" in changes:
        changes["customer"] = customer_key(studio, changes["customer"])
    new = replace(piece, **changes)
    if new.stage in OVER and piece.stage is not new.stage:
        new = _let_go(new, ClaimKind)
    elif new.stage in (Stage.IDEA, Stage.QUOTED) and piece.stage.holds:
        new = _let_go(new, (ClaimKind.HOLD,))
    return put_project(studio, new)


def add_project(studio: Studio, new: Project) -> Studio:
    """Add a project after the others."""
    if not new.key or new.key in studio.project:
        refuse(f"There is a project {new.key!r} already; choose another name.")
    _check_name(studio, None, new.name)
    _check_stitch(studio, new.stitch)
    _check_hook(new, new.hook_mm)
    _check_design(studio, new)
    for side, asked in (("width", new.width), ("length", new.length)):
        _check_side(new, side, asked)
    key = customer_key(studio, new.customer)
    added = new if key == new.customer else replace(new, customer=key)
    return replace(studio, projects=(*studio.projects, added))


def copy_project(studio: Studio, project: str, name: str) -> Studio:
    """Take a design for a new idea: no customer, dates, money, progress, claims or weigh-ins."""
    piece = the_project(studio, project)
    _check_name(studio, None, name)
    new = _let_go(
        replace(
            piece,
            key=free_key(studio, name),
            name=name,
            stage=Stage.IDEA,
            customer="",
            due=None,
            booked=None,
            rows_done=0,
            weigh_ins=(),
            used=(),
            quote=None,
            price=None,
            payments=(),
            reached=(),
            log=(),
        ),
        ClaimKind,
    )
    return replace(studio, projects=(*studio.projects, new))


def remove_project(studio: Studio, project: str) -> Studio:
    """Take a project out of the studio; one that holds yarn must be cancelled or closed first."""
    piece = the_project(studio, project)
    if piece.stage.holds:
        refuse(
            f"{piece.name} is at stage '{piece.stage.value}' and holds yarn: "
            "cancel it or close it before it is removed."
        )
    return replace(studio, projects=tuple(p for p in studio.projects if p is not piece))


def accept_finding(studio: Studio, project: str, code: str, note: str) -> Studio:
    """Accept a kind of finding for this piece, with the reason; again to change the reason."""
    piece = the_project(studio, project)
    new = Accepted(code, note)
    if not any(a.code == code for a in piece.accepted):
        return put_project(studio, replace(piece, accepted=(*piece.accepted, new)))
    accepted = tuple(new if a.code == code else a for a in piece.accepted)
    return put_project(studio, replace(piece, accepted=accepted))


def free_key(studio: Studio, name: str) -> str:
    """A project key made from a name that no project has yet."""
    return fresh_key(name, studio.project, "piece")


def _let_go(piece: Project, kinds: Iterable[ClaimKind]) -> Project:
    """The project without claims of these kinds; runs without such a claim stay as they are."""
    wanted = frozenset(kinds)
    if not any(s.claim and s.claim.kind in wanted for s in piece.stripes):
        stripes = piece.stripes
    else:
        stripes = tuple(
            replace(s, claim=None) if s.claim and s.claim.kind in wanted else s
            for s in piece.stripes
        )
    border, fringe = piece.border, piece.fringe
    if border and border.claim and border.claim.kind in wanted:
        border = replace(border, claim=None)
    if fringe and fringe.claim and fringe.claim.kind in wanted:
        fringe = replace(fringe, claim=None)
    return replace(piece, stripes=stripes, border=border, fringe=fringe)


def _check_design(studio: Studio, new: Project) -> None:
    """Refuse a design without stripes, or with runs in slots that are not there."""
    if not new.stripes:
        refuse(f"{new.name} has no stripe, and a piece needs at least one.")
    letters = [s.letter for s in new.slots]
    if len(set(letters)) < len(letters):
        refuse(f"{new.name} states a slot twice ({', '.join(letters)}).")
    for slot in new.slots:
        check_shade(studio, slot.shade_ref)
    for index, stripe in enumerate(new.stripes):
        if new.slot(stripe.slot) is None:
            refuse(
                f"Stripe {index + 1} of {new.name} is in slot {stripe.slot}, which is not there."
            )
        if not 1 <= stripe.rows <= MOST_ROWS:
            refuse(
                f"Stripe {index + 1} of {new.name} has {counted(stripe.rows, 'row')}; "
                f"a stripe has 1 to {MOST_ROWS:,}."
            )
    for run in (new.border, new.fringe):
        if run is not None and new.slot(run.slot) is None:
            refuse(f"The border or fringe of {new.name} is in slot {run.slot}, which is not there.")


def _check_words(studio: Studio, piece: Project, changes: Mapping[str, Any]) -> None:
    """Refuse a name that is taken, and numbers by hand that cannot be."""
    if "name" in changes:
        _check_name(studio, piece, changes["name"])
    stated = changes.get("stated")
    if isinstance(stated, Stated):
        for field in fields(stated):
            value = getattr(stated, field.name)
            amount = value.value if isinstance(value, Length) else value
            if amount is not None and amount <= 0:
                refuse(f"The {field.name} written by hand is {amount}; it must be more than 0.")


def _check_work(studio: Studio, piece: Project, changes: Mapping[str, Any]) -> None:
    """Refuse a stitch that is not there or a hook of nothing, and another stitch mid-piece."""
    if "stitch" in changes:
        _check_stitch(studio, changes["stitch"])
    if "hook_mm" in changes:
        _check_hook(piece, changes["hook_mm"])
    settled = [
        word
        for word in ("stitch", "direction", "method")
        if word in changes and changes[word] != getattr(piece, word)
    ]
    if settled and piece.rows_done:
        refuse(
            f"{piece.name} has {counted(piece.rows_done, 'row')} worked, "
            f"so its {settled[0]} stays '{getattr(piece, settled[0])}'."
        )


def _check_name(studio: Studio, own: Project | None, name: str) -> None:
    if not name.strip():
        refuse("A project needs a name.")
    if len(name) > LONGEST_NAME or not name.isprintable():
        refuse(f"A name is one line of at most {LONGEST_NAME} characters; this has {len(name)}.")
    for other in studio.projects:
        if other is not own and other.name.casefold() == name.strip().casefold():
            refuse(f"There is a project called {other.name} already; choose another name.")


def _check_stitch(studio: Studio, stitch: str) -> None:
    if stitch not in studio.library.stitch:
        known = ", ".join(studio.library.stitch) or "none yet"
        refuse(f"There is no stitch {stitch!r}; the stitches are {known}.")


def _check_hook(piece: Project, hook_mm: Decimal) -> None:
    if not (hook_mm.is_finite() and 0 < hook_mm <= 50):
        refuse(f"A hook of {hook_mm} mm makes no sense for {piece.name}: 0.5 to 50 mm is usual.")


def _check_side(piece: Project, side: str, asked: Length) -> None:
    if not (asked.value.is_finite() and 0 < asked.cm <= MOST_CM):
        refuse(
            f"A {side} of {asked.value} {asked.unit.value} makes no sense for {piece.name}: "
            f"it is more than 0 and at most {MOST_CM:,} cm."
        )
