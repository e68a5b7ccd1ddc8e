"""Draws the README's pictures of the real app on the demo studio, the same on every machine.

`python -m tests.pictures` writes them to tests/data/pictures. Each is the screen's own cells as an
SVG: blocks are drawn as areas, so that the cloth has no seams whatever font shows the text. The
customer's page is as a browser shows it, where this machine has one.
"""

from __future__ import annotations

import asyncio
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from html import escape
from itertools import groupby
from pathlib import Path

from PIL import Image
from textual.pilot import Pilot
from textual.widgets import Input

from studio import clock
from studio.cli.main import main as main_of_studio
from studio.ui import session as ui
from studio.ui.app import StripewrightApp
from tests.browser import browser, photograph
from tests.ui.looking import Glyph, Grid, grid

HERE = Path(__file__).parent
DEMO = HERE.parent / "projects" / "demo"
PICTURES = HERE / "data" / "pictures"

DAY = date(2026, 11, 25)
"""The demo's own day."""

BUSY = frozenset(("enquiry", "buying", "settle", "save"))
"""Workers that change what is on the screen."""

QUOTED = "gull-and-shingle"
PAGE = (880, 1290)
"""The piece whose page is drawn, and the window it is seen in."""

WIDE, HIGH, FONT, EDGE = 8.4, 18, 14, 12
"""Points of a cell, the font's size, and the margin about the screen."""

FONTS = "ui-monospace, 'DejaVu Sans Mono', Menlo, Consolas, monospace"

BLOCKS = {
    "▀": (0.0, 0.0, 1.0, 0.5),
    "▄": (0.0, 0.5, 1.0, 0.5),
    "█": (0.0, 0.0, 1.0, 1.0),
    "▌": (0.0, 0.0, 0.5, 1.0),
    "▐": (0.5, 0.0, 0.5, 1.0),
}
"""Left, top, width and height of the block characters, as shares of a cell."""


@dataclass(frozen=True)
class Picture:
    """A screen to draw: its size, theme, piece, and what is done before it is drawn."""

    name: str
    size: tuple[int, int]
    theme: str
    piece: str
    keys: tuple[str, ...] = ()
    ask: str = ""
    then: tuple[str, ...] = ()
    """Keys once what is asked for is there."""
    shows: str = ""
    """Words that must be seen, so that keys which went astray are noticed."""


TWO_BAGS = (
    *("enter", *"W-0501", "tab", "1", "enter"),
    *("enter", *"W-0502", "tab", "1", "enter"),
)
"""Two dye lots of the first shade on order."""

ALL = (
    Picture("bench-wide", (200, 50), "felt", "afterglow-throw", ("f3", "down", "down")),
    Picture("bench-middle", (120, 36), "fleece", "damson-hedge-throw", ("f3",)),
    Picture("bench-narrow", (80, 24), "woad", "damson-hedge-throw", ("f3", "down")),
    Picture("slots", (120, 36), "selvedge", "afterglow-throw", ("f3",), ask="slots"),
    Picture("why", (120, 36), "felt", "damson-hedge-throw", ("f3",), ask="why"),
    Picture("enquiry", (120, 36), "felt", "gull-and-shingle", ask="enquiry"),
    Picture("orders", (120, 36), "fleece", "damson-hedge-throw", ask="orders"),
    Picture("buying", (120, 36), "selvedge", "damson-hedge-throw", ask="buying"),
    Picture(
        "receiving",
        (120, 36),
        "woad",
        "barley-drill-runner",
        ask="receiving",
        then=TWO_BAGS,
        shows="came in 2 dye lots",
    ),
)


def svg(cells: Grid) -> str:
    """The cells of a screen as an SVG text."""
    width = max(len(row) for row in cells) * WIDE + 2 * EDGE
    height = len(cells) * HIGH + 2 * EDGE
    ground = cells[0][0].ground
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
        f'font-family="{escape(FONTS)}" font-size="{FONT}" xml:space="preserve">',
        f'<rect width="{width:g}" height="{height:g}" rx="6" fill="{ground}"/>',
    ]
    for y, row in enumerate(cells):
        top = EDGE + y * HIGH
        parts += _grounds(row, top, ground)
        parts += _texts(row, top)
    return "\n".join((*parts, "</svg>")) + "\n"


def _runs(
    row: tuple[Glyph, ...], key: Callable[[Glyph], object]
) -> Iterator[tuple[int, list[Glyph]]]:
    at = 0
    for _, run in groupby(row, key):
        glyphs = list(run)
        yield at, glyphs
        at += len(glyphs)


