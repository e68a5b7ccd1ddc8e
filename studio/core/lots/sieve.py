"""Ways that go with no way of the others are left out before the solver sees them.

Two groups that share lots rule out most of each other's ways: looked at pair by pair, a way of one
that leaves no way of the other enough yarn is out, and so is one whose best company already passes
a limit that a row of the model sets. What is left is often so little that nothing has to be solved.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from studio.core.linear import Row
from studio.core.lots.frame import Unit

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Flags = npt.NDArray[np.bool_]
    Numbers = npt.NDArray[np.int64]

MOST_PAIRS = 40_000_000
"""Pairs of ways past which two units are not held against each other."""

SLICE = 256
"""Ways that are held at once against all of another unit: bounds the memory."""


class Sieve:
    """The ways of a model's units, and which of them go together."""

    def __init__(
        self, units: Sequence[Unit], columns: Sequence[Sequence[int]], room: Sequence[int]
    ) -> None:
        import numpy as np

        self.columns = [np.array(each, dtype=np.int64) for each in columns]
        self.loads = [_loads(unit, len(room)) for unit in units]
        self.room = np.array(room, dtype=np.int32)
        self.together: dict[tuple[int, int], Flags] = {}
        for one in range(len(units)):
            for two in range(one):
                if len(self.columns[one]) * len(self.columns[two]) <= MOST_PAIRS:
                    self._pair(one, two)
        self.keep([self._alone(at) for at in range(len(units))])

    def _pair(self, one: int, two: int) -> None:
        import numpy as np

        first, second = self.loads[one], self.loads[two]
        shared = np.flatnonzero(first.any(axis=0) & second.any(axis=0))
        if not len(shared):
            return
        fits = np.ones((len(first), len(second)), dtype=bool)
        for start in range(0, len(first), SLICE):
            part = slice(start, start + SLICE)
            for lot in shared:
                fits[part] &= first[part, lot, None] + second[None, :, lot] <= self.room[lot]
        if fits.all():
            return
        self.together[one, two] = fits
        self.together[two, one] = fits.T

    def _alone(self, at: int) -> Flags:
        """The ways of a unit that some way of each other goes with."""
        import numpy as np

        alive: Flags = np.all(self.loads[at] <= self.room, axis=1)
        for (one, _), fits in self.together.items():
            if one == at:
                alive = np.logical_and(alive, fits.any(axis=1))
        return alive

    def keep(self, alive: Sequence[Flags]) -> None:
        """Forget all other ways for good."""
        self.columns = [each[on] for each, on in zip(self.columns, alive, strict=True)]
        self.loads = [each[on] for each, on in zip(self.loads, alive, strict=True)]
        for (one, two), fits in self.together.items():
            self.together[one, two] = fits[alive[one]][:, alive[two]]

    def alive(self, rows: Sequence[Row], upper: Sequence[int]) -> list[Flags] | None:
        """For each unit the ways that every row leaves room for, until no more fall out.

        The rows are about ways alone. None where a unit is left without any.
        """
        import numpy as np

        told = [self._row(row) for row in rows]
        limits = [each for each in told if each is not None]
        shut = np.array(upper, dtype=np.int64) <= 0
        alive = [np.logical_not(shut[each]) for each in self.columns]
        if not all(each.any() for each in alive):
            return None
        falling = True
        while falling:
            falling = False
            for costs, most in limits:
                for at, each in enumerate(alive):
                    best = self._best_company(at, costs, alive)
                    now = np.logical_and(each, best <= most)
                    if not now.any():
                        return None
                    if now.sum() < each.sum():
                        alive[at], falling = now, True
        return alive

    def _row(self, row: Row) -> tuple[list[Numbers], float] | None:
        """A row's upper limit with the costs of the ways, None where nothing can pass it."""
        import numpy as np

        _, most, terms = row
        costs = [
            np.array([terms.get(col, 0) for col in columns.tolist()], dtype=np.int64)
            for columns in self.columns
        ]
        if sum(int(each.max(initial=0)) for each in costs) <= most:
            return None
        return costs, most

    def _best_company(self, at: int, costs: Sequence[Numbers], alive: Sequence[Flags]) -> Numbers:
        """For each way of a unit its cost with the cheapest way of each other that goes with it."""
        import numpy as np

        total = costs[at].copy()
        for other, cost in enumerate(costs):
            if other == at:
                continue
            order = np.flatnonzero(alive[other])
            order = order[np.argsort(cost[order], kind="stable")]
            fits = self.together.get((at, other))
            if fits is None:
                total += cost[order[0]]
                continue
            if cost[order[0]] == cost[order[-1]]:
                found = fits[:, order].any(axis=1)
                total += np.where(found, cost[order[0]], NEVER)
                continue
            sorted_fits = fits[:, order]
            first = sorted_fits.argmax(axis=1)
            found = sorted_fits[np.arange(len(first)), first]
            total += np.where(found, cost[order[first]], NEVER)
        return total


NEVER = 1 << 50
"""The cost of a way that goes with nothing."""


def _loads(unit: Unit, lots: int) -> npt.NDArray[np.int32]:
    import numpy as np

    loads = np.zeros((len(unit.options), lots), dtype=np.int32)
    for nth, option in enumerate(unit.options):
        for lot, dg in option.loads:
            loads[nth, lot] = dg
    return loads
