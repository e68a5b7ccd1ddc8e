"""Yarn promised from anywhere in the app, and promises that a change would break."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from studio.core import edits
from studio.core.answers import Cover, RunKind
from studio.core.lots.solve import greedy_answer
from studio.core.model import Stage
from studio.core.trade_model import StageDate
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from tests.core import trading
from tests.core.trading import D, hold, lot, piece
from tests.ui import small

TODAY = trading.TODAY
DEMO = Path(__file__).parents[2] / "projects" / "demo"


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)


def rivals() -> Any:
    """A quote that has lot 1, and an idea that would need it too."""
    return trading.studio(
        piece("quote", ("A", 150, ""), stage=Stage.QUOTED, due=date(2027, 4, 1)),
        piece("idea", ("A", 140, "")),
    )


def held() -> Any:
    """Two booked pieces, each on a lot of its own that is just enough."""
    return trading.studio(
        piece("first", ("A", 145, "1"), stage=Stage.BOOKED, due=date(2027, 5, 1)),
        piece("second", ("A", 80, "2"), stage=Stage.BOOKED, due=date(2027, 6, 1)),
    )


def now(app: StripewrightApp, key: str) -> Any:
    return app.workshop.snapshot.studio.project[key]


def cover(app: StripewrightApp, key: str) -> Cover:
    return app.workshop.snapshot.plan.projects[key].runs[0].cover


async def rested(app: StripewrightApp, pilot: Pilot[None]) -> None:
    """Wait until no dialog's steps are under way but those that wait for her."""
    for _ in range(100):
        await pilot.pause(0.01)
        if isinstance(app.screen, Choose) or not [w for w in app.workers if w.group == "dialog"]:
            break
    await pilot.pause()


async def test_a_piece_booked_in_the_project_list_holds_what_an_enquiry_would_show(
    tmp_path: Path,
) -> None:
    async with small.opened(tmp_path, (120, 36), rivals()) as (app, pilot):
        assert cover(app, "idea") is Cover.SHORT
        app.stand_on_piece("idea")
        await pilot.press("f2")
        await pilot.pause()
        # Idea to quoted, then to booked: only the second promises yarn.
        await pilot.press("greater_than_sign")
        await rested(app, pilot)
        assert now(app, "idea").stage is Stage.QUOTED
        assert now(app, "idea").stripes[0].claim is None
        await pilot.press("greater_than_sign")
        await rested(app, pilot)
        booked = now(app, "idea")
        assert (booked.stage, booked.booked) == (Stage.BOOKED, TODAY)
        assert booked.stripes[0].claim == hold("1")
        assert booked.reached == (
            StageDate(Stage.QUOTED, TODAY), StageDate(Stage.BOOKED, TODAY))  # fmt: skip
        assert cover(app, "idea") is Cover.STASH
        assert cover(app, "quote") is Cover.SHORT
        assert "1 run held from the stash" in app.desk.say_line.words
        # A later order for the same yarn cannot have it.
        await app.begin("to_stage", ("quote", Stage.MAKING))
        await pilot.pause()
        assert now(app, "quote").stage is Stage.MAKING
        assert cover(app, "quote") is Cover.SHORT
        assert now(app, "idea").stripes[0].claim == hold("1")
        assert cover(app, "idea") is Cover.STASH
        # Undo takes a booking back in one step.
        await pilot.press("ctrl+z", "ctrl+z")
        await pilot.pause()
        assert now(app, "idea").stage is Stage.QUOTED


async def test_the_form_of_a_piece_books_it_with_what_else_it_changes(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36), rivals()) as (app, pilot):
        change = lambda s: edits.set_grams(s, "idea", RunKind.STRIPE, 0, D(90))  # noqa: E731
        await app.begin("to_stage", ("idea", Stage.BOOKED, change))
        await pilot.pause()
        # With 90 g the small lot is enough.
        assert now(app, "idea").stripes[0].grams == 90
        assert now(app, "idea").stripes[0].claim == hold("2")
        assert cover(app, "quote") is Cover.STASH


async def test_a_day_in_the_past_is_not_booked(tmp_path: Path) -> None:
    late = trading.studio(piece("idea", ("A", 90, ""), due=date(2027, 2, 1)))
    async with small.opened(tmp_path, (120, 36), late) as (app, pilot):
        await app.begin("to_stage", ("idea", Stage.BOOKED))
        await pilot.pause()
        assert now(app, "idea").stage is Stage.IDEA
        assert "1 Feb 2027 is past, so it cannot be promised." in app.desk.say_line.words


BREAKING = {
    "a stripe": lambda s: edits.set_grams(s, "first", RunKind.STRIPE, 0, D(160)),
    "a lot": lambda s: replace(s, stash=replace(s.stash, lots=(lot("1", 2), lot("2", 2)))),
}


