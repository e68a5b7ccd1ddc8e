"""A file in order read without pydantic, which took a quarter of a check to read in and set up.

What a file may hold is stated in `records*.py` and nowhere else. `quick_table.py` is made from
there by `python -m tests.quick_table`, and a test makes it anew and compares. Whatever is wrong
here, or only unusual, is read once more by pydantic, which decides and tells everything that is
wrong: so nothing here may take what pydantic refuses, or make another value of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, TypeAlias

if TYPE_CHECKING:
    from studio.storage.kinds import Kind

Check: TypeAlias = Callable[[Any], Any]
"""Takes a value as tomllib gives it, and gives it back as a record keeps it, or raises."""


class UnsureError(ValueError):
    """A value that pydantic must look at."""


class Row(SimpleNamespace):
    """A record: what a table of a file holds, and the defaults for the rest."""


def in_order(kind: Kind, raw: dict[str, Any]) -> Row | None:
    """The record of a file that is in order; None where pydantic must look at it."""
    from studio.storage.quick_table import FILES

    try:
        row: Row = FILES[kind.name](raw)
    except ValueError:
        return None
    return row


def plain(kind: type) -> Check:
    """A value of exactly this type: true is no number, and a moment no date."""

    def check(value: Any) -> Any:
        if type(value) is not kind:
            raise UnsureError
        return value

    return check


a_truth, a_date = plain(bool), plain(date)


def text(least: int = 0, most: int | None = None, pattern: str = "") -> Check:
    """A text of so many characters that matches a pattern as a whole."""
    # The pattern is anchored; a full match moreover takes no newline after it.
    matches = re.compile(pattern).fullmatch if pattern else None

    def check(value: Any) -> str:
        if type(value) is not str or len(value) < least:
            raise UnsureError
        if most is not None and len(value) > most:
            raise UnsureError
        if matches is not None and matches(value) is None:
            raise UnsureError
        return value

    return check


def whole(least: int, most: int) -> Check:
    """A whole number between two others, these counted in."""

    def check(value: Any) -> int:
        if type(value) is not int or not least <= value <= most:
            raise UnsureError
        return value

    return check


def exact(
    ge: Decimal | None = None,
    gt: Decimal | None = None,
    le: Decimal | None = None,
    lt: Decimal | None = None,
    places: int | None = None,
) -> Check:
    """A number between two others with so many decimals at most."""

    def check(value: Any) -> Any:
        if type(value) is int:
            value = Decimal(value)
        elif type(value) is not Decimal or not value.is_finite():
            raise UnsureError
        if (
            (ge is not None and value < ge)
            or (gt is not None and value <= gt)
            or (le is not None and value > le)
            or (lt is not None and value >= lt)
            or (places is not None and value.as_tuple().exponent < -places)
        ):
            raise UnsureError
        return value

    return check


def word(kind: type[StrEnum]) -> Check:
    """One of the words of an enum."""
    words: Mapping[str, StrEnum] = {member.value: member for member in kind}
    return one_of(words)


def one_of(words: Mapping[str, Any]) -> Check:
    """One of these words, and what is kept for it."""

    def check(value: Any) -> Any:
        if type(value) is not str or value not in words:
            raise UnsureError
        return words[value]

    return check


def many(item: Check, most: int | None = None) -> Check:
    """A list, of so many at most."""

    def check(value: Any) -> tuple[Any, ...]:
        if type(value) is not list or (most is not None and len(value) > most):
            raise UnsureError
        return tuple([item(v) for v in value])

    return check


def number_of(least: int = 0, most: int | None = None) -> Check:
    """So many of what is read already."""

    def check(value: Any) -> Any:
        if len(value) < least or (most is not None and len(value) > most):
            raise UnsureError
        return value

    return check


def named(key: Check, item: Check) -> Check:
    """A table whose keys are names that she gives."""

    def check(value: Any) -> dict[Any, Any]:
        if type(value) is not dict:
            raise UnsureError
        return {key(k): item(v) for k, v in value.items()}

    return check


def then(*steps: Check) -> Check:
    """One step after the other."""

    def check(value: Any) -> Any:
        for step in steps:
            value = step(value)
        return value

    return check


NEEDED: Any = object()
"""Stands for the default of a key that must be there."""


def table(**fields: tuple[Check, Any] | tuple[Check, Any, str]) -> Check:
    """A table with these keys: how each is checked, its default, its key if that is no name."""
    checks = {
        rest[0] if rest else name: (name, check) for name, (check, _, *rest) in fields.items()
    }
    defaults = {name: default for name, (_, default, *_) in fields.items() if default is not NEEDED}
    needed = fields.keys() - defaults.keys()

    def check(value: Any) -> Row:
        if type(value) is not dict:
            raise UnsureError
        values = defaults.copy()
        for key, given in value.items():
            if key not in checks:
                raise UnsureError
            name, read = checks[key]
            values[name] = read(given)
        if not needed <= values.keys():
            raise UnsureError
        return Row(**values)

    return check
