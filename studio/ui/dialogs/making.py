"""Dialogs at the hook: rows done with their minutes, what rows weighed, hours spent."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import edits, say
from studio.core.model import Project, Studio, WeighIn
from studio.core.trade_model import WorkKind, WorkLog
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in, refused, the_piece
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import date_entry, figure
from studio.ui.dialogs.used import offer_words

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NEW = "new"
KINDS = (
    (WorkKind.CROCHET, "crochet"),
    (WorkKind.ENDS, "weaving in ends"),
    (WorkKind.TASK, "anything else"),
)
OUT = "0 takes it out again"
"""What an old note is told beside its figure."""


def _rows_of(app: StripewrightApp) -> int:
    plan = app.view.plan
    return plan.stripe_rows[-1].last if plan and plan.stripe_rows else 0


def _day_field(day: date | None) -> Field:
    today = clock.today()
    return Field("on", "on", date_entry(day), entries.optional(entries.day("The day", today)),
                 "such as 12 Mar; may be empty")  # fmt: skip


def _day(values: Values) -> date | None:
    found = values.get("on")
    return found if isinstance(found, date) else None


async def rows_done(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """How many rows of the piece are worked, and in what time."""
    piece = the_piece(app)
    total = _rows_of(app)

    def change(values: Values) -> Callable[[Studio], Studio]:
        rows, minutes = int(str(values["rows"])), values["minutes"]
        spent = minutes if isinstance(minutes, Decimal) else None
        return lambda s: edits.work_rows(s, piece.key, rows, spent, clock.today())

    fields = [
        Field("rows", "rows done", str(piece.rows_done),
              entries.whole("Rows done", 0, max(total, 0)),
              f"of {say.count(total, 'row')}; note the yarn used afterwards"),
        Field("minutes", "minutes for them", "",
              entries.optional(entries.number("The minutes", "0", "100000", above=True)),
              "since it was last noted; may be empty"),
    ]  # fmt: skip
    values = await fill_in(
        app, f"rows {piece.key}", f"Rows done of {piece.name}", fields,
        refused=refused(app, change),
    )  # fmt: skip
    if values is None:
        return
    rows = int(str(values["rows"]))
    label = f"{say.count(rows, 'row')} done"
    if app.edit(label, change(values)) and rows > piece.rows_done:
        app.say(f"{label}. {offer_words(app, piece.key)}".strip())


async def weigh_in(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """What rows of this piece have used: the best evidence for the rows to come."""
    piece = the_piece(app)
    lines = [
        f"{say.grams(w.grams)} of {w.slot}, {say.rows(w.first_row, w.first_row + w.rows - 1)}"
        for w in piece.weigh_ins
    ]
    days = [say.date(w.on) if w.on else "" for w in piece.weigh_ins]
    at = await _which(app, f"Weigh-ins of {piece.name}", "a new weigh-in", lines, days)
    if at is None:
        return
    old = piece.weigh_ins[at] if at >= 0 else None

    def change(values: Values) -> Callable[[Studio], Studio]:
        grams = Decimal(str(values["grams"]))
        if old is not None and not grams:
            return lambda s: edits.drop_weigh_in(s, piece.key, at)
        new = WeighIn(
            str(values["slot"]), int(str(values["rows"])), grams, int(str(values["first_row"])),
            _day(values),
        )  # fmt: skip
        return lambda s: edits.put_weigh_in(s, piece.key, new, at if old else None)

    values = await fill_in(
        app, f"weigh-in {piece.key} {at}", f"A weigh-in of {piece.name}",
        _weigh_in_fields(app, piece, old), refused=refused(app, change), at="grams",
        note="Weigh the ball before and after these rows: what it lost is what they used.",
    )  # fmt: skip
    if values is not None:
        app.edit("weigh-in", change(values))


def _weigh_in_fields(app: StripewrightApp, piece: Project, old: WeighIn | None) -> list[Field]:
    slots = tuple(
        (s.letter, f"{s.letter}  {app.view.shade_name(s.shade_ref)}") for s in piece.slots
    )
    slot, first, rows = slots[0][0] if slots else "A", 1, piece.rows_done
    plan, index = app.view.plan, app.bench.stripes.index
    if plan is not None and index is not None and index < len(plan.stripe_rows):
        here = plan.stripe_rows[index]
        slot, first = piece.stripes[index].slot, here.first
        rows = here.last - here.first + 1
    if old is not None:
        slot, first, rows = old.slot, old.first_row, old.rows
    most = max(1, _rows_of(app))
    return [
        Field("slot", "slot", slot, options=slots or ((slot, slot),)),
        Field("first_row", "from row", str(first), entries.whole("The row", 1, most),
              "of the piece"),
        Field("rows", "rows", str(max(1, rows)), entries.whole("Rows", 1, most),
              "that were worked"),
        Field("grams", "grams used", figure(old.grams) if old else "",
              entries.number("Grams", "0", "100000", above=old is None),
              OUT if old else "by the scale"),
        _day_field(old.on if old else clock.today()),
    ]  # fmt: skip


async def log_time(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Minutes spent on the piece; logged time beats every estimate."""
    piece = the_piece(app)
    words = dict(KINDS)
    lines = [f"{figure(w.minutes)} min, {words[w.kind]}" for w in piece.log]
    days = [", ".join(filter(None, (say.date(w.on) if w.on else "", w.note))) for w in piece.log]
    at = await _which(app, f"Time spent on {piece.name}", "note some time", lines, days)
    if at is None:
        return
    old = piece.log[at] if at >= 0 else None

    def change(values: Values) -> Callable[[Studio], Studio]:
        minutes, rows = Decimal(str(values["minutes"])), values["rows"]
        if old is not None and not minutes:
            return lambda s: edits.drop_work(s, piece.key, at)
        new = replace(
            old or WorkLog(minutes),
            minutes=minutes,
            kind=WorkKind(str(values["kind"])),
            rows=rows if isinstance(rows, int) else 0,
            first_row=int(str(values["first_row"])),
            on=_day(values),
            note=str(values["note"]),
        )
        return lambda s: edits.put_work(s, piece.key, new, at if old else None)

    values = await fill_in(
        app, f"log {piece.key} {at}", f"Time spent on {piece.name}", _log_fields(old),
        refused=refused(app, change),
    )  # fmt: skip
    if values is not None:
        app.edit("time spent", change(values))


def _log_fields(old: WorkLog | None) -> list[Field]:
    return [
        Field("minutes", "minutes", figure(old.minutes) if old else "",
              entries.number("The minutes", "0", "100000", above=old is None),
              OUT if old else "as long as it took"),
        Field("kind", "on", old.kind if old else WorkKind.CROCHET, options=KINDS),
        Field("rows", "rows", str(old.rows) if old and old.rows else "",
              entries.optional(entries.whole("Rows", 1, 100_000)),
              "of crochet, where you counted them"),
        Field("first_row", "from row", str(old.first_row) if old else "1",
              entries.whole("The row", 1, 100_000)),
        _day_field(old.on if old else clock.today()),
        Field("note", "note", old.note if old else "", entries.line),
    ]  # fmt: skip


async def _which(
    app: StripewrightApp, title: str, new: str, lines: Sequence[str], notes: Sequence[str]
) -> int | None:
    """The place of the note to correct, -1 for a new one, None where it was left."""
    if not lines:
        return -1
    rows = [(NEW, new, "")]
    rows += [(str(i), line, note) for i, (line, note) in enumerate(zip(lines, notes, strict=True))]
    found = await choose(app, title, rows, at=NEW, narrow=len(rows) > 12)
    if found is None:
        return None
    return -1 if found == NEW else int(str(found))
