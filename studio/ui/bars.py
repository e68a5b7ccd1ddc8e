"""Bars in text: shares drawn with blocks, so that a picture of figures needs no colour."""

from __future__ import annotations

EIGHTHS = " ▏▎▍▌▋▊▉"
FULL, ADDED, FREE = "█", "▒", "·"


def bar(share: float, cells: int) -> str:
    """A share of so many cells, to an eighth of a cell; a little is never drawn as nothing."""
    share = min(1.0, max(0.0, share))
    eighths = round(share * cells * 8)
    if share > 0:
        eighths = max(1, eighths)
    whole, rest = divmod(eighths, 8)
    return FULL * whole + (EIGHTHS[rest] if rest else "")


def stacked(before: float, after: float, cells: int) -> str:
    """What was taken, what comes to it, and what is free, as so many cells."""
    low, high = sorted(min(1.0, max(0.0, share)) for share in (before, after))
    filled, upto = round(low * cells), round(high * cells)
    if high > low and upto == filled:
        upto = min(cells, filled + 1)
        filled = upto - 1
    return FULL * filled + ADDED * (upto - filled) + FREE * (cells - upto)
