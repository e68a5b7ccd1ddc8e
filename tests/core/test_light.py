"""Mixing and contrast against published values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.light import contrast, hex_of, luminance, mix, rgb_of

RGB = st.tuples(*[st.integers(0, 255)] * 3)


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2: black and white are 21 to 1; a colour with itself is 1 to 1.
        ("#000000", "#ffffff", 21.0),
        ("#808080", "#808080", 1.0),
        # '#767676 on white is the lightest grey that passes 4.5': from memory, widely stated.
        ("#767676", "#ffffff", 4.54),
    ],
)
def test_contrast(one: str, other: str, ratio: float) -> None:
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


@given(RGB, RGB)
def test_contrast_is_that_of_a_colour_library(
    one: tuple[int, int, int], other: tuple[int, int, int]
) -> None:
    from coloraide import Color

    # coloraide's method 'wcag21' (same formula in 2.2).
    a, b = hex_of(one), hex_of(other)
    assert contrast(a, b) == pytest.approx(Color(a).contrast(Color(b), method="wcag21"), rel=1e-3)


@given(RGB, RGB, st.floats(0.01, 0.99))
def test_mixing_is_that_of_a_colour_library_in_linear_light(
    one: tuple[int, int, int], other: tuple[int, int, int], share: float
) -> None:
    from coloraide import Color

    a, b = hex_of(one), hex_of(other)
    theirs = Color(a).mix(b, share, space="srgb-linear", out_space="srgb").to_string(hex=True)
    ours = mix([(a, 1 - share), (b, share)])
    for x, y in zip(
        rgb_of(ours), rgb_of(str(Color(theirs).to_string(hex=True, compress=False))), strict=True
    ):
        assert abs(x - y) <= 1


def test_half_black_half_white_is_no_middle_value() -> None:
    # Half the light of white is 0.5, which sRGB writes as 188 (IEC 61966-2-1).
    assert mix([("#000000", 1), ("#ffffff", 1)]) == "#bcbcbc"
    assert luminance("#bcbcbc") == pytest.approx(0.5, abs=0.01)


def test_one_colour_stays_as_it_is_and_none_is_refused() -> None:
    assert mix([("#123456", 0.2), ("#ffffff", 0)]) == "#123456"
    with pytest.raises(ZeroDivisionError):
        mix([("#123456", 0.0)])


@pytest.mark.parametrize("text", ["", "#12345", "123456", "#12345g", "#+12345", "red"])
def test_what_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        rgb_of(text)
