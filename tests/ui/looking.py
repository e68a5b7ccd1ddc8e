"""Looks at a screen as the maker sees it: a grid of cells, and what is wrong with it.

`grid` renders whatever is on the screen now. `layout_faults` finds text cut without a sign,
widgets lying over each other and widgets pushed off the screen; `contrast_faults` finds text that
is hard to read. `golden` compares the text of a screen with a file; with
STRIPEWRIGHT_UPDATE_GOLDEN=1 it writes the file instead (or only those whose names begin so, with
STRIPEWRIGHT_UPDATE_GOLDEN=stash,cost).
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any

from rich.cells import cell_len, get_character_cell_size
from rich.style import Style
from textual._context import visible_screen_stack
from textual.app import App
from textual.content import Content
from textual.geometry import Region
from textual.widget import Widget
from textual.widgets import Input

from studio.core.light import contrast
from studio.ui.columns import CUT
from studio.ui.drawn_list import DrawnList
from studio.ui.swatch import MARK
from studio.ui.themes import COLOURS, StudioTheme, to_textual

__all__ = ["TRACER", "contrast_faults", "golden", "grid", "layout_faults", "to_textual", "worn"]

GOLDEN = Path(__file__).parent / "golden"
UPDATE = "STRIPEWRIGHT_UPDATE_GOLDEN"

TOLD = 12
"""Lines of a difference that are told."""

LEAST_CONTRAST = 4.5
"""WCAG 2.2, success criterion 1.4.3."""

DRAWING = re.compile(r"[\s─-╿▀-▟■-◿⠀-⣿│▏▎▍▌▐]")
"""Lines, blocks and shapes: no text, so no text contrast is asked of them."""


@dataclass(frozen=True)
class Glyph:
    """One cell of the screen."""

    char: str
    front: str
    ground: str
    data: bool = False
    dim: bool = False
    bold: bool = False
    underline: bool = False


Grid = tuple[tuple[Glyph, ...], ...]


def grid(app: App[Any]) -> Grid:
    """The cells on the screen now, each wide letter once and a blank after it."""
    looks: dict[Style | None, _Look] = {}
    drawn: dict[tuple[str, _Look], Glyph] = {}
    rows = []
    # What stands behind a dialog is seen through it.
    visible_screen_stack.set(app._background_screens)
    for strip in app.screen._compositor.render_strips():
        row: list[Glyph] = []
        for segment in strip:
            look = looks.get(segment.style)
            if look is None:
                look = looks[segment.style] = _look(segment.style)
            for char in segment.text:
                glyph = drawn.get((char, look))
                if glyph is None:
                    glyph = drawn[char, look] = Glyph(char, *look)
                row.append(glyph)
                row += [Glyph("", *look[:3])] * (get_character_cell_size(char) - 1)
        rows.append(tuple(row))
    return tuple(rows)


_Look = tuple[str, str, bool, bool, bool, bool]
"""All of a glyph but its letter, in the order of its fields."""


def _look(style: Style | None) -> _Look:
    """How a style paints; a screen has thousands of cells and few styles."""
    if style is None:
        return ("", "", False, False, False, False)
    front, ground = _hex(style.color), _hex(style.bgcolor)
    if style.reverse:
        front, ground = ground, front
    data = bool(style._meta and style.meta.get(MARK))
    return (front, ground, data, *_marks(style))


def _marks(style: Style) -> tuple[bool, bool, bool]:
    """Whether a style is dim, bold, underlined."""
    return bool(style.dim), bool(style.bold), bool(style.underline)


def _hex(colour: Any) -> str:
    if colour is None or colour.triplet is None:
        return ""
    return str(colour.triplet.hex)


def lines(cells: Grid) -> list[str]:
    """The text of the screen, line by line."""
    return ["".join(glyph.char for glyph in row).rstrip() for row in cells]


# Contrast


@dataclass(frozen=True)
class Run:
    """Text of one colour on one ground in one line, and where it begins."""

    line: int
    column: int
    front: str
    ground: str
    text: str
    dim: bool = False


def text_runs(cells: Grid) -> list[Run]:
    """All text on a screen by line and colours; drawings and cells that are data are left out."""
    found: dict[tuple[int, str, str, bool], tuple[int, list[str]]] = {}
    for y, row in enumerate(cells):
        for x, glyph in enumerate(row):
            if glyph.char and glyph.char != " " and not glyph.data:
                if DRAWING.match(glyph.char):
                    continue
                place = (y, glyph.front, glyph.ground, glyph.dim)
                found.setdefault(place, (x, []))[1].append(glyph.char)
    return [
        Run(y, x, front, ground, "".join(text), dim)
        for (y, front, ground, dim), (x, text) in found.items()
    ]


def contrast_faults(cells: Grid | list[Run], theme: StudioTheme | None = None) -> list[str]:
    """Each run of text under the wanted contrast, with its place and colours.

    With a theme, runs drawn in the tracer theme are looked at as that theme would paint them.
    """
    runs = cells if isinstance(cells, list) else text_runs(cells)
    faults = []
    for run in runs:
        front, ground = _worn(run.front, theme), _worn(run.ground, theme)
        ratio = contrast(front, ground) if front and ground else 0.0
        if ratio < LEAST_CONTRAST or run.dim:
            faults.append(
                f"line {run.line + 1} column {run.column + 1}: '{run.text}' is "
                f"{front or 'no colour'} on {ground or 'no colour'}, contrast {ratio:.1f}"
            )
    return faults


# Themes

TRACER = StudioTheme(
    "tracer",
    "Tracer",
    "",
    True,
    {
        name: f"#{index * 16 + 20:02x}{90 - index * 7:02x}f{index:x}"
        for index, name in enumerate(COLOURS)
    },
)
"""A theme in which every colour tells its own name; nobody wears it."""

_NAMED = {colour: name for name, colour in TRACER.colours.items()}


def strange_colours(runs: list[Run]) -> list[str]:
    """Text in a colour that no theme states: mixed or made up, so that no theme vouches for it."""
    return [
        f"'{run.text}' is {_NAMED.get(run.front, run.front)} on "
        f"{_NAMED.get(run.ground, run.ground)}"
        for run in runs
        if run.front not in _NAMED or run.ground not in _NAMED
    ]


def _worn(traced: str, theme: StudioTheme | None) -> str:
    name = _NAMED.get(traced) if theme else None
    return theme.colours[name] if theme and name else traced


def worn(cells: Grid, theme: StudioTheme) -> Grid:
    """A screen drawn in the tracer theme as it looks in another: each colour for its name."""
    return tuple(
        tuple(replace(g, front=_worn(g.front, theme), ground=_worn(g.ground, theme)) for g in row)
        for row in cells
    )


# Layout


def layout_faults(app: App[Any], cells: Grid | None = None) -> list[str]:
    """Text cut without a sign, widgets over one another, widgets off the screen.

    `cells` are those of the screen now, where they have been looked at already.
    """
    cells = cells or grid(app)
    shown = dict(_shown(app))
    faults = [*_overlaps(shown), *_pushed_off(shown)]
    for widget, (region, clip) in shown.items():
        faults += _cut_faults(widget, region.intersection(clip), cells)
    return faults


def _shown(app: App[Any]) -> Iterator[tuple[Widget, tuple[Region, Region]]]:
    for widget, (region, clip) in app.screen._compositor.visible_widgets.items():
        if widget.is_attached and region.area and region.overlaps(clip) and widget.visible:
            yield widget, (region, clip)


def _name(widget: Widget) -> str:
    name = type(widget).__name__
    return f"{name}#{widget.id}" if widget.id else name


def _related(one: Widget, other: Widget) -> bool:
    return one in other.ancestors or other in one.ancestors


def _overlaps(shown: dict[Widget, tuple[Region, Region]]) -> Iterator[str]:
    leaves = [(w, r.intersection(c)) for w, (r, c) in shown.items() if not _scroll_part(w)]
    for (one, a), (other, b) in combinations(leaves, 2):
        same_layer = one.layer == other.layer and one.screen is other.screen
        floats = one.styles.overlay == "screen" or other.styles.overlay == "screen"
        if same_layer and not floats and a.overlaps(b) and not _related(one, other):
            yield f"{_name(one)} {a} and {_name(other)} {b} lie over one another"


def _scroll_part(widget: Widget) -> bool:
    return type(widget).__module__ == "textual.scrollbar"


def _pushed_off(shown: dict[Widget, tuple[Region, Region]]) -> Iterator[str]:
    for widget, (region, clip) in shown.items():
        if clip.contains_region(region) or _scroll_part(widget):
            continue
        if not any(
            isinstance(a, Widget) and (a.show_vertical_scrollbar or a.show_horizontal_scrollbar)
            for a in widget.ancestors
        ):
            yield f"{_name(widget)} {region} reaches out of {clip}, and nothing scrolls"


def _cut_faults(widget: Widget, region: Region, cells: Grid) -> Iterator[str]:
    """What of a widget's words cannot be seen, though no '…' says so."""
    if isinstance(widget, DrawnList):
        yield from _list_faults(widget)
    elif isinstance(widget, Input):
        if not widget.value and cell_len(widget.placeholder) > widget.content_size.width:
            yield f"{_name(widget)}: the placeholder '{widget.placeholder}' is cut"
    elif type(widget).render_line is Widget.render_line:
        words = _words(widget)
        seen = _squeeze("".join(_text_in(region, cells)))
        if words and words not in seen and CUT not in seen and not _scrolled(widget):
            yield f"{_name(widget)} {region}: '{words}' is seen only as '{seen}'"


