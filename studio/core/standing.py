"""What stands as it is unless she says so: the design of a delivered piece, rows that are open.

Notes, payments, weighings, minutes and the lots of a delivered piece are free to change.
"""

from __future__ import annotations

from collections.abc import Iterator, Set

from studio.core import say
from studio.core.frozen import dataclass
from studio.core.model import Project, Stage, Studio
from studio.errors import PromiseBrokenError

_DONE = (Stage.FINISHING, Stage.IN_STOCK, Stage.DELIVERED)


@dataclass(frozen=True, slots=True)
class Standing:
    """One thing that a change would touch; `mark` is what her yes to it is remembered by."""

    mark: tuple[str, str]
    text: str


class StandingError(PromiseBrokenError):
    """A change of what stands; it is not made unless she says so."""

    title = "It stands as it is"

    def __init__(self, found: tuple[Standing, ...]) -> None:
        self.sentences = tuple(each.text for each in found)
        self.marks = frozenset(each.mark for each in found)
        super().__init__(" ".join(self.sentences))


def check_standing(before: Studio, after: Studio, meant: Set[tuple[str, str]]) -> None:
    """Raise StandingError where a change touches what stands and she has not said yes to it."""
    found = tuple(n for n in _touched(before, after) if n.mark not in meant)
    if found:
        raise StandingError(found)


def _touched(before: Studio, after: Studio) -> Iterator[Standing]:
    for new in after.projects:
        old = before.project.get(new.key)
        if old is None or old is new:
            continue
        if text := delivered_words(old, new):
            yield Standing((new.key, "design"), text)
        if text := open_rows_words(old, new):
            yield Standing((new.key, new.stage.value), text)


def delivered_words(old: Project, new: Project) -> str:
    """What is said where a delivered piece would get another design; nothing where it does not."""
    if old.stage is not Stage.DELIVERED or _design(old) == _design(new):
        return ""
    on = next((r.on for r in reversed(old.reached) if r.stage is Stage.DELIVERED), None)
    when = f" on {say.date(on)}" if on else ""
    return f"{old.name} was delivered{when}; its papers and books stand on it as it is."


def open_rows_words(old: Project, new: Project) -> str:
    """What is said where a piece of which rows are noted would be finished before its last row.

    Who notes no rows at all is not asked about them.
    """
    rows = sum(stripe.rows for stripe in new.stripes)
    if new.stage is old.stage or new.stage not in _DONE or not 0 < new.rows_done < rows:
        return ""
    if old.stage is Stage.DELIVERED:
        return ""
    return (
        f"{new.rows_done} of {say.count(rows, 'row')} of {new.name} are noted as done; "
        f"{rows - new.rows_done} are still open."
    )


def _design(piece: Project) -> tuple[object, ...]:
    """Stripes, size, shades and what they rest on, without the lots that work them."""
    border, fringe = piece.border, piece.fringe
    return (
        tuple((s.slot, s.rows, s.grams) for s in piece.stripes),
        tuple((s.letter, s.shade_ref) for s in piece.slots),
        (piece.width, piece.length, piece.direction, piece.stitch, piece.hook_mm, piece.method),
        border and (border.slot, border.rounds, border.width, border.pick_up, border.corners,
                    border.increase, border.grams),
        fringe and (fringe.slot, fringe.strands, fringe.cut, fringe.grams),
    )  # fmt: skip
