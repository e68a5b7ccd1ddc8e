"""Dialogs about stitches: their chain rule, the rows that differ, the written instructions."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from studio.core import edits, library_say
from studio.core.model import RowKind, Stitch, Studio
from studio.core.naming import fresh_key
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, fill_in, refused
from studio.ui.dialogs.form import Field, Values

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NEW_LINE = " / "
"""Stands for a new line of the instructions, since an entry has one line."""


def kinds(entry: str) -> tuple[tuple[str, int, Decimal], ...]:
    """'foundation 1 x 1.15, set-up 2' as name, rows and weight of each kind."""
    found = []
    for part in filter(None, (p.strip() for p in entry.split(","))):
        match = re.fullmatch(r"(.+?)\s+(\d{1,4})(?:\s*x\s*(\d{1,2}(?:\.\d{1,3})?))?", part)
        if match is None:
            raise ValueError("Rows that differ are a name and how many: foundation 1 x 1.15.")
        found.append((match[1].strip(), int(match[2]), Decimal(match[3] or 1)))
    return tuple(found)


def _fields(old: Stitch) -> list[Field]:
    return [
        Field("name", "stitch", old.name, entries.text("The name")),
        Field("multiple", "multiple of", str(old.multiple), entries.whole("The multiple", 1, 500),
              "1: any number of chains"),
        Field("extra", "and", str(old.extra), entries.whole("The extra", -500, 500),
              "chains more; such as 1, or -1"),
        Field("skipped", "chains skipped", str(old.skipped), entries.whole("They", 0, 50),
              "before the first stitch"),
        Field("turning_chain", "turning chain", str(old.turning_chain),
              entries.whole("The turning chain", 0, 50), "chains at the turn"),
        Field("turning_counts", "it is a stitch", "yes" if old.turning_counts else "no",
              lambda text: text == "yes", options=YES_NO),
        Field("change_either_side", "colour changes on",
              "yes" if old.change_either_side else "no", lambda text: text == "yes",
              options=(("no", "the right side only"), ("yes", "either side"))),
        Field("stitches_per_repeat", "stitches a repeat", str(old.stitches_per_repeat or ""),
              entries.optional(entries.whole("Stitches", 1, 500)), "for shells, waves; else empty"),
        Field("edge_stitches", "edge stitches", str(old.edge_stitches),
              entries.whole("Edge stitches", 0, 500), "beside the repeats"),
        Field("kinds", "rows that differ", library_say.kinds_words(old), kinds,
              "foundation 1 x 1.15: heavier by 15 %"),
        Field("instruction", "instructions", NEW_LINE.join(old.instruction.strip().splitlines()),
              hint="/ begins a new line"),
    ]  # fmt: skip


def _from(values: Values, old: Stitch) -> Stitch:
    plain: dict[str, Any] = dict(values)
    stated = plain.pop("kinds")
    plain["instruction"] = "\n".join(str(plain["instruction"]).split(NEW_LINE))
    if plain["instruction"] == old.instruction.strip():
        plain["instruction"] = old.instruction
    known = {kind.name: kind for kind in old.kinds}
    first = tuple(
        replace(known.get(name, RowKind(name)), name=name, rows=rows, weight=weight)
        for name, rows, weight in stated
    )
    return replace(old, **plain, kinds=(*first, old.kinds[-1]))


async def stitch(app: StripewrightApp, key: str | None) -> None:
    """Add a stitch, or put one right."""
    known = app.view.studio.library.stitch
    old = known[key] if key is not None else Stitch("", "", extra=1)

    def change(values: Values) -> Callable[[Studio], Studio]:
        new = _from(values, old)
        if key is not None:
            return lambda studio: edits.set_stitch(studio, new)
        made = replace(new, key=fresh_key(new.name, known, "stitch"))
        return lambda studio: edits.add_stitch(studio, made)

    def preview(values: Values) -> str:
        return library_say.stitch_words(_from(values, old)) if len(values) == len(fields) else ""

    fields = _fields(old)
    values = await fill_in(
        app, f"stitch {key}", old.name or "A new stitch", fields, refused=refused(app, change),
        preview=preview,
    )  # fmt: skip
    if values is not None:
        name = str(values["name"])
        stand = ("stitch", key or fresh_key(name, known, "stitch"))
        app.edit(f"{name} {'corrected' if key else 'added'}", change(values), stand)
