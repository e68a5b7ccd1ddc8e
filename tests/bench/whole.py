"""Split by shade against one model of everything: `python -m tests.bench.whole` prints the table.

The whole model holds the runs and lots of all shades at once: the columns and rows that the split
makes for one shade, put side by side, and the same stages in the same order on the same solver,
each fixed before the next. It grows until it is no longer proved within a minute; up to there both
must have the same value at every stage. The last tie, by lot code, is left out of both times.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from studio.core.lots.frame import Frame, build_frame
from studio.core.lots.greedy import fill
from studio.core.lots.judge import is_allowed
from studio.core.lots.mip import Effort, Limits, Mip
from studio.core.lots.model import Model, Terms
from studio.core.lots.problem import ShadeProblem, Value
from studio.core.lots.reading import places_from
from studio.core.lots.solve import solve_shade
from studio.solving_here import quieten
from tests.bench.lots import plain

MOST_S = 60.0
SIZES = (2, 4, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 320, 384, 448, 512)


class Whole:
    """The models of many shades side by side in one, minimised stage by stage."""

    def __init__(self, frames: list[Frame]) -> None:
        self.frames = frames
        self.effort = Effort(Limits(nodes=10**8, iterations=10**9, seconds=MOST_S))
        self.models = [Model(frame, len(frame.problem.pieces), lots=True) for frame in frames]
        for model in self.models:
            model.spread_more({cls.group for cls in model.frame.classes})
        self.found: list[tuple[int, ...]] = []

    def minimise(self, part: Callable[[Model], Terms]) -> bool:
        """Minimise a part summed over all shades and fix it; whether it was proved in time."""
        parts = [part(model) for model in self.models]
        if not any(parts):
            return True
        mip, goal, firsts = Mip(), {}, []
        for model, terms in zip(self.models, parts, strict=True):
            first = len(mip.upper)
            firsts.append(first)
            mip.lower.extend(model.mip.lower)
            mip.upper.extend(model.mip.upper)
            goal.update({first + col: by for col, by in terms.items()})
            for low, high, row in model.mip.rows:
                mip.rows.append((low, high, {first + col: by for col, by in row.items()}))
        found = mip.minimise(goal, None, self.effort)
        if found.values is None or not found.proved or self.effort.struck:
            return False
        self.found = [
            found.values[first : first + len(model.kinds)]
            for first, model in zip(firsts, self.models, strict=True)
        ]
        for model, terms, mine in zip(self.models, parts, self.found, strict=True):
            if terms:
                model.mip.row(terms, upper=sum(mine[col] * by for col, by in terms.items()))
        return True

    def values(self) -> list[Value] | None:
        """The value of every shade at every stage, None where the minute was not enough."""
        pieces = max(len(frame.problem.pieces) for frame in self.frames)
        stages: list[Callable[[Model], Terms]] = [
            lambda model, n=piece: model.bought(n)  # type: ignore[misc]
            for piece in range(pieces)
        ]
        stages += [lambda m: m.extra_lots()[0], lambda m: m.changes()[0]]
        stages += [lambda m: m.part_used(), lambda m: m.opened(), lambda m: m.age()]
        if not all(self.minimise(stage) for stage in stages):
            return None
        values = []
        for frame, model, mine in zip(self.frames, self.models, self.found, strict=True):
            places = fill(frame, places_from(model, mine))
            assert is_allowed(frame.problem, frame.names(places)) is None
            values.append(frame.value(places))
        return values


def shades(count: int) -> list[ShadeProblem]:
    """Ordinary shades of the bench whose holds are possible and which leave something to choose."""
    found: list[ShadeProblem] = []
    seed = 1_000
    while len(found) < count:
        problem = plain(seed, 6)
        frame = build_frame(problem)
        if frame.movable and not frame.repairs:
            found.append(problem)
        seed += 1
    return found


def main() -> None:
    """Grow the studio until the whole model takes more than a minute, and print both."""
    quieten()
    solve_shade(shades(1)[0], Limits(search_steps=0, fill_steps=0))
    print("shades   runs   whole s   split s   ratio   same values")
    for count in SIZES:
        problems = shades(count)
        started = time.process_time()
        whole = Whole([build_frame(problem) for problem in problems]).values()
        took = time.process_time() - started
        started = time.process_time()
        split = [solve_shade(problem) for problem in problems]
        alone = time.process_time() - started
        runs = sum(len(piece.runs) for problem in problems for piece in problem.pieces)
        if whole is None:
            print(f"{count:6} {runs:6}   not proved in {MOST_S:.0f} s  {alone:9.3f}")
            return
        same = sum(a == b.value for a, b in zip(whole, split, strict=True))
        print(
            f"{count:6} {runs:6} {took:9.2f} {alone:9.3f} {took / alone:7.0f} {same:6} of {count}",
            flush=True,
        )


if __name__ == "__main__":
    main()
