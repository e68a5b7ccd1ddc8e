"""Where numbers written by hand disagree with the rule of the stitch or with the gauge."""

from __future__ import annotations

from collections.abc import Callable

from studio.core import say
from studio.core.answers import Gauge, Size
from studio.core.frozen import dataclass
from studio.core.gauge import (
    EPSILON,
    border_width_cm,
    repeat_stitches,
    repeats_for,
    row_width_cm,
    stitches_for,
)
from studio.core.model import Direction, Project, Settings, Stitch


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two figures that cannot both be true, in words that are ready to show.

    `stated` names the field of the numbers written by hand that would have to go. `off` is the
    difference as a fraction of the written figure. `first` and `second` are the two with what each
    would mean; `third` is what both together would ask for; `change` is what to do.
    """

    stated: str
    between: tuple[str, str]
    off: float
    first: str
    second: str
    third: str
    change: str

    @property
    def text(self) -> str:
        """All of it as sentences."""
        return " ".join(part for part in (self.first, self.second, self.third, self.change) if part)


def agreement(
    project: Project, stitch: Stitch, gauge: Gauge, size: Size, settings: Settings
) -> tuple[Disagreement, ...]:
    """Where numbers written by hand disagree with the rule of the stitch or with the gauge.

    Counts that a rule ties (chain and stitches, rows and stripes) must be equal; what is measured
    through the gauge may be off by the assumed tolerance.
    """
    found = [*_chain_rule(project, stitch), *_row_count(project, size)]
    across = project.direction is Direction.ACROSS
    found += _chain_axis(project, stitch, gauge, size, settings, across=across)
    found += _row_axis(project, gauge, size, settings, across=across)
    return tuple(found)


def _chain_rule(project: Project, stitch: Stitch) -> list[Disagreement]:
    stated, found = project.stated, list[Disagreement]()
    if stated.chain is None:
        return found
    counted = stitches_for(stitch, stated.chain)
    over = (stated.chain - stitch.extra) % max(1, stitch.multiple)
    rule = f"a multiple of {stitch.multiple}" + (f" plus {stitch.extra}" if stitch.extra else "")
    if over:
        below = stated.chain - over
        found.append(
            Disagreement(
                "chain",
                ("chain", "multiple"),
                over / stated.chain if stated.chain else 1.0,
                f"The written chain of {stated.chain} is not {rule}, as {stitch.name} asks.",
                f"The nearest are {below} and {below + stitch.multiple}.",
                "",
                "Change the chain, or clear it so that the plan's own is used.",
            )
        )
    if stated.stitches is not None and stated.stitches != counted:
        asked = stated.chain + stated.stitches - counted
        found.append(
            Disagreement(
                "stitches",
                ("chain", "stitches"),
                counted / stated.stitches - 1 if stated.stitches else 1.0,
                f"The written chain of {stated.chain} gives {say.count(counted, 'stitch')}, "
                f"but {stated.stitches} are written.",
                f"{say.count(stated.stitches, 'stitch')} would need a chain of {asked}.",
                "",
                "Change one of the two, or clear it.",
            )
        )
    return found


def _row_count(project: Project, size: Size) -> list[Disagreement]:
    stated = project.stated.rows
    if stated is None or stated == size.rows:
        return []
    more = stated - size.rows
    return [
        Disagreement(
            "rows",
            ("rows", "stripes"),
            size.rows / stated - 1 if stated else 1.0,
            f"The stripes add to {say.count(size.rows, 'row')}, but {stated} are written.",
            "",
            "",
            f"{'Add' if more > 0 else 'Take out'} {say.count(abs(more), 'row')} in the stripes, "
            "or clear the written number.",
        )
    ]


def _chain_axis(
    project: Project,
    stitch: Stitch,
    gauge: Gauge,
    size: Size,
    settings: Settings,
    *,
    across: bool,
) -> list[Disagreement]:
    stated = project.stated
    stitches, source = size.stitches, ""
    if stated.chain is not None:
        stitches, source = stitches_for(stitch, stated.chain), "chain"
    elif stated.stitches is not None:
        stitches, source = stated.stitches, "stitches"
    borders = border_width_cm(project.border)
    return _measured(
        counted=stitches,
        planned=size.stitches,
        word="stitch",
        source=source,
        cm_of=lambda n: row_width_cm(stitch, gauge, repeats_for(stitch, n)) + borders,
        # In repeats, a repeat's width over its stitches.
        per_cm=gauge.stitches_per_cm * (repeat_stitches(stitch) if gauge.in_repeats else 1),
        borders=borders,
        axis="width" if across else "length",
        project=project,
        settings=settings,
    )


def _row_axis(
    project: Project, gauge: Gauge, size: Size, settings: Settings, *, across: bool
) -> list[Disagreement]:
    stated = project.stated
    borders = border_width_cm(project.border)
    return _measured(
        counted=size.rows if stated.rows is None else stated.rows,
        planned=size.rows,
        word="row",
        source="" if stated.rows is None else "rows",
        cm_of=lambda n: n / gauge.rows_per_cm + borders,
        per_cm=gauge.rows_per_cm,
        borders=borders,
        axis="length" if across else "width",
        project=project,
        settings=settings,
    )


def _measured(
    *,
    counted: int,
    planned: int,
    word: str,
    source: str,
    cm_of: Callable[[float], float],
    per_cm: float,
    borders: float,
    axis: str,
    project: Project,
    settings: Settings,
) -> list[Disagreement]:
    """A count against a measure: written against written, or either against the plan's own."""
    stated = project.stated.width if axis == "width" else project.stated.length
    if stated is None and counted == planned:
        # Whether the plan itself comes near the target is another question than this.
        return []
    target = project.width if axis == "width" else project.length
    said = (stated or target).cm
    means = cm_of(counted)
    off = means / said - 1 if said > 0 else 1.0
    if abs(off) <= float(settings.assumed.size_tolerance) + EPSILON:
        return []
    unit = settings.length_unit
    counts = say.count(counted, word)
    # Backwards from the slope, since each count adds the same.
    asked = max(0, round(counted + (said - means) * per_cm))
    own = f"The written {counts}" if source else f"The plan's {counts}"
    if source == "chain":
        own = f"The written chain of {project.stated.chain} gives {counts}, which"
    call = f"a {axis} of {say.length(said, unit)} is {'written' if stated else 'asked'}"
    more = f" ({say.signed_percent(off)})" if said > 0 else ""
    third = ""
    if said > borders:
        both = counted / (said - borders)
        third = (
            f"Both would need a gauge of {say.gauge(both, say.plural(word), unit)}; the swatches "
            f"give {say.gauge(per_cm, say.plural(word), unit)}."
        )
    return [
        Disagreement(
            source or axis,
            (source or say.plural(word), axis),
            off,
            f"{own} come to {say.length(means, unit)}, but {call}{more}.",
            f"{say.length(said, unit).capitalize()} would be {say.count(asked, word)}.",
            third,
            f"Change the {say.plural(word)} or the {axis}, or measure the swatch again.",
        )
    ]
