"""Marks for what is rough or assumed; each is explained on the screen it stands on."""

from __future__ import annotations

from typing import Final

from studio.core.answers import Rung, ShadePlan

ROUGH: Final = "~"
ROUGH_WORDS: Final = "~ rough: from area and yarn weight, no swatch weighed"
FOUND: Final = "!"
FOUND_WORDS: Final = "! something to see: stand on the line; the key ! mends it"
ASSUMED: Final = "*"
ASSUMED_WORDS: Final = "* price assumed"


ONE_LOT: Final = "one lot"
"""Stands for the code of a yarn without dye lots, which has none."""


def is_rough(shade: ShadePlan) -> bool:
    """Whether the need rests on no evidence of her own."""
    return shade.row_use is not None and shade.row_use.rung is Rung.ROUGH
