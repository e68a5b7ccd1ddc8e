"""Marks for what is rough or assumed; each is explained on the screen it stands on."""

from __future__ import annotations

from typing import Final

from studio.core.answers import Rung, ShadePlan

ROUGH: Final = "~"
ROUGH_WORDS: Final = "~ rough: from area and yarn weight, no swatch weighed"
ASSUMED: Final = "*"
ASSUMED_WORDS: Final = "* price assumed"


def is_rough(shade: ShadePlan) -> bool:
    """Whether the need rests on no evidence of her own."""
    return shade.row_use is not None and shade.row_use.rung is Rung.ROUGH
