"""Dialogs about a piece: its words and size, stage, progress, border, fringe, notions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from studio import clock
from studio.core import edits, say
from studio.core.answers import Finding
from studio.core.headline import customer_name
from studio.core.model import (
    Border,
    Direction,
    Fringe,
    Join,
    Length,
    Notion,
    Project,
    Stage,
    Studio,
)
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, choose, fill_in, the_piece
from studio.ui.dialogs.form import Field, Values

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

STAGE_NOTES = {
    Stage.IDEA: "sees only what is left over",
    Stage.QUOTED: "sees only what booked pieces leave",
    Stage.BOOKED: "its yarn is promised to it",
    Stage.MAKING: "on the hook",
    Stage.FINISHING: "ends, blocking, packing",
    Stage.IN_STOCK: "finished and not yet sold",
    Stage.DELIVERED: "handed over",
    Stage.DECLINED: "the quote was not taken",
    Stage.CANCELLED: "called off after booking",
}


def length_entry(length: Length) -> str:
    """A length as it would be typed."""
    return f"{length.value:f} {length.unit.value}"


def date_entry(day: date | None) -> str:
    """A date as it would be typed, which is as it is shown everywhere: '12 Mar 2027'."""
    return say.date(day) if day else ""


def figure(value: Decimal | None) -> str:
    """A number as it would be typed."""
    return "" if value is None else f"{value:f}"


async def details(app: StripewrightApp, subject: object) -> None:
    """Name, customer, stage, dates, size, stitch, hook and joining in one form."""
    piece = the_piece(app, subject)
    unit = app.view.settings.length_unit
    stitches = tuple((s.key, s.name) for s in app.view.studio.library.stitches)
    fields = [
        Field("name", "name", piece.name, entries.text("The name")),
        Field("customer", "customer", customer_name(piece, app.view.studio),
              hint="empty: for stock, or a gift"),
        Field("stage", "stage", piece.stage.value, Stage, options=tuple((s, s) for s in Stage)),
        Field("due", "due", date_entry(piece.due),
              entries.optional(entries.day("Due", clock.today())),
              "such as 12 Mar, or in 3 weeks"),
        Field("width", "width", length_entry(piece.width), entries.length("The width", unit)),
        Field("length", "length", length_entry(piece.length), entries.length("The length", unit)),
        Field("stitch", "stitch", piece.stitch,
              options=stitches or ((piece.stitch, piece.stitch),)),
        Field("hook_mm", "hook mm", figure(piece.hook_mm),
              entries.number("The hook", "0", "50", above=True)),
        Field("direction", "stripes run", piece.direction, Direction, options=(
            (Direction.ACROSS, "across the width"), (Direction.ALONG, "along the length"))),
        Field("join", "join balls", piece.join or "", _join, options=(
            ("", f"as the studio does ({app.view.settings.join.value})"),
            (Join.ANYWHERE, "anywhere in a row"), (Join.EDGE, "only at the edge"))),
        Field("mix", "lots may mix", "yes" if piece.mix else "no", options=YES_NO,
              check=lambda text: text == "yes"),
        Field("note", "note", piece.note),
    ]  # fmt: skip
    values = await fill_in(app, f"details {piece.key}", piece.name, fields)
    if values is None:
        return

    def change(studio: Studio) -> Studio:
        return _with_details(studio, piece.key, values)

    to = values["stage"]
    if to is piece.stage:
        app.edit(f"{piece.name} changed", change, piece.key)
    else:
        await app.begin("to_stage", (piece.key, to, change))


def _join(entry: str) -> Join | None:
    return Join(entry) if entry else None


def _with_details(studio: Studio, key: str, values: Values) -> Studio:
    """The piece with all that the form says but its stage."""
    plain: dict[str, Any] = dict(values)
    width, length, _ = plain.pop("width"), plain.pop("length"), plain.pop("stage")
    studio = edits.set_project(studio, key, **plain)
    return edits.set_size(studio, key, width, length)


async def stage(app: StripewrightApp, subject: object) -> None:
    """Choose any stage."""
    piece = the_piece(app, subject)
    rows = [(s.value, s.value, STAGE_NOTES[s]) for s in Stage]
    found = await choose(app, f"Stage of {piece.name}", rows, at=piece.stage.value)
    if found is not None:
        await app.begin("to_stage", (piece.key, Stage(str(found))))


async def copy_piece(app: StripewrightApp, subject: object) -> None:
    """One more like it, under another name."""
    piece = the_piece(app, subject)
    field = Field("name", "its name", f"{piece.name} again", entries.text("The name"))
    values = await fill_in(app, f"copy {piece.key}", f"One more like {piece.name}", [field])
    if values is not None:
        name = str(values["name"])
        before = set(app.view.studio.project)
        if app.edit(f"{name} begun", lambda s: edits.copy_project(s, piece.key, name)):
            _stand_on_new(app, before)


def _stand_on_new(app: StripewrightApp, before: set[str]) -> None:
    new = [key for key in app.view.studio.project if key not in before]
    if new:
        app.stand_on_piece(new[0])


async def accept(app: StripewrightApp, subject: object) -> None:
    """Say that a finding is meant, and why."""
    if not isinstance(subject, Finding) or subject.project is None:
        app.say("Only what belongs to one piece can be accepted.")
        return
    key, code = subject.project, subject.code
    values = await fill_in(
        app, f"accept {key} {code}", "It is meant",
        [Field("note", "why", "", hint="such as: the fade is wanted")], note=subject.text,
    )  # fmt: skip
    if values is not None:
        note = str(values["note"])
        app.edit("finding accepted", lambda s: edits.accept_finding(s, key, code, note))


def slot_options(app: StripewrightApp, piece: Project) -> tuple[tuple[str, str], ...]:
    """The slots of a piece as choices: letter and shade."""
    return tuple((s.letter, f"{s.letter}  {app.view.shade_name(s.shade_ref)}") for s in piece.slots)


async def border(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Add or change the border."""
    piece = the_piece(app)
    options = slot_options(app, piece)
    unit = app.view.settings.length_unit
    old = piece.border or Border(options[0][0], 2, Length(Decimal(2), unit))
    fields = [
        Field("slot", "slot", old.slot, options=options),
        Field("rounds", "rounds", str(old.rounds), entries.whole("Rounds", 1, 100)),
        Field("width", "adds on each side", length_entry(old.width),
              entries.length("The width", unit)),
        Field("pick_up", "stitches a row", figure(old.pick_up), entries.number(
            "Stitches picked up for each row", "0", "10", above=True)),
        Field("corners", "for corners", str(old.corners), entries.whole("Corners", 0, 200)),
        Field("increase", "more each round", str(old.increase),
              entries.whole("The increase", 0, 200)),
    ]  # fmt: skip
    values = await fill_in(app, f"border {piece.key}", f"Border of {piece.name}", fields)
    if values is not None:
        plain: dict[str, Any] = dict(values)
        new = replace(old, **plain)
        app.edit("border", lambda s: edits.set_border(s, piece.key, new), "border")


