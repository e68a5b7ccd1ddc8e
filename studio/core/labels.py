"""What belongs on a piece's label: fibres in percent, care in words, cautions that apply.

Fibres are by weight used, in descending order, whole percents that sum to 100 by largest
remainder. The rules behind them are in EU Regulation 1007/2011 and the US 16 CFR 303; which apply
is for local law to say, and the label says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from studio.core.demand import Demand
from studio.core.model import Library, Project
from studio.core.money import share_units
from studio.core.price_sheet import grams_by_yarn


@dataclass(frozen=True, slots=True)
class FibrePart:
    """One fibre of the finished piece and its whole percentage by weight."""

    name: str
    percent: int


class Cautions(StrEnum):
    """What a caution is about."""

    BABY = "baby"
    FRINGE = "fringe"
    LABEL = "label"
    TAX = "tax"


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution for the customer (or, `for_maker`, only for the maker), and where it comes from."""

    about: Cautions
    text: str
    source: str
    for_maker: bool = False


def fibre_parts(grams: Mapping[str, Decimal], library: Library) -> tuple[FibrePart, ...]:
    """Fibres of a piece from the grams of each yarn in it; empty where a yarn is not known.

    Fibres of one name are one, whatever their letters' case. Below half a percent, where the
    largest remainder gives nought, a fibre is left out rather than shown as 0.
    """
    weights: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    for key, used_g in grams.items():
        yarn = library.yarn.get(key)
        if yarn is None:
            return ()
        for fibre in yarn.fibres:
            plain = fibre.name.casefold()
            names.setdefault(plain, fibre.name)
            weights[plain] = weights.get(plain, Decimal(0)) + used_g * fibre.percent
    if not any(weights.values()):
        return ()
    shares = share_units(100, list(weights.values()))
    ranked = sorted(zip(weights, shares, strict=True), key=lambda f: (-f[1], -weights[f[0]], f[0]))
    return tuple(FibrePart(names[plain], share) for plain, share in ranked if share)


def fibres_of(demand: Demand, library: Library) -> tuple[FibrePart, ...]:
    """Fibres of a piece by the grams it is expected to use."""
    return fibre_parts(grams_by_yarn(demand), library)


def care_of(demand: Demand, library: Library) -> tuple[str, ...]:
    """Care in words, that of the heaviest yarn first; equal words once.

    Where yarns differ all of them are said, since the gentlest of two texts cannot be told.
    """
    words = [
        yarn.care.strip()
        for key in grams_by_yarn(demand)
        if (yarn := library.yarn.get(key)) is not None and yarn.care.strip()
    ]
    return tuple(dict.fromkeys(words))


_BABY = Caution(
    Cautions.BABY,
    "Not for unattended sleep under 12 months: a baby sleeps on a firm, flat surface without "
    "loose bedding.",
    "American Academy of Pediatrics, safe sleep recommendations, 2022",
)
_FRINGE = Caution(
    Cautions.FRINGE,
    "Fringe can come loose or tangle: keep it away from babies and small children.",
    "common practice, no source",
)
_FRINGE_ADULT = Caution(
    Cautions.FRINGE,
    "Check the fringe for loose strands, and keep it away from small children.",
    "common practice, no source",
)
_LABEL = Caution(
    Cautions.LABEL,
    "Fibre, care and safety labels follow the law of the place of sale: check it before the "
    "piece is sold.",
    "EU Regulation 1007/2011; US 16 CFR 303; this is no legal advice",
    for_maker=True,
)
_CHILD_LABEL = Caution(
    Cautions.LABEL,
    "A blanket for a child may be a children's product with a certificate and a tracking label of "
    "its own: keep maker, date, place, yarn and lots with it.",
    "US CPSC, children's product certificate, blanket example; check your local law",
    for_maker=True,
)
_TAX = Caution(
    Cautions.TAX,
    "Tax follows local rules: ask a licensed adviser.",
    "this is no tax advice",
    for_maker=True,
)


def cautions_of(project: Project) -> tuple[Caution, ...]:
    """The cautions that apply to a piece, the customer's first."""
    found = []
    if project.for_baby:
        found.append(_BABY)
    if project.fringe is not None:
        found.append(_FRINGE if project.for_baby else _FRINGE_ADULT)
    found.append(_LABEL)
    if project.for_baby:
        found.append(_CHILD_LABEL)
    found.append(_TAX)
    return tuple(found)
