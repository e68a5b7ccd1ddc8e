"""Colour differences and contrast against published pairs."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from studio.core import ciede, colour
from studio.core.colour import Sight
from studio.core.light import contrast

HEX = st.tuples(*[st.integers(0, 255)] * 3).map(lambda rgb: "#{:02x}{:02x}{:02x}".format(*rgb))

# Sharma, Wu, Dalal, Color Research & Application 30(1), 2005, Table 1: pairs 1-3 found printed,
# the others from memory; all recomputed by two libraries.
SHARMA = [
    ((50, 2.6772, -79.7751), (50, 0, -82.7485), 2.0425),
    ((50, 3.1571, -77.2803), (50, 0, -82.7485), 2.8615),
    ((50, 2.8361, -74.0200), (50, 0, -82.7485), 3.4412),
    ((50, -1.3802, -84.2814), (50, 0, -82.7485), 1.0000),
    ((50, 0, 0), (50, -1, 2), 2.3669),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0009), 7.1792),
    ((50, 2.4900, -0.0010), (50, -2.4900, 0.0011), 7.2195),
    ((50, -0.0010, 2.4900), (50, 0.0009, -2.4900), 4.8045),
    ((50, -0.0010, 2.4900), (50, 0.0011, -2.4900), 4.7461),
    ((50, 2.5, 0), (50, 0, -2.5), 4.3065),
    ((50, 2.5, 0), (73, 25, -18), 27.1492),
    ((50, 2.5, 0), (56, -27, -3), 31.9030),
    ((60.2574, -34.0099, 36.2677), (60.4626, -34.1751, 39.4387), 1.2644),
    ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ((6.7747, -0.2908, -2.4247), (5.8714, -0.0985, -2.2286), 0.6377),
    ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),
]


@pytest.mark.parametrize(("one", "other", "printed"), SHARMA)
def test_the_published_differences(one: ciede.Lab, other: ciede.Lab, printed: float) -> None:
    assert ciede.difference_of(one, other) == pytest.approx(printed, abs=5.01e-5)
    assert ciede.difference_of(other, one) == pytest.approx(printed, abs=5.01e-5)


@given(HEX, HEX)
@example("#808080", "#7f7f7f")
@example("#000000", "#ffffff")
def test_hex_colours_differ_as_a_general_library_says(one: str, other: str) -> None:
    """Reference: coloraide, in its Lab of D65 (its plain Lab is of D50)."""
    from coloraide import Color

    theirs = Color(one).delta_e(Color(other), method="2000")
    assert colour.ciede2000(one, other) == pytest.approx(theirs, abs=2e-4)


@given(HEX, HEX)
def test_difference_laws(one: str, other: str) -> None:
    assert colour.ciede2000(one, one) == pytest.approx(0.0, abs=1e-9)
    assert colour.ciede2000(one, other) == pytest.approx(colour.ciede2000(other, one))


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.x, relative luminance; the first three found printed, the others recomputed.
        ("#000000", "#ffffff", 21),
        ("#0000ff", "#ffffff", 8.59),
        ("#ff0000", "#0000ff", 2.1494),
        ("#ff0000", "#ffffff", 3.998),
        ("#777777", "#ffffff", 4.478),
        ("#767676", "#ffffff", 4.542),
        ("#595959", "#ffffff", 7.005),
    ],
)
def test_contrast_pairs(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=5e-3)


def test_lightness_orders_colours_as_the_eye_does() -> None:
    codes = ["#000000", "#ffffff", "#0000ff", "#ffff00", "#808080"]
    ordered = sorted(codes, key=colour.lightness, reverse=True)
    assert ordered == ["#ffffff", "#ffff00", "#808080", "#0000ff", "#000000"]
    assert colour.lightness("#ffffff") == pytest.approx(1.0, abs=1e-6)
    assert colour.lightness("#000000") == pytest.approx(0.0, abs=1e-6)


def test_red_and_green_are_nearer_for_the_colour_blind() -> None:
    red, green = "#b03030", "#4f7030"
    full = colour.difference([red], [green])
    for sight in (Sight.PROTAN, Sight.DEUTAN):
        assert colour.difference([red], [green], sight) < full / 2
    blue, teal = "#3060b0", "#2f7f7a"
    assert colour.difference([blue], [teal], Sight.TRITAN) < colour.difference([blue], [teal])


@given(HEX, st.sampled_from(Sight))
def test_what_is_seen_is_a_hex_colour(code: str, sight: Sight) -> None:
    seen = colour.seen_by(code, sight)
    assert len(seen) == 7
    assert int(seen[1:], 16) >= 0


def test_greys_look_the_same_to_everybody() -> None:
    for sight in Sight:
        assert colour.ciede2000(colour.seen_by("#808080", sight), "#808080") < 1


def test_alike() -> None:
    assert colour.alike(["#aa0000"], ["#a80404"], 10)
    assert not colour.alike(["#aa0000"], ["#0000aa"], 10)
    # A variegated shade stands off by the one colour that the other has not.
    assert not colour.alike(["#aa0000"], ["#aa0000", "#ffffff"], 10)
    assert colour.alike(["#aa0000", "#ffffff"], ["#fefefe", "#a80404"], 10)
    assert colour.difference([], ["#aa0000"]) == 0.0


def test_coloraide_is_not_imported_until_it_is_used() -> None:
    code = "import sys, studio.core.colour; sys.exit('coloraide' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
