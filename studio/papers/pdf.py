"""The paper as PDF, through fpdf2, with the drawing as vectors.

Words that the fonts of every PDF reader can show (Latin) need no font file. Other scripts need
TrueType fonts of this computer; letters that none of them has are told, never left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core.picture import ClothPicture
from studio.errors import StudioError
from studio.papers.drawing import UNKNOWN, Rect, draw
from studio.papers.model import Entry, QuotePaper

if TYPE_CHECKING:
    from fpdf import FPDF

_MARGIN = 20
_INK, _SOFT, _RULE = (43, 39, 36), (107, 99, 91), (216, 210, 202)
_LINE = 5.2
_FIGURE = (70, 92)

_FOLDERS = (
    "/usr/share/fonts",
    "/usr/local/share/fonts",
    "/Library/Fonts",
    "/System/Library/Fonts",
    "C:/Windows/Fonts",
)
_FILES = (
    "DejaVuSerif.ttf",
    "DejaVuSans.ttf",
    "NotoSerif-Regular.ttf",
    "NotoSans-Regular.ttf",
    "Arial Unicode.ttf",
    "arial.ttf",
    "NotoSansHebrew-Regular.ttf",
    "NotoSansArabic-Regular.ttf",
    "NotoSansDevanagari-Regular.ttf",
    "NotoSansThai-Regular.ttf",
    "NotoSansCJK-Regular.ttc",
    "wqy-microhei.ttc",
    "msgothic.ttc",
)


class FontError(StudioError):
    """Letters for which no font was found."""

    title = "The PDF cannot show every letter"


def usual_fonts() -> tuple[Path, ...]:
    """Font files of this computer that together show many scripts, the best first."""
    roots = [Path(folder) for folder in _FOLDERS]
    found = {
        path.name: path
        for root in roots
        if root.is_dir()
        for path in root.rglob("*.tt[fc]")
        if path.name in _FILES
    }
    return tuple(found[name] for name in _FILES if name in found)


def _words(paper: QuotePaper) -> Iterable[str]:
    yield from (paper.title, paper.studio, paper.picture_words)
    for group in (
        paper.customer,
        paper.opening,
        paper.cautions,
        paper.closing,
        paper.terms,
        paper.signature,
    ):
        yield from group
    for entry in (*paper.facts, *paper.price, paper.total, *paper.payment):
        yield from (entry.label, entry.text)
    yield from (colour.name for colour in paper.colours)


def _strange(paper: QuotePaper) -> str:
    """The letters of the paper that the fonts built into every reader do not have."""
    letters = set("".join(_words(paper)))
    return "".join(sorted(c for c in letters if not _latin(c)))


def _latin(letter: str) -> bool:
    return ord(letter) < 256


def _choose_font(pdf: FPDF, strange: str, fonts: Sequence[Path]) -> str:
    """Add the fonts that are needed; the first shows all words, the others what it lacks."""
    missing = set(strange)
    family = ""
    fallbacks = []
    for at, path in enumerate(fonts):
        if not missing:
            break
        name = f"paper{at}"
        pdf.add_font(name, "", path)
        has = set(pdf.fonts[name].cmap)  # type: ignore[union-attr]
        gives = {c for c in missing if ord(c) in has}
        if not family:
            if not all(code in has for code in range(0x20, 0x7F)):
                continue  # A font of one script cannot carry the whole paper.
            family = name
        elif gives:
            fallbacks.append(name)
        missing -= gives
    if missing or not family:
        shown = " ".join(sorted(missing or set(strange)))
        raise FontError(
            f"No font was found for the letters {shown}. Print the HTML page instead, which takes "
            "its fonts from the browser, or name a font file that has them."
        )
    if fallbacks:
        pdf.set_fallback_fonts(fallbacks, exact_match=False)
    return family


class _Page:
    """Writes the parts of one paper; every text goes through here."""

    def __init__(self, pdf: FPDF, family: str) -> None:
        self.pdf = pdf
        self.family = family
        self.core = family == "times"

    def font(self, size: float, ink: tuple[int, int, int] = _INK, *, bold: bool = False) -> None:
        """Set size in points and ink; other scripts have no bold of their own."""
        self.pdf.set_font(self.family, "B" if bold and self.core else "", size)
        self.pdf.set_text_color(*ink)

    def paragraphs(self, found: Iterable[str], size: float = 10.5, ink: tuple[int, int, int] = _INK,
                   width: float = 0) -> None:  # fmt: skip
        """Paragraphs one below the other."""
        self.font(size, ink)
        for text in found:
            self.pdf.multi_cell(width, size * 0.5, text, align="L", new_x="LMARGIN", new_y="NEXT")
            self.pdf.ln(1.6)

    def heading(self, text: str) -> None:
        """A small heading."""
        self.pdf.ln(2)
        self.font(10.5, bold=True)
        self.pdf.multi_cell(0, _LINE, text, new_x="LMARGIN", new_y="NEXT")

    def table(self, entries: Iterable[Entry], left: float, width: float, label: float,
              *, sums: bool = False, bold: bool = False) -> None:  # fmt: skip
        """Label and text in two columns over a thin rule; sums stand to the right."""
        pdf = self.pdf
        for entry in entries:
            if pdf.will_page_break(_LINE * 2):
                pdf.add_page()
            top = pdf.get_y()
            pdf.set_x(left)
            self.font(10, _INK if bold else _SOFT, bold=bold)
            pdf.cell(label, _LINE, entry.label)
            self.font(10, bold=bold)
            align = "R" if sums else "L"
            pdf.multi_cell(
                width - label, _LINE, entry.text, align=align, new_x="LMARGIN", new_y="NEXT"
            )
            bottom = max(pdf.get_y(), top + _LINE) + 0.6
            pdf.set_draw_color(*_RULE)
            pdf.set_line_width(0.1)
            pdf.line(left, bottom, left + width, bottom)
            pdf.set_y(bottom + 0.6)

    def rect(self, shape: Rect, left: float, top: float, style: str = "F") -> None:
        """One shape of the drawing."""
        red, green, blue = (int(shape.colour[i : i + 2], 16) for i in (1, 3, 5))
        self.pdf.set_fill_color(red, green, blue)
        self.pdf.rect(left + shape.x, top + shape.y, shape.width, shape.height, style)

    def drawing(self, picture: ClothPicture, left: float, top: float) -> tuple[float, float]:
        """The blanket; its width and height in mm."""
        drawing = draw(picture, *_FIGURE)
        for shape in drawing.shapes:
            self.rect(shape, left, top)
        self.pdf.set_draw_color(*_SOFT)
        self.pdf.set_line_width(0.1)
        self.rect(drawing.outline, left, top, "D")
        return drawing.width, drawing.height


def to_pdf(paper: QuotePaper, fonts: Sequence[Path] | None = None) -> bytes:
    """The whole paper; `fonts` are font files to use where Latin letters are not enough.

    The same paper gives the same bytes. Raises FontError where a letter has no font.
    """
    from fpdf import FPDF

    pdf = FPDF(format="A4", unit="mm")
    pdf.set_margins(_MARGIN, _MARGIN, _MARGIN)
    pdf.c_margin = 0
    pdf.set_auto_page_break(True, _MARGIN)
    pdf.set_creation_date(datetime.combine(paper.on, time(), UTC))
    pdf.set_title(paper.title)
    pdf.set_author(paper.studio)
    pdf.set_lang("en")
    pdf.add_page()
    strange = _strange(paper)
    family = "times"
    if strange:
        family = _choose_font(pdf, strange, usual_fonts() if fonts is None else fonts)
    _write(_Page(pdf, family), paper)
    return bytes(pdf.output())


def _write(page: _Page, paper: QuotePaper) -> None:
    pdf = page.pdf
    width = pdf.epw
    top = pdf.get_y()
    page.font(13)
    pdf.multi_cell(width / 2, 6, paper.studio, align="L", new_x="LMARGIN", new_y="NEXT")
    left_end = pdf.get_y()
    pdf.set_xy(_MARGIN + width / 2, top)
    page.font(10.5)
    pdf.multi_cell(
        width / 2, _LINE, "\n".join(paper.customer), align="R", new_x="LMARGIN", new_y="NEXT"
    )
    rule = max(pdf.get_y(), left_end) + 2
    pdf.set_draw_color(*_INK)
    pdf.set_line_width(0.4)
    pdf.line(_MARGIN, rule, _MARGIN + width, rule)
    pdf.set_y(rule + 6)
    page.font(19)
    pdf.multi_cell(0, 8, paper.title, align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.ln(2)
    page.paragraphs(paper.opening)
    _piece(page, paper)
    page.heading("Price")
    page.table(paper.price, _MARGIN, width, 60, sums=True)
    page.table((paper.total,), _MARGIN, width, 60, sums=True, bold=True)
    page.table(paper.payment, _MARGIN, width, 60, sums=True)
    pdf.ln(3)
    page.paragraphs(paper.closing)
    if paper.cautions:
        page.heading("Please note")
        page.paragraphs(paper.cautions)
    page.paragraphs(paper.terms, 9, _SOFT)
    pdf.ln(2)
    page.paragraphs(paper.signature)


def _piece(page: _Page, paper: QuotePaper) -> None:
    """The drawing with facts and colours beside it."""
    pdf = page.pdf
    pdf.ln(2)
    if pdf.will_page_break(_FIGURE[1]):
        pdf.add_page()
    top = pdf.get_y()
    drawn, tall = page.drawing(paper.picture, _MARGIN, top)
    left = _MARGIN + drawn + 9
    width = _MARGIN + pdf.epw - left
    page.table(paper.facts, left, width, 26)
    pdf.ln(2)
    pdf.set_x(left)
    page.font(10.5, bold=True)
    pdf.cell(width, _LINE, "Colours", new_x="LMARGIN", new_y="NEXT")
    for colour in paper.colours:
        y = pdf.get_y()
        shown = [c for c in colour.colours if len(c) == 7] or [UNKNOWN]
        for at, one in enumerate(shown):
            part = 7 / len(shown)
            page.rect(Rect(at * part, 0.8, part, 3.6, one), left, y)
        pdf.set_draw_color(*_SOFT)
        page.rect(Rect(0, 0.8, 7, 3.6, UNKNOWN), left, y, "D")
        pdf.set_x(left + 9)
        page.font(10)
        pdf.multi_cell(width - 9, _LINE, colour.name, align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(max(pdf.get_y(), top + tall) + 3)
