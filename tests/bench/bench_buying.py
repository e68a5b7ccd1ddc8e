"""How good and how fast the purchase plan is: `python -m tests.bench.bench_buying [studios]`.

A studio here: 60 shades of eight yarns to be bought, six suppliers who each stock most of them.
Prices differ by a few percent, breaks begin at 5 to 100 balls on the shade or over the whole yarn,
packs hold 1, 5 or 10 balls, orders have minimums, and shipping is flat, free from a sum, or by
weight. Three pieces in ten are so near that not every supplier comes in time.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from studio.core.buying.greedy import first_plan, person_plan
from studio.core.buying.model import BuyLimits, NoPurchaseError, Search
from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
    flat,
)
from studio.core.buying.problem import BuyProblem, Need
from studio.core.buying.question import purchase_problem
from studio.core.model import Fibre, Library, Shade, ShadeRef, Yarn

TODAY = date(2027, 1, 4)
CENT = Decimal("0.01")


def make_library(rng: random.Random, shades: int, yarns: int) -> Library:
    """Yarns of 50 or 100 g with their shades dealt evenly."""
    found = []
    for at in range(yarns):
        count = shades // yarns + (at < shades % yarns)
        codes = tuple(Shade(f"{n:02}", f"shade {n}", ("#888888",)) for n in range(count))
        grams = Decimal(rng.choice([50, 100]))
        fibre = (Fibre("wool", Decimal(100)),)
        found.append(Yarn(f"yarn-{at}", f"Yarn {at}", 4, fibre, grams, codes))
    return Library(yarns=tuple(found))


def make_shipping(rng: random.Random) -> Shipping:
    """Flat, free from a sum, or by weight; in euros."""
    kind = rng.choice(["flat", "free", "free", "weight", "both"])
    cost = Decimal(rng.choice([490, 590, 690, 790, 990])) * CENT
    free = Decimal(rng.choice([60, 75, 100, 150, 200, 250]))
    if kind == "flat":
        return flat(cost)
    if kind == "free":
        return flat(cost, free)
    tiers = (
        WeightTier(Decimal(2000), cost),
        WeightTier(Decimal(5000), cost + 3),
        WeightTier(None, cost + 8),
    )
    return Shipping(tiers, free * 2 if kind == "both" else None)


def make_offer(rng: random.Random, supplier: str, yarn: Yarn, base: Decimal) -> Offer:
    """One yarn at one supplier, a few percent about its base price, with up to three breaks."""
    price = (base * Decimal(rng.uniform(0.93, 1.09))).quantize(CENT)
    pack = rng.choice([1, 1, 1, 5, 10])
    starts = rng.choice([(), (10,), (10, 20), (10, 50), (5, 10, 20), (10, 30, 100)])
    breaks = [PriceBreak(1, price)]
    for at in starts:
        last = breaks[-1].price
        breaks.append(PriceBreak(at, (last * Decimal(rng.uniform(0.92, 0.98))).quantize(CENT)))
    codes = [s.code for s in yarn.shades]
    some = None if rng.random() < 0.6 else tuple(c for c in codes if rng.random() < 0.85)
    return Offer(
        supplier, yarn.key, tuple(breaks), pack, some or None, rng.choice(list(BreakScope))
    )


def make_studio(seed: int, shades: int = 60, suppliers: int = 6, yarns: int = 8) -> BuyProblem:
    """One purchase question from a seed."""
    rng = random.Random(seed)
    library = make_library(rng, shades, yarns)
    bases = {y.key: Decimal(rng.randint(280, 900)) * CENT for y in library.yarns}
    sellers, offers = [], []
    for at in range(suppliers):
        key = f"supplier-{at}"
        minimum = Decimal(rng.choice([0, 0, 0, 30, 50, 100]))
        lead = rng.choice([2, 3, 5, 7, 10, 14])
        sellers.append(Supplier(key, f"Supplier {at}", "EUR", lead, minimum, make_shipping(rng)))
        offers += [
            make_offer(rng, key, yarn, bases[yarn.key])
            for yarn in library.yarns
            if rng.random() < 0.75
        ]
    needs = []
    for yarn in library.yarns:
        for shade in yarn.shades:
            for piece in rng.sample(range(20), rng.choice([1, 1, 2, 3])):
                dg = rng.randint(3, 50) * int(yarn.ball_g)
                days = rng.choice([4, 8, 12]) if piece < 6 else 60
                runs = tuple(f"p{piece}/{at}" for at in range(rng.randint(1, 4)))
                by = TODAY + timedelta(days=days)
                needs.append(Need(ShadeRef(yarn.key, shade.code), f"p{piece}", dg, by, runs))
    return purchase_problem(needs, OfferBook(tuple(sellers), tuple(offers)), library, "EUR", TODAY)


@dataclass(frozen=True)
class Measured:
    """One studio: seconds of CPU to the first plan and to the end, gap after 10 s, saving."""

    first_s: float
    first_gap: float
    gap_10: float
    all_s: float
    proved: bool
    nodes: int
    saving: float
    person: int
    net: int


def measure(problem: BuyProblem, limit_s: float) -> Measured:
    """Solve one studio and say how it went; the gap after 10 s is read from the progress."""
    began = time.process_time()
    first = first_plan(problem)
    first_s = time.process_time() - began
    person = person_plan(problem)
    if first is None or person is None:
        raise NoPurchaseError
    early: list[tuple[int, float]] = []

    def heard(progress: object) -> bool:
        seconds, best, bound = (getattr(progress, n) for n in ("seconds", "best", "bound"))
        if seconds <= 10:
            early.append((best, bound))
        return True

    solved = Search(problem, BuyLimits(seconds=limit_s), heard, first).run()
    all_s = time.process_time() - began
    best, bound = early[-1]
    gap_10 = solved.gap if solved.seconds <= 10 else (best - bound) / best
    return Measured(
        first_s,
        first.net / solved.bought.net - 1,
        gap_10,
        all_s,
        solved.proved,
        solved.nodes,
        1 - solved.bought.net / person.net,
        person.net,
        solved.bought.net,
    )


def main() -> None:
    """Measure so many studios and print a table: 100 unless said."""
    studios = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    limit_s = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    rows = []
    print("seed  first s  first gap  gap 10 s  all s  nodes  proved  saving")
    for seed in range(studios):
        m = measure(make_studio(seed), limit_s)
        rows.append(m)
        print(
            f"{seed:4}  {m.first_s:7.3f}  {m.first_gap:9.4f}  {m.gap_10:8.5f}  {m.all_s:5.2f}  "
            f"{m.nodes:5}  {m.proved!s:6}  {m.saving:6.4f}",
            flush=True,
        )
    savings = sorted(m.saving for m in rows)
    print(f"first plan: worst {max(m.first_s for m in rows):.3f} s of CPU")
    print(f"first plan over the best: median {statistics.median(m.first_gap for m in rows):.4f}")
    print(f"within 1 % after 10 s: {sum(m.gap_10 <= 0.01 for m in rows)} of {studios}")
    print(f"proved within {limit_s:.0f} s: {sum(m.proved for m in rows)} of {studios}")
    print(
        f"all: median {statistics.median(m.all_s for m in rows):.2f} s, "
        f"worst {max(m.all_s for m in rows):.2f} s of CPU"
    )
    print(
        f"saving over the careful person: median {statistics.median(savings):.4f}, "
        f"lowest {savings[0]:.4f}, highest {savings[-1]:.4f}, dearer {sum(s < 0 for s in savings)}"
    )


if __name__ == "__main__":
    main()
