"""The four answers about a piece in words: how big, is the yarn there, what it costs, when due.

Each comes in several lengths, the fullest first, so that every screen can take the longest that
fits; what is left out of a shorter one is never the main thing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core import say
from studio.core.answers import Cost, Cover, ProjectPlan, RunPlan, ShadePlan, Size, StudioPlan
from studio.core.frozen import dataclass
from studio.core.model import LengthUnit, Project, ShadeRef, Studio
from studio.core.money import minor_digits, rounded

Variants = tuple[str, ...]
"""The same thing said in several lengths, the fullest first."""


class State(StrEnum):
    """How it stands with the yarn of a piece."""

    SHORT = "short"
    LATE = "late"
    ORDER = "on order"
    HERE = "here"
    DONE = "done"
    UNKNOWN = "unknown"
    WORKING = "working"


@dataclass(frozen=True, slots=True)
class YarnAnswer:
    """Whether the yarn of a piece is there, in words."""

    state: State
    words: Variants


def size_words(size: Size | None, unit: LengthUnit) -> Variants:
    """'152 x 165 cm (asked 150 x 165, +1.3 % wide, 0.0 % long)' and shorter."""
    if size is None:
        return ("size not known: no gauge", "size not known")
    achieved = say.size(size.width_cm, size.length_cm, unit)
    asked = say.size(size.asked_width_cm, size.asked_length_cm, unit).rsplit(" ", 1)[0]
    wide, long = say.signed_percent(size.width_off), say.signed_percent(size.length_off)
    more = say.signed_percent(max(size.width_off, size.length_off, key=abs))
    return (
        f"{achieved} (asked {asked}, {wide} wide, {long} long)",
        f"{achieved} (asked {asked}, {more})",
        f"{achieved} ({more})",
        achieved,
    )


def yarn_words(piece: ProjectPlan, shade_name: Callable[[ShadeRef], str]) -> YarnAnswer:
    """Whether all its yarn is there; what must be bought comes before what is on its way."""
    if piece.pending:
        return YarnAnswer(State.WORKING, ("working ...", "working"))
    if not piece.stage.needs_yarn:
        return YarnAnswer(State.DONE, ("nothing needed",))
    short = [s for s in piece.shades if s.buy_g > 0]
    late = [s for s in piece.shades if s.late_g > 0]
    order = [s for s in piece.shades if s.order_g > 0]
    if short:
        balls = sum(s.buy_balls for s in short)
        each = ", ".join(f"{say.balls(s.buy_balls)} {shade_name(s.shade)}" for s in short)
        of = (
            f"of {say.count(len(short), 'shade')}" if len(short) > 1 else shade_name(short[0].shade)
        )
        return YarnAnswer(
            State.SHORT,
            (
                f"short {each}",
                f"short {say.balls(balls)} {of}",
                f"short {say.balls(balls)}",
                f"{balls} short",
            ),
        )
    if late:
        names = _names(late, shade_name)
        words = (f"{names} on order but late", "on order but late", "late")
        return YarnAnswer(State.LATE, words)
    if order:
        return YarnAnswer(State.ORDER, (f"{_names(order, shade_name)} on order", "on order"))
    if not piece.shades or any(r.cover is Cover.UNKNOWN for r in piece.runs):
        return YarnAnswer(State.UNKNOWN, ("not known",))
    if not any(s.need_g > 0 for s in piece.shades):
        return YarnAnswer(State.DONE, ("all worked",))
    return YarnAnswer(State.HERE, ("all in the house", "all here"))


def _names(shades: list[ShadePlan], shade_name: Callable[[ShadeRef], str]) -> str:
    return ", ".join(shade_name(s.shade) for s in shades)


def need_g(runs: Sequence[RunPlan]) -> Decimal:
    """The planned need of one run, over its row pairs where lots are mixed."""
    return sum((run.need_g for run in runs), Decimal(0))


def free_by_shade(plan: StudioPlan) -> Mapping[ShadeRef, Decimal]:
    """What is not promised of each shade, over all its lots, in grams."""
    found: dict[ShadeRef, Decimal] = {}
    for ref, lot in plan.lots.items():
        shade = ShadeRef(ref.yarn, ref.shade)
        found[shade] = found.get(shade, Decimal(0)) + lot.free_g
    return found


def cost_words(cost: Cost, currency: str) -> Variants:
    """'used 61.20  cash 74.50 EUR'; a figure without a price says so."""
    used, cash = (_amount(a, currency) for a in (cost.used, cost.cash))
    if cost.used is None and cost.cash is None:
        return ("no prices yet", "no price")
    return (f"used {used}  cash {cash} {currency}", f"used {used}  cash {cash}")


def _amount(amount: Decimal | None, currency: str) -> str:
    return "not known" if amount is None else money_figure(amount, currency)


def customer_name(project: Project, studio: Studio) -> str:
    """The name of the piece's customer: from the customers' file, else as it is written."""
    found = studio.customer.get(project.customer)
    return found.name if found is not None else project.customer


def money_figure(amount: Decimal, currency: str) -> str:
    """An amount without its currency, for a column whose head says it."""
    return f"{rounded(amount, currency):.{minor_digits(currency)}f}"


def due_words(due: date | None) -> Variants:
    """'due 12 Mar 2027', 'due 12 Mar'."""
    if due is None:
        return ("no date",)
    full = say.date(due)
    return (f"due {full}", f"due {full.rsplit(' ', 1)[0]}")
