"""What speaks against an enquiry as it is asked: a day that is past, a quote that has run out."""

from __future__ import annotations

from datetime import date

from studio.core import say
from studio.core.answers import Finding, Weight
from studio.core.model import Project


def asked_findings(trial: Project, today: date) -> tuple[Finding, ...]:
    """Findings about the question itself, beside those about the piece and its price."""
    found = []
    if trial.due is not None and trial.due < today:
        text = f"It is wanted for {say.date(trial.due)}, which is past. Agree another day."
        found.append(Finding("due-in-past", Weight.STOP, text, trial.key))
    if words := expired_words(trial, today):
        text = f"{words} Quoting it again takes today's price."
        found.append(Finding("quote-expired", Weight.CAUTION, text, trial.key))
    return tuple(found)


def expired_words(piece: Project, on: date) -> str:
    """That its quote had run out on this day though it binds her still; '' where it had not."""
    quote = piece.quote
    if quote is None or quote.valid_until >= on:
        return ""
    total = say.money(quote.total, quote.currency)
    return f"Its quote of {total} held until {say.date(quote.valid_until)}; booked, it stands."
