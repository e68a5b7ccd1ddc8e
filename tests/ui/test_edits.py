"""Editing stripes by keys: what changes, what the answers say, what undo restores."""

from __future__ import annotations

from pathlib import Path

from studio.core.model import Project
from studio.ui.app import StripewrightApp
from tests.ui import small

MOOR = "moor-blanket"


def rows(app: StripewrightApp) -> list[tuple[str, int]]:
    piece = piece_of(app)
    return [(s.slot, s.rows) for s in piece.stripes]


def piece_of(app: StripewrightApp) -> Project:
    return app.workshop.snapshot.studio.project[MOOR]


BEFORE = [("A", 12), ("B", 6), ("A", 18), ("C", 18), ("B", 6), ("A", 20), ("B", 6), ("C", 18)]


async def test_rows_up_and_down_change_size_at_once_and_undo_restores(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        assert rows(app) == BEFORE
        # 104 rows at 8 to 10 cm are 130 cm, and two borders of 2 cm make 134. The width: 146 cm
        # at 12 stitches to 10 cm is 175.2, so 175 stitches, 145.8 cm, with borders 149.8.
        assert "150 x 134 cm" in app.bench.answers.text
        await pilot.press("down", "down", "down")
        assert app.bench.stripes.index == 3
        await pilot.press("plus", "plus")
        assert rows(app)[3] == ("C", 22)
        # 108 rows are 135 cm.
        assert "150 x 139 cm" in app.bench.answers.text
        await pilot.press("minus", "right_square_bracket")
        assert rows(app)[3] == ("C", 21)
        odd = [f for f in app.view.plan.findings if f.stripe == 3] if app.view.plan else []
        assert any("odd" in f.text for f in odd)
        shown = app.bench.stripes.list.row
        assert shown is not None
        assert any("odd" in str(line) for line in shown.detail)
        await pilot.press("ctrl+z", "ctrl+z", "ctrl+z", "ctrl+z")
        assert rows(app) == BEFORE
        assert app.bench.say_line.words == "undid: two rows more"
        assert "150 x 134 cm" in app.bench.answers.text
        await pilot.press("ctrl+z")
        assert app.bench.say_line.words == "Nothing to undo."
        await pilot.press("ctrl+y")
        assert rows(app)[3] == ("C", 20)
        assert app.bench.say_line.words == "did again: two rows more"


async def test_typed_digits_and_letters(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("end", "home", "down", "down", "down", "1", "4")
        row = app.bench.stripes.list.row
        assert row is not None
        assert row.cell(3).text.startswith("14")
        assert rows(app) == BEFORE, "nothing changes before enter"
        await pilot.press("escape")
        assert rows(app) == BEFORE
        await pilot.press("1", "6", "enter")
        assert rows(app)[3] == ("C", 16)
        await pilot.press("2", "0", "down")
        assert rows(app)[3] == ("C", 20), "moving on keeps what was typed"
        assert app.bench.stripes.index == 4
        await pilot.press("c")
        assert rows(app)[4] == ("C", 6)
        await pilot.press("x")
        assert rows(app)[4] == ("C", 6)
        assert "no slot X" in app.bench.say_line.words


async def test_add_remove_move_split_merge(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("down", "down", "down", "insert")
        # The next slot after C is none, so the design begins again at A.
        assert rows(app)[3:6] == [("C", 18), ("A", 18), ("B", 6)]
        assert app.bench.stripes.index == 4
        await pilot.press("greater_than_sign")
        assert rows(app)[3:6] == [("C", 18), ("B", 6), ("A", 18)]
        assert app.bench.stripes.index == 5
        await pilot.press("ctrl+up")
        assert app.bench.stripes.index == 4
        await pilot.press("delete")
        assert rows(app) == BEFORE
        await pilot.press("up", "equals_sign")
        assert rows(app)[3:5] == [("C", 18), ("C", 18)]
        await pilot.press("up", "ampersand")
        assert rows(app)[3] == ("C", 36)
        await pilot.press("vertical_line", "1", "0", "enter")
        await pilot.pause()
        assert rows(app)[3:5] == [("C", 10), ("C", 26)]
        # A begun stripe stays: its refusal is told in words and nothing changes.
        await pilot.press("home", "delete")
        assert rows(app)[0] == ("A", 12)
        assert "begun" in app.bench.say_line.words


async def test_mend_of_an_odd_stripe_and_undo(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("down", "down", "down", "left_square_bracket")
        assert rows(app)[3] == ("C", 17)
        await pilot.press("exclamation_mark")
        await pilot.pause()
        assert rows(app)[3] == ("C", 18)
        assert "mended" in app.bench.say_line.words
        await pilot.press("ctrl+z")
        assert rows(app)[3] == ("C", 17)


async def test_border_and_fringe_are_lines_of_the_list(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("end", "up", "delete")
        assert piece_of(app).border is None
        # Without its two borders of 2 cm the width asked is all body: 150 cm are 180 stitches.
        assert "150 x 130 cm" in app.bench.answers.text
        await pilot.press("end", "enter")
        await pilot.pause()
        await pilot.press("tab", *"1", "0", "0", "enter")
        await pilot.pause()
        fringe = piece_of(app).fringe
        assert fringe is not None
        assert fringe.strands == 100
