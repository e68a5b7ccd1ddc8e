"""A disk that fails, or a program that is killed, at its nth call to the system."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import IO, Any, cast

import pytest

CALLS = ("replace", "rename", "fchmod", "mkdir", "unlink", "open", "scandir")


class KilledError(BaseException):
    """The program has ended here: nothing that it would have done comes to pass."""


class Faults:
    """Fails at its nth call (`code`), ends the program at the call `killed`, counts the calls."""

    def __init__(self, at: int = -1, code: int = 0, killed: int | None = None) -> None:
        self.calls: list[str] = []
        self.at = at
        self.code = code
        self.killed = killed

    def step(self, name: str) -> None:
        self.calls.append(name)
        if self.killed is not None and len(self.calls) - 1 >= self.killed:
            raise KilledError
        if len(self.calls) - 1 == self.at:
            raise OSError(self.code, os.strerror(self.code))

    def wrap(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **named: Any) -> Any:
            self.step(name)
            return real(*args, **named)

        return call


class _HalfWriting:
    """A file that takes half of what it is given before the disk is full."""

    def __init__(self, file: IO[bytes], faults: Faults) -> None:
        self.file = file
        self.faults = faults

    def __enter__(self) -> _HalfWriting:
        return self

    def __exit__(self, *error: object) -> None:
        self.file.close()

    def write(self, data: bytes) -> int:
        try:
            self.faults.step("write")
        except (OSError, KilledError):
            self.file.write(data[: len(data) // 2])
            self.file.flush()
            raise
        return self.file.write(data)

    def flush(self) -> None:
        self.faults.step("flush")
        self.file.flush()

    def fileno(self) -> int:
        return self.file.fileno()


@contextmanager
def failing(at: int, code: int = 0, killed: int | None = None) -> Iterator[Faults]:
    """Count the calls to the system; the one `at` fails, and none from `killed` on is made."""
    faults = Faults(at, code, killed)
    fdopen = os.fdopen
    with pytest.MonkeyPatch.context() as patch:
        for name in CALLS:
            patch.setattr(os, name, faults.wrap(name, getattr(os, name)))
        # Only whether it fails matters here, and to wait for the disk each time takes long.
        patch.setattr(os, "fsync", faults.wrap("fsync", lambda _handle: None))
        patch.setattr(tempfile, "mkstemp", faults.wrap("mkstemp", tempfile.mkstemp))
        patch.setattr(os, "fdopen", lambda *a: _HalfWriting(cast(IO[bytes], fdopen(*a)), faults))
        yield faults
