"""Writing a table of what the studio has, for a spreadsheet; it can be taken in again."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core.sheets.taking import count_of, table_of
from studio.core.spreadsheet import CsvForm
from studio.storage.papers_out import FileThereError, write_paper
from studio.ui.buying.places import papers_folder, place_check
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.tables.matching import MARKS, PARTED
from studio.ui.tables.taking import which_kind

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

DECIMALS = tuple((mark, words) for mark, (words, _) in MARKS.items())


async def table_out(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Write a table; a file of hers is never written over unasked."""
    kind = await which_kind(app, "Write out a table")
    if kind is None:
        return
    values = await fill_in(
        app,
        f"table out {kind}",
        f"Write out {kind.words}",
        [
            Field("file", "file", str(papers_folder(app) / f"{kind.value}.csv"), place_check),
            Field("parted", "parted by", ",", options=tuple(PARTED.items())),
            Field("decimal", "decimals after", ".", options=DECIMALS),
        ],
        note=f"{count_of(kind, app.view.studio)}, each in lines of its own. It can be taken in "
        "again.",
        verb="write it",
    )  # fmt: skip
    if values is None:
        return
    # Spreadsheets know by the mark that the letters are UTF-8.
    form = CsvForm(str(values["parted"]), str(values["decimal"]), bom=True)
    text = table_of(kind, app.view.studio, form)
    written = await _write(app, place_check(str(values["file"])), text)
    if written is not None:
        app.say(f"Written: {written}")


async def _write(app: StripewrightApp, path: Path, text: str) -> Path | None:
    try:
        return await asyncio.to_thread(write_paper, path, text)
    except FileThereError:
        rows = [
            ("keep", "keep the file that is there", "nothing is written"),
            ("instead", "write in its place", "what is in it now is gone"),
        ]
        note = f"{path} is there already."
        if await choose(app, "There is such a file already", rows, note=note) != "instead":
            return None
    return await asyncio.to_thread(lambda: write_paper(path, text, overwrite=True))
