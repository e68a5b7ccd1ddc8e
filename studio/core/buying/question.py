"""From shortfalls and offers to the purchase question, with what cannot be had said first.

Needs carry the risk rule's grams already, so nothing is added here. Needs of one shade for which
the same offers come in time are bought together: one dye lot, and one rounding to whole balls.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import date, timedelta
from decimal import Decimal

from studio.core import say
from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    Supplier,
    problems_of,
    stocked,
    usable,
)
from studio.core.buying.problem import (
    NO_POOL,
    Alternative,
    BuyProblem,
    Group,
    Late,
    Need,
    NotSold,
    ShadeNeed,
    Source,
    Terms,
    Tier,
)
from studio.core.frozen import dataclass
from studio.core.lots.problem import BUY
from studio.core.model import Library, Project, ShadeRef, Stage
from studio.core.money import unit
from studio.core.shades import ShadeOutcome

MOST_GROUPS = 4
"""More groups than this in one shade are joined, those that press most first."""


@dataclass(frozen=True, slots=True)
class StapleWorth:
    """What a surplus ball of a staple is worth to her, and how many she would use up."""

    ball: Decimal
    balls: int


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is bought for: all booked pieces unless projects or stages are named."""

    projects: frozenset[str] = frozenset()
    stages: frozenset[Stage] = frozenset({Stage.BOOKED, Stage.MAKING, Stage.FINISHING})

    def takes(self, key: str, stage: Stage) -> bool:
        """Whether a project is bought for."""
        return key in self.projects if self.projects else stage in self.stages


HELD = Chosen()


def latest_arrival(project: Project, need_by: Mapping[str, date]) -> date | None:
    """The last day on which yarn for it may come: as planned, else the day before it is due."""
    planned = need_by.get(project.key)
    if planned is not None or project.due is None:
        return planned
    return project.due - timedelta(days=1)


def needs_of(
    outcomes: Iterable[ShadeOutcome],
    projects: Mapping[str, Project],
    chosen: Chosen = HELD,
    need_by: Mapping[str, date] | None = None,
) -> tuple[Need, ...]:
    """What the chosen pieces lack, by shade, in the order in which they choose lots."""
    found = []
    for outcome in outcomes:
        for share in outcome.shares:
            asks = share.buy_dg + share.lacking_dg
            if not asks or not chosen.takes(share.project, share.stage):
                continue
            piece = next(p for p in outcome.problem.pieces if p.key == share.project)
            runs = tuple(
                r.key for r in piece.runs if outcome.lot_of[r.key] == BUY or r.key in outcome.short
            )
            last = latest_arrival(projects[share.project], need_by or {})
            found.append(Need(outcome.ref, share.project, asks, last, runs))
    return tuple(found)


@dataclass(slots=True)
class _Market:
    """Sources, pools and terms as they are counted up from the offers of the wanted shades."""

    sources: list[Source] = field(default_factory=list)
    pools: list[tuple[Tier, ...]] = field(default_factory=list)
    of_shade: dict[int, list[int]] = field(default_factory=dict)


