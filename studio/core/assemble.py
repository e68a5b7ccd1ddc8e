"""From demands and outcomes to the plans that are shown: runs, shades, lots, shortfalls, pieces."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence, Set
from decimal import Decimal

from studio.core.answers import (
    Cover,
    LotState,
    ProjectPlan,
    RowUse,
    RunKind,
    RunPlan,
    ShadePlan,
    Shortfall,
)
from studio.core.costing import ShadeCost, piece_cost, shade_cost
from studio.core.demand import Demand
from studio.core.ends import Worked, ends_of
from studio.core.findings import Seen, findings_of
from studio.core.frozen import dataclass
from studio.core.lots.problem import BUY
from studio.core.model import (
    Claim,
    ClaimKind,
    LotRef,
    Project,
    ShadeRef,
    Stage,
    Studio,
)
from studio.core.runs import RunDemand
from studio.core.shades import (
    ORDER_PREFIX,
    Claimant,
    ShadeOutcome,
    balls_for,
    comes_too_late,
)
from studio.core.use import Enough, Supply, chance_enough, chance_of_all, strands_for


def _g(dg: int) -> Decimal:
    return Decimal(dg) / 10


def _cover(
    run: RunDemand, project: Project, outcome: ShadeOutcome | None, studio: Studio
) -> tuple[Cover, str | None]:
    """Where a run's yarn comes from, and the lot code or purchase key."""
    tie = run.claim.on if run.claim else None
    if run.done:
        return Cover.DONE, tie
    if not project.stage.needs_yarn:
        return Cover.NONE, None
    if not run.known or outcome is None or run.ref.key not in outcome.lot_of:
        return Cover.UNKNOWN, tie
    code = outcome.lot_of[run.ref.key]
    if code == BUY:
        return Cover.SHORT, None
    purchase = code.removeprefix(ORDER_PREFIX)
    if outcome.short.get(run.ref.key):
        return Cover.SHORT, purchase
    if purchase != code:
        found = studio.stash.purchase.get(purchase)
        late = found is not None and comes_too_late(found.arrives, project.due)
        return (Cover.LATE if late else Cover.ORDER), purchase
    return Cover.STASH, code


def _run_plan(
    run: RunDemand,
    project: Project,
    outcome: ShadeOutcome | None,
    lots: Mapping[LotRef, LotState],
    studio: Studio,
) -> RunPlan:
    cover, lot = _cover(run, project, outcome, studio)
    code = outcome.lot_of.get(run.ref.key) if outcome else None
    state = lots.get(LotRef(*run.shade, code)) if code else None
    moved = outcome is not None and run.ref.key in outcome.answer.moved
    claim = _live_claim(run.claim, project)
    yarn = studio.library.yarn.get(run.shade.yarn)
    return RunPlan(
        ref=run.ref,
        slot=run.slot,
        shade=run.shade,
        rows=run.rows,
        mean_g=run.mean_g,
        need_g=Decimal(0) if cover is Cover.NONE else _g(run.need_dg),
        cover=cover,
        lot=lot,
        claim=claim,
        begun=run.begun,
        moved_from=run.claim.on if moved and run.claim else None,
        lacks_g=_g(outcome.short.get(run.ref.key, 0)) if outcome else Decimal(0),
        lot_left_g=state.left_g if state else None,
        balls=strands_for(run.whole_mean_g, float(yarn.ball_g)) if yarn else 0,
        chance=state.chance if state and not run.done else None,
    )


@dataclass(frozen=True, slots=True)
class RunsBefore:
    """The runs of a piece as they were, what they came to, and the shades of which that is over."""

    demands: tuple[RunDemand, ...]
    plans: tuple[RunPlan, ...]
    touched: Set[ShadeRef]


def _run_plans(
    demands: Sequence[RunDemand],
    project: Project,
    outcomes: Mapping[ShadeRef, ShadeOutcome],
    lots: Mapping[LotRef, LotState],
    studio: Studio,
    before: RunsBefore | None,
) -> tuple[RunPlan, ...]:
    """Every run of a piece; the very plans of before where neither run nor shade has changed."""
    asks = project.stage.needs_yarn
    there = before is not None and len(before.demands) == len(demands)
    plans = []
    for at, run in enumerate(demands):
        if before and there and before.demands[at] is run and run.shade not in before.touched:
            plans.append(before.plans[at])
        else:
            outcome = outcomes.get(run.shade) if asks else None
            plans.append(_run_plan(run, project, outcome, lots, studio))
    return tuple(plans)


