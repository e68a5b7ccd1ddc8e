"""Why a run is not in another lot, and the same question asked differently.

A passed-over lot is explained by forcing the run into it and solving again: the first stage at
which that is worse is the reason, and the difference there is the amount.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from studio.core.frozen import dataclass
from studio.core.lots.frame import UNSET, Frame, Unit, build_frame
from studio.core.lots.greedy import greedy
from studio.core.lots.mip import Effort, Limits
from studio.core.lots.problem import BUY, Fixed, ShadeAnswer, ShadeProblem, Stage, Value
from studio.core.lots.trivial import search


class Rule(StrEnum):
    """A rule that is never traded away and keeps a run out of a lot."""

    BEGUN = "begun"
    PIN = "pin"
    ORDER = "order"
    HOLD = "hold"
    ARRIVES = "arrives"
    """The lot is still on order, for other runs."""
    TOO_LITTLE = "too little"
    """Even without other open runs the lot lacks so many dg."""
    TOGETHER = "together"
    """The slot comes from one lot, and its settled runs have another."""


class Measure(StrEnum):
    """What the first difference is counted in."""

    PIECES = "pieces"
    RUNS = "runs"
    BALLS = "balls"
    DG = "dg"
    LOTS = "lots"
    NEIGHBOURS = "neighbours"
    PART_DG = "part dg"
    OPENED = "opened"
    AGE = "age"
    """dg times places in the order of purchase."""
    CODE = "code"


@dataclass(frozen=True, slots=True)
class PassedOver:
    """Why one lot (or buying) was not chosen for a run: a rule, or the stage where it is worse.

    `amount` is how much worse in `measure` (dg lacking for `Rule.TOO_LITTLE`, 0 for other rules
    and for the code); for `Measure.BALLS` `dg` says the grams beside. `piece` is set where a
    project would buy more. `proved` is false where the solver's limits leave the amount open.
    """

    lot: str
    rule: Rule | None = None
    stage: Stage | None = None
    measure: Measure | None = None
    amount: int = 0
    dg: int = 0
    piece: str | None = None
    proved: bool = True


@dataclass(frozen=True, slots=True)
class LotQuestion:
    """'Why this lot?' of one run, as it is sent to the solver's process."""

    problem: ShadeProblem
    answer: ShadeAnswer
    run: str


@dataclass(frozen=True, slots=True)
class LotReasons:
    """Why each other lot is not the run's, and a fresh plan where the shade has holds.

    `fresh` is the best answer with everything held but not begun free to go anywhere; None where
    nothing is held.
    """

    passed: tuple[PassedOver, ...]
    fresh: ShadeAnswer | None


def reasons_of(question: LotQuestion, limits: Limits | None = None) -> LotReasons:
    """The whole answer to 'why this lot?'; slow, for each lot asks for a solve of its own."""
    from studio.core.lots.solve import solve_shade

    problem = question.problem
    held = any(run.fixed is Fixed.HOLD for piece in problem.pieces for run in piece.runs)
    fresh = solve_shade(unheld(problem), limits or Limits()) if held else None
    return LotReasons(passed_over(problem, question.answer, question.run, limits), fresh)


def passed_over(
    problem: ShadeProblem, answer: ShadeAnswer, run_key: str, limits: Limits | None = None
) -> tuple[PassedOver, ...]:
    """For every lot but the run's own, and for buying, why it is not the answer, in code order."""
    frame = build_frame(problem)
    run = next(at for at, each in enumerate(frame.runs) if each.key == run_key)
    chosen = dict(answer.lots)[run_key]
    found = []
    for code in (
        *(lot for lot in frame.codes if lot != chosen),
        *((BUY,) if chosen != BUY else ()),
    ):
        rule = _rule_against(frame, run, code)
        found.append(rule or _worse_with(problem, answer, run_key, code, limits or Limits()))
    return tuple(found)


def _rule_against(frame: Frame, run: int, code: str) -> PassedOver | None:
    """The rule that keeps a run out of a lot, None where only the stages do."""
    each = frame.runs[run]
    lot = frame.codes.index(code) if code != BUY else frame.buy
    if frame.start[run] != UNSET and each.fixed is not None:
        return PassedOver(code, Rule(each.fixed.value))
    unit = next((u for u in frame.units if run in u.runs), None)
    if unit is None:
        cls = next(c for c in frame.classes if run in c.runs)
        allowed = lot in cls.allowed
        need = each.need_dg
    else:
        at = unit.runs.index(run)
        allowed = any(option.places[at] == lot for option in unit.options)
        need = sum(frame.runs[r].need_dg for r in _with_it(frame, unit, run, lot))
    if allowed:
        return None
    if lot == frame.buy:
        return PassedOver(code, Rule.TOGETHER)
    if frame.shut[lot]:
        return PassedOver(code, Rule.ARRIVES)
    if unit is not None and _agreed_elsewhere(frame, unit.group, lot):
        return PassedOver(code, Rule.TOGETHER)
    return PassedOver(code, Rule.TOO_LITTLE, amount=need - frame.room[lot])


