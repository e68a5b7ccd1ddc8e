"""Swatches: a shade's own colours in a few cells, and a pattern with its letter without colour.

The cells of a swatch are data and not text: they carry a mark, so that the tests which measure the
contrast of text pass over them.
"""

from __future__ import annotations

from functools import lru_cache

from rich.color import Color
from rich.segment import Segment
from rich.style import Style

from studio.core.frozen import dataclass

SWATCH_CELLS = 3
"""Cells of a swatch in a list."""

MARK = "shade"
"""The key in a style's meta that says: these cells are a shade."""

PATTERNS = "░▒▓▚╱╳─│┼╲═║◦∙≈"
"""One character for each slot where there is no colour; later slots begin again."""


@dataclass(frozen=True, slots=True)
class Patch:
    """What a swatch shows: hex colours (several where the yarn is variegated) and a letter."""

    colours: tuple[str, ...]
    letter: str = ""


def pattern_of(letter: str) -> str:
    """The character that stands for a slot's shade where there is no colour."""
    if not letter:
        return PATTERNS[0]
    return PATTERNS[(ord(letter[0].upper()) - ord("A")) % len(PATTERNS)]


@lru_cache(maxsize=4096)
def shade_style(front: str, back: str | None = None) -> Style:
    """A style in a shade's colours, marked as data."""
    ground = Color.parse(back) if back else None
    return Style(color=Color.parse(front), bgcolor=ground, meta={MARK: True})


@lru_cache(maxsize=4096)
def swatch_segments(patch: Patch, cells: int = SWATCH_CELLS, colour: bool = True) -> list[Segment]:
    """A swatch as segments: without colour, the slot's pattern about its letter.

    Several colours share the cells by half blocks, in their order.
    """
    if not colour or not patch.colours:
        sign = pattern_of(patch.letter)
        middle = cells // 2
        text = sign * middle + (patch.letter or sign) + sign * (cells - middle - 1)
        return [Segment(text[:cells], Style(meta={MARK: True}))]
    if len(patch.colours) == 1:
        colour_of = patch.colours[0]
        return [Segment(" " * cells, shade_style(colour_of, colour_of))]
    halves = [patch.colours[i * len(patch.colours) // (cells * 2)] for i in range(cells * 2)]
    return [Segment("▌", shade_style(halves[i * 2], halves[i * 2 + 1])) for i in range(cells)]
