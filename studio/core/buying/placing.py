"""Placing the orders of a plan: open purchases that cover their runs from then on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from studio.core.answers import Cover, ProjectPlan, RunKind
from studio.core.buying.plan import SupplierOrder
from studio.core.edits.places import claimed, put_run, runs_of
from studio.core.model import Claim, ClaimKind, OrderLine, Project, Purchase, Stash, Studio


@dataclass(frozen=True, slots=True)
class Placed:
    """The studio with the orders on their way, the purchases' keys, and runs left untied.

    A run that is begun or pinned keeps its lot, and one that mixes lots is tied only where all that
    is left of it was bought: what was ordered for such runs comes, but they do not point to it.
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
    """The project with the runs that were bought for tied to their purchase."""
    left: dict[tuple[RunKind, int], list[str]] = {}
    begun: set[tuple[RunKind, int]] = set()
    for run in plan.runs:
        if run.cover is not Cover.DONE:
            place = (run.ref.kind, run.ref.index)
            left.setdefault(place, []).append(run.ref.key)
            if run.begun:
                begun.add(place)
    for kind, index, run_there in runs_of(project):
        parts = left.get((kind, index), [])
        found = {bought.get(key) for key in parts}
        order = found.pop() if len(found) == 1 else None
        claim = run_there.claim
        keeps = claim is not None and (claim.kind is not ClaimKind.HOLD or (kind, index) in begun)
        if order is None or keeps:
            continue
        project = put_run(project, index, claimed(run_there, Claim(ClaimKind.ORDER, order)))
        tied.update(parts)
    return project
