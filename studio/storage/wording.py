"""The file of the maker's own wording: wording.txt in the studio's folder, if she has one."""

from __future__ import annotations

import re
from pathlib import Path

from studio.papers.template import DEFAULT, TemplateError, Wording, read_wording
from studio.storage.disk import RefusedFileError, read_bytes
from studio.storage.kinds import WORDING_FILE
from studio.storage.papers_out import write_paper
from studio.storage.problems import FileProblem, shorten

_AT_LINE = re.compile(r"Line (\d+): (.*)", re.DOTALL)


def load_wording(path: Path) -> Wording:
    """The wording of a file; raises TemplateError, which names the file and the line.

    A paper is never printed in the default words where hers cannot be read.
    """
    try:
        return read_wording(_text(path))
    except TemplateError as error:
        text = error.text[:1].lower() + error.text[1:]
        raise TemplateError(f"{path.name}, {text}") from error


def own_wording(folder: Path) -> Wording:
    """The wording of a studio: her file's, or the default where she has none."""
    path = folder / WORDING_FILE
    return load_wording(path) if path.exists() else read_wording(DEFAULT)


def begin_wording(folder: Path) -> Path:
    """Write the default wording for her to change; raises FileThereError where she has hers."""
    return write_paper(folder / WORDING_FILE, DEFAULT)


def wording_problem(folder: Path) -> FileProblem | None:
    """What is wrong with the wording of a studio, for the report on its files."""
    text = ""
    try:
        text = _text(folder / WORDING_FILE)
        read_wording(text)
    except TemplateError as error:
        match = _AT_LINE.fullmatch(error.text)
        if match is None:
            return FileProblem(WORDING_FILE, "", None, "no wording", "UTF-8 text", error.text)
        line, said = int(match[1]), match[2]
        found = shorten(text.splitlines()[line - 1].strip()) if text else "other bytes"
        allowed = "sections in square brackets, and fields that are known"
        return FileProblem(WORDING_FILE, "", line, found, allowed, said[:1].upper() + said[1:])
    return None


def _text(path: Path) -> str:
    try:
        data, _ = read_bytes(path, "a text file")
    except RefusedFileError as error:
        raise TemplateError(f"{error.text}") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise TemplateError(
            f"Line {line}: this is not UTF-8 text; save it again as UTF-8."
        ) from error
