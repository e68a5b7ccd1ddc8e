"""Size from gauge: chain and stitches for a target, rows, and what a piece then measures.

Lengths are centimetres. A row runs along the chain: `across` the width, or `along` the length; the
two axes of a piece are called chain axis and row axis here.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from decimal import Decimal

from studio.core.answers import Gauge, Measure, Size
from studio.core.model import (
    Border,
    Direction,
    GaugeCount,
    Library,
    Method,
    Project,
    RowKind,
    Stitch,
    Swatch,
)

EPSILON = 1e-9
"""Below this two lengths in cm are the same: rounding of binary floats, nothing to measure."""


def yarns_by_rows(project: Project) -> tuple[str, ...]:
    """The yarns of the piece, that of the most rows first and the earlier of equals."""
    rows = dict.fromkeys((slot.yarn for slot in project.slots), 0)
    yarn_of = {slot.letter: slot.yarn for slot in reversed(project.slots)}
    for stripe in project.stripes:
        yarn = yarn_of.get(stripe.slot)
        if yarn is not None:
            rows[yarn] += stripe.rows
    return tuple(sorted(rows, key=lambda yarn: -rows[yarn]))


def main_yarn(project: Project) -> str | None:
    """The yarn that works the most rows; None where no slot is mapped."""
    return next(iter(yarns_by_rows(project)), None)


def _usable(count: GaugeCount | None) -> bool:
    return count is not None and all(
        value > 0 for value in (count.stitches, count.stitch_span.cm, count.rows, count.row_span.cm)
    )


def _pooled(counts: Iterable[GaugeCount], per_repeat: int) -> tuple[float, float]:
    """Stitches and rows to the cm over all counts; counts of repeats times `per_repeat`."""
    stitches = stitch_cm = rows = row_cm = 0.0
    for count in counts:
        stitches += float(count.stitches) * (per_repeat if count.in_repeats else 1)
        stitch_cm += count.stitch_span.cm
        rows += float(count.rows)
        row_cm += count.row_span.cm
    return stitches / stitch_cm, rows / row_cm


def repeat_stitches(stitch: Stitch) -> int:
    """Stitches of one repeat: as stated, else the multiple."""
    return max(1, stitch.stitches_per_repeat or stitch.multiple)


def gauge_of_swatches(swatches: Iterable[Swatch], stitch: Stitch | None) -> Gauge | None:
    """The gauge of swatches that belong together; None where none has a usable count.

    After washing where any was counted washed, else before. Where some count stitches and some
    repeats, repeats are turned into stitches.
    """
    group = tuple(swatches)
    after = [(s.key, s.after) for s in group if s.after is not None and _usable(s.after)]
    before = [(s.key, s.before) for s in group if s.before is not None and _usable(s.before)]
    chosen = after or before
    if not chosen:
        return None
    in_repeats = all(count.in_repeats for _, count in chosen)
    per_repeat = repeat_stitches(stitch) if stitch else 1
    stitches, rows = _pooled((count for _, count in chosen), per_repeat)
    to_hook = (1.0, 1.0)
    if after:
        unwashed = dict(before)
        both = [(unwashed[key], count) for key, count in after if key in unwashed]
        if both:
            hook = _pooled((old for old, _ in both), per_repeat)
            washed = _pooled((new for _, new in both), per_repeat)
            to_hook = (washed[0] / hook[0], washed[1] / hook[1])
    return Gauge(
        stitches_per_cm=stitches / per_repeat if in_repeats else stitches,
        rows_per_cm=rows,
        measure=Measure.WASHED if after else Measure.UNWASHED,
        swatches=tuple(key for key, _ in chosen),
        in_repeats=in_repeats,
        to_hook=to_hook,
    )


def gauge_for(library: Library, yarn: str, stitch: str, hook_mm: Decimal) -> Gauge | None:
    """The gauge of one yarn, stitch and hook, from all swatches of exactly these."""
    swatches = library.swatches_of.get((yarn, stitch, hook_mm), ())
    return gauge_of_swatches(swatches, library.stitch.get(stitch))


def gauge_of(project: Project, library: Library) -> Gauge | None:
    """The gauge of a piece: that of its main yarn, else of the next that has been swatched.

    All its yarns work one fabric, so that any of them tells more than none.
    """
    for yarn in yarns_by_rows(project):
        found = gauge_for(library, yarn, project.stitch, project.hook_mm)
        if found is not None:
            return found
    return None


def chain_for(stitch: Stitch, repeats: int) -> int:
    """The foundation chain of so many repeats."""
    return stitch.multiple * repeats + stitch.extra


def stitches_for(stitch: Stitch, chain: int) -> int:
    """The stitches of a row on a chain, by the stitch's own rule."""
    return chain - stitch.skipped + (1 if stitch.turning_counts else 0)


def repeats_for(stitch: Stitch, stitches: float) -> float:
    """Repeats that give so many stitches, unrounded: the chain rule backwards."""
    chain = stitches + stitch.skipped - (1 if stitch.turning_counts else 0)
    return (chain - stitch.extra) / max(1, stitch.multiple)


def row_width_cm(stitch: Stitch, gauge: Gauge, repeats: float) -> float:
    """The measure of a row along the chain axis, without border."""
    if gauge.in_repeats:
        edges = stitch.edge_stitches / repeat_stitches(stitch)
        return (repeats + edges) / gauge.stitches_per_cm
    base = stitches_for(stitch, stitch.extra)
    return (stitch.multiple * repeats + base) / gauge.stitches_per_cm


def least_repeats(stitch: Stitch) -> int:
    """The fewest repeats that leave a stitch to work, at least 1."""
    return max(1, math.ceil(repeats_for(stitch, 1) - EPSILON))


