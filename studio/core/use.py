"""Yarn use: from weighings to what rows will need, and the chance that what is there is enough.

One formula serves all evidence. Observation i is g_i grams over n_i rows, counted in body rows of
the piece at hand. m = sum g / sum n and S^2 = [v0 (s0 m)^2 + sum (g_i - n_i m)^2 / n_i] / df, with
df = v0 + k - 1. For N more rows the mean is N m and the variance S^2 (N + N^2 / sum n) +
(tau N m)^2, with tau nought for weighings of this very piece. v0, s0 and tau are assumed until
finished pieces show the real spread. Grams are floats here: they are estimates.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import lru_cache

from studio.core import student
from studio.core.answers import RowUse, Rung
from studio.core.frozen import dataclass
from studio.core.model import Assumed, Join

_EPSILON = 1e-9
"""Rows closer than this to a whole number are whole: rounding of binary floats."""

ROUGH_DENSITY = 0.068
"""Grams to the cubic centimetre of a fabric thought as thick as a stitch is wide: from memory.

A medium yarn at 12.5 single crochets to 4 in has stitches 0.81 cm wide and so about 550 g to the
square metre. Real fabrics lie a good fifth either side, which is what `ROUGH_SPREAD` says.
"""
ROUGH_SPREAD = 0.2
ROUGH_FREEDOM = 4.0
ROUGH_COUNTS = (37.0, 26.5, 18.0, 14.5, 12.5, 9.5, 7.5, 4.0)
"""Stitches to 4 in taken for categories 0 to 7: the middles of the published ranges, and for the
jumbo category, which is open below, 4."""


@dataclass(frozen=True, slots=True)
class Observation:
    """Grams that worked so many effective rows, each of so many body stitches."""

    grams: float
    rows: float
    stitches: float


@dataclass(frozen=True, slots=True)
class Need:
    """Expected grams, and the planned need: the one-sided bound at the assumed confidence."""

    mean_g: float
    bound_g: float


NOTHING = Need(0.0, 0.0)


def fit(
    observations: Iterable[Observation], *, stitches: float, rung: Rung, assumed: Assumed
) -> RowUse | None:
    """The use of a body row of `stitches` stitches; None where nothing usable was observed.

    Where the prior weighs nothing and there is a single observation, no spread could be told; then
    the prior counts as one observation more.
    """
    if stitches <= 0:
        return None
    seen = [
        (o.grams, o.rows * o.stitches / stitches)
        for o in observations
        if o.grams > 0 and o.rows > 0 and o.stitches > 0
    ]
    if not seen:
        return None
    grams = sum(g for g, _ in seen)
    rows = sum(n for _, n in seen)
    mean = grams / rows
    prior = float(assumed.prior_weight)
    if prior + len(seen) - 1 < 1:
        prior = 2.0 - len(seen)
    freedom = prior + len(seen) - 1
    known = prior * (float(assumed.prior_spread) * mean) ** 2
    spread = (known + sum((g - n * mean) ** 2 / n for g, n in seen)) / freedom
    elsewhere = 0.0 if rung is Rung.WEIGH_IN else float(assumed.other_piece_spread)
    return RowUse(rung, mean, spread, rows, freedom, elsewhere, len(seen))


def rough(category: int, row_area_cm2: float, assumed: Assumed) -> RowUse | None:
    """A rough figure from the yarn's category and the area of a row, with a wide spread."""
    if not 0 <= category < len(ROUGH_COUNTS) or row_area_cm2 <= 0:
        return None
    stitch_cm = 10.16 / ROUGH_COUNTS[category]
    mean = ROUGH_DENSITY * stitch_cm * row_area_cm2
    spread = (float(assumed.prior_spread) * mean) ** 2
    return RowUse(Rung.ROUGH, mean, spread, math.inf, ROUGH_FREEDOM, ROUGH_SPREAD, 0)


def variance(use: RowUse, rows: float) -> float:
    """The variance in g^2 of what so many more rows use, all of them together."""
    drift = use.elsewhere * rows * use.row_g
    return use.spread_g2 * (rows + rows * rows / use.rows_seen) + drift * drift


def need(use: RowUse, rows: float, assumed: Assumed) -> Need:
    """What so many effective rows use: expected, and at the assumed confidence."""
    if rows <= 0:
        return NOTHING
    mean = rows * use.row_g
    t = _t(assumed.confidence, use.freedom)
    return Need(mean, mean + t * math.sqrt(variance(use, rows)))


