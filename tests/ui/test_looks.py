"""Every screen at three sizes in every theme: no text cut without a sign, no overlap, readable."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest
from textual.pilot import Pilot

from studio.core.edits import set_rows
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.message import Words
from studio.ui.flows import FLOWS
from studio.ui.themes import to_textual
from tests.ui import looking, tables

DEMO = Path(__file__).parents[2] / "projects" / "demo"
SIZES = ((80, 24), (120, 36), (200, 50))
SMALL = ((20, 5), (39, 9), (40, 10), (60, 20))
PIECE = "damson-hedge-throw"
BEGUN, FINISHED = "barley-drill-runner", "pigeon-loft-throw"
TRIED = "gull-and-shingle"

Open = Callable[[StripewrightApp], None]


@dataclass(frozen=True)
class Look:
    """A screen, and how it is come to from the bench with the piece at hand.

    `keys` are pressed once it is open, to come to a sheet or a dialog of its own.
    """

    name: str
    pane: str
    open: Open | None = None
    flow: str = ""
    keys: tuple[str, ...] = ()


def _do(verb: str) -> Open:
    return lambda app: getattr(app.bench.pane, f"action_{verb}")()


def _ask(what: str, subject: object = None) -> Open:
    return lambda app: app.ask(what, subject)


def _break_a_promise(app: StripewrightApp) -> None:
    app.edit("rows", lambda studio: set_rows(studio, PIECE, 1, 60))


DOWN_TWO = ("down", "down")

LOOKS = (
    Look("projects", "projects"),
    Look("stripes", "stripes"),
    Look("stash", "stash"),
    Look("cost", "cost"),
    Look("findings", "findings"),
    Look("filter", "stash", _do("filter")),
    Look("help", "stripes", lambda app: app.action_help()),
    Look("find", "stripes", _ask("palette"), flow="palette"),
    Look("colours", "stripes", _ask("look"), flow="look"),
    Look("piece", "stripes", _ask("details"), flow="details"),
    Look("slots", "stripes", _ask("slots"), flow="slots"),
    Look("slot", "stripes", _ask("slot", "A"), flow="slot"),
    Look("stripe", "stripes", _do("open"), flow="stripe"),
    Look("split", "stripes", _do("divide"), flow="split"),
    Look("lot", "stripes", _do("lot"), flow="lot"),
    Look("border", "stripes", _ask("border"), flow="border"),
    Look("fringe", "stripes", _ask("fringe"), flow="fringe"),
    Look("rows done", "stripes", _ask("rows_done"), flow="rows_done"),
    Look("notion", "cost", _ask("notion"), flow="notion"),
    Look("stage", "projects", _do("stage"), flow="stage"),
    Look("new piece", "projects", _ask("new_piece"), flow="new_piece"),
    Look("copy", "projects", _ask("copy_piece", PIECE), flow="copy_piece"),
    Look("new yarn", "stash", _ask("new_yarn"), flow="new_yarn"),
    Look("add lot", "stash", _do("add"), flow="add_lot"),
    Look("correct lot", "stash", _do("open"), flow="correct_lot"),
    Look("use balls", "stash", _do("use"), flow="use_balls"),
    Look("weigh part", "stash", _do("weigh"), flow="weigh_part"),
    Look("settings", "stripes", _ask("settings"), flow="settings"),
    Look(
        "changed on disk",
        "stripes",
        _ask("changed_on_disk", "The file was changed outside."),
        flow="changed_on_disk",
    ),
    Look("why", "stripes", _ask("why"), flow="why"),
    Look("accept", "findings", _do("accept"), flow="accept"),
    Look("enquiry", "stripes", _ask("enquiry", TRIED), flow="enquiry"),
    Look("buying", "stripes", _ask("buying"), flow="buying"),
    Look("receiving", "stripes", _ask("receiving"), flow="receiving"),
    Look("staples", "stripes", _ask("buying", "staples"), flow="buying"),
    Look("a bag", "stripes", _ask("receiving"), flow="receiving", keys=("enter",)),
    Look("the parcel", "stripes", _ask("receiving"), flow="receiving", keys=("ctrl+d",)),
    Look("what was ordered", "stripes", _ask("receiving"), keys=("ctrl+u", "enter")),
    Look("note an order", "stripes", _ask("receiving"), keys=("ctrl+u", "enter", "enter")),
    Look("note with anybody", "stripes", _ask("receiving"), keys=("ctrl+u", "end", *["enter"] * 2)),
    Look("change an order", "stripes", _ask("receiving"), keys=("ctrl+l",)),
    Look("a line on order", "stripes", _ask("receiving"), keys=("ctrl+l", "enter")),
    Look("days of an order", "stripes", _ask("receiving"), keys=("ctrl+l", *DOWN_TWO, "enter")),
    Look("suppliers", "stripes", _ask("suppliers"), flow="suppliers"),
    Look("offers", "stripes", _ask("suppliers"), flow="suppliers", keys=("tab",)),
    Look("a supplier", "stripes", _ask("suppliers"), flow="suppliers", keys=("insert",)),
    Look("an offer", "stripes", _ask("suppliers"), flow="suppliers", keys=("tab", "enter")),
    Look("table in", "stripes", _ask("table_in"), flow="table_in"),
    Look("table out", "stripes", _ask("table_out"), flow="table_out"),
    Look("table columns", "stripes", tables.show_columns),
    Look("table rows", "stripes", tables.show_rows),
    Look("order book", "stripes", _ask("orders", PIECE), flow="orders"),
    Look("what to do", "stripes", _ask("orders", TRIED), keys=("enter",)),
    Look("broken promise", "stripes", _break_a_promise, flow="promise"),
    Look("prices", "stripes", _ask("trade"), flow="trade"),
    Look("the week", "stripes", _ask("trade", "hours"), keys=("enter",)),
    Look("customers", "stripes", _ask("customers"), flow="customers"),
    Look("for whom", "stripes", _ask("customer"), flow="customer"),
    Look("weigh in", "stripes", _ask("weigh_in"), flow="weigh_in"),
    Look("yarn used", "stripes", _ask("yarn_used", BEGUN), flow="yarn_used"),
    Look("yarn noted", "stripes", _ask("yarn_used", FINISHED)),
    Look("a note of yarn", "stripes", _ask("yarn_used", FINISHED), keys=("down", "enter")),
    Look("closing", "stripes", _ask("closing", FINISHED), flow="closing"),
    Look("time spent", "stripes", _ask("log_time"), flow="log_time"),
    Look("library", "stripes", _ask("library"), flow="library"),
    Look("stitches", "stripes", _ask("library", "stitches")),
    Look("swatches", "stripes", _ask("library", "swatches")),
    Look("new swatch", "stripes", _ask("new_swatch"), flow="new_swatch", keys=("enter",)),
    Look("yarn", "stripes", _ask("library", "yarns"), keys=("enter",)),
    Look("shade", "stripes", _ask("library", "yarns"), keys=("down", "enter")),
    Look("stitch", "stripes", _ask("library", "stitches"), keys=("enter",)),
    Look("swatch", "stripes", _ask("library", "swatches"), keys=("enter",)),
    Look("trial", "stripes", _ask("library", "swatches"), keys=("insert", "enter")),
)

PARTS = 3
"""So many tests look at them in turn, so that several processes can share them."""

BY_NAME = {look.name: look for look in LOOKS}
CALM = ("projects", "stripes", "stash", "cost", "findings", "filter", "help", "piece", "slots")


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.ui.session.WATCH_EVERY_S", 3600.0)
    monkeypatch.setattr("textual.widgets.Input.cursor_blink", False)
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 11, 20))


SEEN_ELSEWHERE = {
    "to_stage": "test_taking",
    "wording": "test_papers",
    "first_run": "test_an_empty_studio_invites",
    "leave": "ends the app",
    "reload": "opens nothing",
    "open_file": "opens her editor",
    "mend": "changes the piece at once",
}


def test_no_dialog_is_forgotten() -> None:
    seen = {look.flow for look in LOOKS} | set(SEEN_ELSEWHERE)
    assert not set(FLOWS) - seen, "LOOKS must name a way to each of these"


@asynccontextmanager
async def opened(
    folder: Path, size: tuple[int, int]
) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    app = StripewrightApp(folder)
    async with app.run_test(size=size) as pilot:
        for _ in range(500):
            if app.opened.is_set() and not app.workshop.snapshot.plan.pending:
                break
            await pilot.pause(0.02)
        assert app.opened.is_set(), looking.lines(looking.grid(app))
        await pilot.pause()
        yield app, pilot


@asynccontextmanager
async def demo(
    tmp_path: Path, size: tuple[int, int]
) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    async with opened(folder, size) as (app, pilot):
        app.take(app.workshop.snapshot, PIECE)
        await pilot.pause()
        yield app, pilot


async def come_to(app: StripewrightApp, pilot: Pilot[None], look: Look) -> None:
    # Whatever was looked at before: the piece at hand, and nothing said.
    if app.view.key != PIECE:
        app.stand_on_piece(PIECE)
    app.bench.say_line.say("")
    app.bench.go_to(look.pane)
    await pilot.pause()
    if look.open is not None:
        look.open(app)
        for _ in range(50):
            await pilot.pause()
            if len(app.screen_stack) > 1 or look.name == "filter":
                break
            await pilot.pause(0.01)
        for _ in range(200):
            if not (isinstance(app.screen, Words) and "working it out" in app.screen.text):
                break
            await pilot.pause(0.05)
        asked = [worker for worker in app.workers if worker.group in ("enquiry", "buying")]
        if asked:
            await app.workers.wait_for_complete(asked)
        await pilot.pause()
        for key in look.keys:
            await pilot.press(key)
            await pilot.pause()


async def leave(app: StripewrightApp, pilot: Pilot[None]) -> None:
    for _ in range(5):
        if len(app.screen_stack) == 1 and not app.bench.pane.list.filtering:
            break
        await pilot.press("escape")
    assert len(app.screen_stack) == 1
    # What was said stays for some seconds: how many screens long that is depends on the machine.
    app.bench.say_line.say("")


async def wear(app: StripewrightApp, pilot: Pilot[None], theme: str) -> looking.Grid:
    app.theme = theme
    await pilot.pause()
    return looking.grid(app)


@pytest.mark.parametrize("part", range(PARTS))
@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.usefixtures("looks_itself")
async def test_every_screen_is_whole_and_readable_in_every_theme(
    size: tuple[int, int], part: int, tmp_path: Path
) -> None:
    # Each is drawn in a tracer theme, whose colours tell their names, and from that in every
    # theme, exactly; the test below holds that against real drawing.
    faults: list[str] = []
    async with demo(tmp_path, size) as (app, pilot):
        app.register_theme(to_textual(looking.TRACER))
        app.theme = "tracer"
        for look in LOOKS[part::PARTS]:
            await come_to(app, pilot, look)
            if look.open is not None and look.name != "filter" and len(app.screen_stack) == 1:
                faults.append(f"{look.name}: did not open")
                continue
            cells = looking.grid(app)
            faults += [f"{look.name}: {fault}" for fault in looking.layout_faults(app, cells)]
            name = f"{look.name.replace(' ', '-')}-{size[0]}x{size[1]}"
            difference = looking.golden(name, cells)
            faults += [difference] if difference else []
            runs = looking.text_runs(cells)
            faults += [f"{look.name}: {fault}" for fault in looking.strange_colours(runs)]
            for theme in app.themes.by_key.values():
                found = looking.contrast_faults(runs, theme)
                faults += [f"{look.name} in {theme.key}: {fault}" for fault in found]
            await leave(app, pilot)
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_what_the_tracer_tells_is_what_each_theme_paints(
    size: tuple[int, int], tmp_path: Path
) -> None:
    async with demo(tmp_path, size) as (app, pilot):
        app.register_theme(to_textual(looking.TRACER))
        for look in ("stripes", "piece") if size == SIZES[0] else ("stripes",):
            await come_to(app, pilot, BY_NAME[look])
            traced = await wear(app, pilot, "tracer")
            for theme in app.themes.by_key.values():
                painted = await wear(app, pilot, theme.key)
                assert looking.worn(traced, theme) == painted, (look, theme.key)
            await leave(app, pilot)


@pytest.mark.parametrize("size", SMALL, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_small_terminals_are_met_calmly(size: tuple[int, int], tmp_path: Path) -> None:
    async with demo(tmp_path, size) as (app, pilot):
        faults: list[str] = []
        for name in CALM:
            await come_to(app, pilot, BY_NAME[name])
            faults += [f"{name}: {f}" for f in looking.contrast_faults(looking.grid(app))]
            await leave(app, pilot)
        assert not faults, "\n".join(faults)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_an_empty_studio_invites(size: tuple[int, int], tmp_path: Path) -> None:
    folder = tmp_path / "wool-room"
    folder.mkdir()
    async with opened(folder, size) as (app, pilot):
        for _ in range(100):
            if len(app.screen_stack) > 1:
                break
            await pilot.pause(0.02)
        app.register_theme(to_textual(looking.TRACER))
        cells = await wear(app, pilot, "tracer")
        faults = looking.layout_faults(app, cells)
        difference = looking.golden(f"empty-{size[0]}x{size[1]}", cells)
        faults += [difference] if difference else []
        runs = looking.text_runs(cells)
        faults += looking.strange_colours(runs)
        for theme in app.themes.by_key.values():
            faults += looking.contrast_faults(runs, theme)
        assert not faults, "\n".join(faults)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
async def test_without_colour_nothing_is_coloured_and_shades_have_letters(
    size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with demo(tmp_path, size) as (app, pilot):
        for name in CALM:
            await come_to(app, pilot, BY_NAME[name])
            cells = looking.grid(app)
            assert {(g.front, g.ground) for row in cells for g in row} == {("", "")}, name
            assert not looking.layout_faults(app), name
            await leave(app, pilot)
        app.bench.go_to("stripes")
        await pilot.pause()
        text = "\n".join(looking.lines(looking.grid(app)))
        difference = looking.golden(f"no-colour-{size[0]}x{size[1]}", looking.grid(app))
        assert difference is None, difference
        assert "░A░ Damson" in text
        assert "▒B▒ Heather" in text
