"""The CIEDE2000 colour difference by its published formula.

Written out here because every start needs it, for stripes that are hard to tell apart: importing a
colour library for this one formula took a seventh of a whole `check`. Held against the published
pairs and against that library in the tests.

Source: Sharma, Wu, Dalal, "The CIEDE2000 Color-Difference Formula", Color Research & Application
30(1), 2005, 21-30; names as there. sRGB to CIELAB by IEC 61966-2-1 with white D65.
"""

from __future__ import annotations

from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt

from studio.core.light import linear_of, rgb_of

Lab = tuple[float, float, float]

_WHITE = (0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290)
"""D65 from its chromaticity x 0.3127, y 0.3290."""

_25_7 = 25.0**7


def lab_of(code: str) -> Lab:
    """CIELAB of '#rrggbb' against the white of D65."""
    red, green, blue = linear_of(rgb_of(code))
    xyz = (
        0.4123907992659595 * red + 0.357584339383878 * green + 0.1804807884018343 * blue,
        0.21263900587151036 * red + 0.715168678767756 * green + 0.07219231536073371 * blue,
        0.01933081871559185 * red + 0.11919477979462599 * green + 0.9505321522496606 * blue,
    )
    x, y, z = (_lab_curve(value / white) for value, white in zip(xyz, _WHITE, strict=True))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def _lab_curve(share: float) -> float:
    return share ** (1 / 3) if share > 216 / 24389 else (24389 / 27 * share + 16) / 116


def _hue(a: float, b: float) -> float:
    return degrees(atan2(b, a)) % 360 if a or b else 0.0


def _mean_hue(one: float, other: float, grey: bool) -> float:
    if grey:
        return one + other
    if abs(one - other) <= 180:
        return (one + other) / 2
    return (one + other + (360 if one + other < 360 else -360)) / 2


def _hue_step(one: float, other: float, grey: bool) -> float:
    if grey:
        return 0.0
    step = other - one
    return step - 360 if step > 180 else step + 360 if step < -180 else step


def difference_of(one: Lab, other: Lab) -> float:
    """CIEDE2000 with the parametric factors at 1."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_c7 = ((hypot(a1, b1) + hypot(a2, b2)) / 2) ** 7
    stretch = 1 + 0.5 * (1 - sqrt(mean_c7 / (mean_c7 + _25_7)))
    a1, a2 = stretch * a1, stretch * a2
    c1, c2 = hypot(a1, b1), hypot(a2, b2)
    h1, h2 = _hue(a1, b1), _hue(a2, b2)
    grey = c1 * c2 == 0
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * sqrt(c1 * c2) * sin(radians(_hue_step(h1, h2, grey)) / 2)
    light, chroma, hue = (l1 + l2) / 2, (c1 + c2) / 2, _mean_hue(h1, h2, grey)
    t = (
        1
        - 0.17 * cos(radians(hue - 30))
        + 0.24 * cos(radians(2 * hue))
        + 0.32 * cos(radians(3 * hue + 6))
        - 0.20 * cos(radians(4 * hue - 63))
    )
    c7 = chroma**7
    turn = radians(60 * exp(-(((hue - 275) / 25) ** 2)))
    turning = -2 * sqrt(c7 / (c7 + _25_7)) * sin(turn)
    off = (light - 50) ** 2
    dl /= 1 + 0.015 * off / sqrt(20 + off)
    dc /= 1 + 0.045 * chroma
    dh /= 1 + 0.015 * chroma * t
    return sqrt(max(0.0, dl * dl + dc * dc + dh * dh + turning * dc * dh))
