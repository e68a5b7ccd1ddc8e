"""Edits of the yarn that a piece has used: it leaves its lot, left-overs return as part balls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core.edits.places import put_project, refuse, shade_name, the_lot, the_project
from studio.core.edits.stash import by_age, fewer_balls
from studio.core.frozen import dataclass
from studio.core.model import Batch, Lot, LotRef, Project, Stash, Studio, Used, UsedFrom, Yarn
from studio.core.money import rounded
from studio.core.prices import PriceFrom, landed_price, paid
from studio.core.used import exact_g, is_whole
from studio.core.used_seen import weigh_in_of

MOST_G = 100_000
"""Far over any one piece, so that no true figure is refused."""


@dataclass(frozen=True, slots=True)
class Take:
    """Grams that a piece has used of a lot, and how she knows.

    `out` where they have left the lot already: used up by hand, or the lot is gone.
    """

    ref: LotRef
    grams: Decimal
    by: UsedFrom = UsedFrom.WORKED_OUT
    out: bool = False


@dataclass(frozen=True, slots=True)
class Opened:
    """A lot after grams were taken out of it, and what those were bought for, unrounded."""

    lot: Lot
    paid: Decimal | None


def lot_g(lot: Lot, yarn: Yarn) -> Decimal:
    """All that is in a lot, by label and scale."""
    return lot.balls * yarn.ball_g + sum(lot.parts_g, Decimal(0))


def take_used(
    studio: Studio, project: str, takes: Sequence[Take], on: date | None = None
) -> Studio:
    """Note what a piece has used; its yarn leaves the lots unless it is out of them already.

    What was weighed is kept as a weigh-in too, where it tells of one stripe of one slot.
    """
    piece = the_project(studio, project)
    notes: list[Used] = []
    for take in takes:
        _check_grams(take.grams)
        studio, cost = _taken(studio, take.ref, take.grams, from_lot=not take.out)
        notes.append(
            Used(
                *take.ref,
                grams=take.grams,
                paid=cost,
                on=on,
                by=take.by,
                rows=piece.rows_done,
                whole=is_whole(piece),
            )
        )
    if not notes:
        return studio
    seen = [w for n in notes if (w := weigh_in_of(piece, n, studio.settings)) is not None]
    after = replace(piece, used=(*piece.used, *notes), weigh_ins=(*piece.weigh_ins, *seen))
    return put_project(studio, after)


def set_used(
    studio: Studio, project: str, at: int, grams: Decimal, *, from_lot: bool = True
) -> Studio:
    """Put right how much was used; the difference leaves its lot or returns to it.

    Nothing used takes the note out. What it cost follows the grams.
    """
    piece = the_project(studio, project)
    old = _note(piece, at)
    if grams == old.grams:
        return studio
    if grams == 0:
        return drop_used(studio, project, at, to_lot=from_lot)
    _check_grams(grams)
    more = grams - old.grams
    if more > 0:
        studio, cost = _taken(studio, old.ref, more, from_lot=from_lot)
        both = None if old.paid is None or cost is None else old.paid + cost
    else:
        studio = _returned(studio, old.ref, -more) if from_lot else studio
        both = None
        if old.paid is not None:
            both = rounded(old.paid * grams / old.grams, studio.settings.currency)
    by = UsedFrom.GIVEN if old.by is UsedFrom.WORKED_OUT else old.by
    new = replace(old, grams=grams, paid=both, by=by)
    return put_project(studio, replace(piece, used=_put(piece.used, at, (new,))))


def drop_used(studio: Studio, project: str, at: int, *, to_lot: bool = True) -> Studio:
    """Take a note out; its yarn returns to the lot as part balls of at most a ball each."""
    piece = the_project(studio, project)
    old = _note(piece, at)
    if to_lot:
        studio = _returned(studio, old.ref, old.grams)
    return put_project(studio, replace(piece, used=_put(piece.used, at, ())))


def used_of_left(studio: Studio, ref: LotRef, grams: Decimal, balls: int = 0) -> Decimal:
    """What was used of a lot of which so many grams are left, beside so many full balls.

    Refuses more than it had.
    """
    lot = the_lot(studio, ref)
    yarn = studio.library.yarn[ref.yarn]
    had, left = lot_g(lot, yarn), grams + balls * yarn.ball_g
    if not left.is_finite() or left < 0:
        refuse(f"{left} g cannot be left of lot {lot.code}: it is 0 g or more.")
    if left > had:
        refuse(
            f"Lot {lot.code} of {shade_name(studio, ref)} had {exact_g(had)}, so "
            f"{exact_g(left)} cannot be left of it: correct the lot first."
        )
    return had - left


def opened(lot: Lot, yarn: Yarn, grams: Decimal, average: Decimal | None) -> Opened:
    """The lot with so many grams taken out, part balls first; `grams` is at most what it has.

    Where the part balls are enough, the largest go first, each whole, and the last one is the
    smallest that suffices: the fewest strands, and so the fewest ends. Where they are not, all of
    them go, and then full balls, the oldest batch first; what is left of the last returns as a
    part ball. A full ball costs what its batch did, and a part ball the lot's `average` for a
    gram, since nothing tells which batch it is from; so does a ball without a price.
    """
    parts, left, by_average = list(lot.parts_g), grams, Decimal(0)
    while left > 0 and parts:
        enough = [p for p in parts if p >= left]
        part = min(enough) if enough else max(parts)
        parts.remove(part)
        used = min(part, left)
        left -= used
        by_average += used
        if part > used:
            parts.append(part - used)
    cost = Decimal(0)
    whole, rest = divmod(left, yarn.ball_g)
    balls = int(whole) + bool(rest)
    for batch, count in _from_batches(lot.batches, balls):
        used = min(left, count * yarn.ball_g)
        left -= used
        landed = landed_price(batch)
        if landed is None:
            by_average += used
        else:
            cost += landed * used / yarn.ball_g
        if used < count * yarn.ball_g:
            parts.append(count * yarn.ball_g - used)
    money = None if average is None and by_average else cost + by_average * (average or 0)
    return Opened(
        replace(lot, batches=fewer_balls(lot.batches, balls), parts_g=tuple(parts)), money
    )


def _from_batches(batches: Sequence[Batch], balls: int) -> list[tuple[Batch, int]]:
    """The batches that so many balls come from, the oldest first, with how many of each."""
    found, left = [], balls
    for place in by_age(batches):
        count = min(left, batches[place].balls)
        if count:
            found.append((batches[place], count))
            left -= count
    return found


def _taken(
    studio: Studio, ref: LotRef, grams: Decimal, *, from_lot: bool
) -> tuple[Studio, Decimal | None]:
    """The studio with the grams out of the lot, and what was paid for them in minor units."""
    lot = studio.stash.lot(ref) if not from_lot else the_lot(studio, ref)
    yarn = studio.library.yarn.get(ref.yarn)
    if lot is None or yarn is None:
        return studio, None
    price = paid(studio.library, studio.stash, lot)
    average = price.per_g if price.source is PriceFrom.PAID else None
    currency = studio.settings.currency
    if not from_lot:
        return studio, None if average is None else rounded(average * grams, currency)
    had = lot_g(lot, yarn)
    if grams > had:
        refuse(
            f"Lot {lot.code} of {shade_name(studio, ref)} has {exact_g(had)}, so "
            f"{exact_g(grams)} cannot have been used of it: say what is left, or correct the lot."
        )
    after = opened(lot, yarn, grams, average)
    cost = None if after.paid is None else rounded(after.paid, currency)
    return _put_lot(studio, lot, after.lot), cost


def _returned(studio: Studio, ref: LotRef, grams: Decimal) -> Studio:
    """The grams back in their lot: whole part balls of a ball's grams, and one of the rest."""
    lot = the_lot(studio, ref)
    ball_g = studio.library.yarn[ref.yarn].ball_g
    balls, rest = divmod(grams, ball_g)
    parts = (*lot.parts_g, *([ball_g] * int(balls)), *([rest] if rest else []))
    return _put_lot(studio, lot, replace(lot, parts_g=parts))


def _put_lot(studio: Studio, old: Lot, new: Lot) -> Studio:
    lots = tuple(new if lot is old else lot for lot in studio.stash.lots)
    return replace(studio, stash=Stash(lots, studio.stash.purchases))


def _note(piece: Project, at: int) -> Used:
    if not 0 <= at < len(piece.used):
        refuse(f"{piece.name} has no such note of used yarn.")
    return piece.used[at]


def _put(notes: tuple[Used, ...], at: int, new: tuple[Used, ...]) -> tuple[Used, ...]:
    return (*notes[:at], *new, *notes[at + 1 :])


def _check_grams(grams: Decimal) -> None:
    if not (grams.is_finite() and 0 < grams <= MOST_G):
        refuse(f"{grams} g of used yarn make no sense: it is more than 0 and up to {MOST_G:,}.")
