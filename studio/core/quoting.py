"""A quote as it is sent: its figures frozen, and what has changed since, told beside it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta
from decimal import Decimal

from studio.core.answers import Size
from studio.core.frozen import dataclass
from studio.core.model import Project, Studio
from studio.core.price_sheet import Priced
from studio.core.trade_model import Figure, Quote


def figures_of(priced: Priced) -> tuple[Figure, ...]:
    """The figures behind a price, each with a code of its own that stays the same."""
    sheet = priced.sheet
    counts: Counter[str] = Counter()
    found = []
    for line in sheet.leaves[1:]:
        plain = line.kind.name.lower()
        counts[plain] += 1
        code = plain if line.kind.value != "fees" else line.label.lower().replace(" ", "_")
        found.append(Figure(code, line.label, abs(line.amount)))
    found.append(Figure("margin", "Margin", sheet.margin))
    found.append(Figure("time", "Time", priced.hours.total_min, "min"))
    found.append(Figure("rate", "Rate for an hour", sheet.case.rate))
    if sheet.case.cash is not None:
        found.append(Figure("cash", "Material to lay out", sheet.case.cash))
    return (*found, *_size_figures(priced.size))


def quote_of(priced: Priced, studio: Studio, on: date, ready_by: date | None) -> Quote:
    """A price frozen as it is sent."""
    sheet, case = priced.sheet, priced.sheet.case
    return Quote(
        on=on,
        valid_until=on + timedelta(days=studio.trade.prices.valid_days),
        price=sheet.shown,
        shipping=case.shipping_charged,
        tax=sheet.tax,
        total=sheet.total,
        deposit=sheet.deposit,
        currency=case.currency,
        tax_rate=case.tax_rate,
        tax_inclusive=case.tax_inclusive,
        ready_by=ready_by,
        figures=figures_of(priced),
        assumed=priced.assumed,
    )


@dataclass(frozen=True, slots=True)
class Drift:
    """One figure of a quote as it was sent, as it is today, and the difference."""

    code: str
    label: str
    then: Decimal
    now: Decimal
    unit: str = ""

    @property
    def more(self) -> Decimal:
        """Now less then."""
        return self.now - self.then


def design_of(project: Project) -> str:
    """What is drawn of a piece, shortly: 'A6 B4 A6; border A; A wool/1, B wool/2'.

    Stripes with their rows, then border and fringe with their slots, then the shade of each slot.
    """
    edges = (("border", project.border), ("fringe", project.fringe))
    parts = [
        " ".join(f"{stripe.slot}{stripe.rows}" for stripe in project.stripes),
        *(f"{name} {edge.slot}" for name, edge in edges if edge is not None),
        ", ".join(f"{slot.letter} {slot.yarn}/{slot.shade}" for slot in project.slots),
    ]
    return "; ".join(filter(None, parts))


def redesigned_since(quote: Quote, project: Project) -> bool:
    """Whether other stripes or shades are drawn than when the quote was sent."""
    return bool(quote.design) and quote.design != design_of(project)


def resized_since(quote: Quote, size: Size | None) -> bool:
    """Whether a piece comes out at another size than when its quote was sent."""
    then = {f.code: f.amount for f in quote.figures}
    return any(
        figure.code in then and then[figure.code] != figure.amount for figure in _size_figures(size)
    )


def _size_figures(size: Size | None) -> Iterable[Figure]:
    if size is not None:
        for code, cm in (("width", size.width_cm), ("length", size.length_cm)):
            yield Figure(code, code.capitalize(), Decimal(repr(round(cm, 1))), "cm")


def drift(quote: Quote, today: Priced, fresh: Priced | None = None) -> tuple[Drift, ...]:
    """What has changed since the quote was sent, beside it and never in it.

    `today` is the piece priced today at the quoted price, so that its margin is what the quote
    would leave now; `fresh` priced anew, for the price she would ask now.
    """
    found = []
    if fresh is not None and fresh.sheet.shown != quote.price:
        found.append(Drift("price", "Price", quote.price, fresh.sheet.shown))
    then = {f.code: f for f in quote.figures}
    now = {f.code: f for f in figures_of(today)}
    for code in dict.fromkeys((*then, *now)):
        old, new = then.get(code), now.get(code)
        either = old or new
        assert either is not None
        if old is None and either.unit:
            continue  # Not written down when it was sent, so nothing tells what it was.
        was = old.amount if old else Decimal(0)
        is_now = new.amount if new else Decimal(0)
        if was != is_now:
            found.append(Drift(code, either.label, was, is_now, either.unit))
    return tuple(found)
