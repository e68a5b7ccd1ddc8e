"""What a finished piece holds: grams of each yarn, noted where she noted them, else expected."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.model import Used


@dataclass(frozen=True, slots=True)
class YarnIn:
    """One yarn of a finished piece in grams: all of it, and what of that she has noted as used."""

    yarn: str
    grams: Decimal
    noted: Decimal


def yarns_in(demand: Demand, used: Sequence[Used]) -> tuple[YarnIn, ...]:
    """The yarns of a piece, the heaviest first.

    Rows that her notes cover weigh what she noted, whatever was expected of them; the others weigh
    what they are expected to use.
    """
    left: dict[str, float] = {}
    for run in demand.runs:
        rest = max(0.0, run.whole_mean_g - demand.covered.get(run.ref.key, 0.0))
        left[run.shade.yarn] = left.get(run.shade.yarn, 0.0) + rest
    noted: dict[str, Decimal] = {}
    for note in used:
        noted[note.yarn] = noted.get(note.yarn, Decimal(0)) + note.grams
    found = []
    for yarn in dict.fromkeys((*left, *noted)):
        own = noted.get(yarn, Decimal(0))
        rest_g = Decimal(repr(round(left.get(yarn, 0.0), 3)))
        if own + rest_g > 0:
            found.append(YarnIn(yarn, own + rest_g, own))
    return tuple(sorted(found, key=lambda n: (-n.grams, n.yarn)))


def grams_by_yarn(demand: Demand, used: Sequence[Used]) -> dict[str, Decimal]:
    """Grams of the finished piece by yarn, the heaviest first."""
    return {n.yarn: n.grams for n in yarns_in(demand, used)}
