"""Edits of slots and of what lies in them: shades, lot rules, claims, border, fringe, grams."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from studio.core.answers import RunKind
from studio.core.edits.places import (
    begun_stripes,
    check_shade,
    claimed,
    counted,
    put_project,
    put_run,
    refuse,
    run_place,
    runs_of,
    shade_name,
    shade_of,
    the_project,
    the_run,
    the_slot,
)
from studio.core.model import (
    Border,
    Claim,
    ClaimKind,
    Fringe,
    LotRule,
    Project,
    ShadeRef,
    Slot,
    Studio,
)


def add_slot(studio: Studio, project: str, letter: str, shade: ShadeRef) -> Studio:
    """Give the design one more colour place."""
    piece = the_project(studio, project)
    if not (len(letter) == 1 and "A" <= letter <= "Z"):
        refuse(f"A slot cannot be called {letter!r}: slots are the letters A to Z.")
    if piece.slot(letter) is not None:
        refuse(f"{piece.name} has a slot {letter} already; {_free_letters(piece)}.")
    check_shade(studio, shade)
    slots = (*piece.slots, Slot(letter, shade.yarn, shade.shade))
    return put_project(studio, replace(piece, slots=slots))


def remove_slot(studio: Studio, project: str, letter: str) -> Studio:
    """Take out a slot that nothing is worked in."""
    piece = the_project(studio, project)
    the_slot(piece, letter)
    uses = [run_place(kind, index) for kind, index, run in runs_of(piece) if run.slot == letter]
    if any(w.slot == letter for w in piece.weigh_ins):
        uses.append("a weigh-in")
    if uses:
        more = f" and {len(uses) - 3} more" if len(uses) > 3 else ""
        refuse(
            f"Slot {letter} of {piece.name} is used by {', '.join(uses[:3])}{more}: "
            "put these in other slots first."
        )
    return put_project(
        studio, replace(piece, slots=tuple(s for s in piece.slots if s.letter != letter))
    )


def map_slot(studio: Studio, project: str, letter: str, shade: ShadeRef) -> Studio:
    """Re-colour a slot; the claims of its runs go, so that what they held is free again."""
    piece = the_project(studio, project)
    slot = the_slot(piece, letter)
    if slot.shade_ref == shade:
        return studio
    check_shade(studio, shade)
    begun = [i for i in range(begun_stripes(piece)) if piece.stripes[i].slot == letter]
    if begun:
        refuse(
            f"Slot {letter} of {piece.name} is worked already (stripe {begun[0] + 1}), so it stays "
            f"{shade_name(studio, slot.shade_ref)}; put later stripes in another slot instead."
        )
    if any(w.slot == letter for w in piece.weigh_ins):
        refuse(
            f"Slot {letter} of {piece.name} has weigh-ins of {shade_name(studio, slot.shade_ref)}, "
            "so it stays that shade; put its stripes in another slot instead."
        )
    new = replace(slot, yarn=shade.yarn, shade=shade.shade)
    piece = replace(piece, slots=tuple(new if s is slot else s for s in piece.slots))
    return put_project(studio, _free_runs(piece, letter))


def set_lot_rule(studio: Studio, project: str, letter: str, rule: LotRule | None) -> Studio:
    """Ask for one lot or a lot for each stripe in a slot; None takes the studio's default."""
    piece = the_project(studio, project)
    slot = the_slot(piece, letter)
    new = replace(slot, lots=rule)
    return put_project(
        studio, replace(piece, slots=tuple(new if s is slot else s for s in piece.slots))
    )


def set_claim(
    studio: Studio, project: str, kind: RunKind, index: int, claim: Claim | None
) -> Studio:
    """Tie a run to a lot or to an open purchase, or leave its lot to the plan.

    A begun run stays with its lot; what was bought for it may still become a lot when it arrives.
    """
    piece = the_project(studio, project)
    run = the_run(piece, kind, index)
    if run.claim == claim:
        return studio
    begun = kind is RunKind.STRIPE and index < begun_stripes(piece)
    if begun and run.claim is not None and run.claim.kind is not ClaimKind.ORDER:
        refuse(
            f"Stripe {index + 1} of {piece.name} is begun with lot {run.claim.on} and stays with "
            "it; split the stripe where the worked rows end to work the rest from another lot."
        )
    if claim is not None:
        _check_claim(studio, piece, run.slot, claim)
    return put_project(studio, put_run(piece, index, claimed(run, claim)))


