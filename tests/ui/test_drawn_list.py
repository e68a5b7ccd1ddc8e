"""The drawn list: what it draws, how the cursor keeps to its row, what it draws again."""

from __future__ import annotations

from collections.abc import Hashable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from textual.app import App, ComposeResult
from textual.strip import Strip

from studio.core.clean import no_turns
from studio.ui.columns import (
    CUT,
    Align,
    Cell,
    Column,
    Row,
    Tone,
    changed_natural,
    cut,
    lay_out,
    natural,
    split_figure,
    wrap,
)
from studio.ui.drawn_list import DrawnList
from studio.ui.swatch import Patch
from studio.ui.themes import default_variables

COLUMNS = (
    Column("no", align=Align.RIGHT),
    Column("shade", share=1, least=8),
    Column("need", unit="g", align=Align.DECIMAL),
    Column("lot", drop=1),
    Column("note", width=20, drop=2),
)


def row(number: int, need: str = "12.5", **more: object) -> Row:
    lichen = Cell("Lichen", patch=Patch(("#7f9168",), "B"))
    cells = (str(number), lichen, need, f"lot {number}", "bought in May")
    return Row(f"k{number}", cells, **more)  # type: ignore[arg-type]


class Counting(DrawnList):
    """A list that counts the lines it draws."""

    drawn = 0

    def render_line(self, y: int) -> Strip:
        self.drawn += 1
        return super().render_line(y)


class Bench(App[None]):
    """A list, and what it told."""

    def __init__(self, *columns: Column) -> None:
        super().__init__()
        self.columns = columns or COLUMNS
        self.told: list[tuple[str, Hashable]] = []

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return default_variables()

    def compose(self) -> ComposeResult:
        yield Counting(*self.columns, empty="Nothing here yet.")

    @property
    def rows(self) -> Counting:
        return self.query_one(Counting)

    def on_drawn_list_moved(self, message: DrawnList.Moved) -> None:
        self.told.append(("moved", message.key))

    def on_drawn_list_opened(self, message: DrawnList.Opened) -> None:
        self.told.append(("opened", message.key))

    def on_drawn_list_filtered(self, message: DrawnList.Filtered) -> None:
        self.told.append(("filtered", message.key))


def text(rows: DrawnList) -> list[str]:
    lines = ["".join(s.text for s in rows.render_line(y)) for y in range(rows.size.height)]
    assert {cell_len(line) for line in lines} <= {rows.size.width}
    return [line.rstrip() for line in lines]


# The pure part


@pytest.mark.parametrize(
    ("figure", "parts"),
    [
        ("84.5", ("84", ".5")),
        ("84", ("84", "")),
        ("-1.25*", ("-1", ".25*")),
        ("84*", ("84", "*")),
        ("+1.3 %", ("+1", ".3 %")),
        ("none", ("none", "")),
        ("", ("", "")),
    ],
)
def test_figures_are_split_at_their_point(figure: str, parts: tuple[str, str]) -> None:
    assert split_figure(figure) == parts


@given(st.text(max_size=40), st.integers(0, 30))
def test_a_cut_text_fills_its_room_and_says_that_it_is_cut(words: str, width: int) -> None:
    words = no_turns(words.replace("\n", " "))
    made = cut(words, width)
    assert cell_len(made) == width
    if cell_len(words) > width > 0:
        assert made.rstrip().endswith(CUT)
    elif width:
        assert made.startswith(words)


def test_wide_letters_are_cut_whole() -> None:
    assert cut("毛糸毛糸", 4) == "毛… "
    assert cut("毛糸毛糸", 5) == "毛糸…"


