"""Keys made from names: plain letters and hyphens, short, and fit to name a file anywhere."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

LONGEST_STEM = 60
"""So much of a name makes its key."""

DEVICES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in "123456789")]
)
"""Names that some systems keep for a device (from memory); no file can have one of them."""


def fresh_key(name: str, taken: Container[str], otherwise: str) -> str:
    """A key for a new thing of this name, with a number where it is taken.

    A name without plain letters is called `otherwise`.
    """
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss")).encode("ascii", "ignore")
    stem = re.sub(r"[^a-z0-9]+", "-", plain.decode().lower()).strip("-")[:LONGEST_STEM].strip("-")
    stem = stem or otherwise
    key, count = f"{stem}-1" if stem in DEVICES else stem, 2
    while key in taken:
        key, count = f"{stem}-{count}", count + 1
    return key
