"""Finding the thing an edit speaks of, or refusing in words, and putting it back changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import NoReturn

from studio.core import say
from studio.core.answers import RunKind
from studio.core.model import (
    Border,
    Claim,
    Fringe,
    Lot,
    LotRef,
    Project,
    ShadeRef,
    Slot,
    Stripe,
    Studio,
)
from studio.errors import EditRefusedError


def refuse(text: str) -> NoReturn:
    """Refuse the edit, saying what was found and what is allowed."""
    raise EditRefusedError(text)


def counted(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun: '1 row', '6 rows'."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def the_project(studio: Studio, key: str) -> Project:
    """The project with this key."""
    found = studio.project.get(key)
    if found is None:
        refuse(f"There is no project {key!r} in the studio.")
    return found


def put_project(studio: Studio, new: Project) -> Studio:
    """The studio with the project of that key replaced; the same studio where nothing changed."""
    old = studio.project[new.key]
    if new == old:
        return studio
    return replace(studio, projects=tuple(new if p is old else p for p in studio.projects))


def the_stripe(project: Project, index: int) -> Stripe:
    """The stripe at this index, counted from 0."""
    if not 0 <= index < len(project.stripes):
        refuse(
            f"There is no stripe {index + 1} in {project.name}: "
            f"it has {counted(len(project.stripes), 'stripe')}."
        )
    return project.stripes[index]


def the_slot(project: Project, letter: str) -> Slot:
    """The slot with this letter."""
    found = project.slot(letter)
    if found is None:
        letters = ", ".join(s.letter for s in project.slots) or "none"
        refuse(f"There is no slot {letter!r} in {project.name}; its slots are {letters}.")
    return found


def rows_before(project: Project, index: int) -> int:
    """How many rows lie before the stripe at this index."""
    return sum(s.rows for s in project.stripes[:index])


def done_in(project: Project, index: int) -> int:
    """How many rows of this stripe are worked."""
    worked = project.rows_done - rows_before(project, index)
    return max(0, min(project.stripes[index].rows, worked))


def begun_stripes(project: Project) -> int:
    """How many stripes have a worked row: these come first, and keep their place and yarn."""
    first = 0
    for index, stripe in enumerate(project.stripes):
        if first >= project.rows_done:
            return index
        first += stripe.rows
    return len(project.stripes)


def shade_of(project: Project, letter: str) -> ShadeRef | None:
    """The shade a slot is mapped to, if the slot is there."""
    slot = project.slot(letter)
    return slot.shade_ref if slot else None


def run_place(kind: RunKind, index: int) -> str:
    """A run in words: 'stripe 3', 'the border', 'the fringe'."""
    return f"stripe {index + 1}" if kind is RunKind.STRIPE else f"the {kind.value}"


def run_places(runs: Iterable[tuple[RunKind, int]]) -> str:
    """Several runs in a sentence: 'stripes 1, 3 and 5-7 and the border'."""
    word, stripes, others = _by_kind(runs)
    first = [f"{word} {say.either(stripes, 'and')}"] if stripes else []
    return say.either([*first, *others], "and")


def run_list(runs: Iterable[tuple[RunKind, int]]) -> str:
    """Several runs in a narrow column: 'stripes 1, 3, 5-7, the border'."""
    word, stripes, others = _by_kind(runs)
    return ", ".join([*([f"{word} {', '.join(stripes)}"] if stripes else []), *others])


def _by_kind(runs: Iterable[tuple[RunKind, int]]) -> tuple[str, list[str], list[str]]:
    """'stripe' or 'stripes', their numbers with neighbours joined, and the other runs in words."""
    found = list(runs)
    numbers = sorted({index + 1 for kind, index in found if kind is RunKind.STRIPE})
    spans: list[list[int]] = []
    for number in numbers:
        if spans and spans[-1][-1] == number - 1:
            spans[-1] = [spans[-1][0], number]
        else:
            spans.append([number])
    others = [run_place(kind, index) for kind, index in found if kind is not RunKind.STRIPE]
    word = "stripes" if len(numbers) > 1 else "stripe"
    return word, ["-".join(map(str, span)) for span in spans], others


def the_run(project: Project, kind: RunKind, index: int) -> Stripe | Border | Fringe:
    """The stripe, border or fringe."""
    if kind is RunKind.STRIPE:
        return the_stripe(project, index)
    found = project.border if kind is RunKind.BORDER else project.fringe
    if found is None:
        refuse(f"{project.name} has no {kind.value}.")
    return found


def put_run(project: Project, index: int, run: Stripe | Border | Fringe) -> Project:
    """The project with that run replaced; `index` matters for a stripe only."""
    if isinstance(run, Stripe):
        stripes = (*project.stripes[:index], run, *project.stripes[index + 1 :])
        return replace(project, stripes=stripes)
    if isinstance(run, Border):
        return replace(project, border=run)
    return replace(project, fringe=run)


def runs_of(project: Project) -> list[tuple[RunKind, int, Stripe | Border | Fringe]]:
    """Every run of a project: its stripes in order, then the border, then the fringe."""
    found: list[tuple[RunKind, int, Stripe | Border | Fringe]] = [
        (RunKind.STRIPE, index, stripe) for index, stripe in enumerate(project.stripes)
    ]
    if project.border:
        found.append((RunKind.BORDER, 0, project.border))
    if project.fringe:
        found.append((RunKind.FRINGE, 0, project.fringe))
    return found


def claimed(run: Stripe | Border | Fringe, claim: Claim | None) -> Stripe | Border | Fringe:
    """The run with this claim; the same object where it has it already."""
    return run if run.claim == claim else replace(run, claim=claim)


def the_lot(studio: Studio, ref: LotRef) -> Lot:
    """The lot at this place of the stash."""
    lot = studio.stash.lot(ref)
    if lot is None:
        refuse(f"There is no lot {ref.code!r} of {shade_name(studio, ref)} in the stash.")
    return lot


def shade_name(studio: Studio, ref: ShadeRef | LotRef) -> str:
    """Yarn and shade by their names, or by their keys where the library lacks them."""
    return studio.library.called(ref)


def check_shade(studio: Studio, ref: ShadeRef) -> None:
    """Refuse a yarn or a shade that the library lacks."""
    yarn = studio.library.yarn.get(ref.yarn)
    if yarn is None:
        refuse(f"There is no yarn {ref.yarn!r} in the library; add the yarn first.")
    if yarn.shade(ref.shade) is None:
        codes = ", ".join(s.code for s in yarn.shades) or "none yet"
        refuse(f"{yarn.name} has no shade {ref.shade!r}; its shades are {codes}.")
