"""`stripewright new`: a studio folder to begin with, and a project from one line of words."""

from __future__ import annotations

import argparse
import re
from dataclasses import replace
from decimal import Decimal, InvalidOperation
from pathlib import Path

from studio.cli.commands import (
    EXIT_FINE,
    CommandError,
    day_of,
    say_told,
    studio_folder,
    undisturbed,
)
from studio.core import edits
from studio.core.model import Length, LengthUnit, Project, Slot, Stage, Stripe
from studio.workshop import Workshop

_SIZE = re.compile(r"(\d+(?:\.\d+)?)x(\d+(?:\.\d+)?)(cm|in|mm|m)")
_SLOT = re.compile(r"([A-Z])=([^/]+)/(.+)")
_STRIPE = re.compile(r"([A-Za-z])(\d+)")


def new_studio(chosen: argparse.Namespace) -> int:
    """Make a studio folder; one that is already there is left alone."""
    from studio.storage.begin import blank_studio

    place: Path = studio_folder(chosen.folder)
    blank_studio(place, chosen.name, chosen.currency, LengthUnit(chosen.units))
    print(f"A new studio is at {place}. Open it with: stripewright {place}")
    return EXIT_FINE


def size_of_words(text: str) -> tuple[Length, Length]:
    """'150x180cm' as width and length."""
    found = _SIZE.fullmatch(text.replace(" ", ""))
    if found is None:
        raise CommandError(f"--size is '{text}'; write width x length, as 150x180cm or 60x70in.")
    unit = LengthUnit(found[3])
    return Length(Decimal(found[1]), unit), Length(Decimal(found[2]), unit)


def slots_of_words(texts: list[str]) -> tuple[Slot, ...]:
    """'A=fenlight/moss' as slots."""
    slots = []
    for text in texts:
        found = _SLOT.fullmatch(text)
        if found is None:
            raise CommandError(
                f"--slot is '{text}'; write a letter, a yarn and a shade: A=YARN/SHADE."
            )
        slots.append(Slot(found[1], found[2], found[3]))
    return tuple(slots)


def stripes_of_words(text: str) -> tuple[Stripe, ...]:
    """'A6 B4 A6' as stripes."""
    stripes = []
    for word in text.split():
        found = _STRIPE.fullmatch(word)
        if found is None:
            raise CommandError(f"--stripes has '{word}'; write slot and rows, as A6 B4 A6.")
        stripes.append(Stripe(found[1].upper(), int(found[2])))
    return tuple(stripes)


def _hook(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise CommandError(f"--hook is '{text}'; write millimetres, as 5 or 5.5.") from None


def new_project(chosen: argparse.Namespace) -> int:
    """Add a project file to a studio."""
    width, length = size_of_words(chosen.size)
    from studio.core.naming import fresh_key

    place = studio_folder(chosen.folder)
    if not place.is_dir():
        raise CommandError(f"There is no studio folder at {place}.")
    workshop = Workshop.open(place)
    say_told(workshop.told)
    studio = workshop.snapshot.studio
    if chosen.stitch not in studio.library.stitch:
        known = ", ".join(studio.library.stitch) or "none yet"
        raise CommandError(f"There is no stitch '{chosen.stitch}'; there are: {known}.")
    project = Project(
        key="",
        name=chosen.name,
        stage=Stage.IDEA,
        stitch=chosen.stitch,
        hook_mm=_hook(chosen.hook),
        width=width,
        length=length,
        slots=slots_of_words(chosen.slot),
        stripes=stripes_of_words(chosen.stripes),
        customer=chosen.customer,
        due=day_of(chosen.due, "--due"),
    )
    for slot in project.slots:
        if slot.shade_ref not in studio.library.shade:
            raise CommandError(f"There is no shade '{slot.yarn}/{slot.shade}' in this studio.")
    project = replace(project, key=fresh_key(chosen.name, studio.project, "piece"))
    workshop.do("new project", lambda s: edits.add_project(s, project))
    with undisturbed():
        workshop.save()
    print(f"Written to {place / 'projects' / (project.key + '.toml')}")
    return EXIT_FINE
