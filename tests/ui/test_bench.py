"""The bench: layouts, places, the answers, findings, mouse, files."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from studio.asked import Snapshot
from studio.core import edits
from studio.core.answers import Finding
from studio.core.model import LotRef, Stage
from studio.errors import ChangedOnDiskError, SaveError
from studio.ui.app import StripewrightApp
from studio.ui.bench import shape_for
from studio.ui.panes.pane import Pane
from studio.workshop import Workshop
from tests.ui import fake, small

MOOR, PRAM = "moor-blanket", "pram-rug"


@pytest.mark.parametrize(
    ("width", "height", "shape"),
    [
        (200, 50, "wide"),
        (160, 40, "wide"),
        (159, 50, "middle"),
        (120, 36, "middle"),
        (100, 30, "middle"),
        (99, 60, "narrow"),
        (80, 24, "narrow"),
        (40, 10, "narrow"),
        (39, 24, "tiny"),
        (20, 5, "tiny"),
    ],
)
def test_the_shape_follows_the_terminal(width: int, height: int, shape: str) -> None:
    assert shape_for(width, height) == shape


def seen(app: StripewrightApp) -> set[str]:
    return {p.id or "" for p in app.bench.query(Pane) if p.display and p.size.area}


def test_the_first_paint_reads_in_neither_core_nor_solver() -> None:
    heavy = "('studio.core.', 'studio.workshop', 'pydantic', 'highspy', 'numpy', 'coloraide')"
    code = f"import sys, studio.ui.app; print([m for m in sys.modules if m.startswith({heavy})])"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "['studio.core.frozen', 'studio.core.clean', 'studio.core.light']"


async def test_each_shape_shows_what_it_should_and_resizing_is_live(tmp_path: Path) -> None:
    four = {"projects", "stripes", "stash", "cost"}
    async with small.opened(tmp_path, (200, 50)) as (app, pilot):
        assert seen(app) == {*four, "findings"}
        await pilot.resize_terminal(120, 36)
        await pilot.pause()
        assert seen(app) == four
        await pilot.press("f6")
        await pilot.pause()
        assert seen(app) == {"projects", "stripes", "findings"}
        await pilot.press("f6")
        await pilot.pause()
        assert seen(app) == four
        await pilot.resize_terminal(80, 24)
        await pilot.pause()
        assert seen(app) == {"stripes"}
        for key, pane in (("f2", "projects"), ("f4", "stash"), ("f5", "cost"), ("f6", "findings")):
            await pilot.press(key)
            await pilot.pause()
            assert seen(app) == {pane}
            assert app.focused is app.bench.pane.list
        await pilot.press("escape")
        await pilot.pause()
        assert seen(app) == {"stripes"}
        await pilot.press("f6")
        await pilot.resize_terminal(20, 5)
        await pilot.pause()
        assert seen(app) == set()
        assert "150 x 134 cm" in app.bench.answers.text
        await pilot.resize_terminal(120, 36)
        await pilot.pause()
        assert seen(app) == {"projects", "stripes", "findings"}


async def test_the_four_answers_stand_in_two_lines_at_every_width(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24)) as (app, pilot):
        for width in (200, 120, 80, 60):
            await pilot.resize_terminal(width, 24)
            await pilot.pause()
            text = app.bench.answers.text
            assert text.count("\n") == 1
            assert all(len(line) <= width - 2 for line in text.splitlines())
            for words in ("150 x 134 cm", "all in the house", "used ", "due 12 Mar"):
                assert words in text, (width, text)


async def test_moving_in_the_projects_moves_all_panes(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f2", "down")
        await pilot.pause()
        assert app.view.key == PRAM
        assert "Stripes of Pram rug" in app.bench.stripes.head.render().plain
        assert "150 x " in app.bench.answers.text
        await pilot.press("enter")
        assert app.bench.at == "stripes"
        # A gift that was handed over needs nothing.
        await pilot.press("f2", "down")
        await pilot.pause()
        assert "nothing needed" in app.bench.answers.text


async def test_stages_by_keys_booking_promises_the_lots(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f2", "down", "greater_than_sign")
        await pilot.pause()
        piece = app.view.studio.project[PRAM]
        assert piece.stage is Stage.BOOKED
        lots = {s.slot: s.claim.on for s in piece.stripes if s.claim}
        assert lots["A"] in {"1180", "1203"}
        await pilot.press("less_than_sign")
        await pilot.pause()
        piece = app.view.studio.project[PRAM]
        assert piece.stage is Stage.QUOTED
        assert not any(s.claim for s in piece.stripes)
        assert app.bench.pane.list.key == PRAM


async def test_shortfall_and_cost_follow_an_edit_at_once(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        assert "all in the house" in app.bench.answers.text
        await pilot.press("end", "up", "up", "1", "9", "9", "enter")
        await small.settled(app, pilot)
        # 199 rows of Tide pool beside 18 others: at 24 g for 20 rows of 120 stitches a row of 175
        # takes 1.75 g, so 217 rows take 380 g, and the one lot has 6 balls of 50 g.
        assert "short" in app.bench.answers.text
        assert "Tide pool" in app.bench.answers.text
        cost = next(r for r in app.bench.query_one("#cost", Pane).list.rows if r.cell(5).text)
        assert cost.cell(0).text == "Tide pool"
        before = app.bench.answers.text
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        assert app.bench.answers.text != before
        assert "all in the house" in app.bench.answers.text


async def test_a_finding_leads_to_its_place(tmp_path: Path) -> None:
    whole = edits.change_rows(small.studio(), PRAM, 1, 1)
    async with small.opened(tmp_path, (200, 50), whole) as (app, pilot):
        assert app.view.key == MOOR
        await pilot.press("f6")
        odd = next(
            (f for f in app.view.findings if f.project == PRAM and f.stripe == 1),
            None,
        )
        assert odd is not None
        app.bench.findings.list.go_to(odd)
        await pilot.press("enter")
        await pilot.pause()
        assert (app.view.key, app.bench.at, app.bench.stripes.index) == (PRAM, "stripes", 1)
        lot = LotRef(fake.COTTON.key, "12", "1203")
        weight = odd.weight
        app.go_to_finding(Finding("x", weight, "A lot.", MOOR, lot=lot))
        assert (app.view.key, app.bench.at, app.bench.pane.list.key) == (MOOR, "stash", lot)


async def test_the_mouse_goes_where_keys_go(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.click("#stash-list", offset=(4, 3))
        assert app.bench.at == "stash"
        await pilot.click("#stripes-list", offset=(6, 4))
        assert app.bench.at == "stripes"
        assert app.bench.stripes.index is not None
        # The second key of the foot line adds or takes rows: '+ -' after 'F1 help'.
        await pilot.click("#keys", offset=(2, 0))
        await pilot.pause()
        assert app.screen is not app.bench
        await pilot.press("escape")
        await pilot.click("#cloth", offset=(10, 8))
        assert app.bench.at == "stripes"


async def test_copying_takes_the_line_at_hand(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("ctrl+c")
        assert "Oatmeal" in app.clipboard
        assert app.is_running


class Troubled(Workshop):
    """A workshop whose next save fails as told."""

    trouble: SaveError | None = None
    saves = 0

    def save(self) -> Snapshot:
        """Fail once, or save as always."""
        type(self).saves += 1
        if self.trouble is not None:
            raise self.trouble
        return super().save()


@pytest.fixture
def quick_save(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.ui.session.SAVE_AFTER_S", 0.01)


@pytest.mark.usefixtures("quick_save")
async def test_autosave_and_what_it_says_where_it_fails(tmp_path: Path) -> None:
    made = Troubled(small.studio())
    app = StripewrightApp(tmp_path, workshop_factory=lambda _: made)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        await pilot.press("end", "up", "up", "plus")
        await pilot.pause(0.1)
        await small.settled(app, pilot)
        assert Troubled.saves == 1
        assert app.bench.say_line.saved == "saved"
        made.trouble = SaveError("The disk is full. Nothing was lost.")
        await pilot.press("plus")
        await pilot.pause(0.1)
        await small.settled(app, pilot)
        assert app.bench.say_line.saved == "not saved"
        assert "The disk is full" in app.bench.say_line.words
        # Leaving asks first, and staying loses nothing.
        await pilot.press("ctrl+q")
        await pilot.pause(0.1)
        assert app.screen is not app.bench
        await pilot.press("enter")
        await pilot.pause()
        assert app.is_running
        assert app.workshop.snapshot.unsaved
        made.trouble = None
        await pilot.press("ctrl+q")
        await pilot.pause(0.2)
        assert not app.is_running


@pytest.mark.usefixtures("quick_save")
async def test_a_file_changed_outside_is_asked_about(tmp_path: Path) -> None:
    made = Troubled(small.studio())
    made.trouble = ChangedOnDiskError("moor-blanket.toml was changed outside.")
    app = StripewrightApp(tmp_path, workshop_factory=lambda _: made)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        await pilot.press("end", "up", "up", "plus")
        await pilot.pause(0.1)
        await pilot.pause()
        assert app.screen.title_words == "Changed on disk"  # type: ignore[attr-defined]
        await pilot.press("down", "enter")
        await pilot.pause()
        assert app.screen is app.bench
        assert app.workshop.snapshot.unsaved


async def test_an_edit_of_a_lot_and_its_undo(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        lot = LotRef(fake.COTTON.key, "12", "1203")
        await pilot.press("f4")
        app.bench.pane.list.go_to(lot)
        await pilot.press("minus", "1", "enter")
        await pilot.pause()
        assert _balls(app, lot) == 1
        await pilot.press("ctrl+z")
        assert _balls(app, lot) == 2
        assert "1 ball of 1203 used up" in app.bench.say_line.words


def _balls(app: StripewrightApp, ref: LotRef) -> int:
    return next(lot.balls for lot in app.view.studio.stash.lots if lot.ref == ref)


async def test_a_theme_that_is_not_there_falls_back_and_says_so(tmp_path: Path) -> None:
    whole = small.studio()
    whole = replace(whole, settings=replace(whole.settings, theme="fellt"))
    async with small.opened(tmp_path, whole=whole) as (app, _):
        assert app.theme == "felt"
        assert "Did you mean 'felt'?" in app.bench.say_line.words
