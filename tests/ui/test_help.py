"""Help is made from the registry, for the pane at hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from studio.ui.dialogs.message import Words
from studio.ui.help import help_for
from studio.ui.keymap import NO_KEYMAP, check_keymap
from studio.ui.keys import ACTIONS, EVERYWHERE, GROUPS
from tests.ui import small


@pytest.mark.parametrize("group", [g for g in GROUPS if g != EVERYWHERE])
def test_help_names_every_action_of_the_pane_and_of_everywhere(group: str) -> None:
    text = " ".join(help_for(group, NO_KEYMAP, 68).text.split())
    for action in ACTIONS:
        wanted = action.group in (group, EVERYWHERE)
        assert (f" {action.id}" in text) == wanted or not wanted, action.id
        if wanted:
            assert action.label in text


@pytest.mark.parametrize("group", [g for g in GROUPS if g != EVERYWHERE])
def test_help_begins_with_what_is_shown(group: str) -> None:
    first = help_for(group, NO_KEYMAP, 68).text.splitlines()[0]
    assert len(first.split()) > 5


def test_help_lines_fit_their_width() -> None:
    for width in (30, 44, 68):
        lines = help_for("stripes", NO_KEYMAP, width).text.splitlines()
        assert max(len(line) for line in lines) <= max(width, 16 + 20)


def test_help_says_the_keys_in_force() -> None:
    text = help_for("stripes", check_keymap({"keys": {"undo": "f12"}}), 68).text
    line = next(line for line in text.splitlines() if "Undo." in line)
    assert line.startswith("F12")


def test_help_does_not_take_the_key_that_finds_an_action_for_its_own() -> None:
    """What has no key of its own is found; pressing the key alone would not do it."""
    text = help_for("orders", NO_KEYMAP, 68).text
    line = next(line for line in text.splitlines() if "Work by due date again." in line)
    assert line.startswith("in Ctrl+P")


async def test_f1_speaks_of_the_pane_at_hand_and_escape_goes_back(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        for key, title in (("f4", "Help: stash"), ("f2", "Help: projects")):
            await pilot.press(key, "f1")
            assert isinstance(app.screen, Words)
            assert app.screen.title_words == title
            await pilot.press("escape")
            assert not isinstance(app.screen, Words)
