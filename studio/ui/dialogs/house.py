"""Dialogs about the house: settings, the look, files changed or broken, leaving."""

from __future__ import annotations

import asyncio
import os
import shlex
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING, Any

from textual.app import SuspendNotSupported

from studio.core import edits
from studio.core.model import CrochetTerms, Join, LengthUnit, LotRule, StashValue, WeightUnit
from studio.errors import StudioError
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, choose, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.dialogs.piece import figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


def currency(entry: str) -> str:
    """A currency code of ISO 4217."""
    from studio.core.money import minor_digits

    code = entry.strip().upper()
    try:
        minor_digits(code)
    except StudioError as error:
        raise ValueError(error.text) from error
    return code


def settings_fields(app: StripewrightApp) -> list[Field]:
    """The fields of the studio itself: name, currency, units."""
    now = app.view.settings
    return [
        Field("name", "studio", now.name, entries.text("The name"), "what you call your studio"),
        Field("currency", "currency", now.currency, currency, "three letters, such as EUR"),
        Field("length_unit", "lengths in", now.length_unit, LengthUnit, options=(
            (LengthUnit.CM, "cm"), (LengthUnit.INCH, "inches"))),
        Field("weight_unit", "yarn in", now.weight_unit, WeightUnit, options=(
            (WeightUnit.GRAM, "grams"), (WeightUnit.OUNCE, "ounces"))),
        Field("terms", "stitch names", now.terms, CrochetTerms, options=(
            (CrochetTerms.US, "US terms"), (CrochetTerms.UK, "UK terms"))),
    ]  # fmt: skip


async def settings(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """What studio.toml says."""
    now = app.view.settings
    rules = ((LotRule.ONE, "one lot"), (LotRule.BY_STRIPE, "a lot by stripe"))
    fields = [
        *settings_fields(app),
        Field("rate_per_hour", "rate an hour", figure(now.rate_per_hour),
              entries.number("The rate")),
        Field("tax_registered", "registered for tax", "yes" if now.tax_registered else "no",
              options=YES_NO, check=lambda text: text == "yes"),
        Field("stash_value", "stash yarn counts", now.stash_value, StashValue, options=(
            (StashValue.REPLACEMENT, "at today's price"), (StashValue.PAID, "as paid"))),
        Field("join", "balls join", now.join, Join, options=(
            (Join.ANYWHERE, "anywhere in a row"), (Join.EDGE, "only at the edge"))),
        Field("lots_for_customer", "for a customer", now.lots_for_customer, LotRule,
              options=rules),
        Field("lots_otherwise", "otherwise", now.lots_otherwise, LotRule, options=rules),
    ]  # fmt: skip
    values = await fill_in(app, "settings", "The studio", fields)
    if values is not None:
        plain: dict[str, Any] = dict(values)
        app.edit("studio settings", lambda s: edits.set_settings(s, **plain))


async def look(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Choose a theme; it is kept in studio.toml."""
    before = app.theme
    rows = [(t.key, t.name, t.note) for t in app.themes.by_key.values()]
    found = await choose(app, "Colours of the screen", rows, at=before)
    if found is not None:
        theme = str(found)
        app.use_theme(theme)
        app.edit(f"colours: {theme}", lambda s: edits.set_settings(s, theme=theme))


async def changed_on_disk(app: StripewrightApp, subject: object) -> None:
    """Somebody else changed a file that is to be saved: hers or theirs, and neither is lost."""
    rows = [
        ("theirs", "take what is on disk", "yours are kept in a copy of the folder beside it"),
        ("later", "decide later", "nothing is saved until then; everything stays on the screen"),
    ]
    found = await choose(app, "Changed on disk", rows, note=str(subject))
    app.disk_settled()
    if found == "theirs" and app.folder is not None:
        try:
            copy = await asyncio.to_thread(app.workshop.save_copy)
        except StudioError as error:
            app.say(f"{error.text} So yours stays on the screen.", needs_you=True)
            return
        app.read_studio(f"Read again from disk; your own state is in {copy}.")


async def leave(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Save what is not saved, and end; where that cannot be done, ask."""
    try:
        await asyncio.to_thread(app.workshop.save)
    except StudioError as error:
        rows = [
            ("stay", "stay", "nothing is lost"),
            ("leave", "leave without saving", "what was changed since the last save is lost"),
        ]
        found = await choose(app, error.title, rows, note=error.text)
        if found != "leave":
            return
    app.end()


async def reload(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Read the files again; what is not saved is saved first."""
    try:
        await asyncio.to_thread(app.workshop.save)
    except StudioError as error:
        app.say(error.text, needs_you=True)
        return
    app.read_studio("Read again.")


async def open_file(app: StripewrightApp, subject: object) -> None:
    """Open the file at hand in her editor: a broken one first, else the piece's own."""
    path = _file_at_hand(app, subject)
    if path is None:
        app.say("There is no file to open here.")
        return
    await edit_file(app, path)


async def edit_file(app: StripewrightApp, path: Path) -> None:
    """Open a file in her editor, and read the studio again where that changed it."""
    command = os.environ.get("VISUAL") or os.environ.get("EDITOR") or ""
    if not command:
        app.say(f"Set EDITOR to the command of your editor; the file is {path}")
        return
    await asyncio.to_thread(_save_quietly, app)
    try:
        with app.suspend():
            subprocess.run([*shlex.split(command), str(path)], check=False)
    except SuspendNotSupported:
        app.say(f"An editor cannot be opened in this terminal; the file is {path}")
        return
    except (OSError, ValueError) as error:
        app.say(f"The editor '{command}' could not be started: {error}", needs_you=True)
        return
    app.refresh()
    changed = await asyncio.to_thread(app.workshop.changed_on_disk)
    if changed or app.view.snapshot.problems:
        app.read_studio("Read again after your editor.")
    else:
        app.say("Nothing was changed in your editor.")


def _save_quietly(app: StripewrightApp) -> None:
    """Save before an editor opens; a refusal is told by the next autosave anyway."""
    try:
        app.workshop.save()
    except StudioError:
        return


def _file_at_hand(app: StripewrightApp, subject: object) -> Path | None:
    folder = app.folder
    problems = app.view.snapshot.problems
    if folder is None:
        return None
    if isinstance(subject, int) and subject < len(problems):
        return folder / problems[subject].file
    if problems:
        return folder / problems[0].file
    if app.view.key is not None:
        from studio.storage.kinds import Kind

        return folder / Kind.PROJECT.file(app.view.key)
    return folder / "studio.toml"
