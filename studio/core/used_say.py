"""Used yarn in words: what is to be noted lot by lot, what was noted, and what was taken."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from studio.core import say
from studio.core.edits.used import lot_g
from studio.core.frozen import dataclass
from studio.core.model import LotRef, Project, ShadeRef, Studio, Used, UsedFrom
from studio.core.used import ToNote, exact_g, lot_ref

NAMED = 3
"""Shades that are named one by one; more are counted."""

BY = {
    UsedFrom.WORKED_OUT: "worked out",
    UsedFrom.GIVEN: "as you gave it",
    UsedFrom.WEIGHED: "weighed",
}


@dataclass(frozen=True, slots=True)
class LotLine:
    """A lot that a piece may have used: what is worked out for it, and what it has.

    `has` is None where the lot is not in the stash any more.
    """

    ref: LotRef
    name: str
    worked_out: Decimal
    has: Decimal | None


def lot_lines(project: Project, notes: Sequence[ToNote], studio: Studio) -> tuple[LotLine, ...]:
    """A line for each lot that worked rows are known to have used, and for those that may be.

    Where nothing says which lot it was, every lot of the shade that is in the house may be; lots
    that were noted before come last.
    """
    found: dict[LotRef, Decimal] = {}
    for note in notes:
        if note.lot is not None:
            found[lot_ref(note.shade, note.lot)] = note.grams
    for note in notes:
        if note.lot is None:
            for lot in studio.stash.by_shade.get(note.shade, ()):
                found.setdefault(lot.ref, Decimal(0))
    for used in project.used:
        if studio.stash.lot(used.ref) is not None:
            found.setdefault(used.ref, Decimal(0))
    return tuple(_line(ref, grams, studio) for ref, grams in found.items())


def _line(ref: LotRef, grams: Decimal, studio: Studio) -> LotLine:
    lot = studio.stash.lot(ref)
    yarn = studio.library.yarn.get(ref.yarn)
    has = lot_g(lot, yarn) if lot is not None and yarn is not None else None
    return LotLine(ref, studio.library.shade_called(ref), grams, has)


def lot_words(ref: LotRef, studio: Studio) -> str:
    """'Lichen, lot 2207', or the shade alone where the yarn has no dye lots."""
    name = studio.library.shade_called(ref)
    return f"{name}, lot {ref.code}" if ref.code else name


def unsaid_words(notes: Iterable[ToNote], studio: Studio) -> str:
    """Which grams were worked from a lot that nobody wrote down; empty where there are none."""
    unsaid = [n for n in notes if n.lot is None]
    if not unsaid:
        return ""
    grams = [f"{exact_g(n.grams)} of {studio.library.shade_called(n.shade)}" for n in unsaid]
    return (
        f"Nothing says which lot worked {say.either(grams, 'and')}: put it beside the lot it was."
    )


def to_note_words(notes: Sequence[ToNote], studio: Studio) -> str:
    """'60 g of Rust and 20 g of Tide'; empty where nothing is to be noted."""
    grams: dict[ShadeRef, Decimal] = {}
    for note in notes:
        grams[note.shade] = grams.get(note.shade, Decimal(0)) + note.grams
    names = [f"{exact_g(g)} of {studio.library.shade_called(ref)}" for ref, g in grams.items()]
    if len(names) > NAMED:
        names = [*names[: NAMED - 1], f"{len(names) - NAMED + 1} more shades"]
    return say.either(names, "and")


def noted_words(used: Used, studio: Studio) -> str:
    """'60 g of Rust, lot x'."""
    return f"{exact_g(used.grams)} of {lot_words(used.ref, studio)}"


def how_words(used: Used, currency: str) -> str:
    """How she knows, when, and what it cost."""
    paid = "price not known" if used.paid is None else say.money(used.paid, currency)
    day = say.date(used.on) if used.on else ""
    return ", ".join(filter(None, (BY[used.by], day, paid)))


def taken_words(notes: Sequence[Used], currency: str) -> str:
    """What was noted in one go: 'Noted: 80 g used, paid 5.20 EUR.'"""
    return f"Noted: {sum_words(notes, currency)}"


def sum_words(notes: Sequence[Used], currency: str) -> str:
    """What several notes come to: '80 g used, paid 5.20 EUR.'"""
    grams = sum((n.grams for n in notes), Decimal(0))
    paid = [n.paid for n in notes if n.paid is not None]
    whole = len(paid) == len(notes)
    money = f"paid {say.money(sum(paid, Decimal(0)), currency)}" if whole else "price not known"
    return f"{exact_g(grams)} used, {money}."
