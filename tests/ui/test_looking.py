"""The harness that looks at screens finds what it is there to find."""

from __future__ import annotations

from typing import Any

from textual.app import App, ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Button, Input, Label, Static

from studio.ui.columns import CUT
from studio.ui.drawn_list import Column, DrawnList, Row
from studio.ui.themes import default_variables, install, load_themes
from tests.ui import looking


class Bad(App[None]):
    """An app with a fault on every line."""

    CSS = """
    Screen { layers: base above; background: $background; }
    #cut { width: 10; height: 1; }
    #sign { width: 12; height: 1; text-overflow: ellipsis; text-wrap: nowrap; }
    #tall { height: 1; }
    #over { offset: 0 -1; }
    #faint { color: $frame; }
    #shade { color: #123456; }
    #off { width: 200; }
    #box { height: 2; }
    #floating { layer: above; }
    Input { width: 20; }
    VerticalScroll { height: 3; }
    """

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return default_variables()

    def compose(self) -> ComposeResult:
        yield Label("words that are cut", id="cut")
        yield Label("words that are cut", id="sign")
        yield Static("a first line\nand a second", id="tall")
        yield Button("under", id="under", compact=True)
        yield Button("over", id="over", compact=True)
        yield Label("hard to read", id="faint")
        yield Label("a made-up colour", id="shade")
        yield Label("pushed off", id="off")
        yield Input(placeholder="a placeholder that is far too long")
        yield Vertical(Label("seen"), Label("seen too"), Label("gone"), id="box")
        yield VerticalScroll(*[Label(f"line {n}") for n in range(9)], id="scroll")

    def on_load(self) -> None:
        install(self, load_themes())
        self.theme = "felt"


def about(faults: list[str], name: str) -> list[str]:
    return [fault for fault in faults if name in fault]


async def test_cuts_overlaps_and_what_is_pushed_off_are_found() -> None:
    app = Bad()
    async with app.run_test(size=(60, 30)) as pilot:
        await pilot.pause()
        faults = looking.layout_faults(app)
        assert about(faults, "'wordsthatarecut' is seen only as")
        assert len(about(faults, "wordsthatarecut")) == 1  # the one that ends with a sign is well
        assert about(faults, "Static#tall")
        assert about(faults, "Button#over")
        assert about(faults, "lie over one another")
        assert about(faults, "Label#off")
        assert about(faults, "the placeholder")
        assert not about(faults, "line ")
        assert not about(faults, "VerticalScroll#scroll")


async def test_faint_text_and_colours_no_theme_states_are_found() -> None:
    app = Bad()
    async with app.run_test(size=(60, 30)) as pilot:
        await pilot.pause()
        faults = looking.contrast_faults(looking.grid(app))
        assert about(faults, "hardtoread")
        assert about(faults, "amade-upcolour")
        assert not about(faults, "under")
        app.register_theme(looking.to_textual(looking.TRACER))
        app.theme = "tracer"
        await pilot.pause()
        strange = looking.strange_colours(looking.text_runs(looking.grid(app)))
        assert about(strange, "amade-upcolour")
        assert not about(strange, "wordsthat")


class Short(DrawnList):
    """A list that cuts without a sign."""

    def render_line(self, y: int) -> Any:
        strip = super().render_line(y)
        text = "".join(s.text for s in strip).replace(CUT, " ")
        return type(strip)([type(next(iter(strip)))(text, self.rich_style)])


async def test_a_list_that_cuts_without_a_sign_is_found() -> None:
    for kind, count in ((DrawnList, 0), (Short, 1)):

        class Lists(App[None]):
            def get_theme_variable_defaults(self) -> dict[str, str]:
                return default_variables()

            def compose(self) -> ComposeResult:
                yield kind(Column("what", share=1))  # noqa: B023 - run at once

        app = Lists()
        async with app.run_test(size=(12, 5)) as pilot:
            app.query_one(DrawnList).set_rows([Row(1, ("words that are cut",)), Row(2, ("whole",))])
            await pilot.pause()
            assert len(looking.layout_faults(app)) == count


def test_a_golden_text_that_differs_is_told(tmp_path: Any, monkeypatch: Any) -> None:
    monkeypatch.setattr(looking, "GOLDEN", tmp_path)
    monkeypatch.delenv(looking.UPDATE, raising=False)
    cells = (tuple(looking.Glyph(c, "", "") for c in "as it is"),)
    assert "looks different" in (looking.golden("a", cells) or "")
    monkeypatch.setenv(looking.UPDATE, "1")
    assert looking.golden("a", cells) is None
    monkeypatch.delenv(looking.UPDATE)
    assert looking.golden("a", cells) is None
    other = (tuple(looking.Glyph(c, "", "") for c in "as it was"),)
    assert "-as it is" in (looking.golden("a", other) or "")
