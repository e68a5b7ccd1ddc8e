"""Lots and purchases thought of together: what is bought, and which lots that leaves to whom.

The plan may move runs that are neither begun nor held where that is cheaper in total. Moves of
holds are worked out apart and only offered, with what they would save.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from studio.core.buying.decide import purchase_plan
from studio.core.buying.greedy import Bought
from studio.core.buying.model import BuyLimits, GoOn, solve_purchase
from studio.core.buying.offers import OfferBook
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.problem import BuyProblem
from studio.core.buying.question import HELD, Chosen, StapleWorth, purchase_of_options
from studio.core.buying.ways import Ways, ways_of
from studio.core.frozen import dataclass
from studio.core.lots.judge import held, settled
from studio.core.model import Library, Project, Settings, ShadeRef
from studio.core.money import unit
from studio.core.shades import ShadeOutcome


@dataclass(frozen=True, slots=True)
class HoldOffer:
    """Holds that could move, (run, lot now, lot then), what that saves, and the plan it makes."""

    moves: tuple[tuple[str, str, str], ...]
    saves: Decimal
    plan: PurchasePlan


@dataclass(frozen=True, slots=True)
class Together:
    """The plan, what it saves against the lots as they stand, and moves of holds as an offer.

    `complete` where every way to leave the shades short was looked at; `unmoved` is the landed
    cost of a purchase that leaves every lot where it is, None where none was worked out.
    """

    plan: PurchasePlan
    saves: Decimal
    offer: HoldOffer | None
    complete: bool
    unmoved: Decimal | None = None


def as_offered(found: Together) -> Together | None:
    """The purchase as it is where the offered holds move; None where no move is offered."""
    offer = found.offer
    if offer is None:
        return None
    return Together(offer.plan, found.saves + offer.saves, offer, found.complete, found.unmoved)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Everything the purchase rests on."""

    outcomes: tuple[ShadeOutcome, ...]
    projects: Mapping[str, Project]
    book: OfferBook
    library: Library
    settings: Settings
    today: date
    chosen: Chosen = HELD
    need_by: Mapping[str, date] | None = None
    staples: Mapping[ShadeRef, StapleWorth] | None = None


def question_of(wanted: Wanted, found: Mapping[ShadeRef, Ways]) -> BuyProblem:
    """The purchase question over all ways of all shades that are short."""
    ways = {
        ref: [(w.needs, w.moves) for w in every.ways]
        for ref, every in found.items()
        if every.ways[0].needs
    }
    return purchase_of_options(
        ways,
        wanted.book,
        wanted.library,
        wanted.settings.currency,
        wanted.today,
        wanted.staples,
    )


def all_ways(
    wanted: Wanted, *, move_holds: bool, outcomes: Iterable[ShadeOutcome] | None = None
) -> dict[ShadeRef, Ways]:
    """The ways of every shade; `outcomes` narrows the shades."""
    return {
        outcome.ref: ways_of(
            outcome, wanted.projects, wanted.chosen, wanted.need_by, move_holds=move_holds
        )
        for outcome in (wanted.outcomes if outcomes is None else outcomes)
    }


@dataclass(frozen=True, slots=True)
class Questions:
    """The purchase three times over, as plain data that a child process can be sent.

    `stands` leaves every lot where it is, `opened` may move open runs, `holds` also held ones;
    `held` are those. `holds` is None where no hold could move.
    """

    stands: BuyProblem
    opened: BuyProblem
    holds: BuyProblem | None
    held: frozenset[str]
    complete: bool


def questions_of(wanted: Wanted) -> Questions:
    """State the questions; no solver is needed for that."""
    opened = all_ways(wanted, move_holds=False)
    stands = {ref: Ways(every.ways[:1]) for ref, every in opened.items()}
    holding = [o for o in wanted.outcomes if opened[o.ref].ways[0].needs and _has_holds(o)]
    holds = None
    if holding:
        every = {**opened, **all_ways(wanted, move_holds=True, outcomes=holding)}
        holds = question_of(wanted, every)
    return Questions(
        question_of(wanted, stands),
        question_of(wanted, opened),
        holds,
        frozenset(
            r.key
            for o in holding
            for p in o.problem.pieces
            for r in p.runs
            # One that had to leave its lot already is no promise that could be moved.
            if held(r) and o.lot_of[r.key] == r.lot
        ),
        all(every.complete for every in opened.values()),
    )


def buy_together(
    asked: Questions, limits: BuyLimits | None = None, go_on: GoOn = lambda _: True
) -> Together:
    """The cheapest purchase with lots chosen along with it, and what moving holds would save.

    `saves` is below nought where lots moved to spare a delay that money would not.
    """
    if not asked.stands.shades:
        plan = purchase_plan(asked.stands, limits, go_on)
        return Together(plan, Decimal(0), None, asked.complete)
    first = solve_purchase(asked.stands, limits, go_on)
    plan = purchase_plan(asked.opened, limits, go_on, _carried(asked, first.bought))
    smallest = unit(asked.stands.currency)
    cost = first.bought.cost
    before = cost.paid * smallest
    offer = None if plan.stopped else _offer(asked, plan, limits, go_on)
    return Together(plan, before - plan.net, offer, asked.complete, cost.landed * smallest)


def _carried(asked: Questions, bought: Bought) -> Bought | None:
    """The plan without moves as a start for the question with them, where its sources agree.

    They do not where leaving a shade short in another way spares a delay.
    """
    stands, opened = asked.stands, asked.opened
    same = stands.sources == opened.sources and all(
        a.alternatives[0] == b.alternatives[0]
        for a, b in zip(stands.shades, opened.shades, strict=True)
    )
    return bought if same else None


def _offer(
    asked: Questions, plan: PurchasePlan, limits: BuyLimits | None, go_on: GoOn
) -> HoldOffer | None:
    """Moves of holds that save, None where none do."""
    if asked.holds is None:
        return None
    found = purchase_plan(asked.holds, limits, go_on)
    saves = plan.net - found.net
    moves = tuple(move for move in found.moves if move[0] in asked.held)
    if not moves or (saves <= 0 and _lateness(found) >= _lateness(plan)):
        return None
    return HoldOffer(moves, saves, found)


def _lateness(plan: PurchasePlan) -> tuple[int, int]:
    return len({n.need.project for n in plan.late}), sum(n.days for n in plan.late)


def _has_holds(outcome: ShadeOutcome) -> bool:
    return any(held(r) and not settled(r) for p in outcome.problem.pieces for r in p.runs)
