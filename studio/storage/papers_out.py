"""Papers and tables written where the maker wants them: whole or not at all, never over hers."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

from studio.errors import SaveError
from studio.storage.atomic import Staged, commit, discard, stage, sync_folder
from studio.storage.disk import reason_of


class FileThereError(SaveError):
    """There is a file of this name already; ask her, then write with `overwrite`."""

    title = "There is such a file already"

    def __init__(self, path: Path) -> None:
        super().__init__(f"{path} is there already. Say that it may be replaced, or name another.")
        self.path = path


def _put(staged: Staged) -> None:
    """Put a new file in its place; FileExistsError where one has come in between."""
    try:
        # Unlike a move, a link never takes the place of a file.
        os.link(staged.temporary, staged.target)
    except FileExistsError:
        raise
    except OSError:
        # A file system without links.
        if os.path.lexists(staged.target):
            raise FileExistsError(str(staged.target)) from None
        commit(staged)
    sync_folder(staged.target.parent)


def write_paper(path: Path, made: bytes | str, *, overwrite: bool = False) -> Path:
    """Write a paper and return where it is; text is written as UTF-8, line ends as they are.

    Raises FileThereError where there is a file and `overwrite` is not said, SaveError where it
    cannot be written; what was there is then still whole.
    """
    data = made.encode() if isinstance(made, str) else made
    try:
        if not overwrite and os.path.lexists(path):
            raise FileThereError(path)
        staged = stage(path.parent, path.name, data)
        try:
            if overwrite:
                commit(staged)
            else:
                _put(staged)
        finally:
            discard(staged.temporary)
    except FileExistsError as error:
        raise FileThereError(path) from error
    except OSError as error:
        raise SaveError(f"{path} could not be written: {reason_of(error)}.") from error
    return path


def free_name(path: Path) -> Path:
    """The first path beside it, with a number before the ending, at which there is nothing yet."""
    names = (path.with_name(f"{path.stem}-{i}{path.suffix}") for i in itertools.count(2))
    return next(name for name in names if not os.path.lexists(name))
