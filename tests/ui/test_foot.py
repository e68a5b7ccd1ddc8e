"""Which keys stand at the foot: as many as fit, and the one for rows done from some width on."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.ui.foot import GAP, KEPT, KEPT_FROM, SIGN, fitted, shown_keys
from studio.ui.keymap import NO_KEYMAP
from studio.ui.keys import BY_ID

BENCH = ("projects", "stripes", "stash", "cost", "findings")


def texts(group: str) -> list[tuple[str, str]]:
    return [(a.id, f"{key} {words}") for key, words, a in shown_keys(group, NO_KEYMAP)]


@pytest.mark.parametrize("group", BENCH)
@pytest.mark.parametrize("width", [100, 118, 120, 200])
def test_rows_done_has_its_place_on_a_line_of_some_width(group: str, width: int) -> None:
    found = texts(group)
    assert KEPT in {found[at][0] for at in fitted(found, width)}


@pytest.mark.parametrize("group", BENCH)
def test_on_a_narrow_line_the_keys_of_the_pane_come_first(group: str) -> None:
    found = texts(group)
    assert KEPT not in {found[at][0] for at in fitted(found, 80)}
    # Help and the palette have it: both are made from the registry.
    assert BY_ID[KEPT].keys == "ctrl+r"


@given(
    st.lists(st.text("abc ", min_size=1, max_size=20), min_size=1, max_size=20),
    st.integers(min_value=10, max_value=250),
    st.integers(min_value=0, max_value=19),
)
def test_what_is_shown_fits_in_its_order(words: list[str], room: int, kept: int) -> None:
    found = [(KEPT if at == kept else str(at), text) for at, text in enumerate(words)]
    taken = fitted(found, room)
    assert list(taken) == sorted(set(taken))
    width = sum(len(found[at][1]) for at in taken) + GAP * max(0, len(taken) - 1)
    assert width + (SIGN - 1 if len(taken) < len(found) and taken else 0) <= max(room, SIGN)
    plain = room < KEPT_FROM or kept >= len(words)
    if plain:
        assert list(taken) == list(range(len(taken)))
