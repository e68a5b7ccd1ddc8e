"""From quote to hand-over: stages with their dates, holds, and holds that a change would break.

Every function is a pure edit of the studio. Booking turns the plan's lots into holds, which no
later piece can take; what ends a booking frees them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import edits, quoting, say
from studio.core.answers import Cover, ProjectPlan, RunKind, RunPlan, RunRef, StudioPlan
from studio.core.edits.places import put_project, refuse, run_places, shade_name, the_project
from studio.core.frozen import dataclass
from studio.core.lots.problem import ShadeProblem
from studio.core.model import Claim, ClaimKind, Project, ShadeRef, Stage, Studio
from studio.core.money import rounded
from studio.core.payments import to_give_back
from studio.core.price_sheet import Priced, hers_unread
from studio.core.trade_model import StageDate
from studio.errors import PromiseBrokenError

OPEN = frozenset({Stage.IDEA, Stage.QUOTED})
"""Stages at which a piece is promised to nobody."""


def to_stage(
    studio: Studio, key: str, stage: Stage, plan: ProjectPlan | None, on: date | None = None
) -> Studio:
    """Bring a piece to a stage; where it begins to hold yarn, its lots are promised to it.

    Runs that are pinned, bought for, worked or short keep what they have. With `on` the day is
    kept as the day the stage was reached.
    """
    before = the_project(studio, key)
    after = edits.set_project(studio, key, stage=stage)
    if stage.holds and not before.stage.holds:
        _check_known(before, studio)
    if plan is not None and stage.holds and not before.stage.holds:
        after = put_project(after, promised(after.project[key], plan))
    return after if on is None else _reached(after, key, stage, on)


def _check_known(piece: Project, studio: Studio) -> None:
    """Refuse a promise where a file could not be read that it rests on.

    One of another piece may have promised the same yarn; her hours make the day.
    """
    if lost := hers_unread(studio):
        refuse(
            f"{say.either(lost, 'and')} could not be read, so your prices and hours are not known. "
            f"Mend that before {piece.name} is promised."
        )
    yarns = {slot.yarn for slot in piece.slots}
    unread = sorted(
        file
        for file in studio.unread
        if file.startswith("projects/")
        or any(file == f"{folder}/{yarn}.toml" for folder in ("stash", "yarns") for yarn in yarns)
    )
    if unread:
        refuse(
            f"{say.either(unread, 'and')} could not be read, so which yarn is promised already is "
            f"not known. Mend that before {piece.name} holds any."
        )


def promised(
    project: Project, plan: ProjectPlan, shades: Collection[ShadeRef] | None = None
) -> Project:
    """The piece with a hold on the lot that the plan has for each of its runs, or those of shades.

    A run that mixes lots has no one lot and holds none, unless all its row pairs agree on one.
    """
    lots: dict[tuple[RunKind, int], set[str | None]] = {}
    for run in plan.runs:
        free = run.cover is Cover.STASH and run.claim is None
        free = free and (shades is None or run.shade in shades)
        place = (run.ref.kind, run.ref.index)
        lots.setdefault(place, set()).add(run.lot if free else None)
    holds = {
        place: Claim(ClaimKind.HOLD, lot)
        for place, found in lots.items()
        if len(found) == 1 and (lot := next(iter(found))) is not None
    }
    border, fringe = project.border, project.fringe
    on_border = holds.get((RunKind.BORDER, 0))
    on_fringe = holds.get((RunKind.FRINGE, 0))
    return replace(
        project,
        stripes=tuple(
            replace(s, claim=hold) if (hold := holds.get((RunKind.STRIPE, i))) else s
            for i, s in enumerate(project.stripes)
        ),
        border=replace(border, claim=on_border) if border and on_border else border,
        fringe=replace(fringe, claim=on_fringe) if fringe and on_fringe else fringe,
    )


def _reached(studio: Studio, key: str, stage: Stage, on: date) -> Studio:
    piece = studio.project[key]
    if piece.reached[-1:] == (StageDate(stage, on),):
        return studio
    last = max((r.on for r in piece.reached), default=None)
    if last is not None and on < last:
        refuse(
            f"{piece.name} reached its last stage on {say.date(last)}, so it cannot be "
            f"'{stage.value}' since {say.date(on)}."
        )
    return put_project(studio, replace(piece, reached=(*piece.reached, StageDate(stage, on))))


def _must_be(piece: Project, stages: Iterable[Stage], to_do: str) -> None:
    allowed = list(stages)
    if piece.stage not in allowed:
        words = say.either([f"'{s.value}'" for s in allowed])
        refuse(f"{piece.name} is at stage '{piece.stage.value}'; to {to_do} it must be at {words}.")


def send_quote(
    studio: Studio, key: str, priced: Priced, on: date, ready_by: date | None = None
) -> Studio:
    """Freeze the price and keep it with the piece, which is then quoted.

    A quote sent again takes the place of the one before it.
    """
    piece = the_project(studio, key)
    _must_be(piece, (Stage.IDEA, Stage.QUOTED), "be quoted")
    if ready_by is not None and ready_by < on:
        refuse(f"{say.date(ready_by)} is past, so it cannot be promised.")
    after = to_stage(studio, key, Stage.QUOTED, None, on)
    quote = replace(quoting.quote_of(priced, studio, on, ready_by), design=quoting.design_of(piece))
    return put_project(after, replace(after.project[key], quote=quote))


def accept(
    studio: Studio, key: str, plan: ProjectPlan, on: date, due: date | None = None
) -> Studio:
    """Book a quote or idea: the lots of the plan become holds; runs to buy stay open.

    `plan` is that of the enquiry's answer. `due` takes the place of the piece's own date.
    """
    piece = the_project(studio, key)
    _must_be(piece, (Stage.IDEA, Stage.QUOTED), "be booked")
    if plan.key != key:
        raise ValueError("the plan is of another piece")
    wanted = due or piece.due
    if wanted is not None and wanted < on:
        refuse(f"{piece.name} was due on {say.date(wanted)}, which is past; agree another date.")
    after = to_stage(studio, key, Stage.BOOKED, plan, on)
    return put_project(after, replace(after.project[key], booked=on, due=wanted))


def decline(studio: Studio, key: str, on: date) -> Studio:
    """The customer does not want it, or she does not."""
    _must_be(the_project(studio, key), (Stage.IDEA, Stage.QUOTED), "be declined")
    return to_stage(studio, key, Stage.DECLINED, None, on)


def cancel(studio: Studio, key: str, on: date) -> Studio:
    """End a booking: all its yarn is free again; what was paid stays until it is refunded."""
    held = (Stage.BOOKED, Stage.MAKING, Stage.FINISHING)
    _must_be(the_project(studio, key), held, "be cancelled")
    return to_stage(studio, key, Stage.CANCELLED, None, on)


def move_on(studio: Studio, key: str, on: date) -> Studio:
    """To the next stage of making: booked, making, finishing, then delivered or in stock."""
    piece = the_project(studio, key)
    steps = {Stage.BOOKED: Stage.MAKING, Stage.MAKING: Stage.FINISHING}
    last = Stage.DELIVERED if piece.customer else Stage.IN_STOCK
    _must_be(piece, (*steps, Stage.FINISHING), "go on")
    return to_stage(studio, key, steps.get(piece.stage, last), None, on)


def sell(studio: Studio, key: str, customer: str, price: Decimal, on: date) -> Studio:
    """Sell a piece from stock: it has a customer and a price, and is delivered.

    An older quote of the piece ends here, since this is another sale. What was paid for one that
    came back must have been given back or kept, or it would count for the new customer.
    """
    piece = the_project(studio, key)
    _must_be(piece, (Stage.IN_STOCK,), "be sold from stock")
    if owed := to_give_back(piece):
        refuse(
            f"{say.money(owed, studio.settings.currency)} was paid for {piece.name} before it came "
            "back. Give it back, or note what you keep of it, before it is sold again."
        )
    if not customer.strip():
        refuse(f"Say who buys {piece.name}.")
    if not price.is_finite() or price < 0:
        refuse(f"A price of {price} makes no sense for {piece.name}; it is 0 or more.")
    if price != rounded(price, studio.settings.currency):
        refuse(f"{price} cannot be paid in {studio.settings.currency}: it has too many decimals.")
    after = to_stage(studio, key, Stage.DELIVERED, None, on)
    sold = replace(after.project[key], customer=customer, price=price, quote=None)
    return put_project(after, sold)


def take_back(studio: Studio, key: str, on: date) -> Studio:
    """A delivered piece comes back: it is in stock, and nobody's until it is sold again."""
    _must_be(the_project(studio, key), (Stage.DELIVERED,), "come back")
    after = to_stage(studio, key, Stage.IN_STOCK, None, on)
    return put_project(after, replace(after.project[key], customer="", due=None))


