"""A save is whole or not at all, keeps what was there before, and notices other hands."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import stat
import subprocess
import sys
import time
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from studio.core.model import (
    Batch,
    Fibre,
    Length,
    Library,
    Lot,
    Project,
    Settings,
    Shade,
    Slot,
    Stage,
    Stash,
    Stitch,
    Stripe,
    Studio,
    Yarn,
)
from studio.errors import ChangedOnDiskError, SaveError
from studio.storage import atomic
from studio.storage.disk import Stamp, changed_on_disk
from studio.storage.read import load_studio
from studio.storage.write import PartlySavedError, save_changes
from tests.storage.faults import failing

_METRE = Length(Decimal(100))
PIECE = Project(
    "harbour",
    "Harbour throw",
    Stage.IDEA,
    "single",
    Decimal(9),
    _METRE,
    _METRE,
    (Slot("A", "meadow", "12"),),
    (Stripe("A", 6), Stripe("A", 8)),
)
YARN = Yarn(
    "meadow",
    "Meadow",
    5,
    (Fibre("wool", Decimal(100)),),
    Decimal(100),
    (Shade("12", "Rust", ("#a4512a",)),),
)
BEFORE = Studio(
    Settings("S"),
    Library((YARN,), (Stitch("single", "Single"),)),
    Stash((Lot("meadow", "12", "4471", (Batch(3),)),)),
    (PIECE, replace(PIECE, key="meadow-throw", name="Meadow throw")),
)
AFTER = replace(
    BEFORE,
    settings=Settings("T"),
    stash=Stash((Lot("meadow", "12", "4471", (Batch(2),)),)),
    projects=(replace(PIECE, rows_done=4), replace(PIECE, key="new", name="New throw")),
)
"""Three files changed, one new, one gone."""


def _files(folder: Path) -> dict[str, bytes]:
    """All that is not history, nor the list of a save."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and ".history" not in path.parts and path.name != ".saving"
    }


def _history(folder: Path, file: str) -> list[bytes]:
    return [p.read_bytes() for p in sorted((folder / ".history" / file).glob("*"))]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("written")
    save_changes(folder, None, BEFORE, {})
    return folder


@pytest.fixture
def studio(tmp_path: Path, written: Path) -> Path:
    shutil.copytree(written, tmp_path, dirs_exist_ok=True)
    return tmp_path


def test_a_save_writes_what_changed_and_keeps_what_was(studio: Path) -> None:
    loaded = load_studio(studio)
    old = _files(studio)
    stamps = save_changes(studio, BEFORE, AFTER, loaded.stamps)
    again = load_studio(studio)
    assert again.studio == AFTER
    assert again.stamps == stamps
    new = _files(studio)
    changed = {"studio.toml", "stash/meadow.toml", "projects/harbour.toml"}
    assert {file for file in new if new[file] != old.get(file)} == {*changed, "projects/new.toml"}
    for file in (*changed, "projects/meadow-throw.toml"):
        assert _history(studio, file) == [old[file]]
    assert "projects/meadow-throw.toml" not in new
    assert not [f for f in new if f.endswith(".tmp")]


def test_versions_are_capped_but_yesterdays_is_kept(tmp_path: Path) -> None:
    folder = tmp_path / "v"
    folder.mkdir()
    (folder / "2024-01-01T10-00-00.000000Z.toml").write_text("yesterday")
    (folder / "2024-01-02T10-00-00.000000Z.toml").write_text("this morning")
    for second in range(40):
        (folder / f"2024-01-02T18-00-{second:02}.000000Z.toml").write_text(str(second))
        atomic.thin_out(folder)
    kept = [p.read_text() for p in sorted(folder.glob("*.toml"))]
    assert len(kept) == atomic.KEPT_VERSIONS
    assert kept[:2] == ["yesterday", "this morning"]
    assert kept[-10:] == [str(second) for second in range(30, 40)]


def test_many_saves_keep_twenty_versions(studio: Path) -> None:
    stamps = load_studio(studio).stamps
    now = BEFORE
    for rows in range(1, 25):
        piece = replace(PIECE, rows_done=rows)
        after = replace(now, projects=(piece, *now.projects[1:]))
        stamps = save_changes(studio, now, after, stamps)
        now = after
    assert len(_history(studio, "projects/harbour.toml")) == atomic.KEPT_VERSIONS
    assert load_studio(studio).studio == now


def test_a_used_up_yarn_keeps_its_stash_file_with_its_notes(studio: Path) -> None:
    path = studio / "stash/meadow.toml"
    path.write_text("# by the window\n" + path.read_text())
    loaded = load_studio(studio)
    empty = replace(BEFORE, stash=Stash())
    stamps = save_changes(studio, BEFORE, empty, loaded.stamps)
    assert path.read_text() == "# by the window\nformat = 1\n"
    gone = replace(empty, library=replace(BEFORE.library, yarns=()))
    save_changes(studio, empty, gone, stamps)
    assert load_studio(studio).studio == gone
    assert not (studio / "yarns/meadow.toml").exists()


