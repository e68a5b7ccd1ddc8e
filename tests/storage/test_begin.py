"""A first studio, the demo's copy, the lock, and where things lie."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from studio import paths
from studio.core.model import LengthUnit, WeightUnit
from studio.errors import SaveError
from studio.storage.begin import blank_studio, common_stitches, copy_demo
from studio.storage.lock import StudioLock
from studio.storage.read import load_studio


def test_a_blank_studio_opens(tmp_path: Path) -> None:
    folder = tmp_path / "new" / "studio"
    blank_studio(folder, "Fern Lane", "GBP", LengthUnit.INCH)
    loaded = load_studio(folder)
    assert loaded.problems == ()
    settings = loaded.studio.settings
    assert (settings.name, settings.currency) == ("Fern Lane", "GBP")
    assert (settings.length_unit, settings.weight_unit) == (LengthUnit.INCH, WeightUnit.OUNCE)
    assert loaded.studio.library.stitches == common_stitches()


def test_a_blank_studio_overwrites_nothing(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text("hers")
    with pytest.raises(SaveError, match="already a file"):
        blank_studio(tmp_path, "S", "EUR", LengthUnit.CM)
    assert (tmp_path / "studio.toml").read_text() == "hers"
    assert not (tmp_path / "stitches").exists()


@pytest.mark.parametrize(
    ("key", "stitches", "chain"),
    [
        # 'ch 26 -> 25 sc' in print (standards.md section 9).
        ("single-crochet", 25, 26),
        # From memory: common practice, where the chain counts (standards.md section 9).
        ("half-double-crochet", 25, 26),
        ("double-crochet", 25, 27),
    ],
)
def test_common_stitches_follow_their_chain_rules(key: str, stitches: int, chain: int) -> None:
    stitch = next(s for s in common_stitches() if s.key == key)
    assert stitch.multiple * stitches + stitch.extra == chain
    assert chain - stitch.skipped + stitch.turning_counts == stitches


def test_turning_chains_are_the_published_ones() -> None:
    """US terms: sc 1, hdc 2, dc 3 (standards.md section 9)."""
    assert {s.key: s.turning_chain for s in common_stitches()} == {
        "single-crochet": 1,
        "half-double-crochet": 2,
        "double-crochet": 3,
    }


def test_the_demo_is_copied_and_may_be_written(tmp_path: Path) -> None:
    copy = copy_demo(tmp_path / "demo")
    assert (copy / "studio.toml").stat().st_mode & 0o200
    assert load_studio(copy).studio == load_studio(paths.demo_studio()).studio
    with pytest.raises(SaveError, match="not empty"):
        copy_demo(copy)


def test_shipped_folders_are_found_in_the_checkout_and_once_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = Path(__file__).parents[2]
    assert paths.shipped_themes() == root / "themes"
    assert paths.demo_studio() == root / "projects" / "demo"
    (tmp_path / "_shipped" / "themes").mkdir(parents=True)
    monkeypatch.setattr(paths, "_PACKAGE", tmp_path)
    assert paths.shipped_themes() == tmp_path / "_shipped" / "themes"


def test_her_own_studio_lies_in_the_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder for a user's data: XDG base directory specification, $XDG_DATA_HOME."""
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere/data")
    if sys.platform == "linux":
        assert paths.own_studio() == Path("/somewhere/data/stripewright/studio")
    assert paths.own_studio().name == "studio"


def test_a_second_program_is_noticed_and_a_dead_one_forgotten(tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from studio.storage.lock import StudioLock;"
        "lock = StudioLock(Path(sys.argv[1])); print(lock.other, flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "None\n"
        with StudioLock(tmp_path) as second:
            assert second.other is not None
            assert f"process {first.pid} on " in second.other
        first.kill()
    with StudioLock(tmp_path) as third:
        assert third.other is None
    assert load_studio(tmp_path).stamps == {}


def test_a_folder_that_cannot_be_locked_is_opened_all_the_same(tmp_path: Path) -> None:
    assert StudioLock(tmp_path / "nowhere").other is None


def test_pydantic_waits_for_the_first_file() -> None:
    """The app paints first: naming the reader must not import the validation."""
    code = (
        "import sys; import studio.storage.read, studio.storage.problems, studio.storage.kinds;"
        "import studio.paths, studio.storage.lock;"
        "print([m for m in ('pydantic', 'tomlkit', 'platformdirs') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
