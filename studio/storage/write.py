"""What changed between two moments of a studio, written to its folder.

The studio is immutable, so a save may run in any thread while the maker goes on; there is nothing
to copy beforehand.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import field, fields
from pathlib import Path
from typing import TYPE_CHECKING

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Studio
from studio.core.trade_model import Trade
from studio.errors import ChangedOnDiskError, SaveError
from studio.storage.atomic import (
    Staged,
    all_kept,
    commit,
    discard,
    keep_version,
    last_kept,
    mode_for,
    remove,
    stage,
)
from studio.storage.disk import (
    DRAFT_FILE,
    RefusedFileError,
    Stamp,
    Stamps,
    digest_of,
    left_over,
    read_bytes,
    reason_of,
)
from studio.storage.kinds import Kind, key_fault
from studio.storage.layout import comments
from studio.storage.read import key_of, parse
from studio.storage.render import new_text, updated_bytes
from studio.storage.saving import (
    Planned,
    UnfinishedError,
    alone,
    decide,
    draft,
    drop_draft,
    ended,
    settle_alone,
)
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
    PartlySavedError tells the one case in between. A power cut leaves all of it or nothing (see
    `saving`).
    """
    _refuse_unstored(before, after)
    with alone(folder) as free:
        if not free:
            raise SaveError("Another program is saving in this folder. Nothing was saved.")
        wanted = {file: (kind, thing) for file, kind, thing in _wanted(before, after)}
        if left_over(folder):
            stamps, again = _after_unfinished(folder, stamps, before, after)
            wanted |= again
        changes = [
            change
            for file, (kind, thing) in wanted.items()
            if (change := _change(folder, stamps, file, kind, thing)) is not None
        ]
        return _carry_out(folder, changes, stamps)


def _after_unfinished(
    folder: Path, stamps: Stamps, before: Studio | None, after: Studio
) -> tuple[Stamps, dict[str, tuple[Kind, Thing | None]]]:
    """Settle a save of ours that was cut short by the disk; its files are looked at anew.

    Where a file was not as that save knew it, its stamp stays, so that the change is noticed.
    """
    try:
        settled_save = settle_alone(folder)
    except UnfinishedError as error:
        text = f"An earlier save was cut short, and cannot be finished: {error}. Nothing was saved."
        raise SaveError(text) from error
    now = dict(stamps)
    old, new = by_file(before) if before else {}, by_file(after)
    wanted: dict[str, tuple[Kind, Thing | None]] = {}
    for file, (planned, stamp) in settled_save.carried.items():
        known = stamps.get(file)
        ours = None if planned.now is None else digest_of(planned.now)
        if (known.digest if known else None) not in (planned.was, ours):
            continue
        if stamp is None:
            now.pop(file, None)
        else:
            now[file] = stamp
        if file in new:
            wanted[file] = new[file]
        elif file in old:
            wanted[file] = old[file][0], _left_of(file, old[file][0], after)
        elif stamp is not None:
            kind = next(k for k in Kind if k.file(key_of(file)) == file)
            wanted[file] = kind, _left_of(file, kind, after)
    return now, wanted


def _left_of(file: str, kind: Kind, after: Studio) -> Thing | None:
    """What stays in a file that nothing is left for; None where it is to go."""
    # A yarn that is used up keeps its stash file, with whatever is noted in it.
    used_up = kind is Kind.STASH and key_of(file) in after.library.yarn
    return () if used_up else _EMPTIED.get(kind)


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
    for file, (kind, thing) in new.items():
        if file not in old or old[file][1] != thing:
            yield file, kind, thing
    for file, (kind, _) in old.items():
        if file not in new:
            yield file, kind, _left_of(file, kind, after)


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
    data = _with_lost_words(folder, kind, file, old, data, thing) or data
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


LOOKED_BACK = 5
"""In so many earlier versions a lost comment is looked for: as many steps of undo as she saves."""


