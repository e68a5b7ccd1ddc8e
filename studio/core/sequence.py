"""A stripe sequence repeated to a length."""

from __future__ import annotations

from collections.abc import Sequence

from studio.core.gauge import gauge_of, size_of
from studio.core.model import Library, Project, Stripe


def repeated(sequence: Sequence[Stripe], rows: int) -> tuple[Stripe, ...]:
    """The sequence over and over until it has at least this many rows, the last stripe cut to it.

    A cut stripe keeps an even number of rows where it can, so that the colour changes on the right
    side. A sequence that is long enough already stays as it is.
    """
    found: list[Stripe] = list(sequence)
    total = sum(s.rows for s in found)
    while found and total < rows:
        for stripe in sequence:
            left = rows - total
            if left <= 0:
                break
            take = min(stripe.rows, left + left % 2)
            found.append(Stripe(stripe.slot, take))
            total += take
    return tuple(found)


def rows_wanted(project: Project, library: Library) -> int | None:
    """The rows that come nearest the asked size; None where there is no gauge for it."""
    stitch = library.stitch.get(project.stitch)
    gauge = gauge_of(project, library) if stitch else None
    size = size_of(project, stitch, gauge) if stitch and gauge else None
    return size.rows_for_target if size else None
