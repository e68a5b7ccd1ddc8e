"""Edits of what is typed of a parcel, before it is put on the shelf."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from studio.core.buying.delivery import Delivery
from studio.core.edits.purchases import check_days, the_purchase
from studio.core.model import Purchase, Stash, Studio


def set_parcel(studio: Studio, parcel: Delivery) -> Studio:
    """Keep what is typed of a parcel with its purchase; whether it can be so is told, not asked.

    What is typed half-way may well disagree with the order: it is refused when it is put on the
    shelf, and not before.
    """
    return _with_parcel(studio, parcel.purchase, parcel)


def drop_parcel(studio: Studio, purchase: str) -> Studio:
    """Forget what is typed of a parcel."""
    return _with_parcel(studio, purchase, None)


def set_arrival(studio: Studio, purchase: str, day: date) -> Studio:
    """Say when a purchase should arrive; what is typed of it stays."""
    old = the_purchase(studio, purchase)
    if old.arrives == day:
        return studio
    new = replace(old, arrives=day)
    check_days(new)
    return _put(studio, old, new)


def _with_parcel(studio: Studio, key: str, parcel: Delivery | None) -> Studio:
    old = the_purchase(studio, key)
    if old.parcel == parcel:
        return studio
    return _put(studio, old, replace(old, parcel=parcel))


def _put(studio: Studio, old: Purchase, new: Purchase) -> Studio:
    purchases = tuple(new if p is old else p for p in studio.stash.purchases)
    return replace(studio, stash=Stash(studio.stash.lots, purchases))
