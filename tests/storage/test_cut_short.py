"""A save of several files that is cut short: opened again, it is all there or not at all."""

from __future__ import annotations

import errno
import json
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from studio.core.model import Batch, Lot, Settings, Stash, Studio, Yarn
from studio.errors import SaveError
from studio.storage import atomic, disk, saving
from studio.storage.read import Loaded, load_studio
from studio.storage.write import PartlySavedError, save_changes
from tests.shared import share_readings
from tests.storage.faults import KilledError, failing
from tests.storage.power import power_log
from tests.storage.test_save import AFTER, BEFORE, PIECE, YARN

OTHER_YARN = replace(YARN, key="field", name="Field")
LEFT, RIGHT = Lot("meadow", "12", "4471", (Batch(3),)), Lot("field", "12", "9", (Batch(3),))
MANY = (BEFORE, AFTER)
"""Three files changed, one new, one gone."""


def _studio(*yarns: Yarn, lots: tuple[Lot, ...]) -> Studio:
    return replace(BEFORE, library=replace(BEFORE.library, yarns=yarns), stash=Stash(lots))


MOVED = (
    _studio(OTHER_YARN, YARN, lots=(replace(RIGHT, batches=(Batch(1),)), LEFT)),
    _studio(OTHER_YARN, YARN, lots=(RIGHT, replace(LEFT, batches=(Batch(1),)))),
)
"""Two balls go from one file to another."""


@pytest.fixture(autouse=True)
def _equal_files_are_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """What lies in a folder after each step is looked at; what its bytes say is known by then."""
    share_readings(monkeypatch)


@pytest.fixture(scope="module", params=[MANY, MOVED], ids=["many", "moved"])
def edit(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Studio, Studio]:
    before, after = request.param
    folder = tmp_path_factory.mktemp("before")
    save_changes(folder, None, before, {})
    return folder, before, after


def _hidden(folder: Path) -> list[str]:
    return [p.name for p in folder.rglob(".*") if p.name != ".history"]


def _all_or_nothing(folder: Path, before: Studio, after: Studio) -> Loaded:
    """Opened again it is one of the two, and so the next time."""
    loaded = load_studio(folder)
    assert loaded.studio in (before, after)
    assert loaded.problems == ()
    again = load_studio(folder)
    assert (again.studio, again.stamps, again.told) == (loaded.studio, loaded.stamps, ())
    return loaded


def _left_over(folder: Path) -> list[str]:
    """What no file of the studio is; of an earlier version that was being kept nobody reads."""
    hidden = [p for p in folder.rglob(".*") if p.name != ".history"]
    return [p.name for p in hidden if ".history" not in p.parts]