@lru_cache(maxsize=256)
def _t(confidence: Decimal, freedom: float) -> float:
    # Under one half the bound would lie below the mean, and a plan never plans on luck.
    return max(0.0, student.quantile(float(confidence), freedom))


def rows_within(use: RowUse, grams: float, extra_variance: float, assumed: Assumed) -> float:
    """The rows, with their fraction, whose need at the assumed confidence is just `grams`."""
    t2 = _t(assumed.confidence, use.freedom) ** 2
    rest = grams * grams - t2 * extra_variance
    if grams <= 0 or rest <= 0 or use.row_g <= 0:
        return 0.0
    # (grams - N m)^2 = t^2 var(N), a quadratic in N; the smaller root in the form that stays
    # exact when the leading coefficient is small or negative.
    m2 = use.row_g * use.row_g
    lead = m2 - t2 * (use.spread_g2 / use.rows_seen + use.elsewhere**2 * m2)
    middle = 2 * grams * use.row_g + t2 * use.spread_g2
    return 2 * rest / (middle + math.sqrt(max(0.0, middle * middle - 4 * lead * rest)))


def rows_from_balls(
    use: RowUse, balls: int, ball_g: float, join: Join, *, even: bool, assumed: Assumed
) -> tuple[int, int]:
    """Whole rows that so many full balls give: expected, and safe at the assumed confidence.

    Joined anywhere the balls pool; joined at the edge each gives whole rows and its remnant is
    lost. The safe figure also counts that an unopened ball may be light.
    """
    if balls <= 0 or ball_g <= 0 or use.row_g <= 0:
        return 0, 0
    pooled = balls if join is Join.ANYWHERE else 1
    grams = pooled * ball_g
    light = pooled * (float(assumed.ball_spread) * ball_g) ** 2
    expected = _whole(grams / use.row_g)
    safe = _whole(rows_within(use, grams, light, assumed))
    if join is Join.EDGE:
        expected, safe = expected * balls, safe * balls
    if even:
        expected, safe = expected - expected % 2, safe - safe % 2
    return expected, safe


def _whole(rows: float) -> int:
    return math.floor(rows + _EPSILON)


def run_need(
    use: RowUse,
    rows: int,
    effective: float,
    ball_g: float,
    tails_g: float,
    join: Join,
    assumed: Assumed,
    *,
    begun: bool = False,
) -> Need:
    """What a run of `rows` whole rows needs, the tails of its strands included.

    `tails_g` is what the two tails of one strand weigh; a begun run has its first one behind it.
    Balls joined at the edge give whole rows each, so the planned need is full balls for all but
    the last and the remaining rows from that one. It grows with the rows throughout, since what is
    left for the last ball is safe within one. Where a ball gives not even one row, the yarn has to
    be joined within it.
    """
    if rows <= 0:
        return NOTHING
    plain = need(use, effective, assumed)
    strands = strands_for(plain.mean_g, ball_g)
    tails = tails_g * (strands - (0.5 if begun else 0.0))
    mean = plain.mean_g + tails
    if join is Join.EDGE and ball_g > 0:
        edge = _edge_bound(use, rows, effective - rows, ball_g, tails_g, assumed)
        if edge is not None:
            return Need(mean, max(mean, edge))
    return Need(mean, plain.bound_g + tails)


def _edge_bound(
    use: RowUse, rows: int, heavier: float, ball_g: float, tails_g: float, assumed: Assumed
) -> float | None:
    """Grams for whole rows from each ball; `heavier` is what the first rows use beyond theirs."""
    light = (float(assumed.ball_spread) * ball_g) ** 2
    capacity = rows_within(use, ball_g - tails_g, light, assumed)
    each, first = _whole(capacity), _whole(capacity - heavier)
    if each < 1 or first < 1:
        return None
    if rows <= first:
        return need(use, rows + heavier, assumed).bound_g + tails_g
    full, rest = divmod(rows - first, each)
    last = need(use, rest, assumed).bound_g + tails_g if rest else 0.0
    return (1 + full) * ball_g + last


def strands_for(grams: float, ball_g: float) -> int:
    """Balls that so many grams are worked from, each of them a strand started; at least one."""
    return max(1, math.ceil(grams / ball_g - _EPSILON)) if ball_g > 0 else 1


@dataclass(frozen=True, slots=True)
class Supply:
    """What is there: full balls, part balls by weight, and the grams of a full ball."""

    balls: int
    ball_g: float
    parts_g: tuple[float, ...] = ()

    @property
    def grams(self) -> float:
        """All of it by label and scale."""
        return self.balls * self.ball_g + sum(self.parts_g)

    def variance(self, assumed: Assumed) -> float:
        """In g^2: each unopened ball for itself, and for each part ball the step of the scale.

        A reading to a step is off by a uniform half step either way.
        """
        ball = self.balls * (float(assumed.ball_spread) * self.ball_g) ** 2
        return ball + len(self.parts_g) * float(assumed.scale_step_g) ** 2 / 12


