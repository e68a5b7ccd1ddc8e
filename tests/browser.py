"""A real browser without a window: a page is seen, and printed, as a customer does."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome")
"""Programs that take the same words; STRIPEWRIGHT_BROWSER names another."""

LONGEST_S = 120


def browser() -> str | None:
    """The browser of this machine, None where there is none that can be asked."""
    named = os.environ.get("STRIPEWRIGHT_BROWSER")
    return shutil.which(named) if named else next(filter(None, map(shutil.which, NAMES)), None)


def _ask(*words: str) -> None:
    program = browser()
    assert program is not None
    with tempfile.TemporaryDirectory() as profile:
        # A test may run as root, where a browser's own fence refuses to work; the page is ours.
        subprocess.run(
            [program, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
             "--disable-dev-shm-usage", f"--user-data-dir={profile}", *words],
            check=True, capture_output=True, timeout=LONGEST_S,
        )  # fmt: skip


def photograph(page: Path, out: Path, width: int, height: int) -> None:
    """What the page looks like in a window of so many pixels, as a PNG."""
    _ask(f"--screenshot={out}", f"--window-size={width},{height}", page.as_uri())


def print_out(page: Path, out: Path) -> None:
    """The page as it comes out of the printer, as a PDF."""
    _ask(f"--print-to-pdf={out}", "--no-pdf-header-footer", page.as_uri())
