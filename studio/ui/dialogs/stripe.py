"""Dialogs about stripes and slots: one form for a stripe, splitting, its lot, the shades."""

from __future__ import annotations

from collections.abc import Hashable
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core import edits, say
from studio.core.answers import RunKind
from studio.core.model import (
    Border,
    Claim,
    ClaimKind,
    Fringe,
    LotRule,
    Method,
    Project,
    ShadeRef,
    Slot,
    Stripe,
    Studio,
)
from studio.ui.columns import Align, Cell, Column, Row, Tone
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import choose, choose_shade, fill_in, the_piece
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

RULES = (("", "as usual here"), (LotRule.ONE, "one lot"), (LotRule.BY_STRIPE, "a lot by stripe"))


async def stripe(app: StripewrightApp, subject: object) -> None:
    """Slot, rows, grams and note of one stripe."""
    piece = the_piece(app)
    index = int(str(subject))
    old = piece.stripes[index]
    options = tuple(
        (s.letter, f"{s.letter}  {app.view.shade_name(s.shade_ref)}") for s in piece.slots
    )
    fields = [
        Field("rows", "rows", str(old.rows), entries.whole("Rows", 1, 2000),
              "even, so that the colour changes on the right side"),
        Field("slot", "slot", old.slot, options=options),
        Field("note", "note", old.note),
    ]  # fmt: skip
    if piece.method is Method.BY_HAND or old.grams is not None:
        check = entries.optional(entries.number("Grams", "0", "100000", above=True))
        fields.append(Field("grams", "grams by hand", figure(old.grams), check))
    title = f"Stripe {index + 1} of {piece.name}"
    values = await fill_in(app, f"stripe {piece.key} {index}", title, fields)
    if values is not None:
        app.edit(f"stripe {index + 1}", lambda s: _with_stripe(s, piece.key, index, values), index)


def _with_stripe(studio: Studio, key: str, index: int, values: Values) -> Studio:
    studio = edits.set_slot(studio, key, index, str(values["slot"]))
    studio = edits.set_rows(studio, key, index, int(str(values["rows"])))
    studio = edits.set_note(studio, key, index, str(values["note"]))
    if "grams" in values:
        grams = values["grams"]
        wanted = grams if isinstance(grams, Decimal) else None
        studio = edits.set_grams(studio, key, RunKind.STRIPE, index, wanted)
    return studio


