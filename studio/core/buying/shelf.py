"""The shades she always keeps: their use a year, and the shelf against the reorder point.

Use is what finished pieces took: as it was noted, else the expected use. A staple is ordered where
a year of it costs least; an order costs the shipping of its parcel and what she states for it.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal
from typing import Protocol

from studio.core import say
from studio.core.answers import Cover, Finding, LotState, ProjectPlan, Weight
from studio.core.buying.offers import Offer, OfferBook, Supplier, stocked, usable
from studio.core.buying.staples import (
    OrderCost,
    OrderSize,
    Standing,
    TooLittle,
    Use,
    YearlyUse,
    best_order_size,
    reorder_point,
    uses_of,
    yearly_use,
)
from studio.core.findings.yarn import REORDER
from studio.core.frozen import dataclass
from studio.core.model import Library, LotRef, Project, ShadeRef, Stage, Studio
from studio.core.runs import RunDemand
from studio.core.shades import ORDER_PREFIX
from studio.core.trade_model import StapleRules


class Demanded(Protocol):
    """What a piece asks for."""

    @property
    def runs(self) -> tuple[RunDemand, ...]:
        """All its runs."""
        ...

    @property
    def covered(self) -> Mapping[str, float]:
        """Expected grams that are noted as used, by run key."""
        ...


@dataclass(frozen=True, slots=True)
class StapleLine:
    """One staple: its use or why none is told, its shelf, and where it is best ordered.

    `trouble` says why there is no standing where the use is known.
    """

    shade: ShadeRef
    name: str
    use: YearlyUse | TooLittle
    standing: Standing | None = None
    supplier: str = ""
    trouble: str = ""
    parcel: str = ""
    """Where the order size is too small for its supplier, or near what ships free: in words."""

    @property
    def due(self) -> bool:
        """Whether it is time to reorder."""
        return self.standing is not None and self.standing.due


def marked(library: Library) -> tuple[ShadeRef, ...]:
    """The shades that she marked as staples."""
    return tuple(ShadeRef(y.key, s.code) for y in library.yarns for s in y.shades if s.staple)


FINISHED = (Stage.IN_STOCK, Stage.DELIVERED)
"""Stages in which a piece has taken its yarn for good."""


def finished_on(project: Project) -> date | None:
    """The day a piece was finished: first in stock or delivered as noted, else its due date."""
    if project.stage not in FINISHED:
        return None
    noted = [r.on for r in project.reached if r.stage in FINISHED]
    return noted[0] if noted else project.due


def taken_g(project: Project, demand: Demanded) -> Mapping[ShadeRef, float]:
    """Grams of each shade that a finished piece took.

    What was noted of a shade is what its rows used; rows that no note covers count with what they
    are expected to have used.
    """
    found: dict[ShadeRef, float] = {}
    for run in demand.runs:
        left = max(0.0, run.whole_mean_g - demand.covered.get(run.ref.key, 0.0))
        found[run.shade] = found.get(run.shade, 0.0) + left
    for note in project.used:
        found[note.shade_ref] = found.get(note.shade_ref, 0.0) + float(note.grams)
    return found


def staple_uses(
    studio: Studio, refs: Iterable[ShadeRef], demands: Mapping[str, Demanded]
) -> Mapping[ShadeRef, tuple[Use, ...]]:
    """What each finished piece took of each staple."""
    finished = [
        (on, taken_g(p, demands[p.key]))
        for p in studio.projects
        if p.key in demands and (on := finished_on(p)) is not None
    ]
    return {ref: uses_of(ref, studio.library.yarn[ref.yarn].ball_g, finished) for ref in refs}


def shelf_of(
    studio: Studio,
    uses: Mapping[ShadeRef, tuple[Use, ...]],
    lots: Mapping[LotRef, LotState],
    plans: Mapping[str, ProjectPlan],
    today: date,
    book: OfferBook | None = None,
) -> tuple[StapleLine, ...]:
    """Every staple against its reorder point; `book` is what can be bought from, if it is known."""
    if not uses:
        return ()
    rules = studio.trade.staples
    if book is None:
        book = _usable_of(studio)
    taken = _taken_from_orders(plans, frozenset(uses))
    lines = []
    for ref, found in uses.items():
        name = studio.library.called(ref)
        use = yearly_use(found, today)
        if isinstance(use, TooLittle):
            lines.append(StapleLine(ref, name, use))
            continue
        best = _best_offer(use, ref, book, studio)
        if best is None:
            lines.append(StapleLine(ref, name, use, trouble=f"No supplier stocks {name}."))
            continue
        supplier, size = best
        ball_g = studio.library.yarn[ref.yarn].ball_g
        free = sum((s.free_g for s in lots.values() if _in_house(s.ref, ref)), Decimal(0)) / ball_g
        coming = sum(
            n.balls for p in studio.stash.purchases for n in p.lines if (n.yarn, n.shade) == ref
        )
        ordered = max(0, int(coming - taken.get(ref, Decimal(0)) / ball_g))
        point = reorder_point(
            use, supplier.lead_days or 0, supplier.seen_days, float(rules.service)
        )
        standing = Standing(max(free, Decimal(0)), ordered, point, size)
        told = parcel_words(supplier, size.balls, size.price, studio.settings.currency, ball_g)
        lines.append(StapleLine(ref, name, use, standing, supplier.name, parcel=told))
    return tuple(lines)


def _usable_of(studio: Studio) -> OfferBook:
    """Her suppliers and offers without what is faulty."""
    book = OfferBook(studio.suppliers, studio.offers)
    return usable(book, studio.library, studio.settings.currency)


def _in_house(lot: LotRef, ref: ShadeRef) -> bool:
    """Whether it is a lot of the shade; what is on order is counted by itself."""
    return lot[:2] == ref and not lot.code.startswith(ORDER_PREFIX)


@dataclass(frozen=True)
class Shelf:
    """The staples as they stand; `ground` is what their use was told from.

    `book` is what can be bought from, of what is in `sold`.
    """

    ground: tuple[object, ...]
    uses: Mapping[ShadeRef, tuple[Use, ...]]
    lines: tuple[StapleLine, ...]
    sold: tuple[object, ...] = ()
    book: OfferBook = field(default_factory=OfferBook)


def shelf_now(
    kept: Shelf | None,
    studio: Studio,
    demands: Mapping[str, Demanded],
    lots: Mapping[LotRef, LotState],
    plans: Mapping[str, ProjectPlan],
    today: date,
) -> Shelf:
    """The staples now.

    Their use is told anew only where a finished piece changed, and the offers are looked through
    only where one of them did: no key should wait for either.
    """
    refs = marked(studio.library)
    if not refs:
        return Shelf((), {}, ())
    ground: list[object] = [studio.library]
    for project in studio.projects:
        if project.stage in FINISHED and project.key in demands:
            ground += (project, demands[project.key])
    sold = (studio.library, studio.settings, studio.suppliers, studio.offers)
    if kept is not None and _same(kept.ground, ground):
        uses = kept.uses
    else:
        uses = staple_uses(studio, refs, demands)
    book = kept.book if kept is not None and _same(kept.sold, sold) else _usable_of(studio)
    lines = shelf_of(studio, uses, lots, plans, today, book)
    return Shelf(tuple(ground), uses, lines, sold, book)


def _same(before: Sequence[object], now: Sequence[object]) -> bool:
    """Whether they are the very same objects."""
    return len(before) == len(now) and all(a is b for a, b in zip(before, now, strict=True))


def _taken_from_orders(
    plans: Mapping[str, ProjectPlan], refs: frozenset[ShadeRef]
) -> dict[ShadeRef, Decimal]:
    """Grams on order that runs wait for already, by shade."""
    taken: dict[ShadeRef, Decimal] = {}
    for run in itertools.chain.from_iterable(p.runs for p in plans.values()):
        if run.shade in refs and run.cover in (Cover.ORDER, Cover.LATE):
            taken[run.shade] = taken.get(run.shade, Decimal(0)) + run.need_g
    return taken


def _best_offer(
    use: YearlyUse, ref: ShadeRef, book: OfferBook, studio: Studio
) -> tuple[Supplier, OrderSize] | None:
    """Where a year of a shade costs least, and how much to order there at once."""
    suppliers, rules = {s.key: s for s in book.suppliers}, studio.trade.staples
    ball_g = studio.library.yarn[ref.yarn].ball_g
    found = [
        (suppliers[offer.supplier], _size(use, offer, suppliers[offer.supplier], rules, ball_g))
        for offer in book.offers
        if ref in stocked(offer, studio.library)
    ]
    return min(found, key=lambda f: (f[1].year, f[0].key), default=None)


def _size(
    use: YearlyUse, offer: Offer, supplier: Supplier, rules: StapleRules, ball_g: Decimal
) -> OrderSize:
    cost = OrderCost(rules.order_cost, supplier.shipping, ball_g)
    return best_order_size(use.balls, cost, rules.holding, offer.breaks, offer.pack)


def parcel_words(
    supplier: Supplier, balls: int, price: Decimal, currency: str, ball_g: Decimal = Decimal(0)
) -> str:
    """Where so many balls are no order of their own, or lack little of shipping free; or nothing.

    Little is no more than the parcel would cost.
    """
    goods = balls * price
    if goods < supplier.minimum:
        more = say.money(supplier.minimum - goods, currency)
        return (
            f"Below the minimum of {say.money(supplier.minimum, currency)} at {supplier.name}: "
            f"order {more} more, or together with what else is wanted from there."
        )
    free, cost = supplier.shipping.free_from, supplier.shipping.cost(goods, balls * ball_g)
    if free is not None and 0 < free - goods <= cost:
        return (
            f"{say.money(free - goods, currency)} more would ship free at {supplier.name}, which "
            f"saves {say.money(cost, currency)}."
        )
    return ""


def staple_findings(lines: Iterable[StapleLine]) -> tuple[Finding, ...]:
    """'Time to reorder ...', for each staple that has reached its reorder point."""
    return tuple(
        Finding(REORDER, Weight.CAUTION, n.standing.text(n.name), shade=n.shade)
        for n in lines
        if n.standing is not None and n.standing.due
    )


def with_staple(studio: Studio, ref: ShadeRef, *, staple: bool) -> Studio:
    """The studio with a shade marked as always kept, or no longer."""
    yarns = tuple(
        replace(
            y,
            shades=tuple(replace(s, staple=staple) if s.code == ref.shade else s for s in y.shades),
        )
        if y.key == ref.yarn
        else y
        for y in studio.library.yarns
    )
    return replace(studio, library=replace(studio.library, yarns=yarns))
