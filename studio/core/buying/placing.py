"""Placing the orders of a plan: open purchases that cover their runs from then on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core.answers import REST, Cover, ProjectPlan, RunKind, RunPlan, RunRef
from studio.core.buying.plan import SupplierOrder
from studio.core.buying.together import HoldOffer
from studio.core.edits.places import claimed, put_project, put_run, refuse, runs_of
from studio.core.frozen import dataclass
from studio.core.lots.problem import BUY
from studio.core.model import Claim, ClaimKind, OrderLine, Project, Purchase, Stash, Studio


@dataclass(frozen=True, slots=True)
class Placed:
    """The studio with the orders on their way, the purchases' keys, and runs left untied.

    A run that is begun or pinned keeps its lot, and what that lacks is tied to the order. Untied is
    only what waits for two orders at once: it comes, but the run does not point to it.
    """

    studio: Studio
    purchases: tuple[str, ...]
    untied: tuple[str, ...]


def place_orders(
    studio: Studio,
    orders: Iterable[SupplierOrder],
    plans: Mapping[str, ProjectPlan],
    today: date,
) -> Placed:
    """The studio with one open purchase for each order, and its runs tied to it."""
    keys: list[str] = []
    purchases = list(studio.stash.purchases)
    bought: dict[str, str] = {}
    for order in orders:
        key = _new_key(f"{order.supplier}-{today.isoformat()}", {p.key for p in purchases})
        keys.append(key)
        purchases.append(_purchase(order, key, today))
        for line in order.lines:
            for part in line.needs:
                bought.update(dict.fromkeys(part.need.runs, key))
    tied: set[str] = set()
    projects = tuple(
        tied_to(p, plans[p.key], bought, tied) if p.key in plans else p for p in studio.projects
    )
    return Placed(
        replace(studio, stash=Stash(studio.stash.lots, tuple(purchases)), projects=projects),
        tuple(keys),
        tuple(run for run in bought if run not in tied),
    )


def _purchase(order: SupplierOrder, key: str, today: date) -> Purchase:
    lines = tuple(
        OrderLine(n.shade.yarn, n.shade.shade, n.balls, n.ball_price) for n in order.lines
    )
    return Purchase(key, order.supplier, order.arrives, lines, ordered=today)


def _new_key(wanted: str, taken: set[str]) -> str:
    key, at = wanted, 1
    while key in taken:
        at += 1
        key = f"{wanted}-{at}"
    return key


def tied_to(
    project: Project, plan: ProjectPlan, bought: Mapping[str, str], tied: set[str]
) -> Project:
    """The project with what was bought for it tied to its purchases."""
    left: dict[tuple[RunKind, int], list[RunPlan]] = {}
    for run in plan.runs:
        if run.cover is not Cover.DONE:
            left.setdefault((run.ref.kind, run.ref.index), []).append(run)
    for kind, index, run_there in runs_of(project):
        parts = left.get((kind, index), [])
        mine = [r for r in parts if r.ref.key in bought]
        orders = {bought[r.ref.key] for r in mine}
        if len(orders) != 1:
            continue
        claim = _claim_on(orders.pop(), run_there.claim, parts, mine)
        if claim is not None:
            project = put_run(project, index, claimed(run_there, claim))
            tied.update(r.ref.key for r in mine)
    return project


def _claim_on(
    order: str, now: Claim | None, parts: Sequence[RunPlan], mine: Sequence[RunPlan]
) -> Claim | None:
    """A run's claim when these of its parts were bought in an order; None where it has no place.

    What stays with a lot that lacks some keeps it, and what it lacks is the rest. All that is left
    of a run goes over to the order whole, and row pairs of it by their numbers.
    """
    lacks_g = sum((r.lacks_g for r in mine), Decimal(0))
    whole = [r for r in mine if not r.lacks_g]
    if whole and now is not None and now.kind is not ClaimKind.HOLD and _has(now, whole):
        return None
    if len(whole) == len(parts):
        return Claim(ClaimKind.ORDER, order)
    old = None if now is None else now.rest
    if now is not None and old is not None:
        again = {r.ref.part for r in parts if r.ref.part == REST or r.ref.part in old.pairs}
        if lacks_g or again != {r.ref.part for r in whole}:
            return None
        return replace(now, rest=replace(old, kind=ClaimKind.ORDER, on=order))
    pairs = tuple(r.ref.part or 1 for r in whole)
    if now is None:
        return Claim(ClaimKind.ORDER, order, pairs)
    return replace(now, rest=Claim(ClaimKind.ORDER, order, pairs, lacks_g or None))


def _has(claim: Claim, runs: Sequence[RunPlan]) -> bool:
    """Whether a tie that is never traded has any of these already."""
    return not claim.pairs or any((r.ref.part or 1) in claim.pairs for r in runs)


def take_offer(
    studio: Studio, offer: HoldOffer, plans: Mapping[str, ProjectPlan], today: date
) -> Placed:
    """The holds moved as offered and the orders of that plan placed, in one edit.

    Both at once, so that no promise is without yarn in between. Refused where a hold is no longer
    as it was when the offer was worked out, or would be spread over more than two lots.
    """
    for key, now, _ in offer.moves:
        run = RunRef.of_key(key)
        piece = studio.project.get(run.project)
        claim = None if piece is None else _claim_at(piece, run)
        if claim is None or claim.kind is not ClaimKind.HOLD or claim.on != now:
            refuse("The holds are not as they were when this was worked out: look at it anew.")
    done = place_orders(studio, offer.plan.orders, plans, today)
    after = done.studio
    for place, moves in _holds_after(studio, offer, plans).items():
        piece = after.project[place.project]
        (run_there,) = (
            r for kind, at, r in runs_of(piece) if (kind, at) == (place.kind, place.index)
        )
        if run_there.claim is not None and run_there.claim.kind is ClaimKind.HOLD:
            left = _parts_left(plans[place.project], place)
            held = claimed(run_there, _held_as_moved(run_there.claim, moves, left))
            after = put_project(after, put_run(piece, place.index, held))
    return replace(done, studio=after)


def _claim_at(piece: Project, run: RunRef) -> Claim | None:
    found = (r.claim for kind, at, r in runs_of(piece) if (kind, at) == (run.kind, run.index))
    return next(found, None)


def _holds_after(
    studio: Studio, offer: HoldOffer, plans: Mapping[str, ProjectPlan]
) -> dict[RunRef, dict[int, str]]:
    """By held run, the other lot that parts of it are worked from in the plan of the offer.

    Holds that had to leave their lot before are among them: the plan counts on where they went.
    """
    then = {key: lot for key, _, lot in offer.plan.moves}
    shades = {r.shade for p in plans.values() for r in p.runs if r.ref.key in then}
    found: dict[RunRef, dict[int, str]] = {}
    for key, plan in plans.items():
        for run in plan.runs:
            lot = then.get(run.ref.key, run.lot if run.cover is Cover.STASH else BUY)
            if run.shade not in shades or run.claim is not ClaimKind.HOLD or lot in (None, BUY):
                continue
            claim = _claim_at(studio.project[key], run.ref)
            if claim is not None and claim.on != lot and claim.rest is None:
                place = replace(run.ref, part=0)
                found.setdefault(place, {})[run.ref.part or 1] = str(lot)
    return found


def _parts_left(plan: ProjectPlan, place: RunRef) -> set[int]:
    return {
        r.ref.part or 1
        for r in plan.runs
        if replace(r.ref, part=0) == place and r.cover is not Cover.DONE
    }


def _held_as_moved(claim: Claim, moves: Mapping[int, str], left: set[int]) -> Claim:
    """A hold whose parts move to another lot: all that its first lot still had, or row pairs."""
    lots = set(moves.values())
    stays = left - set(moves) - set(claim.rest.pairs if claim.rest else ())
    if len(lots) > 1 or (stays and claim.rest is not None):
        refuse("A run would be spread over more than two lots: move its holds by hand.")
    (lot,) = lots
    if not stays:
        return replace(claim, on=lot)
    return replace(claim, rest=Claim(ClaimKind.HOLD, lot, tuple(sorted(moves))))
