"""Yarns with their shades, stitches, swatches and trials: added, put right and removed here."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import BindingType

from studio.core import edits, library_say, say
from studio.core.model import ShadeRef
from studio.ui import keys
from studio.ui.beside import BESIDE_CSS, Beside, SheetPane
from studio.ui.dialogs.desk import choose
from studio.ui.dialogs.stitch import stitch
from studio.ui.dialogs.swatch import correct_swatch, drop_trial, new_swatch, trial
from studio.ui.dialogs.yarn import correct_shade, correct_yarn, new_yarn, remove_shade
from studio.ui.drawn_list import Cell, Column, Row, Tone
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Key = tuple[str | int, ...]
"""What a line stands for: its kind, and the keys that name it."""


class YarnsSheet(SheetPane):
    """Every yarn, its shades under it."""

    words = "Yarns"
    empty = "No yarn yet. Insert adds one, as it stands on its ball band."

    def __init__(self) -> None:
        super().__init__("yarns")

    def columns(self) -> Iterable[Column]:
        """Name, and what it states."""
        return Column("", share=2, least=16), Column("", share=3, least=14, drop=1)

    def fill(self, view: View) -> None:
        """A line for the yarn, one for each shade."""
        library = view.studio.library
        self.list.set_empty(self.empty)
        rows: list[Row] = []
        for yarn in library.yarns:
            said = library_say.yarn_words(yarn, view.settings)
            more = library_say.yarn_detail(yarn, library)
            tone = Tone.QUIET if yarn.discontinued else Tone.STRONG
            rows.append(
                Row(("yarn", yarn.key), (yarn.name, Cell(said, Tone.QUIET)), tone,
                    detail=(said, *more))
            )  # fmt: skip
            for shade in yarn.shades:
                patch = view.patch(ShadeRef(yarn.key, shade.code))
                name = Cell(f"{shade.name}", patch=patch)
                said = library_say.shade_words(shade)
                key = ("shade", yarn.key, shade.code)
                rows.append(Row(key, (name, Cell(said, Tone.QUIET)), words=yarn.name))
        self.list.set_rows(rows)
        count = len(library.yarns)
        self.head.show(self.words, say.count(count, "yarn") if count else "")


class StitchesSheet(SheetPane):
    """Every stitch with its chain rule."""

    words = "Stitches"
    empty = "No stitch yet. Insert adds one."

    def __init__(self) -> None:
        super().__init__("stitches")

    def columns(self) -> Iterable[Column]:
        """Name and chain rule."""
        return Column("", share=2, least=16), Column("", share=3, least=14, drop=1)

    def fill(self, view: View) -> None:
        """A line for each; its rule in full and its instructions open under it."""
        self.list.set_empty(self.empty)
        rows = []
        for made in view.studio.library.stitches:
            rule = library_say.stitch_words(made)
            differ = library_say.kinds_words(made)
            more = [f"rows that differ: {differ}"] if differ else []
            detail = (rule, *more, *made.instruction.strip().splitlines())
            rows.append(
                Row(("stitch", made.key), (made.name, Cell(rule, Tone.QUIET)), detail=detail)
            )
        self.list.set_rows(rows)
        self.head.show(self.words, say.count(len(rows), "stitch") if rows else "")


class SwatchesSheet(SheetPane):
    """Every swatch with its gauge, its trials under it."""

    words = "Swatches"
    empty = "No swatch yet. Insert adds one: with it sizes and grams are known."

    def __init__(self) -> None:
        super().__init__("swatches")

    def columns(self) -> Iterable[Column]:
        """What it is of, and what it tells."""
        return Column("", share=1, least=18), Column("", share=1, least=16, drop=1)

    def fill(self, view: View) -> None:
        """A line for each swatch, one for each trial."""
        library, settings = view.studio.library, view.settings
        self.list.set_empty(self.empty)
        rows: list[Row] = []
        for swatch in library.swatches:
            name = library_say.swatch_name(swatch, library)
            gauge = library_say.gauge_words(swatch, library, settings) or "nothing counted"
            weighed = library_say.weighing_words(swatch.weighed) if swatch.weighed else ""
            detail = tuple(filter(None, (name, gauge, weighed, swatch.note)))
            key: Key = ("swatch", swatch.key)
            rows.append(Row(key, (name, Cell(gauge, Tone.QUIET)), detail=detail))
            for at, tried in enumerate(swatch.trials):
                said = library_say.weighing_words(tried)
                more = (said, tried.note) if tried.note else (said,)
                key = ("trial", swatch.key, at)
                rows.append(Row(key, ("  trial", Cell(said, Tone.QUIET)), detail=more, words=name))
        self.list.set_rows(rows)
        count = len(library.swatches)
        self.head.show(self.words, say.count(count, "swatch") if count else "")


class LibraryScreen(Beside):
    """Yarns, stitches and swatches beside the bench."""

    group = "library"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("library")
    CSS = (
        BESIDE_CSS
        + """