async def fringe(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Add or change the fringe."""
    piece = the_piece(app)
    options = slot_options(app, piece)
    unit = app.view.settings.length_unit
    old = piece.fringe or Fringe(options[0][0], 80, Length(Decimal(24), unit))
    fields = [
        Field("slot", "slot", old.slot, options=options),
        Field("strands", "strands", str(old.strands), entries.whole("Strands", 1, 10_000),
              "both ends together"),
        Field("cut", "cut to", length_entry(old.cut), entries.length("The cut", unit)),
    ]  # fmt: skip
    values = await fill_in(app, f"fringe {piece.key}", f"Fringe of {piece.name}", fields)
    if values is not None:
        plain: dict[str, Any] = dict(values)
        new = replace(old, **plain)
        app.edit("fringe", lambda s: edits.set_fringe(s, piece.key, new), "fringe")


async def notion(app: StripewrightApp, subject: object) -> None:
    """Add or change a notion."""
    piece = the_piece(app)
    at = subject if isinstance(subject, int) and subject < len(piece.notions) else None
    old = piece.notions[at] if at is not None else None
    fields = [
        Field("name", "what", old.name if old else "", entries.text("The name"),
              "such as a label, a box, tissue"),
        Field("cost", f"cost {app.view.settings.currency}", figure(old.cost) if old else "",
              entries.number("The cost")),
    ]  # fmt: skip
    values = await fill_in(app, f"notion {piece.key} {at}", "Notion", fields)
    if values is not None:
        new = Notion(str(values["name"]), Decimal(str(values["cost"])))
        kept = list(piece.notions)
        kept[at if at is not None else len(kept) : (at + 1) if at is not None else None] = [new]
        notions = tuple(kept)
        app.edit(f"notion {new.name}", lambda s: edits.set_project(s, piece.key, notions=notions))
