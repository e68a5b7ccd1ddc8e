"""A studio's folder read whole: what opens becomes the studio, everything else one report.

Pydantic, and all that imports it, is loaded by the first file and not before.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from studio.core.model import (
    Library,
    Lot,
    Project,
    Purchase,
    Settings,
    Stash,
    Stitch,
    Studio,
    Swatch,
    Yarn,
)
from studio.storage.disk import RefusedFileError, Stamps, read_bytes, reason_of, toml_files
from studio.storage.kinds import FORMAT, KEYMAP_FILE, STUDIO_FILE, THEMES_FOLDER, Kind
from studio.storage.problems import FileProblem, shorten

if TYPE_CHECKING:
    from collections.abc import Callable

    from studio.storage.convert import Thing


@dataclass(frozen=True)
class Loaded:
    """What a folder held; problems are in the order of the files, then of their lines."""

    folder: Path
    studio: Studio
    problems: tuple[FileProblem, ...]
    stamps: Stamps

    @property
    def reserved(self) -> frozenset[str]:
        """Files that were left out, which nothing will overwrite."""
        return frozenset(file for file, stamp in self.stamps.items() if not stamp.readable)

    def taken(self, kind: Kind) -> frozenset[str]:
        """The keys of this kind that have a file, whether it opened or not."""
        return frozenset(key_of(f) for f in self.stamps if f.startswith(f"{kind.folder}/"))

    @property
    def keymap_file(self) -> Path:
        """Where her own keys are, if she has any."""
        return self.folder / KEYMAP_FILE

    @property
    def themes_folder(self) -> Path:
        """Where her own themes are, if she has any."""
        return self.folder / THEMES_FOLDER


def key_of(file: str) -> str:
    """The key of a file of the studio."""
    return file.rpartition("/")[2].removesuffix(".toml")


def is_studio(folder: Path) -> bool:
    """Whether the folder holds a studio, or what is left of one: any file that would be read."""
    for kind in Kind:
        try:
            if toml_files(folder, kind.folder):
                return True
        except OSError:
            return True
    return False


def load_studio(folder: Path, progress: Callable[[int, int], None] | None = None) -> Loaded:
    """Read a studio; never fails for a file, and never writes. `progress` takes (done, of all)."""
    from studio.storage.references import check_references

    problems: list[FileProblem] = []
    listed: list[tuple[Kind, str]] = []
    for kind in Kind:
        try:
            listed += [(kind, file) for file in toml_files(folder, kind.folder)]
        except OSError as error:
            problems.append(_folder_problem(kind, error))
    if not listed or listed[0][0] is not Kind.STUDIO:
        problems.append(_no_settings())
    things: dict[str, Thing] = {}
    texts: dict[str, str] = {}
    stamps: Stamps = {}
    for done, (kind, file) in enumerate(listed):
        try:
            data, stamp = read_bytes(folder / file)
        except RefusedFileError as refused:
            problems.append(FileProblem(file, "", None, refused.found, refused.allowed, refused.text))
            stamps[file] = refused.stamp or UNREAD
        else:
            thing, text, found = parse(kind, file, data)
            stamps[file] = stamp if thing is not None else replace(stamp, readable=False)
            problems += found
            if thing is not None:
                things[file], texts[file] = thing, text
        if progress is not None:
            progress(done + 1, len(listed))
    studio = _assembled(folder, things)
    broken = frozenset(file for file, stamp in stamps.items() if not stamp.readable)
    problems += check_references(studio, texts, broken)
    problems.sort(key=lambda p: (p.file != STUDIO_FILE, p.file, p.line or 0, p.key))
    return Loaded(folder, studio, tuple(problems), stamps)
