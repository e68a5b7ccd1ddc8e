"""Where things stand in the text of a TOML file: its statements, tables and the parts of a list.

It reads only text that tomllib has accepted, and it is used where tomllib tells nothing: to find
the line of a problem, and to change one table of a file while its comments stay where they are.
"""

from __future__ import annotations

import re
import tomllib
from enum import Enum, auto
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass

if TYPE_CHECKING:
    from collections.abc import Iterator

Path = tuple[str | int, ...]
"""Keys and list places (from 0) that lead to a value."""

_STRING_PATTERN = (
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*'"
)
_STRING = re.compile(_STRING_PATTERN, re.DOTALL)
STRING_OR_COMMENT = re.compile(rf"{_STRING_PATTERN}|#[^\n]*", re.DOTALL)
_BLANK = re.compile(r"(?:\s|#[^\n]*)*")
_BARE = re.compile(r"[^\s,\]\}#=]+(?: [0-9][0-9:.Z+-]*)?")
_KEY = re.compile(r'[ \t]*("(?:\\.|[^"\\])*"|' + r"'[^']*'|[A-Za-z0-9_-]+)[ \t]*")


class What(Enum):
    """The kinds of statements."""

    SPACE = auto()
    COMMENT = auto()
    TABLE = auto()
    ELEMENT = auto()
    PAIR = auto()


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement from the start of its line to the start of the next; `value` for a pair."""

    what: What
    start: int
    end: int
    keys: tuple[str, ...] = ()
    value: tuple[int, int] = (0, 0)


def _unquote(part: str) -> str:
    if part[0] == '"':
        return str(tomllib.loads(f"x = {part}")["x"])
    return part[1:-1] if part[0] == "'" else part


def _keys(text: str, at: int) -> tuple[tuple[str, ...], int]:
    """The parts of a dotted key at `at`, and where it ends."""
    parts: list[str] = []
    while match := _KEY.match(text, at):
        parts.append(_unquote(match.group(1)))
        at = match.end()
        if at >= len(text) or text[at] != ".":
            break
        at += 1
    return tuple(parts), at


def value_end(text: str, at: int) -> int:
    """Where the value that begins at `at` ends."""
    if text[at] in "\"'":
        match = _STRING.match(text, at)
        return match.end() if match else len(text)
    if text[at] not in "[{":
        match = _BARE.match(text, at)
        return match.end() if match else at
    depth = 0
    while at < len(text):
        char = text[at]
        if char in "\"'":
            at = value_end(text, at)
            continue
        if char == "#":
            newline = text.find("\n", at)
            at = len(text) if newline < 0 else newline
            continue
        depth += (char in "[{") - (char in "]}")
        at += 1
        if depth == 0:
            return at
    return at


def _line_end(text: str, at: int) -> int:
    newline = text.find("\n", at)
    return len(text) if newline < 0 else newline + 1


def _statement(text: str, start: int) -> Statement:
    """The statement whose first line begins at `start`."""
    at = start
    while at < len(text) and text[at] in " \t":
        at += 1
    if at >= len(text) or text[at] in "\r\n":
        return Statement(What.SPACE, start, _line_end(text, at))
    if text[at] == "#":
        return Statement(What.COMMENT, start, _line_end(text, at))
    if text[at] == "[":
        double = text.startswith("[[", at)
        keys, after = _keys(text, at + 1 + double)
        return Statement(
            What.ELEMENT if double else What.TABLE, start, _line_end(text, after), keys
        )
    keys, after = _keys(text, at)
    first = after + 1
    while first < len(text) and text[first] in " \t":
        first += 1
    end = value_end(text, first) if first < len(text) else first
    # A statement is never empty, not even in text that is no TOML.
    return Statement(What.PAIR, start, max(_line_end(text, end), start + 1), keys, (first, end))


def statements(text: str) -> Iterator[Statement]:
    """The statements of a file in order; together they are the whole text."""
    at = 0
    while at < len(text):
        statement = _statement(text, at)
        yield statement
        at = statement.end


def parts(text: str, at: int) -> Iterator[tuple[tuple[str, ...] | int, int, int]]:
    """The values within the list or inline table that begins at `at`: name or place, start, end."""
    closing, index = ("]", 0) if text[at] == "[" else ("}", -1)
    at = _skip(text, at + 1)
    while at < len(text) and text[at] != closing:
        name: tuple[str, ...] | int = index
        if closing == "}":
            name, at = _keys(text, at)
            at = _skip(text, at + 1)
        end = value_end(text, at)
        if end <= at:
            return
        yield name, at, end
        index += 1
        at = _skip(text, end)
        if at < len(text) and text[at] == ",":
            at = _skip(text, at + 1)


def _skip(text: str, at: int) -> int:
    match = _BLANK.match(text, at)
    return match.end() if match else at


class _Places:
    """Collects where each key and element of a file begins, as far as the wanted path leads."""

    def __init__(self, text: str, wanted: Path) -> None:
        self.text = text
        self.wanted = wanted
        self.found: dict[Path, int] = {}
        self._counts: dict[Path, int] = {}

    def table(self, keys: tuple[str, ...], element: bool, at: int) -> Path:
        """Note a table header; the path that its pairs continue."""
        path: Path = ()
        for place, key in enumerate(keys):
            path = (*path, key)
            self.found.setdefault(path, at)
            if element and place == len(keys) - 1:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
                self.found.setdefault(path, at)
        return path

    def pair(self, table: Path, keys: tuple[str, ...], at: int, value: int) -> None:
        """Note a pair, and what its value holds where the wanted path leads into it."""
        path = table
        for key in keys:
            path = (*path, key)
            self.found.setdefault(path, at)
        self._inside(path, value)

    def _inside(self, path: Path, value: int) -> None:
        if self.wanted[: len(path)] != path or len(self.wanted) == len(path):
            return
        if value < len(self.text) and self.text[value] in "[{":
            for name, start, _ in parts(self.text, value):
                inner = (*path, *((name,) if isinstance(name, int) else name))
                self.found.setdefault(inner, start)
                self._inside(inner, start)


def line_of(text: str, path: Path) -> int | None:
    """The line (from 1) of a key, else of the nearest table around it; None where nothing is."""
    places = _Places(text, path)
    table: Path = ()
    for statement in statements(text):
        if statement.what is What.PAIR:
            places.pair(table, statement.keys, statement.start, statement.value[0])
        elif statement.what in (What.TABLE, What.ELEMENT):
            element = statement.what is What.ELEMENT
            table = places.table(statement.keys, element, statement.start)
    for length in range(len(path), 0, -1):
        if path[:length] in places.found:
            return text.count("\n", 0, places.found[path[:length]]) + 1
    return None


def comments(text: str) -> list[str]:
    """Every comment of a file, in order."""
    found = (match.group() for match in STRING_OR_COMMENT.finditer(text))
    return [word.rstrip() for word in found if word[0] == "#"]