def nearest_repeats(stitch: Stitch, gauge: Gauge, target_cm: float) -> int:
    """Repeats whose width is nearest the target, the wider on a tie, at least the fewest."""
    base = row_width_cm(stitch, gauge, 0.0)
    step = row_width_cm(stitch, gauge, 1.0) - base
    lower = math.floor((target_cm - base) / step + EPSILON)
    below = target_cm - (base + lower * step)
    nearest = lower + 1 if 2 * below >= step - EPSILON else lower
    return max(least_repeats(stitch), nearest)


def nearest_rows(gauge: Gauge, target_cm: float, *, even: bool) -> int:
    """Rows nearest the target, more on a tie; an even number where the stitch asks it."""
    step = 2 if even else 1
    exact = max(0.0, target_cm) * gauge.rows_per_cm / step
    return step * math.floor(exact + 0.5 + EPSILON)


def border_width_cm(border: Border | None) -> float:
    """What the border adds to width and to length: two of its widths."""
    return 2 * border.width.cm if border else 0.0


def size_of(project: Project, stitch: Stitch, gauge: Gauge) -> Size | None:
    """Chain, stitches, rows and achieved size; None for a piece that is not worked in rows."""
    asked = (project.width.cm, project.length.cm)
    if project.method is not Method.ROWS or min(asked) <= 0 or stitch.multiple < 1:
        return None
    borders = border_width_cm(project.border)
    across = project.direction is Direction.ACROSS
    chain_aim, row_aim = asked if across else asked[::-1]
    repeats = nearest_repeats(stitch, gauge, chain_aim - borders)
    rows = sum(stripe.rows for stripe in project.stripes)
    along_chain = row_width_cm(stitch, gauge, repeats) + borders
    up_rows = rows / gauge.rows_per_cm + borders
    chain = chain_for(stitch, repeats)
    return Size(
        chain=chain,
        stitches=stitches_for(stitch, chain),
        repeats=repeats,
        rows=rows,
        width_cm=along_chain if across else up_rows,
        length_cm=up_rows if across else along_chain,
        asked_width_cm=asked[0],
        asked_length_cm=asked[1],
        gauge=gauge,
        rows_for_target=nearest_rows(gauge, row_aim - borders, even=not stitch.change_either_side),
    )


def on_hook(size: Size, direction: Direction) -> tuple[float, float]:
    """Width and length in cm as they measure on the hook, before washing."""
    along_chain, up_rows = size.gauge.to_hook
    if direction is Direction.ACROSS:
        return size.width_cm * along_chain, size.length_cm * up_rows
    return size.width_cm * up_rows, size.length_cm * along_chain


def body_kind(stitch: Stitch) -> RowKind:
    """The kind of row that goes on: the first without a row number, else the last."""
    open_ended = next((kind for kind in stitch.kinds if kind.rows is None), None)
    return open_ended or (stitch.kinds[-1] if stitch.kinds else RowKind("body"))


def kind_spans(stitch: Stitch) -> tuple[tuple[int, int | None, RowKind], ...]:
    """First and last row of each kind, counted from row 1; None where it goes on."""
    body = body_kind(stitch)
    spans: list[tuple[int, int | None, RowKind]] = []
    row = 1
    for kind in stitch.kinds:
        if kind is body:
            break
        if kind.rows:
            spans.append((row, row + kind.rows - 1, kind))
            row += kind.rows
    return (*spans, (row, None, body))


def row_kind(stitch: Stitch, row: int) -> RowKind:
    """The kind of a row."""
    return next(kind for _, last, kind in kind_spans(stitch) if last is None or row <= last)


def stitches_of_kind(stitch: Stitch, kind: RowKind, repeats: float) -> float:
    """Stitches in a row of this kind; whole where `repeats` is."""
    if kind.per_repeat is not None:
        return kind.per_repeat * repeats + kind.extra_stitches
    return stitch.multiple * repeats + stitches_for(stitch, stitch.extra)


def stitches_in_row(stitch: Stitch, repeats: int, row: int) -> int:
    """Stitches in one row of the piece."""
    return round(stitches_of_kind(stitch, row_kind(stitch, row), repeats))


def body_stitches(stitch: Stitch, repeats: float) -> float:
    """Stitches in a body row: the unit in which yarn use is compared."""
    return stitches_of_kind(stitch, body_kind(stitch), repeats)


def effective_rows(stitch: Stitch, repeats: float, first: float, last: float) -> float:
    """Body rows that use as much yarn as rows `first` to `last`.

    Sum of stitches times weight over that of one body row; a body row counts 1. `last` may be a
    fraction, since a trial may end within a row.
    """
    if last <= first - 1:
        return 0.0
    spans = kind_spans(stitch)
    if len(spans) == 1:
        return last - first + 1.0
    body = spans[-1][2]
    unit = stitches_of_kind(stitch, body, repeats) * float(body.weight)
    if unit <= 0:
        return last - first + 1.0
    total = 0.0
    for start, end, kind in spans:
        low, high = max(first, start), last if end is None else min(last, end)
        # Rows are counted by their ends: row r fills (r - 1, r], so a part row counts as a part.
        if high > low - 1:
            share = 1.0
            if kind is not body:
                share = stitches_of_kind(stitch, kind, repeats) * float(kind.weight) / unit
            total += share * (high - low + 1)
    return total


def border_stitches(border: Border, end_stitches: int, rows: int) -> tuple[int, ...]:
    """Stitches of each border round about a piece of so many stitches and rows.

    Two ends, the sides picked up at the stated ratio (each side to whole stitches), the corners,
    and from the second round on the increase of every round before.
    """
    side = math.floor(float(border.pick_up) * rows + 0.5)
    first = 2 * end_stitches + 2 * side + border.corners
    return tuple(first + i * border.increase for i in range(max(0, border.rounds)))