def _live_claim(claim: Claim | None, project: Project) -> ClaimKind | None:
    """The kind of a claim that ties; a hold on a piece that holds nothing ties nothing."""
    if claim is None or (claim.kind is ClaimKind.HOLD and not project.stage.holds):
        return None
    return claim.kind


def lot_states(
    outcome: ShadeOutcome, claimants: Sequence[Claimant], studio: Studio
) -> tuple[LotState, ...]:
    """Every lot of the shade, purchases on order included: who has it, and whether it will do."""
    yarn = studio.library.yarn[outcome.ref.yarn]
    in_house = {n.code: n for n in studio.stash.by_shade.get(outcome.ref, ())}
    states = []
    for lot in outcome.problem.lots:
        asked: list[tuple[RowUse, float]] = []
        sure_g, held, planned = 0.0, 0, 0
        taken: list[tuple[str, Decimal]] = []
        for claimant in claimants:
            for run in claimant.runs:
                if run.done or outcome.lot_of.get(run.ref.key) != lot.code:
                    continue
                taken.append((run.ref.key, _g(run.need_dg)))
                if claimant.project.stage.holds:
                    held += run.need_dg
                else:
                    planned += run.need_dg
                sure_g += run.sure_g
                if run.use is not None:
                    asked.append((run.use, run.effective_left))
        own = in_house.get(lot.code)
        full = own.balls if own else lot.free_dg // outcome.problem.ball_dg if lot.arrives else 0
        parts = own.parts_g if own else ()
        supply = Supply(full, float(yarn.ball_g), tuple(float(p) for p in parts))
        assumed = studio.settings.assumed
        enough = chance_enough(asked, supply, assumed, sure_g=sure_g) if taken else None
        states.append(
            LotState(
                ref=LotRef(*outcome.ref, lot.code),
                full_balls=full,
                parts_g=parts,
                total_g=full * yarn.ball_g + sum(parts, Decimal(0)),
                usable_g=_g(lot.free_dg),
                held_g=_g(held),
                planned_g=_g(planned),
                taken=tuple(taken),
                chance=enough.chance if enough else None,
                doubts=enough.doubts if enough else (),
            )
        )
    return tuple(states)


def shortfall_of(outcome: ShadeOutcome) -> Shortfall | None:
    """What the shade lacks, pooled in choosing order; None where nothing lacks or is on order."""
    shares = outcome.shares
    held = sum(s.buy_dg + s.lacking_dg for s in shares if s.held)
    quoted = held + sum(
        s.buy_dg + s.lacking_dg for s in shares if not s.held and s.stage is Stage.QUOTED
    )
    every = sum(s.buy_dg + s.lacking_dg for s in shares)
    order = sum(s.order_dg for s in shares)
    late = sum(s.late_dg for s in shares)
    if not (every or order):
        return None
    ball = outcome.problem.ball_dg
    asking = [s for s in shares if s.buy_dg + s.lacking_dg]
    return Shortfall(
        shade=outcome.ref,
        held_g=_g(held),
        held_balls=balls_for(held, ball),
        quoted_g=_g(quoted),
        quoted_balls=balls_for(quoted, ball),
        all_g=_g(every),
        all_balls=balls_for(every, ball),
        order_g=_g(order - late),
        late_g=_g(late),
        projects=tuple(s.project for s in asking),
        needed_by=min((s.due for s in asking if s.held and s.due), default=None),
    )


def _shade_plan(
    ref: ShadeRef,
    runs: Sequence[RunPlan],
    demand: Demand,
    outcome: ShadeOutcome | None,
    cost: ShadeCost,
) -> ShadePlan:
    def need(*covers: Cover) -> Decimal:
        return sum((r.need_g for r in runs if r.cover in covers), Decimal(0))

    short = outcome.short if outcome else {}
    lacking = _g(sum(short.get(r.ref.key, 0) for r in runs))
    bought = sum((r.need_g for r in runs if r.cover is Cover.SHORT and r.lot is None), Decimal(0))
    buy = bought + lacking
    tied_part = need(Cover.SHORT) - bought - lacking
    row_use = demand.row_use.get(ref.yarn)
    expected, safe = demand.rows_per_ball.get(ref.yarn, (0, 0))
    return ShadePlan(
        shade=ref,
        slots=tuple(dict.fromkeys(r.slot for r in runs)),
        need_g=sum((r.need_g for r in runs), Decimal(0)),
        mean_g=sum(r.mean_g for r in runs),
        stash_g=need(Cover.STASH) + tied_part,
        order_g=need(Cover.ORDER),
        late_g=need(Cover.LATE),
        buy_g=buy,
        buy_balls=balls_for(math.ceil(buy * 10), outcome.problem.ball_dg) if outcome else 0,
        lots=tuple(dict.fromkeys(r.lot for r in runs if r.lot is not None)),
        rows_per_ball_expected=expected,
        rows_per_ball_safe=safe,
        row_use=row_use,
        used_cost=cost.used,
        cash_cost=cost.cash,
        cash_alone=cost.alone,
        price_assumed=any(n.price.assumed for n in cost.lines if n.grams),
    )


