"""The customer's papers: shown as they are read, written where she wants them, in her own words."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core import order_say
from studio.core.model import Project
from studio.papers.forms import PaperForm, formed
from studio.papers.model import PaperKind, QuotePaper, quote_paper
from studio.papers.text import to_text
from studio.ui.buying.places import papers_folder, place_check
from studio.ui.columns import wrap
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.house import edit_file
from studio.ui.dialogs.message import Words

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

PAPER_WIDTH = 66
FORMS = (
    (PaperForm.PDF, "PDF"),
    (PaperForm.HTML, "page to print (HTML)"),
    (PaperForm.TEXT, "plain text"),
    (PaperForm.MARKDOWN, "Markdown"),
)


def made(app: StripewrightApp, project: Project, kind: PaperKind) -> QuotePaper:
    """The paper in her own wording; refused in words where that cannot be read."""
    from studio.storage.wording import own_wording as wording_of

    folder = _folder(app)
    return quote_paper(
        project,
        app.view.snapshot.plan.projects[project.key],
        app.workshop.demand_of(project.key),
        app.view.studio,
        None if folder is None else wording_of(folder),
        kind,
    )


def _folder(app: StripewrightApp) -> Path | None:
    return app.workshop.folder or app.folder


async def show_paper(app: StripewrightApp, project: Project, kind: PaperKind) -> None:
    """Show what the customer reads."""
    paper = made(app, project, kind)
    width = min(PAPER_WIDTH, app.size.width - 8)
    app.push_screen(Words(paper.title, _noted(app, project, to_text(paper, width))))


def _noted(app: StripewrightApp, project: Project, text: str) -> str:
    """The paper as text, under what she should know of it before it is sent."""
    plan = app.view.snapshot.plan.projects[project.key]
    words = order_say.changed_words(project, plan)
    lines = "\n".join(wrap(words, min(PAPER_WIDTH, app.size.width - 8)))
    return f"{lines}\n\n{text}" if words else text


async def write_paper(app: StripewrightApp, project: Project, kind: PaperKind) -> None:
    """Ask how and where, write the paper, and say where it is."""
    paper = made(app, project, kind)
    name = f"{kind.value}-{project.key}"
    fields = [
        Field("form", "written as", PaperForm.PDF, PaperForm, options=FORMS),
        Field("folder", "in folder", str(papers_folder(app)), place_check),
        Field("name", "named", name, entries.text("The name"), "without an ending"),
    ]

    def path_of(values: Values) -> Path | None:
        if not all(f.key in values for f in fields):
            return None
        form, folder = PaperForm(str(values["form"])), values["folder"]
        assert isinstance(folder, Path)
        plain = str(values["name"]).removesuffix(form.ending)
        return folder / f"{plain}{form.ending}"

    def preview(values: Values) -> str:
        path = path_of(values)
        return "" if path is None else f"Writes {path.name}"

    values = await fill_in(app, f"write {name}", paper.title, fields, verb="write", preview=preview)
    path = path_of(values) if values is not None else None
    if values is None or path is None:
        return
    data = await asyncio.to_thread(formed, paper, PaperForm(str(values["form"])))
    written = await _written(app, path, data)
    if written is not None:
        width = min(PAPER_WIDTH, app.size.width - 8)
        text = f"It is in {written}\n\n{_noted(app, project, to_text(paper, width))}"
        app.push_screen(Words(f"{kind.value.capitalize()} written", text))


async def _written(app: StripewrightApp, path: Path, data: bytes) -> Path | None:
    """Write a file, asking first where there is one; None where it is left as it is."""
    from studio.storage.papers_out import FileThereError, free_name, write_paper

    try:
        return await asyncio.to_thread(write_paper, path, data)
    except FileThereError as there:
        other = free_name(path)
        rows = (
            ("other", f"write {other.name}", "what is there stays"),
            ("replace", "replace it", "what is there is lost"),
        )
        note = f"{path} is there already."
        found = await choose(app, there.title, rows, note=note, verb="do it")
        if found == "other":
            return await asyncio.to_thread(write_paper, other, data)
        if found == "replace":
            return await asyncio.to_thread(lambda: write_paper(path, data, overwrite=True))
        app.say("Nothing was written.")
        return None


async def own_wording(app: StripewrightApp) -> None:
    """Make the file of her own wording, or take the one there is, and open it in her editor."""
    from studio.storage.kinds import WORDING_FILE
    from studio.storage.papers_out import FileThereError
    from studio.storage.wording import begin_wording

    folder = _folder(app)
    if folder is None:
        app.say("There is no studio folder to keep a wording in.")
        return
    path = folder / WORDING_FILE
    try:
        await asyncio.to_thread(begin_wording, folder)
        app.say(f"Made {path}; it lists the fields that may be used.")
    except FileThereError:
        app.say(f"Your wording is in {path}.")
    await edit_file(app, path)
