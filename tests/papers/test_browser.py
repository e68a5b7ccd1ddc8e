"""The customer's page in a real browser: what it looks like, on a small screen and on paper.

Needs a browser that can be asked without a window (tests/browser.py); without one these are
skipped, and the page is checked as HTML alone (test_papers.py).
"""

from __future__ import annotations

import re
from itertools import groupby
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from studio.papers.page import to_page
from tests.browser import browser, photograph, print_out
from tests.papers.making import THROW, paper

pytestmark = pytest.mark.skipif(browser() is None, reason="no browser on this machine")

SHEET = paper()
RED, WHITE = (200, 72, 47), (255, 255, 255)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "quote.html"
    path.write_text(to_page(SHEET), encoding="utf-8")
    return path


def rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def test_the_design_is_drawn_stripe_by_stripe(page: Path, tmp_path: Path) -> None:
    photograph(page, tmp_path / "quote.png", 900, 1300)
    seen = Image.open(tmp_path / "quote.png").convert("RGB")
    band_colours = {rgb(c) for band in SHEET.picture.bands for c in band.colours}
    # Down the middle of the drawing: the stripes in their order, each in the colour of its shade.
    left, right = _drawn_between(seen, band_colours)
    column = [seen.getpixel(((left + right) // 2, y)) for y in range(seen.height // 2)]
    runs = [(colour, len(list(run))) for colour, run in groupby(column)]
    drawn = [colour for colour, high in runs if colour in band_colours and high > 3]
    stripes = [rgb(band.colours[0]) for band in SHEET.picture.bands]
    assert SHEET.picture.border is not None
    border = rgb(SHEET.picture.border.colours[0])
    assert [c for c, _ in groupby(drawn)] == [c for c, _ in groupby([border, *stripes, border])]


def _drawn_between(seen: Image.Image, colours: set[tuple[int, int, int]]) -> tuple[int, int]:
    """From where to where the cloth reaches across: the longest line of its colours."""
    best = (0, 0)
    for y in range(0, seen.height // 2, 4):
        at = [x for x in range(seen.width // 2) if seen.getpixel((x, y)) in colours]
        if len(at) > best[1] - best[0]:
            best = (at[0], at[-1])
    assert best[1] - best[0] > 50, "no stripe is seen"
    return best


@pytest.mark.parametrize("width", [500, 900, 1400])
def test_nothing_reaches_out_of_a_window(page: Path, tmp_path: Path, width: int) -> None:
    photograph(page, tmp_path / "quote.png", width, 1800)
    seen = Image.open(tmp_path / "quote.png").convert("RGB")
    assert seen.width == width
    edge = {seen.getpixel((width - 2, y)) for y in range(seen.height)}
    # The last pixels are ground or margin from top to bottom: no word or line is cut by the window.
    assert edge <= {rgb("#e9e6e1"), WHITE}


def test_a_usual_quote_is_one_printed_page_with_all_its_words(page: Path, tmp_path: Path) -> None:
    print_out(page, tmp_path / "quote.pdf")
    sheets = PdfReader(tmp_path / "quote.pdf").pages
    assert len(sheets) == 1
    width, height = float(sheets[0].mediabox.width), float(sheets[0].mediabox.height)
    # A4 (ISO 216): 210 x 297 mm, in points of 1/72 inch.
    assert (round(width / 72 * 25.4), round(height / 72 * 25.4)) == (210, 297)
    words = re.sub(r"\s+", " ", sheets[0].extract_text())
    for said in (SHEET.title, SHEET.total.text, *(fact.text for fact in SHEET.facts)):
        assert re.sub(r"\s+", " ", said) in words
    assert THROW.name in words
