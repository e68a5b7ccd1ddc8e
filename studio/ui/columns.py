"""What a drawn list is made of, and how its columns share a width: plain values, pure functions."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from enum import StrEnum
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size

from studio.core.clean import no_turns
from studio.core.frozen import dataclass
from studio.ui.swatch import SWATCH_CELLS, Patch

CUT = "…"
"""The sign of every cut text."""


class Tone(StrEnum):
    """How loudly a text is said; each is a component class of the list, coloured by the theme."""

    NORMAL = "normal"
    QUIET = "quiet"
    HEADING = "heading"
    STRONG = "strong"
    FOCUS = "focus"
    NEEDS_YOU = "needs-you"
    CAUTION = "caution"
    GOOD = "good"


class Align(StrEnum):
    """How a column stands; `decimal` sets figures one under another by their decimal point."""

    LEFT = "left"
    RIGHT = "right"
    DECIMAL = "decimal"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its title and unit (said once, in the head), its width, and when it may be dropped.

    Give `width` in cells, or `share` of what the others leave (never under `least`), or neither,
    and it is as wide as its widest cell, up to `most`. Where the list is too narrow the column
    with the highest `drop` goes first; one with 0 always stays.
    """

    title: str
    width: int = 0
    share: int = 0
    least: int = 6
    most: int = 0
    align: Align = Align.LEFT
    unit: str = ""
    drop: int = 0

    @property
    def head(self) -> str:
        """The text of its head."""
        return f"{self.title} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Cell:
    """A text with its tone (None takes the row's), and a swatch before it where it is a shade."""

    text: str = ""
    tone: Tone | None = None
    patch: Patch | None = None

    @property
    def cells(self) -> int:
        """The width it would like."""
        swatch = SWATCH_CELLS + 1 if self.patch else 0
        return cell_len(self.text) + swatch

    @property
    def is_empty(self) -> bool:
        """Whether nothing is seen of it."""
        return not self.text and self.patch is None


@dataclass(frozen=True, slots=True)
class Row:
    """A line of a list. `key` must be its own and lasting: the cursor stays with it.

    `detail` opens in full under the line at hand; `hint` is the mouse's tooltip; `words` are found
    by the filter though they are not shown. A heading is passed over by the cursor. A row that
    `stays` is kept below what a filter finds, for what is not in the list yet.
    """

    key: Hashable
    cells: tuple[Cell | str, ...]
    tone: Tone = Tone.NORMAL
    detail: tuple[Cell | str, ...] = ()
    hint: str = ""
    words: str = ""
    stays: bool = False

    @property
    def selectable(self) -> bool:
        """Whether the cursor may stand on it."""
        return self.tone is not Tone.HEADING

    def cell(self, index: int) -> Cell:
        """The cell of a column, empty where the row has fewer."""
        if index >= len(self.cells):
            return Cell()
        cell = self.cells[index]
        return Cell(cell) if isinstance(cell, str) else cell

    def has(self, wanted: Sequence[str], *, shown: bool = False) -> bool:
        """Whether every one of these case-folded words occurs in it, or in what is shown of it."""
        if not wanted:
            return True
        texts = [cell if isinstance(cell, str) else cell.text for cell in self.cells]
        text = " ".join((*texts, *(() if shown else (self.words,)))).casefold()
        return all(word in text for word in wanted)


def split_figure(text: str) -> tuple[str, str]:
    """A figure's part before its decimal point and the rest; a text without digits is all before.

    A unit or a mark after a whole number goes with the fraction, so that units digits line up.
    """
    whole, point, rest = text.partition(".")
    if point:
        return whole, point + rest
    last = max((i for i, c in enumerate(text) if c.isdigit()), default=len(text) - 1)
    return text[: last + 1], text[last + 1 :]


def cut(text: str, width: int) -> str:
    """The text in exactly this many cells: padded, or cut and ended with '…'."""
    text = no_turns(text)
    length = cell_len(text)
    if length <= width:
        return text + " " * (width - length)
    if width < 1:
        return ""
    head = set_cell_size(text, width - 1).rstrip()
    return head + CUT + " " * (width - 1 - cell_len(head))


def wrap(text: str, width: int) -> list[str]:
    """The text in lines of at most this many cells, broken between words where it can be."""
    lines: list[str] = []
    line = ""
    for word in no_turns(text).split():
        if line and cell_len(line) + 1 + cell_len(word) <= width:
            line = f"{line} {word}"
            continue
        if line:
            lines.append(line)
        line = word
        while cell_len(line) > width > 0:
            head = set_cell_size(line, width).rstrip()
            lines.append(head)
            line = line[len(head) :]
    return [*lines, line] if line or not lines else lines


class Natural(NamedTuple):
    """What the rows of one column need: cells, or those before and after the decimal point."""

    cells: int = 0
    before: int = 0
    after: int = 0

    @property
    def width(self) -> int:
        """All of it, in cells."""
        return max(self.cells, self.before + self.after)


