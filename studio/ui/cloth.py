"""The blanket drawn to scale in its own shades, with half blocks, by the line API.

`show` takes a picture made by core; `mark` says which stripe is at hand. Beside the cloth stand the
slot letters and a bar at the stripe at hand on its left, and on its right a line for what is worked
(drawn through) and what is not (dotted), with the row in hand between them. Without colour each
slot is a pattern with its letter.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from studio.core.picture import (
    ClothPicture,
    Point,
    Scale,
    letters_on,
    points,
    scale,
    spans,
    stripe_at,
    worked_to,
)
from studio.ui.columns import cut
from studio.ui.swatch import MARK, pattern_of, shade_style

ROOMY = 26
"""Columns from which on there are blanks between the cloth and its marks."""

WORKED, TO_WORK, IN_HAND = "│", "┊", "◂"
WORKED_LYING, TO_WORK_LYING, IN_HAND_LYING = "─", "╌", "▴"


class Cloth(Widget):
    """A piece to scale; a click on a stripe posts `StripePicked`."""

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {"cloth--hand", "cloth--quiet", "cloth--frame"}

    DEFAULT_CSS = """
    Cloth {
        width: 1fr;
        height: 1fr;
        background: $surface;
        color: $foreground;
        & > .cloth--hand { color: $focus; text-style: bold; }
        & > .cloth--quiet { color: $quiet; }
        & > .cloth--frame { color: $frame; }
    }
    """

    class StripePicked(Message):
        """The maker clicked on a stripe; `index` counts from 0."""

        def __init__(self, cloth: Cloth, index: int) -> None:
            self.cloth = cloth
            self.index = index
            super().__init__()

        @property
        def control(self) -> Cloth:
            """The cloth it came from, for `@on` with a selector."""
            return self.cloth

    def __init__(
        self,
        id: str | None = None,  # noqa: A002 - Textual's own name
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._picture: ClothPicture | None = None
        self._caption = ""
        self._empty = ""
        self._hints: Sequence[str] = ()
        self._hand: int | None = None
        self._styles: dict[str, Style] = {}
        self._fitted: tuple[ClothPicture | None, Size] | None = None
        self._scale = Scale(1, 2)
        self._points: tuple[tuple[Point, ...], ...] = ()
        self._spans: dict[int, tuple[int, int]] = {}
        self._letters: dict[int, tuple[int, str]] = {}
        """By line (or column, where stripes stand), the stripe whose letter stands beside it."""

    # What it shows

    def show(
        self,
        picture: ClothPicture | None,
        caption: str = "",
        hints: Sequence[str] = (),
        empty: str = "",
    ) -> None:
        """Draw this picture; `hints` are tooltips by stripe, `empty` stands where there is none."""
        self._hints = hints
        if (picture, caption, empty) == (self._picture, self._caption, self._empty):
            return
        self._picture, self._caption, self._empty = picture, caption, empty
        self._fitted = None
        self.refresh()

    def mark(self, index: int | None) -> None:
        """Mark the stripe at hand; only its lines are drawn again."""
        if index == self._hand:
            return
        touched = [line for i in (self._hand, index) for line in self._lines_of(i)]
        self._hand = index
        if touched:
            self.refresh(Region(0, min(touched), self.size.width, max(touched) - min(touched) + 1))

    def line_of_stripe(self, index: int) -> int | None:
        """The line of the widget in the middle of a stripe, None where it is not drawn."""
        lines = self._lines_of(index)
        return lines[len(lines) // 2] if lines else None

    def stripe_at(self, x: int, y: int) -> int | None:
        """The stripe under a cell of the widget, None beside the cloth."""
        if self._picture is None:
            return None
        self._fit()
        return stripe_at(self._picture, self._scale, x - self._left, (y - self._top) * 2)

    # Places

    @property
    def _along(self) -> bool:
        return self._picture is not None and self._picture.along

    @property
    def _caption_lines(self) -> int:
        return 1 if self._caption and self.size.height >= 6 else 0

    @property
    def _gutters(self) -> tuple[int, int]:
        """Cells before the cloth (letter and bar) and behind it (the line of what is worked)."""
        if self._along:
            return 0, 0
        return (3, 2) if self.size.width >= ROOMY else (2, 1)

    @property
    def _left(self) -> int:
        """The first column of the cloth: it stands in the middle, gutters and all."""
        before, behind = self._gutters
        spare = self.size.width - self._scale.width - before - behind
        return max(0, spare // 2) + before

    @property
    def _top(self) -> int:
        return 2 if self._along else 0

    def _lines_of(self, index: int | None) -> list[int]:
        """The lines of the widget on which a stripe or its mark is drawn."""
        if self._picture is None or index is None:
            return []
        self._fit()
        place = self._spans.get(index)
        if place is None:
            return []
        if self._along:
            return [0, 1]
        return list(range(place[0] // 2, place[1] // 2 + 1))

    def _fit(self) -> None:
        """Make the points for the size there is now; a no-op where they are there."""
        picture, (width, height) = self._picture, self.size
        if self._fitted == (picture, self.size):
            return
        self._fitted = (picture, self.size)
        self._letters = {}
        if picture is None or width < 1 or height < 1:
            self._scale, self._points, self._spans = Scale(1, 2), (), {}
            return
        lines = height - self._caption_lines - (3 if picture.along else 0)
        columns = width - sum(self._gutters)
        self._scale = scale(picture, columns, lines)
        self._points = points(picture, self._scale)
        self._spans = spans(picture, self._scale)
        for band in picture.bands:
            first, last = self._spans[band.index]
            middle = (first + last) // 2 if picture.along else (first // 2 + last // 2) // 2
            self._letters.setdefault(middle, (band.index, band.letter))

    # The mouse

    async def _on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        index = None if offset is None else self.stripe_at(offset.x, offset.y)
        if index is not None:
            self.post_message(self.StripePicked(self, index))

    def _on_mouse_move(self, event: events.MouseMove) -> None:
        offset = event.get_content_offset(self)
        index = None if offset is None else self.stripe_at(offset.x, offset.y)
        hint = self._hints[index] if index is not None and index < len(self._hints) else ""
        if hint != (self.tooltip or ""):
            self.tooltip = hint or None

    # Drawing

    def render_line(self, y: int) -> Strip:
        """One line: cloth with its gutters, marks above and below it, or the caption."""
        self._fit()
        width, base = self.size.width, self._style("")
        line = y - self._top
        if self._picture is None:
            return self._text_line(self._empty if y == 0 else "", base, width)
        if self._caption_lines and line == self._scale.lines + (1 if self._along else 0):
            return self._text_line(self._caption, base, width)
        if 0 <= line < self._scale.lines:
            segments = self._cloth_line(line, base)
        elif self._along and y < 2:
            segments = self._marks_above(y, base)
        elif self._along and line == self._scale.lines:
            segments = self._worked_below(base)
        else:
            return Strip.blank(width, base)
        return Strip(segments).adjust_cell_length(width, base)

    def _style(self, name: str) -> Style:
        found = self._styles.get(name)
        if found is None:
            base = self._style("") if name else self.rich_style
            part = self.get_component_rich_style(f"cloth--{name}", partial=True) if name else None
            found = self._styles[name] = base + part if part else base
        return found

    def notify_style_update(self) -> None:
        """Forget the styles when the theme changes them."""
        super().notify_style_update()
        self._styles.clear()

    def _text_line(self, text: str, base: Style, width: int) -> Strip:
        if not text:
            return Strip.blank(width, base)
        blank = max(0, (width - cell_len(text)) // 2)
        words = cut(text, min(width, cell_len(text)))
        segments = [Segment(" " * blank, base), Segment(words, self._style("quiet"))]
        return Strip(segments).adjust_cell_length(width, base)

    def _cloth_line(self, line: int, base: Style) -> list[Segment]:
        assert self._picture is not None
        cloth = self._coloured(line, base)
        if self.app.no_color:
            cloth = self._patterned(line, base)
        if self._along:
            return [Segment(" " * self._left, base), *cloth]
        lines = self._lines_of(self._hand)
        hand = line in lines
        index, letter = self._letters.get(line, (-1, ""))
        if self._hand is not None and hand and line == lines[len(lines) // 2]:
            index, letter = self._hand, self._letter_of(self._hand)
        tone = self._style("hand" if index == self._hand else "quiet")
        before, behind = self._gutters
        return [
            Segment(" " * (self._left - before), base),
            Segment(letter.ljust(before - 1), tone),
            Segment("▐" if hand else " ", self._style("hand")),
            *cloth,
            Segment(" " * (behind - 1), base),
            self._worked_mark(line),
        ]

    def _letter_of(self, index: int) -> str:
        assert self._picture is not None
        return next((band.letter for band in self._picture.bands if band.index == index), "")

    def _worked_mark(self, line: int) -> Segment:
        assert self._picture is not None
        if not self._picture.done:
            return Segment(" ", self._style(""))
        _, top, _, height = self._scale.body
        if not top // 2 <= line <= (top + height - 1) // 2:
            return Segment(" ", self._style(""))
        at = worked_to(self._picture, self._scale) // 2
        if line == at and self._picture.done < 1:
            return Segment(IN_HAND, self._style("hand"))
        if line <= at:
            return Segment(WORKED, self._style("quiet"))
        return Segment(TO_WORK, self._style("frame"))

    def _coloured(self, line: int, base: Style) -> list[Segment]:
        """Two rows of points as half blocks."""
        upper = self._points[line * 2]
        has_lower = line * 2 + 1 < len(self._points)
        lower = self._points[line * 2 + 1] if has_lower else (None,) * len(upper)
        segments = []
        for (top, bottom), run in groupby(zip(upper, lower, strict=True)):
            length = sum(1 for _ in run)
            if top is None and bottom is None:
                segments.append(Segment(" " * length, base))
            elif top == bottom and top is not None:
                segments.append(Segment(" " * length, base + shade_style(top, top)))
            elif top is None and bottom is not None:
                segments.append(Segment("▄" * length, base + shade_style(bottom)))
            elif top is not None:
                segments.append(Segment("▀" * length, base + shade_style(top, bottom)))
        return segments

    def _patterned(self, line: int, base: Style) -> list[Segment]:
        """The line without colour: the slot's pattern, begun with the letters that meet here."""
        picture, to = self._picture, self._scale
        assert picture is not None
        left, top, width, height = to.body
        style = base + Style(meta={MARK: True})
        if line * 2 + 1 < top or line * 2 >= top + height:
            edge = (
                picture.fringe
                if line * 2 + 1 < to.fringe or line * 2 >= (to.height - to.fringe)
                else picture.border
            )
            sign = "'" if edge is picture.fringe else pattern_of(edge.letter if edge else "")
            return [Segment(sign * to.width, style)]
        side = pattern_of(picture.border.letter) * left if picture.border else ""
        if not picture.along:
            letters = letters_on(picture, to, line * 2, line * 2 + 1)
            text = "".join(letters)[:width].ljust(width, pattern_of(letters[-1] if letters else ""))
        else:
            text = "".join(self._column_sign(left + x, line) for x in range(width))
        return [Segment(side + text + side, style)]

    def _column_sign(self, x: int, line: int) -> str:
        assert self._picture is not None
        letters = letters_on(self._picture, self._scale, x, x)
        if not letters:
            return " "
        return letters[-1] if line % 4 == 2 else pattern_of(letters[-1])

    # Stripes that stand upright have their marks above and below

    def _marks_above(self, y: int, base: Style) -> list[Segment]:
        """The letters of stripes that stand upright, and under them a bar at the one at hand."""
        first, last = self._spans.get(-1 if self._hand is None else self._hand, (-1, -1))
        segments = [Segment(" " * self._left, base)]
        for x in range(self._scale.width):
            at_hand = first <= x <= last
            _, letter = self._letters.get(x, (0, ""))
            sign = (letter or " ") if y == 0 else "▄" if at_hand else " "
            segments.append(Segment(sign, self._style("hand" if at_hand else "quiet")))
        return segments

    def _worked_below(self, base: Style) -> list[Segment]:
        assert self._picture is not None
        if not self._picture.done:
            return [Segment(" ", base)]
        left, _, width, _ = self._scale.body
        at = worked_to(self._picture, self._scale) - left
        if self._picture.done >= 1:
            at = width
        rest = max(0, width - at - 1)
        return [
            Segment(" " * (self._left + left), base),
            Segment(WORKED_LYING * at, self._style("quiet")),
            Segment(IN_HAND_LYING if at < width else "", self._style("hand")),
            Segment(TO_WORK_LYING * rest, self._style("frame")),
        ]
