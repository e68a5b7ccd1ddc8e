"""What is done with a piece of the order book: stages, payments, sales, returns, papers."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.core import booking, order_say, payments, say
from studio.core.edits.customers import customer_key
from studio.core.model import Project, Stage, Studio
from studio.core.order_say import Doing
from studio.core.trade_model import PaymentKind
from studio.papers.model import PaperKind
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.dialogs.piece import date_entry, figure
from studio.ui.dialogs.used import offer_words
from studio.ui.enquiry.taking import to_stage
from studio.ui.orderbook.paper import show_paper, write_paper

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NOTES = {
    Doing.TRY: "what taking it would mean",
    Doing.BOOK: "its lots are held from now on",
    Doing.ON: "and since which day",
    Doing.PAY: "deposit or balance received",
    Doing.REFUND: "of what was received",
    Doing.KEEP: "by what was agreed, of a sale that came to nothing",
    Doing.SELL: "who, and at what price",
    Doing.TAKE_BACK: "it is in stock then, and nobody's",
    Doing.DECLINE: "the quote is not taken",
    Doing.CANCEL: "its yarn is free again",
    Doing.QUOTE_PAPER: "as the customer reads it",
    Doing.WRITE_QUOTE: "text, Markdown, page or PDF",
    Doing.CONFIRMATION: "as the customer reads it",
    Doing.WRITE_CONFIRMATION: "text, Markdown, page or PDF",
    Doing.CUSTOMER: "a customer of yours, or somebody new",
    Doing.USED: "it leaves its lots",
    Doing.CLOSING: "grams, hours and money",
}


async def choose_doing(app: StripewrightApp, project: Project) -> None:
    """Choose, then do it."""
    rows = [(doing, doing.value, NOTES[doing]) for doing in order_say.doings(project)]
    if not rows:
        app.say(f"Nothing is left to do with {project.name}.")
        return
    found = await choose(app, project.name, rows, verb="do it")
    if isinstance(found, Doing):
        await do(app, project, found)


async def do(app: StripewrightApp, project: Project, doing: Doing) -> None:
    """Do one thing with a piece."""
    match doing:
        case Doing.TRY:
            await app.begin("enquiry", project.key)
        case Doing.PAY | Doing.REFUND | Doing.KEEP:
            await _pay(app, project, doing)
        case Doing.SELL:
            await _sell(app, project)
        case Doing.BOOK:
            await to_stage(app, project.key, Stage.BOOKED)
        case Doing.CUSTOMER:
            await app.begin("customer", project.key)
        case Doing.USED:
            await app.begin("yarn_used", project.key)
        case Doing.CLOSING:
            await app.begin("closing", project.key)
        case Doing.QUOTE_PAPER | Doing.CONFIRMATION:
            await show_paper(app, project, _KINDS[doing])
        case Doing.WRITE_QUOTE | Doing.WRITE_CONFIRMATION:
            await write_paper(app, project, _KINDS[doing])
        case _:
            await _to_stage(app, project, doing)


_KINDS: dict[Doing, PaperKind] = {
    Doing.QUOTE_PAPER: PaperKind.QUOTE,
    Doing.WRITE_QUOTE: PaperKind.QUOTE,
    Doing.CONFIRMATION: PaperKind.CONFIRMATION,
    Doing.WRITE_CONFIRMATION: PaperKind.CONFIRMATION,
}

_EDITS: dict[Doing, Callable[[Studio, str, date], Studio]] = {
    Doing.ON: booking.move_on,
    Doing.DECLINE: booking.decline,
    Doing.CANCEL: booking.cancel,
    Doing.TAKE_BACK: booking.take_back,
}


async def _to_stage(app: StripewrightApp, project: Project, doing: Doing) -> None:
    """Ask for the day, which is today unless another is typed, and bring it to its stage."""
    today = clock.today()
    fields = [Field("on", "since", date_entry(today), entries.day("The day", today))]
    title = f"{project.name}: {doing.value}"
    note = _ENDS.get(doing, "")
    name = f"{doing} {project.key}"
    values = await fill_in(app, name, title, fields, note=note, verb="do it")
    if values is not None:
        bring(app, project, doing, values["on"])  # type: ignore[arg-type]


_ENDS = {
    Doing.CANCEL: "Its yarn is free again. What was paid stays until it is given back.",
    Doing.DECLINE: "The quote is kept as it was sent.",
    Doing.TAKE_BACK: "It is in stock then, and can be sold again. What was paid stays until it is "
    "given back.",
}


def bring(app: StripewrightApp, project: Project, doing: Doing, on_day: date) -> None:
    """Bring a piece to the stage that a doing means, and say what it is now."""
    change = _EDITS[doing]
    if not app.edit(
        f"{project.name}: {doing.value}", lambda s: change(s, project.key, on_day), project.key
    ):
        return
    after = app.view.studio.project[project.key]
    since = "today" if on_day == clock.today() else say.date(on_day)
    words = f"{project.name}: {after.stage.value} since {since}."
    paid = payments.credit(after)
    if doing in (Doing.DECLINE, Doing.CANCEL, Doing.TAKE_BACK) and paid > 0:
        currency = app.view.settings.currency
        held = say.money(paid, currency)
        words += f" {held} was received for it; Enter gives it back, or notes what you keep."
    elif after.stage in (Stage.FINISHING, Stage.DELIVERED, Stage.IN_STOCK):
        left = payments.to_come(after) if after.stage is Stage.DELIVERED else None
        if left:
            words += f" {say.money(left, app.view.settings.currency)} is still to come."
        words = f"{words} {offer_words(app, project.key)}".rstrip()
    app.say(words)


KINDS = ((PaymentKind.DEPOSIT, "deposit"), (PaymentKind.BALANCE, "balance"))


_OUT = {
    Doing.REFUND: (PaymentKind.REFUND, "given back", "Given back for"),
    Doing.KEEP: (PaymentKind.KEPT, "kept", "Kept of what was paid for"),
}


async def _pay(app: StripewrightApp, project: Project, doing: Doing) -> None:
    """Note money received, given back, or kept of a sale that came to nothing."""
    kind, amount = order_say.next_payment(project)
    out, done, head = _OUT.get(doing, (None, "received", "Received for"))
    if out is not None:
        kind, amount = out, payments.credit(project)
    currency, today = app.view.settings.currency, clock.today()
    fields = [
        Field("amount", f"amount {currency}", figure(amount),
              entries.number("The amount", above=True)),
        Field("on", "on", date_entry(today), entries.day("The day", today)),
        Field("note", "note"),
    ]  # fmt: skip
    if out is None:
        fields.insert(0, Field("kind", "what for", kind, PaymentKind, options=KINDS))
    values = await fill_in(app, f"pay {project.key} {doing}", f"{head} {project.name}", fields)
    if values is None:
        return
    kind = out or PaymentKind(str(values["kind"]))
    paid, note = Decimal(str(values["amount"])), str(values["note"])
    on_day: date = values["on"]  # type: ignore[assignment]
    label = f"{say.money(paid, currency)} {done}"
    if app.edit(
        label, lambda s: payments.pay(s, project.key, kind, paid, on_day, note), project.key
    ):
        left = payments.to_come(app.view.studio.project[project.key])
        words = "" if left is None else f" {say.money(left, currency)} is still to come."
        app.say(f"{label.capitalize() if not label[0].isdigit() else label}.{words}")


def _known(app: StripewrightApp) -> str:
    """A hint that names a few customers."""
    names = [c.name for c in app.view.studio.customers[:3]]
    return f"a name; known are {', '.join(names)}" if names else "a name"


async def _sell(app: StripewrightApp, project: Project) -> None:
    """A piece from stock finds its buyer."""
    currency, today = app.view.settings.currency, clock.today()
    fields = [
        Field("customer", "to", "", entries.text("Who buys it"), _known(app)),
        Field("price", f"price {currency}", figure(project.price), entries.number("The price")),
        Field("paid", "paid at once", "yes", lambda text: text == "yes",
              options=(("yes", "yes"), ("no", "no"))),
        Field("on", "on", date_entry(today), entries.day("The day", today)),
    ]  # fmt: skip
    values = await fill_in(app, f"sell {project.key}", f"Sell {project.name}", fields)
    if values is None:
        return
    customer, price = str(values["customer"]), Decimal(str(values["price"]))
    key = customer_key(app.view.studio, customer)
    on_day: date = values["on"]  # type: ignore[assignment]

    def sold(studio: Studio) -> Studio:
        after = booking.sell(studio, project.key, key, price, on_day)
        if not values["paid"] or not price:
            return after
        return payments.pay(after, project.key, PaymentKind.BALANCE, price, on_day)

    if app.edit(f"{project.name} sold", sold, project.key):
        app.say(f"{project.name} is sold to {customer} for {say.money(price, currency)}.")
