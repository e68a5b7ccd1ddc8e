"""Edits of open purchases: noting one that was made elsewhere, changing it, calling it off.

Whom its yarn is for is tied by `studio.core.buying.noting`; here only ties that lead nowhere go.
"""

from __future__ import annotations

from dataclasses import replace

from studio.core import say
from studio.core.buying.offers import is_money, named_supplier
from studio.core.edits.places import check_shade, claimed, put_run, refuse, runs_of, shade_of
from studio.core.model import (
    Claim,
    ClaimKind,
    OrderLine,
    Project,
    Purchase,
    ShadeRef,
    Stash,
    Studio,
)
from studio.core.naming import fresh_key
from studio.core.ties import retied

MOST_BALLS = 10_000
"""More balls in one line are taken for mistyped."""


def the_purchase(studio: Studio, key: str) -> Purchase:
    """The open purchase of this key."""
    found = studio.stash.purchase.get(key)
    if found is None:
        refuse(f"There is no open purchase {key!r}.")
    return found


def purchase_key(studio: Studio, new: Purchase) -> str:
    """A key for a purchase that is not there yet: its supplier and the day."""
    day = new.ordered or new.arrives
    return fresh_key(f"{new.supplier} {day.isoformat()}", studio.stash.purchase, "order")


def note_order(studio: Studio, new: Purchase) -> Studio:
    """Add an open purchase; without a key it gets one of its own."""
    new = replace(new, key=new.key or purchase_key(studio, new))
    if new.key in studio.stash.purchase:
        refuse(f"There is an open purchase {new.key!r} already.")
    _check(studio, new)
    new = replace(new, supplier=_supplier_key(studio, new.supplier))
    return _with(studio, (*studio.stash.purchases, new))


def set_order(studio: Studio, new: Purchase) -> Studio:
    """Correct the open purchase of that key; ties on a shade that left it go."""
    old = the_purchase(studio, new.key)
    if new == old:
        return studio
    _check(studio, new)
    if new.supplier != old.supplier:
        new = replace(new, supplier=_supplier_key(studio, new.supplier))
    studio = _with(studio, tuple(new if p is old else p for p in studio.stash.purchases))
    left = _shades(old) - _shades(new)
    return _untied(studio, new.key, left) if left else studio


def add_line(studio: Studio, key: str, line: OrderLine) -> Studio:
    """Put one more line onto an open purchase, of a shade that it does not have yet."""
    old = the_purchase(studio, key)
    if any((n.yarn, n.shade) == (line.yarn, line.shade) for n in old.lines):
        refuse("That shade is on this order already: change the balls of its line.")
    return set_order(studio, replace(old, lines=(*old.lines, line)))


def set_line(studio: Studio, key: str, at: int, line: OrderLine) -> Studio:
    """Correct a line of an open purchase; its shade stays."""
    old = the_purchase(studio, key)
    was = _the_line(old, at)
    if (line.yarn, line.shade) != (was.yarn, was.shade):
        refuse("A line stays with its shade: take it out, and add one of the other shade.")
    return set_order(studio, replace(old, lines=(*old.lines[:at], line, *old.lines[at + 1 :])))


def remove_line(studio: Studio, key: str, at: int) -> Studio:
    """Take a line out of an open purchase; the last one is called off with its order."""
    old = the_purchase(studio, key)
    _the_line(old, at)
    if len(old.lines) == 1:
        return call_off(studio, key)
    return set_order(studio, replace(old, lines=(*old.lines[:at], *old.lines[at + 1 :])))


def call_off(studio: Studio, key: str) -> Studio:
    """Take an open purchase away with all ties on it; not while bags of it are typed in."""
    old = the_purchase(studio, key)
    if old.parcel is not None and old.parcel.bags:
        refuse(
            f"{say.count(len(old.parcel.bags), 'bag')} of this order came already: put them on the "
            "shelf and say that the rest will not come, or drop them first."
        )
    studio = _with(studio, tuple(p for p in studio.stash.purchases if p is not old))
    return _untied(studio, key, None)


def _the_line(purchase: Purchase, at: int) -> OrderLine:
    if not 0 <= at < len(purchase.lines):
        refuse("This line is not on the order any more.")
    return purchase.lines[at]


def _shades(purchase: Purchase) -> set[ShadeRef]:
    return {ShadeRef(n.yarn, n.shade) for n in purchase.lines}


def _with(studio: Studio, purchases: tuple[Purchase, ...]) -> Studio:
    return replace(studio, stash=Stash(studio.stash.lots, purchases))


def _supplier_key(studio: Studio, word: str) -> str:
    """The key of one of her suppliers, else the name as it is."""
    found = named_supplier(studio.suppliers, word.strip())
    return found.key if found else word.strip()


def _check(studio: Studio, new: Purchase) -> None:
    """Refuse what no order can be."""
    if not new.supplier.strip():
        refuse("An order needs its supplier: one of yours, or any name.")
    if not new.lines:
        refuse("An order has at least one line: call it off instead.")
    check_days(new)
    for line in new.lines:
        _check_line(studio, line)


def check_days(new: Purchase) -> None:
    """Refuse an order that arrives before it was made."""
    if new.ordered is not None and new.arrives < new.ordered:
        refuse(
            f"It cannot arrive on {say.date(new.arrives)}, before it was ordered on "
            f"{say.date(new.ordered)}."
        )


def _check_line(studio: Studio, line: OrderLine) -> None:
    check_shade(studio, ShadeRef(line.yarn, line.shade))
    if not 1 <= line.balls <= MOST_BALLS:
        refuse(f"{line.balls:,} balls make no sense: a line has 1 to {MOST_BALLS:,}.")
    currency = studio.settings.currency
    if line.price is not None and not is_money(line.price, currency):
        refuse(f"A price of {line.price} is no amount in {currency}: it is 0 or more.")


def _untied(studio: Studio, key: str, shades: set[ShadeRef] | None) -> Studio:
    """The studio without ties on a purchase: of these shades, or all of them."""

    def passed(tie: Claim) -> Claim | None:
        return None if tie.kind is ClaimKind.ORDER and tie.on == key else tie

    def freed(piece: Project) -> Project:
        for _, index, run in runs_of(piece):
            ref = shade_of(piece, run.slot)
            if run.claim is not None and (shades is None or ref in shades):
                new = claimed(run, retied(run.claim, passed))
                piece = piece if new is run else put_run(piece, index, new)
        return piece

    return replace(studio, projects=tuple(freed(p) for p in studio.projects))
