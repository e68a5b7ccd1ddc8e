"""An earlier moment of the studio, with what other hands have changed in the files since.

Undo steps are whole studios. When a file is changed outside and read again, a step from before
would bring the old file back and so undo other hands' work unseen. What the outside change touched
is therefore put into every step; a step whose own edit touched the same thing cannot be kept.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import replace
from itertools import groupby
from typing import Any

from studio.core.model import Studio

Things = Mapping[Hashable, Any]


def carried(step: Studio, was: Studio, now: Studio) -> Studio | None:
    """`step` with all that differs between `was` and `now`; None where the step touched that too.

    `was` is what was in the files when they were last read or written, `now` what is in them.
    """
    parts: dict[str, Any] = {}
    for name, (keyed, whole) in _PARTS.items():
        before, after, then = keyed(was), keyed(now), keyed(step)
        changed = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
        if any(then.get(key) != before.get(key) for key in changed):
            return None
        kept = {key: after.get(key) if key in changed else thing for key, thing in then.items()}
        kept |= {key: thing for key, thing in after.items() if key in changed}
        parts[name] = whole({key: thing for key, thing in kept.items() if thing is not None})
    library = replace(
        step.library,
        yarns=parts["yarns"],
        stitches=parts["stitches"],
        swatches=parts["swatches"],
    )
    stash = replace(step.stash, lots=parts["lots"], purchases=parts["purchases"])
    own = ("settings", "trade", "projects", "customers", "suppliers", "offers")
    return replace(
        step,
        library=library,
        stash=stash,
        unread=now.unread,
        **{name: parts[name] for name in own},
    )


def _grouped(things: Iterable[Any], key: Callable[[Any], Hashable]) -> dict[Hashable, Any]:
    """Things of one file together, each file's in their order."""
    found: dict[Hashable, Any] = {}
    for name, group in groupby(things, key):
        found[name] = (*found.get(name, ()), *group)
    return found


def _flat(groups: Things) -> tuple[Any, ...]:
    return tuple(thing for group in groups.values() for thing in group)


def _each(things: Iterable[Any]) -> dict[Hashable, Any]:
    return {thing.key: thing for thing in things}


def _values(things: Things) -> tuple[Any, ...]:
    return tuple(things.values())


_PARTS: Mapping[str, tuple[Callable[[Studio], Things], Callable[[Things], Any]]] = {
    "settings": (lambda s: {"": s.settings}, lambda things: things[""]),
    "trade": (lambda s: {"": s.trade}, lambda things: things[""]),
    "yarns": (lambda s: _each(s.library.yarns), _values),
    "stitches": (lambda s: _each(s.library.stitches), _values),
    "swatches": (lambda s: _each(s.library.swatches), _values),
    "lots": (lambda s: _grouped(s.stash.lots, lambda lot: lot.yarn), _flat),
    "purchases": (lambda s: _each(s.stash.purchases), _values),
    "projects": (lambda s: _each(s.projects), _values),
    "customers": (lambda s: _each(s.customers), _values),
    "suppliers": (lambda s: _each(s.suppliers), _values),
    "offers": (lambda s: _grouped(s.offers, lambda offer: offer.supplier), _flat),
}
"""Every part of a studio as things by key, and the way back."""
