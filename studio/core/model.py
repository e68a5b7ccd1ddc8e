"""What the maker states: yarns, stash, stitches, swatches, purchases, projects, as frozen values.

Nothing here is computed. Grams and money are Decimal exactly as the files say them; a length keeps
its own unit, since 4 in is 10.16 cm and not 10, and a display setting must not change a file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from studio.core.frozen import dataclass
from studio.core.trade_model import Customer, Payment, Quote, StageDate, Trade, WorkLog

if TYPE_CHECKING:
    from studio.core.buying.delivery import Delivery
    from studio.core.buying.offers import Offer, Supplier

MM_PER_UNIT = {"mm": Decimal(1), "cm": Decimal(10), "m": Decimal(1000), "in": Decimal("25.4")}
"""Exact since the international yard of 1959 (standards: inch 25.4 mm)."""


class LengthUnit(StrEnum):
    """The units a file may state a length in."""

    CM = "cm"
    INCH = "in"
    MM = "mm"
    METRE = "m"


@dataclass(frozen=True, slots=True)
class Length:
    """A length as it was stated."""

    value: Decimal
    unit: LengthUnit = LengthUnit.CM

    @property
    def cm(self) -> float:
        """The length in centimetres."""
        return float(self.value * MM_PER_UNIT[self.unit] / 10)


class WeightUnit(StrEnum):
    """How grams are shown."""

    GRAM = "g"
    OUNCE = "oz"


class CrochetTerms(StrEnum):
    """Which side of the water the stitch names come from."""

    US = "US"
    UK = "UK"


class LotRule(StrEnum):
    """Whether all runs of a slot come from one lot."""

    ONE = "one"
    BY_STRIPE = "by stripe"


class Join(StrEnum):
    """Where a new ball may be joined: anywhere in a row, or only at its edge."""

    ANYWHERE = "anywhere"
    EDGE = "edge"


class Direction(StrEnum):
    """Whether a row runs across the width or along the length."""

    ACROSS = "across"
    ALONG = "along"


class Method(StrEnum):
    """Worked in rows, which is computed, or in a way for which the maker enters grams per run."""

    ROWS = "rows"
    BY_HAND = "by hand"


class Stage(StrEnum):
    """Where a piece stands."""

    IDEA = "idea"
    QUOTED = "quoted"
    BOOKED = "booked"
    MAKING = "making"
    FINISHING = "finishing"
    IN_STOCK = "in stock"
    DELIVERED = "delivered"
    DECLINED = "declined"
    CANCELLED = "cancelled"

    @property
    def holds(self) -> bool:
        """Whether a piece at this stage holds yarn."""
        return self in HOLDING

    @property
    def needs_yarn(self) -> bool:
        """Whether a piece at this stage still asks for yarn."""
        return self in HOLDING or self in (Stage.IDEA, Stage.QUOTED)


HOLDING = frozenset({Stage.BOOKED, Stage.MAKING, Stage.FINISHING})


class ShadeRef(NamedTuple):
    """One shade of one yarn, by their keys."""

    yarn: str
    shade: str


class LotRef(NamedTuple):
    """One lot of the stash."""

    yarn: str
    shade: str
    code: str


@dataclass(frozen=True, slots=True)
class Fibre:
    """One fibre of a yarn and its percentage by weight."""

    name: str
    percent: Decimal


@dataclass(frozen=True, slots=True)
class Shade:
    """One colour of a yarn; several hex values where it is variegated.

    `barcodes` are the numbers on its ball bands (GTIN), as text since leading zeros count.
    """

    code: str
    name: str
    colours: tuple[str, ...]
    discontinued: bool = False
    staple: bool = False
    barcodes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Yarn:
    """One product line. `price` is today's replacement price of a ball, landed."""

    key: str
    name: str
    category: int
    fibres: tuple[Fibre, ...]
    ball_g: Decimal
    shades: tuple[Shade, ...]
    ball_m: Decimal | None = None
    price: Decimal | None = None
    care: str = ""
    no_dye_lot: bool = False
    discontinued: bool = False
    works_with: tuple[str, ...] = ()

    def shade(self, code: str) -> Shade | None:
        """The shade with this code, if there is one."""
        return next((s for s in self.shades if s.code == code), None)


@dataclass(frozen=True, slots=True)
class Batch:
    """Full balls bought together and still in the house; `shipping` is its share for each ball."""

    balls: int
    price: Decimal | None = None
    shipping: Decimal = Decimal(0)
    bought: date | None = None
    supplier: str = ""
    kept: str = ""


