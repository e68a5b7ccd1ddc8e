"""The customer's papers: what is on them, what never is, and that every name is harmless."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from xml.etree import ElementTree

import html5lib
import pytest
from markdown_it import MarkdownIt
from pypdf import PdfReader

from studio.core import clean
from studio.core.model import Shade, Stage
from studio.core.picture import Band, ClothPicture, Edge
from studio.core.trade_model import Customer, Payment, PaymentKind, Quote
from studio.papers.markdown import escaped, to_markdown
from studio.papers.model import PaperError, PaperKind, QuotePaper, quote_paper
from studio.papers.page import to_page
from studio.papers.pdf import FontError, to_pdf, usual_fonts
from studio.papers.svg import to_svg
from studio.papers.text import to_text
from tests.core.trading import TODAY, D
from tests.papers.making import ILVA, SECRETS, THROW, paper, quoted, with_secrets

GOLDEN = Path(__file__).parent / "golden"


def svg(sheet: QuotePaper) -> str:
    return to_svg(sheet.picture, sheet.picture_words)


def pdf_text(sheet: QuotePaper) -> str:
    reader = PdfReader(io.BytesIO(to_pdf(sheet)))
    return "\n".join(page.extract_text() for page in reader.pages) + str(reader.metadata)


PRINTERS: dict[str, Callable[[QuotePaper], str]] = {
    "text": to_text,
    "markdown": to_markdown,
    "page": to_page,
    "svg": svg,
    "pdf": pdf_text,
}


@pytest.mark.parametrize("printer", PRINTERS)
def test_a_paper_for_nobody_yet_is_addressed_to_nobody(printer: str) -> None:
    sheet = paper(replace(THROW, customer=""))
    assert sheet.customer == ()
    assert sheet.opening[0] == "Dear customer,"
    assert not re.search(r"^\W*customer\W*$", PRINTERS[printer](sheet), re.MULTILINE)


@pytest.mark.parametrize("kind", PaperKind)
@pytest.mark.parametrize("printer", PRINTERS)
def test_no_cost_margin_hours_or_other_customer_is_on_any_paper(
    printer: str, kind: PaperKind
) -> None:
    printed = PRINTERS[printer](with_secrets(kind))
    plain = re.sub(r"[\\\s]", "", printed)
    assert [name for name, secret in SECRETS.items() if secret in plain] == []
    if printer != "svg":
        assert "Moorthrow" in plain
        assert "ilva" in plain.lower()


@pytest.mark.parametrize("printer", PRINTERS)
def test_a_secret_that_got_out_would_be_found(printer: str) -> None:
    leak = " ".join(SECRETS.values())
    sheet = replace(paper(), terms=(leak,), picture_words=leak)
    plain = re.sub(r"[\\\s]", "", PRINTERS[printer](sheet))
    assert [name for name, secret in SECRETS.items() if secret not in plain] == []


@pytest.mark.parametrize("printer", [p for p in PRINTERS if p != "svg"])
def test_all_that_the_customer_must_know_is_on_every_paper(printer: str) -> None:
    sheet = paper()
    plain = " ".join(PRINTERS[printer](sheet).replace("\\", "").split())
    quote = quoted()[0].project["throw"].quote
    assert quote is not None
    for fact in (
        "Quote for Moor throw", "Ilva Q.", "12 Long Lane", "about 100 x 120 cm", "4 stripes",
        "80 % wool, 20 % polyamide", "Wash by hand at 30 degrees.", "Moss, Wool", "Clay, Wool",
        f"{quote.price} EUR", "7.50 EUR", f"{quote.total} EUR", f"{quote.deposit} EUR",
        f"{quote.total - quote.deposit} EUR", "15 Mar 2027", "1 Apr 2027",
        "Not for unattended sleep under 12 months", "Fringe can come loose",
        "made by hand to order",
    ):  # fmt: skip
        assert fact in plain, fact
    for only_hers in ("16 CFR", "licensed adviser", "tracking label"):
        assert only_hers not in plain


def test_fibres_that_are_not_known_are_not_made_up() -> None:
    home, answer = quoted()
    key = home.project["throw"].slots[0].yarn
    yarns = tuple(replace(y, fibres=()) if y.key == key else y for y in home.library.yarns)
    bare = replace(home, library=replace(home.library, yarns=yarns))
    plain = to_text(quote_paper(bare.project["throw"], answer.plan, answer.demand, bare))
    assert f"not known yet of {bare.library.yarn[key].name}" in " ".join(plain.split())
    assert "80 % wool" not in plain


def golden(name: str, text: str) -> None:
    """Compare with a file kept in the tests; STRIPEWRIGHT_UPDATE_GOLDEN=1 makes it anew."""
    path = GOLDEN / name
    if os.environ.get("STRIPEWRIGHT_UPDATE_GOLDEN") == "1":
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("printer", "name"),
    [("text", "quote.txt"), ("markdown", "quote.md"), ("page", "quote.html"), ("svg", "quote.svg")],
)
def test_papers_are_as_they_were_looked_at(printer: str, name: str) -> None:
    golden(name, PRINTERS[printer](paper()).rstrip("\n") + "\n")


def test_a_confirmation_says_what_was_paid_and_when_it_is_ready() -> None:
    home, answer = quoted()
    throw = replace(
        home.project["throw"],
        stage=Stage.BOOKED,
        booked=date(2027, 3, 3),
        due=date(2027, 4, 9),
        payments=(Payment(PaymentKind.DEPOSIT, D(70), TODAY),),
    )
    sheet = quote_paper(throw, answer.plan, answer.demand, home, kind=PaperKind.CONFIRMATION)
    said = to_text(sheet)
    assert sheet.title == "Order confirmation: Moor throw"
    assert [e.label for e in sheet.payment] == ["Received", "Balance"]
    assert sheet.payment[0].text == "70.00 EUR"
    for words in ("Ordered", "3 Mar 2027", "ready by 9 Apr 2027", sheet.payment[1].text):
        assert words in said
    assert "Valid until" not in said


QUOTE = Quote(TODAY, TODAY, D("120"), D("6"), D("21"), D("126"), D("0"), "EUR", D("0.2"), True)


def test_tax_in_or_on_the_price() -> None:
    home, answer = quoted()
    throw = home.project["throw"]

    def of(quote: Quote) -> QuotePaper:
        return quote_paper(replace(throw, quote=quote), answer.plan, answer.demand, home)

    inside = of(QUOTE)
    assert [e.label for e in inside.price] == ["Blanket", "Shipping"]
    assert inside.total.text == "126.00 EUR (with 21.00 EUR tax, 20 %)"
    assert inside.payment == ()
    on_it = of(replace(QUOTE, tax_inclusive=False, total=D("147")))
    assert [(e.label, e.text) for e in on_it.price][-1] == ("Tax, 20 %", "21.00 EUR")
    assert on_it.total.text == "147.00 EUR"


def test_without_a_quote_there_is_no_paper() -> None:
    home, answer = quoted()
    bare = replace(home.project["throw"], quote=None)
    with pytest.raises(PaperError, match="no quote yet"):
        quote_paper(bare, answer.plan, answer.demand, home)


NASTY = [
    "<script>alert('x')</script>",
    '"><img src=x onerror=alert(1)>',
    'O\'Brien & "Co" <b>',
    "</title></style></svg><script>",
    "# Heading\n- list | `code` [a](http://x.example) **bold** ![i](j)",
    "1. one",
    "--- + = ~~x~~ \\ {{x}} $price ${studio} %s {0}",
    "\x1b[31mred\x1b[0m \x07bell \u202eevil\u202c",
    "<!-- comment --> <![CDATA[x]]> &amp; &#60;",
]
SCRIPTS = ["Ïlvá Ødegård-Łoś", "Ольга Δέσποινα", "שירה", "Zoë Ångström"]


def named(text: str) -> QuotePaper:
    customer = Customer("ilva", text, (text,))
    return paper(replace(THROW, name=f"{text} throw"), customer)


@pytest.mark.parametrize("text", [*NASTY, *SCRIPTS, "花子 美咲 はな ꧁"])
def test_the_page_is_valid_whatever_a_name_holds(text: str) -> None:
    sheet = named(text)
    page = to_page(sheet)
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree = parser.parse(page)
    assert tree.findall(".//script") == []
    assert tree.findall(".//img") == []
    assert tree.findtext(".//h1") == sheet.title
    assert sheet.customer[0] in "".join(tree.find(".//header").itertext())
    # Self-contained: no reference leads out of the page, apart from the name of the SVG language.
    assert not re.search(r"\b(src|href|@import|url\()", re.sub(r">[^<]*<", "><", page))
    ElementTree.fromstring(svg(sheet))


@pytest.mark.parametrize("text", [*NASTY, *SCRIPTS])
def test_markdown_reads_as_the_name_is_written(text: str) -> None:
    sheet = named(text)
    tokens = MarkdownIt("commonmark").enable(["table", "strikethrough"]).parse(to_markdown(sheet))
    inline = [t for t in tokens if t.type == "inline"]
    plain = ["".join(c.content for c in t.children or ()) for t in inline]
    assert plain[0] == sheet.title
    assert any(p.startswith(sheet.customer[0]) for p in plain)
    kinds = {c.type for t in inline for c in t.children or ()}
    assert kinds <= {
        "text",
        "text_special",
        "strong_open",
        "strong_close",
        "hardbreak",
        "softbreak",
    }


def test_markdown_marks_at_the_start_of_a_line() -> None:
    assert escaped("1. one") == "1\\. one"
    assert escaped("- one") == "\\- one"
    assert escaped("239.00 EUR") == "239.00 EUR"
    assert escaped("well-kept, e.g. 3-4") == "well-kept, e.g. 3-4"


@pytest.mark.parametrize("text", [*NASTY, *SCRIPTS])
def test_text_for_the_terminal_has_no_control_characters(text: str) -> None:
    said = to_text(named(text))
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", said)
    assert max(len(line) for line in to_text(paper()).splitlines()) <= 72


@pytest.mark.parametrize("text", [*NASTY, *SCRIPTS])
def test_pdf_holds_the_name_as_written(text: str) -> None:
    if any(ord(c) > 255 for c in clean.line(text)) and not usual_fonts():
        pytest.skip("no TrueType font on this computer")
    sheet = named(text)
    said = pdf_text(sheet)
    want = re.sub(r"\s", "", sheet.customer[0])
    squeezed = re.sub(r"\s", "", said)
    assert want in squeezed or want[::-1] in squeezed  # right to left comes out as it is drawn


def test_pdf_tells_letters_that_no_font_has() -> None:
    sheet = named("꧁ Ольга")
    with pytest.raises(FontError, match="꧁") as found:
        to_pdf(sheet, [f for f in usual_fonts() if f.name.startswith("DejaVuS")])
    assert "HTML page" in found.value.text
    with pytest.raises(FontError, match="О"):
        to_pdf(named("Ольга"), [])


def test_pdf_is_the_same_every_time_and_has_its_drawing() -> None:
    sheet = paper()
    assert to_pdf(sheet) == to_pdf(sheet)
    reader = PdfReader(io.BytesIO(to_pdf(sheet)))
    assert len(reader.pages) == 1
    drawn = reader.pages[0].get_contents()
    assert drawn is not None
    assert drawn.get_data().count(b" re") > 40  # bands, border, fringe, chips


def test_a_long_paper_goes_over_several_pages() -> None:
    shades = tuple(Shade(str(n), f"Shade of number {n}", ("#123456",)) for n in range(40))
    sheet = paper()
    many = replace(
        sheet, colours=tuple(replace(sheet.colours[0], name=s.name) for s in shades),
        terms=("A term. " * 900,),
    )  # fmt: skip
    reader = PdfReader(io.BytesIO(to_pdf(many)))
    assert len(reader.pages) > 1
    last = "".join(p.extract_text() for p in reader.pages)
    assert "Shade of number 39" in last


def test_the_drawing_is_to_scale_and_all_in_colours_of_the_piece() -> None:
    red, blue = "#ff0000", "#0000ff"
    picture = ClothPicture(
        100, 200, (Band(0, "A", (red,), 0, 0.25), Band(1, "B", (blue, "bad"), 0.25, 1)),
        border=Edge("B", (blue,), 5), fringe=Edge("A", (red,), 10),
    )  # fmt: skip
    tree = ElementTree.fromstring(to_svg(picture, "words", 100, 220))
    space = "{http://www.w3.org/2000/svg}"
    assert tree.findtext(f"{space}title") == "words"
    rects = [r.attrib for r in tree.findall(f"{space}rect")]
    assert (float(tree.attrib["width"][:-2]), float(tree.attrib["height"][:-2])) == (100, 220)
    band = next(r for r in rects if r.get("fill") == red and r["width"] == "90")
    # The body is 190 mm without the border; its first quarter lies on top, below fringe and border.
    assert (band["x"], band["y"], band["height"]) == ("5", "15", "47.5")
    assert {r["fill"] for r in rects} == {red, blue, "none"}
    along = to_svg(replace(picture, along=True), "words", 100, 220)
    assert 'x="5" y="15" width="22.5" height="190" fill="#ff0000"' in along


def test_variegated_and_unknown_shades_are_drawn() -> None:
    picture = ClothPicture(
        50, 50, (Band(0, "A", ("#111111", "#222222"), 0, 0.5), Band(1, "B", (), 0.5, 1))
    )
    drawn = to_svg(picture, "words")
    assert drawn.count("#222222") > 5
    assert drawn.count("#111111") - drawn.count("#222222") in (0, 1)
    assert "#c8c8c8" in drawn


def test_ilva_has_a_note_that_stays_at_home() -> None:
    assert ILVA.note
    assert ILVA.note not in to_page(paper())
