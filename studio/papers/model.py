"""What a customer may see of a piece: the one model that every paper is printed from.

It holds words and amounts that are meant for the customer and nothing else. Cost, margin, hours,
lots, notes and other customers have no field here, so no printer can show them.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum

from studio.core import clean, say
from studio.core.answers import ProjectPlan
from studio.core.demand import Demand
from studio.core.frozen import dataclass
from studio.core.headline import customer_name
from studio.core.labels import care_of, cautions_of, fibre_words
from studio.core.model import Library, Project, Studio
from studio.core.payments import credit
from studio.core.picture import ClothPicture, picture_of
from studio.core.trade_model import Quote
from studio.errors import StudioError
from studio.papers.template import DEFAULT, Wording, read_wording

OPEN_DATE = "a day to be agreed"


class PaperError(StudioError):
    """A paper that cannot be made yet."""

    title = "No paper yet"


class PaperKind(StrEnum):
    """The papers a customer gets."""

    QUOTE = "quote"
    CONFIRMATION = "confirmation"


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the paper: what it is, and what it says."""

    label: str
    text: str


@dataclass(frozen=True, slots=True)
class Colour:
    """A shade in the design: its name, what the screen shows of it, and its slots."""

    name: str
    colours: tuple[str, ...]
    letters: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuotePaper:
    """A quote or an order confirmation, ready to be printed in any form."""

    kind: PaperKind
    title: str
    studio: str
    customer: tuple[str, ...]
    opening: tuple[str, ...]
    picture: ClothPicture
    picture_words: str
    facts: tuple[Entry, ...]
    colours: tuple[Colour, ...]
    price: tuple[Entry, ...]
    total: Entry
    payment: tuple[Entry, ...]
    cautions: tuple[str, ...]
    closing: tuple[str, ...]
    terms: tuple[str, ...]
    signature: tuple[str, ...]
    on: date


def _colours(project: Project, library: Library) -> tuple[Colour, ...]:
    """The shades of the design in the order in which they are worked, each once."""
    letters = [s.slot for s in project.stripes]
    letters += [run.slot for run in (project.border, project.fringe) if run is not None]
    found: dict[str, Colour] = {}
    for letter in dict.fromkeys(letters):
        slot = project.slot(letter)
        shade = library.shade.get(slot.shade_ref) if slot else None
        yarn = library.yarn.get(slot.yarn) if slot else None
        if shade is not None and yarn is not None:
            name = clean.line(f"{shade.name}, {yarn.name}")
            before = found[name].letters if name in found else ()
            found[name] = Colour(name, shade.colours, (*before, letter))
    return tuple(found.values())


def _price(quote: Quote) -> tuple[tuple[Entry, ...], Entry]:
    """The lines of the price and their total, with tax on it or in it as she sells."""

    def money(amount: Decimal) -> str:
        return say.money(amount, quote.currency)

    entries = [Entry("Blanket", money(quote.price))]
    if quote.shipping:
        entries.append(Entry("Shipping", money(quote.shipping)))
    rate = say.percent(quote.tax_rate, 2)
    if quote.tax and not quote.tax_inclusive:
        entries.append(Entry(f"Tax, {rate}", money(quote.tax)))
    total = money(quote.total)
    if quote.tax and quote.tax_inclusive:
        total = f"{total} (with {money(quote.tax)} tax, {rate})"
    return tuple(entries), Entry("Total", total)


def _payment(project: Project, quote: Quote, kind: PaperKind) -> tuple[Entry, ...]:
    def money(amount: Decimal) -> str:
        return say.money(amount, quote.currency)

    paid = credit(project)
    if kind is PaperKind.CONFIRMATION and paid > 0:
        return (
            Entry("Received", money(paid)),
            Entry("Balance", money(quote.total - paid)),
        )
    if not quote.deposit:
        return ()
    return (
        Entry("Deposit", money(quote.deposit)),
        Entry("Balance", money(quote.balance)),
    )


def _ready(project: Project, quote: Quote, kind: PaperKind) -> str:
    """The day it is promised for: of a quote the one it was sent with, then the agreed one."""
    day = quote.ready_by if kind is PaperKind.QUOTE else project.due or quote.ready_by
    return say.date(day) if day is not None else OPEN_DATE


