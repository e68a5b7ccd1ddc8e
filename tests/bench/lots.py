"""How fast and how well the lots are assigned: `python -m tests.bench.lots` prints the tables.

The large studio: 200 projects, of which 40 hold yarn; 5,000 lots over 800 shades; twelve staple
shades with 30 lots and 60 to 100 runs each. Stripes of a piece take few distinct row counts, so
needs repeat within a piece; held pieces have most of their runs promised already.
"""

from __future__ import annotations

import random
from datetime import date, timedelta

from studio.core.lots.problem import Fixed, Lot, Piece, Run, ShadeProblem

BALL_DG = 1000


def make_lots(rng: random.Random, count: int, most_balls: int) -> list[Lot]:
    """Lots as a stash has them: whole balls, sometimes a part ball, dates over six years."""
    lots = []
    for at in range(count):
        balls = rng.randint(1, most_balls)
        part = rng.randrange(150, 900) if rng.random() < 0.3 else 0
        if part and rng.random() < 0.4:
            balls = rng.randint(0, 1)
        bought = date(2020, 1, 1) + timedelta(days=rng.randrange(2200))
        lots.append(
            Lot(
                code=f"{rng.randrange(100, 999)}-{at:02}",
                free_dg=balls * BALL_DG + part,
                part_dg=part,
                whole=not part,
                bought=bought if rng.random() < 0.9 else None,
            )
        )
    return lots


def row_dg(rng: random.Random) -> int:
    """What one row of a piece takes, in dg; every piece has its own width and gauge."""
    return rng.randint(45, 140)


def make_piece(
    rng: random.Random, key: str, runs: int, together: bool, rows: tuple[int, ...]
) -> Piece:
    """A piece with that many runs in one or two slots of the shade."""
    per_row = row_dg(rng)
    kinds = rng.sample(rows, k=min(len(rows), rng.randint(1, 3)))
    groups = ["A"] if rng.random() < 0.8 else ["A", "B"]
    listed = []
    for at in range(runs):
        group = f"{key}/{rng.choice(groups)}"
        listed.append(Run(f"{key}#{at}", group, rng.choice(kinds) * per_row))
    names = frozenset(run.group for run in listed) if together else frozenset()
    return Piece(key, False, tuple(listed), names)


def hold_some(
    rng: random.Random, pieces: list[Piece], lots: list[Lot], share: float
) -> list[Piece]:
    """Promise lots to the runs of held pieces, as a studio that has planned before has done."""
    room = {lot.code: lot.free_dg for lot in lots}
    held = []
    for piece in pieces:
        runs = []
        lot = None
        for run in piece.runs:
            if rng.random() > share:
                runs.append(run)
                continue
            if lot is None or room[lot] < run.need_dg:
                fits = [code for code in room if room[code] >= run.need_dg]
                if not fits:
                    runs.append(run)
                    continue
                lot = rng.choice(fits)
            room[lot] -= run.need_dg
            fixed = Fixed.BEGUN if rng.random() < 0.2 else Fixed.HOLD
            runs.append(Run(run.key, run.group, run.need_dg, fixed, lot))
        held.append(Piece(piece.key, True, tuple(runs), frozenset()))
    return held


def shade_of(rng: random.Random, lots: list[Lot], pieces: list[Piece], held: int) -> ShadeProblem:
    """The shade's question, with the first so many pieces holding yarn."""
    promised = hold_some(rng, pieces[:held], lots, 0.85)
    return ShadeProblem(BALL_DG, tuple(lots), (*promised, *pieces[held:]))


