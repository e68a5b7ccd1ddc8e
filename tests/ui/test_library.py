"""Yarns, stitches, swatches put right in the app; rows, weigh-ins, hours noted; all undone."""

from __future__ import annotations

import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input, Static

from studio.core.model import Fibre, Length, ShadeRef, WeighIn
from studio.core.trade_model import WorkKind
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.form import Form, ShadePatch
from studio.ui.library.screen import LibraryScreen
from studio.workshop import Workshop
from tests.core.test_demo import DEMO
from tests.ui import fake, small

COTTON, MOOR = fake.COTTON.key, fake.MOOR.key


async def library(app: StripewrightApp, pilot: Pilot[None], sheet: str) -> LibraryScreen:
    app.ask("library", sheet)
    await until(app, pilot, LibraryScreen)
    assert isinstance(app.screen, LibraryScreen)
    return app.screen


async def until(app: StripewrightApp, pilot: Pilot[None], kind: type[Screen[Any]]) -> None:
    """Wait until such a screen is open; how soon depends on what else the machine does."""
    for _ in range(200):
        if isinstance(app.screen, kind):
            await pilot.pause()
            return
        await pilot.pause(0.01)
    raise AssertionError(f"{app.screen} is open, not a {kind.__name__}")


async def fill(app: StripewrightApp, pilot: Pilot[None], **values: str) -> None:
    """Type into the form that is open and keep it."""
    await until(app, pilot, Form)
    for key, value in values.items():
        app.screen.query_one(f"#field-{key}", Input).value = value
    await pilot.press("enter")
    await pilot.pause()


def shown(screen: LibraryScreen) -> str:
    return screen.list.row_text() or ""


async def test_a_yarn_and_its_shades_are_put_right(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24)) as (app, pilot):
        screen = await library(app, pilot, "yarns")
        assert "Harbour Cotton" in shown(screen)
        await pilot.press("enter")
        await pilot.pause()
        await fill(app, pilot, price="3.95", fibres="cotton 90, linen 10", care="Hand wash")
        yarn = app.view.studio.library.yarn[COTTON]
        assert (yarn.price, yarn.care) == (Decimal("3.95"), "Hand wash")
        assert yarn.fibres == (Fibre("cotton", Decimal(90)), Fibre("linen", Decimal(10)))

        await pilot.press("down", "enter")
        await until(app, pilot, Form)
        app.screen.query_one("#field-colours", Input).value = "olive"
        await pilot.pause()
        patch = app.screen.query_one(ShadePatch).render_line(0)
        assert {s.style.bgcolor.triplet.hex for s in patch if s.style and s.style.bgcolor
                and s.style.bgcolor.triplet} == {"#808000"}  # fmt: skip
        await fill(app, pilot, name="Lichen wall")
        assert app.view.shade_name(ShadeRef(COTTON, "07")) == "Lichen wall"
        assert "Lichen wall" in shown(screen)

        await pilot.press("delete")
        assert "is in the stash, so the shade stays" in screen.say_line.words
        await pilot.press("insert")
        await until(app, pilot, Choose)
        await pilot.press("enter")  # one more shade of this yarn
        await pilot.pause()
        await fill(app, pilot, name="Fog", colours="#cfd3d4")
        assert "Fog" in shown(screen)
        await pilot.press("delete")
        assert app.view.studio.library.yarn[COTTON].shade("fog") is None
        await pilot.press("ctrl+z", "ctrl+z", "ctrl+z", "ctrl+z")
        assert app.view.studio.library.yarn[COTTON] == fake.COTTON


