"""The lines of the stripe editor: a stripe, the border or the fringe as a row of figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from studio.core import headline, say
from studio.core.answers import Cover, Finding, RunKind, RunPlan, StripeRows, Weight
from studio.core.model import ClaimKind, ShadeRef, Stripe
from studio.ui.drawn_list import Cell, Row, Tone
from studio.ui.panes.marks import FOUND, ONE_LOT, ROUGH
from studio.ui.view import LOUDEST, View

BORDER, FRINGE = "border", "fringe"

COVER_TONES = {
    Cover.DONE: Tone.QUIET,
    Cover.STASH: None,
    Cover.ORDER: Tone.CAUTION,
    Cover.LATE: Tone.NEEDS_YOU,
    Cover.SHORT: Tone.NEEDS_YOU,
    Cover.NONE: Tone.QUIET,
    Cover.UNKNOWN: Tone.CAUTION,
}

WEIGHT_TONES = {Weight.STOP: Tone.NEEDS_YOU, Weight.CAUTION: Tone.CAUTION, Weight.NOTE: Tone.QUIET}

TIES = {ClaimKind.HOLD: "held", ClaimKind.PIN: "pinned", ClaimKind.ORDER: ""}


def runs_by_place(runs: Iterable[RunPlan]) -> dict[tuple[RunKind, int], tuple[RunPlan, ...]]:
    """The runs of each stripe, the border and the fringe; several only where lots are mixed."""
    found: dict[tuple[RunKind, int], tuple[RunPlan, ...]] = {}
    for run in runs:
        place = (run.ref.kind, run.ref.index)
        found[place] = (*found.get(place, ()), run)
    return found


def _shade_cell(view: View, letter: str) -> Cell:
    slot = view.project.slot(letter) if view.project else None
    if slot is None:
        return Cell("no such slot", Tone.NEEDS_YOU)
    return Cell(view.shade_name(slot.shade_ref), patch=view.patch(slot.shade_ref, letter))


def _yarn_cell(runs: tuple[RunPlan, ...]) -> Cell:
    """The lot, or what stands in its place; a project that mixes lots may have several."""
    if not runs:
        return Cell("")
    tone = next((COVER_TONES[r.cover] for r in runs if COVER_TONES[r.cover]), None)
    words = dict.fromkeys(_cover_words(run) for run in runs)
    return Cell(", ".join(words), tone)


def _cover_words(run: RunPlan) -> str:
    if run.cover is Cover.DONE:
        return "done"
    if run.cover is Cover.SHORT:
        return "buy"
    if run.cover is Cover.ORDER:
        return "on order"
    if run.cover is Cover.LATE:
        return "late"
    if run.cover is Cover.UNKNOWN:
        return "not known"
    if run.cover is Cover.NONE:
        return ""
    return run.lot or ONE_LOT


def _need_cell(runs: tuple[RunPlan, ...], rough: frozenset[ShadeRef]) -> Cell:
    if not runs or runs[0].cover in (Cover.DONE, Cover.UNKNOWN, Cover.NONE):
        return Cell("")
    need = say.grams(headline.need_g(runs)).removesuffix(" g")
    return Cell(f"{ROUGH}{need}" if runs[0].shade in rough else need)


RANGE = 4
"""The column of the row range."""


def _range_cell(place: StripeRows | None) -> Cell:
    return Cell(f"{place.first}-{place.last}" if place else "", Tone.QUIET)


def _number_cell(index: int, findings: Sequence[Finding]) -> Cell:
    """The stripe's number, marked where there is something to say about it."""
    if not findings:
        return Cell(str(index + 1), Tone.QUIET)
    loudest = min(findings, key=lambda f: LOUDEST.index(f.weight))
    return Cell(f"{FOUND}{index + 1}", WEIGHT_TONES[loudest.weight])


def with_range(cells: tuple[Cell | str, ...], place: StripeRows) -> tuple[Cell | str, ...]:
    """The cells of a stripe that lies in other rows now."""
    return (*cells[:RANGE], _range_cell(place), *cells[RANGE + 1 :])


def same_but_place(one: StripeRows, other: StripeRows) -> bool:
    """Whether two places differ in nothing that is shown but the row range."""
    return (one.done, one.first_side, one.last_side) == (
        other.done,
        other.first_side,
        other.last_side,
    )