@pytest.mark.parametrize("what", ["a stripe", "a lot"])
async def test_a_change_that_breaks_a_promise_says_so_before_it_is_made(
    tmp_path: Path, what: str
) -> None:
    async with small.opened(tmp_path, (120, 36), held()) as (app, pilot):
        before = app.workshop.snapshot
        assert not app.edit(what, BREAKING[what], "first")
        await rested(app, pilot)
        assert isinstance(app.screen, Choose)
        assert "First: stripe 1 is promised lot 1 of Wool Moss" in note(app)
        # Nothing has been changed, and so nothing is saved.
        assert app.workshop.snapshot is before
        await pilot.press("enter")
        await rested(app, pilot)
        assert app.workshop.snapshot is before
        assert "every promise stands" in app.desk.say_line.words
        # Meant all the same: it is made, and undo takes it back.
        app.edit(what, BREAKING[what], "first")
        await rested(app, pilot)
        await pilot.press("down", "enter")
        await rested(app, pilot)
        assert app.workshop.snapshot.undo_label == what
        assert cover(app, "first") is Cover.SHORT
        # What is broken already is not asked about again.
        assert app.edit("other", lambda s: edits.set_project(s, "first", note="hurry"), "first")
        await pilot.press("ctrl+z", "ctrl+z")
        await pilot.pause()
        assert cover(app, "first") is Cover.STASH


async def test_a_promise_that_only_seems_to_break_is_not_asked_about(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A quick answer that breaks a promise needlessly; the exact one, awaited, keeps it."""
    from studio.core.lots.problem import BUY

    home = held()
    async with small.opened(tmp_path, (120, 36), home) as (app, pilot):

        def careless(problem: Any, *_: Any) -> Any:
            found = greedy_answer(problem)
            first = found.lots[0][0]
            lots = ((first, BUY), *found.lots[1:])
            return replace(found, lots=lots, moved=(first,)), False

        monkeypatch.setattr("studio.core.reconcile.quick_answer", careless)
        done = app.edit(
            "lighter", lambda s: edits.set_grams(s, "second", RunKind.STRIPE, 0, D(85)), "second"
        )
        assert not done
        for _ in range(500):
            await pilot.pause(0.02)
            if app.workshop.snapshot.undo_label == "lighter":
                break
        assert app.workshop.snapshot.undo_label == "lighter"
        assert not isinstance(app.screen, Choose)


async def test_keys_that_grow_a_stripe_or_lighten_a_lot_are_asked_about(tmp_path: Path) -> None:
    """From the stripe list and from the stash, by their own keys, in the demo's studio."""
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    app = StripewrightApp(folder)
    key = "damson-hedge-throw"
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        app.stand_on_piece(key)
        await pilot.press("f3", "home", "down", *"60", "enter")
        await rested(app, pilot)
        assert isinstance(app.screen, Choose)
        assert "stripes 2, 8, 14 and 20 are promised lot 2098" in note(app)
        await pilot.press("escape")
        await rested(app, pilot)
        assert now(app, key).stripes[1].rows == 6
        # The lot that it is promised turns out to be one ball.
        await pilot.press("f4")
        await pilot.pause()
        lots = app.bench.pane.list
        assert lots.go_to(next(r.key for r in lots.rows if getattr(r.key, "code", "") == "2098"))
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("tab", "tab", *"0", "enter")
        await rested(app, pilot)
        assert isinstance(app.screen, Choose), app.desk.say_line.words
        assert "promised lot 2098" in note(app)
        assert app.workshop.snapshot.undo_label is None


def note(app: StripewrightApp) -> str:
    return str(app.screen.query_one(".sheet-note").content)  # type: ignore[attr-defined]


async def test_a_delivered_piece_is_asked_about_once_and_then_free(tmp_path: Path) -> None:
    gone = piece(
        "gone", ("A", 10, ""), stage=Stage.DELIVERED, reached=(StageDate(Stage.DELIVERED, TODAY),)
    )
    async with small.opened(tmp_path, (120, 36), trading.studio(gone)) as (app, pilot):
        await pilot.pause()
        app.stand_on_piece("gone")
        app.go_to("stripes")
        before = now(app, "gone").stripes[0].rows
        await pilot.press("plus")
        await rested(app, pilot)
        assert "Gone was delivered on" in note(app)
        await pilot.press("enter")
        await rested(app, pilot)
        assert now(app, "gone").stripes[0].rows == before
        await pilot.press("plus")
        await rested(app, pilot)
        await pilot.press("down", "enter")
        await rested(app, pilot)
        grown = now(app, "gone").stripes[0].rows
        assert grown > before
        await pilot.press("plus")
        await rested(app, pilot)
        assert not isinstance(app.screen, Choose)
        assert now(app, "gone").stripes[0].rows > grown


async def test_a_piece_with_rows_open_is_asked_about_before_it_is_finished(tmp_path: Path) -> None:
    half = piece("half", ("A", 10, ""), stage=Stage.MAKING, rows_done=1)
    async with small.opened(tmp_path, (120, 36), trading.studio(half)) as (app, pilot):
        app.ask("to_stage", ("half", Stage.FINISHING))
        await rested(app, pilot)
        assert "1 of " in note(app)
        assert now(app, "half").stage is Stage.MAKING
        await pilot.press("down", "enter")
        await rested(app, pilot)
        assert now(app, "half").stage is Stage.FINISHING
