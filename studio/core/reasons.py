"""The sum behind a figure, step by step in words: what 'why?' opens.

Steps repeat nothing: they are made from the same demand, outcome and price lines that the figure
came from, and the last step is the figure itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal

from studio.core import say
from studio.core.answers import REST, Rung, RunKind, ShadePlan
from studio.core.costing import ShadeCost
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.gauge import on_hook
from studio.core.lots.problem import BUY
from studio.core.model import Join, Project, ShadeRef, Studio
from studio.core.prices import PriceFrom
from studio.core.runs import RunDemand
from studio.core.shades import ORDER_PREFIX, PieceShare, ShadeOutcome


@dataclass(frozen=True, slots=True)
class Step:
    """One line of a sum: what it is, and its figure with its unit ('' where it is only said)."""

    text: str
    figure: str = ""


def run_words(run: RunDemand) -> str:
    """'stripe 5', 'stripe 5, row pair 2', 'stripe 5, what its lot lacks', 'border', 'fringe'."""
    pair = f", row pair {run.ref.part}" if run.ref.part else ""
    part = ", what its lot lacks" if run.ref.part == REST else pair
    if run.ref.kind is not RunKind.STRIPE:
        return f"{run.ref.kind.value}{part}"
    return f"stripe {run.ref.index + 1}{part}"


def why_need(run: RunDemand, project: Project, studio: Studio) -> tuple[Step, ...]:
    """How a run's planned need comes about."""
    unit = studio.settings.weight_unit
    if not run.known:
        return (Step(f"Not known: {run.reason}."),)
    if run.done:
        return (Step("All of it is worked; its yarn has left the lot.", say.weight(0.0, unit)),)
    need = say.weight(Decimal(run.need_dg) / 10, unit)
    use = run.use
    if use is None:
        return (
            Step("Not estimated from rows", say.weight(run.mean_g, unit)),
            Step("Planned need, rounded up to a tenth of a gram", need),
        )
    assumed = studio.settings.assumed
    rows_g = run.effective_left * use.row_g
    steps = [
        Step(f"A body row uses, by {use.rung.value}", say.weight(use.row_g, unit)),
        Step(_evidence_words(use.observations, use.rows_seen, use.rung)),
        Step("Rows still to work, heavier first rows counted as such",
             say.number(run.effective_left, 2)),
        Step("Expected for these rows", say.weight(rows_g, unit)),
    ]  # fmt: skip
    if run.sure_g > 0:
        tail = say.length(2 * assumed.tail.cm, studio.settings.length_unit)
        steps.append(Step(f"Two tails a strand, {tail} together", say.weight(run.sure_g, unit)))
    steps.append(Step("Expected use", say.weight(run.mean_g, unit)))
    share = run.need_dg / 10 / run.mean_g - 1 if run.mean_g else 0.0
    edge = (project.join or studio.settings.join) is Join.EDGE
    whole = ", whole rows from each ball since balls join at the edge" if edge else ""
    steps.append(
        Step(
            f"Planned need: enough in {say.percent(assumed.confidence, 0)} of cases{whole}; "
            f"{say.signed_percent(share)} on what is expected",
            need,
        )
    )
    if use.rung is Rung.ROUGH:
        steps.append(Step("Rough: from area and yarn weight alone, with a wide margin."))
    return tuple(steps)


def _evidence_words(observations: int, rows: float, rung: Rung) -> str:
    if rung is Rung.ROUGH or math.isinf(rows):
        return "No weighing in this yarn, stitch and hook yet."
    seen = say.count(observations, "weighing")
    return f"From {seen} over {say.number(rows, 1)} body rows of this width."


_SOURCE_WORDS = {
    PriceFrom.PAID: "as paid",
    PriceFrom.REPLACEMENT: "at today's price",
    PriceFrom.LAST_OF_SHADE: "no price on it; the last purchase of the shade",
    PriceFrom.LAST_OF_YARN: "no price on it; the last purchase of the yarn",
    PriceFrom.MISSING: "no price known",
}


def _source(code: str) -> str:
    if code == BUY:
        return "a new lot"
    if code.startswith(ORDER_PREFIX):
        return f"purchase {code.removeprefix(ORDER_PREFIX)}"
    return f"lot {code}"