# Other hands


def _edit(path: Path) -> None:
    path.write_text(path.read_text() + "# by hand\n")


@pytest.mark.parametrize(
    "file",
    ["studio.toml", "stash/meadow.toml", "projects/harbour.toml", "projects/meadow-throw.toml"],
)
def test_a_file_changed_by_other_hands_stops_the_save(studio: Path, file: str) -> None:
    stamps = load_studio(studio).stamps
    _edit(studio / file)
    old = _files(studio)
    assert changed_on_disk(studio, stamps) == (file,)
    with pytest.raises(ChangedOnDiskError, match=file):
        save_changes(studio, BEFORE, AFTER, stamps)
    assert _files(studio) == old
    assert not (studio / ".history").exists()


def test_a_file_removed_by_other_hands_is_not_brought_back(studio: Path) -> None:
    stamps = load_studio(studio).stamps
    (studio / "projects/harbour.toml").unlink()
    assert changed_on_disk(studio, stamps) == ("projects/harbour.toml",)
    old = _files(studio)
    with pytest.raises(ChangedOnDiskError, match=r"harbour\.toml was removed"):
        save_changes(studio, BEFORE, AFTER, stamps)
    assert _files(studio) == old


def test_a_file_that_turned_up_is_not_overwritten(studio: Path) -> None:
    stamps = load_studio(studio).stamps
    (studio / "projects/new.toml").write_text("hers")
    assert changed_on_disk(studio, stamps) == ("projects/new.toml",)
    with pytest.raises(ChangedOnDiskError, match=r"already a file projects/new\.toml"):
        save_changes(studio, BEFORE, AFTER, stamps)
    assert (studio / "projects/new.toml").read_text() == "hers"


