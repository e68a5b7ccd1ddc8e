"""The blanket as flat shapes to scale, in millimetres of paper: what SVG and PDF draw."""

from __future__ import annotations

import re
from collections.abc import Iterator

from studio.core.frozen import dataclass
from studio.core.picture import ClothPicture

_HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")
UNKNOWN = "#c8c8c8"
"""A shade that is not known is drawn in this grey."""

_STRANDS_APART = 2.4
_FLECK = 3.0
"""Millimetres that a variegated yarn keeps one colour for."""


@dataclass(frozen=True, slots=True)
class Rect:
    """A filled rectangle: left, top, width and height in mm, and its colour as #rrggbb."""

    x: float
    y: float
    width: float
    height: float
    colour: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes in the order in which they are drawn, within width and height in mm."""

    width: float
    height: float
    shapes: tuple[Rect, ...]
    outline: Rect


def _colours(found: tuple[str, ...]) -> tuple[str, ...]:
    safe = tuple(c.lower() for c in found if _HEX.match(c))
    return safe or (UNKNOWN,)


def _filled(x: float, y: float, width: float, height: float, colours: tuple[str, ...],
            *, upright: bool) -> Iterator[Rect]:  # fmt: skip
    """A band in its colour; a variegated one in flecks along it, whichever way it runs."""
    known = _colours(colours)
    if len(known) == 1:
        yield Rect(x, y, width, height, known[0])
        return
    long = height if upright else width
    flecks = max(len(known), round(long / _FLECK))
    for at in range(flecks):
        start, end = long * at / flecks, long * (at + 1) / flecks
        colour = known[at % len(known)]
        if upright:
            yield Rect(x, y + start, width, end - start, colour)
        else:
            yield Rect(x + start, y, end - start, height, colour)


def draw(picture: ClothPicture, width_mm: float, height_mm: float) -> Drawing:
    """The picture as large as fits, fringe included, never distorted."""
    fringe_cm = picture.fringe.cm if picture.fringe else 0.0
    wide, tall = max(picture.width_cm, 0.1), max(picture.length_cm + 2 * fringe_cm, 0.1)
    per_cm = min(width_mm / wide, height_mm / tall)
    width, height = wide * per_cm, tall * per_cm
    hang = fringe_cm * per_cm
    cloth = Rect(0, hang, width, height - 2 * hang, UNKNOWN)
    edge = min(picture.border.cm * per_cm if picture.border else 0.0, width / 3, cloth.height / 3)
    shapes: list[Rect] = []
    if picture.border:
        shapes += _filled(0, hang, width, cloth.height, picture.border.colours[:1], upright=False)
    inner = (edge, hang + edge, width - 2 * edge, cloth.height - 2 * edge)
    shapes += _bands(picture, *inner)
    if picture.fringe:
        shapes += _fringe(_colours(picture.fringe.colours), width, height, hang)
    return Drawing(width, height, tuple(shapes), cloth)


def _bands(
    picture: ClothPicture, x: float, y: float, width: float, height: float
) -> Iterator[Rect]:
    if not picture.bands:
        yield Rect(x, y, width, height, UNKNOWN)
    for band in picture.bands:
        share = band.end - band.start
        if picture.along:
            yield from _filled(
                x + width * band.start, y, width * share, height, band.colours, upright=True
            )
        else:
            # The first row is at the top, as on every screen.
            top = y + height * band.start
            yield from _filled(x, top, width, height * share, band.colours, upright=False)


def _fringe(colours: tuple[str, ...], width: float, height: float, hang: float) -> Iterator[Rect]:
    strands = max(2, int(width / _STRANDS_APART))
    for at in range(strands):
        x = (at + 0.5) * width / strands
        colour = colours[at % len(colours)]
        yield Rect(x - 0.3, 0, 0.6, hang, colour)
        yield Rect(x - 0.3, height - hang, 0.6, hang, colour)
