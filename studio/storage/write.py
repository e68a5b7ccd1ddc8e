"""What changed between two moments of a studio, written to its folder.

The studio is immutable, so a save may run in any thread while the maker goes on; there is nothing
to copy beforehand.
"""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Studio
from studio.core.trade_model import Trade
from studio.errors import ChangedOnDiskError, SaveError
from studio.storage.atomic import (
    Staged,
    commit,
    discard,
    keep_version,
    last_kept,
    mode_for,
    remove,
    stage,
)
from studio.storage.disk import RefusedFileError, Stamp, Stamps, read_bytes, reason_of
from studio.storage.kinds import Kind, key_fault
from studio.storage.read import key_of, parse
from studio.storage.render import new_text, updated_bytes
from studio.storage.things import STORED, CustomerList, Thing, by_file, settled

if TYPE_CHECKING:
    from collections.abc import Iterable


class PartlySavedError(SaveError):
    """A save of several files that failed between two of them.

    What was written is put back where that can be done. `stamps` are those of the disk as it now
    is: the next save must start from them.
    """

    def __init__(self, text: str, stamps: Stamps) -> None:
        super().__init__(text)
        self.stamps = stamps


@dataclass(frozen=True, slots=True)
class _Change:
    """One file to write (`data`), or to remove (`data` None), and what is on the disk now."""

    file: str
    old: bytes | None
    data: bytes | None
    mtime_ns: int = 0


def save_changes(folder: Path, before: Studio | None, after: Studio, stamps: Stamps) -> Stamps:
    """Write the files whose things differ between `before` and `after`; return the new stamps.

    `stamps` are those of the last load or save; `before` is None for a folder without files.
    Raises ChangedOnDiskError where a file was changed or removed by someone else since, and
    SaveError where one cannot or must not be written; in both cases nothing has been written.
    PartlySavedError tells the one case in between.
    """
    _refuse_unstored(before, after)
    changes = [
        change
        for file, kind, thing in _wanted(before, after)
        if (change := _change(folder, stamps, file, kind, thing)) is not None
    ]
    return _carry_out(folder, changes, stamps)


_EMPTIED: dict[Kind, Thing] = {Kind.TRADE: Trade(), Kind.CUSTOMERS: CustomerList()}
"""Files that stay, with whatever is noted in them, where nothing is left to say."""


def _refuse_unstored(before: Studio | None, after: Studio) -> None:
    """A part of the studio that has no file must not be lost in silence."""
    for part in fields(Studio):
        if part.name not in STORED:
            was = getattr(before or Studio(after.settings), part.name)
            if getattr(after, part.name) != was:
                raise SaveError(f"There is no file yet that could hold the {part.name}.")
    known = {supplier.key for supplier in after.suppliers}
    for offer in after.offers:
        if offer.supplier not in known:
            text = f"An offer of {offer.yarn} names the supplier {offer.supplier!r}, which is not"
            raise SaveError(f"{text} there, so it has no file. Nothing was saved.")


def _wanted(before: Studio | None, after: Studio) -> Iterable[tuple[str, Kind, Thing | None]]:
    """Each file that has to change, and what it is to hold; None where it is to go."""
    old, new = by_file(before) if before else {}, by_file(after)
    yarns = after.library.yarn
    for file, (kind, thing) in new.items():
        if file not in old or old[file][1] != thing:
            yield file, kind, thing
    for file, (kind, _) in old.items():
        if file not in new:
            # A yarn that is used up keeps its stash file, with whatever is noted in it.
            used_up = kind is Kind.STASH and key_of(file) in yarns
            yield file, kind, () if used_up else _EMPTIED.get(kind)


def _change(
    folder: Path, stamps: Stamps, file: str, kind: Kind, thing: Thing | None
) -> _Change | None:
    """The bytes that the file needs, or None where the disk already holds them."""
    stamp = stamps.get(file)
    if stamp is not None and not stamp.readable:
        text = f"{file} could not be read, so it is not overwritten: mend it, or move it away."
        raise SaveError(text)
    if stamp is None:
        return None if thing is None else _new_file(folder, file, kind, thing)
    try:
        old, now = read_bytes(folder / file)
    except RefusedFileError as refused:
        if _is_gone(folder / file):
            text = f"{file} was removed from the folder since it was read. Nothing was saved."
            raise ChangedOnDiskError(text) from refused
        raise SaveError(f"{file}: {refused.text} Nothing was saved.") from refused
    if now.digest != stamp.digest:
        text = f"{file} was changed by another program since it was read. Nothing was saved."
        raise ChangedOnDiskError(text)
    if thing is None:
        return _Change(file, old, None, now.mtime_ns)
    data = updated_bytes(kind, file, old, thing)
    _read_back(kind, file, data, thing)
    return None if data == old else _Change(file, old, data, now.mtime_ns)