@dataclass(frozen=True, slots=True)
class Lot:
    """All balls of one dye lot in the house now: full ones by batch, part balls in grams.

    `code_lost` marks a lot whose ball band is gone: its code is only the maker's mark, and it is a
    lot of its own.
    """

    yarn: str
    shade: str
    code: str
    batches: tuple[Batch, ...] = ()
    parts_g: tuple[Decimal, ...] = ()
    code_lost: bool = False
    note: str = ""

    @property
    def ref(self) -> LotRef:
        """The lot's place in the stash."""
        return LotRef(self.yarn, self.shade, self.code)

    @property
    def shade_ref(self) -> ShadeRef:
        """The shade it is of."""
        return ShadeRef(self.yarn, self.shade)

    @property
    def balls(self) -> int:
        """Full balls over all batches."""
        return sum(b.balls for b in self.batches)

    @property
    def bought(self) -> date | None:
        """The first known purchase date, which is the lot's age."""
        return min((b.bought for b in self.batches if b.bought), default=None)


@dataclass(frozen=True, slots=True)
class OrderLine:
    """Balls of one shade in an open purchase."""

    yarn: str
    shade: str
    balls: int
    price: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Purchase:
    """An open purchase: what is on order and when it should arrive.

    The runs it was bought for say so themselves, by a claim of kind `order` on its key. `parcel` is
    what is typed of goods that came and are not on the shelf yet. `part_came` where goods of it are
    on the shelf already: the lines are what is left.
    """

    key: str
    supplier: str
    arrives: date
    lines: tuple[OrderLine, ...]
    ordered: date | None = None
    note: str = ""
    parcel: Delivery | None = None
    part_came: bool = False


@dataclass(frozen=True, slots=True)
class RowKind:
    """Rows of one kind at the start of a piece (`rows`), or the body of it (`rows` None).

    Stitches in such a row are per_repeat * n + extra_stitches where stated, else the stitch's own
    count; `weight` is what one stitch of it uses against a body stitch.
    """

    name: str
    rows: int | None = None
    weight: Decimal = Decimal(1)
    per_repeat: int | None = None
    extra_stitches: int = 0
    instruction: str = ""


@dataclass(frozen=True, slots=True)
class Stitch:
    """A stitch pattern: its chain rule (chain = multiple * n + extra), row kinds and words."""

    key: str
    name: str
    multiple: int = 1
    extra: int = 0
    skipped: int = 1
    turning_chain: int = 1
    turning_counts: bool = False
    change_either_side: bool = False
    stitches_per_repeat: int | None = None
    edge_stitches: int = 0
    kinds: tuple[RowKind, ...] = (RowKind("body"),)
    instruction: str = ""


@dataclass(frozen=True, slots=True)
class GaugeCount:
    """Stitches and rows counted over measured spans; `in_repeats` counts repeats for stitches."""

    stitches: Decimal
    stitch_span: Length
    rows: Decimal
    row_span: Length
    in_repeats: bool = False


@dataclass(frozen=True, slots=True)
class Weighing:
    """Grams that worked so many rows at so many stitches: a trial, or a weighed swatch.

    `balls` instead of grams where whole balls were used up. `first_row` where the rows began at
    the foundation, so that heavier first rows are counted as such.
    """

    rows: Decimal
    stitches: Decimal
    grams: Decimal | None = None
    balls: Decimal | None = None
    first_row: int = 1
    minutes: Decimal | None = None
    on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Swatch:
    """Evidence for one yarn, stitch and hook: counts before and after washing, and weighings."""

    key: str
    yarn: str
    stitch: str
    hook_mm: Decimal
    before: GaugeCount | None = None
    after: GaugeCount | None = None
    weighed: Weighing | None = None
    trials: tuple[Weighing, ...] = ()
    note: str = ""


class ClaimKind(StrEnum):
    """How a run is tied to yarn: promised at booking, chosen by the maker, or bought for it."""

    HOLD = "hold"
    PIN = "pin"
    ORDER = "order"


@dataclass(frozen=True, slots=True)
class Claim:
    """A run's tie to a lot (by code) or, for kind `order`, to an open purchase (by key).

    `rest` ties a part of the run elsewhere: so many `grams`, and whole row `pairs` of a run that
    mixes lots. `pairs` without a rest say that these alone are tied, and the others are open.
    """

    kind: ClaimKind
    on: str
    pairs: tuple[int, ...] = ()
    """Row pairs counted from 1; empty ties all that `rest` leaves."""
    grams: Decimal | None = None
    """Of a rest only."""
    rest: Claim | None = None


@dataclass(frozen=True, slots=True)
class Stripe:
    """Consecutive rows in one slot. `grams` is entered where the piece is worked by hand count."""

    slot: str
    rows: int
    claim: Claim | None = None
    grams: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Slot:
    """A colour place of the design and the shade it is mapped to; `lots` None takes the default."""

    letter: str
    yarn: str
    shade: str
    lots: LotRule | None = None

    @property
    def shade_ref(self) -> ShadeRef:
        """The shade the slot is mapped to."""
        return ShadeRef(self.yarn, self.shade)


