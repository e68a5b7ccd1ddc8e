"""The one family of errors that a maker may see: a title, a sentence, and what she can do."""

from __future__ import annotations


class StudioError(Exception):
    """Anything that is told to the maker in words rather than shown as a traceback.

    `title` is a few words; `text` says what was found, where, and what to do.
    """

    title = "This did not work"

    def __init__(self, text: str, *, title: str | None = None) -> None:
        super().__init__(text)
        self.text = text
        if title is not None:
            self.title = title


class EditRefusedError(StudioError):
    """An edit that would make no sense, such as a stripe of no rows."""

    title = "Not changed"


class PromiseBrokenError(StudioError):
    """A change that would break a promise; it is not made unless she says so."""

    title = "This breaks a promise"


class SaveError(StudioError):
    """A file that could not be written; what was on disk before is still there."""

    title = "Not saved"


class ChangedOnDiskError(SaveError):
    """A file that somebody else changed since it was read."""

    title = "Changed on disk"


class SolverError(StudioError):
    """The solver process ended before it answered."""

    title = "The lots could not be worked out"
