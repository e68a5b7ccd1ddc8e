"""Names that lead nowhere: a file still opens, but what it refers to is missing."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from studio.core.frozen import dataclass
from studio.core.model import (
    Border,
    Claim,
    ClaimKind,
    Fringe,
    Method,
    Project,
    ShadeRef,
    Stripe,
    Studio,
)
from studio.storage.dangling import Dangling, dotted, not_there
from studio.storage.kinds import Kind
from studio.storage.problems import FileProblem, Level, shorten
from studio.storage.trade_checks import check_trade

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping

    from studio.storage.layout import Path


@dataclass(frozen=True)
class _Known:
    """What may be referred to, and what could not be read and so is not known."""

    studio: Studio
    codes: Mapping[ShadeRef, frozenset[str]]
    broken: frozenset[str]


def check_references(
    studio: Studio, texts: Mapping[str, str], broken: frozenset[str]
) -> list[FileProblem]:
    """Every name in the files that leads nowhere, each with the nearest one that does."""
    codes: dict[ShadeRef, set[str]] = defaultdict(set)
    for lot in studio.stash.lots:
        codes[lot.shade_ref].add(lot.code)
    known = _Known(studio, {ref: frozenset(found) for ref, found in codes.items()}, broken)
    danglings: dict[str, list[Dangling]] = defaultdict(list)
    for yarn in studio.library.yarns:
        for i, key in enumerate(yarn.works_with):
            danglings[Kind.YARN.file(yarn.key)] += _yarn(known, key, ("works_with", i))
    for swatch in studio.library.swatches:
        file = Kind.SWATCH.file(swatch.key)
        danglings[file] += _yarn(known, swatch.yarn, ("yarn",))
        danglings[file] += _stitch(known, swatch.stitch, ("stitch",))
    _check_stash(known, danglings)
    for purchase in studio.stash.purchases:
        for i, line in enumerate(purchase.lines):
            danglings[Kind.PURCHASE.file(purchase.key)] += _shade(
                known, ShadeRef(line.yarn, line.shade), ("line", i)
            )
    for project in studio.projects:
        danglings[Kind.PROJECT.file(project.key)] += _project(known, project)
    _check_names(studio, danglings)
    check_trade(studio, broken, danglings)
    if not any(danglings.values()):
        return []
    from studio.storage.layout import line_of

    return [
        FileProblem(
            file,
            dotted(d.path),
            line_of(texts[file], d.path),
            d.found,
            d.allowed,
            d.text,
            Level.WARNING,
        )
        for file, found in danglings.items()
        for d in found
    ]


def _keyed(
    known: _Known, kind: Kind, key: str, names: Collection[str], path: Path
) -> Iterator[Dangling]:
    if key in names:
        return
    if (file := kind.file(key)) in known.broken:
        text = f"The {kind.value} {shorten(key)} could not be read: mend {file} first."
        yield Dangling(path, shorten(key), f"a readable {file}", text)
    else:
        yield not_there(kind.value, key, names, path)


def _yarn(known: _Known, key: str, path: Path) -> Iterator[Dangling]:
    return _keyed(known, Kind.YARN, key, known.studio.library.yarn, path)


def _stitch(known: _Known, key: str, path: Path) -> Iterator[Dangling]:
    return _keyed(known, Kind.STITCH, key, known.studio.library.stitch, path)


def _shade(known: _Known, ref: ShadeRef, path: Path) -> Iterator[Dangling]:
    yarn = known.studio.library.yarn.get(ref.yarn)
    if yarn is None:
        yield from _yarn(known, ref.yarn, (*path, "yarn"))
    elif yarn.shade(ref.shade) is None:
        yield not_there(
            f"shade of {ref.yarn}", ref.shade, [s.code for s in yarn.shades], (*path, "shade")
        )


def _check_stash(known: _Known, danglings: dict[str, list[Dangling]]) -> None:
    """Each stash file must bear the key of a yarn, and each lot the code of a shade."""
    places: dict[str, int] = defaultdict(int)
    for lot in known.studio.stash.lots:
        file = Kind.STASH.file(lot.yarn)
        place = places[lot.yarn]
        places[lot.yarn] += 1
        yarn = known.studio.library.yarn.get(lot.yarn)
        if yarn is None:
            if place == 0:
                danglings[file] += _yarn(known, lot.yarn, ())
            continue
        danglings[file] += _shade(known, lot.shade_ref, ("lot", place))
        if not lot.code and not yarn.no_dye_lot:
            text = f"A lot of shade {shorten(lot.shade)} has no code, but {lot.yarn} has dye lots."
            danglings[file].append(
                Dangling(("lot", place), "no code", "code, or no_dye_lot in the yarn", text)
            )


def _runs(project: Project) -> Iterator[tuple[Path, Stripe | Border | Fringe, bool]]:
    """The runs of a project, where each stands, and whether it is already worked."""
    rows = 0
    for i, stripe in enumerate(project.stripes):
        rows += stripe.rows
        yield ("stripe", i), stripe, rows <= project.rows_done
    if project.border:
        yield ("border",), project.border, False
    if project.fringe:
        yield ("fringe",), project.fringe, False


def _project(known: _Known, project: Project) -> Iterator[Dangling]:
    yield from _stitch(known, project.stitch, ("stitch",))
    for mapped in project.slots:
        yield from _shade(known, mapped.shade_ref, ("slots", mapped.letter))
    slots = {s.letter: s for s in project.slots}
    for path, run, worked in _runs(project):
        slot = slots.get(run.slot)
        if slot is None:
            yield not_there("slot", run.slot, slots, (*path, "slot"))
        # Yarn of a worked run has left its lot, and the lot may be gone with it.
        elif project.stage.needs_yarn and not worked:
            yield from _claimed(known, run, slot.shade_ref, path)
        by_hand = project.method is Method.BY_HAND and project.stage.needs_yarn
        if by_hand and run.grams is None and not worked:
            text = f"{dotted(path)} needs its grams, since the piece is worked by hand count."
            yield Dangling(path, "no grams", "grams = a number", text)
    # Its lot may be gone: used up and taken out of the stash.
    for i, used in enumerate(project.used):
        yield from _shade(known, used.shade_ref, ("used", i))
    for i, weigh_in in enumerate(project.weigh_ins):
        if weigh_in.slot not in slots:
            yield not_there("slot", weigh_in.slot, slots, ("weigh_in", i, "slot"))


def _claimed(
    known: _Known, run: Stripe | Border | Fringe, shade: ShadeRef, path: Path
) -> Iterator[Dangling]:
    if run.claim is None:
        return
    yield from _leads(known, run.claim, shade, path)
    if run.claim.rest is not None:
        yield from _leads(known, run.claim.rest, shade, (*path, "rest"))


def _leads(known: _Known, claim: Claim, shade: ShadeRef, path: Path) -> Iterator[Dangling]:
    """Where a claim leads nowhere: no such purchase, no line of the shade in it, no such lot."""
    on = claim.on
    if claim.kind is ClaimKind.ORDER:
        purchases = known.studio.stash.purchase
        yield from _keyed(known, Kind.PURCHASE, on, purchases, (*path, "on_order"))
        if (purchase := purchases.get(on)) and shade not in {
            ShadeRef(line.yarn, line.shade) for line in purchase.lines
        }:
            found = f"{shade.yarn} {shade.shade}"
            text = f"The purchase {shorten(on)} has no line for {found}."
            yield Dangling((*path, "on_order"), found, f"a line for it in {on}", text)
        return
    codes = known.codes.get(shade, frozenset())
    if on not in codes:
        file = Kind.STASH.file(shade.yarn)
        if file in known.broken:
            text = f"The lot {shorten(on)} is not known: mend {file} first."
            yield Dangling((*path, claim.kind.value), shorten(on), f"a readable {file}", text)
        else:
            what = f"lot of {shade.yarn} {shade.shade} with the code"
            yield not_there(what, on, codes, (*path, claim.kind.value))


def _check_names(studio: Studio, danglings: dict[str, list[Dangling]]) -> None:
    """Two projects of one name cannot be told apart in a list, or asked for by name."""
    first: dict[str, str] = {}
    for project in studio.projects:
        file = Kind.PROJECT.file(project.key)
        other = first.setdefault(project.name.strip().casefold(), file)
        if other != file:
            text = f"{other} has the same name, {shorten(project.name)}: give one of them another."
            found = shorten(project.name)
            danglings[file].append(Dangling(("name",), found, "a name of its own", text))
