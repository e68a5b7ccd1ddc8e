"""'?' on a stripe says, after a moment, why each other lot was passed over."""

import threading
from pathlib import Path

import pytest

from studio.core.answers import RunRef
from studio.core.reasons import Step
from studio.ui.dialogs.message import Words
from tests.ui import small

pytestmark = pytest.mark.usefixtures("own_solver")


async def test_the_reasons_for_a_lot_follow_the_need(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        await pilot.press("f3", "end", "question_mark")
        for _ in range(200):
            await pilot.pause(0.05)
            screen = app.screen
            if isinstance(screen, Words) and "works it" in screen.text:
                break
        assert isinstance(app.screen, Words)
        told = app.screen.text
        assert "Planned need" in told
        assert "Its lot" in told
        assert "working it out" not in told


async def test_the_sheet_may_be_left_before_the_reasons_come(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        answered = threading.Event()
        let_go = threading.Event()
        why_lot = app.workshop.why_lot

        def slow(project: str, run: RunRef) -> tuple[Step, ...]:
            let_go.wait(10)
            try:
                return why_lot(project, run)
            finally:
                answered.set()

        app.workshop.why_lot = slow  # type: ignore[method-assign]
        await pilot.press("f3", "end", "question_mark")
        await pilot.pause(0.2)
        assert isinstance(app.screen, Words)
        assert "working it out" in app.screen.text
        await pilot.press("escape")
        await pilot.pause()
        let_go.set()
        for _ in range(200):
            await pilot.pause(0.02)
            if answered.is_set():
                break
        await pilot.pause(0.2)
        assert len(app.screen_stack) == 1
