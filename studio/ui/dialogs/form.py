"""A form: a few fields, each told at once in a sentence what is wrong with it.

Escape keeps what was typed: the same form opened again has it still.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from textwrap import wrap
from typing import ClassVar

from rich.cells import cell_len
from rich.segment import Segment
from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Input, Static

from studio.core.frozen import dataclass
from studio.ui.columns import CUT
from studio.ui.dialogs.base import Sheet
from studio.ui.dialogs.entries import Check, any_text
from studio.ui.swatch import Patch, swatch_segments

Values = Mapping[str, object]

SHEET_WIDTH, SHEET_SIDES = 76, 6
"""Cells of a sheet as base.tcss has it, and what of them its frame and padding take."""

SHEET_LINES = 11
"""Lines of a form beside its note and fields: frame, padding, title, told line, keys, gaps."""


@dataclass(frozen=True, slots=True)
class Field:
    """One entry of a form: what it is called, what stands in it, how it is checked.

    With `options` (value and words) it is chosen by left and right instead of typed. `hint` says
    what may be entered. A `shade` shows the colours that its check gives beside it.
    """

    key: str
    label: str
    value: str = ""
    check: Check = any_text
    hint: str = ""
    options: tuple[tuple[str, str], ...] = ()
    shade: bool = False


class Entry(Input):
    """A line to type in that says by '…' where its text goes on beyond its edge."""

    def render_line(self, y: int) -> Strip:
        """The line, its last cell a sign where there is more."""
        strip = super().render_line(y)
        width = self.content_size.width
        hidden = cell_len(self.value or self.placeholder) - width - round(self.scroll_x)
        full = 1 if self.has_focus or not self.value else 0
        if y or hidden < full or width < 2:
            return strip
        last = strip.crop(width - 1, width)
        style = next((s.style for s in last if s.style), None)
        return Strip.join([strip.crop(0, width - 1), Strip([Segment(CUT, style)])])


class Pick(Static, can_focus=True):
    """A field with a few choices: left and right, or a click, go through them."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "step(-1)", "choice before", show=False, id="pick.before"),
        Binding("right,space", "step(1)", "next choice", show=False, id="pick.next"),
        Binding("enter", "screen.keep", "keep", show=False, id="pick.keep"),
    ]

    class Picked(Message):
        """Another choice was taken."""

    def __init__(self, field: Field, value: str) -> None:
        super().__init__(id=f"field-{field.key}", classes="field-entry")
        self._options = field.options
        values = [option for option, _ in field.options]
        self._at = values.index(value) if value in values else 0

    @property
    def value(self) -> str:
        """The choice taken."""
        return self._options[self._at][0]

    def render(self) -> Content:
        """The choice between signs that say it can be changed."""
        words = self._options[self._at][1]
        sign = "bold $focus" if self.has_focus else "$quiet"
        return Content.assemble(("‹ ", sign), words, (" ›", sign))

    def action_step(self, by: int) -> None:
        """The next choice, or the one before."""
        self._at = (self._at + by) % len(self._options)
        self.refresh()
        self.post_message(self.Picked())

    def on_click(self) -> None:
        """The next choice."""
        self.focus()
        self.action_step(1)


class ShadePatch(Widget):
    """The colours that were typed, as they will look; empty where there are none yet."""

    DEFAULT_CSS = "ShadePatch { width: 6; height: 1; margin-left: 1; }"

    def __init__(self, key: str) -> None:
        super().__init__(id=f"patch-{key}")
        self._colours: tuple[str, ...] = ()

    def show(self, colours: tuple[str, ...]) -> None:
        """Other colours."""
        if colours != self._colours:
            self._colours = colours
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """The colours side by side, where the screen has any."""
        width = self.size.width
        if y or not self._colours or self.app.no_color:
            return Strip.blank(width, self.rich_style)
        return Strip(swatch_segments(Patch(self._colours), width))


