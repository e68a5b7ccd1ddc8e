"""Edits of the stripe sequence: rows, order, splitting and merging, and the slot of a stripe.

Worked rows are settled: a begun stripe keeps its place, its slot and at least its worked rows, and
nothing is put before it.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import ROUND_HALF_EVEN, Decimal

from studio.core.edits.places import (
    begun_stripes,
    counted,
    done_in,
    put_project,
    refuse,
    rows_before,
    the_project,
    the_slot,
    the_stripe,
)
from studio.core.model import Project, Stripe, Studio
from studio.core.ties import in_part, split_tie

MOST_ROWS = 2_000
"""The longest stripe that is taken for meant rather than mistyped."""

MOST_STRIPES = 2_000
"""The most stripes that a project file may list."""

TENTH_G = Decimal("0.1")


def change_rows(studio: Studio, project: str, index: int, by: int) -> Studio:
    """Make a stripe so many rows longer, or shorter where `by` is negative."""
    stripe = the_stripe(the_project(studio, project), index)
    return set_rows(studio, project, index, stripe.rows + by)


def set_rows(studio: Studio, project: str, index: int, rows: int) -> Studio:
    """Give a stripe this many rows, never fewer than are worked."""
    piece = the_project(studio, project)
    stripe = the_stripe(piece, index)
    if rows == stripe.rows:
        return studio
    _check_rows(piece, rows)
    done = done_in(piece, index)
    if index < begun_stripes(piece) - 1:
        refuse(
            f"Stripe {index + 1} of {piece.name} is worked and a later stripe is begun, "
            f"so its {counted(stripe.rows, 'row')} stand."
        )
    if rows < done:
        refuse(
            f"Stripe {index + 1} of {piece.name} has {counted(done, 'row')} worked already: "
            f"it cannot have fewer than {done}."
        )
    return _put(studio, piece, index, 1, replace(stripe, rows=rows))


def add_stripe(studio: Studio, project: str, at: int, slot: str, rows: int) -> Studio:
    """Put a new stripe at this index, so that the one there now follows it."""
    piece = the_project(studio, project)
    the_slot(piece, slot)
    _check_rows(piece, rows)
    if not 0 <= at <= len(piece.stripes):
        refuse(
            f"There is no place {at + 1} for a stripe in {piece.name}: "
            f"it may go to 1 to {len(piece.stripes) + 1}."
        )
    _check_free(piece, at, "nothing can be put before it")
    return _put(studio, piece, at, 0, Stripe(slot, rows))


def remove_stripe(studio: Studio, project: str, index: int) -> Studio:
    """Take a stripe out that is not begun."""
    piece = the_project(studio, project)
    the_stripe(piece, index)
    _check_free(piece, index, "it cannot be taken out")
    if len(piece.stripes) == 1:
        refuse(f"{piece.name} has only this stripe, and a piece needs at least one.")
    return _put(studio, piece, index, 1)


def move_stripe(studio: Studio, project: str, index: int, to: int) -> Studio:
    """Move a stripe so that it ends up at index `to`."""
    piece = the_project(studio, project)
    stripe = the_stripe(piece, index)
    the_stripe(piece, to)
    if index == to:
        return studio
    _check_free(piece, index, "it keeps its place")
    _check_free(piece, to, "nothing can be put before it")
    rest = [*piece.stripes[:index], *piece.stripes[index + 1 :]]
    rest.insert(to, stripe)
    return put_project(studio, replace(piece, stripes=tuple(rest)))


def split_stripe(studio: Studio, project: str, index: int, first_rows: int) -> Studio:
    """Make two stripes of one, the first with `first_rows`; both keep the claim.

    Row pairs that are tied apart keep their ties.

    Grams entered by hand are shared by rows to a tenth of a gram, so that they still add up. A
    note stays with the first.
    """
    piece = the_project(studio, project)
    stripe = the_stripe(piece, index)
    if stripe.rows == 1:
        refuse(f"Stripe {index + 1} of {piece.name} has one row and cannot be split.")
    if not 1 <= first_rows < stripe.rows:
        refuse(
            f"Stripe {index + 1} of {piece.name} has {counted(stripe.rows, 'row')}, so the first "
            f"part may have 1 to {stripe.rows - 1}, not {first_rows:,}."
        )
    first_g = second_g = None
    if stripe.grams is not None:
        share = stripe.grams * first_rows / stripe.rows
        first_g = min(share.quantize(TENTH_G, ROUND_HALF_EVEN), stripe.grams)
        second_g = stripe.grams - first_g
    one, two = split_tie(stripe, first_rows)
    first = replace(stripe, rows=first_rows, grams=first_g, claim=one)
    second = replace(stripe, rows=stripe.rows - first_rows, grams=second_g, note="", claim=two)
    return _put(studio, piece, index, 1, first, second)


def merge_stripe(studio: Studio, project: str, index: int) -> Studio:
    """Make one stripe of this and the next, which must share slot and claim."""
    piece = the_project(studio, project)
    first = the_stripe(piece, index)
    if index + 1 == len(piece.stripes):
        refuse(f"Stripe {index + 1} is the last of {piece.name}: there is none after it to merge.")
    second = piece.stripes[index + 1]
    both = f"Stripes {index + 1} and {index + 2} of {piece.name}"
    if first.slot != second.slot:
        refuse(
            f"{both} are in slots {first.slot} and {second.slot}: "
            "only stripes of one slot can be merged."
        )
    if first.claim != second.claim or in_part(first.claim):
        refuse(
            f"{both} are tied to different yarn ({_claim_words(first)}, {_claim_words(second)}): "
            "give both the same lot, or none, and then merge them."
        )
    if (first.grams is None) != (second.grams is None):
        refuse(f"{both}: grams are entered for one only; enter both or neither, then merge them.")
    _check_rows(piece, first.rows + second.rows)
    grams = None if first.grams is None or second.grams is None else first.grams + second.grams
    merged = replace(
        first,
        rows=first.rows + second.rows,
        grams=grams,
        note="; ".join(dict.fromkeys(n for n in (first.note, second.note) if n)),
    )
    return _put(studio, piece, index, 2, merged)


def set_slot(studio: Studio, project: str, index: int, letter: str) -> Studio:
    """Work a stripe in another slot; a claim stays only where the shade stays the same."""
    piece = the_project(studio, project)
    stripe = the_stripe(piece, index)
    slot = the_slot(piece, letter)
    if stripe.slot == letter:
        return studio
    _check_free(piece, index, f"it stays in slot {stripe.slot}")
    old = piece.slot(stripe.slot)
    same = old is not None and old.shade_ref == slot.shade_ref
    new = replace(stripe, slot=letter, claim=stripe.claim if same else None)
    return _put(studio, piece, index, 1, new)


def set_note(studio: Studio, project: str, index: int, note: str) -> Studio:
    """Write a note to a stripe; empty takes it away."""
    piece = the_project(studio, project)
    stripe = the_stripe(piece, index)
    if stripe.note == note:
        return studio
    return _put(studio, piece, index, 1, replace(stripe, note=note))


def _put(studio: Studio, piece: Project, at: int, instead_of: int, *new: Stripe) -> Studio:
    """The studio with new stripes in place of so many old ones; all others stay as they are."""
    stripes = (*piece.stripes[:at], *new, *piece.stripes[at + instead_of :])
    if len(new) > instead_of and len(stripes) > MOST_STRIPES:
        refuse(f"{piece.name} has {MOST_STRIPES:,} stripes already, which is as many as it can.")
    return put_project(studio, replace(piece, stripes=stripes))


def _check_rows(piece: Project, rows: int) -> None:
    if not 1 <= rows <= MOST_ROWS:
        refuse(
            f"A stripe of {counted(rows, 'row')} makes no sense in {piece.name}: "
            f"a stripe has 1 to {MOST_ROWS:,} rows."
        )


def _check_free(piece: Project, index: int, so: str) -> None:
    """Refuse where the stripe at this index is begun; `so` says what that forbids."""
    if rows_before(piece, index) >= piece.rows_done:
        return
    free = begun_stripes(piece)
    after = (
        f"stripes from {free + 1} on are free"
        if free < len(piece.stripes)
        else "stripes can only be added at the end"
    )
    worked = f"{counted(piece.rows_done, 'row')} {'is' if piece.rows_done == 1 else 'are'} worked"
    refuse(f"Stripe {index + 1} of {piece.name} is begun ({worked}), so {so}; {after}.")


def _claim_words(stripe: Stripe) -> str:
    return f"{stripe.claim.kind.value} on {stripe.claim.on}" if stripe.claim else "nothing"
