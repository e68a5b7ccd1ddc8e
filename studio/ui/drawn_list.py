"""A list that draws only the lines on the screen, so that thousands of rows cost a screenful.

How it is used:

    rows = DrawnList(Column("shade", share=1), Column("need", unit="g", align=Align.DECIMAL),
                     empty="Nothing here yet. Insert adds the first.")
    rows.set_rows([Row("a", (Cell("Lichen", patch=Patch(("#7a8f6a",), "B")), "84.5"))])
    rows.set_columns(...)         other columns from now on
    rows.go_to("a")               moves the cursor, without a message
    rows.key, rows.row            what the cursor stands on, or None
    rows.start_filter(), rows.filter("lich"), rows.end_filter()

It keeps the cursor with its row's key when rows change, and redraws only lines that differ. It
posts `Moved` when the maker moves the cursor, `Opened` on enter or a double click, and `Filtered`.
The head stays on top; columns that had no room are told of by a sign in the head, and their
figures stand in the detail under the line at hand.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from itertools import chain
from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from studio.ui.columns import (
    Align,
    Cell,
    Column,
    Layout,
    Natural,
    Row,
    Tone,
    changed_natural,
    cut,
    lay_out,
    natural,
    wrap,
)
from studio.ui.painter import Painter
from studio.ui.swatch import Patch

__all__ = ["Align", "Cell", "Column", "DrawnList", "Patch", "Row", "Tone"]


class DrawnList(ScrollView, can_focus=True):
    """A list of rows in columns, with a cursor, a filter and a detail under the line at hand."""

    ALLOW_SELECT = False

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "drawn-list--head",
        "drawn-list--cursor",
        "drawn-list--bar",
        "drawn-list--detail",
        *(f"drawn-list--{tone.value}" for tone in Tone),
    }

    DEFAULT_CSS = """
    DrawnList {
        background: $surface;
        color: $foreground;
        overflow-x: hidden;
        overflow-y: auto;
        scrollbar-size-vertical: 1;
        & > .drawn-list--head { color: $quiet; text-style: underline; }
        & > .drawn-list--normal { color: $foreground; }
        & > .drawn-list--quiet { color: $quiet; }
        & > .drawn-list--heading { color: $quiet; text-style: bold; }
        & > .drawn-list--strong { color: $foreground; text-style: bold; }
        & > .drawn-list--focus { color: $focus; }
        & > .drawn-list--needs-you { color: $needs-you; text-style: bold; }
        & > .drawn-list--caution { color: $needs-you; }
        & > .drawn-list--good { color: $foreground; }
        & > .drawn-list--detail { color: $quiet; }
        & > .drawn-list--bar { color: $frame; }
        &:focus > .drawn-list--bar { color: $focus; }
        & > .drawn-list--cursor { background: $cursor-idle; }
        &:focus > .drawn-list--cursor { background: $cursor; text-style: bold; }
        &:nocolor:focus > .drawn-list--cursor { text-style: reverse; }
    }
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "cursor_up", "up a line", show=False, id="list.up"),
        Binding("down", "cursor_down", "down a line", show=False, id="list.down"),
        Binding("pageup", "page(-1)", "up a page", show=False, id="list.page_up"),
        Binding("pagedown", "page(1)", "down a page", show=False, id="list.page_down"),
        Binding("home", "first", "first line", show=False, id="list.first"),
        Binding("end", "last", "last line", show=False, id="list.last"),
        Binding("enter", "open", "open", show=False, id="list.open"),
        Binding("slash", "filter", "filter", show=False, id="list.filter"),
        Binding("escape", "end_filter", "show all", show=False, id="list.end_filter"),
    ]

    class _Of(Message):
        """A message about one list."""

        def __init__(self, drawn_list: DrawnList, key: Hashable) -> None:
            self.drawn_list = drawn_list
            self.key = key
            super().__init__()

        @property
        def control(self) -> DrawnList:
            """The list it came from, for `@on` with a selector."""
            return self.drawn_list

    class Moved(_Of):
        """The maker moved the cursor to another row."""

        def can_replace(self, message: Message) -> bool:
            """In a burst only the last one counts."""
            return isinstance(message, DrawnList.Moved) and message.control is self.control

    class Opened(_Of):
        """A row was opened by enter or a double click."""

    class Filtered(_Of):
        """The filter changed; `key` is the row now at hand."""

    def __init__(
        self,
        *columns: Column,
        empty: str = "",
        detail_lines: int = 6,
        id: str | None = None,  # noqa: A002 - Textual's own name
        classes: str | None = None,
    ) -> None:
        super().__init__(id=id, classes=classes)
        self._columns: tuple[Column, ...] = columns
        self._rows: tuple[Row, ...] = ()
        self._shown: tuple[Row, ...] = ()
        self._naturals: tuple[Natural, ...] = tuple(natural(c, 0, ()) for c in columns)
        self._layout_now = Layout(0, 1, ())
        self._cursor: int = -1
        self._detail: tuple[Cell, ...] = ()
        self._detail_lines = detail_lines
        self._reserve = 0
        self._empty = empty
        self._filter_text = ""
        self._filtering = False
        self._paint: Painter | None = None
        self._drawn: dict[Hashable, tuple[Row, Strip]] = {}

    # What it shows

    @property
    def rows(self) -> tuple[Row, ...]:
        """All rows, also those the filter hides."""
        return self._rows

    @property
    def shown(self) -> tuple[Row, ...]:
        """The rows the filter lets through."""
        return self._shown

    @property
    def row(self) -> Row | None:
        """The row at hand."""
        return self._shown[self._cursor] if 0 <= self._cursor < len(self._shown) else None

    @property
    def key(self) -> Hashable:
        """The key of the row at hand, None where there is none."""
        row = self.row
        return None if row is None else row.key

    @property
    def layout_now(self) -> Layout:
        """How the columns share the width now."""
        return self._layout_now

    def row_on(self, y: int) -> Row | None:
        """The row drawn on this line of the widget; None for heads and detail lines."""
        line = y - self._head_lines
        index, detail = self._place_of(line + round(self.scroll_y)) if line >= 0 else (-1, -1)
        return self._shown[index] if index >= 0 and detail < 0 else None

    @property
    def filter_text(self) -> str:
        """The filter in force, empty where all rows are shown."""
        return self._filter_text

    @property
    def filtering(self) -> bool:
        """Whether typed letters go to the filter now."""
        return self._filtering

    def set_columns(self, *columns: Column) -> None:
        """Show other columns from now on; a no-op where they are the same."""
        if columns == self._columns:
            return
        self._columns = columns
        self._naturals = tuple(natural(c, i, self._rows) for i, c in enumerate(columns))
        self._arrange(force=True)

    def set_empty(self, text: str) -> None:
        """Say something else where there are no rows."""
        if text != self._empty:
            self._empty = text
            self.refresh()

    def set_rows(self, rows: Iterable[Row], key: Hashable = None) -> None:
        """Show these rows; the cursor stays with its key, or goes to `key` where one is given.

        Where the row at hand is gone the cursor stays at its height. No message is posted.
        """
        before, self._rows = self._rows, tuple(rows)
        wanted = self.key if key is None else key
        self._measure(before)
        self._show(self._matching(), wanted)

    def go_to(self, key: Hashable) -> bool:
        """Put the cursor on the row with this key, without a message; whether it is there."""
        for index, row in enumerate(self._shown):
            if row.key == key:
                self._put_cursor(index)
                return True
        return False

    def row_text(self, row: Row | None = None) -> str:
        """A row (or the one at hand) as plain text, for copying."""
        row = row or self.row
        if row is None:
            return ""
        texts = [row.cell(i).text for i in range(len(self._columns))]
        return "  ".join(text for text in texts if text)

    # The filter

    def filter(self, text: str) -> None:
        """Show only rows in which every word of the text occurs; empty shows all."""
        if text == self._filter_text:
            return
        self._filter_text = text
        self._show(self._matching(), self.key)
        self.refresh()
        self.post_message(self.Filtered(self, self.key))

    def start_filter(self) -> None:
        """Let typed letters narrow the list; enter keeps the filter, escape drops it."""
        self._filtering = True
        self._resize()
        self.refresh()

    def end_filter(self) -> None:
        """Drop the filter and show all rows."""
        self._filtering = False
        self.filter("")
        self._resize()
        self.refresh()

    def _matching(self) -> tuple[Row, ...]:
        wanted = self._filter_text.casefold().split()
        if not wanted:
            return self._rows
        found = [row for row in self._rows if row.selectable and not row.stays and row.has(wanted)]
        # What is found by words that are not seen comes after what is found by those that are.
        found.sort(key=lambda row: not row.has(wanted, shown=True))
        return (*found, *(row for row in self._rows if row.stays))

    def check_consume_key(self, key: str, character: str | None) -> bool:  # noqa: ARG002
        """While filtering, printable keys are the filter's."""
        return self._filtering and character is not None and character.isprintable()

    async def _on_key(self, event: events.Key) -> None:
        if not self._filtering:
            return
        if event.key == "escape":
            self.end_filter()
        elif event.key == "enter":
            self._filtering = False
            self._resize()
            self.refresh()
        elif event.key == "backspace":
            self.filter(self._filter_text[:-1])
        elif event.is_printable and event.character:
            self.filter(self._filter_text + event.character)
        else:
            return
        event.stop()
        event.prevent_default()

    # Change

    def _show(self, shown: tuple[Row, ...], wanted: Hashable) -> None:
        """Take these rows as the shown ones and redraw what differs."""
        before, self._shown = self._shown, shown
        had = self._cursor
        self._cursor = self._index_of(wanted)
        old_detail, self._detail = self._detail, self._details()
        if self._arrange():
            return
        first = self._first_difference(before, shown)
        if had != self._cursor or old_detail != self._detail:
            places = [i for i in (had, self._cursor) if i >= 0]
            if len(old_detail) == len(self._detail) == 0:
                self._refresh_rows(places)
            elif places:
                first = min([first, *places])
        if first < max(len(before), len(shown)):
            self._refresh_from(first)
        self._keep_in_view()

    def _first_difference(self, before: tuple[Row, ...], shown: tuple[Row, ...]) -> int:
        """Refresh single changed rows where only rows changed; else say from where all differ."""
        changed = [
            i for i, (a, b) in enumerate(zip(before, shown, strict=False)) if a is not b and a != b
        ]
        if len(before) != len(shown):
            return min([*changed, len(before), len(shown)])
        self._refresh_rows(changed)
        return len(shown)

    def _index_of(self, key: Hashable) -> int:
        """The place of a key, else the selectable row nearest to where the cursor was."""
        if key is not None:
            for index, row in enumerate(self._shown):
                if row.key == key and row.selectable:
                    return index
        at = min(max(self._cursor, 0), len(self._shown) - 1)
        for index in chain(range(max(at, 0), len(self._shown)), range(at - 1, -1, -1)):
            if self._shown[index].selectable:
                return index
        return -1

    def _measure(self, before: Sequence[Row]) -> None:
        """Take the room the columns need, from the changed rows alone where that is enough."""
        now = self._rows
        if len(before) != len(now) or len(self._naturals) != len(self._columns):
            self._naturals = tuple(natural(c, i, now) for i, c in enumerate(self._columns))
            return
        pairs = [(a, b) for a, b in zip(before, now, strict=True) if a is not b and a != b]
        gone, new = [a for a, _ in pairs], [b for _, b in pairs]
        naturals = []
        for i, (column, known) in enumerate(zip(self._columns, self._naturals, strict=True)):
            found = changed_natural(column, i, known, gone, new) if pairs else known
            naturals.append(natural(column, i, now) if found is None else found)
        self._naturals = tuple(naturals)

    def _arrange(self, force: bool = False) -> bool:
        """Share the width anew; True where that redraws everything."""
        layout = lay_out(self._columns, self._naturals, self._width)
        if not force and layout == self._layout_now:
            self._resize()
            return False
        self._layout_now = layout
        self._drawn.clear()
        self._detail = self._details()
        self._reserve = 0
        self._resize()
        self.refresh()
        self._keep_in_view()
        return True

    def _resize(self) -> None:
        """Tell the scroll bar how tall all of it is.

        Room for the tallest detail seen so far stays kept, since every change of the height lays
        the whole screen out anew, and a cursor that moves must not.
        """
        self._reserve = max(self._reserve, len(self._detail))
        lines = len(self._shown) + self._reserve + self._head_lines
        if self.virtual_size.height != lines:
            self.virtual_size = Size(self._width, lines)

    @property
    def _head_lines(self) -> int:
        return 2 if self._filtering or self._filter_text else 1

    def _details(self) -> tuple[Cell, ...]:
        """The lines under the row at hand: what was dropped for room, then its own detail.

        What a column already says whole is not said again.
        """
        row = self.row
        width = self._width - 4
        if row is None or width < 8:
            return ()
        lines: list[Cell] = []
        hidden = [
            f"{self._columns[i].title} {row.cell(i).text} {self._columns[i].unit}".strip()
            for i in self._layout_now.dropped
            if row.cell(i).text
        ]
        texts = [Cell(", ".join(hidden))] if hidden else []
        own = (Cell(d) if isinstance(d, str) else d for d in row.detail)
        said = {
            row.cell(p.at).text for p in self._layout_now.spread(row) if p.holds(row.cell(p.at))
        }
        texts += [cell for cell in own if cell.text not in said]
        for cell in texts:
            lines += [Cell(line, cell.tone) for line in wrap(cell.text, width)]
        most = max(1, min(self._detail_lines, self.size.height - self._head_lines - 1))
        if len(lines) > most:
            last = lines[most - 1]
            lines = [*lines[: most - 1], Cell(cut(last.text + " " * width, width), last.tone)]
        return tuple(lines)

    # The cursor

    def _put_cursor(self, index: int, tell: bool = False) -> None:
        if index == self._cursor or not 0 <= index < len(self._shown):
            return
        had, old_detail = self._cursor, self._detail
        self._cursor = index
        self._detail = self._details()
        self._resize()
        if old_detail or self._detail:
            self._refresh_from(min(had, index) if had >= 0 else index)
        else:
            self._refresh_rows((had, index))
        self._keep_in_view()
        if tell:
            self.post_message(self.Moved(self, self.key))

    def _step(self, start: int, by: int) -> None:
        """Go to the nearest selectable row from `start` on in this direction, else the other."""
        count = len(self._shown)
        if not count:
            return
        start = min(max(start, 0), count - 1)
        ahead = range(start, count) if by > 0 else range(start, -1, -1)
        back = range(start, -1, -1) if by > 0 else range(start, count)
        for index in chain(ahead, back):
            if self._shown[index].selectable:
                self._put_cursor(index, tell=True)
                return

    def action_cursor_up(self) -> None:
        """Up a line."""
        self._step(self._cursor - 1, -1)

    def action_cursor_down(self) -> None:
        """Down a line."""
        self._step(self._cursor + 1, 1)

    def action_page(self, pages: int) -> None:
        """Up or down by what is seen at once."""
        page = max(1, self.size.height - self._head_lines - 1)
        self._step(self._cursor + pages * page, pages)

    def action_first(self) -> None:
        """To the first row."""
        self._step(0, 1)

    def action_last(self) -> None:
        """To the last row."""
        self._step(len(self._shown) - 1, -1)

    def action_open(self) -> None:
        """Open the row at hand."""
        if self.row is not None:
            self.post_message(self.Opened(self, self.key))

    def action_filter(self) -> None:
        """Begin to filter."""
        self.start_filter()

    def action_end_filter(self) -> None:
        """Show all rows again."""
        self.end_filter()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002
        """Escape is the list's only while something is filtered."""
        if action == "end_filter":
            return bool(self._filtering or self._filter_text)
        return True

    def _keep_in_view(self) -> None:
        """Scroll so that the row at hand and, where it can be, all its detail are seen."""
        if self._cursor < 0 or not self.size.height:
            return
        room = max(1, self.size.height - self._head_lines)
        top = round(self.scroll_y)
        last = self._cursor + len(self._detail)
        first = self._cursor
        while first > 0 and not self._shown[first - 1].selectable:
            first -= 1
        if first < top:
            top = first
        elif last >= top + room:
            top = min(self._cursor, last - room + 1)
        if top != round(self.scroll_y):
            self.scroll_to(y=top, animate=False)

    # The mouse and the size

    def _row_at(self, y: int) -> int:
        """The row drawn at this line of the widget, -1 where there is none."""
        line = y - self._head_lines
        if line < 0:
            return -1
        index, detail = self._place_of(line + round(self.scroll_y))
        return index if detail < 0 else self._cursor

    def _place_of(self, line: int) -> tuple[int, int]:
        """The row and, or -1, the line of its detail that a line of the whole list is."""
        tall = len(self._detail)
        if self._cursor >= 0 and line > self._cursor:
            if line <= self._cursor + tall:
                return self._cursor, line - self._cursor - 1
            line -= tall
        return (line, -1) if line < len(self._shown) else (-1, -1)

    async def _on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        index = -1 if offset is None else self._row_at(offset.y)
        if index < 0 or not self._shown[index].selectable:
            return
        self._put_cursor(index, tell=True)
        if event.chain == 2:
            self.action_open()

    def _on_mouse_move(self, event: events.MouseMove) -> None:
        offset = event.get_content_offset(self)
        index = -1 if offset is None else self._row_at(offset.y)
        hint = self._shown[index].hint if index >= 0 else ""
        if hint != (self.tooltip or ""):
            self.tooltip = hint or None

    @property
    def _width(self) -> int:
        """The cells a line has, without the scroll bar."""
        bar = self.styles.scrollbar_size_vertical if self.show_vertical_scrollbar else 0
        return max(0, self.size.width - bar)

    def watch_show_vertical_scrollbar(self) -> None:
        """Share the width anew when the scroll bar comes or goes."""
        self._arrange()

    def _on_resize(self, event: events.Resize) -> None:  # noqa: ARG002
        self._detail = self._details()
        self._arrange(force=True)

    def notify_style_update(self) -> None:
        """Forget drawn lines when the theme or the focus changes the styles."""
        super().notify_style_update()
        self._drawn.clear()
        self._paint = None

    def _refresh_rows(self, indices: Iterable[int]) -> None:
        """Redraw single rows; hundreds may have changed where a few are seen."""
        width, height = self.size
        top, detail = self._head_lines - round(self.scroll_y), len(self._detail)
        for index in indices:
            y = top + index + (detail if 0 <= self._cursor < index else 0)
            if index >= 0 and self._head_lines <= y < height:
                self.refresh(Region(0, y, width, 1))

    def _refresh_from(self, index: int) -> None:
        """Redraw everything from this row downward."""
        y = max(self._head_lines, index - round(self.scroll_y) + self._head_lines)
        if y < self.size.height:
            self.refresh(Region(0, y, self.size.width, self.size.height - y))

    # Drawing

    def render_line(self, y: int) -> Strip:
        """One line of the widget, with room for the scroll bar where there is one."""
        return self._line(y).adjust_cell_length(self.size.width, self.rich_style)

    def _line(self, y: int) -> Strip:
        """The head, the filter, a row or a line of the detail."""
        paint = self._painter()
        if y == 0:
            return paint.head(self._layout_now)
        line = y - self._head_lines
        if line < 0:
            total = sum(1 for row in self._rows if row.selectable)
            count = len(self._shown) if self._filter_text else total
            return paint.filter(self._filter_text, self._filtering, f"{count} of {total}")
        if not self._shown:
            wanted = self._filter_text
            return paint.empty(f"Nothing matches “{wanted}”." if wanted else self._empty, line)
        index, detail = self._place_of(line + round(self.scroll_y))
        if index < 0:
            return paint.blank()
        if detail >= 0:
            return paint.detail(self._detail[detail])
        row = self._shown[index]
        if index == self._cursor:
            return paint.row(row, self._layout_now, at_hand=True)
        drawn = self._drawn.get(row.key)
        if drawn is None or drawn[0] is not row:
            drawn = (row, paint.row(row, self._layout_now))
            self._drawn[row.key] = drawn
        return drawn[1]

    def _painter(self) -> Painter:
        """What draws in the styles there are now; made anew when they change."""
        if self._paint is None or self._paint.width != self._width:
            styles = {
                name.removeprefix("drawn-list--"): self.get_component_rich_style(name, partial=True)
                for name in self.COMPONENT_CLASSES
            }
            self._paint = Painter(
                self._width, self.rich_style, styles, colour=not self.app.no_color
            )
        return self._paint
