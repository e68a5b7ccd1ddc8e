"""The slots of the piece at hand in one line: letter, swatch and shade."""

from __future__ import annotations

from textual.content import Content
from textual.widget import Widget

from studio.ui.columns import cut
from studio.ui.view import View


class SlotStrip(Widget):
    """The slots of the piece, each with its swatch and shade; a click changes the slot."""

    def __init__(self) -> None:
        super().__init__(id="slots")
        self._view: View | None = None

    def show(self, view: View) -> None:
        """Show the slots of the piece at hand."""
        same = (
            self._view is not None
            and self._view.project is not None
            and view.project is not None
            and self._view.project.slots is view.project.slots
            and self._view.studio.library is view.studio.library
        )
        self._view = view
        if not same:
            self.refresh()

    def render(self) -> Content:
        """Letter, swatch and name of each slot, as many as fit."""
        view = self._view
        if view is None or view.project is None:
            return Content("")
        parts: list[Content] = []
        room = self.size.width - 1
        for slot in view.project.slots:
            name = view.shade_name(slot.shade_ref)
            if room < len(name) + 6 + 2:
                parts.append(Content.styled(cut("…", max(0, min(1, room))), "$quiet"))
                break
            colours = view.patch(slot.shade_ref).colours
            swatch = Content.assemble(
                *((" ", f"on {colours[i * len(colours) // 2]}") for i in range(2))
            ) if colours and not self.app.no_color else Content("")  # fmt: skip
            part = Content.assemble((slot.letter, "bold"), " ", swatch, " ", (name, "$quiet"), "  ")
            parts.append(part.stylize(f"@click=app.slot('{slot.letter}')"))
            room -= part.cell_length
        return Content("").join(parts)
