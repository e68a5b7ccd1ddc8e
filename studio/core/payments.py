"""Money that changed hands for a piece: deposits, balances, refunds, and what is still open."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import say
from studio.core.edits.places import put_project, refuse, the_project
from studio.core.model import HOLDING, Project, Stage, Studio
from studio.core.money import rounded
from studio.core.trade_model import Payment, PaymentKind

_NOUGHT = Decimal(0)


NOBODYS = frozenset({Stage.DECLINED, Stage.CANCELLED, Stage.IN_STOCK})
"""Stages at which no sale of the piece stands, so that what was paid for one is to go back."""


def agreed_total(project: Project) -> Decimal | None:
    """All that the customer owes for it: the quote's total, else the price of the sale."""
    if project.quote is not None:
        return project.quote.total
    return project.price


def agreed_deposit(project: Project) -> Decimal:
    """The deposit of its quote; nought where there is none."""
    return project.quote.deposit if project.quote is not None else _NOUGHT


def received(project: Project) -> Decimal:
    """What was paid, less what was given back: her income of it, whoever paid."""
    return credit(project) + sum(
        (p.amount for p in project.payments if p.kind is PaymentKind.KEPT), _NOUGHT
    )


def credit(project: Project) -> Decimal:
    """What of it counts for whoever has the piece now: not what she kept of a sale before."""
    return sum((p.amount if p.kind.comes_in else -p.amount for p in project.payments), _NOUGHT)


def to_give_back(project: Project) -> Decimal:
    """What was paid for a sale that came to nothing, and neither given back nor kept."""
    return credit(project) if project.stage in NOBODYS else _NOUGHT


def outstanding(project: Project) -> Decimal | None:
    """What the price leaves to pay; None where no price is agreed."""
    total = agreed_total(project)
    return None if total is None else total - credit(project)


def to_come(project: Project) -> Decimal | None:
    """What a customer owes: nothing before she has ordered, and nothing once it is called off."""
    owes = project.stage in HOLDING or project.stage is Stage.DELIVERED
    return outstanding(project) if owes else None


def pay(
    studio: Studio, key: str, kind: PaymentKind, amount: Decimal, on: date, note: str = ""
) -> Studio:
    """Note a payment; more than is agreed, or a refund of more than was paid, is refused.

    Only of a sale that came to nothing can money be kept.
    """
    piece = the_project(studio, key)
    currency = studio.settings.currency
    if not amount.is_finite() or amount <= 0:
        refuse(f"A payment of {amount} makes no sense; it is more than 0.")
    if amount != rounded(amount, currency):
        refuse(f"{amount} cannot be paid in {currency}: it has too many decimals.")
    paid = credit(piece)
    if not kind.comes_in:
        back = kind is PaymentKind.REFUND
        if not back and piece.stage not in NOBODYS:
            refuse(
                f"{piece.name} is at stage '{piece.stage.value}', so all that was paid counts for "
                "its price. Something is kept once it was cancelled, declined or came back."
            )
        if amount > paid:
            refuse(
                f"{say.money(paid, currency)} was paid for {piece.name}, so "
                f"{say.money(amount, currency)} cannot be {'given back' if back else 'kept'}."
            )
    else:
        _check_paid(piece, kind, amount, currency)
    payment = Payment(kind, rounded(amount, currency), on, note)
    return put_project(studio, replace(piece, payments=(*piece.payments, payment)))


def _check_paid(piece: Project, kind: PaymentKind, amount: Decimal, currency: str) -> None:
    total, left = agreed_total(piece), outstanding(piece)
    if total is None or left is None:
        return
    if kind is PaymentKind.DEPOSIT and amount > total:
        refuse(
            f"A deposit of {say.money(amount, currency)} is larger than the price of {piece.name}, "
            f"{say.money(total, currency)}."
        )
    if amount > left:
        refuse(
            f"{say.money(left, currency)} is left to pay for {piece.name}, not "
            f"{say.money(amount, currency)}."
        )
