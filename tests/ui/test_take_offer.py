"""Taking an offered move of holds: asked first, done as one edit, and taken back by undo."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from studio.core.model import ClaimKind
from studio.storage.write import save_changes
from studio.ui.app import StripewrightApp
from studio.ui.buying.screen import Buying
from studio.ui.dialogs.choose import Choose
from tests.core.buying.test_placing import TODAY, offering
from tests.ui import small
from tests.ui.test_buying import found


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)
    monkeypatch.setattr("studio.ui.session.today", lambda: TODAY, raising=False)


@pytest.mark.parametrize("answer", ["enter", "escape"])
async def test_holds_move_only_when_she_says_so(tmp_path: Path, answer: str) -> None:
    save_changes(tmp_path, None, offering(), {})
    app = StripewrightApp(tmp_path)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        await pilot.press("ctrl+b")
        screen = await found(app, pilot)
        assert screen.told.together is not None
        assert screen.told.together.offer is not None
        await pilot.press("ctrl+g")
        await pilot.pause()
        asked = app.screen
        assert isinstance(asked, Choose)
        assert "Moving 1 hold saves 5.00 EUR" in asked.title_words
        before = app.workshop.snapshot.studio
        await pilot.press(answer)
        await small.settled(app, pilot)
        now = app.workshop.snapshot.studio
        if answer == "escape":
            assert now == before
            return
        claim = now.project["far"].stripes[0].claim
        assert claim is not None
        assert (claim.kind, claim.on) == (ClaimKind.ORDER, "slow-2027-01-04")
        assert now.stash.purchase[claim.on].arrives == date(2027, 2, 3)
        assert isinstance(app.screen, Buying)
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        assert app.workshop.snapshot.studio == before


async def test_without_an_offer_the_key_says_so(tmp_path: Path) -> None:
    save_changes(tmp_path, None, small.studio(), {})
    app = StripewrightApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await small.settled(app, pilot)
        await pilot.press("ctrl+b")
        screen = await found(app, pilot)
        await pilot.press("ctrl+g")
        await pilot.pause()
        assert app.screen is screen
        assert "No move of holds is offered." in str(screen.say_line.render())
