"""The kinds of files a studio's folder holds, where each lies, and which keys can name a file."""

from __future__ import annotations

import re
from enum import StrEnum

from studio.core.naming import DEVICES

FORMAT = 1
"""The version of the file format that this program writes, and the newest that it reads."""

MAX_BYTES = 5_000_000
"""A file larger than this is refused by its size, before a byte of it is read."""

STUDIO_FILE = "studio.toml"
KEYMAP_FILE = "keymap.toml"
WORDING_FILE = "wording.txt"
PAPERS_FOLDER = "papers"
THEMES_FOLDER = "themes"
HISTORY_FOLDER = ".history"


class Kind(StrEnum):
    """A kind of file; its value is the name of its schema."""

    STUDIO = "studio"
    TRADE = "trade"
    CUSTOMERS = "customers"
    YARN = "yarn"
    STITCH = "stitch"
    SWATCH = "swatch"
    STASH = "stash"
    SUPPLIER = "supplier"
    PURCHASE = "purchase"
    PROJECT = "project"
    COLUMNS = "columns"

    @property
    def folder(self) -> str:
        """The folder its files lie in, relative to the studio; empty for a file that is alone."""
        return FOLDERS.get(self, "")

    def file(self, key: str = "") -> str:
        """The file of the thing with this key, relative to the studio."""
        return f"{self.folder}/{key}.toml" if self.folder else SINGLE_FILES[self]


SINGLE_FILES = {
    Kind.STUDIO: STUDIO_FILE,
    Kind.TRADE: "trade.toml",
    Kind.CUSTOMERS: "customers.toml",
    Kind.COLUMNS: "columns.toml",
}
"""The kinds of which a studio has one file."""

FOLDERS = {
    Kind.YARN: "yarns",
    Kind.STITCH: "stitches",
    Kind.SWATCH: "swatches",
    Kind.STASH: "stash",
    Kind.SUPPLIER: "suppliers",
    Kind.PURCHASE: "purchases",
    Kind.PROJECT: "projects",
}
"""Where the files of all other kinds lie."""

STUDIO_KINDS: tuple[Kind, ...] = tuple(kind for kind in Kind if kind is not Kind.COLUMNS)
"""The kinds that the studio is read from: how spreadsheets are matched is no part of it."""

# Names that some systems cannot store, or that would lead out of the folder.
_FORBIDDEN = re.compile(r'[<>:"/\\|?*\x00-\x1f\x7f]')


def key_fault(key: str) -> str | None:
    """Why this key cannot name a file on every system, or None where it can."""
    if not key or key != key.strip() or key[0] == "." or key[-1] == ".":
        return "a key must not be empty, nor begin or end with a space or a full stop"
    if len(key.encode()) > 120:
        return "a key is at most 120 bytes long"
    if bad := _FORBIDDEN.search(key):
        return f"a key must not hold {bad.group()!r}"
    if key.casefold() in DEVICES:
        return "this name is kept by some systems for a device"
    return None
