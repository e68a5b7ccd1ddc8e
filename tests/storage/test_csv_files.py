"""Spreadsheets in any encoding that programs write, and the columns kept for the next time."""

from __future__ import annotations

from pathlib import Path

import pytest

from studio.core.spreadsheet import Columns, DateOrder, TableError, read_table
from studio.errors import SaveError
from studio.storage.csv_files import keep_columns, load_columns, read_sheet_text
from studio.storage.kinds import MAX_BYTES
from studio.storage.read import load_studio

TEXT = "Qualität;Farbe;Knäuel\r\nFenlight;Löß;3,5\r\n"


@pytest.mark.parametrize(
    ("encoding", "said"),
    [
        ("utf-8", "UTF-8"),
        ("utf-8-sig", "UTF-8"),
        ("utf-16", "UTF-16"),
        ("utf-16-le", "UTF-16"),
        ("utf-16-be", "UTF-16"),
        ("utf-32", "UTF-32"),
        ("cp1252", "Windows-1252"),
    ],
)
def test_every_usual_encoding_is_read(tmp_path: Path, encoding: str, said: str) -> None:
    path = tmp_path / "stash.csv"
    path.write_bytes(TEXT.encode(encoding))
    found = read_sheet_text(path)
    assert found.encoding == said
    assert found.text.removeprefix("\ufeff") == TEXT
    assert read_table(found.text).headers == ("Qualität", "Farbe", "Knäuel")
    assert bool(found.doubt) == (said == "Windows-1252")
    if found.doubt:
        assert "Windows-1252" in found.doubt
        assert "Qualität" in found.doubt


def test_a_mark_is_left_so_that_the_form_knows_of_it(tmp_path: Path) -> None:
    path = tmp_path / "stash.csv"
    path.write_bytes(TEXT.encode("utf-8-sig"))
    assert read_table(read_sheet_text(path).text).form.bom


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04 a workbook", "export it as CSV first"),
        (b"a;b\n\x81;\x8d\n", r"about line 2, is not UTF-8, nor Windows-1252"),
        (b"\xff\xfea\x00;", "is not UTF-16 text"),
    ],
)
def test_what_is_no_text_is_told(tmp_path: Path, data: bytes, words: str) -> None:
    (tmp_path / "x.csv").write_bytes(data)
    with pytest.raises(TableError, match=words):
        read_sheet_text(tmp_path / "x.csv")


def test_files_that_are_none_or_too_large_are_told(tmp_path: Path) -> None:
    with pytest.raises(TableError, match=r"x\.csv: It cannot be read: no such file"):
        read_sheet_text(tmp_path / "x.csv")
    with pytest.raises(TableError, match="a CSV file is expected here"):
        read_sheet_text(tmp_path)
    with (tmp_path / "big.csv").open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    with pytest.raises(TableError, match="5 MB are read"):
        read_sheet_text(tmp_path / "big.csv")


def test_columns_are_kept_and_comments_stay(tmp_path: Path) -> None:
    assert load_columns(tmp_path) == ({}, ())
    stash = Columns((("yarn", "Qualität"), ("balls", "Knäuel")), DateOrder.DAY_FIRST)
    keep_columns(tmp_path, "stash", stash)
    assert load_columns(tmp_path) == ({"stash": stash}, ())
    file = tmp_path / "columns.toml"
    file.write_text("# from the old book\n" + file.read_text())
    prices = Columns((("price", "Preis"),))
    keep_columns(tmp_path, "prices", prices)
    keep_columns(tmp_path, "stash", Columns((("yarn", "Garn"),)))
    found, problems = load_columns(tmp_path)
    assert problems == ()
    assert found == {"stash": Columns((("yarn", "Garn"),)), "prices": prices}
    assert file.read_text().startswith("# from the old book\n")
    assert [p.name for p in tmp_path.iterdir()] == ["columns.toml"]


def test_a_faulty_columns_file_is_told_and_not_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "columns.toml"
    text = 'format = 1\n[stash]\ndates = "day frist"\n'
    file.write_text(text)
    found, (problem,) = load_columns(tmp_path)
    assert found == {}
    assert (problem.file, problem.line) == ("columns.toml", 3)
    assert '"day first"' in problem.allowed
    with pytest.raises(SaveError, match="could not be read, so it is not overwritten"):
        keep_columns(tmp_path, "stash", Columns(()))
    assert file.read_text() == text


def test_columns_are_no_part_of_the_studio(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text('format = 1\nname = "S"\n')
    keep_columns(tmp_path, "stash", Columns((("yarn", "Garn"),)))
    loaded = load_studio(tmp_path)
    assert loaded.problems == ()
    assert set(loaded.stamps) == {"studio.toml"}