def _tiers(offer: Offer, smallest: Decimal) -> tuple[Tier, ...]:
    """Breaks in packs; where two begin at the same pack the better one holds."""
    tiers: dict[int, int] = {}
    for step in sorted(offer.breaks, key=lambda s: s.from_balls):
        tiers[-(-step.from_balls // offer.pack)] = int(step.price / smallest) * offer.pack
    kept: list[Tier] = []
    for packs, price in tiers.items():
        if not kept or price < kept[-1].price:
            kept.append(Tier(packs, price))
    return tuple(kept)


def _market(
    book: OfferBook, library: Library, shades: Sequence[ShadeRef], currency: str
) -> _Market:
    market = _Market()
    numbers = {ref: at for at, ref in enumerate(shades)}
    suppliers = {s.key: at for at, s in enumerate(book.suppliers)}
    for at, offer in enumerate(book.offers):
        wanted = [numbers[ref] for ref in stocked(offer, library) if ref in numbers]
        if not wanted:
            continue
        tiers = _tiers(offer, unit(currency))
        pool = NO_POOL
        # A pool of one shade is a break on the shade, which needs no columns of its own; nor does
        # one price for any number. One that is asked from some balls on counts all shades too.
        counts = len(tiers) > 1 or tiers[0].from_packs > 1
        if offer.scope is BreakScope.YARN and counts and len(wanted) > 1:
            pool = len(market.pools)
            market.pools.append(tiers)
        for shade in dict.fromkeys(wanted):
            market.of_shade.setdefault(shade, []).append(len(market.sources))
            market.sources.append(
                Source(
                    shade,
                    suppliers[offer.supplier],
                    at,
                    offer.pack,
                    tiers if pool == NO_POOL else (),
                    pool,
                )
            )
    return market


def _terms(supplier: Supplier, currency: str, today: date) -> Terms:
    smallest = unit(currency)
    shipping = supplier.shipping
    return Terms(
        key=supplier.key,
        name=supplier.name,
        arrives=today + timedelta(days=supplier.lead_days or 0),
        minimum=int(supplier.minimum / smallest),
        shipping=tuple(
            (None if t.up_to_g is None else int(t.up_to_g * 10), int(t.cost / smallest))
            for t in shipping.tiers
        ),
        free_from=None if shipping.free_from is None else int(shipping.free_from / smallest),
    )


def not_sold_text(ref: ShadeRef, library: Library, book: OfferBook, currency: str) -> str:
    """Why nobody can supply a shade, and what can be done: `book` with what is faulty in it."""
    yarn = library.yarn.get(ref.yarn)
    shade = yarn.shade(ref.shade) if yarn else None
    name = f"{yarn.name if yarn else ref.yarn} {shade.name if shade else ref.shade}"
    if (yarn and yarn.discontinued) or (shade and shade.discontinued):
        return f"{name} is no longer made and no supplier has any left: choose another shade."
    if fault := _fault_at(ref, library, book, currency):
        return f"{name} cannot be bought as the offers stand. {fault}"
    if not book.offers:
        return (
            f"There are no offers yet, so {name} cannot be bought: add a supplier and its prices."
        )
    return f"No supplier stocks {name}: add an offer of it, or choose another shade."


def _fault_at(ref: ShadeRef, library: Library, book: OfferBook, currency: str) -> str:
    """What is wrong with the first supplier or offer that has a shade; '' where nobody has it."""
    has = {at: o.supplier for at, o in enumerate(book.offers) if ref in stocked(o, library)}
    for problem in problems_of(book, library, currency):
        if problem.offer in has or (problem.offer is None and problem.supplier in has.values()):
            return problem.text
    return ""


def _grouped(needs: Sequence[tuple[Need, tuple[int, ...]]]) -> tuple[Group, ...]:
    """Needs with the same sources together, the most pressing first, at most `MOST_GROUPS`.

    Sources in time shrink as a need presses more, so joining two leaves the smaller set.
    """
    sets: dict[tuple[int, ...], list[Need]] = {}
    for need, sources in needs:
        sets.setdefault(sources, []).append(need)
    ordered = sorted(sets.items(), key=lambda item: (len(item[0]), item[0]))
    while len(ordered) > MOST_GROUPS:
        (tight, first), (_, second) = ordered[:2]
        ordered = [(tight, first + second), *ordered[2:]]
    return tuple(Group(sum(n.dg for n in group), tuple(group), s) for s, group in ordered)


def purchase_problem(
    needs: Sequence[Need],
    book: OfferBook,
    library: Library,
    currency: str,
    today: date,
    staples: Mapping[ShadeRef, StapleWorth] | None = None,
) -> BuyProblem:
    """The question for one set of needs; faulty offers are left out."""
    options: dict[ShadeRef, list[Need]] = {}
    for need in needs:
        options.setdefault(need.shade, []).append(need)
    return purchase_of_options(
        {ref: [(tuple(found), ())] for ref, found in options.items()},
        book,
        library,
        currency,
        today,
        staples,
    )


Moves = tuple[tuple[str, str, str], ...]
Ways = Mapping[ShadeRef, Sequence[tuple[tuple[Need, ...], Moves]]]
"""For each shade the ways to leave it short: what must be bought, and the runs that move."""


def purchase_of_options(
    ways: Ways,
    book: OfferBook,
    library: Library,
    currency: str,
    today: date,
    staples: Mapping[ShadeRef, StapleWorth] | None = None,
) -> BuyProblem:
    """The question where a shade may be left short in several ways.

    A way that needs what cannot be had in time, or at all, stands only where its shade has no way
    that avoids it: being late is no saving.
    """
    whole, book = book, usable(book, library, currency)
    refs = sorted(ways)
    market = _market(book, library, refs, currency)
    terms = tuple(_terms(s, currency, today) for s in book.suppliers)
    shades: list[ShadeNeed] = []
    late: list[Late] = []
    not_sold: list[NotSold] = []
    kept = {ref for at, ref in enumerate(refs) if market.of_shade.get(at)}
    for ref in refs:
        if ref not in kept:
            text = not_sold_text(ref, library, whole, currency)
            not_sold += [NotSold(need, text) for need in ways[ref][0][0]]
    order = [ref for ref in refs if ref in kept]
    market = _market(book, library, order, currency)
    for at, ref in enumerate(order):
        placed = [_placed(needs, market.of_shade[at], market, terms) for needs, _ in ways[ref]]
        lateness = [_lateness(lates) for _, lates in placed]
        best = min(lateness)
        fit = [i for i, value in enumerate(lateness) if value == best]
        late += placed[fit[0]][1]
        alternatives = tuple(Alternative(placed[i][0], ways[ref][i][1]) for i in fit)
        worth, balls = _worth((staples or {}).get(ref), market, at, currency)
        ball_dg = int(library.yarn[ref.yarn].ball_g * 10)
        shades.append(ShadeNeed(ref, ball_dg, alternatives, worth, balls))
    return BuyProblem(
        currency,
        terms,
        tuple(shades),
        tuple(market.sources),
        tuple(market.pools),
        tuple(late),
        tuple(not_sold),
    )


def _lateness(lates: Sequence[Late]) -> tuple[int, int]:
    return len({n.need.project for n in lates}), sum(n.days for n in lates)


def _placed(
    needs: Sequence[Need], sources: Sequence[int], market: _Market, terms: Sequence[Terms]
) -> tuple[tuple[Group, ...], list[Late]]:
    """The groups of one way, and the needs that nobody delivers in time."""
    arrives = {k: terms[market.sources[k].supplier].arrives for k in sources}
    first = min(arrives.values())
    found: list[tuple[Need, tuple[int, ...]]] = []
    late: list[Late] = []
    for need in needs:
        in_time = tuple(k for k in sources if need.need_by is None or arrives[k] <= need.need_by)
        if not in_time and need.need_by is not None:
            late.append(Late(need, first, (first - need.need_by).days))
            in_time = tuple(k for k in sources if arrives[k] == first)
        found.append((need, in_time))
    return _grouped(found), late


def _worth(
    staple: StapleWorth | None, market: _Market, shade: int, currency: str
) -> tuple[int, int]:
    """The worth of a surplus ball in minor units, never over what it costs at its cheapest.

    A worth over the price would make the plan buy for the sake of buying.
    """
    if staple is None or staple.balls < 1:
        return 0, 0
    prices = []
    for k in market.of_shade[shade]:
        source = market.sources[k]
        tiers = source.tiers if source.pool == NO_POOL else market.pools[source.pool]
        prices.append(tiers[-1].price // source.pack)
    return min(int(staple.ball / unit(currency)), *prices), staple.balls


def late_text(late: Late, piece: str, shade: str, supplier: str) -> str:
    """'River wrap waits for Harbour 12 from Northlight: earliest 4 Mar 2027, 5 days late.'"""
    return (
        f"{piece} waits for {shade}, which {supplier} delivers on {say.date(late.arrives)} "
        f"at the earliest: {say.count(late.days, 'day')} late."
    )