class Form(Sheet[Values]):
    """A form; gives the checked values by key, or None where it was left.

    `preview` turns the values that are right so far into a line shown under the fields. `refused`
    says in a sentence what is wrong with all of them together, nothing where they can be kept; the
    form stays open then. `at` is the field to begin in.
    """

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "app.focus_previous", "field before", show=False, id="form.before"),
        Binding("down", "app.focus_next", "next field", show=False, id="form.next"),
    ]

    def __init__(
        self,
        title: str,
        fields: Sequence[Field],
        *,
        note: str = "",
        verb: str = "keep",
        draft: dict[str, str] | None = None,
        preview: Callable[[Values], str] | None = None,
        refused: Callable[[Values], str] | None = None,
        at: str = "",
    ) -> None:
        super().__init__()
        self.title_words = title
        self._fields = tuple(fields)
        self._note = note
        self._verb = verb
        self._draft = draft if draft is not None else {}
        self._preview = preview
        self._refused = refused
        self._at = at

    def sheet(self) -> Iterable[Widget]:
        """The note, the fields, and a line that says what is wrong or what comes out."""
        if self._note:
            yield Static(self._note, classes="sheet-note", markup=False)
        yield VerticalScroll(
            *(_line(field, self._draft.get(field.key, field.value)) for field in self._fields),
            classes="fields",
            can_focus=False,
        )
        yield Static("", id="told", markup=False)

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """Enter keeps, escape goes back."""
        return (
            ("Enter", self._verb, "keep"),
            ("Tab", "next field", "next_field"),
            ("Esc", "back", "leave"),
        )

    def on_resize(self, event: events.Resize) -> None:
        """Let the fields scroll where the terminal has no room for all of them."""
        width = min(SHEET_WIDTH, event.size.width) - SHEET_SIDES
        note = len(wrap(self._note, max(8, width))) + 1 if self._note else 0
        needed = SHEET_LINES + note + len(self._fields)
        self.query_one(".sheet").set_class(needed > event.size.height, "-full")

    def on_mount(self) -> None:
        """Begin in the first field that is not filled in, else in the first."""
        empty = (f for f in self._fields if not self._text(f) and not f.options)
        first = next(empty, self._fields[0])
        if all(self._text(f) for f in self._fields[:1]):
            first = self._fields[0]
        self.query_one(f"#field-{self._at or first.key}").focus()
        self._tell()

    def _text(self, field: Field) -> str:
        widget = self.query_one(f"#field-{field.key}")
        return widget.value if isinstance(widget, Input | Pick) else ""

    def _read(self) -> tuple[dict[str, object], dict[str, str]]:
        """The values that are right, and the sentences on those that are not, by key."""
        right: dict[str, object] = {}
        wrong: dict[str, str] = {}
        for field in self._fields:
            try:
                right[field.key] = field.check(self._text(field))
            except ValueError as error:
                wrong[field.key] = str(error)
        return right, wrong

    @on(Input.Changed)
    @on(Pick.Picked)
    def _changed(self) -> None:
        self._tell()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:  # noqa: ARG002
        """The line below the fields speaks of the field at hand."""
        self._tell()

    def _tell(self) -> None:
        right, wrong = self._read()
        for field in self._fields:
            self.query_one(f"#label-{field.key}").set_class(field.key in wrong, "-wrong")
            if field.shade:
                colours = right.get(field.key)
                patch = self.query_one(f"#patch-{field.key}", ShadePatch)
                patch.show(colours if isinstance(colours, tuple) else ())
        at = (self.focused.id or "").removeprefix("field-") if self.focused else ""
        hint = next((f.hint for f in self._fields if f.key == at), "")
        told = self.query_one("#told", Static)
        sentence = wrong.get(at)
        told.set_class(sentence is not None, "-wrong")
        if sentence is None:
            out = self._preview(right) if self._preview else ""
            sentence = out or hint
        told.update(sentence)

    @on(Input.Submitted)
    def _submitted(self) -> None:
        self.action_keep()

    def action_keep(self) -> None:
        """Give the values back, or go to the first field that is wrong."""
        right, wrong = self._read()
        if wrong:
            self.query_one(f"#field-{next(iter(wrong))}").focus()
            self._tell()
            return
        if self._refused is not None and (sentence := self._refused(right)):
            told = self.query_one("#told", Static)
            told.set_class(True, "-wrong")
            told.update(sentence)
            return
        self._draft.clear()
        self.dismiss(right)

    def action_next_field(self) -> None:
        """Move on to the next field."""
        self.focus_next()

    def action_leave(self) -> None:
        """Go back; what was typed is there when the form is opened again."""
        typed = {f.key: self._text(f) for f in self._fields if self._text(f) != f.value}
        self._draft.clear()
        self._draft.update(typed)
        self.dismiss(None)


class FieldLine(Horizontal):
    """One field: its label and its entry."""

    def __init__(self, field: Field, value: str) -> None:
        super().__init__(classes="field")
        self._field = field
        self._value = value

    def compose(self) -> ComposeResult:
        """Label and entry."""
        field = self._field
        yield Static(field.label, classes="field-label", id=f"label-{field.key}", markup=False)
        if field.options:
            yield Pick(field, self._value)
        else:
            yield Entry(
                self._value, id=f"field-{field.key}", classes="field-entry", compact=True,
                select_on_focus=True, placeholder=field.hint,
            )  # fmt: skip
        if field.shade:
            yield ShadePatch(field.key)


def _line(field: Field, value: str) -> FieldLine:
    return FieldLine(field, value)
