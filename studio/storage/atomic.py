"""Files replaced whole or not at all, with earlier versions kept.

A new version is written beside the old one, forced to the disk, and put in its place in one step,
so that at any moment, power cut or full disk, one whole version is there.
"""

from __future__ import annotations

import errno
import os
import tempfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from studio.core.frozen import dataclass
from studio.storage.disk import Stamp, stamp_of
from studio.storage.kinds import HISTORY_FOLDER

KEPT_VERSIONS = 20
NEWEST_ALWAYS_KEPT = 10
# Asked once, since asking means setting it, which another thread could notice.
_MASK = os.umask(0o077)
os.umask(_MASK)
_TIME = "%Y-%m-%dT%H-%M-%S.%fZ"


@dataclass(frozen=True, slots=True)
class Staged:
    """A new version that is on the disk beside the old one, and what it is to replace."""

    file: str
    target: Path
    temporary: Path
    stamp: Stamp


def stage(folder: Path, file: str, data: bytes) -> Staged:
    """Write the new version beside the old one and force it to the disk; may raise OSError.

    A link is followed, so that it stays a link. Nothing is left behind on failure.
    """
    target = (folder / file).resolve()
    target.parent.mkdir(parents=True, exist_ok=True)
    mode = mode_for(target)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fchmod(out.fileno(), mode)
            os.fsync(out.fileno())
            stamp = stamp_of(data, os.fstat(out.fileno()))
    except BaseException:
        discard(temporary)
        raise
    return Staged(file, target, temporary, stamp)


def commit(staged: Staged) -> Stamp:
    """Put the staged version in place of the old one; may raise OSError, and then has not."""
    staged.temporary.replace(staged.target)
    sync_folder(staged.target.parent)
    return staged.stamp


def discard(temporary: Path) -> None:
    """Remove a staged version that will not be used."""
    with suppress(OSError):
        temporary.unlink()


def mode_for(target: Path) -> int:
    """The permissions of the file that is replaced, or those of any new file.

    Raises PermissionError for a file that is marked read-only: it could be replaced all the same,
    and must not be.
    """
    try:
        mode = target.stat().st_mode & 0o7777
    except FileNotFoundError:
        return 0o666 & ~_MASK
    if not mode & 0o222 or not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, "The file is read-only", str(target))
    return mode


def sync_folder(folder: Path) -> None:
    """Force the folder's names to the disk, where the system can; the data is already there."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def keep_version(folder: Path, file: str, data: bytes) -> Path:
    """Keep these bytes as an earlier version of the file; may raise OSError."""
    place = _free_place(folder, file)
    kept = stage(place.parent, place.name, data)
    try:
        kept.temporary.replace(kept.target)
    except OSError:
        discard(kept.temporary)
        raise
    thin_out(place.parent)
    return place


def last_kept(folder: Path, file: str) -> bytes | None:
    """The newest of the earlier versions of a file, None where none is kept or can be read."""
    try:
        kept = sorted((folder / HISTORY_FOLDER / file).glob("*.toml"), key=_time_of)
        return kept[-1].read_bytes() if kept else None
    except OSError:
        return None


def all_kept(folder: Path, file: str, most: int) -> list[bytes]:
    """The newest of the earlier versions of a file, at most so many, the newest first."""
    try:
        kept = sorted((folder / HISTORY_FOLDER / file).glob("*.toml"), key=_time_of)
        return [path.read_bytes() for path in kept[: -most - 1 : -1]]
    except OSError:
        return []


def remove(folder: Path, file: str) -> None:
    """Take away a file whose bytes are kept already; may raise OSError, and then has not."""
    (folder / file).unlink()
    sync_folder((folder / file).parent)


def _free_place(folder: Path, file: str) -> Path:
    name = datetime.now(UTC).strftime(_TIME)
    return folder / HISTORY_FOLDER / file / f"{name}.toml"


def thin_out(folder: Path) -> None:
    """Keep the newest versions, and of the older ones those that lie farthest apart in time.

    So a burst of saves does not wipe out yesterday's version.
    """
    versions = sorted((_time_of(path), path) for path in folder.glob("*.toml"))
    while len(versions) > KEPT_VERSIONS:
        older = range(1, len(versions) - NEWEST_ALWAYS_KEPT)
        closest = min(older, key=lambda i: versions[i][0] - versions[i - 1][0])
        with suppress(OSError):
            versions[closest][1].unlink()
        del versions[closest]


def _time_of(version: Path) -> float:
    try:
        return datetime.strptime(f"{version.stem}+0000", f"{_TIME}%z").timestamp()
    except ValueError:
        return version.stat().st_mtime
