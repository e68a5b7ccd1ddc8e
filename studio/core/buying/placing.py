"""Placing the orders of a plan: open purchases that cover their runs from then on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from studio.core.answers import REST, Cover, ProjectPlan, RunKind, RunPlan
from studio.core.buying.plan import SupplierOrder
from studio.core.edits.places import claimed, put_run, runs_of
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
        _tied(p, plans[p.key], bought, tied) if p.key in plans else p for p in studio.projects
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


def _tied(
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
