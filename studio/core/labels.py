"""What belongs on a piece's label: fibres in percent, care in words, cautions that apply.

Fibres are by weight used, in descending order, whole percents that sum to 100 by largest
remainder. A fibre under 5 % is not named: the US rule asks for 'other fibers' then, and the EU rule
allows it, so that one label serves both; at 5 % it is named, as the US rule asks. The rules
behind them are in EU Regulation 1007/2011 and the US 16 CFR 303; which apply is for local law to
say, and the label says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.made_of import grams_by_yarn
from studio.core.model import Library, Project, Used
from studio.core.money import share_units

OTHER = "other fibres"
SMALL = Decimal("0.05")
"""The share of the weight from which a fibre is named (16 CFR 303.3; EU 1007/2011, article 9)."""


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
    """Fibres of a piece from the grams of each yarn in it; empty where those of one are not known.

    A share that is not known makes every percentage wrong, so none is said then. Fibres of one
    name are one, whatever their letters' case. What is under a twentieth of the weight goes into
    'other fibres', which stand last.
    """
    for key, used_g in grams.items():
        yarn = library.yarn.get(key)
        if yarn is None or (used_g and not yarn.fibres):
            return ()
    return _in_percent(fibre_grams(grams, library))


def fibre_grams(grams: Mapping[str, Decimal], library: Library) -> dict[str, Decimal]:
    """Grams of each fibre, by the name that it has first, whatever its letters' case."""
    found: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    for key, used_g in grams.items():
        yarn = library.yarn.get(key)
        for fibre in yarn.fibres if yarn else ():
            name = names.setdefault(fibre.name.casefold(), fibre.name)
            found[name] = found.get(name, Decimal(0)) + used_g * fibre.percent / 100
    return found


def _in_percent(weights: Mapping[str, Decimal]) -> tuple[FibrePart, ...]:
    """Whole percents that sum to 100, the small ones together at the end."""
    total = sum(weights.values(), Decimal(0))
    there = {name: weight for name, weight in weights.items() if weight > 0}
    named = {name: weight for name, weight in there.items() if weight >= SMALL * total}
    if not named:
        named = there
    rest = total - sum(named.values(), Decimal(0))
    if not there:
        return ()
    shares = dict(zip([*named, OTHER], share_units(100, [*named.values(), rest]), strict=True))
    if rest and not shares[OTHER]:
        # A piece of more than one fibre is never said to be all of one.
        shares[max(named, key=lambda name: (named[name], name.casefold()))] -= 1
        shares[OTHER] = 1
    ranked = sorted(named, key=lambda name: (-shares[name], -named[name], name.casefold()))
    found = [FibrePart(name, shares[name]) for name in ranked if shares[name]]
    return (*found, *([FibrePart(OTHER, shares[OTHER])] if rest else []))


def fibres_of(demand: Demand, library: Library, used: Sequence[Used] = ()) -> tuple[FibrePart, ...]:
    """Fibres of a piece by the grams it has used, or is expected to where nothing is noted."""
    return fibre_parts(grams_by_yarn(demand, used), library)


def fibres_unknown(demand: Demand, library: Library, used: Sequence[Used] = ()) -> tuple[str, ...]:
    """Names of the yarns of a piece whose fibres are not known: no label can be made of it yet."""
    yarns = (library.yarn.get(key) for key in grams_by_yarn(demand, used))
    return tuple(yarn.name for yarn in yarns if yarn is not None and not yarn.fibres)


def fibre_words(demand: Demand, library: Library, used: Sequence[Used] = ()) -> str:
    """'75 % wool, 25 % nylon'; which yarns hinder it, or nothing where there is no yarn."""
    if unknown := fibres_unknown(demand, library, used):
        return f"not known yet of {say.either(list(unknown), 'and')}"
    return ", ".join(f"{p.percent} % {p.name}" for p in fibres_of(demand, library, used))


def care_of(demand: Demand, library: Library, used: Sequence[Used] = ()) -> tuple[str, ...]:
    """Care in words, that of the heaviest yarn first; equal words once.

    Where yarns differ all of them are said, since the gentlest of two texts cannot be told.
    """
    words = [
        yarn.care.strip()
        for key in grams_by_yarn(demand, used)
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
