"""The command line: exit statuses, the JSON documents, and trouble told in one line."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from studio.cli.main import main
from studio.cli.parser import COMMANDS, with_default_command
from studio.storage.read import load_studio

DEMO = Path(__file__).parents[2] / "projects" / "demo"


def answer(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    main([str(w) for w in words])
    return json.loads(capsys.readouterr().out)


def trouble(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    assert main([str(w) for w in words]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err.strip()


def keep_only(folder: Path, *keys: str) -> None:
    for path in (folder / "projects").glob("*.toml"):
        if path.stem not in keys:
            path.unlink()


def test_check_ends_with_1_where_something_promised_is_short(demo: Path) -> None:
    assert main(["check", str(demo)]) == 1


def test_check_ends_with_0_where_only_a_quote_is_short(demo: Path) -> None:
    keep_only(demo, "gull-and-shingle", "afterglow-throw")
    assert main(["check", str(demo)]) == 0


def test_check_ends_with_2_where_a_file_is_wrong(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (demo / "projects" / "afterglow-throw.toml").write_text('name = "half')
    assert main(["check", str(demo), "--json"]) == 2
    document = json.loads(capsys.readouterr().out)
    (problem,) = document["problems"]
    assert problem["file"] == "projects/afterglow-throw.toml"
    assert problem["line"] == 1
    assert main(["check", str(demo)]) == 2
    assert "projects/afterglow-throw.toml, line 1" in " ".join(capsys.readouterr().out.split())
    # The others are still answered.
    assert len(document["projects"]) == len(list((DEMO / "projects").glob("*.toml"))) - 1


# fmt: off
PROJECT_KEYS = [
    "file", "name", "stage", "customer", "due", "chain", "stitches", "rows", "width_cm",
    "length_cm", "asked_width_cm", "asked_length_cm", "gauge", "ends", "runs", "shades",
    "material_used", "material_cash", "material_cash_alone", "notions", "chance_enough", "proved",
    "findings",
]
RUN_KEYS = [
    "run", "part", "slot", "yarn", "shade", "rows", "expected_g", "need_g", "cover", "lot",
    "claim", "moved_from", "chance",
]
SHADE_KEYS = [
    "yarn", "shade", "slots", "need_g", "from_stash_g", "on_order_g", "on_order_late_g",
    "to_buy_g", "balls_to_buy", "lots", "rows_per_ball_expected", "rows_per_ball_safe",
    "evidence", "cost_used", "cost_cash", "cost_cash_alone", "price_assumed",
]
SHORT_KEYS = [
    "yarn", "shade", "held_g", "held_balls", "with_quotes_g", "with_quotes_balls", "with_ideas_g",
    "with_ideas_balls", "on_order_g", "on_order_late_g", "needed_by", "projects",
]
# fmt: on


def test_the_document_of_check_holds_what_the_readme_says(
    capsys: pytest.CaptureFixture[str],
) -> None:
    document = answer(capsys, "check", DEMO, "--json")
    assert list(document) == [
        "format", "studio", "currency", "projects", "shortfalls", "promised_short", "proof",
        "problems",
    ]  # fmt: skip
    for project in document["projects"]:
        assert list(project) == PROJECT_KEYS
        assert all(list(r) == RUN_KEYS for r in project["runs"])
        assert all(list(s) == SHADE_KEYS for s in project["shades"])
    assert all(list(s) == SHORT_KEYS for s in document["shortfalls"])
    assert document["proof"]["proved"] == document["proof"]["shades"]
    assert document["proof"]["open"] == []


def test_the_grams_of_a_shade_add_up(capsys: pytest.CaptureFixture[str]) -> None:
    for project in answer(capsys, "check", DEMO, "--json")["projects"]:
        for shade in project["shades"]:
            parts = ("from_stash_g", "on_order_g", "on_order_late_g", "to_buy_g")
            assert sum(shade[p] for p in parts) == pytest.approx(shade["need_g"], abs=0.05)
            runs = [r for r in project["runs"] if (r["yarn"], r["shade"]) == _ref(shade)]
            assert sum(r["need_g"] for r in runs) == pytest.approx(shade["need_g"], abs=0.05)


def _ref(shade: dict[str, Any]) -> tuple[str, str]:
    return shade["yarn"], shade["shade"]


def test_show_gives_the_same_project_as_check(capsys: pytest.CaptureFixture[str]) -> None:
    by_check = answer(capsys, "check", DEMO, "--json")["projects"]
    one = answer(capsys, "show", "damson hedge throw", "--folder", DEMO, "--json")
    wanted = next(p for p in by_check if p["name"] == "Damson hedge throw")
    assert {k: one[k] for k in wanted} == wanted


def test_show_in_words(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["show", "damson-hedge-throw", "-f", str(DEMO)]) == 0
    out = capsys.readouterr().out
    assert "150 x 180 cm" in out
    assert "short 3 balls Damson" in out
    assert "Traceback" not in out


def test_a_project_that_is_not_there_is_told_with_the_nearest(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert "'damson hedge throw'" in trouble(capsys, "show", "damson hege throw", "-f", DEMO)


def test_a_folder_that_is_not_there_says_how_to_make_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert "stripewright new studio" in trouble(capsys, "check", tmp_path / "none")


@pytest.mark.parametrize("words", [["check", "--jsn"], ["new"], ["show"], ["completion", "elvish"]])
def test_a_wrong_word_ends_with_3(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 3
    assert "usage:" in capsys.readouterr().err


def test_a_new_studio_and_a_project_in_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    place = tmp_path / "mine"
    assert main(["new", "studio", str(place), "--name", "Mine", "--units", "in"]) == 0
    shutil.copytree(DEMO / "yarns", place / "yarns", dirs_exist_ok=True)
    words = ["new", "project", "Río Señal", "-f", str(place), "--size", "60x70in"]
    words += ["--stitch", "single-crochet", "--hook", "5.5", "--slot", "A=fenlight/34"]
    words += ["--slot", "B=fenlight/31", "--stripes", "A6 b4 A6", "--due", "2027-03-12"]
    assert main(words) == 0
    loaded = load_studio(place)
    assert loaded.problems == ()
    (project,) = loaded.studio.projects
    assert project.name == "Río Señal"
    assert [(s.slot, s.rows) for s in project.stripes] == [("A", 6), ("B", 4), ("A", 6)]
    assert project.width.cm == pytest.approx(152.4)
    capsys.readouterr()
    assert main([*words[:2], "Río Señal 2", *words[3:]]) == 0


@pytest.mark.parametrize(
    ("option", "value", "told"),
    [
        ("--size", "60 by 70", "width x length"),
        ("--stitch", "nope", "There is no stitch 'nope'"),
        ("--hook", "big", "millimetres"),
        ("--slot", "A", "a letter, a yarn and a shade"),
        ("--slot", "A=fenlight/none", "There is no shade 'fenlight/none'"),
        ("--stripes", "AA", "slot and rows"),
        ("--stripes", "A0", "0 rows"),
        ("--stripes", "C4", "slot C"),
        ("--due", "soon", "year-month-day"),
    ],
)
def test_a_project_that_makes_no_sense_is_refused_in_words(
    option: str, value: str, told: str, demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = {
        "--size": "100x120cm",
        "--stitch": "single-crochet",
        "--hook": "5",
        "--slot": "A=fenlight/34",
        "--stripes": "A6",
    } | {option: value}
    before = sorted(p.name for p in (demo / "projects").iterdir())
    words = [w for pair in good.items() for w in pair]
    assert told in trouble(capsys, "new", "project", "X", "--folder", demo, *words)
    assert sorted(p.name for p in (demo / "projects").iterdir()) == before


def test_schema_prints_one_for_each_kind_of_file(capsys: pytest.CaptureFixture[str]) -> None:
    every = answer(capsys, "schema")
    assert {"project", "yarn", "stash"} <= set(every)
    assert answer(capsys, "schema", "project") == every["project"]
    assert "no kind of file" in trouble(capsys, "schema", "nonsense")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_tells_its_words_within_a_terminal(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert main([command, "--help"]) == 0
    out = capsys.readouterr().out
    assert f"usage: stripewright {command}" in out
    assert max(len(line) for line in out.splitlines()) <= 82


@pytest.mark.parametrize("shell", ["bash", "zsh", "tcsh"])
def test_completion_knows_every_command(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    out = capsys.readouterr().out
    assert all(command in out for command in COMMANDS)


def test_the_bash_completion_is_valid_bash(capsys: pytest.CaptureFixture[str]) -> None:
    main(["completion", "bash"])
    script = capsys.readouterr().out
    subprocess.run(["bash", "-n"], input=script, text=True, check=True)


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ([], ["open"]),
        (["my-folder"], ["open", "my-folder"]),
        (["--demo"], ["open", "--demo"]),
        (["check", "x"], ["check", "x"]),
        (["--version"], ["--version"]),
    ],
)
def test_a_folder_alone_means_open(words: list[str], meant: list[str]) -> None:
    assert with_default_command(words) == meant


def test_opening_without_a_terminal_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert "terminal" in trouble(capsys, DEMO)


def test_python_m_studio_and_a_closed_pipe() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "studio", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout.startswith("stripewright ")
    read, write = os.pipe()
    os.close(read)
    piped = subprocess.run(
        [sys.executable, "-m", "studio", "check", str(DEMO), "--json"],
        stdout=write,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(write)
    assert "Traceback" not in piped.stderr


def test_the_answer_is_the_same_every_time(capsys: pytest.CaptureFixture[str]) -> None:
    first = answer(capsys, "check", DEMO, "--json")
    assert answer(capsys, "check", DEMO, "--json") == first


def cut_short(folder: Path) -> None:
    """Leave a save of two files behind that was decided and then cut short."""
    from studio.storage import disk, saving

    planned = []
    for file in ("studio.toml", "trade.toml"):
        data = (folder / file).read_bytes()
        planned.append(saving.Planned(file, disk.digest_of(data), data + b"# finished\n"))
    saving.draft(folder, planned)
    saving.decide(folder)


@pytest.mark.parametrize("words", [["check", "--json"], ["export", "stash", "-f"]])
def test_a_save_that_was_cut_short_is_finished_and_told(
    demo: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    cut_short(demo)
    main([*words, str(demo)])
    out, err = capsys.readouterr()
    assert "The last save was cut short; it is finished now (2 files)." in err
    assert "cut short" not in out
    assert (demo / "trade.toml").read_text().endswith("# finished\n")
    assert not (demo / ".saving").exists()
