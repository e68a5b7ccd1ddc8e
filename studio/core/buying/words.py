"""A purchase plan in words: what cannot be had, what lines are for, what else could be done."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from studio.core import say
from studio.core.answers import RunKind, RunRef
from studio.core.buying.plan import (
    Near,
    NearKind,
    OneSupplier,
    PlanLine,
    PurchasePlan,
    RunnerUp,
    SupplierOrder,
)
from studio.core.buying.problem import Need
from studio.core.buying.question import HELD, Chosen, late_text
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import TooLittle
from studio.core.buying.together import HoldOffer, Together
from studio.core.edits.places import run_place, shade_name
from studio.core.headline import money_figure
from studio.core.lots.problem import BUY
from studio.core.model import ShadeRef, Stage, Studio

MOST_NAMES = 5
"""Names in one sentence; of more it says how many."""


def piece_name(studio: Studio, key: str) -> str:
    """A piece by its name."""
    piece = studio.project.get(key)
    return piece.name if piece else key


def supplier_name(studio: Studio, key: str) -> str:
    """A supplier by its name."""
    return next((s.name for s in studio.suppliers if s.key == key), key)


def run_words(studio: Studio, run: str) -> str:
    """A run key as 'River wrap, stripe 3'."""
    ref = RunRef.of_key(run)
    return f"{piece_name(studio, ref.project)}, {run_place(ref.kind, ref.index)}"


def runs_of_need(need: Need) -> str:
    """'stripes 1, 4 and 7', 'stripe 2 and the border': the runs that wait, each once."""
    stripes: list[str] = []
    others: list[str] = []
    for ref in dict.fromkeys(replace(RunRef.of_key(key), part=0) for key in need.runs):
        if ref.kind is RunKind.STRIPE:
            stripes.append(str(ref.index + 1))
        else:
            others.append(run_place(ref.kind, ref.index))
    word = "stripe" if len(stripes) == 1 else "stripes"
    first = [f"{word} {say.either(stripes, 'and')}"] if stripes else []
    return say.either([*first, *others], "and")


def in_the_way(plan: PurchasePlan, studio: Studio) -> Iterator[tuple[Need, str]]:
    """What cannot be had at all, then what comes late, each with what it delays."""
    lacking: dict[str, list[Need]] = {}
    for found in plan.not_sold:
        lacking.setdefault(found.text, []).append(found.need)
    for text, needs in lacking.items():
        names = say.either(list(dict.fromkeys(piece_name(studio, n.project) for n in needs)), "and")
        verb = "waits" if len({n.project for n in needs}) == 1 else "wait"
        yield needs[0], f"{text} {names} {verb} for it."
    first = {
        part.need: order.name for order in plan.orders for n in order.lines for part in n.needs
    }
    for late in plan.late:
        name = piece_name(studio, late.need.project)
        supplier = first.get(late.need, "the quickest supplier")
        yield late.need, late_text(late, name, shade_name(studio, late.need.shade), supplier)


def late_pieces(plan: PurchasePlan, studio: Studio) -> Iterator[tuple[str, str]]:
    """The pieces that wait for what cannot be had in time or at all, each with why."""
    for lacking in plan.not_sold:
        yield lacking.need.project, lacking.text
    shown = dict(in_the_way(plan, studio))
    for late in plan.late:
        yield late.need.project, shown[late.need]


def chosen_words(chosen: Chosen) -> str:
    """What is bought for, in a few words."""
    if chosen.projects:
        return "as you chose"
    stages = chosen.stages - HELD.stages
    more = [
        word for stage, word in ((Stage.QUOTED, "quotes"), (Stage.IDEA, "ideas")) if stage in stages
    ]
    return say.either(["booked", *more], "and")


def proof_words(plan: PurchasePlan) -> str:
    """How sure it is that nothing is cheaper."""
    if plan.proved:
        return "proved: nothing is cheaper"
    if plan.gap >= 1:
        more = "a cheaper one was not looked for" if plan.stopped else "a cheaper one is looked for"
        return f"a first plan; {more}"
    end = "stopped" if plan.stopped else "not proved"
    return f"{end}: at most {say.percent(plan.gap)} over the cheapest"


def stopped_words(plan: PurchasePlan) -> str:
    """What a search that was stopped shows: the best so far, and how far that may be off."""
    if plan.gap >= 1:
        return "Stopped: this is the first plan; how much cheaper it could be is not known."
    sure = f"at most {say.percent(plan.gap)} over the cheapest"
    return f"Stopped: this is the best plan so far, {sure}."


def amount_words(line: PlanLine) -> str:
    """'12 balls', or '2 packs of 10'."""
    if line.pack == 1:
        return say.balls(line.packs)
    return f"{say.count(line.packs, 'pack')} of {line.pack}"


def for_words(line: PlanLine, studio: Studio) -> str:
    """The pieces a line is for, shortly."""
    names = [piece_name(studio, part.need.project) for part in line.needs]
    return ", ".join(dict.fromkeys(names))


def use_words(line: PlanLine, studio: Studio) -> Iterator[str]:
    """Each piece that a line is for, with its runs, grams and share of the cost; then surplus."""
    currency = studio.settings.currency
    for part in line.needs:
        need = part.need
        by = f", by {say.date(need.need_by)}" if need.need_by else ""
        yield (
            f"{piece_name(studio, need.project)}, {runs_of_need(need)}: {say.grams(need.dg / 10)}, "
            f"{say.money(part.cost, currency)}{by}"
        )
    if line.surplus:
        worth = f", worth {say.money(line.worth, currency)} as a staple" if line.worth else ""
        yield f"{say.balls(line.surplus)} beyond need{worth}"


def order_words(order: SupplierOrder, currency: str) -> str:
    """'goods 48.00, shipping 4.90, there by 12 Mar 2027'."""
    ship = "free shipping" if order.free else f"shipping {money_figure(order.shipping, currency)}"
    goods = money_figure(order.goods, currency)
    return f"goods {goods}, {ship}, there by {say.date(order.arrives)}"


def near_words(near: Near, studio: Studio) -> str:
    """'3 balls more of Harbour 12 at Northlight reach free shipping: ...'."""
    currency = studio.settings.currency
    what = {
        NearKind.FREE_SHIPPING: "free shipping",
        NearKind.SHADE_BREAK: "a price break on the shade",
        NearKind.YARN_BREAK: "a price break over the yarn",
    }[near.kind]
    one = near.balls == 1
    verb = "reaches" if one else "reach"
    costs = "it costs" if one else "they cost"
    cost = (
        f"{costs} {say.money(near.adds, currency)} instead of {say.money(near.listed, currency)}"
        if near.adds > 0
        else f"the order gets cheaper by {say.money(-near.adds, currency)}"
        if near.adds < 0
        else f"{costs} nothing more"
    )
    return (
        f"{say.balls(near.balls)} more of {shade_name(studio, near.shade)} at "
        f"{supplier_name(studio, near.supplier)} {verb} {what}: {cost}."
    )


def single_words(single: OneSupplier, studio: Studio) -> str:
    """How much dearer everything from one supplier is, or what it lacks."""
    currency = studio.settings.currency
    name = supplier_name(studio, single.supplier)
    if single.landed is None or single.dearer is None:
        if not single.lacks:
            return f"All from {name}: it cannot be done, its minimum or first price is not reached."
        return f"All from {name}: it does not bring {names_of(studio, single.lacks)} in time."
    if not single.dearer:
        return f"All from {name}: {say.money(single.landed, currency)}, the same."
    word = "dearer" if single.dearer > 0 else "cheaper, with less surplus of worth"
    return (
        f"All from {name}: {say.money(single.landed, currency)}, "
        f"{say.money(abs(single.dearer), currency)} {word}."
    )


def runner_up_words(found: RunnerUp, studio: Studio) -> str:
    """The next plan that truly differs, and by how much it is dearer."""
    currency = studio.settings.currency
    names = say.either([order.name for order in found.orders], "and")
    how = (
        f"from {names}"
        if found.other_suppliers
        else f"with {say.percent(found.moved, 0)} of the runs bought elsewhere"
    )
    sure = "" if found.proved else " at the most"
    # By a cent or two it may be cheaper: nothing moves to other yarn for so little.
    word = "dearer" if found.dearer >= 0 else "cheaper, with more runs moved"
    return (
        f"The next plan that truly differs, {how}: {say.money(found.landed, currency)}, "
        f"{say.money(abs(found.dearer), currency)} {word}{sure}."
    )


def lot_words(code: str) -> str:
    """'lot 7', or 'new yarn'."""
    return "new yarn" if code == BUY else f"lot {code}"


def move_words(move: tuple[str, str, str], studio: Studio) -> str:
    """'River wrap, stripe 3: from lot 7 to new yarn'."""
    run, now, then = move
    return f"{run_words(studio, run)}: from {lot_words(now)} to {lot_words(then)}"


def offer_words(offer: HoldOffer, studio: Studio) -> str:
    """What moving holds would save."""
    count = say.count(len(offer.moves), "hold")
    if offer.saves > 0:
        gain = f"saves {say.money(offer.saves, studio.settings.currency)}"
    else:
        gain = "spares a delay"
    return f"Moving {count} {gain}. It is only offered: the holds stay until you move them."


def taking_words(offer: HoldOffer, studio: Studio) -> Iterator[str]:
    """What taking the offer does: each hold that moves, then each order that is placed with it."""
    for move in offer.moves:
        yield f"{move_words(move, studio)}."
    currency = studio.settings.currency
    for order in offer.plan.orders:
        names = [
            f"{say.balls(line.balls)} of {shade_name(studio, line.shade)}" for line in order.lines
        ]
        lines = say.either(names, "and")
        yield f"Order from {order.name}: {lines}, {say.money(order.landed, currency)}."


def together_words(found: Together, studio: Studio) -> Iterator[str]:
    """What thinking of lots and purchases together brought."""
    currency = studio.settings.currency
    if found.plan.moves:
        gain = f", which saves {say.money(found.saves, currency)}" if found.saves > 0 else ""
        yield f"{say.count(len(found.plan.moves), 'run')} would be worked from other yarn{gain}."
    if not found.complete:
        yield "Not every way to share out the lots was looked at; there were too many."


def person_words(plan: PurchasePlan, studio: Studio) -> str:
    """What buying each shade where it is cheapest would cost; nothing where it is the same."""
    if plan.person is None or plan.person <= plan.landed:
        return ""
    currency = studio.settings.currency
    return (
        f"Each shade where it is cheapest: {say.money(plan.person, currency)}, "
        f"{say.money(plan.person - plan.landed, currency)} dearer."
    )


def surplus_words(plan: PurchasePlan, currency: str) -> str:
    """All surplus in balls, and what it is worth."""
    balls = sum(line.surplus for order in plan.orders for line in order.lines)
    if not balls:
        return "nothing beyond need"
    worth = f", worth {say.money(plan.worth, currency)}" if plan.worth else ""
    return f"{say.balls(balls)} beyond need{worth}"


def aside_words(plan: PurchasePlan, studio: Studio) -> Iterator[str]:
    """What stands beside a plan: surplus, a person's plan, the runner-up, one supplier, breaks."""
    yield f"Surplus: {surplus_words(plan, studio.settings.currency)}."
    if person := person_words(plan, studio):
        yield person
    if plan.runner_up is not None:
        yield runner_up_words(plan.runner_up, studio)
    for single in plan.singles:
        yield single_words(single, studio)
    for near in plan.near:
        yield near_words(near, studio)


