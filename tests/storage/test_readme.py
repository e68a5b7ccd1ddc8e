"""The examples of files in the README are files: they open, and say what they seem to say."""

from __future__ import annotations

import re
import tomllib
from decimal import Decimal
from pathlib import Path

import pytest

from studio.storage.kinds import FOLDERS, SINGLE_FILES, Kind
from studio.storage.read import load_studio, parse
from studio.storage.records import schema
from studio.storage.render import new_text

README = (Path(__file__).parents[2] / "README.md").read_text()
_SECTION = re.search(r"^## Files\n(.*?)(?=^## )", README, re.DOTALL | re.MULTILINE)
assert _SECTION is not None
_PARTS = re.split(r"^### ", _SECTION[1], flags=re.MULTILINE)[1:]
EXAMPLES = {
    part.split(maxsplit=1)[0]: found[1]
    for part in _PARTS
    if (found := re.search(r"^```toml\n(.*?)^```$", part, re.DOTALL | re.MULTILINE))
}


def _kind(file: str) -> Kind:
    folder = file.rpartition("/")[0]
    places = {name: kind for kind, name in FOLDERS.items()}
    return places[folder] if folder else next(k for k, f in SINGLE_FILES.items() if f == file)


def test_every_kind_of_file_has_an_example() -> None:
    assert {_kind(file) for file in EXAMPLES} == set(Kind)
    assert _SECTION is not None
    assert len(EXAMPLES) == _SECTION[1].count("```toml") == _SECTION[1].count("\n### ")


@pytest.mark.parametrize("file", EXAMPLES)
def test_an_example_opens_and_is_written_back(file: str) -> None:
    kind = _kind(file)
    thing, _, problems = parse(kind, file, EXAMPLES[file].encode())
    assert [str(p) for p in problems] == []
    assert thing is not None
    assert parse(kind, file, new_text(thing).encode())[0] == thing


def test_the_examples_make_one_studio(tmp_path: Path) -> None:
    """Together they refer to nothing that is not there, but for what only the reader would have."""
    for file, text in EXAMPLES.items():
        path = tmp_path / file
        path.parent.mkdir(exist_ok=True)
        path.write_text(text)
    told = [f"{p.file}: {p.text}" for p in load_studio(tmp_path).problems]
    assert told == [
        'yarns/meadow-bulky.toml: There is no yarn "orchard-bulky"; did you mean "meadow-bulky"?',
    ]


@pytest.mark.parametrize("file", EXAMPLES)
def test_an_example_shows_every_key(file: str) -> None:
    """A key that no example shows would be found only in the schema."""
    raw = tomllib.loads(EXAMPLES[file], parse_float=Decimal)
    keys = set(schema()[_kind(file).value]["properties"])
    shown = set(re.findall(r"^#? ?([a-z_]+) ?=", EXAMPLES[file], re.M)) | set(raw)
    assert keys - shown <= {"prices", "orders"}
