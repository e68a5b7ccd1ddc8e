"""The account of a piece, actual against planned, and the sums behind each of its figures."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content

from studio.ui.dialogs.desk import the_piece
from studio.ui.dialogs.message import Words
from studio.ui.why import WIDTH, sum_text

if TYPE_CHECKING:
    from studio.core.closing_say import Part
    from studio.ui.app import StripewrightApp

SCROLLS = 4
"""Cells that a sheet longer than the screen has less."""


class Account(Words):
    """The account of a piece; its figures can be asked where they come from."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("question_mark", "why", "why", show=False, id="account.why"),
    ]

    def __init__(self, title: str, text: Content, sums: Callable[[], Content]) -> None:
        super().__init__(title, text)
        self._sums = sums

    def keys(self) -> Iterable[tuple[str, str, str]]:
        """The sums, beside what every text can."""
        return (("?", "why", "why"), *super().keys())

    def action_why(self) -> None:
        """Open the sums behind all figures."""
        self.app.push_screen(Words(f"Why: {self.title_words}", self._sums()))


async def closing(app: StripewrightApp, subject: object) -> None:
    """Actual against planned: grams, hours, money."""
    from studio.core.closing_say import account

    piece = the_piece(app, subject)
    width = min(WIDTH, app.size.width - 8) - SCROLLS

    def laid(parts: Iterable[Part]) -> Content:
        blocks = []
        for part in parts:
            lines = sum_text(part.steps, width, total=part.total)
            blocks.append(Content("\n").join([Content.styled(part.heading, "bold $focus"), lines]))
        return Content("\n\n").join(blocks)

    found = app.workshop.closing(piece.key)
    text = laid(account(found, app.view.studio))
    title = f"{piece.name}: actual against planned"
    app.push_screen(Account(title, text, lambda: laid(app.workshop.why_closing(piece.key))))
