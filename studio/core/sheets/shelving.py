"""A table of the stash laid upon the shelf: lots that are there are set to it, or added to.

What the table has no column for stays as it is, and lots that it does not name are not touched.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from enum import StrEnum
from typing import Any

from studio.core import say
from studio.core.edits.places import shade_name
from studio.core.edits.stash import Room, by_age, fewer_balls, put_lots
from studio.core.frozen import dataclass
from studio.core.model import Batch, Lot, LotRef, ShadeRef, Studio
from studio.core.sheets.fates import Change, Effect, refused
from studio.core.sheets.preview import Preview, RowPreview
from studio.core.sheets.stash import holding, lots_together, notes_together
from studio.errors import EditRefusedError


class Lots(StrEnum):
    """What happens to a lot that is on the shelf already."""

    SET = "set"
    """It holds what the table says: the same table again changes nothing."""
    ADD = "add"
    """What the table says came on top: for a table of new yarn."""


DETAILS = ("price", "shipping", "bought", "supplier", "kept")
"""What a row may tell of its batch beside the balls."""

_NOTHING = Batch(0)

Fits = Callable[[Batch, Batch, frozenset[str]], bool]


@dataclass(frozen=True, slots=True)
class _Told:
    """A batch as a row tells it, and which fields the row has something in."""

    batch: Batch
    fields: frozenset[str]


def _plain(value: Any) -> Any:
    return value.strip() if isinstance(value, str) else value


def _agrees(old: Batch, new: Batch, fields: frozenset[str]) -> bool:
    return all(_plain(getattr(old, f)) == _plain(getattr(new, f)) for f in DETAILS if f in fields)


def _alike(old: Batch, new: Batch, fields: frozenset[str]) -> bool:  # noqa: ARG001
    return old.balls == new.balls and _agrees(old, new, frozenset(DETAILS))


def _so_far(old: Batch, new: Batch, fields: frozenset[str]) -> bool:
    return old.balls == new.balls and _agrees(old, new, fields)


def _bought_then(old: Batch, new: Batch, fields: frozenset[str]) -> bool:
    return "bought" not in fields or old.bought in (None, new.bought)


WAYS: tuple[Fits, ...] = (_alike, _so_far, _agrees, _bought_then)
"""How a row finds its batch, the surest first: all alike, alike in what it tells, alike but for
the balls, and at last the next one that was not bought on another day."""


def _batches(old: Sequence[Batch], told: Sequence[_Told]) -> tuple[Batch, ...]:
    """The batches as the rows tell them; one that no row tells of is used up and stays with 0."""
    if len(told) == 1 < len(old) and not told[0].fields & set(DETAILS):
        return _recounted(old, told[0].batch.balls)
    place: dict[int, int] = {}
    for fits in WAYS:
        for at, row in enumerate(told):
            if at in place:
                continue
            free = (i for i in range(len(old)) if i not in place.values())
            found = next((i for i in free if fits(old[i], row.batch, row.fields)), None)
            if found is not None:
                place[at] = found
    now = [replace(batch, balls=0) if batch.balls else batch for batch in old]
    for at, found in place.items():
        row = told[at]
        said = {f: getattr(row.batch, f) for f in DETAILS if f in row.fields}
        if _agrees(old[found], row.batch, row.fields):
            said = {}
        now[found] = replace(old[found], balls=row.batch.balls, **said)
    new = [r.batch for at, r in enumerate(told) if at not in place and r.batch != _NOTHING]
    return (*now, *new)


def _recounted(old: Sequence[Batch], balls: int) -> tuple[Batch, ...]:
    """The batches where one row counts them all: fewer of the oldest, or more of the newest."""
    more = balls - sum(batch.balls for batch in old)
    if more <= 0:
        return fewer_balls(old, -more)
    newest = by_age(old)[-1]
    return tuple(
        replace(batch, balls=batch.balls + more) if at == newest else batch
        for at, batch in enumerate(old)
    )


def laid_upon(old: Lot, rows: Sequence[RowPreview[Lot]], matched: frozenset[str], how: Lots) -> Lot:
    """A lot of the shelf with the rows of the table that tell of it."""
    lots = [row.value for row in rows if row.value is not None]
    told = [_Told(b, row.told) for row in rows if row.value for b in row.value.batches]
    parts = tuple(part for lot in lots for part in lot.parts_g)
    if how is Lots.ADD:
        new = tuple(t.batch for t in told if t.batch != _NOTHING)
        batches, parts = (*old.batches, *new), (*old.parts_g, *parts)
    else:
        batches = _batches(old.batches, told) if "balls" in matched else old.batches
        same = "part" not in matched or sorted(parts) == sorted(old.parts_g)
        parts = old.parts_g if same else parts
    note = notes_together(lot.note for lot in lots)
    lost = [row.value.code_lost for row in rows if row.value and "code lost" in row.told]
    return replace(
        old,
        batches=batches,
        parts_g=parts,
        note=note if note and note != old.note.strip() else old.note,
        code_lost=lost[-1] if lost else old.code_lost,
    )


def shelved(preview: Preview[Lot], studio: Studio, how: Lots) -> tuple[Studio, dict[int, Effect]]:
    """The studio with every sound row of the table, and by line what that comes to."""
    groups: dict[LotRef, list[RowPreview[Lot]]] = {}
    for row in preview.rows:
        if row.value is not None and not row.problems:
            groups.setdefault(row.value.ref, []).append(row)
    shelf = _by_plain_code(studio.stash.lots)
    near = _NearCodes(studio.stash.lots)
    put: list[Lot] = []
    room = Room(studio)
    effects: dict[int, Effect] = {}
    for ref, rows in groups.items():
        there = shelf.get(ref, [])
        if len(there) > 1:
            effects |= dict.fromkeys((row.line for row in rows), _there_twice(studio, ref, there))
            continue
        old = there[0] if there else None
        if old is None:
            (new,) = lots_together(row.value for row in rows if row.value)
            new = replace(new, batches=tuple(b for b in new.batches if b != _NOTHING))
        else:
            new = laid_upon(old, rows, preview.matched, how)
        effect = _refused(studio, new, room) if new != old else None
        if effect is None:
            effect = _effect(studio, old, new, rows, how, near)
            if new != old:
                put.append(new)
        for row in rows:
            effects[row.line] = effect
            if row is not rows[0] and not effect.problems:
                words = f"goes in with line {rows[0].line}"
                effects[row.line] = replace(effect, words=words, notes=())
    return put_lots(studio, put), effects


def _by_plain_code(lots: Sequence[Lot]) -> dict[LotRef, list[Lot]]:
    """The lots of the shelf as a table names them, which cannot tell blanks about a code."""
    found: dict[LotRef, list[Lot]] = {}
    for lot in lots:
        found.setdefault(lot.ref._replace(code=lot.code.strip()), []).append(lot)
    return found


def _there_twice(studio: Studio, ref: LotRef, there: Sequence[Lot]) -> Effect:
    words = f"{len(there)} lots of the shelf differ only by blanks about this code: mend one."
    return refused(_name(studio, replace(there[0], code=ref.code)), words)


def _refused(studio: Studio, new: Lot, room: Room) -> Effect | None:
    """Put a lot on the shelf, or say why it cannot lie there, also beside others of the table."""
    try:
        room.take(new)
    except EditRefusedError as error:
        return refused(_name(studio, new), error.text)
    return None


def _name(studio: Studio, lot: Lot) -> str:
    code = f", lot {lot.code}" if lot.code else ""
    return f"{shade_name(studio, lot.ref)}{code}"


def _effect(
    studio: Studio,
    old: Lot | None,
    new: Lot,
    rows: Sequence[RowPreview[Lot]],
    how: Lots,
    near: _NearCodes,
) -> Effect:
    """A lot's change in words, which name what is on the shelf now."""
    what = _name(studio, new)
    if old is None:
        return Effect(Change.NEW, what, f"a new lot of {holding(new)}", notes=near.notes(new))
    there = f"on the shelf with {holding(old)}"
    if new == old:
        return Effect(Change.SAME, what, f"{there}: nothing to do")
    if how is Lots.ADD:
        again = _seen_before(old, rows)
        words = f"{there}: added to, then {holding(new)}"
        return Effect(Change.CHANGED, what, words, notes=again)
    if old.parts_g == new.parts_g and old.balls != new.balls:
        words = f"on the shelf with {say.balls(old.balls)}: set to {new.balls}"
        return Effect(Change.CHANGED, what, words)
    if old.parts_g != new.parts_g:
        return Effect(Change.CHANGED, what, f"{there}: set to {holding(new)}")
    return Effect(Change.CHANGED, what, f"{there}: {say.either(_details(old, new), 'and')} change")


