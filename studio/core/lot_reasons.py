"""'Why this lot?' in words: what ties the run, what its lot has left, and each lot passed over."""

from __future__ import annotations

from decimal import Decimal

from studio.core import say
from studio.core.answers import Cover, RunPlan
from studio.core.lots.explain import LotReasons, Measure, PassedOver, Rule
from studio.core.lots.problem import BUY, ShadeAnswer
from studio.core.model import Studio
from studio.core.reasons import Step
from studio.core.shades import ORDER_PREFIX, ShadeOutcome

_TIED = {
    Rule.BEGUN: "It is begun, and a begun run stays with its lot.",
    Rule.PIN: "You pinned it to its lot; no other is looked at.",
    Rule.ORDER: "It was ordered for, and takes what comes.",
    Rule.HOLD: "It is promised its lot, and a promise is kept.",
}


def why_lot(
    run: RunPlan, outcome: ShadeOutcome | None, reasons: LotReasons | None, studio: Studio
) -> tuple[Step, ...]:
    """The run's lot first, then the reasons; the last steps offer what a fresh plan would save."""
    if run.cover is Cover.DONE:
        return (Step("All of it is worked."),)
    if outcome is None or reasons is None:
        return (Step("No lot is looked for: it asks for nothing, or its yarn is not known."),)
    steps = [_chosen(run, studio)]
    rules = {p.rule for p in reasons.passed}
    if len(rules) == 1 and (tied := rules.pop()) in _TIED:
        # Every other lot is passed over for the same tie: once said is enough.
        steps.append(Step(_TIED[tied]))
    else:
        steps += [_passed(each, studio) for each in reasons.passed]
    if reasons.fresh is not None:
        steps += _fresh(outcome.answer, reasons.fresh, studio)
    return tuple(steps)


def _grams(dg: int, studio: Studio) -> str:
    return say.weight(Decimal(dg) / 10, studio.settings.weight_unit)


def _source(code: str) -> str:
    if code == BUY:
        return "A new lot"
    if code.startswith(ORDER_PREFIX):
        return f"Purchase {code.removeprefix(ORDER_PREFIX)}"
    return f"Lot {code}" if code else "The one lot there is"


def _chosen(run: RunPlan, studio: Studio) -> Step:
    if run.lot is None:
        return Step("It is to be bought, in a new lot.")
    kind = "Purchase" if run.cover in (Cover.ORDER, Cover.LATE) else "Lot"
    # A yarn without dye lots has one lot, which has no code.
    name = f"{kind} {run.lot}" if run.lot else "The one lot there is"
    if run.lot_left_g is None:
        return Step(f"{name} works it.")
    unit = studio.settings.weight_unit
    if run.lot_left_g < 0:
        return Step(
            f"{name} works it, but for all that is tied to it it lacks",
            say.weight(-run.lot_left_g, unit),
        )
    return Step(f"{name} works it; the whole plan leaves in it", say.weight(run.lot_left_g, unit))


def _passed(over: PassedOver, studio: Studio) -> Step:
    name = _source(over.lot)
    if over.rule is not None:
        return _by_rule(over, name, studio)
    text, figure = _worse(over, studio)
    doubt = "" if over.proved else " (not proved)"
    return Step(f"{name}: {text}{doubt}", figure)


def _by_rule(over: PassedOver, name: str, studio: Studio) -> Step:
    if over.rule is Rule.TOO_LITTLE:
        return Step(
            f"{name}: too little, even if used for nothing else; lacks",
            _grams(over.amount, studio),
        )
    if over.rule is Rule.TOGETHER:
        return Step(f"{name}: the slot keeps to one lot, and what is settled of it has another")
    if over.rule is Rule.ARRIVES:
        return Step(f"{name}: bought for other runs")
    return Step(f"{name}: the run is promised its lot, and a promise is kept")


_WORSE: dict[Measure, str] = {
    Measure.PIECES: "promises of more pieces would be broken",
    Measure.RUNS: "more promised runs would have to move",
    Measure.BALLS: "more would be bought in all",
    Measure.DG: "more would be bought",
    Measure.LOTS: "more lots would share a slot",
    Measure.NEIGHBOURS: "more neighbouring stripes of a slot would differ in lot",
    Measure.PART_DG: "less of the part balls would be used up",
    Measure.OPENED: "more whole lots would be opened",
    Measure.AGE: "newer yarn would be used before older",
    Measure.CODE: "just as good; the order of the codes decides",
}


def _worse(over: PassedOver, studio: Studio) -> tuple[str, str]:
    """What the first stage says at which this lot is worse, and by how much."""
    measure = over.measure or Measure.CODE
    piece = studio.project.get(over.piece or "")
    if piece is not None and measure is Measure.BALLS:
        return f"{piece.name} would buy {say.balls(over.amount)} more", _grams(over.dg, studio)
    if piece is not None and measure is Measure.DG:
        return f"{piece.name} would buy more", _grams(over.amount, studio)
    return _WORSE[measure], _figure(measure, over.amount, studio)


def _figure(measure: Measure, amount: int, studio: Studio) -> str:
    """The amount with its unit; none where a number would say nothing to her."""
    if measure in (Measure.AGE, Measure.CODE):
        return ""
    if measure in (Measure.DG, Measure.PART_DG):
        return _grams(amount, studio)
    if measure is Measure.BALLS:
        return say.balls(amount)
    return say.count(amount, "lot") if measure in (Measure.LOTS, Measure.OPENED) else str(amount)


def _fresh(now: ShadeAnswer, fresh: ShadeAnswer, studio: Studio) -> list[Step]:
    """What a fresh plan would save: offered, never done."""
    bought, then = (sum(dg for _, dg in a.value.buy) for a in (now, fresh))
    if then < bought:
        text = "A fresh plan, with promised lots free to move, would buy less"
        return [Step(text, _grams(bought - then, studio))]
    lots, fewer = now.value.lots[0], fresh.value.lots[0]
    if then == bought and fewer < lots:
        text = "A fresh plan, with promised lots free to move, would share out fewer lots"
        return [Step(text, say.count(lots - fewer, "lot"))]
    return []
