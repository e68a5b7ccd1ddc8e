"""Taking a table in: its kind and file, its columns matched once, every row seen before."""

from __future__ import annotations

import asyncio
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from studio import clock
from studio.core import say
from studio.core.model import Studio
from studio.core.sheets.taking import Intake, Request, SheetKind, count_of, intake
from studio.errors import SaveError
from studio.storage import sheets
from studio.ui import keys
from studio.ui.buying.places import file_check, papers_folder
from studio.ui.columns import Cell, Column, Row, Tone
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.tables.matching import Matched, MatchSheet, missing
from studio.ui.tables.rows import Next, RowsSheet

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

TYPED = "another place"
SHELVES = ("", "Downloads", "Documents", "Desktop")
"""Folders of her home in which a table is looked for."""


async def which_kind(app: StripewrightApp, title: str) -> SheetKind | None:
    """Which of the three tables it is; each with what the studio has of it."""
    studio = app.view.studio
    rows = [(kind, kind.words, f"{count_of(kind, studio)} now") for kind in SheetKind]
    found = await choose(app, title, rows)
    return found if isinstance(found, SheetKind) else None


async def table_in(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Take a table in; nothing is written before she has seen every row."""
    kind = await which_kind(app, "Take in a table")
    path = None if kind is None else await _file(app)
    if kind is None or path is None:
        return
    opened = await asyncio.to_thread(sheets.open_table, path, kind, app.workshop.folder)
    plans = app.view.snapshot.plan.projects
    request = Request(kind, opened.table, opened.columns, clock.today(), plans=plans)
    asked = not opened.known or bool(missing(request))
    while True:
        if asked:
            sheet = MatchSheet(request, path.name, opened.doubts)
            found: Matched | None = await app.push_screen_wait(sheet)
            if found is None:
                return
            request = found.request
        looked = await asyncio.to_thread(intake, request, app.view.studio)
        title = f"Take in {kind.words}: {path.name}"
        if await app.push_screen_wait(RowsSheet(looked, title, opened.doubts)) is Next.TAKE:
            await _take(app, request, looked, path)
            return
        asked = True


async def _take(app: StripewrightApp, request: Request, looked: Intake, path: Path) -> None:
    """Take the rows in as one edit, and remember the columns."""

    def change(studio: Studio) -> Studio:
        # Told anew, should the studio have changed while she looked.
        return intake(request, studio).taken(leave_out_faulty=bool(looked.faulty))

    if not app.edit(f"{request.kind.words} from {path.name}", change):
        return
    left = f"; {say.count(len(looked.faulty), 'row')} left out" if looked.faulty else ""
    undo = app.keymap.shown(keys.BY_ID["undo"])
    app.say(f"Taken in: {say.count(looked.changing, 'row')} of {path.name}{left}; {undo} undoes.")
    if app.workshop.folder is not None:
        try:
            await asyncio.to_thread(
                sheets.remember, app.workshop.folder, request.kind, request.table, request.columns
            )
        except SaveError as error:
            app.say(f"Taken in, but the columns are not remembered: {error.text}", needs_you=True)


# Which file


def _places(app: StripewrightApp) -> list[Path]:
    """Where a table may lie: the studio, its papers, where she is, and her usual folders."""
    home = Path.home()
    studio = [app.folder] if app.folder is not None else []
    return [*studio, papers_folder(app), Path.cwd(), *(home / shelf for shelf in SHELVES)]


async def _file(app: StripewrightApp) -> Path | None:
    """A table from those that lie about, the newest first, or one that is typed."""
    found = await asyncio.to_thread(sheets.found_tables, _places(app))
    if not found:
        return await _typed_file(app)
    rows = [
        Row(
            table.path,
            (
                table.path.name,
                Cell(_shown(table.path.parent), Tone.QUIET),
                Cell(say.date(datetime.fromtimestamp(table.written_s).date()), Tone.QUIET),  # noqa: DTZ006
            ),
        )
        for table in found
    ]
    rows.append(Row(TYPED, (TYPED, Cell("type where it is", Tone.QUIET), "")))
    columns = (
        Column("table", share=3, least=18),
        Column("in", share=3, least=12, drop=2),
        Column("written", width=11, drop=1),
    )
    chosen = await app.push_screen_wait(Choose("Which table?", columns, rows))
    if chosen == TYPED:
        return await _typed_file(app)
    return chosen if isinstance(chosen, Path) else None


def _shown(folder: Path) -> str:
    """A folder as she would write it."""
    home = Path.home()
    return (
        f"~/{folder.relative_to(home)}".rstrip("/.") if folder.is_relative_to(home) else str(folder)
    )


async def _typed_file(app: StripewrightApp) -> Path | None:
    values = await fill_in(
        app,
        "table in",
        "Take in a table",
        [Field("file", "CSV file", "", file_check, "such as ~/stash.csv")],
        note="Any spreadsheet saves one as CSV. Nothing is written before you have seen it.",
        verb="look at it",
    )
    return None if values is None else file_check(str(values["file"]))
