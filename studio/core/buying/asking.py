"""From the open studio to the purchase question, and a first answer to show at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from studio.core.answers import ProjectPlan
from studio.core.buying.decide import purchase_plan, quick_plan
from studio.core.buying.greedy import first_plan
from studio.core.buying.model import NoPurchaseError
from studio.core.buying.offers import OfferBook, problems_of, said
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import HELD, Chosen, StapleWorth, latest_arrival
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import YearlyUse
from studio.core.buying.together import Questions, Wanted
from studio.core.calendar import NoHoursError
from studio.core.frozen import dataclass
from studio.core.model import Project, ShadeRef, Stage, Studio
from studio.core.need_by import need_by
from studio.core.prices import replacement
from studio.core.shades import ShadeOutcome, choosing_order


def book_of(studio: Studio) -> OfferBook:
    """Suppliers and offers as the studio states them."""
    return OfferBook(studio.suppliers, studio.offers)


def staple_worth(studio: Studio, lines: Iterable[StapleLine]) -> Mapping[ShadeRef, StapleWorth]:
    """What surplus of a staple is worth: today's price, for as many balls as a year uses up."""
    worth = {}
    for line in lines:
        price = replacement(studio.library, studio.stash, line.shade).per_g
        if isinstance(line.use, YearlyUse) and price is not None:
            ball = price * studio.library.yarn[line.shade.yarn].ball_g
            worth[line.shade] = StapleWorth(ball, int(line.use.balls))
    return worth


def wanted_of(
    studio: Studio,
    outcomes: Mapping[ShadeRef, ShadeOutcome],
    plans: Mapping[str, ProjectPlan],
    today: date,
    chosen: Chosen = HELD,
    staples: Mapping[ShadeRef, StapleWorth] | None = None,
) -> Wanted:
    """Everything the purchase rests on, for the chosen pieces.

    Where the week has no hours, nothing can be said of latest starts: yarn may then come until the
    day before a piece is due.
    """
    takes = [p.key for p in studio.projects if p.stage.needs_yarn and chosen.takes(p.key, p.stage)]
    try:
        last = need_by(studio, plans, today, takes)
    except NoHoursError:
        last = {}
    return Wanted(
        outcomes=tuple(outcomes[ref] for ref in sorted(outcomes)),
        projects=studio.project,
        book=book_of(studio),
        library=studio.library,
        settings=studio.settings,
        today=today,
        chosen=chosen,
        need_by=last,
        staples=staples,
    )


@dataclass(frozen=True, slots=True)
class PieceAsked:
    """A piece that still needs yarn: whether it is bought for, the balls it lacks, and by when."""

    key: str
    name: str
    stage: Stage
    covered: bool
    balls: int
    by: date | None


def pieces_asked(wanted: Wanted, plans: Mapping[str, ProjectPlan]) -> tuple[PieceAsked, ...]:
    """Every piece that needs yarn, those that choose first coming first."""
    return tuple(
        PieceAsked(
            piece.key,
            piece.name,
            piece.stage,
            wanted.chosen.takes(piece.key, piece.stage),
            sum(s.buy_balls for s in plans[piece.key].shades),
            latest_arrival(piece, wanted.need_by or {}),
        )
        for piece in choosing_order(wanted.projects.values())
        if piece.key in plans
    )


WIDER = (Stage.QUOTED, Stage.IDEA)
"""Stages that may be bought for beside what is booked, in this order."""


def wider(chosen: Chosen) -> Chosen:
    """Bought for one more stage: quotes, then ideas."""
    stages = chosen.stages if not chosen.projects else HELD.stages
    more = next((stage for stage in WIDER if stage not in stages), None)
    return Chosen(stages=stages | {more} if more else stages)


def narrower(chosen: Chosen) -> Chosen:
    """Bought for one stage less, down to what is booked."""
    stages = chosen.stages if not chosen.projects else HELD.stages
    less = next((stage for stage in reversed(WIDER) if stage in stages), None)
    return Chosen(stages=stages - {less} if less else HELD.stages)


def toggled(chosen: Chosen, key: str, projects: Mapping[str, Project]) -> Chosen:
    """The same choice with one piece more, or without it."""
    covered = {
        p.key for p in projects.values() if p.stage.needs_yarn and chosen.takes(p.key, p.stage)
    }
    return Chosen(frozenset(covered ^ {key}), frozenset())


def named(
    projects: Iterable[str], stages: Iterable[Stage], pieces: Mapping[str, Project]
) -> Chosen:
    """Bought for the pieces of these keys and all pieces in these stages; for HELD without any."""
    keys, stages = frozenset(projects), frozenset(stages)
    if not keys:
        return Chosen(stages=stages) if stages else HELD
    return Chosen(keys | {p.key for p in pieces.values() if p.stage in stages})


def at_once(asked: Questions) -> PurchasePlan:
    """The first plan, in milliseconds; `NoPurchaseError` where no order reaches its minimum."""
    problem = asked.opened
    if not problem.shades:
        return purchase_plan(problem)
    found = first_plan(problem)
    if found is None:
        raise NoPurchaseError
    return quick_plan(problem, found)


def book_troubles(studio: Studio) -> Iterable[str]:
    """What is wrong with suppliers and offers, each once."""
    return said(problems_of(book_of(studio), studio.library, studio.settings.currency))
