"""Every kind of broken file: a clear message each, all in one report, and nothing lost."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import pytest

from studio.core.model import LotRef, Project, Settings, Stash, Studio
from studio.core.naming import fresh_key
from studio.errors import SaveError
from studio.storage.disk import changed_on_disk
from studio.storage.kinds import MAX_BYTES, Kind, key_fault
from studio.storage.problems import FileProblem, Level, nearest
from studio.storage.read import Loaded, load_studio
from studio.storage.write import save_changes

BROKEN = Path(__file__).parents[1] / "data" / "broken"
EXPECTED = BROKEN / "expected.txt"

GOOD = """\
format = 1
name = "Good"
stage = "idea"
stitch = "single"
hook_mm = 9
size = { width = "150 cm", length = "180 cm" }
"""


def _told(problem: FileProblem) -> str:
    return f"{problem.level.value} | {problem} | {problem.found} | {problem.allowed}"


def test_one_report_tells_every_problem_of_every_file() -> None:
    """The table beside the files was read line by line before it was accepted."""
    loaded = load_studio(BROKEN)
    told = "".join(f"{_told(problem)}\n" for problem in loaded.problems)
    assert told == EXPECTED.read_text()


def test_what_is_whole_still_opens() -> None:
    loaded = load_studio(BROKEN)
    assert [p.key for p in loaded.studio.projects] == [
        "by-hand", "good", "lost", "owing", "same-name"
    ]  # fmt: skip
    assert list(loaded.studio.library.yarn) == ["bands", "good"]
    assert [s.key for s in loaded.studio.suppliers] == ["dear", "mill"]
    assert LotRef("good", "12", "L1") in {lot.ref for lot in loaded.studio.stash.lots}
    errors = {p.file for p in loaded.problems if p.level is Level.ERROR}
    assert loaded.reserved == errors
    assert loaded.studio.settings == Settings("broken")


def test_a_problem_names_its_line() -> None:
    """Each line that is told holds the key, or is the one the parser stopped at."""
    for problem in load_studio(BROKEN).problems:
        if problem.line is None or "not valid TOML" in problem.text:
            continue
        line = (BROKEN / problem.file).read_text().splitlines()[problem.line - 1]
        last = problem.key.rpartition(".")[2].partition("[")[0].strip('"')
        # An element of a list is told at its own line.
        element = problem.key.endswith("]") and line.startswith(("    ", "[["))
        assert last in line or "{" in line or element or line.startswith("["), problem


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    (tmp_path / "studio.toml").write_text('format = 1\nname = "S"\n')
    (tmp_path / "stitches").mkdir()
    (tmp_path / "stitches/single.toml").write_text('format = 1\nname = "Single"\n')
    (tmp_path / "projects").mkdir()
    (tmp_path / "projects/good.toml").write_text(GOOD)
    return tmp_path


def _one(folder: Path) -> tuple[Loaded, FileProblem]:
    loaded = load_studio(folder)
    assert [p.key for p in loaded.studio.projects] == ["good"]
    assert len(loaded.problems) == 1, [str(p) for p in loaded.problems]
    return loaded, loaded.problems[0]


def _cannot_be_overwritten(loaded: Loaded, file: str) -> None:
    """Nothing new may take the place of a file that could not be read."""
    key = file.rpartition("/")[2].removesuffix(".toml")
    new = replace(loaded.studio.projects[0], key=key, name="Another")
    after = replace(loaded.studio, projects=(*loaded.studio.projects, new))
    with pytest.raises(SaveError, match="not overwritten"):
        save_changes(loaded.folder, loaded.studio, after, loaded.stamps)
    assert changed_on_disk(loaded.folder, loaded.stamps) == ()


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"", None, "The file is empty"),
        (b" \n\n", None, "The file is empty"),
        (b'format = 1\nname = "caf\xe9"\n', 2, "not UTF-8"),
        ('format = 1\nname = "a"\n'.encode("utf-16"), 1, "UTF-16"),
        (b"format = 1\nrows = " + b"9" * 5000, None, "a number in it is too long"),
        (b"format = 1\nhook_mm = 1e99999999999999999999\n", None, "a number in it is too long"),
        (b"format = 1\nx = " + b"[" * 100_000, None, "nested too deeply"),
        (b"format = 1\n\x00\n", 2, "not valid TOML"),
        (b'format = 1\nname = "a', 2, "not valid TOML"),
        (b"format = 99\nshape = 'round'", 1, "format 99"),
        (b"format = true\n", 1, '"format" must be a whole number'),
        (b"name = 'a'\n", None, "write format = 1"),
    ],
)
def test_bytes_that_are_no_project(studio: Path, data: bytes, line: int | None, words: str) -> None:
    path = studio / "projects/bad.toml"
    path.write_bytes(data)
    loaded = load_studio(studio)
    mine = [p for p in loaded.problems if p.file == "projects/bad.toml"]
    assert len(mine) == len(loaded.problems)
    assert any(words in p.text and p.line == line for p in mine), [str(p) for p in mine]
    assert [p.key for p in loaded.studio.projects] == ["good"]
    _cannot_be_overwritten(loaded, "projects/bad.toml")
    assert path.read_bytes() == data


def test_a_byte_order_mark_is_read_and_kept(studio: Path) -> None:
    path = studio / "projects/good.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.encode())
    loaded = load_studio(studio)
    assert loaded.problems == ()
    taller = replace(loaded.studio.projects[0], rows_done=4)
    save_changes(studio, loaded.studio, replace(loaded.studio, projects=(taller,)), loaded.stamps)
    assert path.read_bytes().startswith(b"\xef\xbb\xbfformat = 1")
    assert load_studio(studio).studio.projects == (taller,)


def test_a_huge_file_is_refused_by_its_size(studio: Path) -> None:
    """50 MB that are not there: reading them would be seen in the memory, and in the time."""
    path = studio / "projects/huge.toml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    loaded, problem = _one(studio)
    assert problem.found == "50.0 MB"
    assert problem.allowed == f"at most {MAX_BYTES // 10**6} MB"
    _cannot_be_overwritten(loaded, "projects/huge.toml")


def test_a_folder_in_place_of_a_file(studio: Path) -> None:
    (studio / "projects/box.toml").mkdir()
    loaded, problem = _one(studio)
    assert problem.found == "a folder"
    _cannot_be_overwritten(loaded, "projects/box.toml")


def test_a_pipe_in_place_of_a_file_is_not_waited_for(studio: Path) -> None:
    os.mkfifo(studio / "projects/pipe.toml")
    _, problem = _one(studio)
    assert problem.found == "no plain file"


def test_a_link_to_itself_and_one_to_nothing(studio: Path) -> None:
    (studio / "projects/loop.toml").symlink_to("loop.toml")
    (studio / "projects/lost.toml").symlink_to("nowhere.toml")
    loaded = load_studio(studio)
    assert [p.file for p in loaded.problems] == ["projects/loop.toml", "projects/lost.toml"]
    assert all("cannot be read" in p.text for p in loaded.problems)
    _cannot_be_overwritten(loaded, "projects/loop.toml")


def test_a_folder_link_that_leads_back_up_is_not_followed(studio: Path) -> None:
    (studio / "projects/again").symlink_to(studio, target_is_directory=True)
    (studio / "projects/again.toml").symlink_to(studio, target_is_directory=True)
    loaded, problem = _one(studio)
    assert problem.file == "projects/again.toml"
    assert len(loaded.studio.projects) == 1


def test_a_folder_that_is_a_link_to_itself(studio: Path) -> None:
    (studio / "yarns").symlink_to("yarns")
    _, problem = _one(studio)
    assert problem.file == "yarns"
    assert "cannot be read" in problem.text


def test_a_file_in_place_of_a_folder(studio: Path) -> None:
    (studio / "yarns").write_text("not a folder")
    _, problem = _one(studio)
    assert "not a directory" in problem.text


def test_a_file_that_may_not_be_read(studio: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The right to read is taken away by force, since the tests may run as root."""
    (studio / "projects/secret.toml").write_text(GOOD)
    real = Path.open

    def deny(path: Path, *args: object, **named: object) -> object:
        if path.name == "secret.toml":
            raise PermissionError(13, "Permission denied")
        return real(path, *args, **named)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", deny)
    loaded, problem = _one(studio)
    assert problem.text == "It cannot be read: permission denied."
    _cannot_be_overwritten(loaded, "projects/secret.toml")