def _facts(
    project: Project, plan: ProjectPlan, demand: Demand, studio: Studio, ready: str
) -> tuple[tuple[Entry, ...], str]:
    """Size, stripes, fibres, care and delivery, and the size alone."""
    unit = studio.settings.length_unit
    size = plan.size
    width, length = (
        (size.width_cm, size.length_cm) if size else (project.width.cm, project.length.cm)
    )
    measured = f"about {say.size(width, length, unit)}"
    made_of = clean.line(fibre_words(demand, studio.library, project.used))
    care = " ".join(clean.line(c) for c in care_of(demand, studio.library, project.used))
    facts = [Entry("Size", measured), Entry("Design", say.count(len(project.stripes), "stripe"))]
    if project.border is not None:
        facts.append(Entry("Border", say.count(project.border.rounds, "round")))
    if project.fringe is not None:
        facts.append(Entry("Fringe", "along both ends"))
    if made_of:
        facts.append(Entry("Fibres", made_of))
    if care:
        facts.append(Entry("Care", care))
    facts.append(Entry("Ready by", ready))
    facts.append(Entry("Delivery", "collected" if project.collected else "sent as a parcel"))
    return tuple(facts), measured


def _fields(project: Project, quote: Quote, studio: Studio) -> dict[str, str]:
    """What the wording may name of the quote and the piece, by field."""

    def money(amount: Decimal) -> str:
        return say.money(amount, quote.currency)

    return {
        "currency": quote.currency,
        "deposit": money(quote.deposit),
        "on": say.date(quote.on),
        "piece": clean.line(project.name),
        "price": money(quote.price),
        "shipping": money(quote.shipping),
        "studio": clean.line(studio.settings.name),
        "total": money(quote.total),
        "valid_until": say.date(quote.valid_until),
    }


def quote_paper(
    project: Project,
    plan: ProjectPlan,
    demand: Demand,
    studio: Studio,
    wording: Wording | None = None,
    kind: PaperKind = PaperKind.QUOTE,
) -> QuotePaper:
    """The customer's paper, from the quote as it was frozen; raises PaperError without one."""
    quote = project.quote
    if quote is None:
        raise PaperError(f"{project.name} has no quote yet: send one first.")
    words = wording or read_wording(DEFAULT)
    known = studio.customer.get(project.customer)
    named = clean.line(customer_name(project, studio))
    ready = _ready(project, quote, kind)
    facts, measured = _facts(project, plan, demand, studio, ready)
    entries, total = _price(quote)
    payment = _payment(project, quote, kind)
    due = {e.label: e.text for e in payment}
    fields = _fields(project, quote, studio) | {
        "balance": due.get("Balance", say.money(quote.total, quote.currency)),
        "customer": named or "customer",
        "ready_by": ready,
        "size": measured,
    }

    def text(section: str) -> tuple[str, ...]:
        return clean.lines(words.text(section, fields))

    dates = Entry("Date", say.date(quote.on))
    if kind is PaperKind.QUOTE:
        facts = (dates, Entry("Valid until", say.date(quote.valid_until)), *facts)
    elif project.booked is not None:
        facts = (Entry("Ordered", say.date(project.booked)), *facts)
    contact = tuple(clean.line(c) for c in known.contact) if known else ()
    colours = _colours(project, studio.library)
    shown = say.either([c.name for c in colours], "and") or "its yarns"
    return QuotePaper(
        kind=kind,
        title=clean.line(words.text(f"{kind.value} title", fields)),
        studio=fields["studio"],
        customer=(named, *contact) if named else contact,
        opening=text(f"{kind.value} opening"),
        picture=picture_of(project, plan, studio.library),
        picture_words=f"Drawing of the blanket, {measured}: stripes in {shown}",
        facts=facts,
        colours=colours,
        price=entries,
        total=total,
        payment=payment,
        cautions=tuple(c.text for c in cautions_of(project) if not c.for_maker),
        closing=text(f"{kind.value} closing"),
        terms=text("terms"),
        signature=text("signature"),
        on=project.booked or quote.on if kind is PaperKind.CONFIRMATION else quote.on,
    )
