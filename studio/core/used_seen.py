"""Used yarn as evidence: a weighing that tells of one stripe alone is a weigh-in as well."""

from __future__ import annotations

from studio.core.model import Project, Settings, Used, UsedFrom, WeighIn
from studio.core.used import known_lots


def weigh_in_of(project: Project, new: Used, settings: Settings) -> WeighIn | None:
    """The weigh-in that a note is too, None where it does not tell of rows in one stretch.

    It must be weighed; the rows since the last note of the lot must lie together in one slot and
    be all that was worked of that shade; and no weigh-in may have counted any of them.
    """
    if new.by is not UsedFrom.WEIGHED or project.mix:
        return None
    before = [n for n in project.used if n.shade_ref == new.shade_ref]
    first = max((n.rows for n in before), default=0) + 1
    others = (project.border, project.fringe)
    if any(n.whole for n in before) or (
        new.whole and any(r and _shade(project, r.slot) == new.shade_ref for r in others)
    ):
        return None
    stretch = _rows_of(project, new, first, settings)
    if stretch is None:
        return None
    slot, start, end = stretch
    for seen in project.weigh_ins:
        same = _shade(project, seen.slot) == new.shade_ref
        if same and seen.first_row <= end and start <= seen.first_row + seen.rows - 1:
            return None
    return WeighIn(slot, end - start + 1, new.grams, start, new.on)


def _shade(project: Project, letter: str) -> object:
    slot = project.slot(letter)
    return slot.shade_ref if slot else None


def _rows_of(
    project: Project, new: Used, first: int, settings: Settings
) -> tuple[str, int, int] | None:
    """The slot and rows worked of the shade from row `first` on, where they are one stretch."""
    lot_of = known_lots(project, settings)
    found: tuple[str, int, int] | None = None
    last = 0
    done = sum(s.rows for s in project.stripes) if new.whole else new.rows
    for stripe in project.stripes:
        start, last = last + 1, last + stripe.rows
        low, high = max(start, first), min(last, done)
        if high < low or _shade(project, stripe.slot) != new.shade_ref:
            continue
        rest = stripe.claim.rest if stripe.claim else None
        if rest is not None or lot_of(stripe.slot, stripe.claim) != new.lot:
            return None
        if found is None:
            found = (stripe.slot, low, high)
        elif found[0] == stripe.slot and found[2] == low - 1:
            found = (stripe.slot, found[1], high)
        else:
            return None
    return found
