"""The order book: every piece with its stage, dates, money and place on the calendar."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core.answers import ProjectPlan
from studio.core.calendar import Axis, Laid, LatestStart, Schedule, latest_starts, schedule
from studio.core.frozen import dataclass
from studio.core.headline import customer_name
from studio.core.model import Project, Stage, Studio
from studio.core.payments import agreed_deposit, agreed_total, credit, to_come, to_give_back
from studio.core.trade_model import StageDate
from studio.core.workload import booked_jobs

_NOUGHT = Decimal(0)


class Section(StrEnum):
    """The parts of the book, in the order in which they stand."""

    HELD = "promised and in hand"
    QUOTES = "quotes"
    STOCK = "in stock"
    DONE = "delivered"
    OVER = "declined and cancelled"


_SECTIONS = {
    Stage.BOOKED: Section.HELD,
    Stage.MAKING: Section.HELD,
    Stage.FINISHING: Section.HELD,
    Stage.QUOTED: Section.QUOTES,
    Stage.IN_STOCK: Section.STOCK,
    Stage.DELIVERED: Section.DONE,
    Stage.DECLINED: Section.OVER,
    Stage.CANCELLED: Section.OVER,
}


@dataclass(frozen=True, slots=True)
class Row:
    """One piece in the book. Money None where nothing is agreed; days below nought are slack.

    `received` is what counts for whoever has it now, `to_give_back` what is still held of a sale
    that came to nothing. `from_stock` marks a piece that was in stock before it was sold. `since`
    is the day its stage was reached, where it was written down.
    """

    project: str
    name: str
    section: Section
    stage: Stage
    since: date | None
    customer: str
    due: date | None
    done_by: date | None
    ready: date | None
    late_days: int | None
    latest_start: LatestStart | None
    total: Decimal | None
    deposit: Decimal
    deposit_paid: bool
    received: Decimal
    outstanding: Decimal | None
    to_give_back: Decimal = _NOUGHT
    expired: bool = False
    """A quote past its validity."""
    from_stock: bool = False


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over the held pieces: agreed, received and still to come; stock by price."""

    held: int
    agreed: Decimal
    received: Decimal
    outstanding: Decimal
    late: int
    stock: int
    stock_price: Decimal
    owed_back: Decimal
    """Received for sales that came to nothing, and neither given back nor kept."""


@dataclass(frozen=True)
class OrderBook:
    """The book as it is shown."""

    rows: tuple[Row, ...]
    totals: Totals
    schedule: Schedule


def stage_since(reached: tuple[StageDate, ...], stage: Stage) -> date | None:
    """The day the stage was last reached."""
    return next((r.on for r in reversed(reached) if r.stage is stage), None)


def order_book(studio: Studio, plans: Mapping[str, ProjectPlan], today: date) -> OrderBook:
    """Every piece but ideas; held ones in the order in which they are done.

    Raises NoHoursError where the week has no hours.
    """
    axis = Axis(studio.trade.hours, today)
    jobs = booked_jobs(studio, plans, today)
    done = schedule(jobs, axis, studio.trade.hand_order)
    starts = {s.key: s for s in latest_starts(jobs, axis)}
    laid = done.by_key
    shown = [p for p in studio.projects if p.stage in _SECTIONS]
    rows = [_row(p, studio, laid.get(p.key), starts, today) for p in shown]
    place = {key: at for at, key in enumerate(laid)}
    order = list(Section)
    rows.sort(
        key=lambda r: (
            order.index(r.section),
            place.get(r.project, len(place)),
            r.since or r.due or date.max,
            r.project,
        )
    )
    return OrderBook(tuple(rows), _totals(rows), done)


def _row(
    project: Project,
    studio: Studio,
    laid: Laid | None,
    starts: Mapping[str, LatestStart],
    today: date,
) -> Row:
    total, paid = agreed_total(project), credit(project)
    deposit = agreed_deposit(project)
    quote = project.quote
    return Row(
        project=project.key,
        name=project.name,
        section=_SECTIONS[project.stage],
        stage=project.stage,
        since=stage_since(project.reached, project.stage)
        or (project.booked if project.stage is Stage.BOOKED else None),
        customer=customer_name(project, studio),
        due=project.due,
        done_by=laid.done_by if laid else None,
        ready=laid.ready if laid else None,
        late_days=laid.late_days if laid else None,
        latest_start=starts.get(project.key),
        total=total,
        deposit=deposit,
        deposit_paid=paid >= deposit,
        received=paid,
        outstanding=to_come(project),
        to_give_back=to_give_back(project),
        expired=project.stage is Stage.QUOTED and quote is not None and quote.valid_until < today,
        from_stock=project.stage is Stage.DELIVERED
        and any(r.stage is Stage.IN_STOCK for r in project.reached),
    )


def _totals(rows: list[Row]) -> Totals:
    held = [r for r in rows if r.section is Section.HELD]
    stock = [r for r in rows if r.section is Section.STOCK]
    return Totals(
        held=len(held),
        agreed=sum((r.total for r in held if r.total is not None), _NOUGHT),
        received=sum((r.received for r in held), _NOUGHT),
        outstanding=sum((r.outstanding for r in held if r.outstanding is not None), _NOUGHT),
        late=sum(r.late_days is not None and r.late_days > 0 for r in held),
        stock=len(stock),
        stock_price=sum((r.total for r in stock if r.total is not None), _NOUGHT),
        owed_back=sum((r.to_give_back for r in rows), _NOUGHT),
    )
