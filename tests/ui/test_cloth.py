"""The cloth widget: true shades, marks beside it, clicks, and patterns where there is no colour."""

from __future__ import annotations

from dataclasses import replace

import pytest
from textual.app import App, ComposeResult

from studio.core.model import Direction
from studio.core.picture import ClothPicture, picture_of
from studio.ui.cloth import Cloth
from studio.ui.themes import default_variables
from tests.ui import fake

PICTURE = picture_of(fake.MOOR, fake.plan().projects["moor-blanket"], fake.studio().library)
PLAIN = replace(PICTURE, border=None, fringe=None)
CREAM, GREEN = "#e3d6bd", "#7f9168"


class Bench(App[None]):
    """One cloth, and what it told."""

    def __init__(self, picture: ClothPicture | None, ansi: bool | None = None) -> None:
        super().__init__(ansi_color=ansi)
        self.picture = picture
        self.picked: list[int] = []

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return default_variables()

    def compose(self) -> ComposeResult:
        yield Cloth()

    def on_mount(self) -> None:
        cloth = self.query_one(Cloth)
        hints = [f"stripe {i + 1}" for i in range(8)]
        cloth.show(self.picture, "152 × 165 cm", hints, empty="No stripes yet.")

    def on_cloth_stripe_picked(self, message: Cloth.StripePicked) -> None:
        self.picked.append(message.index)


def text(cloth: Cloth) -> list[str]:
    return ["".join(s.text for s in cloth.render_line(y)) for y in range(cloth.size.height)]


def colours(cloth: Cloth, y: int) -> set[str]:
    """The shades on a line, ground and front."""
    found = set()
    for segment in cloth.render_line(y):
        if segment.style and segment.style.meta.get("shade"):
            found |= {c.name for c in (segment.style.color, segment.style.bgcolor) if c}
    return found


async def test_it_is_drawn_in_its_own_shades_with_letters_and_the_row_in_hand() -> None:
    app = Bench(PLAIN)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        lines = text(cloth)
        assert all(len(line) == 60 for line in lines)
        assert colours(cloth, 0) == {CREAM}
        letters = [line.strip()[0] for line in lines if line.strip()[:1].isalpha()]
        assert letters == ["A", "B", "A", "C", "B", "A", "B", "C"]
        marks = "".join(line.rstrip()[-1:] for line in lines[:19])
        # 26 of 104 rows are worked: a quarter of the 19 lines.
        assert marks == "│" * 4 + "◂" + "┊" * 14
        assert lines[19].strip() == "152 × 165 cm"


async def test_the_stripe_at_hand_is_marked_and_only_its_lines_change() -> None:
    app = Bench(PLAIN)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        before = text(cloth)
        cloth.mark(2)
        marked = [y for y, line in enumerate(text(cloth)) if "▐" in line]
        line = cloth.line_of_stripe(2)
        assert line in marked
        assert GREEN not in colours(cloth, line or 0)
        assert [y for y, (a, b) in enumerate(zip(before, text(cloth), strict=True)) if a != b] == (
            marked
        )
        cloth.mark(None)
        assert text(cloth) == before


@pytest.mark.parametrize("along", [False, True])
async def test_a_click_picks_the_stripe_under_it(along: bool) -> None:
    app = Bench(replace(PICTURE, along=along))
    async with app.run_test(size=(80, 30)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        spots: dict[int, tuple[int, int]] = {}
        for y in range(30):
            for x in range(80):
                index = cloth.stripe_at(x, y)
                if index is not None:
                    spots.setdefault(index, (x, y))
        assert sorted(spots) == list(range(8))
        for index, spot in spots.items():
            await pilot.click(Cloth, offset=spot)
            assert app.picked[-1] == index
            await pilot.hover(Cloth, offset=spot)
            assert cloth.tooltip == f"stripe {index + 1}"
        count = len(app.picked)
        await pilot.click(Cloth, offset=(0, 0))
        assert len(app.picked) == count


async def test_stripes_along_stand_upright_with_marks_above_and_below() -> None:
    piece = replace(fake.MOOR, direction=Direction.ALONG)
    app = Bench(picture_of(piece, None, fake.studio().library))
    async with app.run_test(size=(60, 24)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        cloth.mark(3)
        lines = text(cloth)
        assert lines[0].split() == ["A", "B", "A", "C", "B", "A", "B", "C"]
        assert "▄" in lines[1]
        worked = next(line for line in lines if "▴" in line).strip()
        assert worked.startswith("─")
        assert worked.endswith("╌")


async def test_without_colour_slots_are_patterns_with_their_letters(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    app = Bench(PLAIN, ansi=True)
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        lines = text(cloth)
        assert not colours(cloth, 0) & {CREAM, GREEN}
        assert "A░░░" in lines[0]
        signs = {c for line in lines[:19] for c in line} & set("░▒▓")
        assert signs == set("░▒▓")


@pytest.mark.parametrize("size", [(1, 1), (5, 2), (20, 5), (6, 40), (200, 3)])
@pytest.mark.parametrize("along", [False, True])
async def test_any_size_is_drawn(size: tuple[int, int], along: bool) -> None:
    app = Bench(replace(PICTURE, along=along))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        cloth.mark(7)
        assert [len(line) for line in text(cloth)] == [size[0]] * size[1]


async def test_nothing_to_draw_is_said() -> None:
    app = Bench(None)
    async with app.run_test(size=(40, 6)) as pilot:
        await pilot.pause()
        cloth = app.query_one(Cloth)
        assert text(cloth)[0].strip() == "No stripes yet."
        assert cloth.stripe_at(3, 3) is None
        assert cloth.line_of_stripe(0) is None
