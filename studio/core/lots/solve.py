"""The way in: from a shade's problem to its answer."""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.lots.frame import Frame, build_frame
from studio.core.lots.greedy import greedy
from studio.core.lots.judge import moved_runs, overdrawn_lots
from studio.core.lots.mip import Effort, Limits
from studio.core.lots.problem import Gap, ShadeAnswer, ShadeProblem, Stage
from studio.core.lots.trivial import search

DEFAULT = Limits()


def quick_answer(problem: ShadeProblem, limits: Limits = DEFAULT) -> tuple[ShadeAnswer, bool]:
    """An answer within milliseconds, and whether it is final.

    Where it is not, it is the greedy's, every stage open, to be shown until the solver is through.
    """
    frame = build_frame(problem)
    start = greedy(frame)
    found = search(frame, start, limits.quick_steps)
    if found is not None:
        return answer_of(frame, found), True
    gaps = tuple(Gap(stage, 1.0) for stage in _open_stages(frame))
    return answer_of(frame, start, gaps), False


def greedy_answer(problem: ShadeProblem) -> ShadeAnswer:
    """What a careful person would do: allowed, quick, every stage open."""
    frame = build_frame(problem)
    gaps = tuple(Gap(stage, 1.0) for stage in _open_stages(frame))
    return answer_of(frame, greedy(frame), gaps)


def solve_shade(problem: ShadeProblem, limits: Limits = DEFAULT) -> ShadeAnswer:
    """The best answer, with a gap for every stage that the limits left unproved.

    Never worse than the greedy's, and the same on every machine unless `stopped` is set.
    """
    from studio.core.lots.incumbent import Incumbent
    from studio.core.lots.stages import refine

    frame = build_frame(problem)
    start = greedy(frame)
    found = search(frame, start, limits.search_steps)
    if found is not None:
        return answer_of(frame, found)
    best = Incumbent(frame, start, Effort(limits))
    refine(best)
    gaps = tuple(Gap(stage, gap) for stage, gap in sorted(best.gaps.items()))
    return answer_of(frame, best.places, gaps, best.effort)


def _open_stages(frame: Frame) -> Sequence[Stage]:
    stages = (Stage.BUY_EACH, Stage.LOTS, Stage.LEFTOVERS, Stage.CODE)
    return (Stage.REPAIR, *stages) if frame.repairs else stages


def answer_of(
    frame: Frame,
    places: Sequence[int],
    gaps: tuple[Gap, ...] = (),
    effort: Effort | None = None,
) -> ShadeAnswer:
    """An assignment as the answer that it is."""
    lots = frame.names(places)
    return ShadeAnswer(
        lots=tuple(lots.items()),
        value=frame.value(places),
        moved=moved_runs(frame.problem, lots),
        overdrawn=tuple(overdrawn_lots(frame.problem).items()),
        gaps=gaps,
        solver_calls=effort.calls if effort else 0,
        stopped=effort is not None and effort.struck,
    )
