"""Theme files: all shipped ones are readable and complete; wrong ones are told in sentences."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest
from textual.app import App

from studio.core.light import contrast
from studio.ui.themes import (
    DEFAULT,
    GROUNDS,
    LEAST_CONTRAST,
    PAIRS,
    StudioTheme,
    contrast_problems,
    default_variables,
    install,
    load_themes,
    read_theme,
    shipped_folder,
    to_textual,
    variables,
)

SHIPPED = load_themes()
ALL = sorted(SHIPPED.by_key.values(), key=lambda theme: theme.key)
DEFICIENCIES = ("protan", "deutan", "tritan")


def by_note(words: str) -> list[StudioTheme]:
    return [theme for theme in ALL if words in theme.note.lower()]


def test_there_are_dark_light_high_contrast_and_colour_blind_safe_ones_without_a_problem() -> None:
    assert SHIPPED.problems == ()
    assert len(list(shipped_folder().glob("*.toml"))) == len(ALL) >= 4
    assert {theme.dark for theme in ALL} == {True, False}
    assert by_note("high contrast")
    assert by_note("colour-blind")


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.key)
def test_every_text_is_readable_on_every_ground(theme: StudioTheme) -> None:
    wanted = 7 if "high contrast" in theme.note.lower() else LEAST_CONTRAST
    poor = {
        pair: ratio
        for pair in PAIRS
        if (ratio := contrast(theme.colours[pair[0]], theme.colours[pair[1]])) < wanted
    }
    assert poor == {}


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.key)
def test_the_line_at_hand_and_the_frames_can_be_seen(theme: StudioTheme) -> None:
    # Our own measure, no source: a ground of the line at hand must differ visibly, a frame more.
    assert contrast(theme.colours["cursor"], theme.colours["field"]) >= 1.2
    assert contrast(theme.colours["frame"], theme.colours["ground"]) >= 2


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.key)
def test_focus_needs_you_and_grey_are_told_apart(theme: StudioTheme) -> None:
    from coloraide import Color

    # CIEDE2000 and the simulations (Brettel, Vienot, Machado) are coloraide's. 10 is the
    # trade rules' assumed limit for shades; the safe themes must do much better, for every eye.
    safe = "colour-blind" in theme.note.lower()
    named = {name: Color(theme.colours[name]) for name in ("focus", "needs_you", "quiet")}
    for (one, a), (other, b) in combinations(named.items(), 2):
        assert a.delta_e(b, method="2000") >= 15, (one, other)
        if safe and "needs_you" in (one, other):
            for kind in DEFICIENCIES:
                seen = a.filter(kind).delta_e(b.filter(kind), method="2000")
                assert seen >= 25, (one, other, kind, seen)


@pytest.mark.parametrize("theme", ALL, ids=lambda theme: theme.key)
def test_everything_textual_derives_for_text_is_readable(theme: StudioTheme) -> None:
    made = to_textual(theme).to_color_system().generate()
    texts = [name for name in made if name == "text" or name.startswith("text-")]
    texts += ["foreground", "foreground-muted", "foreground-disabled", "button-foreground"]
    texts += ["footer-foreground", "footer-key-foreground", "footer-description-foreground"]
    grounds = ["background", "surface", "panel", "block-cursor-background"]
    grounds += ["block-cursor-blurred-background", "block-hover-background", "footer-background"]
    grounds += [name for name in made if name.endswith("-muted") and made[name] == made["panel"]]
    for text in texts:
        for ground in grounds:
            assert contrast(made[text][:7], made[ground][:7]) >= LEAST_CONTRAST, (text, ground)


def test_names_for_style_sheets_are_there_without_any_theme() -> None:
    from_file, problems = read_theme(shipped_folder() / f"{DEFAULT}.toml")
    assert from_file is not None
    assert problems == ()
    assert default_variables() == variables(from_file.colours)


async def test_each_can_be_worn_by_an_app() -> None:
    class Bare(App[None]):
        def get_theme_variable_defaults(self) -> dict[str, str]:
            return default_variables()

    app = Bare()
    install(app, SHIPPED)
    async with app.run_test() as pilot:
        for theme in ALL:
            app.theme = theme.key
            await pilot.pause()
            assert app.theme_variables["needs-you"] == theme.colours["needs_you"]
            assert app.screen.styles.background.hex.lower() == theme.colours["ground"]


GOOD = (shipped_folder() / "fleece.toml").read_text(encoding="utf-8")

WRONG = {
    "empty": ("", ["'name' is missing", "'kind' is missing", "[colours] is missing"]),
    "not toml": ("name = ", ["it is not TOML"]),
    "bad kind": (GOOD.replace('"light"', '"bright"'), ["'kind' is 'bright'; it can be 'dark'"]),
    "bad colour": (GOOD.replace("#2a251f", "brown"), ["'text' is 'brown'; a colour is written"]),
    "number": (GOOD.replace('"#2a251f"', "3"), ["'text' is 3; a colour is written"]),
    "short": (GOOD.replace("#2a251f", "#2a2"), ["'text' is '#2a2'"]),
    "not hex": (GOOD.replace("#2a251f", "#2a251g"), ["'text' is '#2a251g'"]),
    "misspelt": (GOOD.replace("needs_you", "need_you"), ["did you mean 'needs_you'?", "missing"]),
    "extra": (GOOD + 'zzz = "#000000"\n', ["'zzz' is not known; allowed are ground"]),
    "name not text": (GOOD.replace('"Fleece"', "1"), ["'name' must be a text"]),
    "colours not a table": ('name="x"\nkind="dark"\ncolours=1\n', ["[colours] is missing"]),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_file_is_told_and_left_out(name: str, tmp_path: Path) -> None:
    text, told = WRONG[name]
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    themes = load_themes(tmp_path)
    assert "mine" not in themes.by_key
    assert len(themes.by_key) == len(ALL)
    for words in told:
        assert any(words in problem for problem in themes.problems), themes.problems
    assert all(p.startswith("Theme mine.toml: ") for p in themes.problems)


def test_files_that_are_no_text_are_told(tmp_path: Path) -> None:
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "huge.toml").write_bytes(b"#" * 200_000)
    (tmp_path / "circle.toml").symlink_to(tmp_path / "circle.toml")
    problems = "\n".join(load_themes(tmp_path).problems)
    assert "bytes.toml: it is not UTF-8" in problems
    assert "folder.toml: it cannot be read" in problems
    assert "huge.toml: the file is far too big" in problems
    assert "circle.toml: it cannot be read" in problems


def test_her_own_theme_is_used_and_poor_contrast_is_told(tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_text(GOOD.replace("#5f574c", "#b0a890"), encoding="utf-8")
    themes = load_themes(tmp_path, tmp_path / "not there")
    assert themes.by_key["mine"].label == "Fleece: light"
    assert any("'quiet' on 'ground' is hard to read: contrast" in p for p in themes.problems)
    assert len(contrast_problems(themes.by_key["mine"])) == len(GROUNDS)


def test_a_wish_that_cannot_be_met_falls_back_and_says_so() -> None:
    assert SHIPPED.choose("") == (DEFAULT, None)
    assert SHIPPED.choose("woad") == ("woad", None)
    assert SHIPPED.choose("wode") == (
        DEFAULT,
        f"There is no theme 'wode'. Did you mean 'woad'? '{DEFAULT}' is used.",
    )
    assert SHIPPED.choose("qqq") == (DEFAULT, f"There is no theme 'qqq'. '{DEFAULT}' is used.")
