"""A spreadsheet's file as text, whatever it was written in, and how its columns were matched."""

from __future__ import annotations

import codecs
from dataclasses import replace
from pathlib import Path

from studio.core.frozen import dataclass
from studio.core.spreadsheet import Columns, DateOrder, TableError
from studio.errors import SaveError
from studio.storage.atomic import commit, stage
from studio.storage.disk import RefusedFileError, read_bytes, reason_of
from studio.storage.kinds import Kind
from studio.storage.problems import FileProblem
from studio.storage.read import parse
from studio.storage.render import new_text, updated_bytes
from studio.storage.things import ColumnChoices, SheetColumns

SHEETS = ("stash", "prices", "orders")

_MARKED = (
    (codecs.BOM_UTF8, "utf-8", "UTF-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32-be", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16-le", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16-be", "UTF-16"),
)
"""Byte-order marks, the longer before the shorter that it begins with."""


@dataclass(frozen=True, slots=True)
class SheetText:
    """The text of a file, its byte-order mark left in; `doubt` says what to look at."""

    text: str
    encoding: str
    doubt: str = ""


def read_sheet_text(path: Path) -> SheetText:
    """Read a CSV file of at most MAX_BYTES; raises TableError in words where it cannot be."""
    try:
        data, _ = read_bytes(path, "a CSV file")
    except RefusedFileError as error:
        raise TableError(f"{path.name}: {error.text}") from error
    return decoded(data, path.name)


def decoded(data: bytes, name: str) -> SheetText:
    """The bytes of a file as text: by its mark, else what it can only be, else Windows-1252."""
    if data.startswith(b"PK\x03\x04"):
        raise TableError(f"{name} is a spreadsheet's own file: export it as CSV first.")
    for mark, encoding, shown in _MARKED:
        if data.startswith(mark):
            return SheetText(_strict(data, encoding, shown, name), shown)
    # UTF-16 of mostly western text has a nought in every second place.
    for start, encoding in ((1, "utf-16-le"), (0, "utf-16-be")):
        half = data[start:2000:2]
        if half and half.count(0) * 2 > len(half):
            return SheetText(_strict(data, encoding, "UTF-16", name), "UTF-16")
    try:
        return SheetText(data.decode(), "UTF-8")
    except UnicodeDecodeError:
        pass
    text = _strict(data, "cp1252", "UTF-8, nor Windows-1252", name)
    odd = next((line.strip() for line in text.splitlines() if not line.isascii()), "")
    doubt = (
        f"{name} is not UTF-8, so it was read as Windows-1252, the older western encoding. "
        f"Look whether its letters are right: {odd[:60]}"
    )
    return SheetText(text, "Windows-1252", doubt)


def _strict(data: bytes, encoding: str, shown: str, name: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        text = f"{name}, about line {line}, is not {shown} text: export it again as UTF-8."
        raise TableError(text) from error


def load_columns(folder: Path) -> tuple[dict[str, Columns], tuple[FileProblem, ...]]:
    """The columns she matched, by the kind of sheet, and what is wrong with their file."""
    file = Kind.COLUMNS.file()
    try:
        data, _ = read_bytes(folder / file)
    except RefusedFileError as refused:
        if not (folder / file).exists():
            return {}, ()
        problem = FileProblem(file, "", None, refused.found, refused.allowed, refused.text)
        return {}, (problem,)
    choices, _, problems = parse(Kind.COLUMNS, file, data)
    found = {
        sheet: Columns(kept.columns, DateOrder(kept.dates))
        for sheet in SHEETS
        if (kept := getattr(choices, sheet, None)) is not None
    }
    return found, tuple(problems)


def keep_columns(folder: Path, sheet: str, columns: Columns) -> None:
    """Keep the columns of one kind of sheet; comments in the file stay.

    Raises SaveError where the file cannot be written, or cannot be read and so is not overwritten.
    """
    file = Kind.COLUMNS.file()
    kept = SheetColumns(columns.headers, columns.dates.value)
    try:
        old = (folder / file).read_bytes()
    except FileNotFoundError:
        data = new_text(replace(ColumnChoices(), **{sheet: kept})).encode()
    except OSError as error:
        raise SaveError(f"{file} could not be read: {reason_of(error)}.") from error
    else:
        before, _, problems = parse(Kind.COLUMNS, file, old)
        if not isinstance(before, ColumnChoices):
            told = " ".join(p.text for p in problems[:2])
            raise SaveError(f"{file} could not be read, so it is not overwritten. {told}")
        data = updated_bytes(Kind.COLUMNS, file, old, replace(before, **{sheet: kept}))
    try:
        commit(stage(folder, file, data))
    except OSError as error:
        raise SaveError(f"{file} could not be written: {reason_of(error)}.") from error
