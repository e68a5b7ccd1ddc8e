"""Yarn used, in the app: worked out, weighed, put right, undone; and the account of a piece."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from studio.core.model import LotRef, Stage, Studio, UsedFrom
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.entries import UsedEntry, used
from studio.ui.dialogs.form import Form
from studio.ui.dialogs.message import Words
from tests.core.small import lot, piece
from tests.core.test_closing import finished
from tests.core.test_used import X, Y, begun, grams, house
from tests.ui import small
from tests.ui.test_library import fill, until

D = Decimal
TODAY = date(2026, 11, 20)


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)


def worked(rows: int = 6, stage: Stage = Stage.MAKING) -> Studio:
    """A6 B4 A6, 10 g a row: Rust from 200 g of lot x, Tide from 100 g of lot y."""
    return house(begun(rows, stage, due=date(2027, 1, 10)))


def told(app: StripewrightApp) -> str:
    return str(app.screen.query_one("#told", Static).content)


def now(app: StripewrightApp) -> Studio:
    return app.view.studio


async def ask(pilot: Pilot[None]) -> None:
    await pilot.press("at")
    await pilot.pause()


async def test_rows_done_offer_what_they_used_and_it_leaves_its_lots(tmp_path: Path) -> None:
    async with small.opened(tmp_path, whole=worked(0)) as (app, pilot):
        app.stand_on_piece("throw")
        await ask(pilot)
        assert "No row of Throw is done yet: Ctrl+R" in app.bench.say_line.words
        await pilot.press("ctrl+r")
        await fill(app, pilot, rows="8")
        said = "8 rows done. @ takes 60 g of Rust and 20 g of Tide out of the stash."
        assert app.bench.say_line.words == said
        await ask(pilot)
        await until(app, pilot, Form)
        # 80 g at 6.50 for 100 g.
        assert told(app) == "80 g used, paid 5.20 EUR."
        await pilot.press("enter")
        await pilot.pause()
        assert (grams(now(app), X), grams(now(app), Y)) == (D(140), D(80))
        assert [u.by for u in now(app).project["throw"].used] == [UsedFrom.WORKED_OUT] * 2
        assert app.bench.say_line.words == "Noted: 80 g used, paid 5.20 EUR."
        await pilot.press("ctrl+z")
        await pilot.pause()
        assert (grams(now(app), X), now(app).project["throw"].used) == (D(200), ())


async def test_what_is_left_on_the_scale_is_a_weigh_in_too(tmp_path: Path) -> None:
    async with small.opened(tmp_path, whole=worked()) as (app, pilot):
        app.stand_on_piece("throw")
        await ask(pilot)
        await until(app, pilot, Form)
        app.screen.query_one("#field-lot0", Input).value = "left 300"
        await pilot.press("enter")
        await pilot.pause()
        assert told(app).startswith("Lot x of Marl Rust had 200 g, so 300 g cannot be left")
        await fill(app, pilot, lot0="left 1 ball 34")
        piece = now(app).project["throw"]
        assert (piece.used[0].grams, piece.used[0].by) == (D(66), UsedFrom.WEIGHED)
        assert (piece.weigh_ins[0].rows, piece.weigh_ins[0].grams) == (6, D(66))
        assert app.bench.say_line.words.endswith("kept as a weigh-in too.")
        # Nothing is left to note; the note is put right, and the lot follows.
        await ask(pilot)
        await until(app, pilot, Choose)
        await pilot.press("down", "enter")
        await fill(app, pilot, grams="60")
        assert (grams(now(app), X), now(app).project["throw"].used[0].grams) == (D(140), D(60))
        await ask(pilot)
        await until(app, pilot, Choose)
        await pilot.press("down", "enter")
        await fill(app, pilot, grams="0")
        assert (grams(now(app), X), now(app).project["throw"].used) == (D(200), ())


async def test_yarn_that_is_out_already_is_only_noted(tmp_path: Path) -> None:
    async with small.opened(tmp_path, whole=worked()) as (app, pilot):
        app.stand_on_piece("throw")
        await ask(pilot)
        await until(app, pilot, Form)
        app.screen.query_one("#field-out").focus()
        await pilot.press("right", "enter")
        await pilot.pause()
        assert grams(now(app), X) == D(200)
        assert now(app).project["throw"].used[0].grams == D(60)


async def test_a_lot_that_nobody_wrote_down_is_asked_for(tmp_path: Path) -> None:
    plain = begun(6, stripes=piece("throw", "A6 B4").stripes)
    made = house(plain, lots=(lot("x", 2), lot("xx", 1)))
    async with small.opened(tmp_path, whole=made) as (app, pilot):
        app.stand_on_piece("throw")
        await ask(pilot)
        await until(app, pilot, Form)
        note = str(app.screen.query_one(".sheet-note", Static).content)
        assert note.startswith("Nothing says which lot worked 60 g of Rust")
        assert [app.screen.query_one(f"#field-lot{at}", Input).value for at in (0, 1)] == ["", ""]
        await fill(app, pilot, lot1="58")
        assert grams(now(app), LotRef("marl", "1", "xx")) == D(42)
        assert app.workshop.to_note("throw") == ()


async def test_a_promise_to_another_piece_is_asked_about_first(tmp_path: Path) -> None:
    other = begun(0, Stage.BOOKED)
    other = replace(other, key="other", name="Other", due=date(2027, 2, 1))
    made = house(begun(16), other, lots=(lot("x", 3), lot("y", 2, shade="2")))
    async with small.opened(tmp_path, whole=made) as (app, pilot):
        app.stand_on_piece("throw")
        await ask(pilot)
        await fill(app, pilot, lot0="250")
        await until(app, pilot, Choose)
        assert grams(now(app), X) == D(300)
        await pilot.press("escape")
        await pilot.pause()
        assert grams(now(app), X) == D(300)


async def test_a_delivered_piece_is_closed_from_the_order_book(tmp_path: Path) -> None:
    made = house(begun(16, Stage.FINISHING, customer="Ilva", price=D(90)))
    async with small.opened(tmp_path, whole=made) as (app, pilot):
        app.stand_on_piece("throw")
        app.ask("orders", "throw")
        await pilot.pause()
        await pilot.press("greater_than_sign")
        await pilot.pause()
        assert now(app).project["throw"].stage is Stage.DELIVERED
        said = app.desk.say_line.words
        assert said.endswith("@ takes 120 g of Rust and 40 g of Tide out of the stash.")
        await ask(pilot)
        await fill(app, pilot)
        assert (grams(now(app), X), grams(now(app), Y)) == (D(80), D(60))
        await pilot.press("dollar_sign")
        await until(app, pilot, Words)
        assert isinstance(app.screen, Words)
        for words in ("Throw: actual", "no minutes logged", "120 g"):
            assert words in f"{app.screen.title_words}\n{app.screen.text}"


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", None),
        (" 12.5 ", UsedEntry(D("12.5"))),
        ("60 g", UsedEntry(D(60))),
        ("left 40", UsedEntry(D(40), left=True)),
        ("40 left", UsedEntry(D(40), left=True)),
        ("left 0", UsedEntry(D(0), left=True)),
        ("left 2 balls 31 12.5", UsedEntry(D("43.5"), left=True, balls=2)),
        ("LEFT 1 ball + 7g", UsedEntry(D(7), left=True, balls=1)),
        ("left 3 balls", UsedEntry(D(0), left=True, balls=3)),
    ],
)
def test_grams_used_or_left_are_read(text: str, found: UsedEntry | None) -> None:
    assert used(text) == found


@pytest.mark.parametrize("text", ["left", "some", "2 balls", "left much", "-5", "left -5"])
def test_what_is_no_such_figure_is_told(text: str) -> None:
    with pytest.raises(ValueError, match="left 40"):
        used(text)


async def test_each_figure_of_the_account_says_where_it_comes_from(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24), finished()) as (app, pilot):
        app.stand_on_piece("throw")
        await pilot.press("dollar_sign")
        await pilot.pause()
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert app.screen.title_words.startswith("Why: ")
        said = " ".join(app.screen.text.split())
        assert "All costs but the hours 32.91 EUR" in said
        assert "Over 5 h logged, of 67.09 EUR, rounded down 13.41 EUR" in said
