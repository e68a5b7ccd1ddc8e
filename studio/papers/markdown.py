"""The paper as Markdown: every name escaped, so that it reads as it is written."""

from __future__ import annotations

import re
from collections.abc import Iterable

from studio.papers.model import Entry, QuotePaper
from studio.papers.text import sketch

_MARKS = re.compile(r"([\\`*_{}\[\]()#+\-.!|<>&~:=^$@/\"'])")
_PLAIN = frozenset(".'-:()/")
"""Marks that mean something only in some places; the rest is always escaped."""


def _at_start(match: re.Match[str]) -> str:
    """A dash or a number that would begin a list, made plain."""
    found = match.group(1)
    return "\\-" if found == "-" else f"{found}\\"


def escaped(text: str) -> str:
    """Text whose characters mean nothing to Markdown or HTML.

    Marks that are harmless inside words stay readable; at the start of a line, where they make
    lists and headings, they are escaped too.
    """

    def mark(match: re.Match[str]) -> str:
        sign = match.group(1)
        return sign if sign in _PLAIN else f"\\{sign}"

    body = _MARKS.sub(mark, text)
    body = re.sub(
        r"(://|\bwww\.)", lambda m: m.group(1).replace("/", "\\/").replace(".", "\\."), body
    )
    return re.sub(r"^(-|\d+(?=[.)](\s|$)))", _at_start, body)


def _table(entries: Iterable[Entry]) -> list[str]:
    return [f"| {escaped(e.label)} | {escaped(e.text)} |" for e in entries]


def _paragraphs(found: Iterable[str]) -> list[str]:
    return [line for text in found for line in (escaped(text), "")]


def to_markdown(paper: QuotePaper) -> str:
    """The whole paper as Markdown with tables."""
    total = Entry(paper.total.label, paper.total.text)
    out = [f"# {escaped(paper.title)}", "", f"**{escaped(paper.studio)}**", ""]
    if paper.customer:
        out += ["  \n".join(escaped(c) for c in paper.customer), ""]
    out += _paragraphs(paper.opening)
    out += ["| | |", "| --- | --- |", *_table(paper.facts), ""]
    out += ["```text", *sketch(paper), "```", ""]
    out += ["## Colours", ""]
    out += [f"- {escaped(', '.join(c.letters))}: {escaped(c.name)}" for c in paper.colours] + [""]
    out += ["## Price", "", "| | |", "| --- | ---: |", *_table(paper.price)]
    out += [f"| **{escaped(total.label)}** | **{escaped(total.text)}** |"]
    out += [*_table(paper.payment), "", *_paragraphs(paper.closing)]
    if paper.cautions:
        out += ["## Please note", "", *(f"- {escaped(c)}" for c in paper.cautions), ""]
    out += _paragraphs((*paper.terms, *paper.signature))
    return "\n".join(out).rstrip() + "\n"
