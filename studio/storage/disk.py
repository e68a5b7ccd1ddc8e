"""Bytes from the disk: what is refused before a byte is read, and the stamp of what was read."""

from __future__ import annotations

import hashlib
import os
import stat
from dataclasses import replace
from pathlib import Path

from studio.core.frozen import dataclass
from studio.storage.kinds import MAX_BYTES, STUDIO_KINDS, Kind


@dataclass(frozen=True, slots=True)
class Stamp:
    """How a file was when it was last read or written; not `readable` where it was left out."""

    mtime_ns: int
    size: int
    digest: str
    readable: bool = True


UNREAD = Stamp(0, 0, "", readable=False)
"""The stamp of a file that could not even be looked at."""

LIST_FILE = ".saving"
DRAFT_FILE = ".saving-draft"
"""What a save of several files writes down first (see `saving`)."""

Stamps = dict[str, Stamp]
"""By file, relative to the studio's folder with '/'."""


class RefusedFileError(Exception):
    """A file that was not read: what was found, what may be there, and a sentence."""

    def __init__(self, found: str, allowed: str, text: str, stamp: Stamp | None = None) -> None:
        super().__init__(text)
        self.found = found
        self.allowed = allowed
        self.text = text
        self.stamp = stamp


def digest_of(data: bytes) -> str:
    """The digest by which a file is known again, as in a `Stamp`."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def stamp_of(data: bytes, status: os.stat_result, *, readable: bool = True) -> Stamp:
    """The stamp of these bytes."""
    return Stamp(status.st_mtime_ns, status.st_size, digest_of(data), readable)


def read_bytes(path: Path, wanted: str = "a TOML file") -> tuple[bytes, Stamp]:
    """The bytes of a plain file; raises RefusedFileError for anything else, or one too large."""
    try:
        status = path.stat()
        if refused := _refusal(status, wanted):
            raise refused
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
            status = os.fstat(file.fileno())
    except OSError as error:
        reason = reason_of(error)
        raise RefusedFileError(
            reason, "a file that can be read", f"It cannot be read: {reason}."
        ) from error
    if len(data) > MAX_BYTES and (refused := _refusal(status, wanted)):
        raise refused
    return data, stamp_of(data, status)


def left_over(folder: Path) -> bool:
    """Whether a save is going on, or was cut short: two looks, so that opening costs nothing."""
    return any(os.path.lexists(folder / name) for name in (LIST_FILE, DRAFT_FILE))


def _refusal(status: os.stat_result, wanted: str) -> RefusedFileError | None:
    stamp = Stamp(status.st_mtime_ns, status.st_size, "", readable=False)
    if not stat.S_ISREG(status.st_mode):
        found = "a folder" if stat.S_ISDIR(status.st_mode) else "no plain file"
        text = f"This is {found}; {wanted} is expected here."
        return RefusedFileError(found, wanted, text, stamp)
    if status.st_size > MAX_BYTES:
        size, limit = status.st_size / 1e6, MAX_BYTES / 1e6
        found, allowed = f"{size:.1f} MB", f"at most {limit:.0f} MB"
        text = f"The file has {size:.1f} MB and was not opened; {allowed} are read."
        return RefusedFileError(found, allowed, text, stamp)
    return None


def reason_of(error: OSError) -> str:
    """What the system said, as a phrase in lower case."""
    said = error.strerror or type(error).__name__
    return said[:1].lower() + said[1:]


def toml_files(folder: Path, kind: Kind) -> list[str]:
    """The files of one kind in a studio, in the order of their keys; may raise OSError.

    Hidden files are left out, and folders within are not entered, so that a link that leads back
    up does no harm.
    """
    sub = kind.folder
    if not sub:
        return [kind.file()] if os.path.lexists(folder / kind.file()) else []
    try:
        with os.scandir(folder / sub) as entries:
            names = [e.name for e in entries if e.name.endswith(".toml") and e.name[0] != "."]
    except FileNotFoundError:
        return []
    return [f"{sub}/{name}" for name in sorted(names, key=lambda n: n.removesuffix(".toml"))]


def changed_on_disk(folder: Path, stamps: Stamps) -> tuple[str, ...]:
    """Files that were changed, added or removed since these stamps, sorted.

    Times and sizes are compared first, so that asking often is cheap; a file is read only where
    those differ, and one that was merely touched is not named.
    """
    changed = set()
    seen = set()
    for kind in STUDIO_KINDS:
        try:
            files = toml_files(folder, kind)
        except OSError:
            continue
        for file in files:
            seen.add(file)
            if _differs(folder / file, stamps.get(file)):
                changed.add(file)
    return tuple(sorted(changed | {f for f in stamps if f not in seen}))


def _differs(path: Path, stamp: Stamp | None) -> bool:
    try:
        status = path.stat()
        if stamp is not None and (status.st_mtime_ns, status.st_size) == (
            stamp.mtime_ns,
            stamp.size,
        ):
            return False
        return stamp is None or read_bytes(path)[1].digest != stamp.digest
    except OSError:
        return stamp is None or stamp.readable
    except RefusedFileError as refused:
        now = refused.stamp
        if stamp is None or now is None:
            return stamp is None or stamp.readable
        return replace(now, readable=stamp.readable) != stamp
