"""From the purchase question to the whole plan: at once from the first plan, then proved."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from studio.core.buying.beside import near_breaks, one_supplier_costs, runner_up
from studio.core.buying.greedy import Bought
from studio.core.buying.model import BuyLimits, GoOn, Solved, solve_purchase
from studio.core.buying.plan import PurchasePlan, plan_of
from studio.core.buying.problem import BuyProblem

SIDE_NODES = 2_000
"""Nodes for the runner-up and for each single supplier: they are asides."""


def quick_plan(problem: BuyProblem, bought: Bought) -> PurchasePlan:
    """A plan to show at once while the search goes on; its gap is not known and so 1."""
    return plan_of(problem, bought, proved=False, gap=1.0, stopped=False)


def purchase_plan(
    problem: BuyProblem,
    limits: BuyLimits | None = None,
    go_on: GoOn = lambda _: True,
    start: Bought | None = None,
) -> PurchasePlan:
    """The cheapest purchase with everything that is shown beside it.

    Cancelling by `go_on` leaves out what has not been worked out yet.
    """
    if not problem.shades:
        return PurchasePlan(problem.late, problem.not_sold, (), Decimal(0), True, 0.0, False, None)
    limits = limits or BuyLimits()
    best = solve_purchase(problem, limits, go_on, start)
    plan = plan_of(problem, best.bought, proved=best.proved, gap=best.gap, stopped=best.stopped)
    if best.stopped:
        return plan
    aside = BuyLimits(SIDE_NODES, max(1.0, limits.seconds - best.seconds))
    return _with_others(plan, problem, best, aside, go_on)


def _with_others(
    plan: PurchasePlan, problem: BuyProblem, best: Solved, limits: BuyLimits, go_on: GoOn
) -> PurchasePlan:
    return replace(
        plan,
        runner_up=runner_up(problem, best.bought, limits, go_on),
        singles=one_supplier_costs(problem, best.bought, limits, go_on),
        near=near_breaks(problem, best.bought),
    )
