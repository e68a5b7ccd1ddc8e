"""A save of several files that is all or nothing, also where the power goes between two of them.

What is to be written stands first in a draft in the studio's folder. Giving the draft its name as
a list decides the save; the list goes when every file is in its place. Whoever opens the folder
next carries a decided list through, and drops a draft. Nothing that somebody else has written
meanwhile is replaced: the list says what was there before.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import field
from pathlib import Path

from studio.core import say
from studio.core.frozen import dataclass
from studio.storage.atomic import (
    commit,
    discard,
    keep_version,
    last_kept,
    remove,
    stage,
    sync_folder,
)
from studio.storage.disk import (
    DRAFT_FILE,
    LIST_FILE,
    RefusedFileError,
    Stamp,
    left_over,
    read_bytes,
    reason_of,
)
from studio.storage.kinds import FOLDERS, HISTORY_FOLDER, SINGLE_FILES, key_fault
from studio.storage.problems import FileProblem, Level

_FORMAT = 1

WAIT_S = 5.0
"""How long another program's save is waited for; one takes some hundredths of a second."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One file of a save: what it held (None where there was none), what it is to hold.

    `now` is None where the file is to go. `was` is told by its digest, as in a `Stamp`.
    """

    file: str
    was: str | None
    now: bytes | None


@dataclass(frozen=True, slots=True)
class Settled:
    """What became of a save that was cut short: a sentence for her, or what wants her hand."""

    told: tuple[str, ...] = ()
    problems: tuple[FileProblem, ...] = ()
    carried: Mapping[str, tuple[Planned, Stamp | None]] = field(default_factory=dict)
    """The files that are now as the list wanted them; no stamp for one that is gone."""


class UnfinishedError(OSError):
    """A save that was cut short and cannot be finished now, for the reason that it gives."""


# One save at a time


@contextmanager
def alone(folder: Path) -> Iterator[bool]:
    """Keep every other save of this folder waiting; False where one goes on for too long.

    The system lets the lock go when the program ends, however it ends. A folder, a file system or
    a system without locks has none, and there all is as if nobody else were saving.
    """
    handle: int | None = None
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
    try:
        yield handle is None or _waited_for(handle)
    finally:
        if handle is not None:
            os.close(handle)


def _waited_for(handle: int) -> bool:
    try:
        import fcntl
    except ImportError:
        return True
    until = time.monotonic() + WAIT_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= until:
                return False
            time.sleep(0.01)
        except OSError:
            return True
        else:
            return True


# The steps of a save


def draft(folder: Path, planned: Sequence[Planned]) -> None:
    """Write down what is to be saved; may raise OSError, and then nothing is left."""
    place = folder / DRAFT_FILE
    data = _text(planned)
    handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
    except BaseException:
        discard(place)
        raise


def drop_draft(folder: Path) -> None:
    """Forget what was not decided."""
    discard(folder / DRAFT_FILE)


def decide(folder: Path) -> None:
    """From here on the save is made, whatever happens; may raise OSError, and then it is not."""
    (folder / DRAFT_FILE).replace(folder / LIST_FILE)
    sync_folder(folder)


def ended(folder: Path) -> None:
    """Take the list away: all its files are in their places, or all of them are put back.

    A list that cannot be removed does no harm, since the next save or opening looks at it first.
    """
    with suppress(OSError):
        if os.path.lexists(folder / LIST_FILE):
            remove(folder, LIST_FILE)


def _text(planned: Sequence[Planned]) -> bytes:
    files = [
        {"file": p.file, "was": p.was, "now": None if p.now is None else p.now.decode()}
        for p in planned
    ]
    return json.dumps({"format": _FORMAT, "files": files}, ensure_ascii=False, indent=1).encode()


def _planned(data: bytes) -> list[Planned] | None:
    """What a list says; None where it is none, or names what no save would write."""
    try:
        read = json.loads(data)
        files = [
            Planned(f["file"], f["was"], None if f["now"] is None else f["now"].encode())
            for f in read["files"]
        ]
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    fine = read.get("format") == _FORMAT and all(_is_ours(p.file, p.was) for p in files)
    return files if fine else None


def _is_ours(file: object, was: object) -> bool:
    """Whether it names a file of a studio: a list must not lead out of the folder."""
    if not isinstance(file, str) or not isinstance(was, str | None):
        return False
    folder, _, name = file.rpartition("/")
    if not folder:
        return name in SINGLE_FILES.values()
    key = name.removesuffix(".toml")
    return folder in FOLDERS.values() and name != key and key_fault(key) is None


# What was cut short


def settle(folder: Path) -> Settled:
    """Finish or drop a save that was cut short, after waiting for one that goes on.

    Doing it again changes nothing. What cannot be done is told as a problem, never raised.
    """
    if not left_over(folder):
        return Settled()
    with alone(folder) as free:
        if not free:
            return Settled()
        try:
            return settle_alone(folder)
        except UnfinishedError as error:
            text = (
                f"The last save was cut short, and cannot be finished: {error}. Until it is, "
                "nothing else is saved, and some files may be as they were before."
            )
            return Settled(
                problems=(FileProblem(LIST_FILE, "", None, str(error), "a finished save", text),)
            )


def settle_alone(folder: Path) -> Settled:
    """The same where no other save can be going on; raises UnfinishedError."""
    try:
        decided = _decided(folder)
        dropped = _drop_undecided(folder)
        return decided or dropped
    except OSError as error:
        raise UnfinishedError(reason_of(error)) from error


def _drop_undecided(folder: Path) -> Settled:
    place = folder / DRAFT_FILE
    if not os.path.lexists(place):
        return Settled()
    try:
        planned = _planned(place.read_bytes())
    except OSError:
        planned = None
    _clear(folder, planned or ())
    remove(folder, DRAFT_FILE)
    told = "The last save was cut short before a file was changed: all is as it was before it."
    return Settled((told,))


def _decided(folder: Path) -> Settled | None:
    place = folder / LIST_FILE
    if not os.path.lexists(place):
        return None
    planned = _planned(place.read_bytes())
    if planned is None:
        return _put_aside(folder)
    _clear(folder, planned)
    now = {p.file: _standing(folder, p) for p in planned}
    foreign = [p for p in planned if now[p.file].foreign]
    if foreign and not any(now[p.file].done for p in planned):
        for p in planned:
            _keep(folder, p)
        remove(folder, LIST_FILE)
        return Settled(problems=tuple(_dropped(p) for p in foreign))
    carried = _carry(folder, planned, now)
    for p in foreign:
        _keep(folder, p)
    remove(folder, LIST_FILE)
    if foreign:
        return Settled(problems=tuple(_left_alone(p) for p in foreign), carried=carried)
    told = f"The last save was cut short; it is finished now ({say.count(len(planned), 'file')})."
    return Settled((told,), carried=carried)


@dataclass(frozen=True, slots=True)
class _Standing:
    """A file of the list as it is now: as it was, as it is to be, or neither."""

    data: bytes | None
    stamp: Stamp | None
    done: bool
    foreign: bool


def _standing(folder: Path, planned: Planned) -> _Standing:
    path = folder / planned.file
    if not os.path.lexists(path):
        done = planned.now is None
        return _Standing(None, None, done, foreign=not done and planned.was is not None)
    try:
        data, stamp = read_bytes(path)
    except RefusedFileError:
        return _Standing(None, None, done=False, foreign=True)
    done = data == planned.now
    return _Standing(data, stamp, done, foreign=not done and stamp.digest != planned.was)


def _carry(
    folder: Path, planned: Sequence[Planned], now: Mapping[str, _Standing]
) -> dict[str, tuple[Planned, Stamp | None]]:
    """Put the files of the list that are still as they were in their places.

    First everything that may run out of space, as in a save.
    """
    carried: dict[str, tuple[Planned, Stamp | None]] = {}
    waiting = [p for p in planned if not (now[p.file].done or now[p.file].foreign)]
    staged = []
    try:
        for p in waiting:
            old = now[p.file].data
            if old is not None and last_kept(folder, p.file) != old:
                keep_version(folder, p.file, old)
            if p.now is not None:
                staged.append(stage(folder, p.file, p.now))
        stamps = {}
        for new in staged:
            _same_still(folder, new.file, now)
            stamps[new.file] = commit(new)
        for p in waiting:
            if p.now is None:
                _same_still(folder, p.file, now)
                remove(folder, p.file)
            carried[p.file] = p, stamps.get(p.file)
    finally:
        for new in staged:
            discard(new.temporary)
    for p in planned:
        if now[p.file].done:
            carried[p.file] = p, now[p.file].stamp
    return carried


def _same_still(folder: Path, file: str, now: Mapping[str, _Standing]) -> None:
    """Look once more, since forcing new versions to the disk may have taken a while."""
    path, seen = folder / file, now[file].stamp
    try:
        status = path.lstat() if seen is None else path.stat()
    except FileNotFoundError:
        same = seen is None
    else:
        same = seen is not None and (status.st_mtime_ns, status.st_size) == (
            seen.mtime_ns,
            seen.size,
        )
    if not same:
        raise OSError(f"{file} was changed by another program just now")


def _clear(folder: Path, planned: Sequence[Planned]) -> None:
    """Take away new versions that were staged beside these files and never used."""
    for p in planned:
        target = (folder / p.file).resolve()
        for left in target.parent.glob(f".{_literal(target.name)}.*.tmp"):
            discard(left)


def _literal(name: str) -> str:
    """A name in which no character stands for others."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in name)


