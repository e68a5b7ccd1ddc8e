"""Notices a second program that has the same studio open: a warning, never a refusal.

The system lets the lock go when the program ends, however it ends, so no lock is left behind.
"""

from __future__ import annotations

import os
import socket
from contextlib import suppress
from pathlib import Path
from types import TracebackType

LOCK_FILE = ".open"


class StudioLock:
    """Held while a studio is open; `other` names the program that held it first, if any."""

    def __init__(self, folder: Path) -> None:
        """Try to take the lock of this folder; a folder that cannot be written has none."""
        self.other: str | None = None
        self._handle: int | None = None
        with suppress(OSError):
            self._handle = os.open(folder / LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o644)
        if self._handle is not None and not _taken(self._handle):
            said = os.pread(self._handle, 200, 0).decode(errors="replace").strip()
            self.other = said or "another program"
            self.release()
        elif self._handle is not None:
            with suppress(OSError):
                os.ftruncate(self._handle, 0)
                os.pwrite(self._handle, f"process {os.getpid()} on {_host()}\n".encode(), 0)

    def release(self) -> None:
        """Let the lock go; harmless where it is not held."""
        if self._handle is not None:
            os.close(self._handle)
            self._handle = None

    def __enter__(self) -> StudioLock:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()


def _host() -> str:
    return socket.gethostname() or "this machine"


def _taken(handle: int) -> bool:
    """Whether the lock is ours now; true where the system or the file system has no locks."""
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True