def why_cost(
    cost: ShadeCost, share: PieceShare | None, shade: ShadePlan, studio: Studio
) -> tuple[Step, ...]:
    """How a shade's used and cash lines come about."""
    settings = studio.settings
    unit, currency = settings.weight_unit, settings.currency
    steps = []
    for line in cost.lines:
        if not line.grams:
            continue
        if line.price.per_g is None:
            price = _SOURCE_WORDS[PriceFrom.MISSING]
        else:
            ball = line.price.per_g * studio.library.yarn[cost.shade.yarn].ball_g
            price = f"{say.money(ball, currency)} a ball, {_SOURCE_WORDS[line.price.source]}"
        amount = "" if line.amount is None else say.money(line.amount, currency)
        noted = ", noted as used" if line.noted else ""
        steps.append(
            Step(
                f"{say.weight(line.grams, unit)} from {_source(line.source)}{noted}: {price}",
                amount,
            )
        )
    if cost.used is not None:
        what = "Used, expected grams of the whole piece"
        if any(n.noted for n in cost.lines):
            what = "Used: what is noted, and expected grams of the rest"
        steps.append(Step(what, say.money(cost.used, currency)))
    if shade.buy_g <= 0 or share is None:
        steps.append(Step("Cash: nothing to buy", say.money(Decimal(0), currency)))
        return tuple(steps)
    together = [key for key, _ in share.pool_members]
    if cost.ball_price is None or cost.cash is None or cost.alone is None:
        steps.append(Step("Cash: no price known for a new ball"))
        return tuple(steps)
    pooled = cost.ball_price * share.pool_balls
    whom = f" for {say.count(len(together), 'piece')} together" if len(together) > 1 else ""
    steps += [
        Step(
            f"To buy{whom}: {say.balls(share.pool_balls)} at "
            f"{say.money(cost.ball_price, currency)}",
            say.money(pooled, currency),
        ),
        Step(
            f"Cash: this piece's share by grams, {say.weight(shade.buy_g, unit)} of "
            f"{say.weight(Decimal(share.pool_dg) / 10, unit)}",
            say.money(cost.cash, currency),
        ),
        Step(
            f"If it were bought for alone, {say.balls(shade.buy_balls)}",
            say.money(cost.alone, currency),
        ),
    ]
    return tuple(steps)


def why_size(demand: Demand, project: Project, studio: Studio) -> tuple[Step, ...]:
    """How the achieved size comes about."""
    size = demand.size
    if size is None and not project.stripes:
        return (Step("The piece has no stripes yet, so there is nothing to measure."),)
    if size is None:
        return (Step("There is no swatch of this yarn, stitch and hook to take a gauge from."),)
    unit = studio.settings.length_unit
    gauge = size.gauge
    border = project.border
    steps = [
        Step(
            f"Gauge {gauge.measure.value}, from {say.either(list(gauge.swatches), 'and')}",
            f"{say.gauge(gauge.stitches_per_cm, 'stitches', unit)}, "
            f"{say.gauge(gauge.rows_per_cm, 'rows', unit)}",
        ),
        Step("Foundation chain, nearest to the width asked", str(size.chain)),
        Step("Stitches in a row", str(size.stitches)),
        Step("Rows over all stripes", str(size.rows)),
    ]
    if border is not None:
        steps.append(Step("Border on each side", say.length(border.width.cm, unit)))
    steps.append(Step("Achieved", say.size(size.width_cm, size.length_cm, unit)))
    if gauge.to_hook != (1.0, 1.0):
        hook = say.size(*on_hook(size, project.direction), unit)
        steps.append(Step("As it measures on the hook, before washing", hook))
    steps.append(
        Step(
            "Against what was asked",
            f"{say.signed_percent(size.width_off)} wide, "
            f"{say.signed_percent(size.length_off)} long",
        )
    )
    return tuple(steps)


def lot_of(outcome: ShadeOutcome, run: RunDemand) -> str:
    """The run's lot in words."""
    return _source(outcome.lot_of.get(run.ref.key, BUY))


def shade_words(studio: Studio, ref: ShadeRef) -> str:
    """'Lichen (Meadow Bulky)'."""
    shade, yarn = studio.library.shade.get(ref), studio.library.yarn.get(ref.yarn)
    return f"{shade.name if shade else ref.shade} ({yarn.name if yarn else ref.yarn})"


def total(steps: Sequence[Step]) -> str:
    """The figure the steps end in."""
    return steps[-1].figure if steps else ""