def _with_it(frame: Frame, unit: Unit, run: int, lot: int) -> Sequence[int]:
    """The runs of one slot that are in a lot when this one is.

    Where it is held there, those held there with it; else all, for they move together. A lot's
    room is what it has before any of them takes from it.
    """
    if frame.home[run] == lot:
        return [r for r in unit.runs if frame.home[r] == lot]
    return unit.runs


def _agreed_elsewhere(frame: Frame, group: int, lot: int) -> bool:
    fixed = frame.groups[group].fixed_lots
    return len(fixed) == 1 and lot not in fixed


def _worse_with(
    problem: ShadeProblem, answer: ShadeAnswer, run_key: str, code: str, limits: Limits
) -> PassedOver:
    """What forcing the run into the lot costs, at the first stage where it costs anything."""
    frame = build_frame(problem, (run_key, code))
    value, gaps = _forced(frame, answer.value, limits)
    open_before = {gap.stage for gap in answer.gaps} | gaps
    for stage in Stage:
        if value.of(stage) != answer.value.of(stage):
            proved = all(each > stage for each in open_before)
            return replace(
                _difference(problem, stage, answer.value, value), lot=code, proved=proved
            )
    return PassedOver(
        code, stage=Stage.CODE, measure=Measure.CODE, proved=not open_before - {Stage.CODE}
    )


def _forced(frame: Frame, base: Value, limits: Limits) -> tuple[Value, set[Stage]]:
    """The forced question's value, exact up to the first stage where it differs from `base`."""
    from studio.core.lots.incumbent import Incumbent
    from studio.core.lots.stages import refine

    start = greedy(frame)
    found = search(frame, start, limits.search_steps)
    if found is not None:
        return frame.value(found), set()
    best = Incumbent(frame, start, Effort(limits))
    refine(
        best,
        lambda stage, value: (
            stage is Stage.LEFTOVERS or any(value.of(s) != base.of(s) for s in Stage if s <= stage)
        ),
    )
    return best.value, set(best.gaps)


def _difference(problem: ShadeProblem, stage: Stage, one: Value, two: Value) -> PassedOver:
    if stage is Stage.BUY_EACH:
        for piece, (balls, dg), (more_balls, more_dg) in zip(
            problem.pieces, one.buy, two.buy, strict=True
        ):
            if dg != more_dg:
                more = PassedOver("", stage=stage, dg=more_dg - dg, piece=piece.key)
                if balls != more_balls:
                    return replace(more, measure=Measure.BALLS, amount=more_balls - balls)
                return replace(more, measure=Measure.DG, amount=more_dg - dg)
    measures = {
        Stage.REPAIR: (Measure.PIECES, Measure.RUNS),
        Stage.BUY_POOLED: (Measure.BALLS,),
        Stage.LOTS: (Measure.LOTS, Measure.NEIGHBOURS),
        Stage.LEFTOVERS: (Measure.PART_DG, Measure.OPENED, Measure.AGE),
    }[stage]
    before, after = _numbers(stage, one), _numbers(stage, two)
    measure, amount = next(
        (measure, b - a) for measure, a, b in zip(measures, before, after, strict=True) if a != b
    )
    return PassedOver("", stage=stage, measure=measure, amount=amount)


def _numbers(stage: Stage, value: Value) -> tuple[int, ...]:
    return {
        Stage.REPAIR: value.repair,
        Stage.BUY_POOLED: (value.pooled_balls,),
        Stage.LOTS: value.lots,
        Stage.LEFTOVERS: value.leftovers,
    }[stage]


def relaxed(problem: ShadeProblem, piece: str, group: str) -> ShadeProblem:
    """The same question with one group of one piece allowed a lot for each run."""
    pieces = tuple(
        replace(p, together=p.together - {group}) if p.key == piece else p for p in problem.pieces
    )
    return replace(problem, pieces=pieces)


def unheld(problem: ShadeProblem) -> ShadeProblem:
    """The same question as a fresh plan: what is held, but not begun, may go anywhere."""
    pieces = tuple(
        replace(
            piece,
            runs=tuple(
                replace(run, fixed=None, lot=None) if run.fixed is Fixed.HOLD else run
                for run in piece.runs
            ),
        )
        for piece in problem.pieces
    )
    return replace(problem, pieces=pieces)
