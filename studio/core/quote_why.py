"""The figures of a customer's paper, followed back: the quote as it was sent, and the sum of each.

Money and days are those that were frozen, and their sums are made of the figures frozen with
them. Size, fibres and parcel are printed as the piece stands, and so are their sums.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Final

from studio.core import say
from studio.core.answers import ProjectPlan
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.labels import OTHER, fibre_grams, fibre_words, fibres_unknown
from studio.core.made_of import yarns_in
from studio.core.model import Project, Studio
from studio.core.order_say import quoted_figure
from studio.core.price_sheet import parcel_of
from studio.core.reasons import Step, why_size
from studio.core.trade_model import Figure, Quote

_NOUGHT = Decimal(0)
_BESIDE = ("time", "rate", "cash")
"""Figures that are no part of the price but stand beside it."""
_LESS = "shipping_charged"


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """A line of money as the customer reads it; `code` leads to its sum."""

    code: str
    label: str
    amount: Decimal


def money_lines(quote: Quote) -> tuple[QuoteLine, ...]:
    """The price as it is on the paper, from the blanket down to the balance."""
    found = [QuoteLine("price", "price", quote.price)]
    if quote.shipping:
        found.append(QuoteLine("shipping", "shipping", quote.shipping))
    if quote.tax:
        rate = say.percent(quote.tax_rate, 2)
        where = "tax in both" if quote.tax_inclusive else "tax"
        found.append(QuoteLine("tax", f"{where}, {rate}", quote.tax))
    found.append(QuoteLine("total", "in all", quote.total))
    if quote.deposit:
        found.append(QuoteLine("deposit", "of that as deposit", quote.deposit))
        found.append(QuoteLine("balance", "and as balance", quote.balance))
    return tuple(found)


@dataclass(frozen=True)
class Printed:
    """A quoted piece with what its paper is printed from."""

    project: Project
    quote: Quote
    plan: ProjectPlan
    demand: Demand
    studio: Studio

    def money(self, amount: Decimal) -> str:
        """An amount in the currency of the quote."""
        return say.money(amount, self.quote.currency)

    def weight(self, grams: Decimal) -> str:
        """Grams as she shows them."""
        return say.weight(grams, self.studio.settings.weight_unit)

    def figure(self, code: str) -> Figure | None:
        """A frozen figure by its code."""
        return next((f for f in self.quote.figures if f.code == code), None)


def fact_lines(of: Printed) -> tuple[tuple[str, str], ...]:
    """Size and fibres as the paper says them, by the code that leads to their sums."""
    size = of.plan.size
    unit = of.studio.settings.length_unit
    found = []
    if size is not None:
        found.append(("size", f"size: about {say.size(size.width_cm, size.length_cm, unit)}"))
    if words := _fibre_words(of):
        found.append(("fibres", f"fibres: {words}"))
    return tuple(found)


def _fibre_words(of: Printed) -> str:
    return fibre_words(of.demand, of.studio.library, of.project.used)


def why(of: Printed, code: str) -> tuple[Step, ...]:
    """The sum behind a line, by its code; nothing where it has none."""
    found = _SUMS.get(code)
    return () if found is None else found(of)


def why_figure(of: Printed, figure: Figure) -> tuple[Step, ...]:
    """One frozen figure behind the price."""
    quote = of.quote
    if figure.unit:
        amount = quoted_figure(figure.amount, figure.unit, of.studio.settings)
        return (Step(f"{figure.label}, when the quote was sent", amount),)
    steps = []
    time, rate = of.figure("time"), of.figure("rate")
    if figure.code == "hours" and time is not None and rate is not None:
        steps = [
            Step("Time", f"{say.number(time.amount)} min"),
            Step("Rate for an hour", of.money(rate.amount)),
        ]
    if figure.code == "margin":
        steps = [*_price_parts(of)[:-1]]
        bare = _without_tax(of)
        if bare:
            share = say.percent(figure.amount / bare)
            steps.append(Step("That is of the price without tax", share))
    sent = f"{figure.label}, as it was on {say.date(quote.on)}"
    return (*steps, Step(sent, of.money(figure.amount)))


def _parts(of: Printed) -> Mapping[str, Decimal]:
    """What the price was made of, by label; shipping that was charged bears a part of it."""
    return {
        f.label: -f.amount if f.code == _LESS else f.amount
        for f in of.quote.figures
        if f.code not in _BESIDE and not f.unit
    }


def _without_tax(of: Printed) -> Decimal:
    return sum(_parts(of).values(), _NOUGHT)


def _price_parts(of: Printed) -> tuple[Step, ...]:
    """Everything the price without tax is made of, the margin last."""
    return tuple(Step(label, of.money(amount)) for label, amount in _parts(of).items())


def _price(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    sent = Step(f"Price, as sent on {say.date(quote.on)}", of.money(quote.price))
    if not quote.figures:
        return (Step("Written down by hand, without the figures behind it."), sent)
    bare = _without_tax(of)
    steps = [*_price_parts(of)]
    rest = quote.price - bare
    if rest and quote.tax and quote.tax_inclusive:
        steps += [
            Step("Without tax", of.money(bare)),
            Step(f"Tax in it, {say.percent(quote.tax_rate, 2)}", of.money(rest)),
        ]
    elif rest:
        steps.append(Step("Not explained by these figures", of.money(rest)))
    return (*steps, sent)


def _shipping(of: Printed) -> tuple[Step, ...]:
    quote, parcel = of.quote, parcel_of(of.project, of.demand, of.studio)
    steps = [Step("Weight with packing, as it stands", of.weight(parcel.weight_g))]
    if parcel.tier is None:
        steps.append(Step(f"It is {parcel.why}"))
    else:
        tier = parcel.tier
        steps.append(
            Step(f"It fits '{tier.name}', up to {of.weight(tier.up_to_g)}, charged today",
                 of.money(tier.asked))
        )  # fmt: skip
    return (*steps, Step(f"Shipping, as sent on {say.date(quote.on)}", of.money(quote.shipping)))


def _tax(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    where = "in" if quote.tax_inclusive else "on"
    return (
        Step("Price", of.money(quote.price)),
        Step("Shipping", of.money(quote.shipping)),
        Step(f"Tax of {say.percent(quote.tax_rate, 2)} {where} each of them", of.money(quote.tax)),
    )


def _total(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    steps = [Step("Price", of.money(quote.price))]
    if quote.shipping:
        steps.append(Step("Shipping", of.money(quote.shipping)))
    if quote.tax and not quote.tax_inclusive:
        steps.append(Step("Tax, on it", of.money(quote.tax)))
    steps.append(Step("In all", of.money(quote.total)))
    if quote.tax and quote.tax_inclusive:
        steps.insert(-1, Step("The tax is in it", of.money(quote.tax)))
    return tuple(steps)


def _deposit(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    steps = [Step("In all", of.money(quote.total))]
    cash = of.figure("cash")
    if cash is not None:
        steps.append(Step("Material to lay out, which it is to cover", of.money(cash.amount)))
    if quote.total:
        steps.append(Step("Of all it is", say.percent(quote.deposit / quote.total)))
    return (*steps, Step("Deposit, as sent, rounded up", of.money(quote.deposit)))


def _balance(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    return (
        Step("In all", of.money(quote.total)),
        Step("Deposit", of.money(-quote.deposit)),
        Step("Balance", of.money(quote.balance)),
    )


def _until(of: Printed) -> tuple[Step, ...]:
    quote = of.quote
    return (
        Step("Sent", say.date(quote.on)),
        Step("It holds for", say.count((quote.valid_until - quote.on).days, "day")),
        Step("Valid until", say.date(quote.valid_until)),
    )


def _ready(of: Printed) -> tuple[Step, ...]:
    quote, due = of.quote, of.project.due
    steps = []
    if quote.ready_by is not None:
        steps.append(Step(f"Promised when it was sent, {say.date(quote.on)}",
                          say.date(quote.ready_by)))  # fmt: skip
    if due is not None and due != quote.ready_by:
        steps.append(Step("Agreed since, and on the order confirmation", say.date(due)))
    return tuple(steps)


def _fibres(of: Printed) -> tuple[Step, ...]:
    """Grams of each yarn, of each fibre in it, and the share of each fibre in the piece."""
    library = of.studio.library
    found = yarns_in(of.demand, of.project.used)
    together = sum((n.grams for n in found), _NOUGHT)
    steps = []
    for each in found:
        yarn = library.yarn.get(each.yarn)
        rest = each.grams - each.noted
        how = "noted as used" if not rest else "as expected"
        if rest and each.noted:
            how = f"{of.weight(each.noted)} noted as used, the rest as expected"
        steps.append(Step(f"{yarn.name if yarn else each.yarn}, {how}", of.weight(each.grams)))
        for fibre in yarn.fibres if yarn else ():
            share = f"of that {fibre.name}, {say.number(fibre.percent, 1)} %"
            steps.append(Step(share, of.weight(each.grams * fibre.percent / 100)))
    steps.append(Step("All of it", of.weight(together)))
    if fibres_unknown(of.demand, library, of.project.used):
        return (*steps, Step(f"Fibres {_fibre_words(of)}: enter them in the library."))
    weights = fibre_grams({n.yarn: n.grams for n in found}, library)
    steps += [
        Step(f"{name}: {of.weight(grams)} of {of.weight(together)}", say.percent(grams / together))
        for name, grams in sorted(weights.items(), key=lambda item: -item[1])
        if grams
    ]
    small = f", under 5 % as '{OTHER}'" if OTHER in _fibre_words(of) else ""
    return (*steps, Step(f"In whole percents that make 100{small}: {_fibre_words(of)}"))


_SUMS: Final[Mapping[str, Callable[[Printed], tuple[Step, ...]]]] = {
    "price": _price,
    "shipping": _shipping,
    "tax": _tax,
    "total": _total,
    "deposit": _deposit,
    "balance": _balance,
    "until": _until,
    "ready": _ready,
    "size": lambda of: why_size(of.demand, of.project, of.studio),
    "fibres": _fibres,
}
