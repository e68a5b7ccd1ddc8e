"""Files written in any legal way are followed: to the right line, and through every change."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio.core.model import Lot, Project, Yarn
from studio.storage.kinds import Kind
from studio.storage.layout import Path, comments, line_of, statements
from studio.storage.read import parse
from studio.storage.render import updated_bytes
from studio.storage.tables import to_toml
from studio.storage.things import Thing
from tests.storage import strategies as any_
from tests.storage.messy import messy

quick = settings(
    deadline=None,
    max_examples=40,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
stashes = st.lists(any_.lots, max_size=4, unique_by=lambda lot: (lot.shade, lot.code)).map(tuple)


SINGLE = (
    "name", "stage", "stitch", "hook_mm", "width", "length", "customer", "due", "booked",
    "direction", "method", "join", "mix", "rows_done", "note",
)  # fmt: skip
SEVERAL = (
    "slots", "stripes", "border", "fringe", "stated", "notions", "weigh_ins", "used", "accepted"
)  # fmt: skip


def _edited(draw: st.DrawFn, was: Project, now: Project, names: tuple[str, ...]) -> Project:
    """Some fields of one project taken from another, as edits do."""
    chosen = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3))
    return replace(was, **{name: getattr(now, name) for name in chosen})


@st.composite
def _project_edits(draw: st.DrawFn, names: tuple[str, ...]) -> tuple[str, Project, Project]:
    was, now = draw(any_.projects), draw(any_.projects)
    return draw(messy(to_toml(was))), was, _edited(draw, was, now, names)


@st.composite
def _stash_edits(draw: st.DrawFn) -> tuple[str, tuple[Lot, ...], tuple[Lot, ...]]:
    was = draw(stashes)
    kept = draw(st.lists(st.sampled_from(was), unique_by=id)) if was else []
    new = [lot for lot in draw(stashes) if all(lot.ref != other.ref for other in kept)]
    return draw(messy(to_toml(was))), was, (*kept, *new)


def _check(kind: Kind, file: str, text: str, was: Thing, now: Thing) -> str:
    read, _, problems = parse(kind, file, text.encode())
    assert problems == []
    assert read == was
    done = updated_bytes(kind, file, text.encode(), now).decode()
    assert parse(kind, file, done.encode())[0] == now
    if was == now:
        assert done == text or not comments(text)
    assert "written afresh" not in done
    assert set(comments(done)) <= set(comments(text))
    return done


@quick
@given(_project_edits(SINGLE))
def test_an_edit_of_single_values_keeps_every_comment(edit: tuple[str, Project, Project]) -> None:
    text, was, now = edit
    done = _check(Kind.PROJECT, f"projects/{was.key}.toml", text, was, now)
    if comments(text):
        assert sorted(comments(done)) == sorted(comments(text))


@quick
@given(_project_edits(SINGLE + SEVERAL))
def test_any_project_in_any_layout_is_changed_in_place(
    edit: tuple[str, Project, Project],
) -> None:
    text, was, now = edit
    _check(Kind.PROJECT, f"projects/{was.key}.toml", text, was, now)


@quick
@given(_stash_edits())
def test_any_stash_in_any_layout_is_changed_in_place(
    edit: tuple[str, tuple[Lot, ...], tuple[Lot, ...]],
) -> None:
    _check(Kind.STASH, "stash/-.toml", *edit)


@quick
@given(any_.yarns.flatmap(lambda y: st.tuples(st.just(y), messy(to_toml(y)))))
def test_an_unchanged_file_keeps_every_letter(made: tuple[Yarn, str]) -> None:
    yarn, text = made
    file = f"yarns/{yarn.key}.toml"
    if comments(text):
        assert updated_bytes(Kind.YARN, file, text.encode(), yarn) == text.encode()


def _paths(value: Any, path: Path = ()) -> list[Path]:
    found = [path] if path else []
    if isinstance(value, dict):
        for key, inner in value.items():
            found += _paths(inner, (*path, key))
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            found += _paths(inner, (*path, i))
    return found


@quick
@given(any_.projects.flatmap(lambda p: messy(to_toml(p))))
def test_statements_are_the_whole_text_and_every_key_has_its_line(text: str) -> None:
    assert "".join(text[s.start : s.end] for s in statements(text)) == text
    raw = tomllib.loads(text, parse_float=Decimal)
    lines = text.splitlines()
    for path in _paths(raw):
        line = line_of(text, path)
        assert line is not None, path
        last = next(part for part in reversed(path) if isinstance(part, str))
        if isinstance(path[-1], str):
            assert last in lines[line - 1] or repr(last)[1:-1] in lines[line - 1], (path, line)
