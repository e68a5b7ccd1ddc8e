"""The four answers about the piece at hand, in the same place on every screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content
from textual.widget import Widget

from studio.ui.columns import cut

if TYPE_CHECKING:
    from studio.ui.view import View


class AnswerLine(Widget):
    """Two lines: size and due date, yarn and cost; on a wide screen the piece above them."""

    def __init__(self) -> None:
        super().__init__(id="answers")
        self._view: View | None = None
        self._words = "opening the studio ..."

    def show(self, view: View) -> None:
        """Show the answers about the piece at hand."""
        self._view = view
        self.refresh()

    def say(self, words: str) -> None:
        """What stands here while there is no piece."""
        self._words = words
        self.refresh()

    @property
    def text(self) -> str:
        """What it says, plain."""
        return self.render().plain

    def render(self) -> Content:
        """The answers in as full a wording as fits."""
        width = max(1, self.size.width)
        view = self._view
        if view is None or view.project is None:
            return Content(cut(self._words, width))
        # What says the answers is not there before the first paint, which speaks of no piece.
        from studio.ui.answers import answers_of

        return answers_of(view, width)
