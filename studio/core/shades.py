"""One shade over all projects: the question for the lots, and what its answer means.

A shade's outcome depends only on the runs that ask for it, its lots, its open purchases and a few
settings; that is what lets an edit re-solve the shades it touches and nothing else.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from datetime import date
from decimal import Decimal

from studio.core.frozen import dataclass
from studio.core.lots.problem import BUY, Fixed, Piece, Run, ShadeAnswer, ShadeProblem
from studio.core.lots.problem import Lot as ProblemLot
from studio.core.model import (
    ClaimKind,
    Lot,
    LotRule,
    Project,
    Purchase,
    Settings,
    ShadeRef,
    Slot,
    Stage,
    Yarn,
)
from studio.core.prices import GramPrice
from studio.core.runs import RunDemand

ORDER_PREFIX = "order:"
"""Marks the lot code that stands for an open purchase; no real lot may begin with it."""

DG_PER_G = 10


@dataclass(frozen=True, slots=True)
class Claimant:
    """A project and the runs of it that ask for the shade at hand."""

    project: Project
    runs: tuple[RunDemand, ...]


def choosing_order(projects: Iterable[Project]) -> tuple[Project, ...]:
    """The projects that need yarn, in the order in which they choose lots (trade rules, 4).

    Held ones by due date then booking date, then quotes, then ideas; the key settles ties, so that
    the same files give the same answer.
    """
    rank = {Stage.QUOTED: 1, Stage.IDEA: 2}
    return tuple(
        sorted(
            (p for p in projects if p.stage.needs_yarn),
            key=lambda p: (
                rank.get(p.stage, 0),
                p.due or date.max,
                p.booked or date.max,
                p.key,
            ),
        )
    )


def lot_rule(project: Project, slot: Slot, settings: Settings) -> LotRule:
    """The slot's own rule, else the studio's default: one lot where there is a customer."""
    if slot.lots is not None:
        return slot.lots
    return settings.lots_for_customer if project.customer else settings.lots_otherwise


def part_worth_using(
    part_g: Decimal, row_g: float, per_g: Decimal | None, settings: Settings
) -> bool:
    """Whether a part ball earns its keep: over one row, and worth more than its two ends.

    Without a price only the row counts, since nothing says the yarn is worth less.
    """
    if float(part_g) < row_g:
        return False
    if per_g is None:
        return True
    ends_cost = 2 * settings.assumed.min_per_end * settings.rate_per_hour / 60
    return part_g * per_g > ends_cost


def usable_parts(
    lot: Lot, row_g: float, per_g: Decimal | None, settings: Settings
) -> tuple[Decimal, ...]:
    """The part balls of a lot that are worth using, in grams."""
    return tuple(p for p in lot.parts_g if part_worth_using(p, row_g, per_g, settings))


def _problem_lot(lot: Lot, yarn: Yarn, parts: tuple[Decimal, ...]) -> ProblemLot:
    full = lot.balls * yarn.ball_g * DG_PER_G
    part = sum(parts, Decimal(0)) * DG_PER_G
    return ProblemLot(
        code=lot.code,
        free_dg=math.floor(full + part),
        part_dg=math.floor(part),
        whole=not lot.parts_g,
        bought=lot.bought,
    )


def _order_lots(ref: ShadeRef, yarn: Yarn, purchases: Iterable[Purchase]) -> list[ProblemLot]:
    found = []
    for purchase in purchases:
        balls = sum(n.balls for n in purchase.lines if (n.yarn, n.shade) == ref)
        if balls:
            found.append(
                ProblemLot(
                    code=ORDER_PREFIX + purchase.key,
                    free_dg=math.floor(balls * yarn.ball_g * DG_PER_G),
                    bought=purchase.arrives,
                    arrives=purchase.arrives,
                )
            )
    return found


_FIXED = {ClaimKind.PIN: Fixed.PIN, ClaimKind.ORDER: Fixed.ORDER, ClaimKind.HOLD: Fixed.HOLD}


def _fixed(project: Project, run: RunDemand, orders: frozenset[str]) -> tuple[Fixed, str] | None:
    """How a run is tied: nothing begun or done moves; a hold counts only while the piece holds.

    A claim on a purchase that is no longer open ties nothing, so that the plan still answers; the
    reader reports the dangling name.
    """
    claim = run.claim
    if claim is None:
        return None
    if claim.kind is ClaimKind.ORDER:
        code = ORDER_PREFIX + claim.on
        return (Fixed.ORDER, code) if code in orders else None
    if run.begun or run.done:
        return Fixed.BEGUN, claim.on
    if claim.kind is ClaimKind.HOLD and not project.stage.holds:
        return None
    return _FIXED[claim.kind], claim.on


def _piece(claimant: Claimant, settings: Settings, orders: frozenset[str]) -> Piece:
    project = claimant.project
    runs: list[Run] = []
    together: set[str] = set()
    for run in claimant.runs:
        tie = _fixed(project, run, orders)
        if run.done and tie is None:
            continue
        group = f"{project.key}/{run.slot}"
        slot = project.slot(run.slot)
        if slot and not project.mix and lot_rule(project, slot, settings) is LotRule.ONE:
            together.add(group)
        runs.append(
            Run(
                key=run.ref.key,
                group=group,
                need_dg=run.need_dg,
                fixed=tie[0] if tie else None,
                lot=tie[1] if tie else None,
            )
        )
    return Piece(project.key, project.stage.holds, tuple(runs), frozenset(together))


def shade_problem(
    ref: ShadeRef,
    yarn: Yarn,
    claimants: Sequence[Claimant],
    lots: Sequence[Lot],
    purchases: Iterable[Purchase],
    price: GramPrice,
    settings: Settings,
) -> ShadeProblem:
    """State the question for one shade; `claimants` come in choosing order.

    A lot that runs are tied to but that is not in the house stands with nothing in it, so that a
    hold on it shows as impossible instead of vanishing.
    """
    rows_g = [r.use.row_g for c in claimants for r in c.runs if r.use is not None and not r.done]
    row_g = min(rows_g, default=0.0)
    found = [_problem_lot(n, yarn, usable_parts(n, row_g, price.per_g, settings)) for n in lots]
    found += _order_lots(ref, yarn, purchases)
    orders = frozenset(n.code for n in found if n.arrives is not None)
    pieces = tuple(p for c in claimants if (p := _piece(c, settings, orders)).runs)
    named = {r.lot for p in pieces for r in p.runs if r.lot is not None}
    gone = sorted(named - {n.code for n in found})
    found += [ProblemLot(code=code, free_dg=0, whole=False) for code in gone]
    return ShadeProblem(math.floor(yarn.ball_g * DG_PER_G), tuple(found), pieces)


@dataclass(frozen=True, slots=True)
class PieceShare:
    """What one project takes of the shade, in dg, and its place in the pooled buying.

    `pool_dg` and `pool_balls` are cumulative: all held projects together, or those and everything
    up to and including this quote or idea. `lacking_dg` is what tied runs ask beyond their lot;
    `late_dg` is the part of `order_dg` that arrives too late.
    """

    project: str
    held: bool
    stage: Stage
    due: date | None
    buy_dg: int
    lacking_dg: int
    order_dg: int
    late_dg: int
    pool_dg: int
    pool_balls: int
    pool_members: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class ShadeOutcome:
    """A shade's question and answer, and the pooled buying that follows.

    `short` names the tied runs whose lot does not last; `lot_of` maps run key to lot code or BUY.
    `relief` remembers what `relief_dg` worked out, since an outcome outlives many edits.
    """

    ref: ShadeRef
    problem: ShadeProblem
    answer: ShadeAnswer
    pending: bool
    lot_of: Mapping[str, str]
    short: Mapping[str, int]
    shares: tuple[PieceShare, ...]
    relief: dict[str, int] = field(default_factory=dict, compare=False)

    @property
    def room(self) -> dict[str, int]:
        """What the plan leaves in each lot in the house, in dg."""
        left = {n.code: n.free_dg for n in self.problem.lots if n.arrives is None}
        for piece in self.problem.pieces:
            for run in piece.runs:
                if self.lot_of[run.key] in left:
                    left[self.lot_of[run.key]] -= run.need_dg
        return left

    def share(self, project: str) -> PieceShare | None:
        """The part of one project, if it asks for the shade."""
        return next((s for s in self.shares if s.project == project), None)


def relief_dg(outcome: ShadeOutcome, piece: str, group: str) -> int:
    """How much less the piece would buy, at the least, with a lot for each run of the group.

    Everything else stays where it is, and the runs to be bought go, the largest first, into what
    the lots have left: an answer that can be had, so that the saving is real. The best may save
    more.
    """
    if group not in outcome.relief:
        room = outcome.room
        saved = 0
        runs = next(p.runs for p in outcome.problem.pieces if p.key == piece)
        bought = [r for r in runs if r.group == group and outcome.lot_of[r.key] == BUY]
        for run in sorted(bought, key=lambda r: -r.need_dg):
            code = max(room, key=lambda c: room[c], default=None)
            if code is not None and room[code] >= run.need_dg:
                room[code] -= run.need_dg
                saved += run.need_dg
        outcome.relief[group] = saved
    return outcome.relief[group]


def balls_for(dg: int, ball_dg: int) -> int:
    """Whole balls that hold so many tenths of a gram."""
    return -(-dg // ball_dg)


def comes_too_late(arrives: date, due: date | None) -> bool:
    """Whether yarn on order arrives too late: not before the day the piece is due.

    Working time is not counted here; yarn that comes on the due date cannot be worked by then.
    """
    return due is not None and arrives >= due


def _short_runs(problem: ShadeProblem, answer: ShadeAnswer) -> dict[str, int]:
    """Lay a lot's lack on the runs that cannot move away, the last in choosing order first."""
    short: dict[str, int] = {}
    fixed_kinds = (Fixed.BEGUN, Fixed.PIN, Fixed.ORDER)
    for code, lack in answer.overdrawn:
        tied = [r for p in problem.pieces for r in p.runs if r.lot == code]
        for run in reversed([r for r in tied if r.fixed in fixed_kinds]):
            if lack <= 0:
                break
            part = min(lack, run.need_dg)
            if part:
                short[run.key] = part
                lack -= part
    return short


