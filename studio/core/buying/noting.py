"""Orders made outside the app: whom their yarn is for, and who goes short when one is changed.

Yarn on order covers the runs it was bought for like a held lot, so a noted order is tied to the
runs that are short, as a placed one is. What no longer fits a changed order is short again.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.answers import Cover, ProjectPlan, RunKind, RunPlan, RunRef, StudioPlan
from studio.core.buying.handing import Passing, claims_passed, units_on
from studio.core.buying.offers import Offer, costed, named_supplier, stocked
from studio.core.buying.parcel import need_dg_of
from studio.core.buying.placing import tied_to
from studio.core.edits.places import run_places, shade_name
from studio.core.edits.purchases import add_line, note_order, set_line, the_purchase
from studio.core.frozen import dataclass
from studio.core.headline import money_figure
from studio.core.model import HOLDING, LotRule, OrderLine, Purchase, ShadeRef, Stage, Studio
from studio.core.shades import choosing_order, lot_rule

Plans = Mapping[str, ProjectPlan]

WAITS = (Cover.ORDER, Cover.LATE)


class Whom(StrEnum):
    """Whose runs wait for what is on order, as far as they are short."""

    BOOKED = "booked"
    QUOTED = "quoted"
    IDEAS = "ideas"
    SHELF = "shelf"
    """Nobody's: it is for the shelf."""


STAGES: Mapping[Whom, frozenset[Stage]] = {
    Whom.BOOKED: HOLDING,
    Whom.QUOTED: HOLDING | {Stage.QUOTED},
    Whom.IDEAS: HOLDING | {Stage.QUOTED, Stage.IDEA},
    Whom.SHELF: frozenset(),
}


# Edits


def noted(studio: Studio, new: Purchase, whom: Whom, plans: Plans) -> Studio:
    """An order noted, with the runs that are short tied to it."""
    after = note_order(studio, new)
    (made,) = after.stash.purchases[len(studio.stash.purchases) :]
    for ref in dict.fromkeys(ShadeRef(n.yarn, n.shade) for n in made.lines):
        after = fitted(after, made.key, ref, whom, plans)
    return after


def line_added(studio: Studio, key: str, line: OrderLine, whom: Whom, plans: Plans) -> Studio:
    """One more line on an order, with the runs that are short tied to it."""
    after = add_line(studio, key, line)
    return fitted(after, key, ShadeRef(line.yarn, line.shade), whom, plans)


def line_changed(
    studio: Studio, key: str, at: int, line: OrderLine, whom: Whom, plans: Plans
) -> Studio:
    """A line corrected: who waits for it stays as far as it lasts, and others may join."""
    after = set_line(studio, key, at, line)
    return fitted(after, key, ShadeRef(line.yarn, line.shade), whom, plans)


def fitted(studio: Studio, key: str, ref: ShadeRef, whom: Whom, plans: Plans) -> Studio:
    """The studio with as many runs tied to a shade of an order as it has yarn for.

    Those that are tied already come first, in choosing order, then those that are short; whoever
    does not fit whole is free again. `plans` are from before the order was changed.
    """
    purchase, stages = the_purchase(studio, key), STAGES[whom]
    balls = sum(n.balls for n in purchase.lines if (n.yarn, n.shade) == ref)
    room = math.floor(balls * studio.library.yarn[ref.yarn].ball_g * 10)
    needs = need_dg_of(plans)
    freed: dict[tuple[ShadeRef, RunRef], tuple[Passing, str | None]] = {}
    for unit in units_on(studio, key, ref, needs):
        stage = studio.project[unit.project].stage
        if not stage.needs_yarn:
            continue
        if stage in stages and unit.dg <= room:
            room -= unit.dg
        else:
            freed.update({(ref, run): (Passing.SHORT, None) for run in unit.runs})
    if freed:
        studio = claims_passed(studio, key, freed)
    bought: dict[str, str] = {}
    for runs in _short_runs(studio, ref, stages, plans):
        if any(r.lot == key for r in runs):
            continue
        dg = sum(int((r.lacks_g or r.need_g) * 10) for r in runs)
        if 0 < dg <= room:
            room -= dg
            bought.update({r.ref.key: key for r in runs})
    pieces = {RunRef.of_key(run).project for run in bought}
    projects = tuple(
        tied_to(p, plans[p.key], bought, set()) if p.key in pieces else p for p in studio.projects
    )
    return replace(studio, projects=projects) if bought else studio


def _short_runs(
    studio: Studio, ref: ShadeRef, stages: frozenset[Stage], plans: Plans
) -> list[list[RunPlan]]:
    """Runs that lack yarn of a shade, in choosing order; those that go to one lot together."""
    found: list[list[RunPlan]] = []
    for piece in choosing_order(studio.projects):
        plan = plans.get(piece.key)
        if piece.stage not in stages or plan is None:
            continue
        groups: dict[str, list[RunPlan]] = {}
        for run in plan.runs:
            if run.shade != ref or run.cover is not Cover.SHORT:
                continue
            slot = piece.slot(run.slot)
            one = slot is not None and lot_rule(piece, slot, studio.settings) is LotRule.ONE
            alone = run.lot is not None or piece.mix or not one
            groups.setdefault(run.ref.key if alone else f"slot {run.slot}", []).append(run)
        found += groups.values()
    return found


# What a change means


