"""A quoted piece and its paper, with secrets that no customer may see."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from studio.core import booking
from studio.core.enquiry import Answer, ask, ground_of
from studio.core.model import (
    Border,
    Fringe,
    Length,
    Notion,
    Project,
    Stage,
    Studio,
    WeighIn,
)
from studio.core.trade_model import Customer, Figure, Payment, PaymentKind, WorkKind, WorkLog
from studio.papers.model import PaperKind, QuotePaper, quote_paper
from studio.papers.template import Wording
from tests.core.trading import TODAY, D, piece, studio

ILVA = Customer("ilva", "Ilva Q.", ("ilva@example.org", "12 Long Lane"), note="SENTINEL-NOTE")

THROW = piece(
    "throw", ("A", 40, ""), ("B", 20, ""), ("A", 40, ""), ("B", 10, ""),
    name="Moor throw",
    border=Border("B", 2, Length(D(2)), grams=D(20)),
    fringe=Fringe("A", 60, Length(D(24)), grams=D(20)),
    for_baby=True,
)  # fmt: skip


def quoted(
    project: Project = THROW, *others: Project, customer: Customer = ILVA
) -> tuple[Studio, Answer]:
    home = replace(studio(project, *others), customers=(customer,))
    answer = ask(ground_of(home, TODAY, without=project.key), project)
    assert answer.price is not None
    return booking.send_quote(home, project.key, answer.price, TODAY, date(2027, 4, 1)), answer


def paper(
    project: Project = THROW,
    customer: Customer = ILVA,
    wording: Wording | None = None,
    kind: PaperKind = PaperKind.QUOTE,
) -> QuotePaper:
    home, answer = quoted(project, customer=customer)
    return quote_paper(home.project[project.key], answer.plan, answer.demand, home, wording, kind)


SECRETS = {
    "cost of yarn": "8731.19",
    "margin": "8732.29",
    "hours": "8733.39",
    "rate": "8734.49",
    "cash": "8735.59",
    "minutes": "8736",
    "notion": "8737.69",
    "assumed": "SENTINEL-ASSUMED",
    "own note": "SENTINEL-OWN-NOTE",
    "stripe note": "SENTINEL-STRIPE",
    "log": "SENTINEL-LOG",
    "payment note": "SENTINEL-PAYMENT",
    "customer note": "SENTINEL-NOTE",
    "other customer": "SENTINEL-OTHER",
    "other piece": "SENTINEL-PIECE",
    "lot": "87391",
}


def with_secrets(kind: PaperKind = PaperKind.QUOTE) -> QuotePaper:
    """A paper of a piece whose every hidden figure and word can be told from all others."""
    other = piece("other", ("A", 10, ""), stage=Stage.QUOTED, customer="SENTINEL-OTHER",
                  name="SENTINEL-PIECE")  # fmt: skip
    home, answer = quoted(THROW, other)
    secret = SECRETS
    throw = home.project["throw"]
    quote = throw.quote
    assert quote is not None
    figures = tuple(
        Figure(code, code, D(secret[name]))
        for code, name in (
            ("yarn", "cost of yarn"), ("margin", "margin"), ("hours", "hours"), ("rate", "rate"),
            ("cash", "cash"), ("time", "minutes"),
        )
    )  # fmt: skip
    throw = replace(
        throw,
        quote=replace(quote, figures=figures, assumed=(secret["assumed"],)),
        note=secret["own note"],
        notions=(Notion("SENTINEL-OWN-NOTE", D(secret["notion"])),),
        stripes=tuple(replace(s, note=secret["stripe note"]) for s in throw.stripes),
        log=(WorkLog(D(secret["minutes"]), WorkKind.TASK, note=secret["log"]),),
        minutes=D(secret["minutes"]),
        payments=(Payment(PaymentKind.DEPOSIT, D(20), TODAY, secret["payment note"]),),
        weigh_ins=(WeighIn("A", 2, D(secret["cost of yarn"])),),
        booked=TODAY,
    )
    cost = replace(
        answer.plan.cost,
        used_yarn=D(secret["cost of yarn"]),
        cash_yarn=D(secret["cash"]),
        assumed=(secret["assumed"],),
    )
    runs = tuple(replace(r, lot=secret["lot"]) for r in answer.plan.runs)
    plan = replace(answer.plan, cost=cost, runs=runs)
    home = replace(home, projects=tuple(throw if p.key == "throw" else p for p in home.projects))
    home = replace(home, settings=replace(home.settings, rate_per_hour=D(secret["rate"])))
    return quote_paper(throw, plan, answer.demand, home, kind=kind)