def _details(old: Lot, new: Lot) -> list[str]:
    """What of a lot is written anew though it holds as much as before."""
    found = [f for f in ("note", "code_lost") if getattr(old, f) != getattr(new, f)]
    for field in ("balls", *DETAILS):
        before = [getattr(b, field) for b in old.batches]
        if before != [getattr(b, field) for b in new.batches]:
            found.append("batches" if field == "balls" else field)
    return [f.replace("_", " ") for f in found]


def _seen_before(old: Lot, rows: Sequence[RowPreview[Lot]]) -> tuple[str, ...]:
    """A word of warning where just such balls are on the shelf already."""
    for row in rows:
        if row.value is None:
            continue
        batches = [
            b for b in row.value.batches if any(_so_far(o, b, row.told) for o in old.batches)
        ]
        if batches or set(row.value.parts_g) & set(old.parts_g):
            return ("Balls just like these are there already: was this table taken in before?",)
    return ()


class _NearCodes:
    """The lots of the shelf by their codes without leading noughts and case."""

    def __init__(self, lots: Sequence[Lot]) -> None:
        self._first: dict[tuple[ShadeRef, str], Lot] = {}
        for lot in lots:
            self._first.setdefault((lot.shade_ref, _bare(lot.code)), lot)

    def notes(self, new: Lot) -> tuple[str, ...]:
        """A word on a lot of the shelf whose code differs by leading noughts or case only."""
        lot = self._first.get((new.shade_ref, _bare(new.code)))
        if lot is None:
            return ()
        return (f"The shelf has lot {lot.code}: if it is that one, mend its code first.",)


def _bare(code: str) -> str:
    return code.casefold().lstrip("0")