def natural(column: Column, index: int, rows: Iterable[Row]) -> Natural:
    """The room a column's cells need; columns of a given width or share are not looked at."""
    if column.align is Align.DECIMAL:
        before = after = 0
        for row in rows:
            if not row.selectable:
                continue
            parts = split_figure(row.cell(index).text)
            before = max(before, cell_len(parts[0]))
            after = max(after, cell_len(parts[1]))
        return Natural(cell_len(column.head), before, after)
    if column.width or column.share:
        return Natural()
    widest = max((row.cell(index).cells for row in rows if row.selectable), default=0)
    widest = max(widest, cell_len(column.head))
    return Natural(min(widest, column.most) if column.most else widest)


def changed_natural(
    column: Column, index: int, known: Natural, gone: Sequence[Row], new: Sequence[Row]
) -> Natural | None:
    """The room a column needs after some rows changed, or None where all must be looked at.

    It is known at once unless a row that held the column open got narrower.
    """
    old, now = natural(column, index, gone), natural(column, index, new)
    parts = []
    for was, lost, has in zip(known, old, now, strict=True):
        if has >= was:
            parts.append(has)
        elif lost < was:
            parts.append(was)
        else:
            return None
    return Natural(*parts)


class Place(NamedTuple):
    """A column that is shown, and its width in cells."""

    at: int
    column: Column
    width: int
    natural: Natural

    def holds(self, cell: Cell) -> bool:
        """Whether all of a cell is seen."""
        return cell.cells <= self.width

    def set(self, text: str, width: int | None = None) -> str:
        """The text as it stands in this column (or in what a swatch leaves of it)."""
        room = self.width if width is None else width
        if self.column.align is Align.DECIMAL:
            before, after = split_figure(text)
            pad = self.natural.before - cell_len(before)
            figure = " " * max(0, pad) + before + after
            figure += " " * max(0, self.natural.after - cell_len(after))
            text = " " * max(0, room - cell_len(figure)) + figure
        elif self.column.align is Align.RIGHT:
            text = " " * max(0, room - cell_len(text)) + text
        return cut(text, room)


@dataclass(frozen=True, slots=True)
class Layout:
    """The columns that are shown in a width, the gap between them, and those dropped for room."""

    width: int
    gap: int
    places: tuple[Place, ...]
    dropped: tuple[int, ...] = ()

    def spread(self, row: Row) -> Iterator[Place]:
        """The places of a row's cells: a text too long for its own takes the empty ones after."""
        at = 0
        while at < len(self.places):
            place = self.places[at]
            at += 1
            long = place.column.align is Align.LEFT
            while long and at < len(self.places) and not place.holds(row.cell(place.at)):
                after = self.places[at]
                if not row.cell(after.at).is_empty:
                    break
                place = place._replace(width=place.width + self.gap + after.width)
                at += 1
            yield place


def lay_out(columns: Sequence[Column], naturals: Sequence[Natural], width: int) -> Layout:
    """Share a width among columns: wide gaps first, then narrow ones, then without the first to go.

    Where even the columns that always stay do not fit, the widest of them are made narrower, and
    what does not fit is cut with a sign.
    """
    order = sorted(
        (i for i, c in enumerate(columns) if c.drop), key=lambda i: (-columns[i].drop, -i)
    )
    inner = max(0, width - 2)
    for gone in range(len(order) + 1):
        dropped = frozenset(order[:gone])
        kept = [i for i in range(len(columns)) if i not in dropped]
        for gap in (2, 1):
            widths = _widths(columns, naturals, kept, inner - gap * (len(kept) - 1))
            if widths is not None:
                return _layout(columns, naturals, kept, widths, width, gap, dropped)
    widths = _squeeze(columns, naturals, kept, inner - (len(kept) - 1))
    return _layout(columns, naturals, kept, widths, width, 1, dropped)


def _layout(
    columns: Sequence[Column],
    naturals: Sequence[Natural],
    kept: Sequence[int],
    widths: Sequence[int],
    width: int,
    gap: int,
    dropped: frozenset[int],
) -> Layout:
    places = tuple(
        Place(i, columns[i], w, naturals[i]) for i, w in zip(kept, widths, strict=True) if w > 0
    )
    return Layout(width, gap, places, tuple(sorted(dropped)))


def _least(column: Column, wanted: Natural) -> int:
    """The narrowest width at which a column is still worth showing."""
    return column.least if column.share else column.width or wanted.width


def _widths(
    columns: Sequence[Column], naturals: Sequence[Natural], kept: Sequence[int], room: int
) -> list[int] | None:
    """The widths of these columns in so many cells, or None where they do not fit."""
    widths = [_least(columns[i], naturals[i]) for i in kept]
    spare = room - sum(widths)
    if spare < 0:
        return None
    shares = sum(columns[i].share for i in kept)
    for at, i in enumerate(kept):
        if not columns[i].share:
            continue
        taken = spare * columns[i].share // shares
        if columns[i].most:
            taken = min(taken, max(0, columns[i].most - widths[at]))
        widths[at] += taken
        spare -= taken
        shares -= columns[i].share
    return widths


def _squeeze(
    columns: Sequence[Column], naturals: Sequence[Natural], kept: Sequence[int], room: int
) -> list[int]:
    """Widths for too little room: the widest gives a cell until all fit."""
    widths = [_least(columns[i], naturals[i]) for i in kept]
    while sum(widths) > max(0, room) and any(widths):
        widths[widths.index(max(widths))] -= 1
    return widths
