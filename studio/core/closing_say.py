"""The account of a piece in words: one fact to a line, the same on the screen and in the shell."""

from __future__ import annotations

from decimal import Decimal

from studio.core import say
from studio.core.closing import Closing, ShadeAccount
from studio.core.enquiry_say import hours
from studio.core.frozen import dataclass
from studio.core.model import Studio
from studio.core.reasons import Step

_NOUGHT = Decimal(0)
_WIDE = 10
"""Cells of a column of grams: 'not noted' and a blank."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the account under its heading; `total` where its last line is the sum."""

    heading: str
    steps: tuple[Step, ...]
    total: bool = False


def account(closing: Closing, studio: Studio) -> tuple[Part, ...]:
    """All that is said of a closed piece."""
    parts = [Part("Yarn", _yarn(closing, studio)), Part("Size", _size(closing, studio))]
    parts += [Part("Time", _time(closing)), Part("Money", _money(closing), total=True)]
    if closing.unknown:
        parts.append(Part("Not known", tuple(Step(text) for text in closing.unknown)))
    return tuple(parts)


def _columns(*figures: str) -> str:
    return "".join(figure.rjust(_WIDE) for figure in figures)


def _yarn(closing: Closing, studio: Studio) -> tuple[Step, ...]:
    steps = [Step("", _columns("planned", "used", "more"))]
    steps += [Step(studio.library.called(s.shade), _figures(s, studio)) for s in closing.shades]
    planned = [s.planned_g for s in closing.shades if s.planned_g is not None]
    used = sum((s.used_g for s in closing.shades), _NOUGHT)
    if len(closing.shades) > 1 and len(planned) == len(closing.shades):
        together = sum(planned, _NOUGHT)
        full = used > 0 and all(s.more_g is not None for s in closing.shades)
        more = _signed(used - together, studio) if full else ""
        steps.append(
            Step("Together", _columns(_weight(together, studio), _used(used, studio), more))
        )
    return tuple(steps)


def _figures(shade: ShadeAccount, studio: Studio) -> str:
    planned = "not known" if shade.planned_g is None else _weight(shade.planned_g, studio)
    more = "" if shade.more_g is None else _signed(shade.more_g, studio)
    return _columns(planned, _used(shade.used_g, studio), more)


def _used(grams: Decimal, studio: Studio) -> str:
    return _weight(grams, studio) if grams else "not noted"


def _weight(grams: Decimal, studio: Studio) -> str:
    return say.weight(grams, studio.settings.weight_unit)


def _signed(grams: Decimal, studio: Studio) -> str:
    words = _weight(grams, studio)
    return f"+{words}" if grams > 0 else words


def _size(closing: Closing, studio: Studio) -> tuple[Step, ...]:
    size = closing.size
    if size is None:
        return (Step("No size can be worked out."),)
    unit = studio.settings.length_unit
    return (
        Step("As planned", say.size(size.width_cm, size.length_cm, unit)),
        Step("Asked", say.size(size.asked_width_cm, size.asked_length_cm, unit)),
    )


def _time(closing: Closing) -> tuple[Step, ...]:
    rough = ", rough: nothing of yours tells the pace" if closing.planned_rough else ""
    planned = "not known" if closing.planned_min is None else hours(closing.planned_min)
    logged = hours(closing.logged_min) if closing.logged_min else "no minutes logged"
    steps = [Step(f"Planned{rough}", planned), Step("Logged", logged)]
    if closing.planned_min is not None and closing.logged_min and closing.over:
        more = closing.logged_min - closing.planned_min
        steps.append(Step("More", f"{'+' if more > 0 else ''}{hours(more)}"))
    return tuple(steps)


def _money(closing: Closing) -> tuple[Step, ...]:
    currency = closing.currency

    def money(amount: Decimal | None) -> str:
        return "not known" if amount is None else say.money(amount, currency)

    agreed = "no price is agreed" if closing.agreed is None else money(closing.agreed)
    steps = [Step("Agreed, in all", agreed), Step("Received", money(closing.received))]
    if closing.to_come:
        steps.append(Step("Still to come", money(closing.to_come)))
    if closing.tax:
        steps.append(Step("Tax in it", money(-closing.tax)))
    for cost in closing.costs or ():
        how = f", {cost.how}" if cost.how else ""
        steps.append(Step(f"{cost.label}{how}", money(-cost.amount)))
    steps.append(Step("Left for your hours, of what was received", money(closing.earned)))
    if closing.to_come and (full := closing.per_hour(with_rest=True)) is not None:
        steps.append(Step("Pay for an hour, once all is paid", money(full)))
    steps.append(Step("Pay for an hour", money(closing.per_hour())))
    return tuple(steps)
