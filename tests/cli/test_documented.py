"""The README names every command with its options, and every key of the JSON documents."""

from __future__ import annotations

import argparse
import ast
import json
import re
import shutil
import tomllib
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from studio.cli.main import EXIT_CANCELLED, EXIT_WRONG_COMMAND, main
from studio.cli.parser import COMMANDS, build_parser
from studio.cli.words_tables import FIELDS
from studio.papers.template import read_wording
from studio.ui.keymap import check_keymap
from tests.cli.test_buying import small_studio, with_an_offer

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
CLI = ROOT / "studio" / "cli"
TODAY = date(2026, 11, 25)


def table(head: str) -> list[list[str]]:
    """The rows of the README's table whose head begins so, cell by cell."""
    _, _, after = README.partition(f"\n| {head} |")
    assert after, f"no table with the head {head}"
    lines = after.split("\n\n")[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


# Commands


def options(parser: argparse.ArgumentParser) -> set[str]:
    """The long options of a command, without --help."""
    found = {o for a in parser._actions for o in a.option_strings if o.startswith("--")}
    return found - {"--help"}


def commands() -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command that can be typed, those within `new` by both words."""
    for name, parser in below(build_parser()):
        inner = list(below(parser))
        yield from ((f"{name} {word}", one) for word, one in inner)
        if not inner:
            yield name, parser


def below(parser: argparse.ArgumentParser) -> Iterator[tuple[str, argparse.ArgumentParser]]:
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            yield from action.choices.items()


def documented() -> dict[str, tuple[str, str]]:
    """Of each documented command what is called for, and its options."""
    rows: dict[str, tuple[str, str]] = {}
    for first, _, told in table("command"):
        words = first.strip("`").split()
        name = " ".join(w for w in words if w.islower())
        rows[name] = (first, told)
    return rows


def test_every_command_and_option_is_in_the_table_and_no_other() -> None:
    parsers = {"stripewright": build_parser(), **dict(commands())}
    told = documented()
    assert set(told) == set(parsers)
    assert set(COMMANDS) == {name.split()[0] for name in parsers} - {"stripewright"}
    for name, (_, words) in told.items():
        assert set(re.findall(r"--[a-z-]+", words)) == options(parsers[name]), name


def test_the_words_that_follow_a_command_are_those_of_the_parser() -> None:
    told = documented()
    for name, parser in commands():
        wanted = []
        for action in parser._actions:
            if not action.option_strings and action.metavar != "KIND":
                word = str(action.metavar or action.dest.upper())
                wanted.append(f"[{word}]" if action.nargs == "?" else word)
        shown = [w for w in told[name][0].strip("`").split() if not w.islower() and "KIND" not in w]
        assert shown == wanted, name


def test_every_exit_status_is_told() -> None:
    told = {int(row[0]): row[1] for row in table("exit status")}
    assert set(told) == {0, 1, 2, EXIT_WRONG_COMMAND, EXIT_CANCELLED}
    # What a command's own help says of status 1 is told of that command.
    for name, parser in commands():
        help_text = " ".join((parser.epilog or "").split())
        if re.search(r"\b1 ", help_text):
            assert f"`{name}`: " in told[1], name


# Tables


def test_the_fields_of_the_tables_are_told() -> None:
    told = {row[0].strip("`"): set(re.findall(r"`([a-z ]+)`", row[1])) for row in table("table")}
    assert told == {kind: set(fields) for kind, fields in FIELDS.items()}


# Her own words


def test_the_wording_in_the_readme_can_be_used() -> None:
    found = re.search(r"^```text\n(\[quote opening\]\n.*?)^```$", README, re.DOTALL | re.MULTILINE)
    assert found is not None
    assert "the blanket we spoke of, $size" in read_wording(found[1]).sections["quote opening"]


# Keys


def test_the_keymap_in_the_readme_is_one_that_can_be_used() -> None:
    found = re.search(r"^```toml\n(\[keys\]\n.*?)^```$", README, re.DOTALL | re.MULTILINE)
    assert found is not None
    keymap = check_keymap(tomllib.loads(found[1]))
    assert keymap.problems == ()
    assert set(keymap.keys) == {"undo", "stripes.more"}


# JSON


def shapes() -> dict[str, set[str]]:
    """The keys by the place where they stand, as the README tells them."""
    found: dict[str, set[str]] = {}
    for where, keys in table("where"):
        for place in re.findall(r"`([a-z_ ]+)`", where):
            name = place
            if "without a purchase" in where:
                name = f"{place} list"
            elif "with `--order`" in where:
                name = f"{place} order"
            assert name not in found, name
            found[name] = set(re.findall(r"`([a-z_]+)`", keys))
    # What is told of one piece adds to what is told of each of them.
    found["show"] |= found["check projects"]
    return found


def objects(value: Any, place: str) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object of a document with the names that lead to it."""
    if isinstance(value, dict):
        yield place, value
        for key, inner in value.items():
            yield from objects(inner, f"{place} {key}")
    elif isinstance(value, list):
        for inner in value:
            yield from objects(inner, place)


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    main([*words, "--json"])
    return json.loads(capsys.readouterr().out)


@pytest.fixture
def documents(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> dict[str, list[Any]]:
    """What the commands answer of the demo, with something to tell in most lists."""
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)
    demo = Path(shutil.copytree(ROOT / "projects" / "demo", tmp_path / "demo"))
    inside = ("--folder", str(demo))
    shelf = tmp_path / "shelf.csv"
    shelf.write_text("yarn;shade;lot;balls\nfenlight;15;3310;2\nfenlight;15;;x\n")
    wrong = demo / "yarns" / "wrong.toml"
    wrong.write_text('format = 1\ncolur = "red"\n')
    check = answer(capsys, "check", str(demo))
    wrong.unlink()
    offered = with_an_offer(small_studio(tmp_path / "small"))
    capsys.readouterr()
    bags = ("--bag", "Sloe", "A", "1", "--bag", "Sloe", "B", "1", "--price", "Sloe", "5")
    everything = ("--stage", "held", "--stage", "quoted", "--stage", "idea")
    parcel = "2026-11-mill-parcel"
    return {
        "check": [check],
        "show": [answer(capsys, "show", "afterglow-throw", *inside)],
        "enquire": [
            answer(capsys, "enquire", "gull-and-shingle", *inside),
            answer(capsys, "enquire", "afterglow-throw", "--due", "2026-12-20", *inside),
        ],
        "orders": [answer(capsys, "orders", str(demo))],
        "used": [
            answer(capsys, "used", "pigeon-loft-throw", *inside),
            answer(capsys, "used", "barley-drill-runner", *inside),
        ],
        "closing": [answer(capsys, "closing", "pigeon-loft-throw", *inside)],
        "buy": [answer(capsys, "buy", str(demo), *everything), answer(capsys, "buy", str(offered))],
        "receive list": [answer(capsys, "receive", *inside)],
        "receive": [answer(capsys, "receive", parcel, *inside, *bags)],
        "staples": [answer(capsys, "staples", str(demo))],
        "staples order": [
            answer(capsys, "staples", str(demo), "--order", "Nightfall", "--balls", "20")
        ],
        "import": [answer(capsys, "import", "stash", str(shelf), *inside, "--dry-run")],
    }


FREE = {"import columns"}
"""Objects whose keys are the maker's own fields."""


def test_the_keys_in_the_readme_are_those_of_the_documents(
    documents: dict[str, list[Any]],
) -> None:
    told, seen = shapes(), set[str]()
    for command, answers in documents.items():
        for place, found in (pair for one in answers for pair in objects(one, command)):
            if place in FREE:
                continue
            # Some shapes stand in several places, and are told once by their last name.
            short = place.replace("receive list", "receive").replace("staples order", "staples")
            names = [n for n in (place, short, place.rpartition(" ")[2]) if n in told]
            assert names, f"the README does not tell the keys of {place}"
            assert set(found) == told[names[0]], place
            seen.add(names[0])
    # What the demo gives no example of is written with exactly such keys somewhere in the code.
    written = set(map(frozenset, written_keys()))
    for name in set(told) - seen:
        assert frozenset(told[name]) in written, name
    assert len(set(told) - seen) <= 10


SPREAD = {
    "ref_json": {"yarn", "shade"},
    "_need": {"project", "yarn", "shade", "need_g", "need_by", "runs"},
}


def written_keys() -> Iterator[set[str]]:
    """The keys of every object that the reports write down in the code."""
    for path in CLI.glob("*report.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Dict):
                keys = {k.value for k in node.keys if isinstance(k, ast.Constant)}
                for key, value in zip(node.keys, node.values, strict=True):
                    if key is None and isinstance(value, ast.Call):
                        assert isinstance(value.func, ast.Name)
                        keys |= SPREAD.get(value.func.id, set())
                yield {str(key) for key in keys}