async def split(app: StripewrightApp, subject: object) -> None:
    """Ask for the rows of the first part."""
    piece = the_piece(app)
    index = int(str(subject))
    rows = piece.stripes[index].rows
    check = entries.whole("The first part", 1, max(1, rows - 1))
    field = Field("rows", "rows of the first", str(rows // 4 * 2 or 1), check,
                  f"of {say.count(rows, 'row')}; the rest makes the second")  # fmt: skip
    values = await fill_in(app, f"split {piece.key} {index}", f"Split stripe {index + 1}", [field])
    if values is not None:
        first = int(str(values["rows"]))
        app.edit("stripe split", lambda s: edits.split_stripe(s, piece.key, index, first), index)


async def lot(app: StripewrightApp, subject: object) -> None:
    """Pin a run to a lot, tie it to a purchase, or leave it to the plan."""
    piece = the_piece(app)
    kind, index = subject if isinstance(subject, tuple) else (RunKind.STRIPE, 0)
    run = _run_of(piece, kind, index)
    if run is None:
        return
    slot = piece.slot(run.slot)
    if slot is None:
        return
    rows = _lot_rows(app, slot.shade_ref, run.claim)
    columns = (
        Column("lot", share=2, least=14),
        Column("free", width=8, unit="g", align=Align.RIGHT),
        Column("left", width=8, unit="g", align=Align.RIGHT),
        Column("", share=2, least=8, drop=1),
    )
    place = f"stripe {index + 1}" if kind is RunKind.STRIPE else f"the {kind.value}"
    found = await app.push_screen_wait(
        Choose(
            f"Lot for {place}: {app.view.shade_name(slot.shade_ref)}",
            columns,
            rows,
            narrow=len(rows) > 8,
            at=run.claim.on if run.claim else None,
        )
    )
    if found is None:
        return
    claim = _claim(found)
    label = f"{place} pinned to {claim.on}" if claim else f"{place} left to the plan"
    stand: Hashable = index if kind is RunKind.STRIPE else kind.value
    app.edit(label, lambda s: edits.set_claim(s, piece.key, kind, index, claim), stand)


FREE = "the plan"
ORDER = "order "


def _claim(found: Hashable) -> Claim | None:
    if found == FREE:
        return None
    text = str(found)
    if text.startswith(ORDER):
        return Claim(ClaimKind.ORDER, text.removeprefix(ORDER))
    return Claim(ClaimKind.PIN, text)


def _run_of(piece: Project, kind: RunKind, index: int) -> Stripe | Border | Fringe | None:
    if kind is RunKind.STRIPE:
        return piece.stripes[index] if index < len(piece.stripes) else None
    return piece.border if kind is RunKind.BORDER else piece.fringe


def _lot_rows(app: StripewrightApp, shade: ShadeRef, claim: Claim | None) -> list[Row]:
    view = app.view
    rows = [Row(FREE, ("let the plan choose", "", "", "" if claim else "as it is now"))]
    for found in view.studio.stash.by_shade.get(shade, ()):
        state = view.snapshot.plan.lots.get(found.ref)
        tied = claim is not None and claim.on == found.code and claim.kind is not ClaimKind.ORDER
        free = say.grams(state.free_g).removesuffix(" g") if state else ""
        left = say.grams(state.left_g).removesuffix(" g") if state else ""
        words = "as it is now" if tied else found.note
        rows.append(Row(found.code, (f"lot {found.code}", free, left, words)))
    for purchase in view.studio.stash.purchases:
        if any(ShadeRef(line.yarn, line.shade) == shade for line in purchase.lines):
            words = f"arrives {say.date(purchase.arrives)}"
            rows.append(Row(ORDER + purchase.key, (f"on order: {purchase.key}", "", "", words)))
    return rows


async def slots(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """All slots of the piece: choose one to change, or add one."""
    piece = the_piece(app)
    rows = [
        Row(
            slot.letter,
            (
                Cell(slot.letter, Tone.STRONG),
                Cell(app.view.shade_name(slot.shade_ref),
                     patch=app.view.patch(slot.shade_ref, slot.letter)),
                app.view.yarn_name(slot.yarn),
                dict(RULES)[slot.lots or ""],
            ),
        )
        for slot in piece.slots
    ]  # fmt: skip
    rows.append(Row("+", ("", Cell("add a slot", Tone.FOCUS))))
    columns = (
        Column("", width=1),
        Column("shade", share=3, least=14),
        Column("yarn", share=2, least=10),
        Column("lots", width=16, drop=1),
    )
    found = await app.push_screen_wait(
        Choose(f"Slots of {piece.name}", columns, rows, narrow=False, verb="change")
    )
    if found == "+":
        await add_slot(app, piece)
    elif found is not None:
        await slot(app, found)


async def add_slot(app: StripewrightApp, piece: Project) -> None:
    """Give the next free letter a shade."""
    taken = {s.letter for s in piece.slots}
    letter = next((c for c in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if c not in taken), "Z")
    at = piece.slots[0].shade_ref if piece.slots else None
    shade = await choose_shade(app, f"Shade for slot {letter}", at=at)
    if shade is not None:
        app.edit(f"slot {letter} added", lambda s: edits.add_slot(s, piece.key, letter, shade))


async def slot(app: StripewrightApp, subject: object) -> None:
    """What to change about one slot."""
    piece = the_piece(app)
    letter = str(subject)
    found = piece.slot(letter)
    if found is None:
        return
    name = app.view.shade_name(found.shade_ref)
    rows = [
        ("shade", "another shade", f"it is {name} now"),
        ("one", "one lot for all its stripes", _now(found, LotRule.ONE)),
        ("by stripe", "a lot by stripe", _now(found, LotRule.BY_STRIPE)),
        ("", "lots as usual here", _now(found, None)),
        ("remove", "take the slot out", "only where nothing is worked in it"),
    ]
    chosen = await choose(app, f"Slot {letter}: {name}", rows)
    if chosen == "shade":
        shade = await choose_shade(
            app,
            f"Shade for slot {letter}",
            at=found.shade_ref,
            note=f"Now {name}. All its stripes change at once; undo takes it back.",
        )
        if shade is not None:
            label = f"slot {letter} to {app.view.shade_name(shade)}"
            app.edit(label, lambda s: edits.map_slot(s, piece.key, letter, shade))
    elif chosen == "remove":
        app.edit(f"slot {letter} removed", lambda s: edits.remove_slot(s, piece.key, letter))
    elif chosen is not None:
        rule = LotRule(str(chosen)) if chosen != "" else None
        label = f"slot {letter}: {dict(RULES)[rule or '']}"
        app.edit(label, lambda s: edits.set_lot_rule(s, piece.key, letter, rule))


def _now(found: Slot, rule: LotRule | None) -> str:
    return "as it is now" if found.lots == rule else ""
