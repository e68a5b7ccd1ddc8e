"""Undo steps carried over a change that other hands made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from studio.core import edits
from studio.core.carried import carried
from studio.core.model import LotRef, Studio, Yarn
from tests.core.editing import D, piece, studio

BASE = studio(piece("throw"), piece("other"), piece("third"))
MOSS = LotRef("wool", "10", "1")


def test_what_others_changed_is_in_every_step() -> None:
    step = BASE
    saved = edits.set_rows(BASE, "throw", 0, 10)
    outside = edits.set_rows(saved, "other", 1, 8)
    kept = carried(step, saved, outside)
    assert kept is not None
    assert kept.project["throw"] == BASE.project["throw"]
    assert kept.project["other"] == outside.project["other"]
    assert kept == edits.set_rows(BASE, "other", 1, 8)


def test_a_step_that_touched_the_same_file_is_not_kept() -> None:
    saved = edits.set_rows(BASE, "throw", 0, 10)
    assert carried(BASE, saved, edits.set_rows(saved, "throw", 1, 8)) is None
    lighter = edits.weigh_part(BASE, MOSS, 0, D(12))
    by_others = edits.use_balls(lighter, MOSS, 1)
    assert carried(BASE, lighter, by_others) is None
    clay = edits.use_balls(lighter, LotRef("plain", "10", "any"), 1)
    assert carried(BASE, lighter, clay) is not None


def test_files_that_came_and_went() -> None:
    saved = edits.set_rows(BASE, "throw", 0, 10)
    gone = replace(saved, projects=saved.projects[:2])
    kept = carried(BASE, saved, gone)
    assert kept is not None
    assert list(kept.project) == ["throw", "other"]
    more = edits.copy_project(saved, "other", "A fourth")
    kept = carried(BASE, saved, more)
    assert kept is not None
    assert list(kept.project) == ["throw", "other", "third", "a-fourth"]
    # What an undo brings back that others never saw is brought back all the same.
    without = replace(BASE, projects=BASE.projects[1:])
    assert carried(BASE, without, edits.set_settings(without, name="Barn")) == edits.set_settings(
        BASE, name="Barn"
    )


def _dearer(yarn: Yarn) -> Yarn:
    assert yarn.price is not None
    return replace(yarn, price=yarn.price + 1)


EDITS: tuple[Callable[[Studio], Studio], ...] = (
    lambda s: edits.set_rows(s, "throw", 0, s.project["throw"].stripes[0].rows + 2),
    lambda s: edits.set_rows(s, "other", 1, s.project["other"].stripes[1].rows + 2),
    lambda s: edits.set_rows(s, "third", 3, s.project["third"].stripes[3].rows + 2),
    lambda s: edits.set_settings(s, rate_per_hour=s.settings.rate_per_hour + 1),
    lambda s: edits.weigh_part(s, MOSS, None, D(10)),
    lambda s: edits.set_yarn(s, _dearer(s.library.yarn["wool"])),
)


@given(st.lists(st.sampled_from(EDITS), max_size=4), st.lists(st.sampled_from(EDITS), max_size=4))
def test_a_carried_step_differs_from_the_files_only_by_her_own_edits(
    hers: list[Callable[[Studio], Studio]], theirs: list[Callable[[Studio], Studio]]
) -> None:
    saved, outside = BASE, BASE
    for edit in hers:
        saved = edit(saved)
    outside = saved
    for edit in theirs:
        outside = edit(outside)
    kept: Studio | None = carried(BASE, saved, outside)
    touched = {EDITS.index(edit) for edit in hers} & {EDITS.index(edit) for edit in theirs}
    if kept is None:
        assert touched
        return
    again = BASE
    for edit in theirs:
        again = edit(again)
    assert kept == again


def test_a_step_knows_which_files_can_be_read_now() -> None:
    broken = replace(BASE, unread=frozenset({"trade.toml"}))
    kept = carried(broken, broken, BASE)
    assert kept is not None
    assert kept.unread == frozenset()
