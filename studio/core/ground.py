"""What of the library an edit changed, by what is worked out from it.

A word that no computation reads changes nothing; a price changes costs; a ball's metres or grams
change needs. A field that nobody has sorted here counts as one that everything reads.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from studio.core.frozen import dataclass
from studio.core.model import Library, Project, Shade, ShadeRef, Stitch, Swatch, Yarn

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")

SwatchKey = tuple[str, str, Decimal]
"""Yarn, stitch and hook."""


@dataclass(frozen=True, slots=True)
class Moved:
    """Keys of what differs between two libraries.

    `measured` yarns ask for other needs, `asked` yarns may give other questions for the lots,
    `told` yarns are spoken of or cost otherwise. `shaped` stitches are worked otherwise, `named`
    ones are only called so. `swatches` are evidence.
    """

    measured: frozenset[str] = frozenset()
    asked: frozenset[str] = frozenset()
    told: frozenset[str] = frozenset()
    shaped: frozenset[str] = frozenset()
    named: frozenset[str] = frozenset()
    swatches: frozenset[SwatchKey] = frozenset()
    shades: frozenset[ShadeRef] = frozenset()
    """All shades, before and after, of the yarns that are `asked`."""

    @property
    def evidence(self) -> bool:
        """Whether weigh-ins may tell otherwise, which are read by stitch and gauge."""
        return bool(self.shaped or self.swatches)

    def needs_of(self, project: Project) -> bool:
        """Whether the piece may ask for other yarn, or come out in another size."""
        if project.stitch in self.shaped:
            return True
        return bool(self.measured or self.swatches) and any(
            s.yarn in self.measured or (s.yarn, project.stitch, project.hook_mm) in self.swatches
            for s in project.slots
        )

    def words_of(self, project: Project, library: Library) -> bool:
        """Whether costs or findings of the piece may differ, whatever it asks for."""
        if project.stitch in self.named:
            return True
        return bool(self.told) and any(
            s.yarn in self.told or not self.told.isdisjoint(_kin(s.yarn, library))
            for s in project.slots
        )


NOTHING = Moved()


def moved(old: Library, new: Library) -> Moved:
    """What differs; nothing for the same object, and little work where little was changed."""
    if old is new:
        return NOTHING
    yarns = _differing(old.yarn, new.yarn)
    stitches = _differing(old.stitch, new.stitch)
    asked = _by(yarns, _as_asked)
    return Moved(
        measured=_by(yarns, _as_measured),
        asked=asked,
        told=_by(yarns, _as_told),
        shaped=_by(stitches, _as_shaped),
        named=_by(stitches, _as_named),
        swatches=_by(_differing(old.swatches_of, new.swatches_of), _as_evidence),
        shades=frozenset(
            ShadeRef(key, shade.code)
            for key in asked
            for yarn in yarns[key]
            if yarn is not None
            for shade in yarn.shades
        ),
    )


def _kin(key: str, library: Library) -> Iterable[str]:
    """The yarns that are offered in place of this one."""
    yarn = library.yarn.get(key)
    return yarn.works_with if yarn else ()


def _differing(old: Mapping[K, T], new: Mapping[K, T]) -> dict[K, tuple[T | None, T | None]]:
    """Both sides of each thing that is not the same; an edit leaves all others the same objects."""
    found = {}
    for key in {**old, **new}:
        then, now = old.get(key), new.get(key)
        if then is not now and then != now:
            found[key] = (then, now)
    return found


def _by(found: Mapping[K, tuple[T | None, T | None]], seen: Callable[[T], object]) -> frozenset[K]:
    """The keys of what differs also where it is looked at so."""
    return frozenset(
        key
        for key, (then, now) in found.items()
        if then is None or now is None or seen(then) != seen(now)
    )


def _as_told(yarn: Yarn) -> Yarn:
    """Without what no plan reads: labels ask for the care when they are made."""
    return replace(yarn, care="", shades=tuple(map(_shade_as_told, yarn.shades)))


def _shade_as_told(shade: Shade) -> Shade:
    return replace(shade, barcodes=(), staple=False)


def _as_asked(yarn: Yarn) -> Yarn:
    """What a question for the lots may rest on: also the price, by which part balls are kept."""
    return replace(_bare(yarn), price=yarn.price)


def _as_measured(yarn: Yarn) -> Yarn:
    """What a piece's needs may rest on."""
    return _bare(yarn)


def _bare(yarn: Yarn) -> Yarn:
    shades = tuple(Shade(s.code, "", ()) for s in yarn.shades)
    return replace(
        yarn,
        name="",
        fibres=(),
        price=None,
        care="",
        discontinued=False,
        works_with=(),
        shades=shades,
    )


def _as_shaped(stitch: Stitch) -> Stitch:
    return replace(stitch, name="", instruction="")


def _as_named(stitch: Stitch) -> Stitch:
    return replace(stitch, instruction="")


def _as_evidence(swatches: tuple[Swatch, ...]) -> tuple[Swatch, ...]:
    return tuple(replace(swatch, note="") for swatch in swatches)
