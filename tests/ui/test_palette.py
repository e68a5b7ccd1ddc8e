"""The palette finds her own pieces and every action."""

from __future__ import annotations

from pathlib import Path

from studio.ui.keys import ACTIONS
from studio.ui.palette import ACTION, PIECE, rows
from tests.ui import small


async def test_it_lists_everything_and_goes_there(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        keys = {row.key for row in rows(app)}
        assert {(ACTION, a.id) for a in ACTIONS if a.verb != "palette"} <= keys
        assert {(PIECE, p) for p in app.view.studio.project} <= keys
        await pilot.press("ctrl+p", *"pram", "enter")
        await pilot.pause()
        assert app.view.key == "pram-rug"
        assert app.bench.at == "stripes"
        await pilot.press("ctrl+p", *"two", "space", *"rows", "space", *"more", "enter")
        await pilot.pause()
        assert app.view.studio.project["pram-rug"].stripes[0].rows == 26
        await pilot.press("ctrl+p", *"undo", "enter")
        await pilot.pause()
        assert app.view.studio.project["pram-rug"].stripes[0].rows == 24
        await pilot.press("ctrl+p", *"use", "space", *"up", "enter")
        await pilot.pause()
        assert app.bench.at == "stash"
        # The first of what is found is at hand after every letter.
        await pilot.press("escape", "ctrl+p")
        for letter in "yarns":
            await pilot.press(letter)
            entries = app.screen.entries  # type: ignore[attr-defined]
            assert entries.key == entries.shown[0].key
        await pilot.press("escape")
        await pilot.pause()
        await pilot.press("escape", "ctrl+p", *"zzz", "enter", "escape")
        await pilot.pause()
        assert app.screen is app.bench
