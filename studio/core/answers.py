"""What Stripewright answers: sizes, needs, lots, shortfalls, cost and findings, as frozen values.

Screens, papers and the command line read these and nothing else; every figure is computed once.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import cached_property

from studio.core.frozen import dataclass
from studio.core.lots.problem import ShadeAnswer
from studio.core.model import ClaimKind, LotRef, ShadeRef, Stage


class Measure(StrEnum):
    """Which counts a gauge rests on."""

    WASHED = "after washing"
    UNWASHED = "before washing"


@dataclass(frozen=True, slots=True)
class Gauge:
    """Stitches (or repeats) and rows to the centimetre, and the swatches they come from.

    `to_hook` is the factor that carries a washed length back to what is measured on the hook
    (1 where only one of the two was counted), first across a row, then up the rows.
    """

    stitches_per_cm: float
    rows_per_cm: float
    measure: Measure
    swatches: tuple[str, ...]
    in_repeats: bool = False
    to_hook: tuple[float, float] = (1.0, 1.0)


@dataclass(frozen=True, slots=True)
class Size:
    """What comes out: chain, stitches, rows and the achieved size against the asked one, in cm."""

    chain: int
    stitches: int
    repeats: int
    rows: int
    width_cm: float
    length_cm: float
    asked_width_cm: float
    asked_length_cm: float
    gauge: Gauge
    rows_for_target: int
    """How many body rows would come nearest the asked size."""

    @property
    def width_off(self) -> float:
        """Achieved over asked width, less one."""
        return self.width_cm / self.asked_width_cm - 1

    @property
    def length_off(self) -> float:
        """Achieved over asked length, less one."""
        return self.length_cm / self.asked_length_cm - 1


class Side(StrEnum):
    """The side of the work that faces the maker."""

    RIGHT = "right"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class StripeRows:
    """Where a stripe lies: rows first to last, the sides of both, and how many are worked."""

    index: int
    first: int
    last: int
    first_side: Side
    last_side: Side
    done: int


class Rung(StrEnum):
    """The evidence ladder, best first."""

    WEIGH_IN = "weigh-ins of this piece"
    PIECES = "weigh-ins of other pieces"
    TRIAL = "trial"
    SWATCH = "weighed swatch"
    ROUGH = "rough"
    BY_HAND = "entered by hand"


@dataclass(frozen=True, slots=True)
class RowUse:
    """The fitted use of one yarn in one piece (trade rules, section 3).

    `row_g` is the mean grams of a body row, `spread_g2` is S^2, `rows_seen` the effective rows
    observed, `freedom` the degrees of freedom, `elsewhere` the tau in force.
    """

    rung: Rung
    row_g: float
    spread_g2: float
    rows_seen: float
    freedom: float
    elsewhere: float
    observations: int


class RunKind(StrEnum):
    """The three kinds of run."""

    STRIPE = "stripe"
    BORDER = "border"
    FRINGE = "fringe"


REST = 1001
"""The part of a run that is tied apart by its grams; no run has so many row pairs."""


@dataclass(frozen=True)
class RunRef:
    """One run of one project; `index` counts stripes from 0 and is 0 for border and fringe.

    `part` numbers the row pairs of a run that the project lets mix lots, else 0; it is `REST` for
    what comes from elsewhere than the lot of the run.
    """

    project: str
    kind: RunKind
    index: int = 0
    part: int = 0

    # Asked for a dozen times at every edit, of every run there is.
    @cached_property
    def key(self) -> str:
        """The run's name within its project, as it is used for run keys of a shade problem."""
        tail = f".{self.part}" if self.part else ""
        return f"{self.project}/{self.kind.value}/{self.index}{tail}"

    @classmethod
    def of_key(cls, key: str) -> RunRef:
        """The run of such a key."""
        project, kind, at = key.split("/")
        index, _, part = at.partition(".")
        return cls(project, RunKind(kind), int(index), int(part or 0))


class Cover(StrEnum):
    """Where the yarn of a run comes from."""

    DONE = "done"
    STASH = "stash"
    ORDER = "on order"
    LATE = "on order but late"
    SHORT = "short"
    NONE = "not asked for"
    """The piece was declined or cancelled, and asks for nothing."""
    UNKNOWN = "unknown"
    """Its yarn, shade, stitch or gauge is not there, so nothing can be said."""


@dataclass(frozen=True, slots=True)
class RunPlan:
    """One run: what it needs and the lot that works it.

    `mean_g` is expected use, `need_g` the planned need (one-sided bound), both of the rows still
    to be worked. `lot` is the lot code, the purchase key when on order, or None when it must be
    bought. `claim` says what ties it. `begun` where some of its rows are worked.
    """

    ref: RunRef
    slot: str
    shade: ShadeRef
    rows: int
    mean_g: float
    need_g: Decimal
    cover: Cover
    lot: str | None
    claim: ClaimKind | None = None
    begun: bool = False
    moved_from: str | None = None
    lacks_g: Decimal = Decimal(0)
    """What the lot it stays with lacks for it."""
    lot_left_g: Decimal | None = None
    """What the whole plan leaves in its lot."""
    balls: int = 0
    """Balls (strands) it starts."""
    chance: float | None = None
    """The chance that its lot is enough for everything planned from it."""


