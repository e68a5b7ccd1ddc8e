"""Papers written whole and never over a file unasked; her wording read with clear words."""

from __future__ import annotations

import errno
import os
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from studio.core.buying.papers import OrderPaper
from studio.errors import SaveError
from studio.papers.template import DEFAULT, SECTIONS, TemplateError
from studio.storage.order_papers import PaperKind, write_order_papers
from studio.storage.papers_out import FileThereError, write_paper
from studio.storage.read import load_studio
from studio.storage.wording import begin_wording, load_wording, own_wording


def test_a_paper_is_written_and_not_over_another(tmp_path: Path) -> None:
    path = tmp_path / "papers" / "quote.pdf"
    assert write_paper(path, b"%PDF\r\n\x00") == path
    assert path.read_bytes() == b"%PDF\r\n\x00"
    with pytest.raises(FileThereError, match="is there already"):
        write_paper(path, b"other")
    assert path.read_bytes() == b"%PDF\r\n\x00"
    write_paper(path, "a, b\r\nTöve\r\n", overwrite=True)
    assert path.read_bytes() == "a, b\r\nTöve\r\n".encode()
    assert [p.name for p in path.parent.iterdir()] == ["quote.pdf"]


def test_two_suppliers_of_one_key_do_not_overwrite_one_another(tmp_path: Path) -> None:
    papers = [
        OrderPaper("Studio", name, date(2027, 3, 4), "EUR", (), Decimal(0), Decimal(0))
        for name in ("毛糸店", "編物屋")
    ]
    first, second = write_order_papers(tmp_path, papers, [PaperKind.TEXT])
    assert "毛糸店" in first.read_text(encoding="utf-8")
    assert "編物屋" in second.read_text(encoding="utf-8")


def test_a_file_that_comes_in_between_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "quote.md"
    path.write_text("hers")
    monkeypatch.setattr(os.path, "lexists", lambda _: False)
    with pytest.raises(FileThereError):
        write_paper(path, "mine")
    assert path.read_text() == "hers"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_file_system_without_links_will_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refused)
    write_paper(tmp_path / "quote.md", "mine")
    assert (tmp_path / "quote.md").read_text() == "mine"
    with pytest.raises(FileThereError):
        write_paper(tmp_path / "quote.md", "again")
    assert len(list(tmp_path.iterdir())) == 1


def test_a_full_disk_leaves_the_old_paper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "quote.md"
    write_paper(path, "old")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SaveError, match="no space left"):
        write_paper(path, "new", overwrite=True)
    assert path.read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    with pytest.raises(SaveError, match="could not be written"):
        write_paper(tmp_path, "x", overwrite=True)


def test_her_wording_begins_with_the_default_and_is_used(tmp_path: Path) -> None:
    assert set(own_wording(tmp_path).sections) == set(SECTIONS)
    path = begin_wording(tmp_path)
    assert path.read_text() == DEFAULT
    with pytest.raises(FileThereError):
        begin_wording(tmp_path)
    path.write_text("\ufeff[signature]\nFern, $studio\n")
    assert own_wording(tmp_path).sections["signature"] == "Fern, $studio"


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"# mine\n[terms]\nPay $depsoit\n", 3, "no field '$depsoit'. Did you mean 'deposit'?"),
        (b"[signatur]\n", 1, "no section [signatur]. Did you mean 'signature'?"),
        (b"Dear all\n", 1, "text before the first section"),
        (b"[terms]\ncaf\xe9\n", 2, "not UTF-8"),
    ],
)
def test_a_faulty_wording_names_file_and_line(
    tmp_path: Path, data: bytes, line: int, words: str
) -> None:
    (tmp_path / "studio.toml").write_text('format = 1\nname = "S"\n')
    path = tmp_path / "wording.txt"
    path.write_bytes(data)
    with pytest.raises(TemplateError) as caught:
        own_wording(tmp_path)
    assert caught.value.text.startswith(f"wording.txt, line {line}: ")
    assert words in caught.value.text
    (problem,) = load_studio(tmp_path).problems
    assert (problem.file, problem.line) == ("wording.txt", line)
    assert words.lower() in problem.text.lower()


def test_wording_that_is_no_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(TemplateError, match=r"nowhere\.txt, it cannot be read: no such file"):
        load_wording(tmp_path / "nowhere.txt")
    (tmp_path / "wording.txt").mkdir()
    with pytest.raises(TemplateError, match="a text file is expected"):
        own_wording(tmp_path)
