"""Closing a piece: actual against planned, in grams, hours, size and money (trade rules, 8).

Planned is what the plan would say without this piece's own weighings and hours, so that the two
can differ. Her own hours are no cost: pay for an hour = (income - cash costs) / hours. What is not
known is said and never guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import ROUND_FLOOR, Decimal

from studio.core import say
from studio.core.answers import Cover, ProjectPlan, Size
from studio.core.demand import Demand, demand_of
from studio.core.evidence import Evidence
from studio.core.frozen import dataclass
from studio.core.hours import hours_of
from studio.core.model import Project, ShadeRef, Stage, Studio
from studio.core.money import rounded, unit
from studio.core.payments import agreed_total, received, to_come
from studio.core.price_sheet import case_of, parcel_of
from studio.core.pricing import LineKind, PriceError, PriceLine, PriceSheet, sheet_at
from studio.core.runs import FINISHED
from studio.core.used import tenths, to_note, worked_runs

_NOUGHT = Decimal(0)


@dataclass(frozen=True, slots=True)
class ShadeAccount:
    """One shade in grams: planned for the whole piece, noted as used, and worked but not noted.

    `planned_g` is the expected use, None where nothing tells it. `paid` is what the noted grams
    were bought for, None where one of them has no price. `over` where the piece is finished.
    """

    shade: ShadeRef
    planned_g: Decimal | None
    used_g: Decimal
    open_g: Decimal
    paid: Decimal | None
    over: bool = True

    @property
    def more_g(self) -> Decimal | None:
        """Used less planned; None where it is not planned, or not all worked and noted."""
        if self.planned_g is None or self.open_g or not (self.used_g and self.over):
            return None
        return self.used_g - self.planned_g


@dataclass(frozen=True, slots=True)
class Closing:
    """The account of one piece. Times are minutes, money is in the studio's currency.

    `costs` are what went out, None where one of them is not known; `unknown` says in sentences
    what is not.
    `tax` is in what the customer pays and is no income. `over` where the piece is finished.
    """

    project: str
    over: bool
    shades: tuple[ShadeAccount, ...]
    size: Size | None
    planned_min: Decimal | None
    planned_rough: bool
    logged_min: Decimal
    agreed: Decimal | None
    received: Decimal
    to_come: Decimal
    tax: Decimal
    costs: tuple[PriceLine, ...] | None
    currency: str
    unknown: tuple[str, ...]

    @property
    def cash_costs(self) -> Decimal | None:
        """All that was paid for the piece; her hours are not in it."""
        return None if self.costs is None else sum((c.amount for c in self.costs), _NOUGHT)

    @property
    def earned(self) -> Decimal | None:
        """What was received, less tax and cash costs."""
        costs = self.cash_costs
        return None if costs is None else self.received - self.tax - costs

    def per_hour(self, *, with_rest: bool = False) -> Decimal | None:
        """Pay for a logged hour, rounded down; with what is still to come where that is asked.

        None where it is not known, and before the piece is finished: more hours will come.
        """
        earned = self.earned
        if earned is None or not self.logged_min or not self.over:
            return None
        if with_rest:
            earned += self.to_come
        exact = earned * 60 / self.logged_min
        return exact.quantize(unit(self.currency), rounding=ROUND_FLOOR)


def closing_of(
    project: Project, plan: ProjectPlan, demand: Demand, evidence: Evidence, studio: Studio
) -> Closing:
    """The account of a piece as it stands; a piece that is not finished has one too."""
    shades = _shades(project, demand, evidence, studio)
    hours = hours_of(unworked(project), plan.size, plan.ends, studio)
    logged = sum((n.minutes for n in project.log), _NOUGHT)
    costs, tax, why = _costs(project, plan, demand, studio)
    agreed, paid = agreed_total(project), received(project)
    return Closing(
        project=project.key,
        over=project.stage in FINISHED,
        shades=shades,
        size=plan.size,
        planned_min=None if hours.unknown else hours.total_min,
        planned_rough=hours.rough,
        logged_min=logged,
        agreed=agreed,
        received=paid,
        to_come=max(_NOUGHT, to_come(project) or _NOUGHT),
        tax=tax,
        costs=costs,
        currency=studio.settings.currency,
        unknown=(
            *_unknown_yarn(project, plan, shades, studio),
            *_unknown_time(project, logged, unknown=hours.unknown),
            *why,
            *plan.cost.assumed,
        ),
    )


def unworked(project: Project) -> Project:
    """The piece as it was when nothing of it was worked, weighed or timed."""
    return replace(project, stage=Stage.BOOKED, rows_done=0, weigh_ins=(), log=(), used=())


def _shades(
    project: Project, demand: Demand, evidence: Evidence, studio: Studio
) -> tuple[ShadeAccount, ...]:
    plain = demand_of(unworked(project), studio.library, studio.settings, evidence)
    planned: dict[ShadeRef, float | None] = {}
    for run in plain.runs:
        so_far = planned.get(run.shade, 0.0)
        known = run.known and so_far is not None
        planned[run.shade] = (so_far or 0.0) + run.whole_mean_g if known else None
    left: dict[ShadeRef, Decimal] = {}
    for note in to_note(worked_runs(project, demand.runs, studio.settings), demand.covered):
        left[note.shade] = left.get(note.shade, _NOUGHT) + note.grams
    found = []
    for shade in dict.fromkeys((*planned, *(u.shade_ref for u in project.used))):
        notes = [u for u in project.used if u.shade_ref == shade]
        amounts = [u.paid for u in notes if u.paid is not None]
        grams = planned.get(shade, 0.0)
        found.append(
            ShadeAccount(
                shade,
                None if grams is None else tenths(grams),
                sum((u.grams for u in notes), _NOUGHT),
                left.get(shade, _NOUGHT),
                sum(amounts, _NOUGHT) if len(amounts) == len(notes) else None,
                project.stage in FINISHED,
            )
        )
    return tuple(found)


def _costs(
    project: Project, plan: ProjectPlan, demand: Demand, studio: Studio
) -> tuple[tuple[PriceLine, ...] | None, Decimal, list[str]]:
    """The cash costs, the tax in the price, and sentences on what is not known of them."""
    try:
        sheet = agreed_sheet(project, plan, demand, studio)
    except PriceError as error:
        return None, _NOUGHT, [error.text]
    case, currency = sheet.case, studio.settings.currency
    yarn = rounded(case.yarn, currency)
    lines = [PriceLine(LineKind.YARN, "Yarn", yarn, _yarn_words(plan, project))]
    why: list[str] = []
    if _shown_price(project) is None:
        why.append("No price is agreed, so fees and shipping are not counted.")
        if case.notions:
            notions = rounded(case.notions, currency)
            lines.append(PriceLine(LineKind.NOTIONS, "Notions", notions))
        return tuple(lines), _NOUGHT, why
    kinds = (LineKind.NOTIONS, LineKind.OVERHEAD, LineKind.FEES, LineKind.SHIPPING)
    lines += [replace(n, amount=-n.amount) for n in sheet.leaves if n.kind in kinds]
    tax = sheet.tax if project.quote is None else project.quote.tax
    parcel = parcel_of(project, demand, studio)
    if parcel.tier is None and not project.collected:
        why.append(f"Shipping is not counted: {parcel.why}.")
    return tuple(lines), tax, why


def _shown_price(project: Project) -> Decimal | None:
    return project.price if project.quote is None else project.quote.price


def agreed_sheet(project: Project, plan: ProjectPlan, demand: Demand, studio: Studio) -> PriceSheet:
    """The price that was agreed, worked forward, with as many payments as there were."""
    hours = hours_of(project, plan.size, plan.ends, studio)
    case = case_of(project, plan, hours, parcel_of(project, demand, studio), studio)
    # Shipping and tax come on top where they were quoted so; a price that was simply agreed is all
    # that the customer pays, and has them in it.
    if project.quote is None:
        case = replace(case, shipping_charged=_NOUGHT, tax_inclusive=True)
    else:
        case = replace(case, shipping_charged=project.quote.shipping)
    made = sum(p.kind.comes_in for p in project.payments)
    if made:
        case = replace(case, payments=made)
    return sheet_at(case, _shown_price(project) or _NOUGHT)


def _yarn_words(plan: ProjectPlan, project: Project) -> str:
    if not project.used:
        return "worked out: none is noted as used"
    return "at the price paid" if not plan.cost.assumed else "at the price paid, as far as known"


def _unknown_yarn(
    project: Project, plan: ProjectPlan, shades: Sequence[ShadeAccount], studio: Studio
) -> list[str]:
    found = []
    if not project.used:
        found.append("No used yarn is noted.")
    elif open_shades := [s for s in shades if s.open_g]:
        grams = sum((s.open_g for s in open_shades), _NOUGHT)
        weight = say.weight(grams, studio.settings.weight_unit)
        found.append(f"{weight} more are worked out and not noted yet.")
    if any(r.cover is Cover.UNKNOWN for r in plan.runs) or any(s.planned_g is None for s in shades):
        found.append("Some of its yarn could not be planned: see its findings.")
    return found


def _unknown_time(project: Project, logged: Decimal, *, unknown: bool) -> list[str]:
    found = []
    if unknown:
        found.append("Nothing tells how long the crochet was to take.")
    if not logged:
        found.append("No minutes are logged, so what an hour was paid is not known.")
    elif project.stage not in FINISHED:
        found.append("The piece is not finished, so what an hour was paid is not known yet.")
    return found
