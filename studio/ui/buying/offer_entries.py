"""Prices with breaks, shipping by weight and lists of shades: how they are typed and shown.

The same words are shown and typed, so that what stands on a sheet can be typed as it is.
"""

from __future__ import annotations

import re
from decimal import Decimal

from studio.core.buying.offers import FREE, PriceBreak, Shipping, WeightTier
from studio.core.headline import money_figure
from studio.core.model import Yarn
from studio.ui.dialogs import entries
from studio.ui.dialogs.entries import Check

ALL = "all"
PRICE_HINT = "of a ball, such as 7.40; from 10: 6.90"
SHIPPING_HINT = "4.90, or to 2000 g: 4.90; heavier: 8.50"

_STEP = re.compile(r"(?:from\s+)?(\d{1,6})(?:\s*balls?)?\s*(?::\s*|\s+)(\S+)")
_TIER = re.compile(r"(?:up\s+)?to\s+([\d.,]+)\s*g?\s*(?::\s*|\s+)(\S+)")
_LAST = re.compile(r"(?:heavier|more|above)\s*:?\s*(\S+)")


def _parts(entry: str) -> list[str]:
    """The steps of an entry: parted by semicolons, or by commas before a word."""
    entry = re.sub(r",\s+(?=[a-z])", ";", entry.strip().lower())
    return [part.strip() for part in entry.split(";") if part.strip()]


def _money(what: str, entry: str) -> Decimal:
    found = entries.number(what)(entry)
    if not isinstance(found, Decimal):  # pragma: no cover - a number is a Decimal
        raise TypeError(entry)
    return found


def price_text(breaks: tuple[PriceBreak, ...], currency: str) -> str:
    """'7.40; from 10: 6.90'."""
    steps = sorted(breaks, key=lambda step: step.from_balls)
    return "; ".join(
        money_figure(step.price, currency)
        if step.from_balls == 1
        else f"from {step.from_balls}: {money_figure(step.price, currency)}"
        for step in steps
    )


def price_typed(entry: str) -> tuple[PriceBreak, ...]:
    """The prices of a ball, each from so many balls on."""
    steps = []
    for part in _parts(entry):
        if found := _STEP.fullmatch(part):
            steps.append(PriceBreak(int(found[1]), _money("A price", found[2])))
        elif re.fullmatch(r"[\d.,]+", part):
            steps.append(PriceBreak(1, _money("The price", part)))
        else:
            raise ValueError(f"A price is such as 7.40; from 10: 6.90. This says {part}.")
    if not steps:
        raise ValueError("The price of a ball is still to be filled in.")
    return tuple(steps)


def shipping_text(shipping: Shipping, currency: str) -> str:
    """'4.90', 'to 2000 g: 4.90; heavier: 8.50', or '0'."""
    tiers = shipping.tiers
    if len(tiers) == 1 and tiers[0].up_to_g is None:
        return money_figure(tiers[0].cost, currency)
    return "; ".join(
        f"heavier: {money_figure(tier.cost, currency)}"
        if tier.up_to_g is None
        else f"to {tier.up_to_g:f} g: {money_figure(tier.cost, currency)}"
        for tier in tiers
    )


def shipping_typed(entry: str) -> tuple[WeightTier, ...]:
    """What a parcel costs, whatever its weight or by steps of grams; nothing typed is free."""
    parts = _parts(entry)
    if not parts:
        return FREE
    if len(parts) == 1 and re.fullmatch(r"[\d.,]+", parts[0]):
        return (WeightTier(None, _money("Shipping", parts[0])),)
    tiers = []
    for part in parts:
        if found := _TIER.fullmatch(part):
            limit = entries.number("The grams", "0", "1000000", above=True)(found[1])
            tiers.append(WeightTier(Decimal(str(limit)), _money("Shipping", found[2])))
        elif found := _LAST.fullmatch(part):
            tiers.append(WeightTier(None, _money("Shipping", found[1])))
        else:
            raise ValueError(
                f"Shipping is such as to 2000 g: 4.90; heavier: 8.50. This says {part}."
            )
    return tuple(tiers)


def shades_text(codes: tuple[str, ...] | None, yarn: Yarn | None) -> str:
    """'all', or the shades by name; by number where a name would not be told apart."""
    if codes is None:
        return ALL
    return ", ".join(_word(code, yarn) for code in codes)


def _word(code: str, yarn: Yarn | None) -> str:
    shade = yarn.shade(code) if yarn else None
    if yarn is None or shade is None or "," in shade.name:
        return code
    twins = [s for s in yarn.shades if s.name.casefold() == shade.name.casefold()]
    return shade.name if len(twins) == 1 and shade.name.casefold() != ALL else code


def shades_check(yarn: Yarn) -> Check:
    """Shades of a yarn by name or number, parted by commas; 'all' is all of them."""

    def check(entry: str) -> tuple[str, ...] | None:
        if entry.strip().casefold() in ("", ALL):
            return None
        found = []
        for part in filter(None, (p.strip() for p in entry.split(","))):
            wanted = part.casefold()
            codes = [s.code for s in yarn.shades if wanted in (s.code.casefold(),)]
            codes = codes or [s.code for s in yarn.shades if wanted == s.name.casefold()]
            if not codes:
                raise ValueError(f"{yarn.name} has no shade {part}: its name or number, or all.")
            if len(codes) > 1:
                raise ValueError(f"{yarn.name} has two shades called {part}: type the number.")
            found.append(codes[0])
        return tuple(dict.fromkeys(found))

    return check