Evidence = tuple[int, float]
"""What tells uses of one yarn that rest on the same weighings: how many, and their grams."""


def evidence_of(use: RowUse) -> Evidence:
    """The weighings that a use rests on; pieces of other widths rest on the same ones."""
    grams = use.row_g * use.rows_seen
    return use.observations, grams if math.isinf(grams) else round(grams, 6)


@dataclass(frozen=True, slots=True)
class Enough:
    """The chance that a supply is enough, and how far each doubt about a mean moves it.

    `doubts` are shares of the whole spread (0 to 1), by the evidence that they come from.
    """

    chance: float
    doubts: tuple[tuple[Evidence, float], ...] = ()


def chance_enough(
    asked: Sequence[tuple[RowUse, float]], supply: Supply, assumed: Assumed, *, sure_g: float = 0.0
) -> Enough:
    """The chance that a supply is enough for all the rows asked of it together.

    Rows that rest on the same weighings share the doubt about their mean, so that it is summed
    before it is squared and never averaged away, whether they are of one piece or of several; what
    rests on different weighings is taken as independent. `sure_g` is yarn whose grams are known.
    The sum of the variances goes with a t of the fewest degrees of freedom among the uses, which
    errs on the careful side.
    """
    pooled: dict[RowUse, float] = {}
    for use, rows in asked:
        if rows > 0:
            pooled[use] = pooled.get(use, 0.0) + rows
    mean = sure_g + sum(use.row_g * rows for use, rows in pooled.items())
    if mean <= 0:
        return Enough(1.0)
    doubts: dict[Evidence, float] = {}
    spread = supply.variance(assumed)
    for use, rows in pooled.items():
        spread += use.spread_g2 * rows
        doubt = math.sqrt(use.spread_g2 / use.rows_seen + (use.elsewhere * use.row_g) ** 2)
        seen = evidence_of(use)
        doubts[seen] = doubts.get(seen, 0.0) + rows * doubt
    spread += sum(doubt * doubt for doubt in doubts.values())
    spare = supply.grams - mean
    if spread <= 0:
        return Enough(1.0 if spare >= -_EPSILON else 0.0)
    t = spare / math.sqrt(spread)
    freedom = min((use.freedom for use in pooled), default=math.inf)
    shares = tuple((seen, doubt / math.sqrt(spread)) for seen, doubt in doubts.items())
    return Enough(student.cdf(t, freedom), shares)


def chance_of_all(lots: Iterable[Enough]) -> float:
    """The chance that every one of several lots is enough.

    Lots whose rows rest on the same weighings run short together, since a mean that is too low is
    too low for all of them: each keeps its own chance, and they are tied by one normal factor for
    each evidence. A lot with several doubts goes with its greatest; different ones are independent.
    """
    tied: dict[Evidence | None, list[tuple[float, float]]] = {}
    for lot in lots:
        if lot.chance <= 0.0:
            return 0.0
        if lot.chance < 1.0:
            seen, share = max(lot.doubts, key=lambda d: d[1], default=(None, 0.0))
            tied.setdefault(seen, []).append((lot.chance, share))
    return math.prod((_all_of(group) for group in tied.values()), start=1.0)


_STEPS = 60
_REACH = 6.0
"""The factor is summed over so many steps from -6 to 6 of its deviations."""


def _all_of(group: Sequence[tuple[float, float]]) -> float:
    """The chance of all of a group with one factor in common, by the trapezoid rule."""
    if len(group) == 1:
        return group[0][0]
    # Imported where it is needed, since starting takes long enough.
    from statistics import NormalDist

    normal = NormalDist()
    # A share of 1 would leave nothing of a lot's own, and a step in the integrand.
    lots = [
        (normal.inv_cdf(chance), share, math.sqrt(1.0 - share * share))
        for chance, share in ((c, min(s, 0.99)) for c, s in group)
    ]
    step = 2 * _REACH / _STEPS
    total = 0.0
    for at in range(_STEPS + 1):
        z = at * step - _REACH
        density = math.exp(-z * z / 2)
        for bound, share, own in lots:
            density *= 0.5 * math.erfc((share * z - bound) / (own * math.sqrt(2.0)))
        total += density
    return min(1.0, total * step / math.sqrt(2 * math.pi))
