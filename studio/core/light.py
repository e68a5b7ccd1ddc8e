"""Light on a screen: mixing colours by area, and how well a text stands out from its ground.

Screens hold sRGB values, which are not proportional to light; colours side by side in one cell are
mixed in linear light, as the eye mixes them from afar. Formulas: IEC 61966-2-1 (sRGB); relative
luminance and contrast ratio as WCAG 2.2 defines them.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

Rgb = tuple[int, int, int]

_HEX = frozenset("0123456789abcdefABCDEF")


def rgb_of(text: str) -> Rgb:
    """The three bytes of '#rrggbb'; ValueError where it is not that."""
    digits = text.removeprefix("#")
    if len(digits) != 6 or not text.startswith("#") or not set(digits) <= _HEX:
        raise ValueError(text)
    value = int(digits, 16)
    return (value >> 16, value >> 8 & 255, value & 255)


def hex_of(rgb: Rgb) -> str:
    """'#rrggbb' of three bytes."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def _linear(byte: int) -> float:
    share = byte / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


_LINEAR = tuple(_linear(byte) for byte in range(256))


def linear_of(rgb: Rgb) -> tuple[float, float, float]:
    """The linear light, 0 to 1, of each of three bytes."""
    red, green, blue = rgb
    return _LINEAR[red], _LINEAR[green], _LINEAR[blue]


@lru_cache(maxsize=4096)
def _light(colour: str) -> tuple[float, float, float]:
    """The linear light of each of the three colours of the screen, from 0 to 1."""
    red, green, blue = rgb_of(colour)
    return _LINEAR[red], _LINEAR[green], _LINEAR[blue]


def _byte(light: float) -> int:
    share = light * 12.92 if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055
    return max(0, min(255, round(share * 255)))


def mix(parts: Iterable[tuple[str, float]]) -> str:
    """The colour of an area made of these colours, each with its share of the area.

    Shares need not add to one; at least one must be above 0.
    """
    listed = [(colour, share) for colour, share in parts if share > 0]
    if len(listed) == 1:
        return listed[0][0].lower()
    red = green = blue = total = 0.0
    for colour, share in listed:
        light = _light(colour)
        red += light[0] * share
        green += light[1] * share
        blue += light[2] * share
        total += share
    return hex_of((_byte(red / total), _byte(green / total), _byte(blue / total)))


def luminance(colour: str) -> float:
    """Relative luminance, 0 for black and 1 for white."""
    red, green, blue = rgb_of(colour)
    return 0.2126 * _LINEAR[red] + 0.7152 * _LINEAR[green] + 0.0722 * _LINEAR[blue]


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, from 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)
