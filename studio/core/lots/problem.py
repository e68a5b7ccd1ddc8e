"""The question 'which lot works which run' for one yarn and shade, and its answer.

Shades never share a lot, so a studio's question falls apart into one `ShadeProblem` each; the
problem is plain data and hashable, which makes it the key under which answers are kept.

Grams are whole tenths of a gram (`_dg`, decigrams) here and only here: the rules compare exactly,
and a kitchen scale shows no more than that.
"""

from __future__ import annotations

from datetime import date
from enum import IntEnum, StrEnum

from studio.core.frozen import dataclass

BUY = "buy"
"""The lot code that stands for a new dye lot still to be bought; no real lot may be called so."""


class Fixed(StrEnum):
    """Why a run's lot is not open: all but a hold are never traded away."""

    BEGUN = "begun"
    PIN = "pin"
    ORDER = "order"
    HOLD = "hold"


class Stage(IntEnum):
    """The order in which answers are compared; a later stage never costs an earlier one."""

    REPAIR = 0
    BUY_EACH = 1
    BUY_POOLED = 2
    LOTS = 3
    LEFTOVERS = 4
    CODE = 5


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot of the shade as the question sees it.

    `free_dg` is what is in the house for everybody: full balls and the part balls worth using,
    before any run of this problem takes from it. `part_dg` is the part balls' share of it.
    `whole` is true while nothing of the lot has been opened. `arrives` marks a purchase on order:
    it works only the runs fixed to it. `bought` is None where the date is not known, and such a
    lot counts as the newest.
    """

    code: str
    free_dg: int
    part_dg: int = 0
    whole: bool = True
    bought: date | None = None
    arrives: date | None = None


@dataclass(frozen=True, slots=True)
class Run:
    """One run's claim on the shade: `need_dg` of one lot.

    `group` names the project's slot; runs of one group are listed in the order they are worked,
    and `together` says that its open runs must come from one lot (and from the lot of its fixed
    runs, where those agree on one). `fixed` with `lot` states a lot that is settled.
    A fully worked run is listed with `need_dg` 0 and its lot, since it still counts as a lot used.
    """

    key: str
    group: str
    need_dg: int
    fixed: Fixed | None = None
    lot: str | None = None


@dataclass(frozen=True, slots=True)
class Piece:
    """One project's runs in the shade; `held` projects are those that hold yarn."""

    key: str
    held: bool
    runs: tuple[Run, ...]
    together: frozenset[str] = frozenset()
    """The groups that must come from one lot."""


@dataclass(frozen=True, slots=True)
class ShadeProblem:
    """Everything the answer depends on, pieces in the order in which they choose."""

    ball_dg: int
    lots: tuple[Lot, ...]
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Value:
    """How good an assignment is, in the order of the stages; smaller is better throughout.

    `repair` is (projects disturbed, runs moved); `buy` one (balls, dg) for each piece;
    `pooled_balls` over held pieces; `lots` is (sum of lots used - 1, neighbours in different
    lots); `leftovers` is (- part dg used, whole lots opened, age) where age is the sum over lots of
    the dg taken times the lot's place in the order of purchase, the oldest at 0: one number, so
    that the stage is one objective.
    """

    repair: tuple[int, int]
    buy: tuple[tuple[int, int], ...]
    pooled_balls: int
    lots: tuple[int, int]
    leftovers: tuple[int, int, int]

    def of(self, stage: Stage) -> tuple[object, ...]:
        """The value at one stage, as a tuple that compares; the code stage has none."""
        return {
            Stage.REPAIR: self.repair,
            Stage.BUY_EACH: self.buy,
            Stage.BUY_POOLED: (self.pooled_balls,),
            Stage.LOTS: self.lots,
            Stage.LEFTOVERS: self.leftovers,
            Stage.CODE: (),
        }[stage]


@dataclass(frozen=True, slots=True)
class Gap:
    """A stage that was not proved, and how far its value may be from the best.

    `gap` is (value - bound) / max(1, |value|) of the part of the stage that was being minimised.
    """

    stage: Stage
    gap: float


@dataclass(frozen=True, slots=True)
class ShadeAnswer:
    """One lot for every run, in the order of the problem's pieces and runs.

    `lots` maps run key to lot code or BUY. `moved` lists the held runs that had to leave their
    lot. `overdrawn` says by how many dg the runs that may not move ask more than their lot has.
    No gap means proved optimal and, by the last tie, the only answer. `stopped` says that the
    emergency clock ended the search: only then may another machine answer differently.
    """

    lots: tuple[tuple[str, str], ...]
    value: Value
    moved: tuple[str, ...] = ()
    overdrawn: tuple[tuple[str, int], ...] = ()
    gaps: tuple[Gap, ...] = ()
    solver_calls: int = 0
    stopped: bool = False

    @property
    def proved(self) -> bool:
        """Whether every stage is proved."""
        return not self.gaps