@dataclass(frozen=True, slots=True)
class Border:
    """Rounds worked about the finished piece.

    Stitches of round i = two ends + pick_up * rows on two sides + corners + i * increase.
    `width` is what the border adds on each side.
    """

    slot: str
    rounds: int
    width: Length
    pick_up: Decimal = Decimal(1)
    corners: int = 12
    increase: int = 8
    claim: Claim | None = None
    grams: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Fringe:
    """Strands knotted along both ends: strands x cut length."""

    slot: str
    strands: int
    cut: Length
    claim: Claim | None = None
    grams: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Stated:
    """Chain, rows and sizes the maker wrote down by hand, to be held against the gauge."""

    chain: int | None = None
    stitches: int | None = None
    rows: int | None = None
    width: Length | None = None
    length: Length | None = None


@dataclass(frozen=True, slots=True)
class Notion:
    """Anything bought for the piece that is not yarn, at its cost."""

    name: str
    cost: Decimal


@dataclass(frozen=True, slots=True)
class WeighIn:
    """Grams a slot used over rows of this very piece: evidence of the best kind."""

    slot: str
    rows: int
    grams: Decimal
    first_row: int = 2
    on: date | None = None


class UsedFrom(StrEnum):
    """How she knows what a piece has used of a lot."""

    WORKED_OUT = "worked out"
    GIVEN = "given"
    WEIGHED = "weighed"


@dataclass(frozen=True, slots=True)
class Used:
    """Yarn of one lot that went into this piece and has left the lot.

    `paid` is what these grams were bought for, landed and in whole minor units; None where the lot
    has no price. `rows` are the rows of the piece that were done when it was noted, `whole` says
    that border and fringe were done too: what was worked up to there is not counted again.
    """

    yarn: str
    shade: str
    lot: str
    grams: Decimal
    paid: Decimal | None = None
    on: date | None = None
    by: UsedFrom = UsedFrom.WORKED_OUT
    rows: int = 0
    whole: bool = False

    @property
    def ref(self) -> LotRef:
        """The lot it came from."""
        return LotRef(self.yarn, self.shade, self.lot)

    @property
    def shade_ref(self) -> ShadeRef:
        """The shade it is of."""
        return ShadeRef(self.yarn, self.shade)