def staple_words(line: StapleLine) -> Iterator[str]:
    """Whether it is time to reorder and what that rests on; why, where no figure is told."""
    if isinstance(line.use, TooLittle):
        yield line.use.text
    elif line.standing is None:
        yield line.trouble
    else:
        point = line.standing.point
        if line.due:
            yield line.standing.text(line.name)
        yield (
            f"{say.number(point.lead_use, 1)} balls in the lead time and "
            f"{say.number(point.safety, 1)} for safety; "
            f"{say.count(line.use.uses, 'use')} since {say.date(line.use.since)}."
        )
        yield f"Best ordered at {line.supplier}, {say.balls(line.standing.size.balls)} at once."
        if line.parcel:
            yield line.parcel


def names_of(studio: Studio, refs: Sequence[ShadeRef]) -> str:
    """Shades by name, one after the other; of many the first few and how many more."""
    shown = refs if len(refs) <= MOST_NAMES else refs[: MOST_NAMES - 1]
    names = [shade_name(studio, ref) for ref in shown]
    if len(shown) < len(refs):
        names.append(f"{len(refs) - len(shown)} more")
    return say.either(names, "and")


def untied_words(studio: Studio, untied: Iterable[str]) -> str:
    """Which runs the orders do not cover in the plan, and why; nothing where there are none."""
    runs = list(untied)
    if not runs:
        return ""
    verb = "does" if len(runs) == 1 else "do"
    names = say.either([run_words(studio, run) for run in runs], "and")
    return f"{names} {verb} not wait for them, being tied to other yarn that stays as it is."