def stripe_row(
    view: View,
    index: int,
    stripe: Stripe,
    runs: tuple[RunPlan, ...],
    place: StripeRows | None,
    findings: Sequence[Finding],
    typed: str,
    rough: frozenset[ShadeRef],
) -> Row:
    """One stripe; what is typed at the moment stands in place of its rows."""
    odd = stripe.rows % 2 == 1 and any("odd" in f.code for f in findings)
    done = place is not None and place.done >= stripe.rows
    rows = Cell(f"{typed}▏", Tone.FOCUS) if typed else Cell(str(stripe.rows), Tone.STRONG)
    if odd and not typed:
        rows = Cell(str(stripe.rows), Tone.CAUTION)
    return Row(
        index,
        (
            _number_cell(index, findings),
            stripe.slot,
            _shade_cell(view, stripe.slot),
            rows,
            _range_cell(place),
            Cell(place.first_side.value if place else "", Tone.CAUTION if odd else Tone.QUIET),
            _need_cell(runs, rough),
            _yarn_cell(runs),
        ),
        Tone.QUIET if done else Tone.NORMAL,
        detail=_detail(view, runs, findings, stripe.note, place),
    )


def _detail(
    view: View,
    runs: tuple[RunPlan, ...],
    findings: Sequence[Finding],
    note: str,
    place: StripeRows | None,
) -> tuple[Cell | str, ...]:
    first = next((f for f in findings if f.mend), None)
    lines: list[Cell | str] = []
    for finding in findings:
        lines.append(Cell(finding.text, WEIGHT_TONES[finding.weight]))
        if finding is first and finding.mend:
            lines.append(Cell(f"! {finding.mend.value}", Tone.FOCUS))
    if place is not None and 0 < place.done < place.last - place.first + 1:
        lines.append(f"{say.count(place.done, 'row')} of it worked.")
    lines += [words for run in runs[:2] if (words := _lot_words(view, run))]
    if note:
        lines.append(note)
    return tuple(lines)


def _lot_words(view: View, run: RunPlan) -> str:
    """The lot in a sentence: how it is tied, what is left in it, how sure that is."""
    if run.cover is Cover.STASH:
        tie = TIES.get(run.claim, "") if run.claim else ""
        words = f"Lot {run.lot}" if run.lot else "From the one lot of this yarn"
        words += f", {tie}" if tie else ""
        if run.lot_left_g is not None:
            words += f"; the whole plan leaves {say.grams(run.lot_left_g)} in it"
        if run.chance is not None:
            words += f"; it is enough with a chance of {say.chance(run.chance)}"
        return f"{words}."
    if run.cover in (Cover.ORDER, Cover.LATE) and run.lot is not None:
        purchase = view.studio.stash.purchase.get(run.lot)
        if purchase is not None:
            late = ", which is too late" if run.cover is Cover.LATE else ""
            return (
                f"On order from {purchase.supplier}, to arrive {say.date(purchase.arrives)}{late}."
            )
    return ""


def edge_row(view: View, key: str, runs: tuple[RunPlan, ...], rough: frozenset[ShadeRef]) -> Row:
    """The border or the fringe; where there is none the line says how to add it."""
    project = view.project
    part = (project.border if key == BORDER else project.fringe) if project else None
    if part is None or project is None:
        return Row(
            key, ("", "", Cell(f"no {key}", Tone.QUIET), "", "", "", "", Cell("")), Tone.QUIET
        )
    size = (
        say.count(project.border.rounds, "round")
        if key == BORDER and project.border
        else say.count(project.fringe.strands if project.fringe else 0, "strand")
    )
    figure, unit = size.split(" ", 1)
    return Row(
        key,
        (
            Cell(""),
            part.slot,
            _shade_cell(view, part.slot),
            Cell(figure, Tone.STRONG),
            Cell(unit, Tone.QUIET),
            Cell(key, Tone.QUIET),
            _need_cell(runs, rough),
            _yarn_cell(runs),
        ),
        detail=(f"The {key}: {size}.", *_detail(view, runs, [], "", None)),
        words=key,
    )