def _with_lost_words(
    folder: Path, kind: Kind, file: str, old: bytes, data: bytes, thing: Thing
) -> bytes | None:
    """An earlier version that said the same and has comments that went since; None where none is.

    It is taken only where the file as it is now came of it by our own writing: then nothing that
    was written by hand since is lost, and undo brings a comment back with its line.
    """
    had = Counter(comments(data.decode()))
    for kept in all_kept(folder, file, LOOKED_BACK):
        text = kept.decode(errors="replace")
        if not Counter(comments(text)) - had:
            continue
        read, _, problems = parse(kind, file, kept)
        if read is None or problems or settled(read) != settled(thing):
            continue
        now, _, _ = parse(kind, file, old)
        if now is not None and updated_bytes(kind, file, kept, now) == old:
            return kept
    return None


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


@dataclass()
class _Going:
    """A save on its way: what is staged, what is done, and the file that it is at."""

    folder: Path
    stamps: Stamps
    at: str = ""
    staged: dict[str, Staged] = field(default_factory=dict)
    done: list[_Change] = field(default_factory=list)


def _carry_out(folder: Path, changes: list[_Change], stamps: Stamps) -> Stamps:
    """First everything that may run out of space, then the replacing itself."""
    going = _Going(folder, dict(stamps))
    try:
        _prepare(going, changes)
        _replace(going, changes)
    except (OSError, ChangedOnDiskError) as error:
        changed = isinstance(error, ChangedOnDiskError)
        if going.done:
            text = _why_not(going.at, error, _take_back(folder, going.done, going.stamps))
            raise PartlySavedError(text, going.stamps) from error
        ended(folder)
        text = _why_not(going.at, error, "Nothing was saved." if changed else _STILL_THERE)
        raise (ChangedOnDiskError if changed else SaveError)(text) from error
    finally:
        # After a failure only: what was put in its place is no longer there to discard.
        for left in going.staged.values():
            discard(left.temporary)
        if len(changes) > 1:
            drop_draft(folder)
    if len(changes) > 1:
        ended(folder)
    return going.stamps


def _prepare(going: _Going, changes: list[_Change]) -> None:
    """All that can be done before a file is replaced; at its end a save of several is decided."""
    if len(changes) > 1:
        going.at = DRAFT_FILE
        draft(going.folder, [_planned(change) for change in changes])
    for change in changes:
        going.at = change.file
        if change.data is None:
            mode_for(going.folder / change.file)
        else:
            going.staged[change.file] = stage(going.folder, change.file, change.data)
        if change.old is not None:
            keep_version(going.folder, change.file, change.old)
    for change in changes:
        _refuse_changed(going.folder / change.file, change)
    if len(changes) > 1:
        decide(going.folder)


def _replace(going: _Going, changes: list[_Change]) -> None:
    """Put every file in its place; what is new comes before what goes."""
    for change in sorted(changes, key=lambda c: c.data is None):
        going.at = change.file
        if going.done:
            _refuse_changed(going.folder / change.file, change)
        if change.data is None:
            remove(going.folder, change.file)
            del going.stamps[change.file]
        else:
            going.stamps[change.file] = commit(going.staged[change.file])
        going.done.append(change)


_STILL_THERE = "Its last version is still there."


def _why_not(file: str, error: OSError | ChangedOnDiskError, so: str) -> str:
    if isinstance(error, ChangedOnDiskError):
        return f"{error.text} {so}"
    return f"{file} could not be written: {reason_of(error)}. {so}"


def _planned(change: _Change) -> Planned:
    was = None if change.old is None else digest_of(change.old)
    return Planned(change.file, was, change.data)


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
        ended(folder)
        return "Nothing was saved."
    verb = "is" if len(left) == 1 else "are"
    return (
        f"{say.either(left[::-1], 'and')} {verb} written already, and could not be put back; the "
        "rest follows with the next save, or when the studio is opened again."
    )


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
        raise ChangedOnDiskError(f"{change.file} was changed by another program just now.")
