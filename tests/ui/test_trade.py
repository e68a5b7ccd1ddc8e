"""Her trade and her customers: changed in forms, refused in a sentence, undone, and saved."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from studio.ui.app import StripewrightApp
from studio.ui.dialogs.form import Form
from studio.ui.trade.screen import TradeScreen
from tests.core import trading
from tests.core.trading import D, lot, piece
from tests.ui import small

DEMO = Path(__file__).parents[2] / "projects" / "demo"


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: trading.TODAY)


def studio() -> Any:
    return trading.studio(piece("throw", ("A", 40, "1"), customer="Odette"), lots=(lot("1", 9),))


async def opened(app: StripewrightApp, pilot: Pilot[None], sheet: str) -> TradeScreen:
    await pilot.press("f12")
    await pilot.pause()
    screen = app.screen
    assert isinstance(screen, TradeScreen)
    screen.go_to_sheet(sheet)
    await pilot.pause()
    return screen


async def stand_on(screen: TradeScreen, pilot: Pilot[None], label: str) -> None:
    keys = [row.key for row in screen.list.rows if row.selectable]
    assert screen.list.go_to(next(k for k in keys if isinstance(k, tuple) and label in k)), label
    await pilot.pause()


def sheet(screen: TradeScreen, name: str) -> str:
    found = screen.sheet(name).list
    return "\n".join(found.row_text(row) for row in found.rows)


def told(app: StripewrightApp) -> str:
    assert isinstance(app.screen, Form)
    return str(app.screen.query_one("#told").content)  # type: ignore[attr-defined]


async def test_prices_are_changed_and_what_cannot_be_is_said_in_the_form(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (200, 50), studio()) as (app, pilot):
        screen = await opened(app, pilot, "prices")
        assert "margin  20 %" in sheet(screen, "prices")
        await stand_on(screen, pilot, "margin")
        await pilot.press("enter")
        await pilot.pause()
        # The form begins in the field of the line.
        assert app.focused is not None
        assert app.focused.id == "field-margin"
        await pilot.press(*"97", "enter")
        await pilot.pause()
        assert "A margin of 97 % and fees of 3 % make 100 %" in told(app)
        assert app.workshop.snapshot.undo_label is None
        await pilot.press("home", "shift+end", *"25", "enter")
        await pilot.pause()
        assert app.workshop.snapshot.studio.trade.prices.margin == D("0.25")
        assert "margin  25 %" in sheet(screen, "prices")
        await pilot.press("ctrl+z")
        await pilot.pause()
        assert app.workshop.snapshot.studio.trade.prices.margin == D("0.2")
        # A deposit of more than the price.
        await stand_on(screen, pilot, "deposit")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"130", "enter")
        await pilot.pause()
        assert "A deposit of 130 % is larger than the price" in told(app)
        await pilot.press("home", "shift+end", "delete", "enter")
        await pilot.pause()
        assert app.workshop.snapshot.studio.trade.prices.deposit_share is None


async def test_the_week_and_days_off(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "hours")
        await stand_on(screen, pilot, "Monday")
        await pilot.press("enter")
        await pilot.pause()
        for _ in range(7):
            await pilot.press("home", "shift+end", "delete", "tab")
        await pilot.press("enter")
        await pilot.pause()
        assert "at least one day needs hours" in told(app)
        await pilot.press("up", *"2:30", "enter")
        await pilot.pause()
        hours = app.workshop.snapshot.studio.trade.hours
        assert hours.weekday_min == (0, 0, 0, 0, 0, 0, 150)
        assert "in a week  2:30" in sheet(screen, "hours")
        # Days off: added with the key that adds, changed, removed, brought back.
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press(*"24 Dec", "tab", *"26 Dec", "enter")
        await pilot.pause()
        (off,) = app.workshop.snapshot.studio.trade.hours.days_off
        assert (off.first, off.last) == (date(2027, 12, 24), date(2027, 12, 26))
        assert "24 Dec - 26 Dec 2027  3 days" in sheet(screen, "hours")
        await stand_on(screen, pilot, "24 Dec - 26 Dec 2027")
        await pilot.press("delete")
        await pilot.pause()
        assert not app.workshop.snapshot.studio.trade.hours.days_off
        await pilot.press("ctrl+z")
        await pilot.pause()
        assert off in app.workshop.snapshot.studio.trade.hours.days_off
        # What is always there is not removed.
        await stand_on(screen, pilot, "drying")
        await pilot.press("delete")
        await pilot.pause()
        assert "always there" in screen.say_line.words


async def test_parcels_and_tasks_are_added_from_their_sheet(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24), studio()) as (app, pilot):
        screen = await opened(app, pilot, "parcels")
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"letter", "tab", *"500", "tab", *"2.1", "tab", *"2.5", "enter")
        await pilot.pause()
        first = app.workshop.snapshot.studio.trade.shipping[0]
        assert (first.name, first.paid, first.charged) == ("letter", D("2.1"), D("2.5"))
        await stand_on(screen, pilot, "packing")
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press(*"blocking", "tab", *"40", "enter")
        await pilot.pause()
        assert [t.name for t in app.workshop.snapshot.studio.trade.times.tasks] == [
            "packing", "blocking"]  # fmt: skip


async def test_customers_are_added_and_chosen_for_a_piece(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "customers")
        await pilot.press("insert")
        await pilot.pause()
        await pilot.press(*"Odette", "tab", *"o@example.org", "enter")
        await pilot.pause()
        # The piece that was for these words is hers from now on.
        assert app.workshop.snapshot.studio.project["throw"].customer == "odette"
        assert sheet(screen, "customers") == "Odette  o@example.org  Throw"
        await pilot.press("delete")
        await pilot.pause()
        assert "Odette stays in the file: Throw is theirs." in screen.say_line.words
        await pilot.press("escape")
        app.ask("customer")
        await pilot.pause()
        await pilot.press("up", "up", "enter")
        await pilot.pause()
        assert app.workshop.snapshot.studio.project["throw"].customer == ""
        app.ask("customer")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press(*"Ilva", "enter")
        await pilot.pause()
        assert app.workshop.snapshot.studio.project["throw"].customer == "ilva"


async def test_what_is_changed_is_saved_and_her_comments_stay(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    before = (folder / "trade.toml").read_text()
    app = StripewrightApp(folder)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        screen = await opened(app, pilot, "hours")
        await stand_on(screen, pilot, "Wednesday")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"1.5", "enter")
        await pilot.pause()
        await pilot.press("ctrl+s")
        await small.settled(app, pilot)
        after = (folder / "trade.toml").read_text()
        changed = [
            (old, new)
            for old, new in zip(before.splitlines(), after.splitlines(), strict=True)
            if old != new
        ]
        assert changed == [
            ('wednesday = "2:30"             # market in the morning',
             "wednesday = 1.5             # market in the morning")
        ]  # fmt: skip
