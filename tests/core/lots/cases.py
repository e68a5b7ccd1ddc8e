"""Small problems from a seed, made so that a careful person's way often misses the best."""

from __future__ import annotations

import random
from datetime import date

from studio.core.lots.problem import BUY, Fixed, Lot, Piece, Run, ShadeProblem

DAYS = (date(2024, 1, 1), date(2024, 9, 1), date(2025, 1, 1), date(2025, 6, 1), None)


def _lot(rng: random.Random, code: str, unit: int, most: int) -> Lot:
    free = rng.randint(1, most) * unit + rng.choice([0, 0, 1, 5, unit // 2])
    part = rng.choice([0, 1, 1]) * min(free, rng.randint(unit // 2, 2 * unit))
    arrives = date(2026, 1, 1) if rng.random() < 0.1 else None
    return Lot(code, free, part, not part and rng.random() < 0.7, rng.choice(DAYS), arrives)


def _tie(rng: random.Random, lots: list[Lot], holds: float) -> tuple[Fixed, str] | None:
    chance = rng.random()
    ordered = [lot.code for lot in lots if lot.arrives]
    if chance < holds:
        odd = rng.random()
        if odd < 0.04:
            return Fixed.HOLD, rng.choice([BUY, "Z"])
        return Fixed.HOLD, rng.choice(lots).code
    if chance < holds + 0.07:
        return rng.choice([Fixed.BEGUN, Fixed.PIN]), rng.choice(lots).code
    if chance < holds + 0.12 and ordered:
        return Fixed.ORDER, rng.choice(ordered)
    return None


def small_case(seed: int) -> ShadeProblem:
    """4 to 7 runs over 3 to 5 lots: holds, pins, begun runs, part balls, orders, both lot rules."""
    rng = random.Random(seed)
    unit = rng.choice([10, 30, 7, 12])
    most = rng.choice([4, 5, 7])
    lots = [_lot(rng, code, unit, most) for code in "ABCDE"[: rng.choice([3, 3, 4, 4, 5])]]
    count = rng.choice([4, 5, 6, 7, 7, 7] if len(lots) < 5 else [5, 6, 6])
    pieces = rng.choice([2, 2, 3])
    holds = rng.choice([0.0, 0.0, 0.0, 0.08, 0.25])
    needs = [rng.randint(unit // 2, 2 * unit) for _ in range(rng.randint(2, 3))]
    runs: list[list[Run]] = [[] for _ in range(pieces)]
    together: list[set[str]] = [set() for _ in range(pieces)]
    for at in range(count):
        piece = rng.randrange(pieces)
        group = rng.choice("xxxxy")
        need = 0 if rng.random() < 0.03 else rng.choice(needs)
        tie = _tie(rng, lots, holds)
        runs[piece].append(Run(f"r{at}", group, need, *(tie or (None, None))))
        if rng.random() < 0.07:
            together[piece].add(group)
    rng.shuffle(lots)
    listed = [
        Piece(f"p{at}", rng.random() < 0.6, tuple(each), frozenset(together[at]))
        for at, each in enumerate(runs)
        if each
    ]
    return ShadeProblem(2 * unit, tuple(lots), tuple(listed))
