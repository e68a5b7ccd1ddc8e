"""What panes and dialogs ask for; the app decides and calls down."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Final

from textual.message import Message

if TYPE_CHECKING:
    from studio.core.model import Studio

    Change = Callable[[Studio], Studio]
    """An edit of the studio; a refusal comes as `EditRefusedError`."""


MENDED_BY_ASKING: Final = {
    "no-gauge": "count a swatch of it",
    "rough": "weigh a swatch of it",
}
"""Findings, by their code, whose first mend is a form to fill in rather than an edit."""


class Edit(Message):
    """A change was asked for; `stand` is the key of the line that is to be at hand afterwards."""

    def __init__(self, label: str, change: Change, stand: Hashable = None) -> None:
        super().__init__()
        self.label = label
        self.change = change
        self.stand = stand


class Ask(Message):
    """Something that needs a dialog, or another place, was asked for."""

    def __init__(self, what: str, subject: object = None) -> None:
        super().__init__()
        self.what = what
        self.subject = subject


class PieceAtHand(Message):
    """Another piece was moved to in the project list; the newest one counts."""

    def __init__(self, key: str) -> None:
        super().__init__()
        self.key = key

    def can_replace(self, message: Message) -> bool:
        """A later one takes the place of one that waits."""
        return isinstance(message, PieceAtHand)


class Said(Message):
    """A sentence for the line at the foot of the screen."""

    def __init__(self, text: str, *, needs_you: bool = False) -> None:
        super().__init__()
        self.text = text
        self.needs_you = needs_you
