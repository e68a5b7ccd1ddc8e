"""Small terminals, no colour, no editor, files that are broken: calm words, never a traceback."""

from __future__ import annotations

import asyncio
import shutil
import threading
from pathlib import Path
from typing import Any

import pytest

from studio.core import edits
from studio.errors import SaveError
from studio.ui.app import StripewrightApp
from studio.ui.bench import TINY_WORDS
from studio.ui.dialogs.choose import Choose
from studio.workshop import Workshop
from tests.ui import looking, small

DEMO = Path(__file__).parents[2] / "projects" / "demo"


@pytest.mark.parametrize("size", [(20, 5), (1, 1), (39, 30), (200, 4)])
async def test_a_tiny_terminal_shows_the_answers_and_takes_keys(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    async with small.opened(tmp_path, size) as (app, pilot):
        await pilot.press("plus", "f1", "escape", "f7", "escape", "f6", "down", "tab", "ctrl+z")
        await pilot.pause()
        assert app.is_running
        assert app.bench.answers.text


async def test_a_tiny_terminal_without_a_piece_asks_for_room(tmp_path: Path) -> None:
    app = StripewrightApp(tmp_path, workshop_factory=lambda _: Workshop.blank())
    async with app.run_test(size=(30, 8)) as pilot:
        await pilot.pause()
        assert TINY_WORDS.split(",", maxsplit=1)[0] in app.bench.answers.text


async def test_without_colour_shades_are_patterns_with_their_letters(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with small.opened(tmp_path) as (app, pilot):
        assert app.no_color
        await pilot.pause()
        cells = looking.grid(app)
        lines = looking.lines(cells)
        lichen = next(line for line in lines if "Lichen" in line and " 6 " in line)
        assert "▒B▒" in lichen
        # The pane and the line at hand are told by signs as well as by colour.
        assert any("╍╍╍" in line for line in lines)
        assert any("▌" in line for line in lines)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "demo"))