@dataclass(frozen=True, slots=True)
class Accepted:
    """A finding the maker has accepted for this piece, and why."""

    code: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Project:
    """One piece."""

    key: str
    name: str
    stage: Stage
    stitch: str
    hook_mm: Decimal
    width: Length
    length: Length
    slots: tuple[Slot, ...]
    stripes: tuple[Stripe, ...]
    customer: str = ""
    due: date | None = None
    booked: date | None = None
    direction: Direction = Direction.ACROSS
    method: Method = Method.ROWS
    join: Join | None = None
    mix: bool = False
    border: Border | None = None
    fringe: Fringe | None = None
    rows_done: int = 0
    stated: Stated = Stated()
    notions: tuple[Notion, ...] = ()
    weigh_ins: tuple[WeighIn, ...] = ()
    used: tuple[Used, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    note: str = ""
    quote: Quote | None = None
    price: Decimal | None = None
    """A price she set by hand, as it is shown; None takes the quote's, else the computed one."""
    payments: tuple[Payment, ...] = ()
    reached: tuple[StageDate, ...] = ()
    log: tuple[WorkLog, ...] = ()
    minutes: Decimal | None = None
    """Her own guess of the crochet for the whole piece, where stitches cannot tell it."""
    for_baby: bool = False
    collected: bool = False
    """Handed over in person: no parcel, no shipping, no transit."""

    def slot(self, letter: str) -> Slot | None:
        """The slot with this letter, if there is one."""
        return next((s for s in self.slots if s.letter == letter), None)


@dataclass(frozen=True, slots=True)
class Assumed:
    """Starting values that no evidence of hers has replaced yet (trade rules, section 3).

    Shares are fractions of one; `prior_weight` is in observations.
    """

    prior_weight: Decimal = Decimal(4)
    prior_spread: Decimal = Decimal("0.05")
    other_piece_spread: Decimal = Decimal("0.03")
    ball_spread: Decimal = Decimal("0.02")
    scale_step_g: Decimal = Decimal(1)
    confidence: Decimal = Decimal("0.95")
    size_tolerance: Decimal = Decimal("0.05")
    carry_rows: int = 2
    tail: Length = Length(Decimal(15), LengthUnit.CM)
    min_per_end: Decimal = Decimal(3)
    alike_difference: Decimal = Decimal(10)


class StashValue(StrEnum):
    """At what price a quote counts yarn that is already in the house."""

    REPLACEMENT = "replacement"
    PAID = "paid"


@dataclass(frozen=True, slots=True)
class Settings:
    """The studio's units, money and defaults."""

    name: str
    currency: str = "EUR"
    length_unit: LengthUnit = LengthUnit.CM
    weight_unit: WeightUnit = WeightUnit.GRAM
    terms: CrochetTerms = CrochetTerms.US
    rate_per_hour: Decimal = Decimal(15)
    tax_registered: bool = False
    stash_value: StashValue = StashValue.REPLACEMENT
    join: Join = Join.ANYWHERE
    lots_for_customer: LotRule = LotRule.ONE
    lots_otherwise: LotRule = LotRule.BY_STRIPE
    theme: str = ""
    assumed: Assumed = Assumed()


@dataclass(frozen=True)
class Library:
    """Yarns, stitches and swatches: what projects refer to by key."""

    yarns: tuple[Yarn, ...] = ()
    stitches: tuple[Stitch, ...] = ()
    swatches: tuple[Swatch, ...] = ()

    @cached_property
    def yarn(self) -> Mapping[str, Yarn]:
        """Yarns by key."""
        return MappingProxyType({y.key: y for y in self.yarns})

    @cached_property
    def stitch(self) -> Mapping[str, Stitch]:
        """Stitches by key."""
        return MappingProxyType({s.key: s for s in self.stitches})

    @cached_property
    def swatches_of(self) -> Mapping[tuple[str, str, Decimal], tuple[Swatch, ...]]:
        """Swatches by yarn, stitch and hook: evidence counts only where all three agree."""
        found: dict[tuple[str, str, Decimal], list[Swatch]] = {}
        for swatch in self.swatches:
            found.setdefault((swatch.yarn, swatch.stitch, swatch.hook_mm), []).append(swatch)
        return MappingProxyType({key: tuple(group) for key, group in found.items()})

    @cached_property
    def shade(self) -> Mapping[ShadeRef, Shade]:
        """Shades by yarn and shade."""
        return MappingProxyType({ShadeRef(y.key, s.code): s for y in self.yarns for s in y.shades})

    def called(self, ref: ShadeRef | LotRef) -> str:
        """Yarn and shade by their names, or by their keys where they are not in the library."""
        yarn = self.yarn.get(ref.yarn)
        return f"{yarn.name if yarn else ref.yarn} {self.shade_called(ref)}"

    def shade_called(self, ref: ShadeRef | LotRef) -> str:
        """The shade alone by its name, or by its code where it is not in the library."""
        shade = self.shade.get(ShadeRef(ref.yarn, ref.shade))
        return shade.name if shade else ref.shade


@dataclass(frozen=True)
class Stash:
    """All lots in the house and all open purchases."""

    lots: tuple[Lot, ...] = ()
    purchases: tuple[Purchase, ...] = ()

    @cached_property
    def by_shade(self) -> Mapping[ShadeRef, tuple[Lot, ...]]:
        """Lots of each shade, in the order of the files."""
        found: dict[ShadeRef, list[Lot]] = {}
        for lot in self.lots:
            found.setdefault(lot.shade_ref, []).append(lot)
        return MappingProxyType({ref: tuple(lots) for ref, lots in found.items()})

    def lot(self, ref: LotRef) -> Lot | None:
        """The lot at this place, if there is one."""
        lots = self.by_shade.get(ShadeRef(ref.yarn, ref.shade), ())
        return next((lot for lot in lots if lot.code == ref.code), None)

    @cached_property
    def purchase(self) -> Mapping[str, Purchase]:
        """Open purchases by key."""
        return MappingProxyType({p.key: p for p in self.purchases})


@dataclass(frozen=True)
class Studio:
    """The whole of what the maker states, at one moment."""

    settings: Settings
    library: Library = field(default_factory=Library)
    stash: Stash = field(default_factory=Stash)
    projects: tuple[Project, ...] = ()
    customers: tuple[Customer, ...] = ()
    trade: Trade = field(default_factory=Trade)
    suppliers: tuple[Supplier, ...] = ()
    offers: tuple[Offer, ...] = ()
    unread: frozenset[str] = frozenset()
    """Files of hers that could not be read: what they say is missing here, and not known."""

    @cached_property
    def project(self) -> Mapping[str, Project]:
        """Projects by key."""
        return MappingProxyType({p.key: p for p in self.projects})

    @cached_property
    def customer(self) -> Mapping[str, Customer]:
        """Customers by key."""
        return MappingProxyType({c.key: c for c in self.customers})
