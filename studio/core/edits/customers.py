"""Edits of the customers' file: adding, correcting and removing, and who a piece is for."""

from __future__ import annotations

from dataclasses import replace

from studio.core import say
from studio.core.edits.places import put_project, refuse, the_project
from studio.core.model import Studio
from studio.core.naming import fresh_key
from studio.core.trade_model import Customer


def add_customer(
    studio: Studio, name: str, contact: tuple[str, ...] = (), note: str = ""
) -> Studio:
    """Add a customer; pieces that name them so far only by these words are theirs from now on."""
    name = name.strip()
    _check_name(studio, name)
    key = fresh_key(name, studio.customer, "customer")
    new = Customer(key, name, contact, note)
    projects = tuple(
        replace(p, customer=key) if p.customer.casefold() == name.casefold() else p
        for p in studio.projects
    )
    return replace(studio, customers=(*studio.customers, new), projects=projects)


def set_customer(
    studio: Studio, key: str, name: str, contact: tuple[str, ...] = (), note: str = ""
) -> Studio:
    """Correct a customer; their key, which pieces name, stays."""
    old = _the_customer(studio, key)
    name = name.strip()
    _check_name(studio, name, but=key)
    new = replace(old, name=name, contact=contact, note=note)
    if new == old:
        return studio
    customers = tuple(new if c is old else c for c in studio.customers)
    return replace(studio, customers=customers)


def remove_customer(studio: Studio, key: str) -> Studio:
    """Drop a customer for whom there is no piece."""
    old = _the_customer(studio, key)
    theirs = [p.name for p in studio.projects if p.customer == key]
    if theirs:
        refuse(
            f"{old.name} stays in the file: {say.either(theirs[:3], 'and')} "
            f"{'is' if len(theirs) == 1 else 'are'} theirs."
        )
    return replace(studio, customers=tuple(c for c in studio.customers if c is not old))


def customer_key(studio: Studio, words: str) -> str:
    """The key of the customer of this name or key; other words stay as they are written."""
    words = words.strip()
    if words in studio.customer:
        return words
    wanted = words.casefold()
    return next((c.key for c in studio.customers if c.name.casefold() == wanted), words)


def set_customer_of(studio: Studio, project: str, words: str) -> Studio:
    """Say whom a piece is for, by name or key; nothing is for stock, or a gift."""
    piece = the_project(studio, project)
    return put_project(studio, replace(piece, customer=customer_key(studio, words)))


def _the_customer(studio: Studio, key: str) -> Customer:
    found = studio.customer.get(key)
    if found is None:
        refuse(f"There is no customer {key!r} in the file.")
    return found


def _check_name(studio: Studio, name: str, but: str = "") -> None:
    """Refuse no name, and one that another customer has."""
    if not name:
        refuse("A customer needs a name.")
    wanted = name.casefold()
    for other in studio.customers:
        if other.key != but and wanted in (other.name.casefold(), other.key.casefold()):
            refuse(f"There is a customer {other.name} already; add what tells the two apart.")
