"""An empty folder is guided: studio, yarn, piece; every step may be left without loss."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from textual.widgets import Input

from studio.core.model import LengthUnit
from studio.ui.app import StripewrightApp
from studio.workshop import Workshop
from tests.ui import small


async def test_from_an_empty_folder_to_the_first_piece_on_disk(tmp_path: Path) -> None:
    app = StripewrightApp(tmp_path)
    async with app.run_test(size=(80, 24)) as pilot:
        await small.settled(app, pilot)
        assert app.screen.title_words == "Your studio"  # type: ignore[attr-defined]
        await pilot.press(*"Barn")
        app.screen.query_one("#field-currency", Input).value = "GBP"
        app.screen.query_one("#field-length_unit").focus()
        await pilot.press("right", "enter")
        await pilot.pause()
        assert app.view.settings.name == "Barn"
        await pilot.press(*"Fell")
        app.screen.query_one("#field-price", Input).value = "4.20"
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"Moss")
        app.screen.query_one("#field-colours", Input).value = "olive"
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("down", "enter")  # that is all for now
        await pilot.pause()
        await pilot.press("enter")  # some is in the house
        await pilot.pause()
        await pilot.press(*"4471")
        app.screen.query_one("#field-balls0", Input).value = "6"
        await pilot.press("enter")
        await pilot.pause()
        assert [y.name for y in app.view.studio.library.yarns] == ["Fell"]
        await pilot.press(*"Cot", "enter")
        await pilot.pause()
        await pilot.press(*"moss", "enter")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press("enter")  # there is a swatch to count
        await pilot.pause()
        app.screen.query_one("#field-after_stitches", Input).value = "14"
        app.screen.query_one("#field-after_rows", Input).value = "9"
        app.screen.query_one("#field-grams", Input).value = "31"
        app.screen.query_one("#field-weighed_rows", Input).value = "20"
        app.screen.query_one("#field-weighed_stitches", Input).value = "28"
        await pilot.press("enter")
        await pilot.pause()
        app.screen.query_one("#field-stripes", Input).value = "A10"
        app.screen.query_one("#field-repeat").focus()
        await pilot.press("right")
        await pilot.press("enter")
        await pilot.pause()
        piece = app.view.studio.project["cot"]
        assert [s.rows for s in piece.stripes] == [10]
        assert piece.width.unit is LengthUnit.INCH
        # 10 rows at 9 rows to 4 in.
        assert app.view.plan is not None
        assert app.view.plan.size is not None
        assert round(app.view.plan.size.length_cm / 2.54, 2) == round(10 / 9 * 4, 2)
        assert not any(f.code in {"rough", "no-gauge"} for f in app.view.plan.findings)
        await pilot.press("ctrl+q")
        await pilot.pause(0.3)
        assert not app.is_running
    # All of it is in plain files that open again.
    again = Workshop.open(tmp_path).snapshot
    assert again.problems == ()
    assert (again.studio.settings.name, again.studio.settings.currency) == ("Barn", "GBP")
    assert again.studio.library.yarn["fell"].price == Decimal("4.20")
    assert "cot" in again.studio.project
    assert again.studio.library.yarn["fell"].fibres == ()
    assert again.studio.stash.lots[0].balls == 6
    assert again.studio.library.swatches[0].key == "fell-double-crochet-5-5mm"
    assert len(again.studio.library.stitches) >= 3


async def test_leaving_the_first_step_is_no_dead_end(tmp_path: Path) -> None:
    app = StripewrightApp(tmp_path)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        await pilot.press(*"Ba", "escape")
        await pilot.pause()
        assert app.screen is app.bench
        assert "Ctrl+P" in app.bench.say_line.words
        assert "No piece yet" in app.bench.pane_of("projects").empty
        # What the empty stripes promise is what the key does.
        assert "Ctrl+N begins one" in app.bench.stripes.empty
        await pilot.press("ctrl+n")
        await pilot.pause()
        assert app.screen.title_words == "A new yarn"  # type: ignore[attr-defined]
        await pilot.press("escape")
        await pilot.pause()
        # Asking for a piece leads on, and what was typed is still there.
        app.ask("first_run")
        await pilot.pause()
        assert app.screen.query_one("#field-name", Input).value == "Ba"
    assert list(tmp_path.iterdir()) == [], "nothing is written before she says so"
