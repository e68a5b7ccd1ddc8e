"""The customer's papers from the app: written where she wants, in her words, never over hers."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from studio.core.model import Stage, Studio
from studio.core.trade_model import Quote, StageDate
from studio.papers.template import FIELDS
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.message import Words
from studio.ui.orderbook.screen import OrderBookScreen
from tests.core import trading
from tests.core.trading import D, lot, piece
from tests.ui import small

TODAY = trading.TODAY
QUOTE = Quote(date(2027, 2, 20), date(2027, 3, 15), D(200), D(10), D(0), D(210), D(63), "EUR")


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)
    monkeypatch.delenv("EDITOR", raising=False)
    monkeypatch.delenv("VISUAL", raising=False)


def studio() -> Studio:
    return trading.studio(
        piece("asked", ("A", 40, ""), stage=Stage.QUOTED, quote=QUOTE),
        piece("first", ("A", 40, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12), quote=QUOTE,
              booked=TODAY, reached=(StageDate(Stage.BOOKED, TODAY),)),
        lots=(lot("1", 9),),
    )  # fmt: skip


async def opened(app: StripewrightApp, pilot: Pilot[None], key: str) -> OrderBookScreen:
    app.stand_on_piece(key)
    await pilot.press("ctrl+o")
    await pilot.pause()
    assert isinstance(app.screen, OrderBookScreen)
    return app.screen


async def written(app: StripewrightApp, pilot: Pilot[None]) -> Any:
    """Wait for what follows the form: the sheet, or the question."""
    for _ in range(200):
        await pilot.pause(0.02)
        if isinstance(app.screen, Words | Choose):
            return app.screen
    raise AssertionError("nothing was written")


@pytest.mark.parametrize(
    ("steps", "ending", "start"),
    [(0, "pdf", b"%PDF"), (1, "html", b"<!DOCTYPE html>"), (2, "txt", b"Test"), (3, "md", b"# ")],
)
async def test_a_quote_is_written_in_every_form_and_it_says_where(
    tmp_path: Path, steps: int, ending: str, start: bytes
) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        await opened(app, pilot, "asked")
        await pilot.press("ctrl+f")
        await pilot.pause()
        await pilot.press(*["right"] * steps, "enter")
        shown = await written(app, pilot)
        path = tmp_path / "papers" / f"quote-asked.{ending}"
        assert path.read_bytes().startswith(start)
        assert f"It is in {path}" in shown.text
        assert [p.name for p in path.parent.iterdir()] == [path.name]


async def test_what_is_there_is_never_written_over_silently(tmp_path: Path) -> None:
    path = tmp_path / "papers" / "confirmation-first.txt"
    path.parent.mkdir()
    path.write_text("hers")
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "first")
        for choice, keys in (
            ("esc", ["escape"]),
            ("other", ["enter"]),
            ("over", ["down", "enter"]),
        ):
            # A booked piece has its confirmation written.
            await pilot.press("ctrl+f")
            await pilot.pause()
            await pilot.press("right", "right", "enter")
            asked = await written(app, pilot)
            assert isinstance(asked, Choose)
            assert "confirmation-first.txt is there already" in str(
                asked.query_one(".sheet-note").content  # type: ignore[attr-defined]
            )
            await pilot.press(*keys)
            if choice == "esc":
                await pilot.pause()
                await pilot.pause()
                assert "Nothing was written" in screen.say_line.words
                continue
            await written(app, pilot)
            await pilot.press("escape")
            await pilot.pause()
            second = path.with_name("confirmation-first-2.txt")
            assert "Order confirmation" in second.read_text()
            assert (path.read_text() == "hers") is (choice == "other")


async def test_her_own_wording_is_made_listed_and_used(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36), studio()) as (app, pilot):
        screen = await opened(app, pilot, "asked")
        app.ask("wording")
        for _ in range(50):
            await pilot.pause(0.02)
            if "wording.txt" in screen.say_line.words:
                break
        path = tmp_path / "wording.txt"
        text = path.read_text()
        assert all(f"#   ${name} " in text for name in FIELDS)
        assert str(path) in screen.say_line.words
        # As it comes it changes nothing; a section of hers is used.
        path.write_text(text.replace("Quote for $piece", "Offer: $piece"))
        screen.action_paper()
        shown = await written(app, pilot)
        assert "Offer: Asked" in shown.text
        await pilot.press("escape")
        # Asked for again it is kept.
        app.ask("wording")
        await pilot.pause(0.2)
        assert "Offer: $piece" in path.read_text()
        # One that cannot be used is told with its line, and no other words are printed.
        path.write_text("[terms]\nFor $margin\n")
        screen.action_paper()
        await pilot.pause(0.2)
        assert app.screen is screen
        assert "wording.txt, line 2: there is no field '$margin'" in screen.say_line.words
        await pilot.press("ctrl+f")
        await pilot.pause(0.2)
        assert app.screen is screen
