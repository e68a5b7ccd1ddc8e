"""What the stash still counts of yarn that was worked: it changes only where somebody weighs."""

from __future__ import annotations

from studio.core import say
from studio.core.answers import Cover, ProjectPlan, RunKind
from studio.core.model import Library

NAMED = 3
"""Shades that are named one by one; more are counted."""


def weigh_words(before: ProjectPlan, library: Library, last_row: int | None = None) -> str:
    """Which shades to weigh once rows were worked up to `last_row`, or the whole piece was.

    `before` is the plan that still had them to work. Empty where nothing came from the stash.
    """
    first = {span.index: span.first for span in before.stripe_rows}
    shades = dict.fromkeys(
        run.shade
        for run in before.runs
        if run.cover is Cover.STASH
        and (
            last_row is None
            or (run.ref.kind is RunKind.STRIPE and first.get(run.ref.index, 0) <= last_row)
        )
    )
    names = [library.shade[ref].name for ref in shades if ref in library.shade]
    if not names:
        return ""
    if len(names) > NAMED:
        names = [*names[: NAMED - 1], f"{len(names) - NAMED + 1} more shades"]
    return f"Weigh {say.either(names, 'and')}: the stash counts all of it."
