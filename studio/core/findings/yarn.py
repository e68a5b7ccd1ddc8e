"""Findings about yarn: what is short or late, holds that no longer work, lots that meet."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from studio.core import say
from studio.core.answers import Cover, Finding, Mend, RunKind, RunPlan, ShadePlan, Weight
from studio.core.colour import difference
from studio.core.findings.seen import Seen, opening, run_name
from studio.core.lots.problem import Fixed, ShadeProblem
from studio.core.lots.problem import Stage as LotStage
from studio.core.model import ClaimKind, LotRef, ShadeRef, Stage, Yarn
from studio.core.shades import relief_dg

CODES = (
    "short",
    "discontinued",
    "late",
    "hold-moved",
    "lot-overdrawn",
    "begun-no-lot",
    "lots-meet",
    "one-lot-costs",
    "unproved",
)

REORDER = "time-to-reorder"
"""The one finding that is of the shelf and of no piece: a staple at its reorder point."""

NEW_LOT = "a new lot"
"""Stands for the lot still to be bought where lots are compared."""

NEAREST = 3
"""How many nearest shades are offered for one that cannot be bought."""


def findings(seen: Seen) -> Iterator[Finding]:
    """Everything the stash does to the piece."""
    for shade in seen.shades:
        yield from _short(seen, shade)
        yield from _late(seen, shade)
        yield from _one_lot(seen, shade)
        yield from _unproved(seen, shade)
    yield from _moved(seen)
    yield from _overdrawn(seen)
    yield from _begun(seen)
    yield from _meet(seen)


def _weight(seen: Seen) -> Weight:
    """A promise that is short needs her; a quote is a caution; an idea is worth a note."""
    if seen.project.stage.holds:
        return Weight.STOP
    return Weight.CAUTION if seen.project.stage is Stage.QUOTED else Weight.NOTE


def _grams(seen: Seen, value: Decimal | float) -> str:
    return say.weight(value, seen.studio.settings.weight_unit)


def _short(seen: Seen, shade: ShadePlan) -> Iterator[Finding]:
    # Runs that stay with a lot which does not last are told by `_overdrawn`.
    runs = [r for r in seen.runs if r.shade == shade.shade and _lot_key(r) == NEW_LOT]
    if not runs:
        return
    # It stands at the longest of them, where rows can be spared; the first one of equals.
    first = max(runs, key=lambda r: r.rows)
    name = seen.shade_name(shade.shade)
    which = opening(run_name(first.ref))
    more = f" and {say.count(len(runs) - 1, 'more run')}" if len(runs) > 1 else ""
    verb = "need" if len(runs) > 1 else "needs"
    need_g = sum((r.need_g for r in runs), Decimal(0))
    text = (
        f"{which}{more} {verb} {_grams(seen, need_g)} of {name} that no lot can work"
        f"{_best_left(seen, shade)}."
    )
    yarn = seen.studio.library.yarn[shade.shade.yarn]
    if cannot_be_bought(yarn, shade.shade):
        near = say.either(_nearest(seen, yarn, shade.shade)) or "none of this yarn"
        yield seen.finding(
            "discontinued",
            _weight(seen),
            f"{text} {name} is discontinued and cannot be bought; nearest: {near}.",
            run=first.ref,
            slot=first.slot,
            shade=shade.shade,
        )
        return
    yield seen.finding(
        "short",
        _weight(seen),
        f"{text} Buy {say.balls(shade.buy_balls)} in a new lot, or work fewer rows.",
        run=first.ref,
        slot=first.slot,
        shade=shade.shade,
        mend=Mend.SHORTEN if first.ref.kind is RunKind.STRIPE and first.rows > 2 else None,
    )


def _best_left(seen: Seen, shade: ShadePlan) -> str:
    """What the fullest lot has left after the plan, as the tail of a sentence."""
    left = seen.outcomes[shade.shade].room
    code = max(left, key=lambda c: (left[c], c), default=None)
    if code is None:
        return "; there is none in the house"
    if left[code] <= 0:
        return "; every lot is taken"
    return f"; lot {code} has {_grams(seen, Decimal(left[code]) / 10)} left"


def cannot_be_bought(yarn: Yarn, ref: ShadeRef) -> bool:
    """Whether the yarn or the shade is discontinued."""
    shade = yarn.shade(ref.shade)
    return yarn.discontinued or (shade is not None and shade.discontinued)


def _nearest(seen: Seen, yarn: Yarn, ref: ShadeRef) -> list[str]:
    """The names of the nearest shades by colour that can still be bought, same yarn first."""
    wanted = yarn.shade(ref.shade)
    kin = [yarn, *(y for k in yarn.works_with if (y := seen.studio.library.yarn.get(k)))]
    found = [
        (difference(wanted.colours, other.colours), f"{other.name} ({y.name})")
        for y in kin
        for other in y.shades
        if wanted is not None and not cannot_be_bought(y, ShadeRef(y.key, other.code))
    ]
    return [name for _, name in sorted(found)[:NEAREST]]


def _late(seen: Seen, shade: ShadePlan) -> Iterator[Finding]:
    late = [r for r in seen.runs if r.shade == shade.shade and r.cover is Cover.LATE]
    if not late or late[0].lot is None:
        return
    purchase = seen.studio.stash.purchase[late[0].lot]
    due = seen.project.due
    by = f", after the due date {say.date(due)}" if due else ""
    yield seen.finding(
        "late",
        _weight(seen),
        f"{seen.shade_name(shade.shade)} for {run_name(late[0].ref)} is on order from "
        f"{purchase.supplier} but arrives {say.date(purchase.arrives)}{by}. Ask for it sooner, or "
        "agree another date.",
        run=late[0].ref,
        slot=late[0].slot,
        shade=shade.shade,
    )


def _one_lot(seen: Seen, shade: ShadePlan) -> Iterator[Finding]:
    """Offer to relax 'one lot' where that would save buying, with what it saves at the least."""
    if shade.buy_g <= 0:
        return
    outcome = seen.outcomes[shade.shade]
    piece = next((p for p in outcome.problem.pieces if p.key == seen.project.key), None)
    if piece is None:
        return
    for group in sorted(piece.together):
        saved = relief_dg(outcome, piece.key, group)
        if saved > 0:
            slot = group.rsplit("/", 1)[-1]
            yield seen.finding(
                "one-lot-costs",
                Weight.NOTE,
                f"Slot {slot} keeps to one lot. Allowing a lot for each stripe would save buying "
                f"at least {_grams(seen, Decimal(saved) / 10)} of "
                f"{seen.shade_name(shade.shade)}.",
                slot=slot,
                shade=shade.shade,
                mend=Mend.ALLOW_BY_STRIPE,
            )


def _unproved(seen: Seen, shade: ShadePlan) -> Iterator[Finding]:
    outcome = seen.outcomes[shade.shade]
    if outcome.pending or outcome.answer.proved:
        return
    # The last tie has no amount: what is open there is only whether another answer is as good.
    open_gaps = [g for g in outcome.answer.gaps if g.stage is not LotStage.CODE]
    if not open_gaps:
        return
    gaps = say.either(
        [f"{say.percent(g.gap)} at {_STAGE_WORDS[g.stage]}" for g in open_gaps], "and"
    )
    yield seen.finding(
        "unproved",
        Weight.NOTE,
        f"The lots of {seen.shade_name(shade.shade)} are good but not proved best: off by at most "
        f"{gaps}.",
        shade=shade.shade,
    )


_STAGE_WORDS = {
    LotStage.REPAIR: "the fewest moves",
    LotStage.BUY_EACH: "the fewest balls to buy",
    LotStage.BUY_POOLED: "the balls bought together",
    LotStage.LOTS: "the fewest lots in a slot",
    LotStage.LEFTOVERS: "using up part balls and old lots",
}


def _moved(seen: Seen) -> Iterator[Finding]:
    """One finding for all runs of a slot that leave a lot: under one lot they leave together."""
    left: dict[tuple[str, str], list[RunPlan]] = {}
    for run in seen.runs:
        if run.moved_from is not None:
            left.setdefault((run.slot, run.moved_from), []).append(run)
    for runs in left.values():
        run, more = runs[0], len(runs) - 1
        with_it = f" with {say.count(more, 'more run')}" if more else ""
        to = f"lot {run.lot}" if run.cover is Cover.STASH else "a new lot to be bought"
        yield seen.finding(
            "hold-moved",
            Weight.STOP,
            f"{opening(run_name(run.ref))}{with_it} was promised lot {run.moved_from}, which no "
            f"longer has enough for all that is held from it; the fewest moves take it to {to}.",
            run=run.ref,
            slot=run.slot,
            shade=run.shade,
            lot=LotRef(*run.shade, run.moved_from or ""),
            mend=Mend.MOVE_HOLD,
        )


def _overdrawn(seen: Seen) -> Iterator[Finding]:
    for shade in seen.shades:
        outcome = seen.outcomes[shade.shade]
        for run in seen.runs:
            lack = outcome.short.get(run.ref.key)
            if run.shade != shade.shade or not lack or run.lot is None:
                continue
            why = "is begun" if run.begun else "is pinned"
            if run.claim is ClaimKind.ORDER:
                why = "was ordered for"
            yield seen.finding(
                "lot-overdrawn",
                Weight.STOP,
                f"{opening(run_name(run.ref))} {why} and stays with {_lot_words(run)}, which lacks "
                f"{_grams(seen, Decimal(lack) / 10)} of {seen.shade_name(run.shade)} for it.",
                run=run.ref,
                slot=run.slot,
                shade=run.shade,
                lot=LotRef(*run.shade, run.lot),
                mend=Mend.DROP_CLAIM if _pinned(outcome.problem, run) else None,
            )


def _lot_words(run: RunPlan) -> str:
    return f"purchase {run.lot}" if run.claim is ClaimKind.ORDER else f"lot {run.lot}"


def _pinned(problem: ShadeProblem, run: RunPlan) -> bool:
    return any(r.fixed is Fixed.PIN for p in problem.pieces for r in p.runs if r.key == run.ref.key)


def _begun(seen: Seen) -> Iterator[Finding]:
    for run in seen.runs:
        if run.begun and run.claim is None and run.cover is not Cover.DONE:
            yield seen.finding(
                "begun-no-lot",
                Weight.CAUTION,
                f"{opening(run_name(run.ref))} is begun, but the lot it is worked from is not "
                "written down. Pin its lot, so that the rest of it is kept.",
                run=run.ref,
                slot=run.slot,
                shade=run.shade,
            )


def _meet(seen: Seen) -> Iterator[Finding]:
    """Neighbouring stripes of one slot in different lots, told once for each pair of lots."""
    by_slot: dict[str, list[RunPlan]] = {}
    for run in seen.runs:
        if run.ref.kind is RunKind.STRIPE and run.cover is not Cover.UNKNOWN:
            by_slot.setdefault(run.slot, []).append(run)
    for slot, runs in by_slot.items():
        told: set[frozenset[str]] = set()
        for before, after in pairwise(runs):
            pair = frozenset((_lot_key(before), _lot_key(after)))
            if len(pair) < 2 or pair in told or "" in pair or before.shade != after.shade:
                continue
            told.add(pair)
            first, second, shade = before.ref, after.ref, seen.shade_name(after.shade)
            who = (
                f"{opening(run_name(first))}, {shade}, comes"
                if first.index == second.index
                else f"{opening(run_name(first))} and {run_name(second)}, both {shade}, come"
            )
            yield seen.finding(
                "lots-meet",
                Weight.CAUTION,
                f"{who} from {_lot_or_new(before)} and {_lot_or_new(after)}; the difference may "
                "show. Compare them in daylight.",
                run=after.ref,
                slot=slot,
                shade=after.shade,
            )


def _lot_key(run: RunPlan) -> str:
    if run.cover is Cover.SHORT and run.lot is None:
        return NEW_LOT
    return run.lot or ""


def _lot_or_new(run: RunPlan) -> str:
    return "a new lot" if run.lot is None else _lot_words(run)