def test_a_file_changed_while_saving_is_not_overwritten(
    studio: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stamps = load_studio(studio).stamps
    real = atomic.keep_version

    def slow(folder: Path, file: str, data: bytes) -> Path:
        place = real(folder, file, data)
        if file == "studio.toml":
            _edit(studio / "projects/harbour.toml")
        return place

    monkeypatch.setattr("studio.storage.write.keep_version", slow)
    with pytest.raises(ChangedOnDiskError, match="just now"):
        save_changes(studio, BEFORE, AFTER, stamps)
    assert "# by hand" in (studio / "projects/harbour.toml").read_text()
    assert 'name = "S"' in (studio / "studio.toml").read_text()
    assert not [f for f in _files(studio) if f.endswith(".tmp")]


def test_a_touched_file_is_not_a_changed_one(studio: Path) -> None:
    stamps = load_studio(studio).stamps
    os.utime(studio / "studio.toml", (1, 1))
    assert changed_on_disk(studio, stamps) == ()


# Links and permissions


def test_a_linked_file_stays_a_link(studio: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    target = tmp_path_factory.mktemp("cloud") / "real.toml"
    link = studio / "projects/harbour.toml"
    link.rename(target)
    link.symlink_to(target)
    stamps = load_studio(studio).stamps
    save_changes(studio, BEFORE, AFTER, stamps)
    assert link.is_symlink()
    assert b"rows_done = 4" in target.read_bytes()
    assert load_studio(studio).studio == AFTER


def test_a_removed_link_leaves_its_target(
    studio: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    target = tmp_path_factory.mktemp("cloud") / "real.toml"
    link = studio / "projects/meadow-throw.toml"
    link.rename(target)
    link.symlink_to(target)
    save_changes(studio, BEFORE, AFTER, load_studio(studio).stamps)
    assert not link.is_symlink()
    assert _history(studio, "projects/meadow-throw.toml") == [target.read_bytes()]


def test_permissions_are_kept(studio: Path) -> None:
    path = studio / "projects/harbour.toml"
    path.chmod(0o640)
    save_changes(studio, BEFORE, AFTER, load_studio(studio).stamps)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


@pytest.mark.parametrize("file", ["projects/harbour.toml", "projects/meadow-throw.toml"])
def test_a_read_only_file_is_left_alone(studio: Path, file: str) -> None:
    stamps = load_studio(studio).stamps
    (studio / file).chmod(0o444)
    old = _files(studio)
    with pytest.raises(SaveError, match=f"{file} could not be written: the file is read-only"):
        save_changes(studio, BEFORE, AFTER, stamps)
    (studio / file).chmod(0o644)
    assert _files(studio) == old


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is read-only for root")
def test_a_read_only_folder(studio: Path) -> None:
    stamps = load_studio(studio).stamps
    old = _files(studio)
    (studio / "projects").chmod(0o555)
    try:
        with pytest.raises(SaveError, match="permission denied"):
            save_changes(studio, BEFORE, AFTER, stamps)
    finally:
        (studio / "projects").chmod(0o755)
    assert _files(studio) == old


# Faults at every step


def test_whatever_step_fails_no_byte_is_lost(written: Path, tmp_path: Path) -> None:
    """Every file is whole at every moment: the old one or the new one, and a retry succeeds."""
    done = tmp_path / "done"
    shutil.copytree(written, done)
    save_changes(done, BEFORE, AFTER, load_studio(done).stamps)
    new = _files(done)
    first = load_studio(written).stamps
    outcomes: set[type | None] = set()
    steps: set[str] = set()
    for at in range(500):
        code = (errno.ENOSPC, errno.EIO, errno.EROFS)[at % 3]
        folder = tmp_path / str(at)
        shutil.copytree(written, folder)
        old, stamps = _files(folder), first
        failure: SaveError | None = None
        with failing(at, code) as faults:
            try:
                stamps = save_changes(folder, BEFORE, AFTER, stamps)
            except SaveError as error:
                failure = error
        if len(faults.calls) <= at:
            assert failure is None
            break
        steps.add(faults.calls[at])
        outcomes.add(None if failure is None else type(failure))
        left = _files(folder)
        assert not [file for file in left if file not in old and file not in new]
        for file, data in left.items():
            assert data in (old.get(file), new.get(file)), (at, faults.calls[at], file)
        for file in old:
            # The one piece that is to go may be gone only once it lies in the history.
            assert file in left or _history(folder, file) == [old[file]]
        if type(failure) is SaveError:
            assert left == old
            assert os.strerror(code).lower() in str(failure).lower()
        if isinstance(failure, PartlySavedError):
            stamps = failure.stamps
            # One failure alone never leaves a parcel both on the shelf and on order.
            assert left == old
            assert "Nothing was saved" in str(failure)
        assert all(p.level.value != "error" for p in load_studio(folder).problems)
        if failure is not None:
            with failing(-1, 0):
                save_changes(folder, BEFORE, AFTER, stamps)
        assert _files(folder) == new
        shutil.rmtree(folder)
    else:
        pytest.fail("the save has more steps than were tried")
    assert {"mkstemp", "write", "flush", "fsync", "fchmod", "replace", "unlink"} <= steps
    assert outcomes >= {SaveError, PartlySavedError}


def test_what_cannot_be_put_back_is_named(
    written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = Path(shutil.copytree(written, tmp_path / "studio"))
    stamps, committed = load_studio(folder).stamps, list[str]()

    def once(staged: atomic.Staged) -> Stamp:
        if committed:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        committed.append(staged.file)
        return atomic.commit(staged)

    monkeypatch.setattr("studio.storage.write.commit", once)
    with pytest.raises(PartlySavedError) as failure:
        save_changes(folder, BEFORE, AFTER, stamps)
    monkeypatch.setattr("studio.storage.write.commit", atomic.commit)
    assert f"{committed[0]} is written already" in str(failure.value)
    assert not list(folder.rglob("*.tmp"))
    save_changes(folder, BEFORE, AFTER, failure.value.stamps)
    assert load_studio(folder).problems == ()


def test_a_disk_that_is_really_full(tmp_path: Path, written: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = shutil.which("mount")
    options = ["-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    if mount is None or subprocess.run([mount, *options], capture_output=True).returncode:
        pytest.skip("no small disk can be mounted here")
    try:
        shutil.copytree(written, disk / "studio")
        folder = disk / "studio"
        old, stamps = _files(folder), load_studio(folder).stamps
        with pytest.raises(OSError, match="No space"):
            _fill(disk / "filler")
        with pytest.raises(SaveError, match="no space left on device"):
            save_changes(folder, BEFORE, AFTER, stamps)
        assert _files(folder) == old
        assert load_studio(folder).studio == BEFORE
        (disk / "filler").unlink()
        save_changes(folder, BEFORE, AFTER, stamps)
        assert load_studio(folder).studio == AFTER
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def _fill(path: Path) -> None:
    with path.open("wb", buffering=0) as filler:
        while True:
            filler.write(b"x" * 512)


_SAVING = """
import sys
from dataclasses import replace
from pathlib import Path
from studio.storage.read import load_studio
from studio.storage.write import save_changes
folder = Path(sys.argv[1])
loaded = load_studio(folder)
now, stamps = loaded.studio, loaded.stamps
print("saving", flush=True)
rows = 0
while True:
    rows = rows % 1000 + 1
    pieces = tuple(replace(p, rows_done=rows) for p in now.projects)
    after = replace(now, projects=pieces)
    stamps = save_changes(folder, now, after, stamps)
    now = after
"""


@pytest.mark.parametrize("after_s", [0.03, 0.11])
def test_a_program_killed_while_saving_leaves_whole_files(studio: Path, after_s: float) -> None:
    saving = subprocess.Popen(
        [sys.executable, "-c", _SAVING, str(studio)], stdout=subprocess.PIPE, text=True
    )
    assert saving.stdout is not None
    assert saving.stdout.readline() == "saving\n"
    time.sleep(after_s)
    saving.send_signal(signal.SIGKILL)
    saving.wait()
    saving.stdout.close()
    loaded = load_studio(studio)
    assert loaded.problems == ()
    assert [replace(p, rows_done=0) for p in loaded.studio.projects] == list(BEFORE.projects)