def _keep(folder: Path, planned: Planned) -> None:
    """Keep what a save would have written among the earlier versions."""
    if planned.now is not None and last_kept(folder, planned.file) != planned.now:
        keep_version(folder, planned.file, planned.now)


def _put_aside(folder: Path) -> Settled:
    """A list that is none: no save of ours, so nothing follows from it, but no byte of it goes."""
    aside = folder / HISTORY_FOLDER / f"unread{LIST_FILE}-{time.time_ns()}"
    aside.parent.mkdir(parents=True, exist_ok=True)
    (folder / LIST_FILE).replace(aside)
    sync_folder(folder)
    text = (
        f"This is no list of a save, so nothing was done with it; it lies in {HISTORY_FOLDER}/ now."
    )
    return Settled(problems=(FileProblem(LIST_FILE, "", None, "no list", "a list of files", text),))


def _dropped(planned: Planned) -> FileProblem:
    text = (
        "It was changed by another program after a save was cut short, so nothing of that save was "
        f"done. What it would have written lies in {HISTORY_FOLDER}/."
    )
    return FileProblem(planned.file, "", None, "a changed file", "", text, Level.WARNING)


def _left_alone(planned: Planned) -> FileProblem:
    kept = f"{HISTORY_FOLDER}/{planned.file}/"
    wanted = (
        "The save would have removed it."
        if planned.now is None
        else f"What the save would have written here lies in {kept}: compare the two."
    )
    text = (
        "It was changed by another program after a save was cut short, so it was left as it is, "
        f"and the other files of that save were finished. {wanted}"
    )
    return FileProblem(planned.file, "", None, "a changed file", "", text, Level.WARNING)
