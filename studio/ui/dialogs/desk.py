"""What a dialog's steps may ask of the app: look, ask, edit, say."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import TYPE_CHECKING, Any

from studio.core.model import Project, ShadeRef, Studio
from studio.errors import EditRefusedError
from studio.ui.columns import Align, Cell, Column, Row
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.form import Field, Form, Values
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NEW_SHADE = "new shade"
YES_NO = (("no", "no"), ("yes", "yes"))


def the_piece(app: StripewrightApp, key: object = None) -> Project:
    """The piece of this key, or the one at hand; refuses in words where there is none."""
    found = app.view.studio.project.get(str(key)) if key else app.view.project
    if found is None:
        raise EditRefusedError("There is no piece at hand. F2 shows all pieces.")
    return found


async def fill_in(
    app: StripewrightApp, name: str, title: str, fields: Sequence[Field], **more: Any
) -> Values | None:
    """Ask with a form; what was typed and left is there again the next time."""
    return await app.push_screen_wait(Form(title, fields, draft=app.drafts[name], **more))


def refused(
    app: StripewrightApp, change: Callable[[Values], Callable[[Studio], object]]
) -> Callable[[Values], str]:
    """What the edit made of a form's values would be refused for, in its own words."""

    def check(values: Values) -> str:
        try:
            change(values)(app.view.studio)
        except EditRefusedError as error:
            return error.text
        return ""

    return check


async def choose(
    app: StripewrightApp,
    title: str,
    rows: Sequence[tuple[Hashable, str, str]],
    **more: Any,
) -> Hashable:
    """Choose among a few words, each with a quieter explanation beside it."""
    columns = (Column("", share=2, least=14), Column("", share=3, least=10, drop=1))
    made = [Row(key, (words, Cell(note, None)), detail=()) for key, words, note in rows]
    return await app.push_screen_wait(Choose(title, columns, made, **{"narrow": False, **more}))


async def choose_shade(
    app: StripewrightApp, title: str, *, at: ShadeRef | None = None, note: str = "", verb: str = ""
) -> ShadeRef | None:
    """Choose one of all shades, those of the same yarn first, each with what is free of it.

    The last row opens the form of a new yarn or shade, and what is added there is chosen.
    """
    from studio.core import headline, say

    view: View = app.view
    free = headline.free_by_shade(view.snapshot.plan)
    rows = []
    for yarn in view.studio.library.yarns:
        for shade in yarn.shades:
            ref = ShadeRef(yarn.key, shade.code)
            left = free.get(ref)
            words = "discontinued" if shade.discontinued or yarn.discontinued else ""
            row = Row(
                ref,
                (
                    Cell(shade.name, patch=view.patch(ref, view.letters.get(ref, ""))),
                    Cell(yarn.name),
                    Cell(say.grams(left).removesuffix(" g") if left else ""),
                    Cell(words),
                ),
                words=shade.code,
            )
            rows.append((at is None or yarn.key != at.yarn, row))
    rows.sort(key=lambda pair: pair[0])
    new = Row(NEW_SHADE, ("a new shade", "of any yarn", "", "add one"), stays=True)
    columns = (
        Column("shade", share=3, least=14),
        Column("yarn", share=2, least=10),
        Column("free", width=8, unit="g", align=Align.RIGHT),
        Column("", width=12, drop=1),
    )
    found = await app.push_screen_wait(
        Choose(title, columns, [*(r for _, r in rows), new], note=note, at=at,
               verb=verb or "take it")
    )  # fmt: skip
    if found == NEW_SHADE:
        return await _added_shade(app)
    return found if isinstance(found, ShadeRef) else None


async def _added_shade(app: StripewrightApp) -> ShadeRef | None:
    """The shade that was added in its form; None where the form was left."""
    before = set(app.view.studio.library.shade)
    await app.begin("new_yarn")
    return next((ref for ref in app.view.studio.library.shade if ref not in before), None)