def set_grams(
    studio: Studio, project: str, kind: RunKind, index: int, grams: Decimal | None
) -> Studio:
    """Enter the grams of a run by hand, for work that is not computed; None clears them."""
    piece = the_project(studio, project)
    run = the_run(piece, kind, index)
    if grams is not None and not (grams.is_finite() and grams > 0):
        refuse(
            f"{grams} g makes no sense for {run_place(kind, index)} of {piece.name}: "
            "a run uses more than 0 g."
        )
    return put_project(studio, put_run(piece, index, replace(run, grams=grams)))


def set_border(studio: Studio, project: str, border: Border | None) -> Studio:
    """Give the piece this border, or none; a claim stays only where the shade stays the same."""
    piece = the_project(studio, project)
    if border is not None:
        the_slot(piece, border.slot)
        if border.rounds < 1:
            refuse(f"A border of {counted(border.rounds, 'round')} is none: it has 1 or more.")
        if not (border.width.value.is_finite() and border.width.value >= 0):
            refuse(f"A border {border.width.value} {border.width.unit} wide makes no sense.")
        if border.pick_up <= 0 or border.corners < 0 or border.increase < 0:
            refuse(
                f"A border that picks up {border.pick_up} stitches a row, with {border.corners} "
                f"corner stitches and {border.increase} more each round, makes no sense: pick up "
                "more than 0, and let the others be 0 or more."
            )
        if _moved(piece, piece.border, border):
            border = replace(border, claim=None)
    return put_project(studio, replace(piece, border=border))


def set_fringe(studio: Studio, project: str, fringe: Fringe | None) -> Studio:
    """Give the piece this fringe, or none; a claim stays only where the shade stays the same."""
    piece = the_project(studio, project)
    if fringe is not None:
        the_slot(piece, fringe.slot)
        if fringe.strands < 1:
            refuse(f"A fringe of {counted(fringe.strands, 'strand')} is none: it has 1 or more.")
        if not (fringe.cut.value.is_finite() and fringe.cut.value > 0):
            refuse(
                f"Strands cut to {fringe.cut.value} {fringe.cut.unit} make no sense: "
                "they are longer than 0."
            )
        if _moved(piece, piece.fringe, fringe):
            fringe = replace(fringe, claim=None)
    return put_project(studio, replace(piece, fringe=fringe))


def _moved(piece: Project, old: Border | Fringe | None, new: Border | Fringe) -> bool:
    """Whether a border or fringe still carries the claim it had in another shade."""
    return (
        old is not None
        and new.claim is not None
        and new.claim == old.claim
        and shade_of(piece, new.slot) != shade_of(piece, old.slot)
    )


def _free_runs(piece: Project, letter: str) -> Project:
    """The project with no claim on any run of a slot; untouched stripes stay the same objects."""
    stripes = tuple(
        replace(s, claim=None) if s.slot == letter and s.claim else s for s in piece.stripes
    )
    border, fringe = piece.border, piece.fringe
    if border and border.slot == letter and border.claim:
        border = replace(border, claim=None)
    if fringe and fringe.slot == letter and fringe.claim:
        fringe = replace(fringe, claim=None)
    return replace(piece, stripes=stripes, border=border, fringe=fringe)


def _check_claim(studio: Studio, piece: Project, letter: str, claim: Claim) -> None:
    """Refuse a claim on what is not there, or a hold for a piece that promises nothing."""
    shade = the_slot(piece, letter).shade_ref
    name = shade_name(studio, shade)
    if claim.kind is ClaimKind.ORDER:
        purchase = studio.stash.purchase.get(claim.on)
        if purchase is None:
            refuse(f"There is no open purchase {claim.on!r}.")
        if not any(ShadeRef(line.yarn, line.shade) == shade for line in purchase.lines):
            refuse(f"Purchase {claim.on} has no {name}, which slot {letter} of {piece.name} needs.")
        return
    if claim.kind is ClaimKind.HOLD and not piece.stage.holds:
        refuse(
            f"{piece.name} is at stage '{piece.stage.value}' and holds no yarn: only booked "
            "pieces and pieces in the making do. Pin the lot instead."
        )
    lots = studio.stash.by_shade.get(shade, ())
    if not any(lot.code == claim.on for lot in lots):
        codes = ", ".join(lot.code for lot in lots) or "none"
        refuse(f"There is no lot {claim.on!r} of {name}; its lots are {codes}.")


def _free_letters(piece: Project) -> str:
    taken = {s.letter for s in piece.slots}
    free = next((c for c in map(chr, range(ord("A"), ord("Z") + 1)) if c not in taken), None)
    return f"the next free letter is {free}" if free else "all letters are taken"
