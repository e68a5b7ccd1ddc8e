"""The blanket as a picture to scale: bands of shade, border and fringe, as plain values.

A picture knows centimetres and shares; a scale carries it to square points, two of which stand one
above the other in a cell of a terminal. Stripes thinner than a point are mixed by area in linear
light, so that proportions stay true at every size.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from itertools import cycle, islice
from math import ceil, lcm

from studio.core.answers import ProjectPlan
from studio.core.frozen import dataclass
from studio.core.light import mix
from studio.core.model import Direction, Library, Project

Point = str | None
"""The colour of a point, None where there is no cloth."""

FOLD = 2
"""A strand of fringe is folded once and knotted, so half its cut length hangs (common practice,
no source)."""

_RUN = 3
"""Points that a variegated yarn keeps one colour for, along a row."""
_SHIFT = 4
"""Points by which the colours of a variegated yarn move from row to row of points."""


@dataclass(frozen=True, slots=True)
class Band:
    """A stripe's place in the body, as shares from its first row on; no colours where unknown."""

    index: int
    letter: str
    colours: tuple[str, ...]
    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Edge:
    """A border (its width on each side) or a fringe (what hangs at each end), in cm."""

    letter: str
    colours: tuple[str, ...]
    cm: float


@dataclass(frozen=True, slots=True)
class ClothPicture:
    """What is drawn of a piece; its width and length in cm are with the border, without fringe.

    `done` is the share of the body's rows that is worked. `along`: stripes run along the length.
    """

    width_cm: float
    length_cm: float
    bands: tuple[Band, ...]
    along: bool = False
    border: Edge | None = None
    fringe: Edge | None = None
    done: float = 0.0


def picture_of(project: Project, plan: ProjectPlan | None, library: Library) -> ClothPicture:
    """The picture of a piece at its achieved size, or at the asked one where none is computed."""

    def colours(letter: str) -> tuple[str, ...]:
        slot = project.slot(letter)
        shade = library.shade.get(slot.shade_ref) if slot else None
        return shade.colours if shade else ()

    size = plan.size if plan else None
    total = sum(max(0, stripe.rows) for stripe in project.stripes)
    bands, row = [], 0
    for index, stripe in enumerate(project.stripes):
        if stripe.rows > 0:
            start, row = row, row + stripe.rows
            bands.append(Band(index, stripe.slot, colours(stripe.slot), start / total, row / total))
    border, fringe = project.border, project.fringe
    return ClothPicture(
        width_cm=size.width_cm if size else project.width.cm,
        length_cm=size.length_cm if size else project.length.cm,
        bands=tuple(bands),
        along=project.direction is Direction.ALONG,
        border=Edge(border.slot, colours(border.slot), border.width.cm) if border else None,
        fringe=Edge(fringe.slot, colours(fringe.slot), fringe.cut.cm / FOLD) if fringe else None,
        done=min(project.rows_done, total) / total if total else 0.0,
    )


@dataclass(frozen=True, slots=True)
class Scale:
    """A picture's size in points: all of it, and of that its border and fringe on each side."""

    width: int
    height: int
    border: int = 0
    fringe: int = 0

    @property
    def lines(self) -> int:
        """Lines of a terminal: two points each."""
        return (self.height + 1) // 2

    @property
    def body(self) -> tuple[int, int, int, int]:
        """The body within the points: left, top, width and height (at least one point)."""
        top = self.fringe + self.border
        return (
            self.border,
            top,
            max(1, self.width - 2 * self.border),
            max(1, self.height - 2 * top),
        )


def scale(picture: ClothPicture, columns: int, lines: int) -> Scale:
    """The largest true scale at which the picture fits so many columns and lines of a terminal.

    Border and fringe are never thinner than a point while there is room to show them, since they
    are part of the piece; the body then gives way.
    """
    columns, points = max(1, columns), max(1, lines * 2)
    fringe_cm = picture.fringe.cm if picture.fringe else 0.0
    tall_cm = picture.length_cm + 2 * fringe_cm
    if picture.width_cm <= 0 or tall_cm <= 0:
        return Scale(columns, points)
    per_cm = min(columns / picture.width_cm, points / tall_cm)
    width = min(columns, max(1, round(picture.width_cm * per_cm)))
    height = min(points, max(1, round(tall_cm * per_cm)))
    border = _edge(picture.border, per_cm, min(width, height))
    fringe = _edge(picture.fringe, per_cm, height - 2 * border)
    return Scale(width, height, border, fringe)


