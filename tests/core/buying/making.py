"""Invented offers and small purchase questions for the tests, and a search of every basket."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal

from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
)
from studio.core.buying.problem import Basket, BuyProblem, Need, cost_of, required_packs
from studio.core.buying.question import StapleWorth, purchase_problem
from studio.core.model import Fibre, Library, Shade, ShadeRef, Yarn

D = Decimal
TODAY = date(2027, 3, 1)


def yarn(key: str = "wool", shades: int = 3, ball_g: int = 50, **more: object) -> Yarn:
    codes = tuple(Shade(f"{n}", f"Shade {n}", ("#777777",)) for n in range(1, shades + 1))
    base = Yarn(key, key.title(), 4, (Fibre("wool", D(100)),), D(ball_g), codes)
    return Yarn(**{**{f: getattr(base, f) for f in base.__dataclass_fields__}, **more})


def steps(*pairs: tuple[int, str]) -> tuple[PriceBreak, ...]:
    return tuple(PriceBreak(start, D(price)) for start, price in pairs)


def seller(
    key: str, lead: int = 3, minimum: str = "0", shipping: Shipping | None = None
) -> Supplier:
    return Supplier(key, key.title(), "EUR", lead, D(minimum), shipping or Shipping())


def need(shade: str, balls: str, project: str = "throw", days: int | None = None) -> Need:
    """So many balls of 50 g, needed so many days from today."""
    by = None if days is None else TODAY + timedelta(days=days)
    return Need(ShadeRef("wool", shade), project, int(D(balls) * 500), by, (f"{project}/{shade}",))


def asked(
    needs: list[Need],
    suppliers: list[Supplier],
    offers: list[Offer],
    library: Library | None = None,
    staples: dict[ShadeRef, StapleWorth] | None = None,
) -> BuyProblem:
    return purchase_problem(
        needs,
        OfferBook(tuple(suppliers), tuple(offers)),
        library or Library(yarns=(yarn(),)),
        "EUR",
        TODAY,
        staples,
    )


def random_question(rng: random.Random) -> BuyProblem:
    """A question small enough to look at every basket, with a bit of everything in it."""
    library = Library(yarns=(yarn("wool", 2), yarn("silk", 1, 100)))
    suppliers, offers = [], []
    for at in range(rng.randint(2, 3)):
        key = f"s{at}"
        cost = D(rng.choice([0, 3, 5, 9]))
        tiers: tuple[WeightTier, ...] = (WeightTier(None, cost),)
        if rng.random() < 0.4:
            tiers = (WeightTier(D(rng.choice([150, 300])), cost), WeightTier(None, cost + 4))
        free = D(rng.choice([10, 20, 30, 45])) if rng.random() < 0.5 else None
        minimum = rng.choice(["0", "0", "12", "25"])
        suppliers.append(seller(key, rng.choice([2, 6]), minimum, Shipping(tiers, free)))
        for made in library.yarns:
            if rng.random() < 0.2:
                continue
            price = rng.randint(300, 700)
            start = 1 if rng.random() < 0.8 else 3
            breaks = [PriceBreak(start, D(price) / 100)]
            for more in range(rng.randint(0, 2)):
                price -= rng.randint(10, 150)
                breaks.append(PriceBreak(start + rng.choice([2, 3, 4]) + 5 * more, D(price) / 100))
            scope = rng.choice(list(BreakScope))
            offers.append(
                Offer(key, made.key, tuple(breaks), rng.choice([1, 1, 2, 3]), None, scope)
            )
    needs = []
    for made in library.yarns:
        for shade in made.shades:
            for piece in range(rng.choice([0, 1, 1, 2])):
                by = TODAY + timedelta(days=rng.choice([1, 4, 9]))
                dg = rng.randint(1, 40) * 50
                needs.append(Need(ShadeRef(made.key, shade.code), f"p{piece}", dg, by, ("r",)))
    staples = {}
    if rng.random() < 0.4:
        staples[ShadeRef("wool", "1")] = StapleWorth(D(rng.randint(100, 400)) / 100, 3)
    return purchase_problem(
        needs, OfferBook(tuple(suppliers), tuple(offers)), library, "EUR", TODAY, staples
    )


def every_place(
    problem: BuyProblem,
) -> Iterator[tuple[tuple[int, ...], tuple[tuple[int, ...], ...]]]:
    """Every choice of ways and sources."""
    ways = [range(len(s.alternatives)) for s in problem.shades]
    for alternative in itertools.product(*ways):
        options = [
            list(itertools.product(*(g.sources for g in s.alternatives[a].groups)))
            for s, a in zip(problem.shades, alternative, strict=True)
        ]
        for places in itertools.product(*options):
            yield alternative, places


def cheapest_by_hand(problem: BuyProblem, most_more: int = 9) -> int | None:
    """The least net cost over every basket with up to so many packs beyond need per source.

    Baskets are pruned by nothing but the count of packs, so that this shares no reasoning with
    what it checks; it only leaves out packs of what nobody asked for.
    """
    best: int | None = None
    for alternative, places in every_place(problem):
        least = required_packs(problem, alternative, places)
        used = [k for k, count in enumerate(least) if count]
        for more in itertools.product(range(most_more + 1), repeat=len(used)):
            packs = list(least)
            for k, count in zip(used, more, strict=True):
                packs[k] += count
            cost = cost_of(problem, Basket(alternative, places, tuple(packs)))
            if cost is not None and (best is None or cost.net < best):
                best = cost.net
    return best
