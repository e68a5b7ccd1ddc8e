"""The paper as plain text for the terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from studio.papers.model import Entry, QuotePaper

WIDTH = 72
SKETCH_LINES = 28
SKETCH_WIDTH = 60
_FRINGE = "|"


def _wrapped(paragraphs: Iterable[str], width: int) -> list[str]:
    found: list[str] = []
    for paragraph in paragraphs:
        found += [*textwrap.wrap(paragraph, width), ""]
    return found


def _table(entries: Sequence[Entry], width: int, label: int) -> list[str]:
    found = []
    for entry in entries:
        body = textwrap.wrap(entry.text, max(20, width - label - 2)) or [""]
        found.append(f"{entry.label:<{label}}  {body[0]}")
        found += [f"{'':<{label}}  {more}" for more in body[1:]]
    return found


def _letters(paper: QuotePaper, count: int) -> list[str]:
    """The letter of the stripe that has the most of each of so many parts, from the first row."""
    found = []
    for at in range(count):
        low, high = at / count, (at + 1) / count
        parts = [
            (min(high, band.end) - max(low, band.start), band.letter)
            for band in paper.picture.bands
        ]
        found.append(max(parts, key=lambda part: part[0])[1][:1] if parts else "?")
    return found


def sketch(paper: QuotePaper) -> list[str]:
    """The design in letters of its colours, to scale: a line is twice as high as a letter wide."""
    picture = paper.picture
    wide, tall = max(picture.width_cm, 1.0), max(picture.length_cm, 1.0)
    lines = min(SKETCH_LINES, max(2, round(SKETCH_WIDTH * tall / wide / 2)))
    width = min(SKETCH_WIDTH, max(4, round(lines * 2 * wide / tall)))
    if picture.along:
        body = ["".join(_letters(paper, width))] * lines
    else:
        body = [letter * width for letter in _letters(paper, lines)]
    if picture.border:
        edge = picture.border.letter[:1]
        body = [edge + line[1:-1] + edge for line in body]
        body = [edge * width, *body[1:-1], edge * width]
    if picture.fringe:
        strands = (_FRINGE + " ") * (width // 2)
        body = [strands.rstrip(), *body, strands.rstrip()]
    return body


def to_text(paper: QuotePaper, width: int = WIDTH) -> str:
    """The whole paper, never wider than `width` where its words allow it."""
    sums = (*paper.price, paper.total, *paper.payment)
    label = max(len(e.label) for e in (*paper.facts, *sums))
    to = [*paper.customer, ""] if paper.customer else []
    out = [paper.studio, "", *to, paper.title, "=" * min(width, len(paper.title))]
    out += ["", *_wrapped(paper.opening, width)]
    out += _table(paper.facts, width, label)
    out += ["", *(f"  {line}" for line in sketch(paper)), "", "Colours"]
    out += [f"  {', '.join(c.letters)}  {c.name}" for c in paper.colours] + [""]
    out += _table(paper.price, width, label)
    out += ["-" * min(width, label + 20), *_table((paper.total,), width, label)]
    out += [*_table(paper.payment, width, label), ""]
    out += _wrapped(paper.closing, width)
    if paper.cautions:
        out += ["Please note", *_wrapped(paper.cautions, width)]
    out += _wrapped((*paper.terms, *paper.signature), width)
    return "\n".join(line.rstrip() for line in out).rstrip() + "\n"
