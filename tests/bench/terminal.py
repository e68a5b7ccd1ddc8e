"""A program in a pseudo-terminal of a given size, timed by the bytes it writes."""

import contextlib
import fcntl
import os
import pty
import re
import select
import signal
import struct
import termios
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).parents[2]

_ESCAPES = re.compile(rb"\x1b\[[0-9;?<>=]*[a-zA-Z]|\x1b[PX^_\]].*?(?:\x1b\\|\x07)|\x1b.")

IDLE_S = 0.06
"""Nothing written for so long: the repaint is over. Textual writes a frame in one go."""


class Terminal:
    """One program, what it wrote so far, and when."""

    def __init__(self, command: Sequence[str], columns: int, rows: int) -> None:
        self.started = time.perf_counter()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.chdir(ROOT)
            os.environ.update(TERM="xterm-256color", COLORTERM="truecolor")
            os.execvp(command[0], list(command))
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.seen = b""

    def read(self, timeout: float) -> bytes:
        """What it writes next, empty after `timeout` seconds of nothing."""
        ready, _, _ = select.select([self.fd], [], [], timeout)
        if not ready:
            return b""
        try:
            data = os.read(self.fd, 1 << 16)
        except OSError:
            return b""
        self.seen += data
        return data

    def until(self, word: str, timeout: float = 60.0) -> float:
        """Seconds from the start until this text has been written."""
        end = time.perf_counter() + timeout
        while time.perf_counter() < end:
            if word.encode() in _ESCAPES.sub(b"", self.seen):
                return time.perf_counter() - self.started
            self.read(0.5)
        raise TimeoutError(f"{word!r} was not painted in {timeout} s")

    def settle(self, quiet: float = 1.0, timeout: float = 120.0) -> None:
        """Wait until nothing is written for `quiet` seconds."""
        end = time.perf_counter() + timeout
        while time.perf_counter() < end:
            if not self.read(quiet):
                return

    def key(self, keys: bytes) -> tuple[float, bytes]:
        """Seconds from a key to the last byte of the repaint that follows, and the bytes."""
        pressed = time.perf_counter()
        os.write(self.fd, keys)
        last, painted = pressed, b""
        wait = 2.0
        while data := self.read(wait):
            last = time.perf_counter()
            painted += data
            wait = IDLE_S
        return last - pressed, painted

    def close(self) -> None:
        """End the program."""
        with contextlib.suppress(OSError):
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
        os.close(self.fd)


@contextlib.contextmanager
def terminal(command: Sequence[str], columns: int = 120, rows: int = 36) -> Iterator[Terminal]:
    """A program that is ended whatever happens."""
    running = Terminal(command, columns, rows)
    try:
        yield running
    finally:
        running.close()


def plain(data: bytes) -> str:
    """What was written without its escapes."""
    return _ESCAPES.sub(b"", data).decode(errors="replace")