def _scrolled(widget: Widget) -> bool:
    """Whether only part of it is in view because something about it scrolls."""
    return any(isinstance(a, Widget) and a.show_vertical_scrollbar for a in widget.ancestors)


def _words(widget: Widget) -> str:
    if widget.children:
        return ""
    visual = widget.render()
    if isinstance(visual, (Content, str)):
        plain = visual if isinstance(visual, str) else visual.plain
        return _squeeze(plain)
    plain = getattr(visual, "plain", "")
    return _squeeze(plain) if isinstance(plain, str) else ""


def _squeeze(text: str) -> str:
    """The text without blanks, since wrapping changes those."""
    return re.sub(r"\s+", "", text)


def _text_in(region: Region, cells: Grid) -> Iterator[str]:
    for row in cells[region.y : region.bottom]:
        yield "".join(glyph.char for glyph in row[region.x : region.right])


def _list_faults(widget: DrawnList) -> Iterator[str]:
    """Cells of a list whose text is neither whole nor ended with a sign."""
    for index in range(widget.size.height):
        line = "".join(segment.text for segment in widget.render_line(index))
        row = widget.row_on(index)
        if row is None or not row.selectable:
            continue
        layout = widget.layout_now
        at = 1
        for place in layout.spread(row):
            text = row.cell(place.at).text
            seen = _slice(line, at, place.width)
            at += place.width + layout.gap
            if text.strip() and text.strip() not in seen and CUT not in seen:
                yield f"{_name(widget)} line {index}: '{text}' is seen only as '{seen}'"


def _slice(line: str, start: int, width: int) -> str:
    """The part of a line in these cells."""
    found, at = "", 0
    for char in line:
        if start <= at < start + width:
            found += char
        at += get_character_cell_size(char)
    return found


# Golden texts


def _wants_new(name: str) -> bool:
    """Whether the golden text of this screen is to be written: all with 1, or those named."""
    wanted = os.environ.get(UPDATE, "")
    return wanted == "1" or any(part and name.startswith(part) for part in wanted.split(","))


def golden(name: str, cells: Grid) -> str | None:
    """How the text of a screen differs from its golden file, None where it does not."""
    path = GOLDEN / f"{name}.txt"
    text = "\n".join(lines(cells)) + "\n"
    if _wants_new(name):
        GOLDEN.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return None
    wanted = path.read_text(encoding="utf-8") if path.exists() else ""
    if text == wanted:
        return None
    difference = list(
        difflib.unified_diff(
            wanted.splitlines(), text.splitlines(), "golden", "now", lineterm="", n=0
        )
    )
    told = [*difference[:TOLD], *(["..."] if len(difference) > TOLD else [])]
    return f"{name} looks different ({UPDATE}=1 takes the new look):\n" + "\n".join(told)