@dataclass(frozen=True, slots=True)
class ShadePlan:
    """One shade within one project, in grams; the three covers and the buying add to the need."""

    shade: ShadeRef
    slots: tuple[str, ...]
    need_g: Decimal
    mean_g: float
    stash_g: Decimal
    order_g: Decimal
    late_g: Decimal
    buy_g: Decimal
    buy_balls: int
    lots: tuple[str, ...]
    rows_per_ball_expected: int
    rows_per_ball_safe: int
    row_use: RowUse | None = None
    used_cost: Decimal | None = None
    cash_cost: Decimal | None = None
    cash_alone: Decimal | None = None
    price_assumed: bool = False
    """True where a price was missing and the last purchase stood in."""


@dataclass(frozen=True, slots=True)
class Cost:
    """Material of one piece in money: yarn used, cash to lay out, notions; None where no price."""

    used_yarn: Decimal | None
    cash_yarn: Decimal | None
    cash_alone: Decimal | None
    notions: Decimal
    assumed: tuple[str, ...] = ()
    """Sentences on prices that were assumed or are missing."""

    @property
    def used(self) -> Decimal | None:
        """Material used, notions included."""
        return None if self.used_yarn is None else self.used_yarn + self.notions

    @property
    def cash(self) -> Decimal | None:
        """Cash to lay out, notions included."""
        return None if self.cash_yarn is None else self.cash_yarn + self.notions


class Weight(StrEnum):
    """How much a finding matters."""

    STOP = "needs you"
    CAUTION = "caution"
    NOTE = "note"


class Mend(StrEnum):
    """The first thing that would put a finding right, and can be done for her with undo."""

    MAKE_EVEN = "make the stripe even"
    FIT_LENGTH = "fit the rows to the length"
    CLEAR_STATED = "clear the number written by hand"
    DROP_CLAIM = "let the plan choose the lot"
    MOVE_HOLD = "take the plan's lot"
    ALLOW_BY_STRIPE = "allow a lot for each stripe"
    SHORTEN = "two rows fewer"
    TAKE_PRICE = "take over what it costs today"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something she should know: a whole sentence saying what, where, by how much, and what to do.

    `code` is stable for scripts and acceptance. The place is as exact as is known.
    """

    code: str
    weight: Weight
    text: str
    project: str | None = None
    stripe: int | None = None
    slot: str | None = None
    shade: ShadeRef | None = None
    lot: LotRef | None = None
    mend: Mend | None = None
    accepted: bool = False
    field: str = ""
    """Which of the numbers written by hand it is about, where it is about one."""


@dataclass(frozen=True, slots=True)
class ProjectPlan:
    """All that is computed of one piece."""

    key: str
    stage: Stage
    size: Size | None
    stripe_rows: tuple[StripeRows, ...]
    runs: tuple[RunPlan, ...]
    shades: tuple[ShadePlan, ...]
    ends: int
    cost: Cost
    findings: tuple[Finding, ...]
    chance: float | None = None
    """The chance that nothing planned from the stash runs short."""
    proved: bool = True
    pending: bool = False
    """Whether some of its shades are still being worked out."""


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What one shade lacks, cumulatively: for held pieces, with each quote, with each idea."""

    shade: ShadeRef
    held_g: Decimal
    held_balls: int
    quoted_g: Decimal
    quoted_balls: int
    all_g: Decimal
    all_balls: int
    order_g: Decimal
    late_g: Decimal
    projects: tuple[str, ...]
    needed_by: date | None = None


@dataclass(frozen=True, slots=True)
class LotState:
    """What is in one lot now and who has it, in grams; `taken` lists run keys and grams."""

    ref: LotRef
    full_balls: int
    parts_g: tuple[Decimal, ...]
    total_g: Decimal
    usable_g: Decimal
    held_g: Decimal
    planned_g: Decimal
    """Planned for quotes and ideas, which hold nothing."""
    taken: tuple[tuple[str, Decimal], ...] = ()
    chance: float | None = None
    doubts: tuple[tuple[tuple[int, float], float], ...] = ()
    """How far the doubt about each evidence moves that chance, as `use.Enough` has it."""

    @property
    def free_g(self) -> Decimal:
        """What is not promised."""
        return self.usable_g - self.held_g

    @property
    def left_g(self) -> Decimal:
        """What the whole plan leaves."""
        return self.usable_g - self.held_g - self.planned_g

    def taken_by(self, project: str) -> Decimal:
        """What the runs of one project take from it."""
        start = f"{project}/"
        return sum((g for key, g in self.taken if key.startswith(start)), Decimal(0))


@dataclass(frozen=True)
class StudioPlan:
    """The whole studio, reconciled."""

    projects: Mapping[str, ProjectPlan]
    lots: Mapping[LotRef, LotState]
    shortfalls: tuple[Shortfall, ...]
    shades: Mapping[ShadeRef, ShadeAnswer]
    pending: frozenset[ShadeRef] = frozenset()
    findings: tuple[Finding, ...] = ()
    """Those that belong to no single project."""

    @property
    def promised_short(self) -> bool:
        """Whether anything promised to a held piece is short."""
        return any(s.held_g > 0 for s in self.shortfalls)
