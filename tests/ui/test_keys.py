"""The registry of actions, and the user's keymap over it."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from textual.binding import Binding

from studio.ui import keys
from studio.ui.app import StripewrightApp
from studio.ui.enquiry.screen import Enquiry
from studio.ui.keymap import check_keymap
from studio.ui.orderbook.screen import OrderBookScreen
from studio.ui.panes.cost import CostPane
from studio.ui.panes.findings import FindingsPane
from studio.ui.panes.projects import ProjectsPane
from studio.ui.panes.stash import StashPane
from studio.ui.panes.stripes import StripesPane
from tests.ui import small

PANES = (ProjectsPane, StripesPane, StashPane, CostPane, FindingsPane)
BESIDE = {"enquiry": Enquiry, "orders": OrderBookScreen}


def test_every_action_has_its_own_name_and_help() -> None:
    names = Counter(action.id for action in keys.ACTIONS)
    assert [name for name, count in names.items() if count > 1] == []
    assert all(action.label and action.help for action in keys.ACTIONS)


def test_every_action_can_be_done() -> None:
    from studio.ui.flows import FLOWS

    panes = {pane().id: pane for pane in PANES}
    for action in keys.ACTIONS:
        if action.group in keys.BESIDE:
            continue
        if action.group != keys.EVERYWHERE:
            place = BESIDE.get(action.group) or panes[action.group]
            assert hasattr(place, f"action_{action.verb}"), action.id
        elif action.verb in keys.ASKED:
            assert action.verb in FLOWS, action.id
        else:
            assert hasattr(StripewrightApp, f"action_{action.verb}"), action.id


def test_every_binding_of_ours_has_an_id() -> None:
    for owner in (StripewrightApp, *PANES, *BESIDE.values()):
        for binding in owner.__dict__["BINDINGS"]:
            assert isinstance(binding, Binding)
            assert binding.id in keys.BY_ID


def test_a_keymap_may_also_move_the_keys_of_lists_and_dialogs() -> None:
    from studio.ui.beside import Beside
    from studio.ui.dialogs.base import Sheet
    from studio.ui.dialogs.choose import FilterEntry
    from studio.ui.dialogs.form import Form, Pick
    from studio.ui.dialogs.message import Words
    from studio.ui.drawn_list import DrawnList
    from studio.ui.tables.matching import MatchSheet
    from studio.ui.tables.rows import RowsSheet

    owners = (
        *(DrawnList, Sheet, Words, Form, Pick, FilterEntry, Beside),
        *(MatchSheet, RowsSheet),
    )
    found = [b.id for o in owners for b in o.__dict__["BINDINGS"] if isinstance(b, Binding)]
    assert sorted(str(name) for name in found) == sorted(keys.ALSO)
    assert check_keymap({"keys": {"list.up": "f12"}}).problems == ()


def test_no_key_means_two_things_at_once() -> None:
    everywhere = [k for a in keys.ACTIONS if a.group == keys.EVERYWHERE for k in a.keys.split(",")]
    for group in keys.GROUPS:
        here = [k for a in keys.ACTIONS if a.group == group for k in a.keys.split(",")]
        both = Counter(k for k in [*here, *(everywhere if group != keys.EVERYWHERE else [])] if k)
        assert [key for key, count in both.items() if count > 1] == [], group


def test_the_same_verb_has_the_same_key_in_every_pane() -> None:
    by_verb: dict[str, set[str]] = {}
    for action in keys.ACTIONS:
        if action.group != keys.EVERYWHERE and action.keys:
            by_verb.setdefault(action.verb, set()).add(action.keys.split(",")[0])
    assert {verb: found for verb, found in by_verb.items() if len(found) > 1} == {}


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ({"keys": {"stripes": {"mor": "ctrl+u"}}}, "Did you mean 'stripes.more'?"),
        ({"keys": {"undo": 3}}, "'undo' must be a key"),
        ({"kees": {}}, "'kees' is not known"),
        ({"keys": "ctrl+u"}, "[keys] must be a table"),
        ({"keys": {"undo": "ctrl+y"}}, "Ctrl+Y is both 'undo' (Undo) and 'redo' (Redo)"),
        ({"keys": {"stripes.more": "f1"}}, "F1 is both 'help'"),
        ({"keys": {"undo": "u"}}, "'u' for 'undo' is typed in the stripe editor"),
    ],
)
def test_a_wrong_keymap_is_told_in_words(stated: dict[str, object], words: str) -> None:
    assert any(words in problem for problem in check_keymap(stated).problems)


def test_keys_of_panes_that_are_never_at_hand_together_do_not_clash() -> None:
    assert check_keymap({"keys": {"stash.use": "ctrl+k"}}).problems == ()


def test_swapping_two_keys_is_no_clash() -> None:
    swapped = {"keys": {"undo": "ctrl+y", "redo": "ctrl+z"}}
    assert check_keymap(swapped).problems == ()


def test_signs_may_be_written_as_signs() -> None:
    assert check_keymap({"keys": {"stripes.more": "*"}}).keys == {"stripes.more": "asterisk"}


async def test_the_users_keymap_is_honoured_everywhere(tmp_path: Path) -> None:
    (tmp_path / "keymap.toml").write_text(
        '[keys]\n"stripes.more" = "ctrl+u"\nsettings = "ctrl+f5"\nnonsense = "f11"\nundo = 3\n',
        encoding="utf-8",
    )
    async with small.opened(tmp_path) as (app, pilot):
        assert "there is no action 'nonsense'" in app.bench.say_line.words
        assert "And 1 more under Findings" in app.bench.say_line.words
        assert app.view.open_findings >= 2
        await pilot.press("down", "down", "down")
        before = app.workshop.snapshot.studio.project["moor-blanket"].stripes[3].rows
        await pilot.press("plus")
        assert app.workshop.snapshot.studio.project["moor-blanket"].stripes[3].rows == before
        await pilot.press("ctrl+u")
        assert app.workshop.snapshot.studio.project["moor-blanket"].stripes[3].rows == before + 2
        assert "Ctrl+U" in app.bench.keys.text
        await pilot.press("f1")
        assert "Ctrl+U" in app.screen.text  # type: ignore[attr-defined]
        await pilot.press("escape", "ctrl+f5")
        await pilot.pause()
        assert app.screen.title_words == "The studio"  # type: ignore[attr-defined]


async def test_a_broken_keymap_leaves_the_keys_as_they_are(tmp_path: Path) -> None:
    (tmp_path / "keymap.toml").write_text("[keys\n", encoding="utf-8")
    async with small.opened(tmp_path) as (app, pilot):
        assert "keymap.toml could not be read" in app.bench.say_line.words
        await pilot.press("f4")
        assert app.bench.at == "stash"
