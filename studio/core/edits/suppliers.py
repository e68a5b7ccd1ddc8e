"""Edits of suppliers and of what they offer.

What is wrong with an offer is told by the rules that keep a faulty one out of every plan: here it
is refused before it is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from studio.core.buying.offers import (
    Offer,
    OfferBook,
    OfferProblem,
    Supplier,
    problems_of,
    supplier_problems,
)
from studio.core.edits.places import counted, refuse
from studio.core.model import Studio
from studio.core.naming import fresh_key


def the_supplier(studio: Studio, key: str) -> Supplier:
    """The supplier with this key."""
    found = next((s for s in studio.suppliers if s.key == key), None)
    if found is None:
        refuse(f"There is no supplier {key!r}.")
    return found


def offers_of(studio: Studio, supplier: str) -> tuple[int, ...]:
    """The offers of a supplier, by their places among all."""
    return tuple(at for at, offer in enumerate(studio.offers) if offer.supplier == supplier)


def supplier_key(studio: Studio, name: str) -> str:
    """A key for a new supplier of this name."""
    return fresh_key(name, {s.key for s in studio.suppliers}, "supplier")


def add_supplier(studio: Studio, new: Supplier) -> Studio:
    """Add a supplier; what they offer follows."""
    if not new.key or any(s.key == new.key for s in studio.suppliers):
        refuse(f"There is a supplier {new.key!r} already; choose another name.")
    _check_supplier(studio, new)
    return replace(studio, suppliers=(*studio.suppliers, new))


def set_supplier(studio: Studio, new: Supplier) -> Studio:
    """Correct the supplier of that key; their offers stay."""
    old = the_supplier(studio, new.key)
    if new == old:
        return studio
    _check_supplier(studio, new)
    return replace(studio, suppliers=tuple(new if s is old else s for s in studio.suppliers))


def remove_supplier(studio: Studio, key: str) -> Studio:
    """Take a supplier out with all their offers; not while something is on order there."""
    old = the_supplier(studio, key)
    words = (old.key.casefold(), old.name.casefold())
    open_there = [p for p in studio.stash.purchases if p.supplier.casefold() in words]
    waiting = sum(n.balls for p in open_there for n in p.lines)
    if waiting:
        verb = "is" if waiting == 1 else "are"
        refuse(
            f"{counted(waiting, 'ball')} {verb} on order from {old.name}: "
            "receive them, or close the order, before the supplier is removed."
        )
    return replace(
        studio,
        suppliers=tuple(s for s in studio.suppliers if s is not old),
        offers=tuple(offer for offer in studio.offers if offer.supplier != key),
    )


def add_offer(studio: Studio, new: Offer) -> Studio:
    """Add an offer behind the others of its supplier."""
    the_supplier(studio, new.supplier)
    own = offers_of(studio, new.supplier)
    place = own[-1] + 1 if own else len(studio.offers)
    offers = (*studio.offers[:place], new, *studio.offers[place:])
    _check_offer(studio, offers, place)
    return replace(studio, offers=offers)


def set_offer(studio: Studio, at: int, new: Offer) -> Studio:
    """Correct the offer at this place among all; it stays its supplier's."""
    old = _the_offer(studio, at)
    if new == old:
        return studio
    if new.supplier != old.supplier:
        refuse("An offer stays with its supplier: add it to the other one.")
    offers = (*studio.offers[:at], new, *studio.offers[at + 1 :])
    _check_offer(studio, offers, at)
    return replace(studio, offers=offers)


def remove_offer(studio: Studio, at: int) -> Studio:
    """Take an offer out."""
    _the_offer(studio, at)
    return replace(studio, offers=(*studio.offers[:at], *studio.offers[at + 1 :]))


def _the_offer(studio: Studio, at: int) -> Offer:
    if not 0 <= at < len(studio.offers):
        refuse("This offer is not there any more.")
    return studio.offers[at]


def _check_supplier(studio: Studio, new: Supplier) -> None:
    """Refuse a name that is taken, and terms that no plan could use."""
    if not new.name.strip():
        refuse("A supplier needs a name.")
    for other in studio.suppliers:
        if other.key != new.key and other.name.casefold() == new.name.strip().casefold():
            refuse(f"There is a supplier called {other.name} already; choose another name.")
    for text in supplier_problems(new, studio.settings.currency):
        refuse(text)


def _check_offer(studio: Studio, offers: Sequence[Offer], at: int) -> None:
    """Refuse an offer that is faulty, or makes another one so."""

    def problems(offers: Sequence[Offer]) -> tuple[OfferProblem, ...]:
        book = OfferBook(studio.suppliers, tuple(offers))
        return problems_of(book, studio.library, studio.settings.currency)

    before = {found.text for found in problems(studio.offers)}
    for found in problems(offers):
        if found.offer == at or (found.offer is not None and found.text not in before):
            refuse(found.text)