def test_no_settings(studio: Path) -> None:
    (studio / "studio.toml").unlink()
    loaded, problem = _one(studio)
    assert problem.file == "studio.toml"
    assert "There is no studio.toml" in problem.text
    assert loaded.studio.settings.name == studio.name


def test_an_empty_folder_opens_as_an_empty_studio(tmp_path: Path) -> None:
    assert load_studio(tmp_path / "nowhere").studio.projects == ()
    assert load_studio(tmp_path).studio.projects == ()


def test_broken_settings_are_not_overwritten(studio: Path) -> None:
    path = studio / "studio.toml"
    path.write_text('format = 1\nname = "S"\ncurency = "EUR"\n')
    loaded, problem = _one(studio)
    assert '"curency" is not a key here; did you mean "currency"?' in problem.text
    after = replace(loaded.studio, settings=Settings("T"))
    with pytest.raises(SaveError, match=r"studio\.toml could not be read"):
        save_changes(studio, loaded.studio, after, loaded.stamps)


def test_misspelled_folders_and_stray_files_are_told(studio: Path) -> None:
    (studio / "project").mkdir()
    (studio / "project/one.toml").write_text(GOOD)
    (studio / "stuido.toml").write_text("")
    (studio / "notes").mkdir()
    loaded = load_studio(studio)
    assert [(p.file, p.level) for p in loaded.problems] == [
        ("project", Level.WARNING),
        ("stuido.toml", Level.WARNING),
    ]
    assert 'did you mean "projects"?' in loaded.problems[0].text
    assert loaded.reserved == frozenset()


