"""Edits of the stash: adding, correcting and using up lots.

What a lot holds may fall below what is promised from it, since that is what the maker found in the
house; the plan then says so. A lot itself cannot vanish while a booked piece still needs it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core.answers import RunKind
from studio.core.edits.places import (
    check_shade,
    claimed,
    counted,
    done_in,
    put_run,
    refuse,
    run_place,
    runs_of,
    shade_name,
    shade_of,
    the_lot,
)
from studio.core.lots.problem import BUY
from studio.core.model import (
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fringe,
    Lot,
    LotRef,
    Project,
    ShadeRef,
    Stash,
    Stripe,
    Studio,
)
from studio.core.shades import ORDER_PREFIX
from studio.core.ties import retied, ties_of

PART_OVER_BALL = Decimal("1.1")
"""How much more than its nominal grams a ball may weigh before it is taken for mistyped.

Assumed: far over the spread of unopened balls, so that no true weighing is refused.
"""

Run = Stripe | Border | Fringe


def add_lot(studio: Studio, new: Lot) -> Studio:
    """Add a lot of a shade, which must not have one of that code yet."""
    _check_lot(studio, new)
    if not new.balls and not new.parts_g:
        refuse(f"Lot {new.code} holds nothing: give it full balls or part balls.")
    _check_code(studio, new, studio.stash.by_shade.get(new.shade_ref, ()))
    lots = (*studio.stash.lots, new)
    return replace(studio, stash=replace(studio.stash, lots=lots))


def set_lot(studio: Studio, ref: LotRef, new: Lot) -> Studio:
    """Correct a lot; claims and notes of its yarn follow where only its code was put right."""
    old = the_lot(studio, ref)
    if new == old:
        return studio
    _check_lot(studio, new)
    if new.ref != ref:
        others = studio.stash.by_shade.get(new.shade_ref, ())
        _check_code(studio, new, [lot for lot in others if lot is not old])
    if new.shade_ref != old.shade_ref:
        _check_unpromised(studio, old, "its yarn and shade stay")
        studio = _reclaim(studio, ref, lambda _: None)
    elif new.code != old.code:
        studio = _reclaim(studio, ref, lambda claim: replace(claim, on=new.code))
        studio = _noted_on(studio, ref, new.code)
    return _put_lot(studio, old, new)


def put_lots(studio: Studio, lots: Iterable[Lot]) -> Studio:
    """Many lots in one pass: each takes the place of the one of its code, or is added.

    Codes and shades stay, so that no claim is touched. Unlike a lot that is added by hand, one of
    which nothing is left is let in, since what was paid for it is worth keeping.
    """
    put: dict[LotRef, Lot] = {}
    room = Room(studio)
    for lot in lots:
        room.take(lot)
        put[lot.ref] = lot
    there = {lot.ref: lot for lot in studio.stash.lots}
    new = tuple(lot for ref, lot in put.items() if ref not in there)
    if not new and all(there[ref] == lot for ref, lot in put.items()):
        return studio
    kept = (lot if (now := put.get(lot.ref, lot)) == lot else now for lot in studio.stash.lots)
    return replace(studio, stash=Stash((*kept, *new), studio.stash.purchases))


class Room:
    """What is in the stash, by code, as one lot after another is put there.

    Looking through a shade for every lot of it would take the square of their number.
    """

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._codes: dict[ShadeRef, set[str]] = {}

    def take(self, new: Lot) -> None:
        """Put a lot there; refuse one that cannot lie there beside those that came before it."""
        _check_lot(self._studio, new)
        codes = self._of(new.shade_ref)
        if new.code not in codes:
            _check_dye_lots(self._studio, new, others=bool(codes))
            codes.add(new.code)

    def _of(self, shade: ShadeRef) -> set[str]:
        if shade not in self._codes:
            there = self._studio.stash.by_shade.get(shade, ())
            self._codes[shade] = {lot.code for lot in there}
        return self._codes[shade]


def remove_lot(studio: Studio, ref: LotRef) -> Studio:
    """Take a lot out of the stash; pins of ideas and quotes on it go with it."""
    old = the_lot(studio, ref)
    _check_unpromised(studio, old, "it stays in the stash")
    studio = _reclaim(studio, ref, lambda _: None)
    return _put_lot(studio, old, None)


def use_balls(studio: Studio, ref: LotRef, balls: int) -> Studio:
    """Take full balls out of a lot, the oldest batch first.

    A batch stays with 0 balls, since what was paid for it still prices the lot's part balls.
    """
    lot = the_lot(studio, ref)
    if balls == 0:
        return studio
    if not 0 < balls <= lot.balls:
        refuse(
            f"Lot {lot.code} of {shade_name(studio, ref)} has {counted(lot.balls, 'full ball')}: "
            f"{balls:,} cannot be used up."
        )
    return _put_lot(studio, lot, replace(lot, batches=fewer_balls(lot.batches, balls)))


def by_age(batches: Sequence[Batch]) -> list[int]:
    """The places of batches, the oldest first; one of no known day counts as the oldest."""
    return sorted(range(len(batches)), key=lambda i: batches[i].bought or date.min)


def fewer_balls(batches: Sequence[Batch], balls: int) -> tuple[Batch, ...]:
    """The batches with so many balls taken out, the oldest batch first; each stays, also with 0."""
    left = balls
    now = list(batches)
    for place in by_age(batches):
        taken = min(left, now[place].balls)
        if taken:
            now[place] = replace(now[place], balls=now[place].balls - taken)
            left -= taken
    return tuple(now)


def weigh_part(studio: Studio, ref: LotRef, part: int | None, grams: Decimal) -> Studio:
    """Put down what a part ball weighs: None adds one, and 0 g takes one away."""
    lot = the_lot(studio, ref)
    parts = list(lot.parts_g)
    if part is not None and not 0 <= part < len(parts):
        refuse(
            f"Lot {lot.code} of {shade_name(studio, ref)} has no part ball {part + 1}: "
            f"it has {counted(len(parts), 'part ball')}."
        )
    if grams != 0 or part is None:
        _check_part(studio, lot, grams)
    if part is None:
        parts.append(grams)
    elif grams == 0:
        del parts[part]
    elif parts[part] == grams:
        return studio
    else:
        parts[part] = grams
    return _put_lot(studio, lot, replace(lot, parts_g=tuple(parts)))


def _put_lot(studio: Studio, old: Lot, new: Lot | None) -> Studio:
    """The studio with a lot replaced, or taken out where `new` is None; all others stay."""
    if new is None:
        lots = tuple(lot for lot in studio.stash.lots if lot is not old)
    else:
        lots = tuple(new if lot is old else lot for lot in studio.stash.lots)
    return replace(studio, stash=Stash(lots, studio.stash.purchases))


def _claims_lot(piece: Project, run: Run, ref: LotRef) -> bool:
    return any(_on_lot(tie, ref) for tie in ties_of(run.claim)) and (
        shade_of(piece, run.slot) == (ref.yarn, ref.shade)
    )


def _on_lot(tie: Claim, ref: LotRef) -> bool:
    return tie.kind is not ClaimKind.ORDER and tie.on == ref.code


def _reclaim(studio: Studio, ref: LotRef, change: Callable[[Claim], Claim | None]) -> Studio:
    """The studio with every claim on a lot changed; projects without one stay the same objects."""
    projects = []
    for piece in studio.projects:
        for _, index, run in runs_of(piece):
            if run.claim is not None and _claims_lot(piece, run, ref):
                new = retied(run.claim, lambda tie: change(tie) if _on_lot(tie, ref) else tie)
                piece = put_run(piece, index, claimed(run, new))
        projects.append(piece)
    if all(new is old for new, old in zip(projects, studio.projects, strict=True)):
        return studio
    return replace(studio, projects=tuple(projects))


def _noted_on(studio: Studio, ref: LotRef, code: str) -> Studio:
    """The studio with the notes of used yarn of a lot under its new code."""
    if not any(used.ref == ref for piece in studio.projects for used in piece.used):
        return studio
    projects = tuple(
        replace(p, used=tuple(replace(u, lot=code) if u.ref == ref else u for u in p.used))
        if any(used.ref == ref for used in p.used)
        else p
        for p in studio.projects
    )
    return replace(studio, projects=projects)


def _check_unpromised(studio: Studio, lot: Lot, so: str) -> None:
    """Refuse where a piece that holds yarn has runs still to be worked from this lot."""
    for piece in studio.projects:
        if not piece.stage.holds:
            continue
        for kind, index, run in runs_of(piece):
            if not _claims_lot(piece, run, lot.ref):
                continue
            if kind is RunKind.STRIPE and done_in(piece, index) == piece.stripes[index].rows:
                continue
            refuse(
                f"Lot {lot.code} of {shade_name(studio, lot.ref)} is promised to {piece.name} "
                f"({run_place(kind, index)}), so {so}; give that another lot first."
            )


def _check_code(studio: Studio, new: Lot, others: Sequence[Lot]) -> None:
    """Refuse a code that another lot has, and a second lot of a yarn that has no dye lots."""
    if any(lot.code == new.code for lot in others):
        name = shade_name(studio, new.ref)
        refuse(f"There is a lot {new.code} of {name} already: add the balls to it.")
    _check_dye_lots(studio, new, others=bool(others))


def _check_dye_lots(studio: Studio, new: Lot, *, others: bool) -> None:
    yarn = studio.library.yarn[new.yarn]
    if yarn.no_dye_lot and others:
        refuse(
            f"{yarn.name} has no dye lots, so all its balls of a shade are one lot: "
            f"add these to the balls of {shade_name(studio, new.ref)} that are there."
        )


def _check_lot(studio: Studio, new: Lot) -> None:
    """Refuse what cannot lie in a stash."""
    check_shade(studio, new.shade_ref)
    lot_less = not new.code and studio.library.yarn[new.yarn].no_dye_lot
    reserved = new.code == BUY or new.code.startswith(ORDER_PREFIX)
    if reserved or not (new.code.strip() or lot_less):
        refuse(
            f"A lot cannot be called {new.code!r}: give it the code of its ball band, "
            "or a mark of your own where that is lost."
        )
    for batch in new.batches:
        if batch.balls < 0:
            refuse(f"Lot {new.code} has a batch of {batch.balls} balls: it may have 0 or more.")
        for word, money in (("price", batch.price), ("shipping", batch.shipping)):
            if money is not None and not (money.is_finite() and money >= 0):
                refuse(f"Lot {new.code} has a batch with a {word} of {money}: it may be 0 or more.")
    for grams in new.parts_g:
        _check_part(studio, new, grams)


def _check_part(studio: Studio, lot: Lot, grams: Decimal) -> None:
    if not (grams.is_finite() and grams > 0):
        refuse(f"A part ball of {grams} g makes no sense in lot {lot.code}: it is more than 0 g.")
    yarn = studio.library.yarn.get(lot.yarn)
    if yarn is not None and grams > yarn.ball_g * PART_OVER_BALL:
        refuse(
            f"A part ball of {grams} g cannot be: a whole ball of {yarn.name} has {yarn.ball_g} g."
        )