def _edge(edge: Edge | None, per_cm: float, room: int) -> int:
    """An edge's points: at least one, but it leaves at least two thirds of the room."""
    return min(max(1, round(edge.cm * per_cm)), room // 6) if edge else 0


def _across(picture: ClothPicture, to: Scale) -> tuple[int, int]:
    """Where the bands begin and over how many points they lie, in the direction they follow."""
    left, top, width, height = to.body
    return (left, width) if picture.along else (top, height)


def spans(picture: ClothPicture, to: Scale) -> dict[int, tuple[int, int]]:
    """By stripe, the first and last point it touches, in the direction stripes follow."""
    first, count = _across(picture, to)
    found = {}
    for band in picture.bands:
        start = min(int(band.start * count + 1e-9), count - 1)
        end = max(start + 1, min(count, ceil(band.end * count - 1e-9)))
        found[band.index] = (first + start, first + end - 1)
    return found


def worked_to(picture: ClothPicture, to: Scale) -> int:
    """The point at which the row in hand lies, in the direction stripes follow one another."""
    first, count = _across(picture, to)
    return first + min(int(picture.done * count + 1e-9), count - 1)


def stripe_at(picture: ClothPicture, to: Scale, x: int, y: int) -> int | None:
    """The stripe that has the most of the body at this point, None off the cloth."""
    if not (0 <= x < to.width and 0 <= y < to.height) or not picture.bands:
        return None
    first, count = _across(picture, to)
    at = min(max((x if picture.along else y) - first, 0), count - 1)
    return max(_shares(picture, at, at + 1, count), key=lambda part: part[1])[0].index


def letters_on(picture: ClothPicture, to: Scale, first: int, last: int) -> tuple[str, ...]:
    """The letters of the stripes on these points, in order, each once where alike ones meet."""
    begin, count = _across(picture, to)
    low = min(max(first - begin, 0), count - 1)
    high = min(max(last + 1 - begin, low + 1), count)
    letters: list[str] = []
    for band, _ in _shares(picture, low, high, count):
        if not letters or letters[-1] != band.letter:
            letters.append(band.letter)
    return tuple(letters)


def _shares(picture: ClothPicture, low: int, high: int, count: int) -> list[tuple[Band, float]]:
    """The bands between two points of so many, each with its part of them."""
    start, end = low / count, high / count
    found = []
    at = max(0, bisect_right(picture.bands, start, key=lambda band: band.start) - 1)
    for band in picture.bands[at:]:
        if band.start >= end:
            break
        part = min(end, band.end) - max(start, band.start)
        if part > 1e-9:
            found.append((band, part))
    return found or [(band, 1.0) for band in picture.bands[-1:]]


def points(picture: ClothPicture, to: Scale) -> tuple[tuple[Point, ...], ...]:
    """The picture as rows of points."""
    _, _, width, height = to.body
    if picture.along:
        rows = list(zip(*_bands(picture, width, height), strict=True))
    else:
        rows = list(_bands(picture, height, width))
    if picture.border and to.border:
        rows = _bordered(rows, picture.border, to)
    if picture.fringe and to.fringe:
        hanging = [
            tuple(
                _of(picture.fringe.colours, 0, 0) if x % 2 == 0 else None for x in range(to.width)
            )
        ] * to.fringe
        rows = [*hanging, *rows, *hanging]
    return tuple(rows)


def _of(colours: tuple[str, ...], along: int, across: int) -> Point:
    """A yarn's colour at a point; an unknown shade is drawn as a chequer with holes."""
    if not colours:
        return "#808080" if (along + across) % 2 else None
    if len(colours) == 1:
        return colours[0]
    return colours[(along + across * _SHIFT) // _RUN % len(colours)]


def _bands(picture: ClothPicture, count: int, length: int) -> Iterator[tuple[Point, ...]]:
    """One line of points for each of `count` across the stripes, each `length` points long."""
    if not picture.bands:
        yield from ((None,) * length for _ in range(count))
        return
    for across in range(count):
        parts = _shares(picture, across, across + 1, count)
        if all(len(band.colours) == 1 for band, _ in parts):
            yield (mix((band.colours[0], part) for band, part in parts),) * length
            continue
        # Variegated yarns repeat along the row, so one repeat is mixed and laid end to end.
        repeat = _RUN * lcm(*(max(1, len(band.colours)) for band, _ in parts)) * 2
        first = [_mixed(parts, along, across) for along in range(min(repeat, length))]
        yield tuple(islice(cycle(first), length))


def _mixed(parts: list[tuple[Band, float]], along: int, across: int) -> Point:
    known = [
        (colour, part)
        for band, part in parts
        if (colour := _of(band.colours, along, across)) is not None
    ]
    return mix(known) if known else None


def _bordered(rows: list[tuple[Point, ...]], border: Edge, to: Scale) -> list[tuple[Point, ...]]:
    """The body with its border about it."""

    def run(first: int, count: int, row: int) -> tuple[Point, ...]:
        return tuple(_of(border.colours, x, row) for x in range(first, first + count))

    wide, high = to.border, len(rows)
    about = [
        run(0, wide, wide + y) + row + run(to.width - wide, wide, wide + y)
        for y, row in enumerate(rows)
    ]
    above = [run(0, to.width, y) for y in range(wide)]
    below = [run(0, to.width, wide + high + y) for y in range(wide)]
    return [*above, *about, *below]
