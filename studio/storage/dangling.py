"""A name or figure in a file that opened which leads nowhere, or does not go with the others."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass
from studio.storage.problems import nearest, shorten

if TYPE_CHECKING:
    from collections.abc import Collection

    from studio.storage.layout import Path

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True, slots=True)
class Dangling:
    """What was found at a path, what may be there, and the sentence."""

    path: Path
    found: str
    allowed: str
    text: str


def dotted(path: Path) -> str:
    """A path as people write it, list places counted from 1: stripe[3].rows."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            shown = part if _BARE_KEY.fullmatch(part) else f'"{part}"'
            text += f".{shown}" if text else shown
    return text


def not_there(what: str, name: str, names: Collection[str], path: Path) -> Dangling:
    """A name that is not among those it may be, with the nearest one that is."""
    near = nearest(name, names)
    shown = sorted(filter(None, names))
    allowed = ", ".join(shown[:12]) + (", …" if len(shown) > 12 else "") or "none yet"
    hint = f"; did you mean {shorten(near)}?" if near else "."
    found = shorten(name)
    return Dangling(path, found, allowed, f"There is no {what} {found}{hint}")
