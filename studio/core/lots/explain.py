"""Questions asked differently: what relaxing a rule, or a fresh plan, would give."""

from __future__ import annotations

from dataclasses import replace

from studio.core.lots.problem import ShadeProblem


def relaxed(problem: ShadeProblem, piece: str, group: str) -> ShadeProblem:
    """The same question with one group of one piece allowed a lot for each run."""
    pieces = tuple(
        replace(p, together=p.together - {group}) if p.key == piece else p for p in problem.pieces
    )
    return replace(problem, pieces=pieces)
