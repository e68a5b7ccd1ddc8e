"""What may be left of a folder when the power goes: only what was forced to the disk is sure.

A model from the promises of POSIX (from memory): the bytes of a file are sure once it was synced,
a name once its folder was; of what is not sure, any part may be there.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

Names = dict[str, "_Node | None"]
Renaming = tuple[frozenset[str], Names]
"""The folders that a change of names concerns, and each name with what it then stands for."""


@dataclass(eq=False)
class _Node:
    """The bytes of a file; None until they are sure."""

    sure: bytes | None = None


@dataclass
class PowerLog:
    """Follows one save, and keeps every state that a power cut could leave on the way."""

    folder: Path
    sure: Names = field(default_factory=dict)
    seen: Names = field(default_factory=dict)
    pending: list[Renaming] = field(default_factory=list)
    handles: dict[int, str] = field(default_factory=dict)
    states: list[dict[str, bytes]] = field(default_factory=list)

    def begin(self) -> None:
        for path in self.folder.rglob("*"):
            if path.is_file():
                self.sure[str(path)] = self.seen[str(path)] = _Node(path.read_bytes())

    def named(self, names: Names) -> None:
        self.seen.update(names)
        self.pending.append((frozenset(str(Path(n).parent) for n in names), names))

    def synced(self, handle: int) -> None:
        path = self.handles.get(handle, "")
        if Path(path).is_dir():
            for folders, names in self.pending:
                if path in folders:
                    self.sure.update(names)
            self.pending = [change for change in self.pending if path not in change[0]]
        elif (node := self.seen.get(path)) is not None:
            node.sure = Path(path).read_bytes()

    def cut(self) -> None:
        """Keep what may be left if the power goes now."""
        folders = {folder for concerned, _ in self.pending for folder in concerned}
        some = [
            [],
            self.pending,
            *([c for c in self.pending if f in c[0]] for f in sorted(folders)),
            *([c] for c in self.pending),
        ]
        for done in some:
            names = dict(self.sure)
            for _, change in done:
                names.update(change)
            state = {
                str(Path(name).relative_to(self.folder)): node.sure or b""
                for name, node in names.items()
                if node is not None
            }
            if state not in self.states:
                self.states.append(state)


@contextmanager
def power_log(folder: Path) -> Iterator[PowerLog]:
    """Follow what is done in this folder meanwhile."""
    log = PowerLog(folder)
    log.begin()
    real_open, real_mkstemp, real_replace, real_unlink = (
        os.open,
        tempfile.mkstemp,
        os.replace,
        os.unlink,
    )

    def opened(path: Any, flags: int, *more: Any, **named: Any) -> int:
        new = bool(flags & os.O_CREAT) and not os.path.lexists(path)
        handle = real_open(path, flags, *more, **named)
        log.handles[handle] = str(path)
        if new:
            log.named({str(path): _Node()})
        return handle

    def made(*args: Any, **named: Any) -> tuple[int, str]:
        handle, name = real_mkstemp(*args, **named)
        log.handles[handle] = name
        if log.seen.get(name) is None:
            log.named({name: _Node()})
        return handle, name

    def replaced(old: Any, new: Any) -> None:
        real_replace(old, new)
        log.named({str(new): log.seen[str(old)], str(old): None})

    def unlinked(path: Any) -> None:
        real_unlink(path)
        log.named({str(path): None})

    def then_cut(real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **named: Any) -> Any:
            result = real(*args, **named)
            log.cut()
            return result

        return call

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "open", then_cut(opened))
        patch.setattr(tempfile, "mkstemp", then_cut(made))
        patch.setattr(os, "replace", then_cut(replaced))
        patch.setattr(os, "unlink", then_cut(unlinked))
        patch.setattr(os, "fsync", then_cut(log.synced))
        yield log
