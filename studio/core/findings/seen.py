"""What the findings look at: one piece, what follows from it, and the studio about it."""

from __future__ import annotations

from collections.abc import Mapping

from studio.core.answers import Cost, Finding, Mend, RunKind, RunPlan, RunRef, ShadePlan, Weight
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.model import LotRef, Project, ShadeRef, Studio
from studio.core.shades import ShadeOutcome


@dataclass(frozen=True)
class Seen:
    """One piece with everything computed of it but its findings."""

    project: Project
    demand: Demand
    runs: tuple[RunPlan, ...]
    shades: tuple[ShadePlan, ...]
    cost: Cost
    outcomes: Mapping[ShadeRef, ShadeOutcome]
    studio: Studio

    def shade_name(self, ref: ShadeRef) -> str:
        """The shade's name, or its code where it is not in the yarn's list."""
        return self.studio.library.shade_called(ref)

    def finding(
        self,
        code: str,
        weight: Weight,
        text: str,
        *,
        run: RunRef | None = None,
        slot: str | None = None,
        shade: ShadeRef | None = None,
        lot: LotRef | None = None,
        mend: Mend | None = None,
    ) -> Finding:
        """A finding of this piece."""
        stripe = run.index if run is not None and run.kind is RunKind.STRIPE else None
        return Finding(code, weight, text, self.project.key, stripe, slot, shade, lot, mend)


def run_name(ref: RunRef) -> str:
    """'stripe 5', 'the border', 'the fringe'."""
    return f"stripe {ref.index + 1}" if ref.kind is RunKind.STRIPE else f"the {ref.kind.value}"


def opening(text: str) -> str:
    """The text with a capital first letter, the rest untouched."""
    return text[:1].upper() + text[1:]
