"""Where files that leave the studio go, and how a place is typed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from studio.storage.kinds import PAPERS_FOLDER

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


def papers_folder(app: StripewrightApp) -> Path:
    """Where order papers are kept: in the studio's own folder for papers."""
    return (app.workshop.folder or app.folder or Path()) / PAPERS_FOLDER


def place_check(entry: str) -> Path:
    """A folder or file as typed; '~' is her home."""
    if not entry.strip():
        raise ValueError("The place is still to be filled in.")
    return Path(entry.strip()).expanduser()


def file_check(entry: str) -> Path:
    """A file that is there."""
    path = place_check(entry)
    if not path.is_file():
        raise ValueError(f"There is no file {path}.")
    return path
