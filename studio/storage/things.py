"""What one file holds as a value of the core, and which file holds what."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeAlias

from studio.core.buying.offers import (
    OfferBook,
)
from studio.core.frozen import dataclass
from studio.core.model import (
    Lot,
    Project,
    Purchase,
    Settings,
    Slot,
    Stitch,
    Studio,
    Swatch,
    Yarn,
)
from studio.core.trade_model import (
    Customer,
    Trade,
)
from studio.storage.kinds import Kind

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, slots=True)
class CustomerList:
    """What the file of the customers holds."""

    customers: tuple[Customer, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetColumns:
    """How the columns of one kind of spreadsheet were matched: field and head, and its dates."""

    columns: tuple[tuple[str, str], ...]
    dates: str = "year first"


@dataclass(frozen=True, slots=True)
class ColumnChoices:
    """What the file of the matched columns holds."""

    stash: SheetColumns | None = None
    prices: SheetColumns | None = None
    orders: SheetColumns | None = None


Thing: TypeAlias = (
    Settings
    | Trade
    | CustomerList
    | Yarn
    | Stitch
    | Swatch
    | tuple[Lot, ...]
    | OfferBook
    | Purchase
    | Project
    | ColumnChoices
)
"""What one file becomes: a stash file the lots of its yarn, a supplier's a book of its offers."""


def slot_order(slot: Slot) -> tuple[int, str]:
    """Slots stand in the order of their letters: A to Z, then AA."""
    return len(slot.letter), slot.letter


def settled(thing: Thing) -> Thing:
    """The thing with everything in order whose order a file does not state: slots and fibres."""
    match thing:
        case Project():
            return replace(thing, slots=tuple(sorted(thing.slots, key=slot_order)))
        case Yarn():
            return replace(thing, fibres=tuple(sorted(thing.fibres, key=lambda f: f.name)))
    return thing


STORED = frozenset(
    {
        "settings", "library", "stash", "projects", "customers", "trade", "suppliers", "offers",
        "unread",
    }
)  # fmt: skip
"""The parts of a studio that have files; which files could not be read is in their own state."""


def by_file(studio: Studio) -> dict[str, tuple[Kind, Thing]]:
    """Every file that this studio has, and what it holds; lots lie in the file of their yarn."""
    files: dict[str, tuple[Kind, Thing]] = {Kind.STUDIO.file(): (Kind.STUDIO, studio.settings)}
    if studio.trade != Trade():
        files[Kind.TRADE.file()] = (Kind.TRADE, studio.trade)
    if studio.customers:
        files[Kind.CUSTOMERS.file()] = (Kind.CUSTOMERS, CustomerList(studio.customers))
    keyed: tuple[tuple[Kind, Sequence[Yarn | Stitch | Swatch | Purchase | Project]], ...] = (
        (Kind.YARN, studio.library.yarns),
        (Kind.STITCH, studio.library.stitches),
        (Kind.SWATCH, studio.library.swatches),
        (Kind.PURCHASE, studio.stash.purchases),
        (Kind.PROJECT, studio.projects),
    )
    for kind, things in keyed:
        files.update({kind.file(thing.key): (kind, thing) for thing in things})
    lots: dict[str, list[Lot]] = {}
    for lot in studio.stash.lots:
        lots.setdefault(lot.yarn, []).append(lot)
    files.update({Kind.STASH.file(y): (Kind.STASH, tuple(group)) for y, group in lots.items()})
    for supplier in studio.suppliers:
        offers = tuple(offer for offer in studio.offers if offer.supplier == supplier.key)
        files[Kind.SUPPLIER.file(supplier.key)] = (Kind.SUPPLIER, OfferBook((supplier,), offers))
    return files