def _killed(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> Iterator[tuple[int, str, Path, bool]]:
    """The folder as it is after the program was killed at each of its steps in turn."""
    written, before, after = edit
    stamps = load_studio(written).stamps
    for at in range(500):
        folder = Path(shutil.copytree(written, tmp_path / str(at)))
        with failing(-1, killed=at) as faults:
            try:
                save_changes(folder, before, after, stamps)
            except KilledError:
                name = faults.calls[at]
            else:
                return
        yield at, name, folder, (folder / disk.LIST_FILE).exists()
        shutil.rmtree(folder)
    pytest.fail("the save has more steps than were tried")


def test_killed_at_any_step_it_is_all_or_nothing(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> None:
    _, before, after = edit
    outcomes, told = set(), set()
    for _, _, folder, decided in _killed(edit, tmp_path):
        drafted = (folder / disk.DRAFT_FILE).exists()
        loaded = _all_or_nothing(folder, before, after)
        assert _left_over(folder) == []
        # Once it is decided it is made; before that nothing of it is.
        if decided or drafted:
            assert loaded.studio == (after if decided else before)
            assert len(loaded.told) == 1
        else:
            assert loaded.told == ()
        outcomes.add(loaded.studio == after)
        told |= set(loaded.told)
    assert outcomes == {True, False}
    assert len(told) == 2


def test_killed_while_it_is_finished_it_is_finished_the_next_time(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> None:
    _, before, after = edit
    deepest, looked_at = 0, set()
    for at, name, folder, decided in _killed(edit, tmp_path):
        # Before the first file is replaced, and before the first is removed.
        if not decided or name not in ("replace", "unlink") or name in looked_at:
            continue
        looked_at.add(name)
        for again in range(500):
            copy = Path(shutil.copytree(folder, tmp_path / f"{at}-{again}"))
            with failing(-1, killed=again):
                try:
                    load_studio(copy)
                except KilledError:
                    deepest = max(deepest, again)
                else:
                    break
            assert _all_or_nothing(copy, before, after).studio == after
            assert _left_over(copy) == []
            shutil.rmtree(copy)
    assert deepest > 15


def test_a_fault_and_then_the_end_is_all_or_nothing(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> None:
    """The disk fails while files are replaced, and the program is killed as it puts them back."""
    written, before, after = edit
    stamps = load_studio(written).stamps
    with failing(-1) as faults:
        save_changes(Path(shutil.copytree(written, tmp_path / "all")), before, after, stamps)
    decided = max(i for i, name in enumerate(faults.calls) if name == "mkstemp")
    ends = 0
    for at in range(decided, len(faults.calls)):
        for killed in range(at + 1, at + 60, 3):
            folder = Path(shutil.copytree(written, tmp_path / "studio"))
            with failing(at, errno.EIO, killed):
                try:
                    save_changes(folder, before, after, stamps)
                    ended = False
                except KilledError:
                    ended = True
                except SaveError:
                    ended = False
            _all_or_nothing(folder, before, after)
            shutil.rmtree(folder)
            if not ended:
                break
            ends += 1
    assert ends > 20


def test_a_fault_while_it_is_finished_is_told_and_stops_every_save(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> None:
    _, before, after = edit
    for at, name, folder, decided in _killed(edit, tmp_path):
        if not decided or name != "replace":
            continue
        told = False
        for fault in range(500):
            copy = Path(shutil.copytree(folder, tmp_path / f"{at}-{fault}"))
            with failing(fault, errno.ENOSPC) as faults:
                loaded = load_studio(copy)
            # Reading the folders fails too, and tells of that itself.
            if found := [p for p in loaded.problems if p.file == disk.LIST_FILE]:
                told = True
                (problem,) = found
                assert "cannot be finished: no space left on device" in problem.text
                with failing(fault, errno.ENOSPC), pytest.raises(SaveError):
                    save_changes(copy, before, replace(after, settings=Settings("U")), {})
            assert _all_or_nothing(copy, before, after).studio == after
            shutil.rmtree(copy)
            if len(faults.calls) <= fault:
                break
        assert told
        return
    pytest.fail("no step was looked at")


def test_the_power_goes_at_any_moment(edit: tuple[Path, Studio, Studio], tmp_path: Path) -> None:
    written, before, after = edit
    folder = Path(shutil.copytree(written, tmp_path / "studio"))
    stamps = load_studio(folder).stamps
    with power_log(folder) as log:
        save_changes(folder, before, after, stamps)
    outcomes = []
    for number, state in enumerate(log.states):
        left = tmp_path / str(number)
        for name, data in state.items():
            (left / name).parent.mkdir(parents=True, exist_ok=True)
            (left / name).write_bytes(data)
        loaded = load_studio(left)
        assert loaded.studio in (before, after), (number, sorted(state))
        assert loaded.problems == ()
        outcomes.append(loaded.studio == after)
    assert outcomes[-1]
    assert set(outcomes) == {True, False}
    assert len(outcomes) > 30


def test_a_file_that_another_program_changed_in_between_is_never_lost(
    edit: tuple[Path, Studio, Studio], tmp_path: Path
) -> None:
    written, *_ = edit
    old = {f: (written / f).read_bytes() for f in load_studio(written).stamps}
    dropped = finished = 0
    for at, name, folder, decided in _killed(edit, tmp_path):
        if not decided or name not in ("replace", "unlink"):
            continue
        planned = json.loads((folder / disk.LIST_FILE).read_text())["files"]
        for entry in planned:
            copy = Path(shutil.copytree(folder, tmp_path / f"{at}-copy"))
            hers = copy / entry["file"]
            text = hers.read_text() if hers.exists() else old.get(entry["file"], b"").decode()
            hers.write_text(theirs := text + "# by hand\n")
            others = [e for e in planned if e is not entry]
            some = any(_holds(copy, e, "now") for e in others)
            loaded = load_studio(copy)
            assert hers.read_text() == theirs
            (problem,) = [p for p in loaded.problems if "cut short" in p.text]
            assert problem.file == entry["file"]
            for other in others:
                assert _holds(copy, other, "now" if some else "was")
            if entry["now"] is not None:
                kept = (copy / ".history" / entry["file"]).glob("*.toml")
                assert entry["now"] in [k.read_text() for k in kept]
            dropped, finished = dropped + (not some), finished + some
            assert load_studio(copy).told == ()
            assert not (copy / disk.LIST_FILE).exists()
            shutil.rmtree(copy)
    assert dropped
    assert finished


def _holds(folder: Path, entry: dict[str, str | None], which: str) -> bool:
    path = folder / str(entry["file"])
    if entry[which] is None or not path.exists():
        return not path.exists() and entry[which] is None
    data = path.read_bytes()
    now = entry["now"]
    return disk.digest_of(data) == entry["was"] if which == "was" else data.decode() == now


def test_one_file_needs_no_list(tmp_path: Path) -> None:
    save_changes(tmp_path, None, BEFORE, {})
    stamps = load_studio(tmp_path).stamps
    after = replace(BEFORE, projects=(replace(PIECE, rows_done=2), *BEFORE.projects[1:]))
    with failing(-1) as faults:
        save_changes(tmp_path, BEFORE, after, stamps)
    # The lock, the file and its earlier version; each replaced once, synced with its folder.
    assert faults.calls.count("replace") == 2
    assert faults.calls.count("fsync") == 3


def test_what_could_not_be_put_back_follows_with_the_next_save(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_changes(tmp_path, None, BEFORE, {})
    real, committed = atomic.commit, list[str]()

    def once(staged: object) -> object:
        if committed:
            raise OSError(errno.EIO, "Input/output error")
        committed.append("one")
        return real(staged)  # type: ignore[arg-type]

    with monkeypatch.context() as patch:
        patch.setattr("studio.storage.write.commit", once)
        with pytest.raises(PartlySavedError, match="follows with the next save") as failure:
            save_changes(tmp_path, BEFORE, AFTER, load_studio(tmp_path).stamps)
    # She has taken the edit back meanwhile: the files are as she sees them all the same.
    stamps = save_changes(tmp_path, BEFORE, BEFORE, failure.value.stamps)
    loaded = load_studio(tmp_path)
    assert (loaded.studio, loaded.stamps, loaded.told) == (BEFORE, stamps, ())


def test_a_save_that_goes_on_is_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    save_changes(tmp_path, None, BEFORE, {})
    stamps = load_studio(tmp_path).stamps
    opened: list[Loaded] = []
    reader = threading.Thread(target=lambda: opened.append(load_studio(tmp_path)))
    real = saving.decide

    def slow(folder: Path) -> None:
        real(folder)
        reader.start()
        reader.join(0.05)
        assert reader.is_alive()

    monkeypatch.setattr("studio.storage.write.decide", slow)
    save_changes(tmp_path, BEFORE, AFTER, stamps)
    reader.join(10)
    (loaded,) = opened
    assert (loaded.studio, loaded.told) == (AFTER, ())


def test_one_that_goes_on_for_too_long_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_changes(tmp_path, None, BEFORE, {})
    stamps = load_studio(tmp_path).stamps
    monkeypatch.setattr(saving, "WAIT_S", 0.0)
    (tmp_path / disk.DRAFT_FILE).write_text("on its way")
    with saving.alone(tmp_path) as free:
        assert free
        assert load_studio(tmp_path).told == ()
        with pytest.raises(SaveError, match="Another program is saving"):
            save_changes(tmp_path, BEFORE, AFTER, stamps)
    assert (tmp_path / disk.DRAFT_FILE).read_text() == "on its way"
    assert len(load_studio(tmp_path).told) == 1


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"format": 2, "files": []}',
        '{"format": 1, "files": [{"file": "../out.toml", "was": null, "now": "x"}]}',
        '{"format": 1, "files": [{"file": "projects/../../o.toml", "was": null, "now": "x"}]}',
        '{"format": 1, "files": [{"file": "/tmp/out.toml", "was": null, "now": "x"}]}',
        '{"format": 1, "files": [{"file": ".history/a.toml", "was": null, "now": "x"}]}',
        '{"format": 1, "files": [{"file": "studio.toml", "was": 3, "now": "x"}]}',
        '{"format": 1, "files": [{"file": "studio.toml", "was": null, "now": 3}]}',
    ],
)
def test_a_list_that_is_none_does_nothing_and_is_kept(tmp_path: Path, text: str) -> None:
    folder = tmp_path / "in" / "studio"
    folder.mkdir(parents=True)
    save_changes(folder, None, BEFORE, {})
    (folder / disk.LIST_FILE).write_text(text)
    loaded = load_studio(folder)
    assert loaded.studio == BEFORE
    (problem,) = loaded.problems
    assert problem.file == disk.LIST_FILE
    (kept,) = (folder / ".history").glob("unread*")
    assert kept.read_text() == text
    assert load_studio(folder).problems == ()
    assert [p.name for p in tmp_path.rglob("o*.toml")] == []


def test_a_linked_file_is_finished_where_it_lies(tmp_path: Path) -> None:
    folder, cloud = tmp_path / "studio", tmp_path / "cloud"
    cloud.mkdir()
    folder.mkdir()
    save_changes(folder, None, BEFORE, {})
    link = folder / "projects/harbour.toml"
    link.rename(cloud / "real.toml")
    link.symlink_to(cloud / "real.toml")
    stamps = load_studio(folder).stamps
    with pytest.MonkeyPatch.context() as patch:

        def cut(*_: object) -> None:
            raise KilledError

        patch.setattr("studio.storage.write.commit", cut)
        with pytest.raises(KilledError):
            save_changes(folder, BEFORE, AFTER, stamps)
    assert load_studio(folder).studio == AFTER
    assert link.is_symlink()
    assert b"rows_done = 4" in (cloud / "real.toml").read_bytes()
    assert [p.name for p in cloud.iterdir()] == ["real.toml"]
