"""Tables in and out from the keyboard: columns matched once, rows seen, one edit, undone."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from studio.core.model import Lot, Stage, Studio
from studio.core.sheets.taking import SheetKind, table_of
from studio.core.spreadsheet import CsvForm
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.base import Sheet
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.form import Form
from studio.ui.dialogs.message import Words
from studio.ui.tables.matching import MatchSheet
from studio.ui.tables.rows import RowsSheet
from tests.ui import looking, small
from tests.ui.tables import HERS

DEMO = Path(__file__).parents[2] / "projects" / "demo"
S = TypeVar("S", bound=Sheet[Any])
MATCHES = ("qual", "farb", "part", "kn")


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 11, 25))
    # Tables are looked for in her home, and where she is.
    (tmp_path / "home" / "Downloads").mkdir(parents=True)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path / "home")


@asynccontextmanager
async def opened(
    tmp_path: Path, text: str = "", name: str = "shelf.csv"
) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    if text:
        (tmp_path / "home" / "Downloads" / name).write_text(text, encoding="utf-8")
    app = StripewrightApp(Path(shutil.copytree(DEMO, tmp_path / "demo")))
    async with app.run_test(size=(80, 24)) as pilot:
        await small.settled(app, pilot)
        yield app, pilot


def studio_of(app: StripewrightApp) -> Studio:
    return app.workshop.snapshot.studio


def lot(app: StripewrightApp, code: str) -> Lot:
    return next(n for n in studio_of(app).stash.lots if n.code == code)


async def seen(app: StripewrightApp, pilot: Pilot[None], kind: type[S], title: str = "") -> S:
    """The dialog of this kind and title, once it is on the screen."""
    for _ in range(200):
        screen = app.screen
        if isinstance(screen, kind) and title in screen.title_words:
            await pilot.pause()
            return screen
        await pilot.pause(0.02)
    raise AssertionError(f"{app.screen} is no {kind}")


async def begin(app: StripewrightApp, pilot: Pilot[None], downs: int = 0) -> None:
    """Ask to take a table in, of this kind, from the only file that lies about."""
    await pilot.press("number_sign")
    await seen(app, pilot, Choose, "Take in a table")
    await pilot.press(*["down"] * downs, "enter")
    await seen(app, pilot, Choose, "Which table?")
    await pilot.press("enter")


async def match(app: StripewrightApp, pilot: Pilot[None]) -> None:
    """Match yarn, shade, lot and balls with her columns, by a few letters each."""
    await seen(app, pilot, MatchSheet)
    for at, letters in enumerate(MATCHES):
        await pilot.press(*["down"] * min(at, 1), "enter")
        await seen(app, pilot, Choose, "Which column")
        await pilot.press(*letters, "enter")
        await seen(app, pilot, MatchSheet)


def said(app: StripewrightApp) -> str:
    return "\n".join(looking.lines(looking.grid(app)))


async def test_a_table_is_matched_once_looked_at_and_taken_in_as_one_edit(tmp_path: Path) -> None:
    async with opened(tmp_path, HERS) as (app, pilot):
        before = studio_of(app)
        await begin(app, pilot)
        await match(app, pilot)
        assert studio_of(app) is before
        await pilot.press("ctrl+k")
        sheet = await seen(app, pilot, RowsSheet)
        assert sheet.looked.text == "7 rows: 1 new, 3 changed, 1 as it is, 2 with a problem"
        assert sheet.entries.key == 5, "the first row with a problem"
        await pilot.press("enter")
        assert "Is it Heather?" in (await seen(app, pilot, Words)).text
        await pilot.press("escape")
        assert studio_of(app) is before
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        assert (lot(app, "1188").balls, lot(app, "W-0405").balls, lot(app, "2401").balls) == (
            5, 6, 6,
        )  # fmt: skip
        assert app.workshop.snapshot.undo_label == "the stash from shelf.csv"
        after = studio_of(app)
        await pilot.press("ctrl+z")
        assert studio_of(app) == before
        await pilot.press("ctrl+y")
        assert studio_of(app) == after
        # Again: nothing is asked of the columns, and nothing is to be done.
        (tmp_path / "home" / "Downloads" / "shelf.csv").write_text(
            "\n".join(HERS.splitlines()[i] for i in (0, 1, 2, 3, 6, 7)), encoding="utf-8"
        )
        await begin(app, pilot)
        again = await seen(app, pilot, RowsSheet)
        assert again.looked.text == "5 rows: 5 as they are"
        await pilot.press("ctrl+k")
        assert await seen(app, pilot, RowsSheet) is again
        await pilot.press("escape")
        await seen(app, pilot, MatchSheet)
        await pilot.press("escape")
        await pilot.pause()
        assert studio_of(app) is after


async def test_lots_can_be_added_to_and_dates_read_otherwise(tmp_path: Path) -> None:
    text = "yarn,shade,lot,balls,bought\nfenlight,Damson,1188,2,3.4.2026\n"
    async with opened(tmp_path, text) as (app, pilot):
        assert lot(app, "1188").balls == 3
        await begin(app, pilot)
        await seen(app, pilot, MatchSheet)
        # The last line but one are the dates, the last one what becomes of lots.
        await pilot.press("end", "enter", "up", "enter", "ctrl+k")
        await seen(app, pilot, RowsSheet)
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        assert lot(app, "1188").balls == 5
        assert lot(app, "1188").batches[-1].bought == date(2026, 4, 3)


async def test_a_column_that_must_be_there_holds_the_rows_back(tmp_path: Path) -> None:
    async with opened(tmp_path, HERS) as (app, pilot):
        await begin(app, pilot)
        sheet = await seen(app, pilot, MatchSheet)
        await pilot.press("down", "down", "ctrl+k")
        assert await seen(app, pilot, MatchSheet) is sheet
        assert sheet.entries.key == ("field", "yarn")
        # One column holds one field: matched anew, it leaves the other.
        for _ in range(2):
            await pilot.press("enter")
            await seen(app, pilot, Choose, "Which column")
            await pilot.press(*"farb", "enter")
            await seen(app, pilot, MatchSheet)
            await pilot.press("down")
        assert sheet.request.columns.by_field == {"shade": "Farbe"}


async def test_prices_and_orders_from_the_keyboard(tmp_path: Path) -> None:
    text = "supplier,yarn,shade,pack,price\nthe wholesaler,Fenlight,Oat,5,6.20\n"
    async with opened(tmp_path, text) as (app, pilot):
        offers = len(studio_of(app).offers)
        await begin(app, pilot, 1)
        await seen(app, pilot, MatchSheet)
        await pilot.press("ctrl+k")
        await seen(app, pilot, RowsSheet)
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        assert len(studio_of(app).offers) == offers + 1
        (tmp_path / "home" / "Downloads" / "shelf.csv").write_text(
            "piece,for,due,width,length,like\nRiver wrap,Ilka,2027-03-01,90,200,Northing wave\n"
            "Bare cloth,Ilka,2027-04-01,90,200,\n"
        )
        await begin(app, pilot, 2)
        await seen(app, pilot, MatchSheet)
        await pilot.press("ctrl+k")
        await seen(app, pilot, RowsSheet)
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        assert studio_of(app).project["river-wrap"].stage is Stage.BOOKED
        await pilot.press("ctrl+z")
        assert "river-wrap" not in studio_of(app).project
        await pilot.press("ctrl+y")
        # A piece that came without a design gets its slots and stripes by hand.
        app.stand_on_piece("bare-cloth")
        app.go_to("stripes")
        await pilot.pause()
        await pilot.press("insert")
        await seen(app, pilot, Choose, "Slots")
        await pilot.press("enter")
        await seen(app, pilot, Choose, "Shade for slot A")
        await pilot.press("enter")
        await pilot.pause(0.1)
        await pilot.press("insert")
        await pilot.pause(0.1)
        bare = studio_of(app).project["bare-cloth"]
        assert [(s.slot, s.rows) for s in bare.stripes] == [("A", 2)]


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "nothing in this table"), ("yarn,yarn\n1,2\n", "Two columns are called")],
)
async def test_what_is_no_table_is_told_at_the_foot(tmp_path: Path, text: str, words: str) -> None:
    async with opened(tmp_path, "x") as (app, pilot):
        (tmp_path / "home" / "Downloads" / "shelf.csv").write_text(text)
        await begin(app, pilot)
        for _ in range(100):
            await pilot.pause(0.02)
            if words in said(app):
                break
        assert words in said(app)
        assert len(app.screen_stack) == 1


async def test_a_table_of_another_place_is_typed(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        (tmp_path / "far.txt").write_text("yarn,shade,lot,balls\nfenlight,Oat,9001,4\n")
        await pilot.press("number_sign")
        await seen(app, pilot, Choose, "Take in a table")
        await pilot.press("enter")
        # No table lies about, so that the place is asked at once.
        await seen(app, pilot, Form)
        app.screen.query_one("#field-file", Input).value = str(tmp_path / "no.csv")
        await pilot.press("enter")
        assert isinstance(app.screen, Form), "there is no such file"
        app.screen.query_one("#field-file", Input).value = str(tmp_path / "far.txt")
        await pilot.press("enter")
        await seen(app, pilot, MatchSheet)
        await pilot.press("ctrl+k")
        await seen(app, pilot, RowsSheet)
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        assert lot(app, "9001").balls == 4


async def test_a_table_is_written_and_never_over_hers_unasked(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        app.ask("table_out")
        await seen(app, pilot, Choose, "Write out a table")
        await pilot.press("down", "down", "enter")
        await seen(app, pilot, Form)
        await pilot.press("tab", "right", "tab", "right", "enter")
        await small.settled(app, pilot)
        path = tmp_path / "demo" / "papers" / "orders.csv"
        for _ in range(100):
            await pilot.pause(0.02)
            if path.exists():
                break
        wanted = table_of(SheetKind.ORDERS, studio_of(app), CsvForm(";", ",", bom=True))
        assert path.read_bytes() == wanted.encode()
        path.write_text("mine")
        for answer, left in (("enter", "mine"), ("down", wanted)):
            app.ask("table_out")
            await seen(app, pilot, Choose, "Write out a table")
            await pilot.press("down", "down", "enter")
            await seen(app, pilot, Form)
            await pilot.press("tab", "right", "tab", "right", "enter")
            await seen(app, pilot, Choose, "There is such a file already")
            await pilot.press(*([answer, "enter"] if answer != "enter" else ["enter"]))
            await pilot.pause(0.2)
            assert path.read_bytes().decode() == left


async def test_both_are_found_by_a_few_letters(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        for letters, title in (("in a table", "Take in a table"), ("out a table", "Write out")):
            await pilot.press("ctrl+p")
            await seen(app, pilot, Choose, "Find")
            await pilot.press(*[{" ": "space"}.get(c, c) for c in letters], "enter")
            await seen(app, pilot, Choose, title)
            await pilot.press("escape")
            await pilot.pause()