def _ends(runs: Sequence[RunPlan], demand: Demand, studio: Studio) -> int:
    """Ends of the whole piece; a fringe is knotted and leaves none to weave in."""
    worked: list[Worked] = []
    border = 0
    last = 0
    for plan, run in zip(runs, demand.runs, strict=True):
        yarn = studio.library.yarn.get(plan.shade.yarn)
        if plan.ref.kind is RunKind.BORDER:
            border = plan.balls
        if plan.ref.kind is not RunKind.STRIPE:
            continue
        first, last = last + 1, last + plan.rows
        if yarn is None:
            continue
        use = demand.row_use.get(yarn.key)
        worked.append(
            Worked(
                colour=plan.shade,
                lot=plan.lot,
                first=first,
                last=last,
                grams=run.whole_mean_g,
                ball_g=float(yarn.ball_g),
                row_g=use.row_g if use else 0.0,
            )
        )
    return ends_of(worked, studio.settings.assumed.carry_rows, other_strands=border)


def _all_last(runs: Sequence[RunPlan], lots: Mapping[LotRef, LotState]) -> float | None:
    """The chance that every lot the piece works from is enough; yarns are independent."""
    by_yarn: dict[str, dict[LotRef, Enough]] = {}
    for run in runs:
        if run.chance is not None and run.lot:
            ref = LotRef(*run.shade, run.lot)
            doubts = lots[ref].doubts if ref in lots else ()
            by_yarn.setdefault(run.shade.yarn, {})[ref] = Enough(run.chance, doubts)
    if not by_yarn:
        return None
    return math.prod((chance_of_all(found.values()) for found in by_yarn.values()), start=1.0)


def project_plan(
    project: Project,
    demand: Demand,
    by_shade: Mapping[ShadeRef, tuple[RunDemand, ...]],
    outcomes: Mapping[ShadeRef, ShadeOutcome],
    lots: Mapping[LotRef, LotState],
    studio: Studio,
    before: RunsBefore | None = None,
) -> ProjectPlan:
    """All that is shown of one piece."""
    settings = studio.settings
    asks = project.stage.needs_yarn
    runs = _run_plans(demand.runs, project, outcomes, lots, studio, before)
    of_shade: dict[ShadeRef, list[RunPlan]] = {ref: [] for ref in by_shade}
    for run in runs:
        of_shade[run.shade].append(run)
    costs: list[ShadeCost] = []
    shades: list[ShadePlan] = []
    for ref, demands in by_shade.items():
        if ref not in studio.library.shade:
            continue
        outcome = outcomes.get(ref) if asks else None
        cost = shade_cost(
            project,
            ref,
            demands,
            outcome.lot_of if outcome else {},
            outcome.share(project.key) if outcome else None,
            studio.library,
            studio.stash,
            settings,
            demand.covered,
        )
        costs.append(cost)
        shades.append(_shade_plan(ref, of_shade[ref], demand, outcome, cost))
    names = {c.shade: studio.library.shade[c.shade].name for c in costs}
    cost_sheet = piece_cost(project, costs, names, settings)
    seen = Seen(project, demand, runs, tuple(shades), cost_sheet, outcomes, studio)
    touched = [outcomes[r] for r in by_shade if r in outcomes] if asks else []
    return ProjectPlan(
        key=project.key,
        stage=project.stage,
        size=demand.size,
        stripe_rows=demand.stripe_rows,
        runs=runs,
        shades=tuple(shades),
        ends=_ends(runs, demand, studio),
        cost=cost_sheet,
        findings=findings_of(seen),
        chance=_all_last(runs, lots),
        proved=all(o.answer.proved and not o.pending for o in touched),
        pending=any(o.pending for o in touched),
    )