@given(st.text("ab cdefg", max_size=80), st.integers(1, 20))
def test_wrapping_loses_no_letter_and_keeps_to_the_width(words: str, width: int) -> None:
    lines = wrap(words, width)
    assert all(cell_len(line) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


@given(st.integers(1, 120))
def test_columns_fill_the_width_and_the_first_to_go_goes_first(width: int) -> None:
    rows = [row(n) for n in range(1, 12)]
    naturals = [natural(c, i, rows) for i, c in enumerate(COLUMNS)]
    layout = lay_out(COLUMNS, naturals, width)
    used = sum(p.width for p in layout.places) + layout.gap * (len(layout.places) - 1)
    assert used <= max(0, width - 2)
    assert layout.dropped in ((), (4,), (3, 4))
    if not layout.dropped and width > 60:
        assert used == width - 2
    if not layout.dropped:
        assert [p.at for p in layout.places] == [0, 1, 2, 3, 4]


@given(
    st.lists(st.sampled_from(["1", "22.25", "3.5", "", "123456"]), min_size=1, max_size=8),
    st.data(),
)
@settings(max_examples=150)
def test_room_found_from_changed_rows_is_the_room_found_from_all(
    figures: list[str], data: st.DataObject
) -> None:
    column = Column("n", align=Align.DECIMAL)
    before = [row(i, f) for i, f in enumerate(figures)]
    at = data.draw(st.integers(0, len(figures) - 1))
    after = [*before]
    after[at] = row(at, data.draw(st.sampled_from(["1", "9999.125", "3.5"])))
    known = natural(column, 2, before)
    found = changed_natural(column, 2, known, [before[at]], [after[at]])
    assert found in (None, natural(column, 2, after))
    if cell_len(figures[at]) == 1 and "123456" in figures and "22.25" in figures:
        assert found is not None


# What is drawn


async def test_head_units_swatch_and_decimal_points() -> None:
    app = Bench()
    async with app.run_test(size=(70, 8)) as pilot:
        rows = app.rows
        rows.set_rows([row(1, "84.5"), row(2, "6"), row(10, "101.25")])
        await pilot.pause()
        lines = text(rows)
        assert lines[0].split() == ["no", "shade", "need", "g", "lot", "note"]
        points = [line.index("lot") for line in lines[1:4]]
        assert len(set(points)) == 1
        ends = [lines[1].index(".5"), lines[2].index("6 ") + 1, lines[3].index(".25")]
        assert len(set(ends)) == 1
        strip = rows.render_line(2)
        swatch = [s for s in strip if s.style and s.style.meta.get("shade")]
        assert [s.text for s in swatch] == ["   "]
        assert swatch[0].style is not None
        assert swatch[0].style.bgcolor is not None
        assert swatch[0].style.bgcolor.name == "#7f9168"


async def test_dropped_columns_are_told_of_and_their_figures_stand_below() -> None:
    app = Bench()
    async with app.run_test(size=(36, 8)) as pilot:
        app.rows.set_rows([row(1), row(2)])
        await pilot.pause()
        lines = text(app.rows)
        assert lines[0].endswith(CUT)
        assert "note" not in lines[0]
        assert lines[1].startswith("▌")
        assert lines[2].startswith("▌   note bought in May")
        assert "Lichen" in lines[3]


async def test_cut_cells_say_so_at_any_width() -> None:
    app = Bench(Column("shade", share=1, least=3), Column("lot", width=5))
    async with app.run_test(size=(30, 6)) as pilot:
        app.rows.set_rows([Row("a", (Cell("A very long name of a shade"), "lot 1180 b"))])
        await pilot.pause()
        assert text(app.rows)[1] == "▌A very long name of…   lot…"


async def test_a_long_text_takes_the_empty_places_after_it() -> None:
    columns = (Column("way", width=8), Column("balls", width=6), Column("cost", width=6))
    app = Bench(*columns)
    async with app.run_test(size=(40, 8)) as pilot:
        rows = [
            Row("a", ("from the wholesaler", "", "73.90")),
            Row("b", ("from the wholesaler", "3", "73.90")),
            Row("c", ("from the wholesaler over the hill", "", "")),
            Row("d", (Cell("Damson", patch=Patch(("#552b4a",))), "", "")),
        ]
        app.rows.set_rows(rows)
        await pilot.pause()
        shown = text(app.rows)
        # It goes on as far as there is nothing, and not over a figure.
        assert shown[1] == "▌from the wholes…  73.90"
        assert shown[2] == " from th…  3       73.90"
        assert shown[3].startswith(" from the wholesaler ov")
        assert "Damson" in shown[4]


async def test_reasons_open_under_the_line_at_hand_and_move_with_it() -> None:
    reason = "Lot 2207 has 84 g left, and the stripe needs 96 g of it."
    app = Bench(Column("no"))
    async with app.run_test(size=(30, 9)) as pilot:
        app.rows.set_rows([Row("a", ("1",), detail=(reason,)), Row("b", ("2",)), Row("c", ("3",))])
        app.rows.focus()
        await pilot.pause()
        assert [line[:6] for line in text(app.rows)[1:6]] == [
            "▌1", "▌   Lo", "▌   an", "▌   of", " 2"
        ]  # fmt: skip
        await pilot.press("down")
        assert [line[:6] for line in text(app.rows)[1:4]] == [" 1", "▌2", " 3"]


async def test_what_a_column_says_whole_is_not_said_again_below() -> None:
    terms = "to 2000 g: 4.90"
    rows = [Row("a", ("mill", terms), detail=(terms, "near the ford")), Row("b", ("2",))]
    for width, below in ((40, ["▌   near the ford"]), (20, [f"▌   {terms}", "▌   near the ford"])):
        app = Bench(Column("name"), Column("terms"))
        async with app.run_test(size=(width, 8)) as pilot:
            app.rows.set_rows(rows)
            app.rows.focus()
            await pilot.pause()
            shown = [line.rstrip() for line in text(app.rows)]
            assert shown[2 : 2 + len(below)] == below
            assert shown[2 + len(below)].startswith(" 2")


async def test_a_reason_too_long_to_show_is_cut_with_a_sign() -> None:
    app = Bench(Column("no"))
    async with app.run_test(size=(20, 5)) as pilot:
        app.rows.set_rows([Row("a", ("1",), detail=("word " * 60,)), Row("b", ("2",))])
        await pilot.pause()
        lines = text(app.rows)
        assert lines[1] == "▌1"
        assert lines[4].endswith(CUT)


async def test_nothing_is_said_in_words() -> None:
    app = Bench()
    async with app.run_test(size=(40, 5)) as pilot:
        await pilot.pause()
        assert text(app.rows)[1].strip() == "Nothing here yet."
        assert app.rows.key is None


@pytest.mark.parametrize("key", ["up", "down", "home", "end", "pageup", "pagedown", "enter"])
async def test_no_key_minds_that_nothing_is_there(key: str) -> None:
    app = Bench()
    async with app.run_test(size=(40, 8)) as pilot:
        app.rows.focus()
        await pilot.press(key)
        assert app.rows.row is None
        assert app.told == []


async def test_the_scroll_bar_covers_no_text() -> None:
    app = Bench(Column("no"), Column("what", share=1))
    async with app.run_test(size=(30, 6)) as pilot:
        app.rows.set_rows([Row(n, (str(n), "some words that are cut")) for n in range(3)])
        await pilot.pause()
        assert text(app.rows)[1] == "▌0   some words that are cut"
        app.rows.set_rows([Row(n, (str(n), "some words that are cut")) for n in range(30)])
        await pilot.pause()
        await pilot.pause()
        assert app.rows.layout_now.width == 29
        assert text(app.rows)[1] == "▌0   some words that are cut"
        app.rows.set_rows([Row(n, (str(n), "some words that are cut off")) for n in range(30)])
        await pilot.pause()
        assert text(app.rows)[1] == "▌0   some words that are cu…"


# The cursor


async def test_keys_move_and_open_and_headings_are_passed_over() -> None:
    app = Bench(Column("no"))
    async with app.run_test(size=(30, 6)) as pilot:
        many = [Row("h", ("booked",), Tone.HEADING), *(row(n) for n in range(1, 40))]
        many.insert(3, Row("h2", ("ideas",), Tone.HEADING))
        app.rows.set_rows(many)
        app.rows.focus()
        await pilot.pause()
        assert app.rows.key == "k1"
        await pilot.press("down", "down", "up", "up", "up", "end", "home", "pagedown", "enter")
        keys = [key for what, key in app.told if what == "moved"]
        assert keys == ["k2", "k3", "k2", "k1", "k39", "k1", "k4"]
        assert app.told[-1] == ("opened", app.rows.key)
        await pilot.press("home")
        assert text(app.rows)[1].startswith(" booked")


async def test_the_cursor_keeps_to_its_key_when_rows_change() -> None:
    app = Bench()
    async with app.run_test(size=(70, 8)) as pilot:
        rows = app.rows
        rows.set_rows([row(n) for n in range(20)])
        rows.go_to("k7")
        keys = []
        for shown, key in (
            ([*range(3, 20)], None),
            ([n for n in range(3, 20) if n != 7], None),
            ([1], None),
            ([*range(4)], "k3"),
        ):
            rows.set_rows([row(n) for n in shown], key=key)
            keys.append(rows.key)
        assert keys == ["k7", "k8", "k1", "k3"]
        await pilot.pause()
        assert app.told == []
        assert not rows.go_to("not there")


async def test_the_mouse_moves_opens_and_tells() -> None:
    app = Bench()
    async with app.run_test(size=(70, 10)) as pilot:
        app.rows.set_rows([row(n, hint=f"hint {n}") for n in range(50)])
        await pilot.pause()
        await pilot.click(DrawnList, offset=(5, 3))
        assert app.told == [("moved", "k2")]
        await pilot.click(DrawnList, offset=(5, 4), times=2)
        assert ("opened", "k3") in app.told
        await pilot.click(DrawnList, offset=(5, 0))
        assert app.rows.key == "k3"
        await pilot.hover(DrawnList, offset=(5, 5))
        assert app.rows.tooltip == "hint 4"


# The filter


async def test_typed_letters_narrow_the_list_and_escape_shows_all() -> None:
    app = Bench()
    async with app.run_test(size=(70, 10)) as pilot:
        # What is seen is found first, what only hidden words tell of after it.
        app.rows.set_rows([row(0, words="row 7"), row(7), row(17)])
        app.rows.filter("row 7")
        assert [r.key for r in app.rows._matching()][-1] == row(0).key
        app.rows.filter("")
        app.rows.set_rows([row(n, words="hidden" if n == 42 else "") for n in range(60)])
        app.rows.focus()
        await pilot.press("slash", "l", "o", "t", "space", "4", "2")
        assert [r.key for r in app.rows.shown] == ["k42"]
        assert text(app.rows)[1].split() == ["filter:", "lot", "42▏", "1", "of", "60"]
        assert app.rows.key == "k42"
        await pilot.press("enter")
        assert not app.rows.filtering
        assert app.rows.filter_text == "lot 42"
        await pilot.press("escape")
        assert len(app.rows.shown) == 60
        assert app.rows.key == "k42"
        await pilot.press("slash", "h", "i", "d", "d", "e", "n", "q")
        assert "Nothing matches" in text(app.rows)[2]
        await pilot.press("backspace")
        assert [r.key for r in app.rows.shown] == ["k42"]


# What it costs


@pytest.mark.usefixtures("painted_at_once")
async def test_only_changed_lines_are_drawn_again() -> None:
    app = Bench()
    async with app.run_test(size=(70, 20)) as pilot:
        rows = app.rows
        many = [row(n) for n in range(5000)]
        rows.set_rows(many)
        rows.focus()
        await pilot.pause()
        rows.drawn = 0
        many[3] = row(3, "13.5")
        rows.set_rows(many)
        await pilot.pause()
        assert rows.drawn == 1
        rows.drawn = 0
        many[3000] = row(3000, "13.5")
        rows.set_rows(many)
        await pilot.pause()
        assert rows.drawn == 0
        await pilot.press("down")
        assert rows.drawn == 2
        rows.drawn = 0
        del many[10]
        rows.set_rows(many)
        await pilot.pause()
        assert 0 < rows.drawn <= 20
        rows.drawn = 0
        await pilot.press("pagedown")
        await pilot.pause()
        assert rows.drawn <= 3 * 20


@pytest.mark.parametrize("size", [(1, 1), (3, 2), (20, 5), (8, 30)])
async def test_any_size_is_drawn(size: tuple[int, int]) -> None:
    app = Bench()
    async with app.run_test(size=size) as pilot:
        app.rows.set_rows([row(n, detail=("a reason of some length",)) for n in range(30)])
        app.rows.focus()
        await pilot.press("down", "end", "slash", "x")
        text(app.rows)


@pytest.mark.parametrize("turn", ["\u202e", "\u2066", "\u200f"])
def test_no_name_turns_the_line_it_stands_in(turn: str) -> None:
    assert cut(f"{turn}Olga", 6) == "Olga  "
    assert wrap(f"for {turn}Olga", 20) == ["for Olga"]
    # What is written from right to left without them stays as it is.
    assert cut("עדי", 3) == "עדי"