async def test_stitches_swatches_and_trials(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        screen = await library(app, pilot, "stitches")
        await pilot.press("insert")
        await pilot.pause()
        await fill(app, pilot, name="Shells", multiple="6", extra="-1", kinds="foundation 1 x 1.2",
                   instruction="Chain 3, turn. / 5 dc in one stitch.")  # fmt: skip
        made = app.view.studio.library.stitch["shells"]
        assert (made.multiple, made.extra, made.kinds[0].weight) == (6, -1, Decimal("1.2"))
        assert made.instruction == "Chain 3, turn.\n5 dc in one stitch."
        assert "multiple of 6 less 1" in shown(screen)
        await pilot.press("delete")
        assert "shells" not in app.view.studio.library.stitch

        screen.go_to_sheet("swatches")
        await pilot.press("enter")
        await until(app, pilot, Form)
        app.screen.query_one("#field-after_rows", Input).value = ""
        await pilot.press("enter")
        assert isinstance(app.screen, Form), "a half count is told, and the form stays open"
        await fill(app, pilot, after_rows="9", after_along="4 in", note="by the window")
        swatch = app.view.studio.library.swatches[0]
        assert swatch.after is not None
        assert (swatch.after.rows, swatch.after.row_span.cm) == (Decimal(9), 10.16)
        assert (swatch.weighed, swatch.note) == (small.SWATCH.weighed, "by the window")

        await pilot.press("insert")
        await until(app, pilot, Choose)
        await pilot.press("enter")  # one more trial of this swatch
        await pilot.pause()
        await fill(app, pilot, rows="6", stitches="178", balls="1", grams="4")
        assert isinstance(app.screen, Form), "balls and grams at once are refused"
        await fill(app, pilot, grams="")
        assert app.view.studio.library.swatches[0].trials[0].balls == 1
        assert "1 ball worked 6 rows of 178 stitches" in shown(screen)
        await pilot.press("delete", "ctrl+z", "ctrl+z", "ctrl+z")
        assert list(app.view.studio.library.swatches) == [small.SWATCH]
        await pilot.press("delete")
        assert not app.view.studio.library.swatches


async def test_a_new_swatch_gives_a_piece_its_size(tmp_path: Path) -> None:
    bare = small.studio()
    bare = replace(bare, library=replace(bare.library, swatches=()))
    async with small.opened(tmp_path, whole=bare) as (app, pilot):
        before = app.view.plan
        assert before is not None
        assert before.size is None
        # The first mend of a piece without a size is the swatch that it lacks.
        missing = next(f for f in before.findings if f.code == "no-gauge")
        app.go_to("findings")
        assert app.bench.findings.list.go_to(missing)
        row = next(r for r in app.bench.findings.list.rows if r.key == missing)
        assert "! count a swatch of it" in row.detail
        await pilot.press("exclamation_mark")
        await pilot.pause()
        await fill(app, pilot, after_stitches="12", after_rows="8")
        after = app.view.plan
        assert after is not None
        assert after.size is not None
        swatch = app.view.studio.library.swatches[0]
        assert swatch.key == "harbour-cotton-half-double-5-5mm"
        assert swatch.after is not None
        assert swatch.after.stitch_span == Length(Decimal(10))


async def test_rows_minutes_weigh_ins_and_hours_are_noted_and_undone(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        app.stand_on_piece(MOOR)
        before = app.view.project
        await pilot.press("ctrl+r")
        await pilot.pause()
        await fill(app, pilot, rows="30", minutes="80")
        piece = app.view.studio.project[MOOR]
        assert (piece.rows_done, piece.log[0].rows, piece.log[0].first_row) == (30, 4, 27)
        assert "30 rows done." in app.bench.say_line.words

        await pilot.press("ctrl+x")
        await pilot.pause()
        await fill(app, pilot, grams="36.5", first_row="13", rows="6")
        piece = app.view.studio.project[MOOR]
        assert isinstance(piece.weigh_ins[0], WeighIn)
        assert (piece.weigh_ins[0].rows, piece.weigh_ins[0].grams) == (6, Decimal("36.5"))
        await pilot.press("ctrl+x")
        await until(app, pilot, Choose)
        await pilot.press("down", "enter")
        await pilot.pause()
        await fill(app, pilot, grams="0")
        assert app.view.studio.project[MOOR].weigh_ins == ()

        app.ask("log_time")
        await until(app, pilot, Choose)
        await pilot.press("enter")
        await until(app, pilot, Form)
        app.screen.query_one("#field-kind").focus()
        await pilot.press("right")
        await fill(app, pilot, minutes="25", note="first half")
        assert app.view.studio.project[MOOR].log[1].kind is WorkKind.ENDS
        await pilot.press("ctrl+z", "ctrl+z", "ctrl+z", "ctrl+z")
        assert app.view.project == before


async def test_what_the_library_keeps_is_in_the_files(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(DEMO, tmp_path / "demo"))
    app = StripewrightApp(folder)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        await library(app, pilot, "yarns")
        await pilot.press("enter")
        await pilot.pause()
        await fill(app, pilot, works_with="Fenlite", fibres="", care="Cold wash")
        assert isinstance(app.screen, Form)
        assert "Did you mean Fenlight?" in str(app.screen.query_one("#told", Static).content)
        await fill(app, pilot, works_with="fenlight, Withyspun")
        await pilot.press("ctrl+q")
        await pilot.pause(0.3)
    again = Workshop.open(folder).snapshot
    assert again.problems == ()
    assert again.studio.library.yarns[0].fibres == ()
    assert again.studio.library.yarns[0].care == "Cold wash"
    assert again.studio.library.yarns[0].works_with == ("fenlight", "withyspun")
