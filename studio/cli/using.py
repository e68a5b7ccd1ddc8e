"""`used` and `closing`: yarn taken out of its lots, and a piece's account, as on the screens."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from studio import clock
from studio.cli.commands import (
    EXIT_FILE,
    EXIT_FINE,
    CommandError,
    amount_of,
    day_of,
    find_project,
    opened,
    print_json,
    undisturbed,
)
from studio.core import edits, used_say
from studio.core.closing_say import account
from studio.core.edits import Take
from studio.core.model import LotRef, Project, Studio, UsedFrom
from studio.core.used import ToNote, exact_g, lot_ref

if TYPE_CHECKING:
    from studio.workshop import Workshop


def run(chosen: argparse.Namespace) -> int:
    """Run one of these commands and return its exit status."""
    with opened(chosen.folder) as workshop:
        key = find_project(chosen.project, workshop.snapshot.studio)
        if chosen.command == "used":
            _used(chosen, workshop, key)
        else:
            _closing(chosen, workshop, key)
        return EXIT_FILE if workshop.snapshot.problems else EXIT_FINE


def _used(chosen: argparse.Namespace, workshop: Workshop, key: str) -> None:
    before = workshop.snapshot.studio
    takes = takes_of(chosen, before, workshop.to_note(key))
    if takes:
        _note(chosen, workshop, key, takes)
    studio = workshop.snapshot.studio
    project, notes = studio.project[key], workshop.to_note(key)
    if chosen.json:
        from studio.cli.used_report import used

        print_json(used(project, notes, studio, done=bool(takes)))
        return
    if takes:
        noted = project.used[len(before.project[key].used) :]
        print(used_say.taken_words(noted, studio.settings.currency))
    for line in _lines(project, notes, studio):
        print(line)


def _note(chosen: argparse.Namespace, workshop: Workshop, key: str, takes: Sequence[Take]) -> None:
    """Note it and save, where no promise of yarn breaks by it."""
    on = day_of(chosen.on, "--on") or clock.today()

    def change(studio: Studio) -> Studio:
        return edits.take_used(studio, key, takes, on)

    broken = workshop.breaks(change)
    if broken is not None:
        raise broken
    workshop.do("yarn used", change)
    with undisturbed():
        workshop.save()


def takes_of(
    chosen: argparse.Namespace, studio: Studio, notes: Sequence[ToNote]
) -> tuple[Take, ...]:
    """What the options say was used; what they leave out is as it is worked out, if so asked."""
    out = bool(chosen.out_already)
    found: dict[LotRef, Take] = {}
    for ref, grams in _named(chosen.lot or (), "--lot"):
        found[ref] = Take(ref, grams, UsedFrom.GIVEN, out)
    for ref, left in _named(chosen.left or (), "--left"):
        if ref in found:
            raise CommandError(f"Say of lot {ref.code} what was used or what is left, not both.")
        used = edits.used_of_left(studio, ref, left)
        found[ref] = Take(ref, used, UsedFrom.WEIGHED, out)
    if chosen.as_worked_out:
        for note in notes:
            if note.lot is not None:
                ref = lot_ref(note.shade, note.lot)
                found.setdefault(ref, Take(ref, note.grams, out=out))
    return tuple(take for take in found.values() if take.grams)


def _named(words: Iterable[str], option: str) -> Iterator[tuple[LotRef, Decimal]]:
    """Lots with their grams, each named once."""
    seen = set()
    for text in words:
        lot, _, grams = text.rpartition("=")
        parts = lot.split("/", 2)
        amount = amount_of(grams, option) if len(parts) == 3 else None
        if amount is None:
            raise CommandError(
                f"{option} is '{text}'; write yarn/shade/lot=grams, as meadow-bulky/12/4471=98."
            )
        ref = LotRef(*parts)
        if ref in seen:
            raise CommandError(f"{option} names lot {lot} twice.")
        seen.add(ref)
        yield ref, amount


def _lines(project: Project, notes: Sequence[ToNote], studio: Studio) -> Iterator[str]:
    """What is still to be noted, then what is noted."""
    known = [n for n in notes if n.lot is not None]
    if known:
        yield "Worked out and not noted yet:"
    for note in known:
        ref = lot_ref(note.shade, note.lot or "")
        words = f"{exact_g(note.grams)} of {used_say.lot_words(ref, studio)}"
        yield f"  {words}  ({'/'.join(ref)})"
    if unsaid := used_say.unsaid_words(notes, studio):
        yield unsaid
    if not notes:
        yield "Nothing is worked out that is not noted."
    if project.used:
        yield "Noted:"
    for used in project.used:
        how = used_say.how_words(used, studio.settings.currency)
        yield f"  {used_say.noted_words(used, studio)}: {how}"


def _closing(chosen: argparse.Namespace, workshop: Workshop, key: str) -> None:
    studio = workshop.snapshot.studio
    found = workshop.closing(key)
    if chosen.json:
        from studio.cli.used_report import closing

        print_json(closing(studio.project[key], found))
        return
    print(f"{studio.project[key].name}: actual against planned")
    for part in account(found, studio):
        print(f"\n{part.heading}")
        for step in part.steps:
            print(f"  {step.text:<52}{step.figure:>18}".rstrip())
