"""A studio's folder read whole: what opens becomes the studio, everything else one report.

Pydantic, and all that imports it, is loaded by the first file and not before.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections import defaultdict
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from studio.core.frozen import dataclass
from studio.core.model import (
    Library,
    Project,
    Purchase,
    Settings,
    Stash,
    Stitch,
    Studio,
    Swatch,
    Yarn,
)
from studio.core.trade_model import Trade
from studio.storage.disk import (
    UNREAD,
    RefusedFileError,
    Stamps,
    left_over,
    read_bytes,
    reason_of,
    toml_files,
)
from studio.storage.kinds import (
    FOLDERS,
    FORMAT,
    KEYMAP_FILE,
    PAPERS_FOLDER,
    SINGLE_FILES,
    STUDIO_FILE,
    STUDIO_KINDS,
    THEMES_FOLDER,
    WORDING_FILE,
    Kind,
)
from studio.storage.problems import FileProblem, Level, nearest, shorten

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from studio.storage.things import Thing


@dataclass(frozen=True)
class Loaded:
    """What a folder held; problems are in the order of the files, then of their lines."""

    folder: Path
    studio: Studio
    problems: tuple[FileProblem, ...]
    stamps: Stamps
    told: tuple[str, ...] = ()
    """What was done with a save that had been cut short, a sentence each."""

    @property
    def reserved(self) -> frozenset[str]:
        """Files that were left out, which nothing will overwrite."""
        return frozenset(file for file, stamp in self.stamps.items() if not stamp.readable)

    def taken(self, kind: Kind) -> frozenset[str]:
        """The keys of this kind that have a file, whether it opened or not."""
        return frozenset(key_of(f) for f in self.stamps if f.startswith(f"{kind.folder}/"))


def key_of(file: str) -> str:
    """The key of a file of the studio."""
    return file.rpartition("/")[2].removesuffix(".toml")


def _cut_short(folder: Path) -> tuple[tuple[FileProblem, ...], tuple[str, ...]]:
    """What came of a save that was cut short, if one was; rare, so read in at need."""
    if not left_over(folder):
        return (), ()
    from studio.storage.saving import settle

    settled_save = settle(folder)
    return settled_save.problems, settled_save.told


def load_studio(folder: Path, progress: Callable[[int, int], None] | None = None) -> Loaded:
    """Read a studio; never fails for a file. `progress` takes (done, of all).

    Writes nothing but the rest of a save that was cut short (see `saving`).
    """
    from studio.storage.references import check_references

    cut_short, told = _cut_short(folder)
    problems = list(cut_short)
    listed: list[tuple[Kind, str]] = []
    for kind in STUDIO_KINDS:
        try:
            listed += [(kind, file) for file in toml_files(folder, kind)]
        except OSError as error:
            problems.append(_folder_problem(kind, error))
    if not listed or listed[0][0] is not Kind.STUDIO:
        problems.append(_no_settings())
    problems += _strays(folder)
    if os.path.lexists(folder / WORDING_FILE):
        from studio.storage.wording import wording_problem

        problems += filter(None, [wording_problem(folder)])
    things: dict[str, Thing] = {}
    texts: dict[str, str] = {}
    stamps: Stamps = {}
    for done, (kind, file) in enumerate(listed):
        try:
            data, stamp = read_bytes(folder / file)
        except RefusedFileError as refused:
            problems.append(
                FileProblem(file, "", None, refused.found, refused.allowed, refused.text)
            )
            stamps[file] = refused.stamp or UNREAD
        else:
            thing, text, found = parse(kind, file, data)
            stamps[file] = stamp if thing is not None else replace(stamp, readable=False)
            problems += found
            if thing is not None:
                things[file], texts[file] = thing, text
        if progress is not None:
            progress(done + 1, len(listed))
    broken = frozenset(file for file, stamp in stamps.items() if not stamp.readable)
    studio = replace(_assembled(folder, things.values()), unread=broken)
    problems += check_references(studio, texts, broken)
    problems.sort(key=lambda p: (p.file != STUDIO_FILE, p.file, p.line or 0, p.key))
    return Loaded(folder, studio, tuple(problems), stamps, told)


def parse(kind: Kind, file: str, data: bytes) -> tuple[Thing | None, str, list[FileProblem]]:
    """What the bytes of one file say, their text, and all that is wrong with them."""
    from studio.storage.convert import to_core
    from studio.storage.quick import in_order

    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return None, "", [_encoding_problem(file, data, error)]
    if not text.strip():
        problem = FileProblem(
            file,
            "",
            None,
            "an empty file",
            "format = 1 and the keys of a file",
            "The file is empty.",
        )
        return None, text, [problem]
    try:
        raw = tomllib.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as error:
        return None, text, [_syntax_problem(file, text, error)]
    version = raw.get("format")
    if isinstance(version, int) and version > FORMAT:
        return None, text, [_version_problem(file, text, version)]
    record: Any = in_order(kind, raw)
    if record is None:
        from pydantic import ValidationError

        from studio.storage.records import RECORDS

        try:
            record = RECORDS[kind].model_validate(raw)
        except ValidationError as error:
            from studio.storage.explain import explain

            return None, text, explain(kind, file, text, error)
    return to_core(kind, key_of(file), record), text, []


def _assembled(folder: Path, things: Iterable[Thing]) -> Studio:
    """The studio of all that opened."""
    from studio.core.buying.offers import OfferBook
    from studio.storage.things import CustomerList

    found: defaultdict[type, list[Any]] = defaultdict(list)
    for thing in things:
        found[type(thing)].append(thing)
    settings = next(iter(found[Settings]), Settings(folder.resolve().name or "Studio"))
    lots = tuple(lot for group in found[tuple] for lot in group)
    return Studio(
        settings,
        Library(tuple(found[Yarn]), tuple(found[Stitch]), tuple(found[Swatch])),
        Stash(lots, tuple(found[Purchase])),
        tuple(found[Project]),
        tuple(c for listed in found[CustomerList] for c in listed.customers),
        next(iter(found[Trade]), Trade()),
        tuple(s for book in found[OfferBook] for s in book.suppliers),
        tuple(offer for book in found[OfferBook] for offer in book.offers),
    )


def _folder_problem(kind: Kind, error: OSError) -> FileProblem:
    name = kind.folder or kind.file()
    reason = reason_of(error)
    text = f"The folder cannot be read: {reason}. Nothing in it was opened."
    return FileProblem(name, "", None, reason, "a folder of TOML files", text)


def _strays(folder: Path) -> list[FileProblem]:
    """Folders and files whose names are nearly those that would be read."""
    known = [*FOLDERS.values(), *SINGLE_FILES.values()]
    known += [KEYMAP_FILE, WORDING_FILE, THEMES_FOLDER, PAPERS_FOLDER]
    try:
        names = sorted(entry.name for entry in folder.iterdir())
    except OSError:
        return []
    found = []
    for name in names:
        near = None if name in known or name[0] == "." else nearest(name, filter(None, known))
        if near is not None:
            text = f'This is not read; did you mean "{near}"?'
            found.append(FileProblem(name, "", None, name, near, text, Level.WARNING))
    return found


def _no_settings() -> FileProblem:
    text = "There is no studio.toml here, so the currency and all defaults are the program's own."
    return FileProblem(STUDIO_FILE, "", None, "nothing", "a file with format and name", text)


def _encoding_problem(file: str, data: bytes, error: UnicodeDecodeError) -> FileProblem:
    line = data.count(b"\n", 0, error.start) + 1
    found = f"byte 0x{data[error.start]:02x}"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        line, found = 1, "UTF-16"
    text = f"The file is not UTF-8 text ({found}): save it again as UTF-8."
    return FileProblem(file, "", line, found, "UTF-8 text", text)


_AT_LINE = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)
_PLAINER = {
    "Cannot overwrite a value": "this key is given twice",
    "Invalid value": "this is no value; text needs quotes",
    "Unclosed array": "a list is not closed with ]",
}


def _syntax_problem(file: str, text: str, error: Exception) -> FileProblem:
    """Broken TOML: what the parser says, with the line it stood at."""
    lines = text.splitlines()
    match = _AT_LINE.fullmatch(str(error))
    said, number, column = match.groups() if match else (str(error), None, None)
    if isinstance(error, RecursionError):
        said = "lists or tables are nested too deeply"
    elif not match:
        said = "a number in it is too long"
    line = int(number) if number else len(lines) if match else None
    found = shorten(lines[line - 1].strip()) if line and line <= len(lines) else "broken TOML"
    said = _PLAINER.get(said, said[:1].lower() + said[1:])
    where = f", at column {column}" if column else ", where the file ends" if match else ""
    return FileProblem(
        file, "", line, found, "valid TOML", f"This is not valid TOML: {said}{where}."
    )


def _version_problem(file: str, text: str, version: int) -> FileProblem:
    from studio.storage.layout import line_of

    words = (
        f"The file has format {version}; this program reads up to {FORMAT}, so take a newer one."
    )
    line = line_of(text, ("format",))
    return FileProblem(file, "format", line, str(version), f"at most {FORMAT}", words)
