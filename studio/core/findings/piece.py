"""Findings about the plan itself: names, size, rows and sides, evidence, colours, prices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from studio.core import categories, say
from studio.core.agreement import agreement
from studio.core.answers import Finding, Measure, Mend, Rung, RunKind, RunRef, Side, Weight
from studio.core.colour import alike
from studio.core.findings.seen import Seen, opening, run_name
from studio.core.headline import money_figure
from studio.core.model import Method, ShadeRef
from studio.core.own_price import too_low
from studio.core.runs import Unknown

CODES = (
    "unknown",
    "by-hand",
    "no-gauge",
    "disagree",
    "size-off",
    "odd-stripe",
    "unwashed",
    "rough",
    "alike",
    "hook-unusual",
    "gauge-unusual",
    "price-missing",
    "price-low",
    "fibres-unknown",
)


def findings(seen: Seen) -> Iterator[Finding]:
    """Everything that can be said before the stash is looked at."""
    if not seen.project.stage.needs_yarn:
        return
    yield from _unknown(seen)
    yield from _size(seen)
    yield from _odd(seen)
    yield from _evidence(seen)
    yield from _alike(seen)
    yield from _category(seen)
    if seen.cost.assumed:
        yield seen.finding("price-missing", Weight.NOTE, " ".join(seen.cost.assumed))
    yield from _price_low(seen)
    yield from _fibres(seen)


def _price_low(seen: Seen) -> Iterator[Finding]:
    """What a yarn costs today is hers to state, so a dearer offer changes nothing by itself."""
    currency = seen.studio.settings.currency
    for found in too_low(seen.project, seen.shades, seen.studio):
        name, asked = seen.studio.library.yarn[found.shade.yarn].name, found.asked
        price = money_figure(asked.price, currency)
        now = (
            f"you last paid {price}"
            if asked.supplier is None
            else f"the least anyone asks for {say.balls(found.balls)} of "
            f"{seen.shade_name(found.shade)} is {price}, at {asked.supplier}"
        )
        yield seen.finding(
            "price-low",
            Weight.NOTE,
            f"{name} counts at {money_figure(found.counted, currency)} a ball, but {now}: this "
            f"piece then costs {say.money(found.more, currency)} more.",
            shade=found.shade,
            mend=Mend.TAKE_PRICE,
        )


def _fibres(seen: Seen) -> Iterator[Finding]:
    """What leaves the house states its fibres, so a yarn whose band is lost is told in time."""
    told: set[str] = set()
    for slot in seen.project.slots:
        yarn = seen.studio.library.yarn.get(slot.yarn)
        if yarn is None or yarn.fibres or yarn.key in told:
            continue
        told.add(yarn.key)
        yield seen.finding(
            "fibres-unknown",
            Weight.NOTE,
            f"The fibres of {yarn.name} are not known, so quote and label cannot state them. Put "
            "them down with the yarn.",
            slot=slot.letter,
        )


def _unknown(seen: Seen) -> Iterator[Finding]:
    reasons: dict[Unknown | None, RunRef] = {}
    for run in seen.demand.runs:
        if not run.known and run.reason is not Unknown.GAUGE:
            reasons.setdefault(run.reason, run.ref)
    for reason, ref in reasons.items():
        text = f"{opening(run_name(ref))} cannot be planned: {reason}."
        yield seen.finding("unknown", Weight.STOP, text, run=ref)
    if seen.project.method is Method.BY_HAND:
        yield seen.finding(
            "by-hand",
            Weight.NOTE,
            "Size is not worked out for a piece in rounds, corner to corner or motifs; grams are "
            "those entered for each run.",
        )


def _size(seen: Seen) -> Iterator[Finding]:
    project, size = seen.project, seen.demand.size
    if project.method is Method.BY_HAND:
        return
    if size is None:
        stitch = seen.studio.library.stitch.get(project.stitch)
        if stitch is not None:
            hook = say.number(project.hook_mm, 2)
            yield seen.finding(
                "no-gauge",
                Weight.STOP,
                f"No swatch of this yarn in {stitch.name.lower()} on a {hook} mm hook, so there is "
                "no size. Work and measure one, or take the hook of a swatch you have.",
            )
        return
    assumed = seen.studio.settings.assumed
    stitch = seen.studio.library.stitch[project.stitch]
    for found in agreement(project, stitch, size.gauge, size, seen.studio.settings):
        told = seen.finding("disagree", Weight.STOP, found.text, mend=Mend.CLEAR_STATED)
        yield replace(told, field=found.stated)
    unit = seen.studio.settings.length_unit
    sides = (
        ("width", size.width_off, size.width_cm, size.asked_width_cm, None),
        ("length", size.length_off, size.length_cm, size.asked_length_cm, Mend.FIT_LENGTH),
    )
    for name, off, got, asked, mend in sides:
        if abs(off) > float(assumed.size_tolerance):
            rows = f" {say.count(size.rows_for_target, 'row')} would come nearest." if mend else ""
            yield seen.finding(
                "size-off",
                Weight.CAUTION,
                f"The {name} comes out at {say.length(got, unit)}, asked "
                f"{say.length(asked, unit)} ({say.signed_percent(off)}).{rows}",
                mend=mend,
            )


def _odd(seen: Seen) -> Iterator[Finding]:
    """Odd stripes move every later colour change to the wrong side until another odd one mends it.

    Changes on the right side are common practice; a stitch may allow either side.
    """
    stitch = seen.studio.library.stitch.get(seen.project.stitch)
    if stitch is None or stitch.change_either_side or seen.project.method is Method.BY_HAND:
        return
    for now, after in pairwise(seen.demand.stripe_rows):
        rows = now.last - now.first + 1
        if rows % 2 == 0:
            continue
        index = now.index
        effect = (
            f"stripe {index + 2} then changes colour on the wrong side"
            if after.first_side is Side.WRONG
            else f"it brings stripe {index + 2} back to the right side"
        )
        text = f"Stripe {index + 1} has {say.count(rows, 'row')}, an odd number: {effect}."
        ref = RunRef(seen.project.key, RunKind.STRIPE, index)
        yield seen.finding("odd-stripe", Weight.CAUTION, text, run=ref, mend=Mend.MAKE_EVEN)


def _evidence(seen: Seen) -> Iterator[Finding]:
    gauge = seen.demand.gauge
    if gauge is not None and gauge.measure is Measure.UNWASHED:
        yield seen.finding(
            "unwashed",
            Weight.CAUTION,
            f"The gauge is from before washing ({say.either(list(gauge.swatches), 'and')}); the "
            "washed size may differ. Wash the swatch and count again.",
        )
    for key, use in seen.demand.row_use.items():
        if use.rung is Rung.ROUGH:
            yarn = seen.studio.library.yarn.get(key)
            yield seen.finding(
                "rough",
                Weight.CAUTION,
                f"Grams of {yarn.name if yarn else key} are rough, from area and yarn weight "
                "alone. Weigh a swatch, or work one ball and note the rows.",
            )


def _alike(seen: Seen) -> Iterator[Finding]:
    limit = float(seen.studio.settings.assumed.alike_difference)
    told: set[frozenset[ShadeRef]] = set()
    stripes = [r for r in seen.runs if r.ref.kind is RunKind.STRIPE]
    for before, after in pairwise(stripes):
        pair = frozenset((before.shade, after.shade))
        one = seen.studio.library.shade.get(before.shade)
        two = seen.studio.library.shade.get(after.shade)
        if len(pair) < 2 or pair in told or one is None or two is None:
            continue
        told.add(pair)
        if alike(one.colours, two.colours, limit):
            yield seen.finding(
                "alike",
                Weight.NOTE,
                f"{opening(run_name(before.ref))} ({one.name}) and {run_name(after.ref)} "
                f"({two.name}) are hard to tell apart. Accept it if a fade is meant.",
                run=after.ref,
            )


def _category(seen: Seen) -> Iterator[Finding]:
    project, gauge = seen.project, seen.demand.gauge
    stitch = seen.studio.library.stitch.get(project.stitch)
    told: set[str] = set()
    for slot in project.slots:
        yarn = seen.studio.library.yarn.get(slot.yarn)
        if yarn is None or yarn.key in told:
            continue
        told.add(yarn.key)
        hint = categories.hook_hint(yarn.category, project.hook_mm)
        if hint:
            yield seen.finding("hook-unusual", Weight.NOTE, hint, slot=slot.letter)
        if gauge is None or stitch is None or gauge.in_repeats:
            continue
        hint = categories.gauge_hint(yarn.category, gauge.stitches_per_cm, stitch)
        if hint:
            yield seen.finding("gauge-unusual", Weight.NOTE, hint, slot=slot.letter)