def staple(seed: int, open_share: float = 0.67) -> ShadeProblem:
    """A shade with 30 lots and 60 to 100 runs over 10 to 20 pieces."""
    rng = random.Random(seed)
    lots = make_lots(rng, 30, 8)
    runs = rng.randint(60, 100)
    count = rng.randint(10, 20)
    sizes = [runs // count + (at < runs % count) for at in range(count)]
    rows = (2, 4, 6, 8, 10, 12, 18)
    pieces = [
        make_piece(rng, f"p{seed}-{at:02}", size, rng.random() < 0.4, rows)
        for at, size in enumerate(sizes)
    ]
    return shade_of(rng, lots, pieces, round(count * (1 - open_share)))


def plain(seed: int, lots: int) -> ShadeProblem:
    """One of the many other shades: about six lots, up to a dozen runs of up to four pieces."""
    rng = random.Random(seed)
    stash = make_lots(rng, lots, 6)
    rows = (2, 4, 6, 8, 18)
    pieces = [
        make_piece(rng, f"q{seed}-{at}", rng.randint(1, 6), rng.random() < 0.4, rows)
        for at in range(rng.choice([0, 0, 1, 1, 1, 2, 2, 3, 4]))
    ]
    return shade_of(rng, stash, pieces, sum(rng.random() < 0.33 for _ in pieces))


def large_studio() -> list[ShadeProblem]:
    """800 shades over 5,000 lots, twelve of them staples."""
    staples = [staple(seed) for seed in range(12)]
    left = 5_000 - 12 * 30
    rest = 800 - 12
    counts = [left // rest + (at < left % rest) for at in range(rest)]
    return staples + [plain(1_000 + at, count) for at, count in enumerate(counts)]


def plain_solves(problems: list[ShadeProblem], rounds: int = 5) -> list[float]:
    """Seconds of CPU that an edit takes for each plain shade with a choice, the least of rounds."""
    import time

    from studio.core.lots.frame import build_frame
    from studio.core.lots.solve import quick_answer

    times = []
    for problem in problems:
        if not build_frame(problem).movable or not quick_answer(problem)[1]:
            continue
        tries = []
        for _ in range(rounds):
            started = time.process_time()
            quick_answer(problem)
            tries.append(time.process_time() - started)
        times.append(min(tries))
    return sorted(times)


def main() -> None:
    """Solve the large studio with two workers and print what the goals ask for."""
    import time

    from studio.core.lots.judge import value_key
    from studio.core.lots.solve import greedy_answer, solve_shade
    from studio.solving import SolverProcess
    from studio.solving_here import quieten

    problems = large_studio()
    answers: dict[int, object] = {}
    solver = SolverProcess()
    started = time.perf_counter()
    solver.solve_many(problems, answers.__setitem__)
    whole = time.perf_counter() - started
    solver.close()
    quieten()
    rows = []
    for problem in problems:
        started = time.process_time()
        answer = solve_shade(problem)
        rows.append((time.process_time() - started, problem, answer))
    gaps = [gap.gap for _, _, answer in rows for gap in answer.gaps]
    worse = sum(value_key(a.value) > value_key(greedy_answer(p).value) for _, p, a in rows)
    better = sum(value_key(a.value) < value_key(greedy_answer(p).value) for _, p, a in rows)
    proved = sum(answer.proved for _, _, answer in rows)
    same = sum(answers[at] == answer for at, (_, _, answer) in enumerate(rows))
    quick = plain_solves(problems)
    print(f"shades                       {len(rows)}")
    print(f"plain with a choice          {len(quick)}")
    print(f"plain shade, median          {quick[len(quick) // 2] * 1000:.2f} ms")
    print(f"plain shade, 95 %            {quick[len(quick) * 95 // 100] * 1000:.2f} ms")
    print(f"cold, two workers            {whole:.1f} s")
    print(f"proved                       {proved / len(rows):.1%}")
    print(f"slowest shade                {max(row[0] for row in rows):.2f} s")
    print(f"over 2 s                     {sum(row[0] > 2 for row in rows)}")
    print(f"largest gap                  {max(gaps, default=0):.1%}")
    print(f"worse than the greedy        {worse}")
    print(f"better than the greedy       {better}")
    print(f"same in child and here       {same}")
    print(f"stopped by the clock         {sum(answer.stopped for _, _, answer in rows)}")


if __name__ == "__main__":
    main()
