"""Dialogs about evidence: a swatch with its counts and weighing, and a trial of known yarn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core import edits, library_say
from studio.core.gauge import main_yarn
from studio.core.model import GaugeCount, Length, LengthUnit, Studio, Swatch, Weighing
from studio.errors import EditRefusedError
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import figure, length_entry

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NOTE = (
    "Lay a ruler on it and count; washed is better, since the piece is sold washed. Its weight "
    "tells the yarn of a row. What is not known stays empty."
)
COUNTED_IN = (("no", "stitches"), ("yes", "repeats of the pattern"))


def _span(unit: LengthUnit) -> Length:
    """The span that the trade counts over."""
    return Length(Decimal(4 if unit is LengthUnit.INCH else 10), unit)


def _amount(what: str) -> entries.Check:
    return entries.optional(entries.number(what, "0", "10000", above=True))


def _count_fields(name: str, words: str, count: GaugeCount | None, unit: LengthUnit) -> list[Field]:
    span = length_entry(_span(unit))
    across, along = (
        (length_entry(count.stitch_span), length_entry(count.row_span)) if count else (span, span)
    )
    return [
        Field(f"{name}_stitches", f"{words}: count", figure(count.stitches) if count else "",
              _amount("The count"), "stitches side by side"),
        Field(f"{name}_across", "over", across, entries.length("The span", unit)),
        Field(f"{name}_rows", f"{words}: rows", figure(count.rows) if count else "",
              _amount("The rows"), "rows one above another"),
        Field(f"{name}_along", "over", along, entries.length("The span", unit)),
    ]  # fmt: skip


def _swatch_fields(app: StripewrightApp, old: Swatch) -> list[Field]:
    unit = app.view.settings.length_unit
    stitches = tuple((s.key, s.name) for s in app.view.studio.library.stitches)
    weighed = old.weighed
    repeats = any(c is not None and c.in_repeats for c in (old.before, old.after))
    return [
        Field("stitch", "stitch", old.stitch, options=stitches or ((old.stitch, old.stitch),)),
        Field("hook_mm", "hook mm", figure(old.hook_mm),
              entries.number("The hook", "0", "50", above=True)),
        *_count_fields("after", "washed", old.after, unit),
        *_count_fields("before", "unwashed", old.before, unit),
        Field("in_repeats", "counted in", "yes" if repeats else "no",
              lambda text: text == "yes", options=COUNTED_IN),
        Field("grams", "weight g", figure(weighed.grams) if weighed else "",
              _amount("The weight"), "the whole swatch, on a scale"),
        Field("weighed_rows", "it has rows", figure(weighed.rows) if weighed else "",
              _amount("The rows"), "all rows of the swatch"),
        Field("weighed_stitches", "of stitches", figure(weighed.stitches) if weighed else "",
              _amount("The stitches"), "stitches in a row of it"),
        Field("minutes", "worked in minutes", figure(weighed.minutes) if weighed else "",
              _amount("The minutes"), "may be empty"),
        Field("note", "note", old.note),
    ]  # fmt: skip


def _number(values: Values, key: str) -> Decimal | None:
    found = values.get(key)
    return found if isinstance(found, Decimal) else None


def _count(values: Values, name: str, words: str) -> GaugeCount | None:
    stitches, rows = _number(values, f"{name}_stitches"), _number(values, f"{name}_rows")
    across, along = values.get(f"{name}_across"), values.get(f"{name}_along")
    if stitches is None and rows is None:
        return None
    if stitches is None or rows is None:
        missing = "rows" if rows is None else "stitches"
        raise EditRefusedError(f"The {words} count lacks its {missing}.")
    if not isinstance(across, Length) or not isinstance(along, Length):
        raise EditRefusedError(f"The {words} count lacks what it was counted over.")
    return GaugeCount(stitches, across, rows, along, bool(values.get("in_repeats")))


def _weighing(values: Values, old: Weighing | None) -> Weighing | None:
    grams = _number(values, "grams")
    rows, stitches = _number(values, "weighed_rows"), _number(values, "weighed_stitches")
    if grams is None and rows is None and stitches is None:
        return None
    if grams is None or rows is None or stitches is None:
        raise EditRefusedError("A weighed swatch needs its weight, its rows and their stitches.")
    kept = old or Weighing(rows, stitches)
    minutes = _number(values, "minutes")
    return replace(
        kept, rows=rows, stitches=stitches, grams=grams, balls=None, minutes=minutes
    )  # fmt: skip


def _swatch_from(values: Values, old: Swatch) -> Swatch:
    new = replace(
        old,
        stitch=str(values["stitch"]),
        hook_mm=Decimal(str(values["hook_mm"])),
        after=_count(values, "after", "washed"),
        before=_count(values, "before", "unwashed"),
        weighed=_weighing(values, old.weighed),
        note=str(values["note"]),
    )
    if not (new.after or new.before or new.weighed or new.trials):
        raise EditRefusedError("Nothing is counted or weighed yet, so it tells nothing.")
    return new


def _preview(app: StripewrightApp, old: Swatch) -> Callable[[Values], str]:
    def preview(values: Values) -> str:
        try:
            new = _swatch_from({"note": "", **values}, old)
        except (EditRefusedError, KeyError):
            return ""
        return library_say.gauge_words(new, app.view.studio.library, app.view.settings)

    return preview


async def new_swatch(app: StripewrightApp, subject: object) -> bool:
    """A new swatch of a yarn; `subject` may state yarn, stitch and hook."""
    library = app.view.studio.library
    if not library.yarns or not library.stitches:
        app.say("A swatch is of a yarn and a stitch: add these first.")
        return False
    if isinstance(subject, tuple):
        yarn, stitch, hook = subject
    else:
        piece = app.view.project
        stitch = piece.stitch if piece else library.stitches[0].key
        hook = piece.hook_mm if piece else Decimal("5.5")
        chosen = await _which_yarn(app, subject)
        if chosen is None:
            return False
        yarn = chosen
    blank = Swatch("", yarn, stitch, hook)

    def change(values: Values) -> Callable[[Studio], Studio]:
        new = _swatch_from(values, blank)

        def put(studio: Studio) -> Studio:
            key = edits.swatch_key(studio, new.yarn, new.stitch, new.hook_mm)
            return edits.add_swatch(studio, replace(new, key=key))

        return put

    title = f"A swatch of {app.view.yarn_name(yarn)}"
    values = await fill_in(
        app, f"new swatch {yarn}", title, _swatch_fields(app, blank), note=NOTE, verb="keep it",
        refused=refused(app, change), preview=_preview(app, blank), at="after_stitches",
    )  # fmt: skip
    if values is None:
        return False
    new = _swatch_from(values, blank)
    key = edits.swatch_key(app.view.studio, new.yarn, new.stitch, new.hook_mm)
    return app.edit(f"swatch of {app.view.yarn_name(yarn)} added", change(values), ("swatch", key))


async def swatch_for(app: StripewrightApp, key: str) -> None:
    """The swatch that a piece lacks: a new one, or the weight of one that was only counted."""
    piece = app.view.studio.project[key]
    yarn = main_yarn(piece)
    if yarn is None:
        return
    there = app.view.studio.library.swatches_of.get((yarn, piece.stitch, piece.hook_mm), ())
    if there:
        await correct_swatch(app, there[0].key)
    else:
        await new_swatch(app, (yarn, piece.stitch, piece.hook_mm))


async def _which_yarn(app: StripewrightApp, subject: object) -> str | None:
    yarns = app.view.studio.library.yarns
    if len(yarns) == 1:
        return yarns[0].key
    at = subject if subject in app.view.studio.library.yarn else None
    if at is None and app.view.project and app.view.project.slots:
        at = app.view.project.slots[0].yarn
    rows = [(y.key, y.name, library_say.yarn_words(y, app.view.settings)) for y in yarns]
    found = await choose(app, "A swatch of which yarn?", rows, at=at, narrow=len(rows) > 8)
    return None if found is None else str(found)


async def correct_swatch(app: StripewrightApp, key: str) -> None:
    """Put a swatch right."""
    old = next(s for s in app.view.studio.library.swatches if s.key == key)

    def change(values: Values) -> Callable[[Studio], Studio]:
        new = _swatch_from(values, old)
        return lambda studio: edits.set_swatch(studio, new)

    title = f"Swatch: {library_say.swatch_name(old, app.view.studio.library)}"
    values = await fill_in(
        app, f"swatch {key}", title, _swatch_fields(app, old), refused=refused(app, change),
        preview=_preview(app, old),
    )  # fmt: skip
    if values is not None:
        app.edit(f"swatch {key} corrected", change(values), ("swatch", key))


def _trial_fields(old: Weighing | None) -> list[Field]:
    return [
        Field("rows", "rows", figure(old.rows) if old else "",
              entries.number("Rows", "0", "100000", above=True), "that it worked"),
        Field("stitches", "of stitches", figure(old.stitches) if old else "",
              entries.number("Stitches", "0", "100000", above=True), "in each row"),
        Field("balls", "whole balls", figure(old.balls) if old else "",
              _amount("Balls"), "used up; or else grams"),
        Field("grams", "or grams", figure(old.grams) if old else "", _amount("Grams"),
              "used, by the scale"),
        Field("first_row", "from row", str(old.first_row) if old else "1",
              entries.whole("The first row", 1, 100_000), "1: from the foundation on"),
        Field("minutes", "in minutes", figure(old.minutes) if old else "",
              _amount("The minutes"), "may be empty"),
        Field("note", "note", old.note if old else ""),
    ]  # fmt: skip


def _trial_from(values: Values, old: Weighing | None) -> Weighing:
    grams, balls = _number(values, "grams"), _number(values, "balls")
    if (grams is None) == (balls is None):
        raise EditRefusedError("A trial needs either whole balls or grams, and only one of them.")
    rows, stitches = Decimal(str(values["rows"])), Decimal(str(values["stitches"]))
    return replace(
        old or Weighing(rows, stitches),
        rows=rows,
        stitches=stitches,
        grams=grams,
        balls=balls,
        first_row=int(str(values["first_row"])),
        minutes=_number(values, "minutes"),
        note=str(values["note"]),
    )


async def trial(app: StripewrightApp, key: str, at: int | None) -> None:
    """Add a trial to a swatch, or put one right."""
    swatch = next(s for s in app.view.studio.library.swatches if s.key == key)
    old = swatch.trials[at] if at is not None else None
    place = len(swatch.trials) if at is None else at

    def change(values: Values) -> Callable[[Studio], Studio]:
        new = _trial_from(values, old)
        trials = (*swatch.trials[:place], new, *swatch.trials[place + 1 :])
        return lambda studio: edits.set_swatch(studio, replace(swatch, trials=trials))

    name = library_say.swatch_name(swatch, app.view.studio.library)
    values = await fill_in(
        app, f"trial {key} {at}", "A trial: known yarn, known rows", _trial_fields(old), note=name,
        refused=refused(app, change),
    )  # fmt: skip
    if values is not None:
        label = "trial corrected" if old else "trial added"
        app.edit(label, change(values), ("trial", key, place))


def drop_trial(app: StripewrightApp, key: str, at: int) -> None:
    """Take a trial out of its swatch."""
    swatch = next(s for s in app.view.studio.library.swatches if s.key == key)
    trials: Sequence[Weighing] = (*swatch.trials[:at], *swatch.trials[at + 1 :])
    app.edit("trial removed", lambda s: edits.set_swatch(s, replace(swatch, trials=tuple(trials))))