def outcome_of(
    ref: ShadeRef,
    problem: ShadeProblem,
    answer: ShadeAnswer,
    claimants: Sequence[Claimant],
    *,
    pending: bool,
) -> ShadeOutcome:
    """Read an answer: what each piece must buy, and the balls pooled in choosing order."""
    lot_of = dict(answer.lots)
    short = _short_runs(problem, answer)
    projects = {c.project.key: c.project for c in claimants}
    arrives = {n.code: n.arrives for n in problem.lots if n.arrives is not None}
    asks_of = {
        p.key: (
            sum(r.need_dg for r in p.runs if lot_of[r.key] == BUY),
            sum(short.get(r.key, 0) for r in p.runs),
        )
        for p in problem.pieces
    }
    held_members = tuple((p.key, sum(asks_of[p.key])) for p in problem.pieces if p.held)
    held_members = tuple(m for m in held_members if m[1])
    members = held_members
    shares = []
    for piece in problem.pieces:
        buy, lacking = asks_of[piece.key]
        asks = buy + lacking
        project = projects[piece.key]
        # What a tied run lacks of its purchase is counted as lacking, not as on order.
        ordered = {
            r.key: r.need_dg - short.get(r.key, 0) for r in piece.runs if lot_of[r.key] in arrives
        }
        late = sum(
            dg for k, dg in ordered.items() if comes_too_late(arrives[lot_of[k]], project.due)
        )
        if not piece.held and asks:
            members = (*members, (piece.key, asks))
        pool = held_members if piece.held else members
        pool_dg = sum(dg for _, dg in pool)
        shares.append(
            PieceShare(
                project=piece.key,
                held=piece.held,
                stage=project.stage,
                due=project.due,
                buy_dg=buy,
                lacking_dg=lacking,
                order_dg=sum(ordered.values()),
                late_dg=late,
                pool_dg=pool_dg,
                pool_balls=balls_for(pool_dg, problem.ball_dg),
                pool_members=pool,
            )
        )
    return ShadeOutcome(ref, problem, answer, pending, lot_of, short, tuple(shares))