def tied_pieces(studio: Studio, key: str, ref: ShadeRef) -> tuple[str, ...]:
    """The pieces that wait for a shade of an order, in choosing order."""
    tied = dict.fromkeys(u.project for u in units_on(studio, key, ref, {}))
    return tuple(p for p in tied if studio.project[p].stage.needs_yarn)


def waited_for(studio: Studio, key: str, ref: ShadeRef) -> Whom:
    """Whom a line is for, by the stages of the pieces that are tied to it."""
    tied = {studio.project[piece].stage for piece in tied_pieces(studio, key, ref)}
    if not tied:
        return Whom.SHELF
    return next(w for w in (Whom.BOOKED, Whom.QUOTED, Whom.IDEAS) if tied <= STAGES[w])


@dataclass(frozen=True, slots=True)
class Means:
    """What a change of an order would mean for those who wait for it, sentence by sentence."""

    losses: tuple[str, ...]
    promise: bool
    """Whether a booked piece loses."""


def means(before: StudioPlan, after: StudioPlan, key: str, then: Studio, now: Studio) -> Means:
    """What becomes of the runs that waited for an order; `then` is the studio after the change."""
    losses: list[str] = []
    promise = False
    for piece in choosing_order(now.projects):
        old, new = before.projects.get(piece.key), after.projects.get(piece.key)
        if old is None or new is None:
            continue
        groups: dict[str, list[tuple[RunKind, int]]] = {}
        for run in old.runs:
            if run.lot == key and run.cover in WAITS:
                words = _loss(run, new, key, then)
                place = (run.ref.kind, run.ref.index)
                if words and place not in groups.setdefault(words, []):
                    groups[words].append(place)
        losses += [f"{piece.name}: {run_places(p)} would {w}." for w, p in groups.items()]
        promise = promise or (bool(groups) and piece.stage.holds)
    return Means(tuple(losses), promise)


def _loss(run: RunPlan, plan: ProjectPlan, key: str, studio: Studio) -> str:
    """What a run that waited loses; nothing where it waits as before."""
    place = (run.ref.kind, run.ref.index)
    runs = [r for r in plan.runs if (r.ref.kind, r.ref.index) == place]
    runs = [r for r in runs if r.ref.part == run.ref.part] or runs
    name = shade_name(studio, run.shade)
    if any(r.cover is Cover.SHORT for r in runs):
        return f"be short of {name} again"
    late = next((r for r in runs if r.cover is Cover.LATE), None)
    due = studio.project[plan.key].due
    if late is not None and run.cover is Cover.ORDER and due is not None:
        there = studio.stash.purchase[late.lot or key].arrives
        return f"wait for {name} until {say.date(there)}, too late for {say.date(due)}"
    lots = sorted({r.lot or "" for r in runs if r.cover is Cover.STASH})
    return f"be worked from lot {say.either(lots, 'and')} of {name}" if lots else ""


# What is proposed


@dataclass(frozen=True, slots=True)
class Wanted:
    """A shade that may be ordered: what booked pieces lack of it, and what a ball costs there."""

    ref: ShadeRef
    short_balls: int
    price: Decimal | None


def wanted_shades(studio: Studio, plan: StudioPlan, supplier: str) -> tuple[Wanted, ...]:
    """Every shade: what booked pieces are short of first, then what the supplier sells."""
    short = {s.shade: s.held_balls for s in plan.shortfalls if s.held_balls}
    sold = _sold_there(studio, supplier)
    made = [
        Wanted(ref, short.get(ref, 0), _price_of(sold.get(ref, ()), short.get(ref, 1)))
        for ref in studio.library.shade
    ]
    return tuple(sorted(made, key=lambda w: (not w.short_balls, w.price is None)))


def price_there(studio: Studio, supplier: str, ref: ShadeRef, balls: int) -> Decimal | None:
    """What so many balls cost each at a supplier, by their offers in her money, if any."""
    return _price_of(_sold_there(studio, supplier).get(ref, ()), balls)


def _sold_there(studio: Studio, supplier: str) -> Mapping[ShadeRef, Sequence[tuple[int, Offer]]]:
    """A supplier's offers with their places, by shade; none where other money is asked."""
    known = named_supplier(studio.suppliers, supplier)
    sold: dict[ShadeRef, list[tuple[int, Offer]]] = {}
    if known is None or known.currency != studio.settings.currency:
        return sold
    for at, offer in enumerate(studio.offers):
        if offer.supplier == known.key:
            for ref in stocked(offer, studio.library):
                sold.setdefault(ref, []).append((at, offer))
    return sold


def _price_of(offers: Iterable[tuple[int, Offer]], balls: int) -> Decimal | None:
    found = (costed(offer, at, balls) for at, offer in offers)
    return min((c[2] for c in found if c is not None), default=None)


def arrival_from(studio: Studio, supplier: str, ordered: date) -> date | None:
    """When an order should be there by what the supplier says; None where nothing is said."""
    known = named_supplier(studio.suppliers, supplier)
    if known is None or known.lead_days is None:
        return None
    return ordered + timedelta(days=known.lead_days)


def line_words(line: OrderLine, currency: str) -> str:
    """'3 balls at 7.40: 22.20 EUR'."""
    if line.price is None:
        return f"{say.balls(line.balls)}, price not known"
    whole = say.money(line.price * line.balls, currency)
    return f"{say.balls(line.balls)} at {money_figure(line.price, currency)}: {whole}"
