"""Screens beside the bench, and what is worked out or saved while they are still being laid out."""

from __future__ import annotations

from pathlib import Path

import pytest

from studio.core import edits
from studio.ui.beside import Beside
from studio.ui.buying.receiving import Receiving
from studio.ui.buying.screen import Buying
from studio.ui.orderbook.screen import OrderBookScreen
from tests.ui import fake, small


@pytest.mark.parametrize("kind", [OrderBookScreen, Buying, Receiving])
async def test_what_comes_while_a_screen_is_laid_out_is_shown_once_it_stands(
    tmp_path: Path, kind: type[Beside]
) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        screen = kind(app.view, app.keymap)
        waiting = app.push_screen(screen)
        # It is on the stack, but none of its sheets is there: an answer, a save and a sentence.
        assert app.screen_stack[-1] is screen
        assert app.edit("rows", lambda s: edits.set_rows(s, fake.PRAM.key, 0, 20))
        app._show_saved("saved")
        app.say("Said meanwhile.")
        await waiting
        await small.settled(app, pilot)
        assert app.beside is screen
        assert screen.view is app.view
        assert screen.view.studio.project[fake.PRAM.key].stripes[0].rows == 20
        # What was said stands at the bench, where she goes back to.
        await pilot.press("escape")
        await pilot.pause()
        assert app.desk == app.bench
        assert app.bench.say_line.words == "Said meanwhile."