def test_a_mended_file_is_noticed_and_opens(studio: Path) -> None:
    path = studio / "projects/bad.toml"
    path.write_text("format = 1\n")
    loaded = load_studio(studio)
    path.write_text(GOOD.replace("Good", "Mended"))
    assert changed_on_disk(studio, loaded.stamps) == ("projects/bad.toml",)
    assert load_studio(studio).problems == ()


def test_progress_is_told_file_by_file(studio: Path) -> None:
    told: list[tuple[int, int]] = []
    load_studio(studio, lambda done, of: told.append((done, of)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_what_the_app_makes_is_held_to_the_same_rules(studio: Path) -> None:
    """A piece that would not open again is not written, and the message says why."""
    loaded = load_studio(studio)
    good = loaded.studio.projects[0]
    bad = replace(good, key="bad", name="Bad", hook_mm=-good.hook_mm)
    after = replace(loaded.studio, projects=(good, bad))
    with pytest.raises(SaveError, match=r"would not open again\. hook_mm: .*more than 0"):
        save_changes(studio, loaded.studio, after, loaded.stamps)
    assert not (studio / "projects/bad.toml").exists()


@pytest.mark.parametrize("key", ["", ".hidden", "a/b", "../up", "con", "a\x00", " a", "é" * 70])
def test_keys_that_cannot_name_a_file(studio: Path, key: str) -> None:
    assert key_fault(key)
    loaded = load_studio(studio)
    new: Project = replace(loaded.studio.projects[0], key=key, name="New")
    after = replace(loaded.studio, projects=(*loaded.studio.projects, new))
    with pytest.raises(SaveError, match="cannot be the name of a file"):
        save_changes(studio, loaded.studio, after, loaded.stamps)


def test_a_key_is_made_from_a_name() -> None:
    assert fresh_key("Harbour throw, No. 2", (), "piece") == "harbour-throw-no-2"
    assert fresh_key("Größe Ärmel", (), "piece") == "grosse-armel"
    assert fresh_key("Throw", {"throw", "throw-2"}, "piece") == "throw-3"
    assert fresh_key("編み物", (), "piece") == "piece"
    assert fresh_key("CON", (), "piece") == "con-1"


@pytest.mark.parametrize(
    "name", ["con", "Aux.", "LPT9", "..", ".hidden", "a/b", "x" * 500, "", "🧶"]
)
def test_every_name_makes_a_key_that_can_name_a_file(name: str) -> None:
    taken = set[str]()
    for _ in range(3):
        key = fresh_key(name, taken, "piece")
        assert key not in taken
        assert key_fault(key) is None
        taken.add(key)


def test_the_nearest_name_knows_capitals() -> None:
    assert nearest("ROWS", ["rows", "slot"]) == "rows"
    assert nearest("zebra", ["rows", "slot"]) is None


def test_taken_keys_hold_broken_files_too(studio: Path) -> None:
    (studio / "projects/bad.toml").write_text("x")
    assert load_studio(studio).taken(Kind.PROJECT) == {"good", "bad"}


def test_an_empty_studio_has_no_problems(tmp_path: Path) -> None:
    stamps = save_changes(tmp_path, None, Studio(Settings("S"), stash=Stash()), {})
    assert load_studio(tmp_path).problems == ()
    assert set(stamps) == {"studio.toml"}