LibraryScreen.-wide .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 1fr 1fr; }
LibraryScreen.-middle .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 1fr 1fr; }
LibraryScreen.-wide #yarns, LibraryScreen.-middle #yarns { row-span: 2; }
"""
    )

    def __init__(self, view: View, keymap: Keymap, sheet: str = "") -> None:
        super().__init__(view, keymap)
        self.first_sheet = sheet

    def sheets(self) -> tuple[Pane, ...]:
        """Its three sheets."""
        return YarnsSheet(), StitchesSheet(), SwatchesSheet()

    def fill(self, view: View) -> None:
        """Fill all sheets."""
        for pane in self.query(Pane):
            pane.show(view)

    @property
    def key(self) -> Key | None:
        """What the line at hand stands for."""
        found = self.list.key
        return found if isinstance(found, tuple) else None

    def action_open(self) -> None:
        """Put the line at hand right."""
        if self.key is not None:
            self.change(self.key)

    @work(group="dialog")
    async def change(self, key: Key) -> None:
        """Open the form of a line."""
        app = self.studio_app
        match key:
            case ("yarn", str(yarn)):
                await correct_yarn(app, yarn)
            case ("shade", str(yarn), str(code)):
                await correct_shade(app, yarn, code)
            case ("stitch", str(made)):
                await stitch(app, made)
            case ("swatch", str(swatch)):
                await correct_swatch(app, swatch)
            case ("trial", str(swatch), int(at)):
                await trial(app, swatch, at)

    def action_add(self) -> None:
        """Add to the sheet at hand."""
        self.add(self.key)

    @work(group="dialog")
    async def add(self, at: Key | None) -> None:
        """A yarn or a shade, a stitch, a swatch or a trial."""
        app = self.studio_app
        if self.sheet_at == "stitches":
            await stitch(app, None)
        elif self.sheet_at == "yarns":
            await new_yarn(app, await self._or_one_more(at, "yarn", "shade"))
        else:
            swatch = await self._or_one_more(at, "swatch", "trial")
            if swatch == "new":
                await new_swatch(app, None)
            elif swatch is not None:
                await trial(app, str(swatch), None)

    async def _or_one_more(self, at: Key | None, whole: str, part: str) -> Hashable:
        """'new', or the key of the one at hand where one more part of it is wanted."""
        if at is None:
            return "new"
        name = str(at[1])
        library = self.view.studio.library
        if whole == "yarn":
            words = self.view.yarn_name(name)
        else:
            of = next(s for s in library.swatches if s.key == name)
            words = library_say.swatch_name(of, library)
        rows = [(name, f"one more {part}", f"of {words}"), ("new", f"a new {whole}", "")]
        return await choose(self.studio_app, "Add", rows, verb="add")

    def action_remove(self) -> None:
        """Remove the line at hand; what is in use stays, and undo brings the rest back."""
        app, key = self.studio_app, self.key
        match key:
            case ("yarn", str(yarn)):
                name = self.view.yarn_name(yarn)
                app.edit(f"{name} removed", lambda s: edits.remove_yarn(s, yarn))
            case ("shade", str(yarn), str(code)):
                remove_shade(app, yarn, code)
            case ("stitch", str(made)):
                name = self.view.studio.library.stitch[made].name
                app.edit(f"{name} removed", lambda s: edits.remove_stitch(s, made))
            case ("swatch", str(swatch)):
                app.edit(f"swatch {swatch} removed", lambda s: edits.remove_swatch(s, swatch))
            case ("trial", str(swatch), int(at)):
                drop_trial(app, swatch, at)

    def refuses(self, what: str) -> str:
        """The piece at hand is changed on the bench."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_library(app: StripewrightApp, subject: object) -> None:
    """Open the library; `subject` may name the sheet to stand on."""
    sheet = subject if isinstance(subject, str) else ""
    await app.push_screen(LibraryScreen(app.view, app.keymap, sheet))
