"""What becomes of each row of a table: something new, a change, nothing, or a problem."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Any, TypeVar

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.sheets.preview import Preview, RowPreview

T = TypeVar("T")


class Change(StrEnum):
    """What a row does to the studio."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "as it is"
    FAULTY = "problem"


@dataclass(frozen=True, slots=True)
class Fate:
    """One row with what becomes of it: the thing it speaks of, and a sentence on what happens."""

    line: int
    cells: Mapping[str, str]
    change: Change
    what: str
    words: str
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """What merging a sound row came to; with `problems` it is left out after all."""

    change: Change
    what: str
    words: str
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def refused(what: str, *problems: str) -> Effect:
    """A row that reads well but does not go with what is there."""
    return Effect(Change.FAULTY, what, "", problems)


def kept_together(preview: Preview[T]) -> Preview[T]:
    """The preview in which a sound row waits where another row of its lot or offer is faulty.

    Half a lot would be a wrong lot, so its rows go in together or not at all.
    """
    first: dict[tuple[str, ...], int] = {}
    for row in preview.faulty:
        first.setdefault(row.group, row.line)
    rows = tuple(
        replace(row, problems=(f"It waits for line {first[row.group]}, which it belongs with.",))
        if not row.problems and row.group in first
        else row
        for row in preview.rows
    )
    return replace(preview, rows=rows)


def alike_notes(rows: Sequence[RowPreview[T]]) -> dict[int, str]:
    """By line, a word on each row that says the very same as one before it."""
    seen: dict[tuple[tuple[str, str], ...], int] = {}
    found = {}
    for row in rows:
        said = tuple(sorted((f, text) for f, text in row.cells.items() if text))
        at = seen.setdefault(said, row.line)
        if at != row.line:
            found[row.line] = f"It says the same as line {at}; both count."
    return found


def fate_of(row: RowPreview[Any], effect: Effect | None, note: str | None) -> Fate:
    """A row with what reading it and merging it came to."""
    if row.problems or effect is None:
        what = "  ".join(part for part in row.group if part)
        return Fate(row.line, row.cells, Change.FAULTY, what, "", row.problems, row.notes)
    notes = (*row.notes, *effect.notes, *((note,) if note and not effect.problems else ()))
    return Fate(
        row.line, row.cells, effect.change, effect.what, effect.words, effect.problems, notes
    )


def summary(fates: Sequence[Fate]) -> str:
    """'3 rows new, 2 changed, 40 as they are, 1 with a problem'."""
    numbers = {change: sum(f.change is change for f in fates) for change in Change}
    words = {
        Change.NEW: "new",
        Change.CHANGED: "changed",
        Change.SAME: "as it is" if numbers[Change.SAME] == 1 else "as they are",
        Change.FAULTY: "with a problem",
    }
    told = [f"{number} {words[change]}" for change, number in numbers.items() if number]
    return f"{say.count(len(fates), 'row')}: {', '.join(told)}" if told else "no rows"
