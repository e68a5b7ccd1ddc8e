"""How the lines of a drawn list are painted, in styles that are given: strips and nothing else."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from studio.ui.columns import CUT, Align, Cell, Layout, Place, Row, cut, wrap
from studio.ui.swatch import SWATCH_CELLS, swatch_segments

BAR = "▌"
"""Stands before the line at hand, so that it is not told by its ground alone."""

_STILL = Style(bold=False, reverse=False)


@dataclass(frozen=True)
class Painter:
    """Draws lines of so many cells in the list's component styles, by their short names."""

    width: int
    base: Style
    styles: Mapping[str, Style]
    colour: bool = True

    def blank(self) -> Strip:
        """A line with nothing on it."""
        return Strip.blank(self.width, self.base)

    def row(self, row: Row, layout: Layout, at_hand: bool = False) -> Strip:
        """A row in its columns; the one at hand has a bar and its own ground."""
        over = self.styles["cursor"] if at_hand else Style.null()
        ground = self.base + over
        bar = Segment(BAR, ground + self.styles["bar"]) if at_hand else Segment(" ", ground)
        if not row.selectable and row.cells:
            text = cut(row.cell(0).text, max(0, self.width - 2))
            segments = [bar, Segment(text, self.base + self.styles["heading"])]
        else:
            segments = [bar]
            for place in layout.spread(row):
                if len(segments) > 1:
                    segments.append(Segment(" " * layout.gap, ground))
                segments += self._cell(row, place, over)
        return Strip(segments).adjust_cell_length(self.width, ground)

    def _cell(self, row: Row, place: Place, over: Style) -> Sequence[Segment]:
        cell = row.cell(place.at)
        style = self.base + self.styles[(cell.tone or row.tone).value] + over
        if cell.patch is None:
            return [Segment(place.set(cell.text), style)]
        ground = self.base + over
        swatch = swatch_segments(cell.patch, min(SWATCH_CELLS, place.width), self.colour)
        parts = [Segment(s.text, ground + (s.style or Style.null())) for s in swatch]
        room = place.width - SWATCH_CELLS - 1
        if room >= 0:
            parts += [Segment(" ", ground), Segment(place.set(cell.text, room), style)]
        return parts

    def head(self, layout: Layout) -> Strip:
        """The titles of the columns shown, and a sign where others had no room."""
        style = self.base + self.styles["head"]
        heads = []
        for place in layout.places:
            head = place.column.head
            if place.column.align is not Align.LEFT:
                head = head.rjust(place.width)
            heads.append(cut(head, place.width))
        text = cut(" " + (" " * layout.gap).join(heads), self.width)
        if layout.dropped and self.width > 2:
            text = cut(text[: self.width - 1].rstrip(), self.width - 1) + CUT
        return Strip([Segment(text, style)]).adjust_cell_length(self.width, style)

    def filter(self, text: str, typing: bool, count: str) -> Strip:
        """What is filtered by, with a caret while it is typed, and how many rows are left."""
        style = self.base + self.styles["focus"]
        right = f" {count} "
        caret = "▏" if typing else ""
        left = cut(f" filter: {text}{caret}", max(0, self.width - len(right)))
        segments = [Segment(left, style), Segment(right, self.base + self.styles["quiet"])]
        return Strip(segments).adjust_cell_length(self.width, style)

    def empty(self, text: str, line: int) -> Strip:
        """A line of what is said where there are no rows."""
        lines = wrap(text, max(8, self.width - 2))
        if line >= len(lines):
            return self.blank()
        style = self.base + self.styles["quiet"]
        return Strip([Segment(cut(" " + lines[line], self.width), style)])

    def detail(self, cell: Cell) -> Strip:
        """A line under the row at hand, on the same ground."""
        over = self.styles["cursor"] + _STILL
        tone = self.styles["detail" if cell.tone is None else cell.tone.value]
        segments = [
            Segment(BAR, self.base + over + self.styles["bar"]),
            Segment(cut("   " + cell.text, max(0, self.width - 1)), self.base + tone + over),
        ]
        return Strip(segments).adjust_cell_length(self.width, self.base + over)