async def test_a_broken_file_is_one_calm_line_and_the_rest_opens(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = demo / "projects" / "gull-and-shingle.toml"
    broken.write_text("name = ", encoding="utf-8")
    before = broken.read_bytes()
    monkeypatch.delenv("VISUAL", raising=False)
    monkeypatch.setenv("EDITOR", "true")
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        assert "gull-and-shingle.toml" in app.bench.say_line.words
        assert "gull-and-shingle" not in app.view.studio.project
        assert len(app.view.studio.project) > 10
        await pilot.press("f6")
        row = app.bench.findings.list.rows[0]
        assert "gull-and-shingle.toml" in row.cell(2).text
        assert any("Ctrl+E" in str(line) for line in row.detail)
        # A test terminal cannot be lent to an editor: it says where the file is instead.
        await pilot.press("ctrl+e")
        await pilot.pause(0.2)
        assert "cannot be opened in this terminal" in app.bench.say_line.words
        assert "gull-and-shingle.toml" in app.bench.say_line.words
        monkeypatch.delenv("EDITOR")
        await pilot.press("ctrl+e")
        await pilot.pause(0.1)
        assert "Set EDITOR" in app.bench.say_line.words
    assert broken.read_bytes() == before


async def test_a_mended_file_is_read_again(demo: Path) -> None:
    path = demo / "projects" / "gull-and-shingle.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text("name = ", encoding="utf-8")
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        path.write_text(text, encoding="utf-8")
        app.ask("reload")
        await pilot.pause(0.1)
        await small.settled(app, pilot)
        assert "gull-and-shingle" in app.view.studio.project
        assert app.view.snapshot.problems == ()


async def test_two_hands_on_one_file_and_neither_is_lost(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.SAVE_AFTER_S", 0.02)
    path = demo / "projects" / "afterglow-throw.toml"
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        other = path.read_text(encoding="utf-8").replace('customer = "Maren"', 'customer = "Inga"')
        path.write_text(other, encoding="utf-8")
        await pilot.press("plus")
        await small.until(pilot, lambda: isinstance(app.screen, Choose))
        assert isinstance(app.screen, Choose)
        assert app.screen.title_words == "Changed on disk"
        await pilot.press("enter")
        # A copy of the whole studio is written first, which takes its time on a busy machine.
        await small.until(pilot, lambda: "demo-yours-1" in app.bench.say_line.words)
        await small.settled(app, pilot)
        assert app.view.project is not None
        assert app.view.project.customer == "Inga"
        assert app.view.project.stripes[0].rows == 10
        assert "demo-yours-1" in app.bench.say_line.words
    assert path.read_text(encoding="utf-8") == other
    mine = Workshop.open(demo.parent / "demo-yours-1").snapshot
    assert mine.problems == ()
    piece = mine.studio.project["afterglow-throw"]
    assert (piece.customer, piece.stripes[0].rows) == ("Maren", 12)


async def test_a_change_outside_is_read_by_itself_where_nothing_is_unsaved(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.WATCH_EVERY_S", 0.05)
    path = demo / "projects" / "afterglow-throw.toml"
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        other = path.read_text(encoding="utf-8").replace('customer = "Maren"', 'customer = "Inga"')
        path.write_text(other, encoding="utf-8")
        await pilot.pause(1.0)
        await small.settled(app, pilot)
        assert app.view.project is not None
        assert app.view.project.customer == "Inga"
        assert "changed outside" in app.bench.say_line.words
        assert "no longer reaches" not in app.bench.say_line.words


async def test_a_save_that_was_cut_short_is_finished_on_opening_and_told(demo: Path) -> None:
    from studio.storage import disk, saving

    paths = [demo / "projects" / f"{key}.toml" for key in ("afterglow-throw", "gull-and-shingle")]
    planned = []
    for path in paths:
        data = path.read_bytes()
        file = f"projects/{path.name}"
        planned.append(saving.Planned(file, disk.digest_of(data), data + b"# finished\n"))
    saving.draft(demo, planned)
    saving.decide(demo)
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        assert app.bench.say_line.words == (
            "The last save was cut short; it is finished now (2 files)."
        )
    assert all(path.read_text().endswith("# finished\n") for path in paths)


async def test_what_is_changed_while_files_are_read_again_is_not_lost(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.WATCH_EVERY_S", 3600.0)
    path = demo / "projects" / "gull-and-shingle.toml"
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        at_hand = app.view.key
        assert at_hand
        text = path.read_text(encoding="utf-8")
        name = '\nname = "Gull and shingle"'
        path.write_text(text.replace(name, '\nname = "Gull and sand"'), encoding="utf-8")

        def meanwhile() -> None:
            app.edit("note", lambda s: edits.set_note(s, at_hand, 1, "by the sea"))

        opened, workshop_open = threading.Event(), Workshop.open

        def slowly(folder: Path, *more: Any) -> Workshop:
            found = workshop_open(folder, *more)
            app.call_from_thread(meanwhile)
            opened.set()
            return found

        monkeypatch.setattr(Workshop, "open", slowly)
        app.ask("reload")
        await asyncio.to_thread(opened.wait, 10)
        monkeypatch.setattr(Workshop, "open", workshop_open)
        await small.settled(app, pilot)
        assert app.view.studio.project[at_hand].stripes[1].note == "by the sea"
        await pilot.pause(1.0)
        await small.settled(app, pilot)
        app._watch()
        await pilot.pause(0.5)
        await small.settled(app, pilot)
        assert app.view.studio.project["gull-and-shingle"].name == "Gull and sand"
        assert app.view.studio.project[at_hand].stripes[1].note == "by the sea"
        assert app.view.snapshot.undo_label == "note"


async def test_a_copy_that_cannot_be_made_is_told_and_hers_stays(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.WATCH_EVERY_S", 3600.0)

    def full(_: Workshop) -> Path:
        raise SaveError("The disk is full.")

    monkeypatch.setattr(Workshop, "save_copy", full)
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        before = app.workshop
        app.ask("changed_on_disk", "It was changed.")
        await pilot.pause(0.1)
        await pilot.press("enter")
        await pilot.pause(0.1)
        assert "The disk is full. So yours stays" in app.bench.say_line.words
        assert app.workshop is before


async def test_undo_reaches_over_a_change_outside_and_brings_nothing_of_it_back(
    demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.WATCH_EVERY_S", 3600.0)
    monkeypatch.setattr("studio.ui.session.SAVE_AFTER_S", 3600.0)
    path = demo / "projects" / "gull-and-shingle.toml"
    app = StripewrightApp(demo)
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        at_hand = app.view.key
        assert at_hand == "afterglow-throw"
        rows = app.view.studio.project[at_hand].stripes[0].rows
        await pilot.press("plus")
        app.edit("note", lambda s: edits.set_note(s, at_hand, 1, "by the sea"))
        app.workshop.save()
        name = '\nname = "Gull and shingle"'
        text = path.read_text(encoding="utf-8")
        assert name in text
        path.write_text(text.replace(name, '\nname = "Gull and sand"'), encoding="utf-8")
        app.ask("reload")
        await small.until(pilot, lambda: "Read again" in app.bench.say_line.words)
        await small.settled(app, pilot)
        await pilot.press("ctrl+z", "ctrl+z")
        assert app.view.studio.project[at_hand].stripes[0].rows == rows
        assert app.view.studio.project[at_hand].stripes[1].note == ""
        assert app.view.studio.project["gull-and-shingle"].name == "Gull and sand"
        await pilot.press("ctrl+y")
        app.workshop.save()
        # What she did to the same file as the other hand cannot be taken back unseen.
        mine = demo / "projects" / f"{at_hand}.toml"
        text = mine.read_text(encoding="utf-8")
        mine.write_text(text.replace('customer = "Maren"', 'customer = "Inga"'), encoding="utf-8")
        app.ask("reload")
        await small.until(pilot, lambda: "Undo no longer reaches" in app.bench.say_line.words)
        await pilot.press("ctrl+z")
        assert app.view.studio.project[at_hand].stripes[0].rows == rows + 2
