"""What does not go together in her trade: customers, money, stage dates, suppliers, barcodes.

The files still open; what is told here is what the sums made from them would trip over.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio.core.trade_model import PaymentKind
from studio.storage.dangling import Dangling, not_there
from studio.storage.kinds import Kind
from studio.storage.problems import nearest, shorten

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from decimal import Decimal

    from studio.core.model import Project, Studio
    from studio.core.trade_model import Quote
    from studio.storage.layout import Path


def check_trade(
    studio: Studio, broken: frozenset[str], danglings: Mapping[str, list[Dangling]]
) -> None:
    """Add to each file's list what does not go together in it."""
    currency = studio.settings.currency
    for project in studio.projects:
        found = danglings[Kind.PROJECT.file(project.key)]
        if project.customer and Kind.CUSTOMERS.file() not in broken:
            found += _customer(studio, project.customer)
        found += _money_of(project, currency)
        found += _reached(project)
    danglings[Kind.TRADE.file()] += _trade(studio, broken)
    _suppliers(studio, danglings)
    _barcodes(studio, danglings)


def _customer(studio: Studio, name: str) -> Iterator[Dangling]:
    """A customer is a key of the file, or a plain name that is not nearly one."""
    if name in studio.customer:
        return
    by_name = {c.name: c.key for c in studio.customers}
    if name in by_name:
        key = shorten(by_name[name])
        text = f"The customer {shorten(name)} has the key {key}: write that, to have one of them."
        yield Dangling(("customer",), shorten(name), key, text)
    elif nearest(name, [*studio.customer, *by_name]):
        yield not_there("customer", name, studio.customer, ("customer",))


def _amount(path: Path, amount: Decimal | None, currency: str) -> Iterator[Dangling]:
    """Money that could not be paid, since it has more decimals than the currency."""
    from studio.core.money import minor_digits, rounded

    if amount is None or amount == rounded(amount, currency):
        return
    digits = minor_digits(currency)
    allowed = f"at most {digits} decimal{'' if digits == 1 else 's'}" if digits else "no decimals"
    text = f"{amount} cannot be paid: {currency} has {allowed}."
    yield Dangling(path, str(amount), allowed, text)


def _money_of(project: Project, currency: str) -> Iterator[Dangling]:
    yield from _amount(("price",), project.price, currency)
    for i, used in enumerate(project.used):
        yield from _amount(("used", i, "paid"), used.paid, currency)
    for i, payment in enumerate(project.payments):
        yield from _amount(("payment", i, "amount"), payment.amount, currency)
    # As core.payments has it, which would bring in every edit.
    left = sum(p.amount if p.kind.comes_in else -p.amount for p in project.payments)
    if left < 0:
        kept = any(p.kind is PaymentKind.KEPT for p in project.payments)
        done = "given back or kept" if kept else "given back"
        text = f"{-left} more was {done} than was paid for it."
        yield Dangling(("payment",), str(left), "at least 0 in all", text)
    if project.quote is not None:
        yield from _quote(project.quote, currency)


def _quote(quote: Quote, currency: str) -> Iterator[Dangling]:
    for name in ("price", "shipping", "tax", "total", "deposit"):
        yield from _amount(("quote", name), getattr(quote, name), quote.currency)
    if quote.deposit > quote.total:
        found, most = str(quote.deposit), f"at most {quote.total}"
        text = f"The deposit of {found} is larger than the total of {quote.total}."
        yield Dangling(("quote", "deposit"), found, most, text)
    if quote.currency != currency:
        text = f"The quote is in {quote.currency}, but the studio reckons in {currency}."
        yield Dangling(("quote", "currency"), shorten(quote.currency), currency, text)


def _reached(project: Project) -> Iterator[Dangling]:
    for i, (before, now) in enumerate(zip(project.reached, project.reached[1:], strict=False), 1):
        if now.on < before.on:
            text = (
                f'"{now.stage.value}" was reached on {now.on}, before "{before.stage.value}" on '
                f"{before.on}: stages stand in the order of their days."
            )
            yield Dangling(("reached", i, "on"), str(now.on), f"{before.on} or later", text)


def _trade(studio: Studio, broken: frozenset[str]) -> Iterator[Dangling]:
    trade, currency = studio.trade, studio.settings.currency
    for i, key in enumerate(trade.hand_order):
        if key not in studio.project and Kind.PROJECT.file(key) not in broken:
            yield not_there("project", key, studio.project, ("hand_order", i))
    for i, parcel in enumerate(trade.shipping):
        yield from _amount(("shipping", i, "paid"), parcel.paid, currency)
        yield from _amount(("shipping", i, "charged"), parcel.charged, currency)
    prices = trade.prices
    yield from _amount(("prices", "fees", "fixed"), prices.fees.fixed, currency)
    yield from _amount(("staples", "order_cost"), trade.staples.order_cost, currency)
    if prices.ending is not None:
        yield from _amount(("prices", "ending", "step"), prices.ending.step, currency)
        yield from _amount(("prices", "ending", "tail"), prices.ending.tail, currency)


def _suppliers(studio: Studio, danglings: Mapping[str, list[Dangling]]) -> None:
    """What keeps a supplier, or one of its offers, out of every plan."""
    if not studio.suppliers:
        return
    from studio.core.buying.offers import OfferBook, problems_of

    book = OfferBook(studio.suppliers, studio.offers)
    places: dict[str, int] = {}
    place_of = []
    for offer in studio.offers:
        place_of.append(places.setdefault(offer.supplier, 0))
        places[offer.supplier] += 1
    for problem in problems_of(book, studio.library, studio.settings.currency):
        file = Kind.SUPPLIER.file(problem.supplier)
        path: Path = () if problem.offer is None else ("offer", place_of[problem.offer])
        found = "a supplier" if problem.offer is None else "an offer"
        allowed = f"{found} that can be planned with"
        danglings[file].append(Dangling(path, found, allowed, problem.text))


def _barcodes(studio: Studio, danglings: Mapping[str, list[Dangling]]) -> None:
    """Each barcode checks, and stands for one shade."""
    shown = [
        (yarn, i, shade)
        for yarn in studio.library.yarns
        for i, shade in enumerate(yarn.shades)
        if shade.barcodes
    ]
    if not shown:
        return
    from studio.core.buying.gtin import BarcodeError, gtin14

    first: dict[str, str] = {}
    for yarn, i, shade in shown:
        found = danglings[Kind.YARN.file(yarn.key)]
        for place, code in enumerate(shade.barcodes):
            path = ("shade", i, "barcodes", place)
            try:
                here = f"{yarn.name} {shade.code}"
                other = first.setdefault(gtin14(code), here)
            except BarcodeError as error:
                found.append(Dangling(path, code, "a number that checks", str(error)))
                continue
            if other != here:
                text = f"The barcode {code} is that of {other} too: a ball has one shade."
                found.append(Dangling(path, code, "a barcode of one shade", text))