@dataclass(frozen=True, slots=True)
class BrokenHold:
    """A promise that a change would break: the run, the lot it had, and what becomes of it.

    `moves_to` is the lot it would go to, None where it must be bought. Where it is not `moved` it
    keeps its lot and only lacks grams.
    """

    run: RunRef
    shade: ShadeRef
    lot: str
    moves_to: str | None
    moved: bool


class HoldsBrokenError(PromiseBrokenError):
    """A change that would break promises of yarn; it has not been made.

    `open_problems` are shades of them that were answered by a quick search only.
    """

    def __init__(
        self,
        broken: tuple[BrokenHold, ...],
        sentences: tuple[str, ...],
        open_problems: tuple[ShadeProblem, ...] = (),
    ) -> None:
        super().__init__(" ".join(sentences))
        self.broken = broken
        self.sentences = sentences
        self.open_problems = open_problems


def _is_broken(run: RunPlan) -> bool:
    if run.moved_from is not None:
        return True
    tied = run.claim in (ClaimKind.HOLD, ClaimKind.ORDER)
    return tied and run.cover is Cover.SHORT


def _broken_key(run: RunPlan) -> tuple[object, ...]:
    """What tells one broken promise from another though stripes were added or moved."""
    return run.ref.kind, run.slot, run.shade, run.moved_from, run.lot, run.need_g


