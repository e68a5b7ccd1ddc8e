"""Finding a piece or an action by a few letters."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio.ui.columns import Align, Cell, Column, Row, Tone
from studio.ui.dialogs.choose import Choose
from studio.ui.keys import ACTIONS, BESIDE, EVERYWHERE, GROUPS
from studio.ui.panes.projects import in_working_order

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

PIECE, ACTION = "piece", "action"


def rows(app: StripewrightApp) -> list[Row]:
    """Her own pieces first, then what can be done in the pane at hand, then everything else."""
    found = [Row("pieces", ("pieces",), Tone.HEADING)]
    for project in in_working_order(app.view.studio.projects):
        words = f"{project.customer} {project.note}"
        cells = (project.name, Cell(project.stage.value, Tone.QUIET), "")
        found.append(Row((PIECE, project.key), cells, words=words))
    here = app.desk.at
    for group in (here, EVERYWHERE, *(g for g in GROUPS if g not in (here, EVERYWHERE))):
        found.append(Row(("group", group), (GROUPS[group].lower(),), Tone.HEADING))
        found += [
            Row(
                (ACTION, action.id),
                (action.label, Cell(action.help, Tone.QUIET), app.keymap.shown(action)),
                words=GROUPS[group],
            )
            for action in ACTIONS
            if action.group == group and action.verb != "palette"
        ]
    return found


async def palette(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Go to the piece, or do the action, that was chosen."""
    columns = (
        Column("", share=3, least=20),
        Column("", share=4, least=12, drop=1),
        Column("", width=9, align=Align.RIGHT),
    )
    found = await app.push_screen_wait(Choose("Find", columns, rows(app), verb="do it"))
    if not isinstance(found, tuple):
        return
    what, name = found
    if what == PIECE:
        app.stand_on_piece(name)
        app.go_to("stripes")
        return
    action = next(a for a in ACTIONS if a.id == name)
    if action.group == EVERYWHERE:
        await app.run_action(action.target)
    else:
        if action.group in BESIDE:
            if app.desk.at != action.group:
                await app.begin(action.group)
        else:
            app.go_to(action.group)
        await app.run_action(action.verb, app.desk.pane)
