"""Names and notes made safe to print: no control characters, no hidden changes of direction."""

from __future__ import annotations

import unicodedata

_TURNS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c")
"""Characters that reverse or embed directions; a name needs none of them to be read."""

_NO_TURNS = dict.fromkeys(map(ord, _TURNS))


def no_turns(text: str) -> str:
    """The text without hidden changes of direction, which would turn a whole line of a screen."""
    return text if text.isascii() else text.translate(_NO_TURNS)


def line(text: str) -> str:
    """The text as one line: every run of white space a blank, control characters gone."""
    return " ".join(_kept(text).split())


def lines(text: str) -> tuple[str, ...]:
    """The text as paragraphs: lines are joined, blank lines part them."""
    found: list[list[str]] = [[]]
    for one in text.splitlines():
        plain = line(one)
        if plain:
            found[-1].append(plain)
        elif found[-1]:
            found.append([])
    return tuple(" ".join(paragraph) for paragraph in found if paragraph)


def _kept(text: str) -> str:
    return "".join(
        " " if c.isspace() else c
        for c in text
        if c not in _TURNS and (c.isspace() or unicodedata.category(c) not in ("Cc", "Cs", "Co"))
    )