def broken_holds(before: StudioPlan, after: StudioPlan) -> tuple[BrokenHold, ...]:
    """The holds that stood before and cannot stand after.

    A promise that was broken before is not told again, though its run needs another amount now.
    """
    found = []
    for key, plan in after.projects.items():
        old = before.projects.get(key)
        if plan is old or not plan.stage.holds:
            continue
        was = [r for r in old.runs if _is_broken(r)] if old and old.stage.holds else []
        known = Counter(_broken_key(run) for run in was)
        same_runs = old is not None and len(old.runs) == len(plan.runs)
        places = {run.ref for run in was} if same_runs else set()
        for run in plan.runs:
            if not _is_broken(run) or run.ref in places:
                continue
            if known[_broken_key(run)] > 0:
                known[_broken_key(run)] -= 1
                continue
            found.append(_broken(run))
    return tuple(found)


def check_holds(
    before: StudioPlan, after: StudioPlan, studio: Studio, asked: Mapping[ShadeRef, ShadeProblem]
) -> None:
    """Raise HoldsBrokenError where a change breaks a promise that stood.

    `studio` is the one after it, `asked` the questions that are still open there.
    """
    broken = broken_holds(before, after)
    if broken:
        shades = dict.fromkeys(b.shade for b in broken)
        still_open = tuple(asked[ref] for ref in shades if ref in asked)
        raise HoldsBrokenError(broken, broken_sentences(broken, studio), still_open)


def _broken(run: RunPlan) -> BrokenHold:
    moved = run.moved_from is not None
    lot = run.moved_from or run.lot or ""
    return BrokenHold(run.ref, run.shade, lot, run.lot if moved else None, moved)


def broken_sentences(broken: Iterable[BrokenHold], studio: Studio) -> tuple[str, ...]:
    """A sentence for all runs of a piece that lose the same promise; `studio` is the one after."""
    groups: dict[tuple[str, ShadeRef, str, str | None, bool], list[RunRef]] = {}
    for each in broken:
        key = (each.run.project, each.shade, each.lot, each.moves_to, each.moved)
        groups.setdefault(key, []).append(each.run)
    found = []
    for (project, ref, lot, moves_to, moved), runs in groups.items():
        name, shade = studio.project[project].name, shade_name(studio, ref)
        places = run_places((run.kind, run.index) for run in runs)
        many = len(runs) > 1
        are = "are" if many else "is"
        if not moved:
            short = f"would be short of {shade}, though {'they are' if many else 'it is'} promised"
            found.append(f"{name}: {places} {short} {lot}.")
            continue
        to = f"move to lot {moves_to}" if moves_to else "be bought anew"
        found.append(
            f"{name}: {places} {are} promised lot {lot} of {shade} and would have to {to}."
        )
    return tuple(found)
