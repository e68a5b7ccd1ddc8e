"""'?' on a stripe says, after a moment, why each other lot was passed over."""

from pathlib import Path

from studio.ui.dialogs.message import Words
from tests.ui import small


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
