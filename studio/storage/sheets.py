"""A table opened: its file read, its columns matched as the last time, and remembered anew."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from studio.core.frozen import dataclass
from studio.core.sheets.taking import SheetKind
from studio.core.spreadsheet import Columns, Table, detect, guess, proposed, read_table
from studio.storage.csv_files import keep_columns, load_columns, read_sheet_text


@dataclass(frozen=True, slots=True)
class OpenedTable:
    """A table with its columns as they are proposed.

    `doubts` are sentences on what she had better look at: its letters, or a columns file that
    could not be read. `known` says that every column that must be there was matched before.
    """

    table: Table
    columns: Columns
    encoding: str
    doubts: tuple[str, ...] = ()
    known: bool = False

    def unused(self, columns: Columns) -> tuple[str, ...]:
        """The heads of columns that nothing is matched with."""
        used = set(columns.by_field.values())
        return tuple(head for head in self.table.headers if head and head not in used)


def open_table(
    path: Path,
    kind: SheetKind,
    folder: Path | None,
    delimiter: str | None = None,
    decimal: str | None = None,
) -> OpenedTable:
    """Read a table; delimiter and decimal mark are found by looking unless they are said.

    Raises TableError in words where it is none.
    """
    read = read_sheet_text(path)
    form = detect(read.text)
    if delimiter is not None:
        form = replace(form, delimiter=delimiter)
    if decimal is not None:
        form = replace(form, decimal=decimal, sure=True)
    table = read_table(read.text, form)
    kept, problems = load_columns(folder) if folder is not None else ({}, ())
    before = kept.get(kind.value)
    columns = proposed(kind.fields, table, before)
    told = tuple(f"{p.file}: {p.text}" for p in problems)
    return OpenedTable(
        table,
        columns,
        read.encoding,
        (*((read.doubt,) if read.doubt else ()), *told),
        known=before is not None and _covers(kind, before, table),
    )


def _covers(kind: SheetKind, kept: Columns, table: Table) -> bool:
    there = {h.casefold() for h in table.headers}
    matched = {f for f, h in kept.headers if h.casefold() in there}
    return all(f.name in matched for f in kind.fields if f.needed)


def remember(folder: Path, kind: SheetKind, table: Table, columns: Columns) -> None:
    """Keep how the columns were matched, where their names alone do not say it.

    What was matched for columns that this table lacks stays. Raises SaveError.
    """
    kept, _ = load_columns(folder)
    before = kept.get(kind.value)
    if before is None and columns == guess(kind.fields, table.headers):
        return
    there = {h.casefold() for h in table.headers}
    now = columns.by_field
    old = {} if before is None else before.by_field
    other = {f: h for f, h in old.items() if f not in now and h.casefold() not in there}
    both = {**other, **now}
    headers = tuple((f.name, both[f.name]) for f in kind.fields if f.name in both)
    merged = Columns(headers, columns.dates)
    if merged != before:
        keep_columns(folder, kind.value, merged)


@dataclass(frozen=True, slots=True)
class FoundTable:
    """A file that may be a table, and when it was last written to, in seconds."""

    path: Path
    written_s: float


MOST_FOUND = 200
ENDINGS = frozenset((".csv", ".tsv"))


def found_tables(folders: Iterable[Path]) -> tuple[FoundTable, ...]:
    """The tables that lie in these folders, the newest first; folders within are not entered."""
    found: dict[Path, FoundTable] = {}
    for folder in folders:
        try:
            with os.scandir(folder) as entries:
                for entry in entries:
                    path = Path(entry.path)
                    hidden = entry.name.startswith(".")
                    if not hidden and path.suffix.lower() in ENDINGS and entry.is_file():
                        found.setdefault(path, FoundTable(path, entry.stat().st_mtime))
        except OSError:
            continue
    newest = sorted(found.values(), key=lambda table: (-table.written_s, table.path))
    return tuple(newest[:MOST_FOUND])
