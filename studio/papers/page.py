"""The paper as one HTML page that needs nothing else: styles and drawing are in it."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from studio.papers.drawing import UNKNOWN
from studio.papers.model import Colour, Entry, QuotePaper
from studio.papers.svg import to_svg

_STYLE = """
@page { size: A4; margin: 15mm 18mm 13mm; }
* { box-sizing: border-box; }
html { background: #e9e6e1; }
body { font: 10.5pt/1.5 "Iowan Old Style", "Palatino Linotype", Palatino, "DejaVu Serif", Georgia,
  serif; color: #2b2724; background: #fff; max-width: 210mm; margin: 8mm auto; padding: 18mm; }
header { display: flex; justify-content: space-between; gap: 12mm; border-bottom: 0.4mm solid
  #2b2724; padding-bottom: 4mm; margin-bottom: 8mm; }
header p { margin: 0; overflow-wrap: anywhere; }
.studio { font-size: 13pt; letter-spacing: 0.04em; }
.to { text-align: right; }
h1 { font-size: 19pt; font-weight: normal; line-height: 1.2; margin: 0 0 5mm;
  overflow-wrap: anywhere; }
h2 { font-size: 10.5pt; font-weight: bold; margin: 6mm 0 1.5mm; }
.piece { display: flex; gap: 10mm; align-items: flex-start; margin: 6mm 0; }
.piece figure { margin: 0; flex: none; }
.piece svg { display: block; max-width: 100%; }
.piece div { flex: 1; min-width: 0; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: 1mm 0; border-bottom: 0.1mm solid #d8d2ca;
  overflow-wrap: anywhere; }
th { font-weight: normal; color: #6b635b; padding-right: 6mm; white-space: nowrap; width: 1%; }
.sums td { text-align: right; font-variant-numeric: tabular-nums; }
.sums .total th, .sums .total td { font-weight: bold; color: inherit; border-top: 0.3mm solid
  #2b2724; }
ul { list-style: none; margin: 0; padding: 0; }
.shades li { display: flex; align-items: center; gap: 2.5mm; }
.chip { display: inline-block; width: 7mm; height: 4mm; border: 0.1mm solid #00000040; flex: none;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.note { border-left: 0.6mm solid #2b2724; padding-left: 4mm; }
.terms { font-size: 9pt; color: #6b635b; }
footer { margin-top: 8mm; }
section, table, figure { break-inside: avoid; }
@media (max-width: 150mm) { body { margin: 0; padding: 6mm; } .piece, header { flex-wrap: wrap; }
  .to { text-align: left; } }
@media print { html { background: none; } body { margin: 0; padding: 0; max-width: none;
  font-size: 9.5pt; line-height: 1.38; } .terms { font-size: 8.5pt; } h1 { margin-bottom: 3mm; }
  header { padding-bottom: 3mm; margin-bottom: 5mm; } .piece { margin: 4mm 0; }
  h2 { font-size: 9.5pt; margin: 4mm 0 1mm; } p { margin: 2mm 0; } header p { margin: 0; }
  th, td { padding-top: 0.6mm; padding-bottom: 0.6mm; } footer { margin-top: 4mm; }
  svg { print-color-adjust: exact; -webkit-print-color-adjust: exact; } }
"""


def _paragraphs(found: Iterable[str], cls: str = "") -> str:
    mark = f' class="{cls}"' if cls else ""
    return "\n".join(f"<p{mark}>{escape(text)}</p>" for text in found)


def _rows(entries: Iterable[Entry], cls: str = "") -> str:
    mark = f' class="{cls}"' if cls else ""
    return "\n".join(
        f'<tr{mark}><th scope="row">{escape(e.label)}</th><td>{escape(e.text)}</td></tr>'
        for e in entries
    )


def _chip(colour: Colour) -> str:
    """A shade's chip; a variegated one shows its colours side by side."""
    safe = [c for c in colour.colours if c.startswith("#") and c[1:].isalnum()] or [UNKNOWN]
    part = 100 / len(safe)
    stops = ", ".join(f"{c} {part * i:.1f}% {part * (i + 1):.1f}%" for i, c in enumerate(safe))
    paint = safe[0] if len(safe) == 1 else f"linear-gradient(90deg, {stops})"
    return (
        f'<li><span class="chip" style="background: {escape(paint)}"></span>'
        f"{escape(colour.name)}</li>"
    )


def _note(cautions: tuple[str, ...]) -> str:
    if not cautions:
        return ""
    heading = '<section class="note">\n<h2>Please note</h2>'
    return f"{heading}\n{_paragraphs(cautions)}\n</section>\n"


def to_page(paper: QuotePaper) -> str:
    """The whole paper as a valid page, ready to be printed or sent."""
    to = "<br>".join(escape(c) for c in paper.customer)
    chips = "\n".join(_chip(c) for c in paper.colours)
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(paper.title)}</title>
<style>{_STYLE}</style>
</head>
<body>
<header>
<p class="studio">{escape(paper.studio)}</p>
<p class="to">{to}</p>
</header>
<main>
<h1>{escape(paper.title)}</h1>
{_paragraphs(paper.opening)}
<div class="piece">
<figure>
{to_svg(paper.picture, paper.picture_words)}
</figure>
<div>
<table>
<tbody>
{_rows(paper.facts)}
</tbody>
</table>
<h2>Colours</h2>
<ul class="shades">
{chips}
</ul>
</div>
</div>
<section>
<h2>Price</h2>
<table class="sums">
<tbody>
{_rows(paper.price)}
{_rows((paper.total,), "total")}
{_rows(paper.payment)}
</tbody>
</table>
</section>
{_paragraphs(paper.closing)}
{_note(paper.cautions)}{_paragraphs(paper.terms, "terms")}
</main>
<footer>
{_paragraphs(paper.signature)}
</footer>
</body>
</html>
"""
