"""The picture of the blanket: to scale, true in its proportions at every size."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core.light import luminance
from studio.core.model import (
    Border,
    Direction,
    Fringe,
    Length,
    Library,
    Project,
    Shade,
    Slot,
    Stage,
    Stripe,
    Yarn,
)
from studio.core.picture import (
    Band,
    ClothPicture,
    Edge,
    letters_on,
    picture_of,
    points,
    scale,
    spans,
    stripe_at,
    worked_to,
)

YARN = Yarn(
    "y",
    "Y",
    4,
    (),
    Decimal(50),
    (Shade("1", "white", ("#ffffff",)), Shade("2", "black", ("#000000",))),
)
LIBRARY = Library((YARN,))
PIECE = Project(
    key="p",
    name="P",
    stage=Stage.MAKING,
    stitch="s",
    hook_mm=Decimal(5),
    width=Length(Decimal(100)),
    length=Length(Decimal(200)),
    slots=(Slot("A", "y", "1"), Slot("B", "y", "2"), Slot("C", "y", "not there")),
    stripes=(Stripe("A", 10), Stripe("B", 30), Stripe("A", 40)),
    rows_done=20,
    due=date(2026, 1, 1),
)


def plain(*bands: tuple[str, float], width: float = 100, length: float = 200) -> ClothPicture:
    colours = {"A": ("#ffffff",), "B": ("#000000",), "V": ("#ff0000", "#00ff00")}
    whole = sum(part for _, part in bands)
    made, at = [], 0.0
    for index, (letter, part) in enumerate(bands):
        made.append(Band(index, letter, colours[letter], at / whole, (at + part) / whole))
        at += part
    return ClothPicture(width, length, tuple(made))


def test_bands_are_shares_of_all_rows_in_the_shades_own_colours() -> None:
    picture = picture_of(PIECE, None, LIBRARY)
    assert [(b.letter, b.start, b.end) for b in picture.bands] == [
        ("A", 0, 0.125),
        ("B", 0.125, 0.5),
        ("A", 0.5, 1),
    ]
    assert [b.colours for b in picture.bands] == [("#ffffff",), ("#000000",), ("#ffffff",)]
    assert (picture.width_cm, picture.length_cm, picture.done) == (100, 200, 0.25)


def test_border_fringe_direction_and_unknown_shades_are_carried() -> None:
    piece = replace(
        PIECE,
        direction=Direction.ALONG,
        border=Border("C", 2, Length(Decimal(3))),
        fringe=Fringe("B", 50, Length(Decimal(24))),
        rows_done=999,
        stripes=(*PIECE.stripes, Stripe("Z", 0)),
    )
    picture = picture_of(piece, None, LIBRARY)
    assert picture.along
    assert picture.border == Edge("C", (), 3)
    assert picture.fringe == Edge("B", ("#000000",), 12)  # folded once: half the cut length
    assert picture.done == 1
    assert len(picture.bands) == 3


def test_a_piece_without_rows_is_drawn_as_nothing() -> None:
    picture = picture_of(replace(PIECE, stripes=()), None, LIBRARY)
    to = scale(picture, 20, 10)
    assert set(Counter(p for row in points(picture, to) for p in row)) == {None}
    assert spans(picture, to) == {}
    assert stripe_at(picture, to, 3, 3) is None
    assert letters_on(picture, to, 0, 1) == ()


@given(
    st.floats(1, 500),
    st.floats(1, 500),
    st.integers(1, 120),
    st.integers(1, 60),
    st.booleans(),
    st.floats(0, 20),
)
@settings(max_examples=200)
def test_it_fits_and_keeps_its_proportions(
    width: float, length: float, columns: int, lines: int, along: bool, edge: float
) -> None:
    picture = replace(
        plain(("A", 1), ("B", 2), width=width, length=length),
        along=along,
        border=Edge("A", ("#ffffff",), edge) if edge > 1 else None,
        fringe=Edge("B", ("#000000",), edge) if edge > 2 else None,
    )
    to = scale(picture, columns, lines)
    assert 1 <= to.width <= columns
    assert 1 <= to.lines <= lines
    # One of the two fills its room, the other is true within a point (half a point of rounding
    # on each side, on square points).
    tall = length + (2 * edge if edge > 2 else 0)
    per_cm = min(columns / width, lines * 2 / tall)
    assert abs(to.width - width * per_cm) <= 0.5 or to.width == 1
    assert abs(to.height - tall * per_cm) <= 0.5 or to.height == 1
    drawn = points(picture, to)
    assert len(drawn) == to.height
    assert {len(row) for row in drawn} == {to.width}


@given(
    st.lists(st.tuples(st.sampled_from("AB"), st.integers(1, 40)), min_size=1, max_size=80),
    st.integers(2, 40),
    st.booleans(),
)
@settings(max_examples=150)
def test_light_on_the_screen_is_the_light_of_the_cloth(
    rows: list[tuple[str, int]], lines: int, along: bool
) -> None:
    # However thin the stripes, white's share of the light drawn is white's share of the rows.
    picture = replace(plain(*((a, float(b)) for a, b in rows)), along=along)
    drawn = points(picture, scale(picture, 80, lines))
    cells = [luminance(point) for row in drawn for point in row if point]
    white = sum(b for a, b in rows if a == "A") / sum(b for _, b in rows)
    # A byte of sRGB holds light to about 0.005.
    assert sum(cells) / len(cells) == pytest.approx(white, abs=0.006)


@given(st.lists(st.integers(1, 30), min_size=1, max_size=60), st.integers(1, 40), st.booleans())
@settings(max_examples=150)
def test_every_stripe_has_a_place_and_the_place_has_the_stripe(
    rows: list[int], lines: int, along: bool
) -> None:
    picture = plain(*(("AB"[i % 2], float(r)) for i, r in enumerate(rows)))
    picture = replace(picture, along=along, border=Edge("A", ("#ffffff",), 4))
    to = scale(picture, 60, lines)
    places = spans(picture, to)
    left, top, width, height = to.body
    assert set(places) == set(range(len(rows)))
    first, count = (left, width) if along else (top, height)
    ends = [places[i] for i in range(len(rows))]
    assert ends[0][0] == first
    assert ends[-1][1] == first + count - 1
    for (_, last), (start, _) in pairwise(ends):
        assert start in (last, last + 1)
    for at in range(first, first + count):
        found = stripe_at(picture, to, at if along else left, top if along else at)
        assert found is not None
        assert places[found][0] <= at <= places[found][1]
        letters = letters_on(picture, to, at, at)
        assert "AB"[found % 2] in letters
    assert stripe_at(picture, to, to.width, 0) is None
    assert stripe_at(picture, to, 0, -1) is None


def test_the_row_in_hand_lies_where_the_worked_rows_end() -> None:
    picture = replace(plain(("A", 1), ("B", 1)), done=0.25)
    to = scale(picture, 50, 50)
    assert worked_to(picture, to) == 25
    assert worked_to(replace(picture, done=1.0), to) == to.height - 1


def test_variegated_shades_alternate_and_keep_to_their_colours() -> None:
    picture = plain(("V", 1))
    drawn = points(picture, scale(picture, 30, 20))
    counts = Counter(point for row in drawn for point in row)
    assert set(counts) == {"#ff0000", "#00ff00"}
    assert abs(counts["#ff0000"] - counts["#00ff00"]) < counts.total() / 5


def test_border_and_fringe_stand_about_the_body() -> None:
    picture = replace(
        plain(("A", 1), width=100, length=100),
        border=Edge("B", ("#000000",), 10),
        fringe=Edge("V", ("#ff0000",), 25),
    )
    drawn = points(picture, scale(picture, 30, 15))
    assert set(drawn[0]) == set(drawn[-1]) == {"#ff0000", None}
    to = scale(picture, 30, 15)
    assert (to.width, to.height, to.border, to.fringe) == (20, 30, 2, 4)
    assert set(drawn[4]) == {"#000000"}
    middle = drawn[15]
    assert middle[:2] == middle[-2:] == ("#000000", "#000000")
    assert set(middle[2:-2]) == {"#ffffff"}


def test_stripes_along_stand_upright() -> None:
    drawn = points(replace(plain(("A", 1), ("B", 1)), along=True), scale(plain(("A", 1)), 20, 20))
    assert len(set(drawn)) == 1
    assert drawn[0] == ("#ffffff",) * 10 + ("#000000",) * 10
