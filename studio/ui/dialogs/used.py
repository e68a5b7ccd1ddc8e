"""Yarn used: it leaves its lots, line by line, and what was noted of it is put right here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import edits, used_say
from studio.core.edits import Take
from studio.core.model import Project, Studio, Used, UsedFrom
from studio.core.used import exact_g
from studio.core.used_say import LotLine
from studio.errors import EditRefusedError
from studio.ui import keys
from studio.ui.columns import CUT
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in, refused, the_piece
from studio.ui.dialogs.entries import UsedEntry
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NEW = "new"
OUT = (("yes", "yes"), ("no", "no, it is out already"))

LABEL = 19
"""Cells that the label of a field has for a shade and its lot."""


def offer_words(app: StripewrightApp, key: str) -> str:
    """What is worked and not noted yet, and the key that takes it out; empty where there is none.

    Only once the piece has a lot that is known: what was worked long ago is not brought up again.
    """
    notes = [n for n in app.workshop.to_note(key) if n.lot is not None]
    words = used_say.to_note_words(notes, app.view.studio)
    if not words:
        return ""
    shown = app.keymap.shown(keys.BY_ID["yarn_used"])
    return f"{shown or 'Yarn used'} takes {words} out of the stash."


async def yarn_used(app: StripewrightApp, subject: object) -> None:
    """Note what the worked rows have used, or put right what was noted before."""
    piece = the_piece(app, subject)
    at = await _which(app, piece)
    if at == NEW:
        await _note(app, piece)
    elif at is not None:
        await _correct(app, piece, int(at))


async def _which(app: StripewrightApp, piece: Project) -> str | None:
    """What is new, or the note to put right."""
    if not piece.used:
        return NEW
    studio, currency = app.view.studio, app.view.settings.currency
    to_note = used_say.to_note_words(app.workshop.to_note(piece.key), studio)
    rows = [(NEW, "what was used since", to_note or "nothing is worked out")]
    rows += [
        (str(at), used_say.noted_words(used, studio), used_say.how_words(used, currency))
        for at, used in enumerate(piece.used)
    ]
    title = f"Yarn used for {piece.name}"
    found = await choose(app, title, rows, at=NEW, narrow=len(rows) > 12)
    return None if found is None else str(found)


async def _note(app: StripewrightApp, piece: Project) -> None:
    notes = app.workshop.to_note(piece.key)
    lines = used_say.lot_lines(piece, notes, app.view.studio)
    if not lines:
        app.say(_nothing(app, piece))
        return
    today = clock.today()
    fields = [_field(at, line) for at, line in enumerate(lines)]
    fields += [
        Field("out", "take it out", "yes", lambda text: text == "yes", options=OUT,
              hint="no: you have used it up in the stash by hand"),
        Field("on", "on", date_entry(today), entries.day("The day", today)),
    ]  # fmt: skip

    def change(values: Values) -> Callable[[Studio], Studio]:
        on = values["on"] if isinstance(values["on"], date) else today
        return lambda s: edits.take_used(s, piece.key, _takes(s, lines, values), on)

    def preview(values: Values) -> str:
        return _preview(app.view.studio, piece, change, values)

    unsaid = used_say.unsaid_words(notes, app.view.studio)
    note = unsaid or (
        "Grams worked out from the rows done. Put them right, or say what the scale shows of "
        "a lot: left 40, or with full balls: left 2 balls 31."
    )
    values = await fill_in(
        app, f"used {piece.key} {lines}", f"Yarn used for {piece.name}", fields, note=note,
        refused=refused(app, change), preview=preview, verb="take it out",
    )  # fmt: skip
    if values is None:
        return
    before = len(piece.used)
    if app.edit("yarn used", change(values), None):
        noted = app.view.studio.project[piece.key].used[before:]
        app.say(_said(app, piece, noted))


def _nothing(app: StripewrightApp, piece: Project) -> str:
    if not piece.rows_done:
        shown = app.keymap.shown(keys.BY_ID["rows_done"])
        return f"No row of {piece.name} is done yet: {shown} says how many are."
    unsaid = used_say.unsaid_words(app.workshop.to_note(piece.key), app.view.studio)
    if unsaid:
        return f"{unsaid} No lot of it is in the stash."
    return f"No yarn of {piece.name} is known that could be noted: see its findings."


def _said(app: StripewrightApp, piece: Project, noted: Sequence[Used]) -> str:
    if not noted:
        return "Nothing was noted."
    words = used_say.taken_words(noted, app.view.settings.currency)
    now = app.view.studio.project[piece.key]
    if len(now.weigh_ins) > len(piece.weigh_ins):
        words += " What was weighed is kept as a weigh-in too."
    return words


def _field(at: int, line: LotLine) -> Field:
    """One lot: what is worked out stands in it; what is left may be said instead."""
    label = _label(line.name, line.ref.code)
    value = f"{line.worked_out.normalize():f}" if line.worked_out else ""
    if line.has is None:
        hint = f"{line.name} {line.ref.code} is not in the stash any more: noted only"
    else:
        hint = f"{line.name} {line.ref.code}: g used of {exact_g(line.has)}, or such as: left 40"
    return Field(f"lot{at}", label, value, entries.used, hint)


def _label(name: str, code: str) -> str:
    """Shade and lot in as much room as a label has; the lot stays whole where it can."""
    if len(name) + len(code) < LABEL:
        return f"{name} {code}".strip()
    room = max(1, LABEL - len(code) - 2)
    return f"{name[:room]}{CUT} {code}"[:LABEL]


def _takes(studio: Studio, lines: Sequence[LotLine], values: Values) -> list[Take]:
    """What is to be noted: a figure left as it was worked out, another one, or what is left."""
    takes = []
    for at, line in enumerate(lines):
        entry = values.get(f"lot{at}")
        if not isinstance(entry, UsedEntry):
            continue
        grams, by = entry.grams, UsedFrom.GIVEN
        if entry.left:
            grams = edits.used_of_left(studio, line.ref, entry.grams, entry.balls)
            by = UsedFrom.WEIGHED
        elif grams == line.worked_out:
            by = UsedFrom.WORKED_OUT
        if grams:
            gone = line.has is None or not values.get("out")
            takes.append(Take(line.ref, grams, by, out=gone))
    return takes


def _preview(
    studio: Studio,
    piece: Project,
    change: Callable[[Values], Callable[[Studio], Studio]],
    values: Values,
) -> str:
    """What all lines come to, or why they cannot be."""
    if "on" not in values:
        return ""
    try:
        noted = change(values)(studio).project[piece.key].used[len(piece.used) :]
    except EditRefusedError as error:
        return error.text
    return used_say.sum_words(noted, studio.settings.currency) if noted else ""


async def _correct(app: StripewrightApp, piece: Project, at: int) -> None:
    """Other grams; 0 takes the note out and the yarn returns to its lot."""
    old = piece.used[at]
    there = app.view.studio.stash.lot(old.ref) is not None

    def change(values: Values) -> Callable[[Studio], Studio]:
        grams = Decimal(str(values["grams"]))
        from_lot = bool(values.get("lot"))
        return lambda s: edits.set_used(s, piece.key, at, grams, from_lot=from_lot)

    fields = [
        Field("grams", "grams used", figure(old.grams),
              entries.number("Grams", "0", "100000"), "0 takes the note out again"),
    ]  # fmt: skip
    if there:
        fields.append(
            Field("lot", "change the lot too", "yes", lambda text: text == "yes",
                  options=(("yes", "yes"), ("no", "no, only this note")))
        )  # fmt: skip
    words = used_say.noted_words(old, app.view.studio)
    how = used_say.how_words(old, app.view.settings.currency)
    values = await fill_in(
        app, f"used {piece.key} {at}", words, fields, refused=refused(app, change),
        note=f"{how[0].upper()}{how[1:]}.",
    )  # fmt: skip
    if values is not None and app.edit("yarn used", change(values)):
        app.say("Put right.")
