"""A piece's price as it is shown: the sheet, its parts as a picture, rules of thumb, findings.

Here the studio's figures become a `PriceCase`; the sums themselves are in `pricing`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from studio.core import say
from studio.core.answers import Cover, Finding, ProjectPlan, Size, Weight
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.hours import Hours, hours_of
from studio.core.made_of import grams_by_yarn
from studio.core.model import Project, Studio
from studio.core.money import rounded
from studio.core.pricing import (
    Aim,
    LineKind,
    PriceCase,
    PriceError,
    PriceLine,
    PriceSheet,
    price_for,
    sheet_at,
)
from studio.core.trade_model import PriceRules, ShippingTier

_NOUGHT = Decimal(0)
_TENTH = Decimal("1.1")

THUMB_TIMES = 3
"""Three times materials (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of all that the customer pays; `share` is of the total, below nought for a loss."""

    kind: LineKind
    label: str
    amount: Decimal
    share: float


@dataclass(frozen=True, slots=True)
class Move:
    """By how much the price would rise if one thing cost a tenth more, endings left aside."""

    kind: LineKind
    label: str
    more: Decimal


@dataclass(frozen=True, slots=True)
class Thumb:
    """A rule of thumb and its price, as shown: a comparison, never the answer."""

    name: str
    amount: Decimal
    how: str


@dataclass(frozen=True, slots=True)
class Parcel:
    """How the piece travels: its weight with packing, and the parcel it fits.

    `tier` is None where it is collected, where no parcel is big enough, or none is entered.
    """

    weight_g: Decimal
    tier: ShippingTier | None
    why: str


@dataclass(frozen=True, slots=True)
class Priced:
    """All that is said of a piece's price. `by_hand` where she set the price herself."""

    sheet: PriceSheet
    aim: Aim
    by_hand: bool
    hours: Hours
    parcel: Parcel
    parts: tuple[Part, ...]
    moves: tuple[Move, ...]
    thumbs: tuple[Thumb, ...]
    findings: tuple[Finding, ...]
    assumed: tuple[str, ...]
    size: Size | None = None


def hers_unread(studio: Studio) -> list[str]:
    """Files with her currency, rates and hours that could not be read: no price is hers then."""
    return [name for name in ("studio.toml", "trade.toml") if name in studio.unread]


def parcel_of(project: Project, demand: Demand, studio: Studio) -> Parcel:
    """The smallest parcel that the finished piece fits by weight, noted grams before expected."""
    trade = studio.trade
    weight = sum(grams_by_yarn(demand, project.used).values(), trade.packing_g)
    if project.collected:
        return Parcel(weight, None, "collected")
    if not trade.shipping:
        return Parcel(weight, None, "no parcel prices are entered")
    fits = [t for t in trade.shipping if t.up_to_g >= weight]
    if not fits:
        return Parcel(weight, None, "no parcel is big enough")
    return Parcel(weight, min(fits, key=lambda t: (t.up_to_g, t.paid)), "")


def case_of(
    project: Project, plan: ProjectPlan, hours: Hours, parcel: Parcel, studio: Studio
) -> PriceCase:
    """The piece's figures; raises PriceError where yarn, cost or her rates are not known."""
    settings, rules = studio.settings, studio.trade.prices
    if lost := hers_unread(studio):
        raise PriceError(
            f"{say.either(lost, 'and')} could not be read, so what you charge by is not known. "
            "Mend that first."
        )
    cost = plan.cost
    unknown = sum(r.cover is Cover.UNKNOWN for r in plan.runs)
    if unknown:
        raise PriceError(
            f"The yarn of {say.count(unknown, 'run')} of {project.name} is not known, so its cost "
            "is not known either. See its findings."
        )
    if cost.used_yarn is None:
        why = " ".join(cost.assumed) or "A yarn of it is not known."
        raise PriceError(f"The material of {project.name} has no cost yet. {why}")
    tier = parcel.tier
    charged = _NOUGHT if tier is None else tier.asked
    per_hour = rules.overhead_per_hour * hours.total_min / 60
    return PriceCase(
        currency=settings.currency,
        yarn=cost.used_yarn,
        notions=cost.notions,
        minutes=hours.total_min,
        rate=settings.rate_per_hour,
        overhead=rules.overhead + per_hour,
        cash=cost.cash,
        fees=rules.fees,
        payments=1 if rules.deposit_share is None else 2,
        shipping_paid=tier.paid if tier else _NOUGHT,
        shipping_charged=charged,
        tax_rate=rules.tax_rate if settings.tax_registered else _NOUGHT,
        tax_inclusive=rules.tax_inclusive,
        ending=rules.ending,
        deposit_share=rules.deposit_share,
    )


def priced(
    project: Project,
    plan: ProjectPlan,
    demand: Demand,
    studio: Studio,
    aim: Aim | None = None,
    shown: Decimal | None = None,
) -> Priced:
    """The price of a piece: what she set by hand, else the least that leaves what is wanted.

    `aim` takes the place of the studio's margin, `shown` tries a price. Raises PriceError where
    no price can be made.
    """
    hours = hours_of(project, plan.size, plan.ends, studio)
    parcel = parcel_of(project, demand, studio)
    case = case_of(project, plan, hours, parcel, studio)
    wanted = aim or Aim(margin=studio.trade.prices.margin)
    by_hand = shown if shown is not None else (project.price if aim is None else None)
    sheet = price_for(case, wanted) if by_hand is None else sheet_at(case, by_hand)
    return Priced(
        sheet=sheet,
        aim=wanted,
        by_hand=by_hand is not None,
        hours=hours,
        parcel=parcel,
        parts=parts_of(sheet),
        moves=moves_of(case, wanted),
        thumbs=thumbs_of(sheet, plan, studio.trade.prices),
        findings=_findings(project, sheet, wanted, hours, parcel, studio),
        assumed=(*plan.cost.assumed, *_assumed(hours)),
        size=plan.size,
    )


_PARTS = (
    (LineKind.YARN, "Yarn and notions", (LineKind.YARN, LineKind.NOTIONS)),
    (LineKind.HOURS, "Hours", (LineKind.HOURS,)),
    (LineKind.OVERHEAD, "Overhead", (LineKind.OVERHEAD,)),
    (LineKind.FEES, "Fees", (LineKind.FEES,)),
    (LineKind.SHIPPING, "Shipping", (LineKind.SHIPPING,)),
)


def _sum(lines: Iterable[PriceLine], kinds: Sequence[LineKind]) -> Decimal:
    return sum((n.amount for n in lines if n.kind in kinds), _NOUGHT)


def parts_of(sheet: PriceSheet) -> tuple[Part, ...]:
    """Where the customer's money goes: parts that add up to the total."""
    found = [(kind, label, -_sum(sheet.leaves, kinds)) for kind, label, kinds in _PARTS]
    found.append((LineKind.TAX, "Tax", sheet.tax))
    found.append((LineKind.MARGIN, "Margin" if sheet.margin >= 0 else "Loss", sheet.margin))
    total = sheet.total
    return tuple(
        Part(kind, label, amount, float(amount / total) if total else 0.0)
        for kind, label, amount in found
        if amount or kind is LineKind.MARGIN
    )


def moves_of(case: PriceCase, aim: Aim) -> tuple[Move, ...]:
    """What moves the price most, the greatest first: yarn, hours and fees each a tenth dearer."""
    plain = replace(case, ending=None)
    fees = case.fees
    dearer = {
        LineKind.YARN: ("Yarn", replace(plain, yarn=case.yarn * _TENTH)),
        LineKind.HOURS: ("Hours", replace(plain, minutes=case.minutes * _TENTH)),
        LineKind.FEES: (
            "Fees",
            replace(
                plain,
                fees=replace(
                    fees,
                    on_price=fees.on_price * _TENTH,
                    on_charged=fees.on_charged * _TENTH,
                    on_total=fees.on_total * _TENTH,
                    fixed=fees.fixed * _TENTH,
                ),
            ),
        ),
    }
    now = price_for(plain, aim).shown
    found = []
    for kind, (label, other) in dearer.items():
        try:
            found.append(Move(kind, label, price_for(other, aim).shown - now))
        except PriceError:  # fees so near the whole price that a tenth more takes all of it
            continue
    return tuple(sorted(found, key=lambda m: -m.more))


def thumbs_of(sheet: PriceSheet, plan: ProjectPlan, rules: PriceRules) -> tuple[Thumb, ...]:
    """Rules of thumb as they would be shown, so that they compare with the price."""
    currency = sheet.case.currency
    material = rounded(sheet.case.yarn, currency) + rounded(sheet.case.notions, currency)
    times = f"{THUMB_TIMES} times materials of {say.money(material, currency)}"
    found = [Thumb("Three times materials", THUMB_TIMES * material, times)]
    size = plan.size
    if rules.per_area is not None and size is not None:
        area = Decimal(repr(round(size.width_cm * size.length_cm / 10_000, 4)))
        amount = rounded(area * rules.per_area, currency)
        how = f"{say.number(area, 2)} square metres at {say.money(rules.per_area, currency)}"
        found.append(Thumb("Per area", amount, how))
    return tuple(found)


def _assumed(hours: Hours) -> list[str]:
    if hours.unknown:
        return ["The time of the crochet is not known: only ends and fixed tasks are counted."]
    if hours.rough:
        return ["The time is rough: no minutes of hers are noted for this yarn, stitch and hook."]
    return []


def _findings(
    project: Project,
    sheet: PriceSheet,
    aim: Aim,
    hours: Hours,
    parcel: Parcel,
    studio: Studio,
) -> tuple[Finding, ...]:
    found = [
        *_of_the_price(sheet, aim, studio),
        *_of_its_ground(hours, parcel, studio),
    ]
    return tuple(Finding(code, weight, text, project.key) for code, weight, text in found)


def _of_the_price(sheet: PriceSheet, aim: Aim, studio: Studio) -> Iterator[tuple[str, Weight, str]]:
    """What is wrong with the price itself: code, weight and words."""
    floor = studio.trade.prices.floor_per_hour

    def money(amount: Decimal) -> str:
        return say.money(amount, studio.settings.currency)

    if sheet.margin < 0:
        yield (
            "price-below-cost",
            Weight.STOP,
            f"At {money(sheet.shown)} the price is {money(-sheet.margin)} below what the piece "
            "costs with her hours at her rate. Raise the price, or lower size or hours.",
        )
    elif not sheet.meets(aim):
        yield (
            "margin-under-wanted",
            Weight.CAUTION,
            f"At {money(sheet.shown)} less is left than wanted: "
            f"{say.percent(sheet.margin_share or _NOUGHT)} of the price.",
        )
    if (pay := sheet.pay_per_hour) is not None and pay < floor:
        yield (
            "pay-below-floor",
            Weight.STOP,
            f"At {money(sheet.shown)} an hour is paid {money(pay)}, below her floor of "
            f"{money(floor)}.",
        )


def _of_its_ground(
    hours: Hours, parcel: Parcel, studio: Studio
) -> Iterator[tuple[str, Weight, str]]:
    """What the price rests on and is not as it should be: parcel, tax, hours."""
    settings, rate = studio.settings, studio.trade.prices.tax_rate
    if parcel.why == "no parcel is big enough":
        yield (
            "no-parcel",
            Weight.CAUTION,
            f"With packing it weighs {say.weight(parcel.weight_g, settings.weight_unit)}"
            ", more than the biggest parcel entered, so no shipping is counted. Enter one.",
        )
    if rate and not settings.tax_registered:
        yield (
            "tax-not-charged",
            Weight.NOTE,
            f"A tax of {say.percent(rate, 2)} is entered, but the studio is not "
            "registered for tax, so none is charged.",
        )
    if hours.unknown:
        yield "hours-unknown", Weight.CAUTION, _assumed(hours)[0]
    elif hours.rough:
        yield "hours-rough", Weight.NOTE, _assumed(hours)[0]
