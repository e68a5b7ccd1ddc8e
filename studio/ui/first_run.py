"""The first time: the studio's name and units, the first yarn, the first piece; never a blank."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from studio.core import edits
from studio.core.model import Settings, Studio, Yarn
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.house import settings_fields
from studio.ui.dialogs.stash import add_lot
from studio.ui.dialogs.yarn import (
    blank_yarn,
    shade_fields,
    shade_from,
    yarn_fields,
    yarn_from,
)

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

WELCOME = (
    "Welcome. Stripewright keeps your pieces, your yarn and what they cost, in plain files in one "
    "folder. Three short steps, and every one can be changed later: your studio, your first yarn, "
    "your first piece."
)
YARN = "Step 2 of 3. One yarn that you work with, as it stands on its ball band."
SHADE = "Its shades: one to begin with; another can follow at once."


async def first_run(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Go on from what is there: a studio without a name, without yarn, or without a piece."""
    named = app.folder is not None and (app.folder / "studio.toml").exists()
    if not named and not await _studio(app):
        app.say("Whenever you like: Ctrl+P finds 'Studio', 'Add a yarn' and 'New piece'.")
        return
    if not app.view.studio.library.yarns and not await _yarn(app):
        app.say("Ctrl+P finds 'Add a yarn or a shade'.")
        return
    await _piece(app)


async def _studio(app: StripewrightApp) -> bool:
    values = await fill_in(
        app, "first studio", "Your studio", settings_fields(app), note=WELCOME, verb="go on"
    )
    if values is None:
        return False
    plain: dict[str, Any] = dict(values)
    if not app.edit("the studio begun", lambda s: _begun(s, replace(s.settings, **plain))):
        return False
    await app.save_and_read()
    return True


def _begun(studio: Studio, settings: Settings) -> Studio:
    """The studio with its settings, and with plain stitches to begin with."""
    from studio.storage.begin import common_stitches

    studio = replace(studio, settings=settings)
    for stitch in common_stitches():
        if stitch.key not in studio.library.stitch:
            studio = edits.add_stitch(studio, stitch)
    return studio


async def _yarn(app: StripewrightApp) -> bool:
    currency = app.view.settings.currency
    values = await fill_in(
        app, "first yarn", "Your first yarn", yarn_fields(currency), note=YARN, verb="go on"
    )
    if values is None:
        return False
    yarn = yarn_from(values, blank_yarn(str(values["name"]), app.view.studio))
    while True:
        typed = await fill_in(
            app, f"first shade {len(yarn.shades)}", f"A shade of {yarn.name}", shade_fields(),
            note=SHADE, verb="add it",
        )  # fmt: skip
        if typed is not None:
            yarn = replace(yarn, shades=(*yarn.shades, shade_from(typed, yarn.shades)))
        if not yarn.shades:
            return False
        if typed is None or not await _more(app, yarn):
            break
    made = app.edit(f"{yarn.name} added", lambda s: edits.add_yarn(s, yarn))
    if made and await _have_some(app, yarn):
        await add_lot(app, None)
    return made


async def _more(app: StripewrightApp, yarn: Yarn) -> bool:
    names = ", ".join(s.name for s in yarn.shades)
    rows = [("more", "one more shade", ""), ("done", "that is all for now", "")]
    at = "more" if len(yarn.shades) < 2 else "done"
    return await choose(app, f"Shades of {yarn.name}", rows, note=names, at=at) == "more"


async def _have_some(app: StripewrightApp, yarn: Yarn) -> bool:
    rows = [
        ("yes", "yes, put down a lot", "how many balls, and which dye lot"),
        ("no", "not now", "the stash adds lots at any time"),
    ]
    return await choose(app, f"Is some {yarn.name} in the house?", rows) == "yes"


async def _piece(app: StripewrightApp) -> None:
    from studio.ui.dialogs.new_piece import new_piece

    if not await new_piece(app, None):
        app.say("Ctrl+N in the projects begins a piece.")
