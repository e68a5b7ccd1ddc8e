"""What each run of a project asks for, in grams of its shade (types by the lead; code follows)."""

from __future__ import annotations

from dataclasses import dataclass

from studio.core.answers import Gauge, RowUse, RunRef, Size, StripeRows
from studio.core.model import Claim, ShadeRef


@dataclass(frozen=True, slots=True)
class RunDemand:
    """One run's need. `mean_g` and `need_dg` are of the rows still to be worked.

    `need_dg` is the one-sided bound, rounded up to a tenth of a gram, and 0 once the run is done.
    `total_mean_g` is of the whole run, worked rows included (what the piece uses in the end).
    `rows_eff` are rows left, weighted to body rows. `known` is false where yarn, shade, stitch or
    gauge is missing, and `reason` says which, as a sentence.
    """

    ref: RunRef
    slot: str
    shade: ShadeRef
    rows: int
    rows_left: int
    rows_eff: float
    mean_g: float
    total_mean_g: float
    need_dg: int
    begun: bool
    done: bool
    claim: Claim | None
    row_use: RowUse | None
    known: bool = True
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """Everything that follows from one project, the library and the evidence, before any stash."""

    project: str
    gauge: Gauge | None
    size: Size | None
    stripe_rows: tuple[StripeRows, ...]
    runs: tuple[RunDemand, ...]
    """In the order worked: stripes, border, fringe; a run that mixes lots as its row pairs."""
    row_use: tuple[tuple[str, RowUse], ...] = ()
    """The fitted use by yarn key."""
