"""From what is short to orders, and from the parcel to lots on the shelf, on a copy of the demo."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from studio.core.answers import Cover
from studio.core.model import Claim, ClaimKind, LotRef, Studio
from studio.ui.app import StripewrightApp
from studio.ui.buying.receiving import Receiving
from studio.ui.buying.screen import Buying
from tests.ui import looking, small

DEMO = Path(__file__).parents[2] / "projects" / "demo"
MILL = "2026-11-mill-parcel"


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.ui.beside.today", lambda: date(2026, 11, 25))


@asynccontextmanager
async def opened(folder: Path) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    app = StripewrightApp(Path(shutil.copytree(DEMO, folder / "demo")))
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        yield app, pilot


def studio_of(app: StripewrightApp) -> Studio:
    return app.workshop.snapshot.studio


async def found(app: StripewrightApp, pilot: Pilot[None]) -> Buying:
    """The purchase screen once the search is through."""
    screen = app.screen
    assert isinstance(screen, Buying)
    for _ in range(400):
        await pilot.pause(0.05)
        if screen.told.plan is not None and not screen.told.looking:
            return screen
    raise AssertionError("the purchase was not worked out in 20 s")


async def test_what_is_short_is_ordered_and_its_runs_wait_for_it(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        before = studio_of(app)
        await pilot.press("ctrl+b")
        screen = await found(app, pilot)
        plan = screen.told.plan
        assert plan is not None
        # Three balls of Damson at the dyehouse: 3 x 7.40 and a parcel of 300 g at 4.90.
        assert [(o.name, o.landed) for o in plan.orders] == [("the dyehouse", Decimal("27.10"))]
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        after = studio_of(app)
        (new,) = set(after.stash.purchases) - set(before.stash.purchases)
        assert [(n.yarn, n.shade, n.balls) for n in new.lines] == [("fenlight", "15", 3)]
        runs = app.workshop.snapshot.plan.projects["damson-hedge-throw"].runs
        waiting = [r.ref.index for r in runs if r.lot == new.key]
        assert waiting == [12, 18]
        assert all(r.cover is Cover.ORDER for r in runs if r.lot == new.key)
        assert not app.workshop.snapshot.plan.promised_short
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        assert studio_of(app) == before


# Stopping


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], list[subprocess.Popen[bytes]]]:
    """Every purchase is worked out by a child that searches until it is stopped; all of them."""
    real = subprocess.Popen
    children: list[subprocess.Popen[bytes]] = []

    def use(hearing: str) -> list[subprocess.Popen[bytes]]:
        def started(args: list[str], **more: Any) -> subprocess.Popen[bytes]:
            more["env"] = {**more["env"], "SLOW_CHILD": hearing}
            child = real([args[0], "-m", "tests.ui.slow_child"], **more)
            children.append(child)
            return child

        monkeypatch.setattr("studio.solving.subprocess.Popen", started)
        return children

    return use


async def ended(pilot: Pilot[None], children: list[subprocess.Popen[bytes]]) -> bool:
    for _ in range(100):
        if all(child.poll() is not None for child in children):
            return True
        await pilot.pause(0.05)
    return False


def words_on(app: StripewrightApp) -> str:
    return "\n".join(looking.lines(looking.grid(app)))


async def searching(app: StripewrightApp, pilot: Pilot[None]) -> Buying:
    """The purchase screen while the search goes on and has told how far it is."""
    screen = app.screen
    assert isinstance(screen, Buying)
    for _ in range(200):
        await pilot.pause(0.05)
        if screen.told.looking and screen.told.gap is not None:
            return screen
    raise AssertionError("the search did not tell how far it is")


@pytest.mark.parametrize("hearing", ["well", "deaf"])
async def test_a_stopped_search_shows_its_best_and_says_so(
    hearing: str, slow: Callable[[str], list[subprocess.Popen[bytes]]], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setattr("studio.solving_purchase.STOP_S", 0.3)
    async with opened(tmp_path) as (app, pilot):
        children = slow(hearing)
        await pilot.press("ctrl+b")
        screen = await searching(app, pilot)
        shown = words_on(app)
        assert "Damson" in shown  # the first plan is there at once
        assert "Looking for a cheaper one" in shown
        assert "At most 25 % to gain." in shown
        await pilot.press("full_stop")
        await found(app, pilot)
        assert screen.told.stopped
        plan = screen.told.plan
        assert plan is not None
        assert [o.name for o in plan.orders] == ["the dyehouse"]
        assert "Stopped: this is the" in words_on(app)
        # A child that does not heed the stop is ended.
        assert len(children) == 1
        assert (children[0].poll() is not None) == (hearing == "deaf")
        await pilot.press("full_stop")  # again: it looks on
        await searching(app, pilot)
        await pilot.press("escape")
        assert await ended(pilot, children)


async def test_leaving_in_the_middle_of_a_search_leaves_no_process_behind(
    slow: Callable[[str], list[subprocess.Popen[bytes]]], tmp_path: Path
) -> None:
    async with opened(tmp_path) as (app, pilot):
        children = slow("deaf")
        await pilot.press("ctrl+b")
        await searching(app, pilot)
        assert [child.poll() for child in children] == [None]
        await pilot.press("escape")
        assert await ended(pilot, children)


# Receiving


async def type_bag(pilot: Pilot[None], code: str, balls: str) -> None:
    await pilot.press("enter")
    await pilot.pause(0.2)
    await pilot.press("tab", *code, "tab", *balls, "enter")
    await pilot.pause(0.2)


async def test_a_parcel_with_two_dye_lots_comes_onto_the_shelf(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        before = studio_of(app)
        await pilot.press("ctrl+a")
        await pilot.pause(0.3)
        assert isinstance(app.screen, Receiving)
        await type_bag(pilot, "LX", "1")
        await type_bag(pilot, "LY", "1")
        assert studio_of(app).stash.lots is before.stash.lots  # nothing is done before she says so
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        after = studio_of(app)
        lots = {n.ref: n for n in after.stash.lots}
        for code in ("LX", "LY"):
            lot = lots[LotRef("withyspun", "74", code)]
            assert (lot.balls, str(lot.batches[0].price)) == (1, "4.60")
        # The border that the balls were bought for is promised one lot; barley straw is to come.
        border = after.project["barley-drill-runner"].border
        assert border is not None
        assert border.claim == Claim(ClaimKind.HOLD, "LX")
        assert [(n.shade, n.balls) for n in after.stash.purchase[MILL].lines] == [("61", 4)]
        assert after.stash.purchase[MILL].parcel is None
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        parcel = studio_of(app).stash.purchase[MILL].parcel
        assert parcel is not None
        assert [b.code for b in parcel.bags] == ["LX", "LY"]  # what was typed is there again
        await pilot.press("ctrl+z", "ctrl+z")
        await small.settled(app, pilot)
        assert studio_of(app) == before


async def test_a_bag_that_was_left_is_not_offered_for_another_shade(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        await pilot.press("ctrl+a")
        await pilot.pause(0.3)
        await pilot.press("enter")
        await pilot.pause(0.2)
        await pilot.press("tab", *"LX", "escape")
        await pilot.pause(0.2)
        await pilot.press("down", "enter")
        await pilot.pause(0.2)
        assert app.screen.query_one("#field-lot", Input).value == ""
        await pilot.press("escape")
        await pilot.pause(0.2)
        await pilot.press("up", "enter")
        await pilot.pause(0.2)
        assert app.screen.query_one("#field-lot", Input).value == "LX"