def _area(x: float, y: float, width: float, height: float, colour: str) -> str:
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{colour}" '
        'shape-rendering="crispEdges"/>'
    )


def _grounds(row: tuple[Glyph, ...], top: float, ground: str) -> Iterator[str]:
    """The grounds of a line, and its block characters as areas over them."""
    for at, run in _runs(row, lambda g: g.ground):
        if run[0].ground not in ("", ground):
            yield _area(EDGE + at * WIDE, top, len(run) * WIDE, HIGH, run[0].ground)
    for at, run in _runs(row, lambda g: (g.char if g.char in BLOCKS else "", g.front)):
        if run[0].char in BLOCKS:
            left, down, wide, high = BLOCKS[run[0].char]
            if wide == 1:
                yield _area(
                    EDGE + at * WIDE, top + down * HIGH, len(run) * WIDE, high * HIGH, run[0].front
                )
                continue
            for step in range(len(run)):
                x = EDGE + (at + step + left) * WIDE
                yield _area(x, top + down * HIGH, wide * WIDE, high * HIGH, run[0].front)


def _texts(row: tuple[Glyph, ...], top: float) -> Iterator[str]:
    """The text of a line, each run of one colour held to its cells."""
    for at, run in _runs(row, lambda g: (g.front, g.bold, g.underline)):
        text = "".join(" " if g.char in BLOCKS else g.char for g in run)
        start = len(text) - len(text.lstrip())
        text = text.strip()
        if not text:
            continue
        first = run[0]
        style = ' font-weight="bold"' if first.bold else ""
        style += ' text-decoration="underline"' if first.underline else ""
        yield (
            f'<text x="{EDGE + (at + start) * WIDE:g}" y="{top + HIGH * 0.74:g}" '
            f'textLength="{len(text) * WIDE:g}" fill="{first.front}"{style}>{escape(text)}</text>'
        )


async def draw(picture: Picture) -> str:
    """Open the app on a copy of the demo, do what the picture asks, and draw it."""
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(folder) / "demo"
        shutil.copytree(DEMO, demo)
        app = StripewrightApp(demo)
        async with app.run_test(size=picture.size) as pilot:
            while not app.opened.is_set() or app.workshop.snapshot.plan.pending:
                await pilot.pause(0.02)
            app.theme = picture.theme
            app.take(app.workshop.snapshot, picture.piece)
            await pilot.press(*picture.keys)
            if picture.ask:
                app.ask(picture.ask)
                while len(app.screen_stack) == 1:
                    await pilot.pause(0.02)
                await _rested(app, pilot)
            for key in picture.then:
                await pilot.press(key)
                await pilot.pause(0.1)
            await _rested(app, pilot)
            await pilot.pause(1.0)
            drawn = svg(grid(app))
            assert picture.shows in drawn, f"{picture.name} does not show '{picture.shows}'"
            return drawn


async def _rested(app: StripewrightApp, pilot: Pilot[None]) -> None:
    """Wait until nothing is worked out any more, and all is saved."""
    await pilot.pause(0.5)
    while any(worker.group in BUSY for worker in app.workers):
        await pilot.pause(0.05)


def main() -> None:
    """Draw them all."""
    clock.today = lambda: DAY
    Input.cursor_blink = False  # type: ignore[assignment]
    ui.WATCH_EVERY_S = 3600.0
    PICTURES.mkdir(parents=True, exist_ok=True)
    for picture in ALL:
        text = asyncio.run(draw(picture))
        (PICTURES / f"{picture.name}.svg").write_text(text, encoding="utf-8")
        print(f"{picture.name}.svg  {len(text) // 1000} kB")
    if browser() is None:
        print("no browser on this machine: quote.png stays as it is")
    else:
        the_page(PICTURES / "quote.png")


def the_page(out: Path) -> None:
    """The quote of a piece of the demo, as its customer sees it."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "quote.html"
        words = ["quote", QUOTED, "--folder", str(DEMO), "--form", "html", "--out", str(page)]
        assert main_of_studio(words) == 0
        photograph(page, out, *PAGE)
        picture = Image.open(out).convert("RGB")
        # Few colours, and text on white: a palette is a third of the size and looks the same.
        picture.quantize(96).save(out, optimize=True)
        print(f"{out.name}  {out.stat().st_size // 1000} kB")


if __name__ == "__main__":
    main()
