"""What is wrong with a file, told so that it can be mended: where, what was found, what may be."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterable


class Level(StrEnum):
    """Whether the file was left out (error), or opened although something in it leads nowhere."""

    ERROR = "error"
    WARNING = "warning"


@dataclass(frozen=True, slots=True)
class FileProblem:
    """One thing to mend in one file.

    `file` is relative to the studio's folder, with '/' on every platform; `key` is dotted, its list
    places counted from 1 (`stripe[3].rows`), and empty where the whole file is meant; `line` counts
    from 1. `text` is a whole sentence that does not repeat file, key or line.
    """

    file: str
    key: str
    line: int | None
    found: str
    allowed: str
    text: str
    level: Level = Level.ERROR

    @property
    def place(self) -> str:
        """File, line and key, as far as they are known."""
        parts = [self.file]
        if self.line is not None:
            parts.append(f"line {self.line}")
        if self.key:
            parts.append(self.key)
        return ", ".join(parts)

    def __str__(self) -> str:
        """Place and sentence in one line."""
        return f"{self.place}: {self.text}"


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """The allowed word spelled most like `word`, if any is near enough to be meant."""
    from difflib import get_close_matches

    by_folded: dict[str, str] = {}
    for known in allowed:
        by_folded.setdefault(known.casefold(), known)
    close = get_close_matches(word.casefold(), by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None


def shorten(value: object, limit: int = 60) -> str:
    """A found value as she would write it, cut with '…' where it is long."""
    text = f'"{value}"' if isinstance(value, str) else str(value)
    if isinstance(value, bool | Decimal):
        text = str(value).lower()
    text = "".join(c if c.isprintable() else "�" for c in text)
    return text if len(text) <= limit else text[: limit - 1] + "…"
