"""From the open studio to the purchase question, and a first answer to show at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from studio.core.answers import ProjectPlan
from studio.core.buying.decide import quick_plan
from studio.core.buying.greedy import first_plan
from studio.core.buying.model import NoPurchaseError
from studio.core.buying.offers import OfferBook, problems_of, said
from studio.core.buying.plan import PurchasePlan
from studio.core.buying.question import HELD, Chosen, StapleWorth
from studio.core.buying.together import Questions, Wanted
from studio.core.calendar import NoHoursError
from studio.core.model import ShadeRef, Studio
from studio.core.need_by import need_by
from studio.core.shades import ShadeOutcome


def book_of(studio: Studio) -> OfferBook:
    """Suppliers and offers as the studio states them."""
    return OfferBook(studio.suppliers, studio.offers)


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


def at_once(asked: Questions) -> PurchasePlan:
    """The first plan, in milliseconds; `NoPurchaseError` where no order reaches its minimum."""
    problem = asked.opened
    found = first_plan(problem)
    if found is None:
        raise NoPurchaseError
    return quick_plan(problem, found)


def book_troubles(studio: Studio) -> Iterable[str]:
    """What is wrong with suppliers and offers, each once."""
    return said(problems_of(book_of(studio), studio.library, studio.settings.currency))