def _new_file(folder: Path, file: str, kind: Kind, thing: Thing) -> _Change:
    key = file.removeprefix(f"{kind.folder}/").removesuffix(".toml")
    if kind.folder and (fault := key_fault(key)):
        raise SaveError(f"{file} cannot be the name of a file: {fault}.")
    data = _as_it_was(folder, file, kind, thing) or new_text(thing).encode()
    _read_back(kind, file, data, thing)
    if not _is_gone(folder / file):
        text = f"There is already a file {file}, which was not read. Nothing was saved."
        raise ChangedOnDiskError(text)
    return _Change(file, None, data)


def _as_it_was(folder: Path, file: str, kind: Kind, thing: Thing) -> bytes | None:
    """The file as it was when it was taken away, where it held the same: undo brings all of it."""
    kept = last_kept(folder, file)
    if kept is None:
        return None
    read, _, problems = parse(kind, file, kept)
    same = read is not None and not problems and settled(read) == settled(thing)
    return kept if same else None


def _read_back(kind: Kind, file: str, data: bytes, thing: Thing) -> None:
    """Nothing is written that would not be read back as the same thing."""
    read, _, problems = parse(kind, file, data)
    if problems:
        told = " ".join(f"{p.key}: {p.text}" for p in problems[:3])
        raise SaveError(f"{file} would not open again. {told}")
    if read is None or settled(read) != settled(thing):
        raise SaveError(f"{file} would not be read back as it is now. Nothing was saved.")


def _is_gone(path: Path) -> bool:
    try:
        path.lstat()
    except FileNotFoundError:
        return True
    except OSError:
        return False
    return False


def _carry_out(folder: Path, changes: list[_Change], stamps: Stamps) -> Stamps:
    """First everything that may run out of space, then the replacing itself."""
    now = dict(stamps)
    staged: list[Staged] = []
    done: list[_Change] = []
    change_of = {change.file: change for change in changes}
    at = changes[0].file if changes else ""
    try:
        for change in changes:
            at = change.file
            if change.data is None:
                mode_for(folder / at)
            else:
                staged.append(stage(folder, at, change.data))
            if change.old is not None:
                keep_version(folder, at, change.old)
        for change in changes:
            _refuse_changed(folder / change.file, change)
        for new in staged:
            at = new.file
            now[at] = commit(new)
            done.append(change_of[at])
        for gone in [change for change in changes if change.data is None]:
            at = gone.file
            remove(folder, at)
            del now[at]
            done.append(gone)
    except OSError as error:
        text = f"{at} could not be written: {reason_of(error)}."
        if not done:
            raise SaveError(f"{text} Its last version is still there.") from error
        raise PartlySavedError(f"{text} {_take_back(folder, done, now)}", now) from error
    finally:
        # After a failure only: what was put in its place is no longer there to discard.
        for left in staged:
            discard(left.temporary)
    return now


def _take_back(folder: Path, done: list[_Change], stamps: Stamps) -> str:
    """Put the earlier files back, so that no parcel lies on the shelf and is on order too.

    Changes `stamps` to what is then on the disk, and says whether all of it could be done.
    """
    left = []
    for change in reversed(done):
        try:
            if change.old is None:
                remove(folder, change.file)
                del stamps[change.file]
            else:
                stamps[change.file] = _put_back(folder, change.file, change.old)
        except OSError:
            left.append(change.file)
    if not left:
        return "Nothing was saved."
    verb = "is" if len(left) == 1 else "are"
    return f"{say.either(left[::-1], 'and')} {verb} written already, and could not be put back."


def _put_back(folder: Path, file: str, data: bytes) -> Stamp:
    staged = stage(folder, file, data)
    try:
        return commit(staged)
    finally:
        # After a failure only: else it is the file itself by now.
        discard(staged.temporary)


def _refuse_changed(path: Path, change: _Change) -> None:
    """Look once more, since forcing the new version to the disk may have taken a while."""
    if change.old is None:
        same = _is_gone(path)
    else:
        try:
            status = path.stat()
        except OSError:
            same = False
        else:
            same = (status.st_mtime_ns, status.st_size) == (change.mtime_ns, len(change.old))
    if not same:
        text = f"{change.file} was changed by another program just now. Nothing was saved."
        raise ChangedOnDiskError(text)
