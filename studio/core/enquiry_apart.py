"""What is offered apart from an enquiry: yarn that moving holds would free, or a looser lot rule.

Each is another question of the same shade. It is answered quickly first; where the quick search
proves nothing the question is handed out, to be solved exactly and asked again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from studio.core.frozen import dataclass
from studio.core.lots.explain import relaxed, unheld
from studio.core.lots.problem import BUY, Fixed, ShadeAnswer, ShadeProblem
from studio.core.lots.solve import quick_answer
from studio.core.model import ShadeRef
from studio.core.shades import ShadeOutcome, balls_for

Solved = Mapping[ShadeProblem, ShadeAnswer]


@dataclass(frozen=True, slots=True)
class Freed:
    """What the piece would buy less of a shade if holds moved; no promised piece buys more.

    `moves` are the run keys that would leave their lot. Not `proved` where only a quick search
    was made: it may be another amount.
    """

    shade: ShadeRef
    less_g: Decimal
    less_balls: int
    moves: tuple[str, ...]
    proved: bool


@dataclass(frozen=True, slots=True)
class Relaxed:
    """What the piece would buy less of a shade if one slot took a lot for each stripe."""

    slot: str
    shade: ShadeRef
    less_g: Decimal
    less_balls: int
    proved: bool


@dataclass(frozen=True, slots=True)
class Apart:
    """All that is offered apart, and the questions that were only answered quickly."""

    freed: tuple[Freed, ...]
    relaxed: tuple[Relaxed, ...]
    open_problems: tuple[ShadeProblem, ...]


def offered_apart(trial: str, outcomes: Iterable[ShadeOutcome], solved: Solved) -> Apart:
    """What could be saved in the shades that the piece must buy."""
    freed: list[Freed] = []
    looser: list[Relaxed] = []
    still_open: list[ShadeProblem] = []
    for outcome in outcomes:
        found = _freed(trial, outcome, solved, still_open)
        if found is not None:
            freed.append(found)
        looser += _relaxed(trial, outcome, solved, still_open)
    return Apart(tuple(freed), tuple(looser), tuple(still_open))


def _answer(
    problem: ShadeProblem, solved: Solved, still_open: list[ShadeProblem]
) -> tuple[ShadeAnswer, bool]:
    """The exact answer where there is one, else the quick one; whether it is proved."""
    exact = solved.get(problem)
    if exact is not None:
        return exact, not exact.gaps
    answer, final = quick_answer(problem)
    if not final:
        still_open.append(problem)
    return answer, final


def _buys(problem: ShadeProblem, answer: ShadeAnswer) -> dict[str, int]:
    """Tenths of a gram that each piece must buy."""
    lots = dict(answer.lots)
    return {p.key: sum(r.need_dg for r in p.runs if lots[r.key] == BUY) for p in problem.pieces}


def _freed(
    trial: str, outcome: ShadeOutcome, solved: Solved, still_open: list[ShadeProblem]
) -> Freed | None:
    """What a fresh plan of the shade would save the piece, if nobody promised then buys more."""
    problem, ball = outcome.problem, outcome.problem.ball_dg
    fresh = unheld(problem)
    if fresh == problem:
        return None
    answer, proved = _answer(fresh, solved, still_open)
    now, then = _buys(problem, outcome.answer), _buys(fresh, answer)
    less = now[trial] - then[trial]
    worse = any(then[p.key] > now[p.key] for p in problem.pieces if p.held)
    if less <= 0 or worse or answer.overdrawn:
        return None
    lots = dict(answer.lots)
    moves = tuple(
        r.key
        for p in problem.pieces
        for r in p.runs
        if r.fixed is Fixed.HOLD and lots[r.key] != r.lot
    )
    balls = balls_for(now[trial], ball) - balls_for(then[trial], ball)
    sure = proved and not outcome.pending
    return Freed(outcome.ref, Decimal(less) / 10, balls, moves, sure)


def _relaxed(
    trial: str, outcome: ShadeOutcome, solved: Solved, still_open: list[ShadeProblem]
) -> Iterable[Relaxed]:
    """What each slot of the piece would save if it need not come from one lot."""
    problem, ball = outcome.problem, outcome.problem.ball_dg
    piece = next((p for p in problem.pieces if p.key == trial), None)
    now = _buys(problem, outcome.answer).get(trial, 0)
    for group in sorted(piece.together if piece else ()):
        freer = relaxed(problem, trial, group)
        answer, proved = _answer(freer, solved, still_open)
        then = _buys(freer, answer)[trial]
        if then < now:
            balls = balls_for(now, ball) - balls_for(then, ball)
            slot = group.rpartition("/")[2]
            sure = proved and not outcome.pending
            yield Relaxed(slot, outcome.ref, Decimal(now - then) / 10, balls, sure)
