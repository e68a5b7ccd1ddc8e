"""What if I take it: a piece tried against the studio as it stands, with nothing changed.

The piece is laid behind everything that is promised and before every quote and idea, as it would
stand the moment it is booked; so what it is shown is what accepting it holds. Only the shades it
asks for are worked again. Holds stay where they are; what moving them would free is offered apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal

from studio.core.answers import Cover, Finding, ProjectPlan, RunPlan, ShadePlan, StudioPlan
from studio.core.calendar import (
    Axis,
    Job,
    Laid,
    Promise,
    Schedule,
    earliest_promise,
    schedule,
    weeks,
)
from studio.core.costing import piece_cost, shade_cost
from studio.core.demand import Demand
from studio.core.enquiry_apart import Freed, Relaxed, Solved, offered_apart
from studio.core.enquiry_found import asked_findings
from studio.core.frozen import dataclass
from studio.core.hours import hours_of
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.model import Claim, ClaimKind, Project, ShadeRef, Stage, Studio
from studio.core.price_sheet import Priced, priced
from studio.core.pricing import Aim, PriceError
from studio.core.quoting import Drift, drift
from studio.core.reconcile import Kept, Reconciled, reconcile
from studio.core.shades import ShadeOutcome, comes_too_late
from studio.core.workload import booked_jobs, job_of
from studio.errors import StudioError


class EnquiryError(StudioError):
    """A piece that cannot be tried."""

    title = "Cannot be tried"


@dataclass(frozen=True, slots=True)
class Competes:
    """A quote or idea that must buy more of a shade if the piece is taken."""

    project: str
    stage: Stage
    shade: ShadeRef
    more_g: Decimal
    more_balls: int


@dataclass(frozen=True, slots=True)
class WeekAdded:
    """A week with and without the piece, in minutes of handwork."""

    monday: date
    there_min: int
    before_min: int
    after_min: int

    @property
    def added_min(self) -> int:
        """What the piece adds to the week; below nought where it moves other work away."""
        return self.after_min - self.before_min


@dataclass(frozen=True, slots=True)
class MadeLate:
    """A booked piece that is late, or later, if the piece is taken for its date."""

    project: str
    before_days: int
    after_days: int
    ready: date


@dataclass(frozen=True)
class Ground:
    """The studio without the piece that is tried: made once, used for every trial of it."""

    studio: Studio
    result: Reconciled
    jobs: tuple[Job, ...]
    axis: Axis
    schedule: Schedule
    today: date


@dataclass(frozen=True)
class Answer:
    """All that is said of a piece before it is taken.

    `plan` is the piece as it would stand when booked. `buy` are its shades that must be bought.
    `promise` is the earliest date that makes no booked piece later than it may be, `laid` its place
    on the calendar for the date it asks, or for the promise where it asks none. `no_price` says why
    there is no price. `drift` is what has changed since a quote of it was sent. `open_problems` are
    shades answered by a quick search, and `apart_problems` those behind what is offered apart:
    solve them and ask again.
    """

    project: Project
    plan: ProjectPlan
    demand: Demand
    buy: tuple[ShadePlan, ...]
    competes: tuple[Competes, ...]
    price: Priced | None
    no_price: str
    weeks: tuple[WeekAdded, ...]
    laid: Laid
    promise: Promise
    made_late: tuple[MadeLate, ...]
    freed: tuple[Freed, ...]
    relaxed: tuple[Relaxed, ...]
    drift: tuple[Drift, ...] = ()
    asked: tuple[Finding, ...] = ()
    """What speaks against the question itself."""
    open_problems: Mapping[ShadeRef, ShadeProblem] = field(default_factory=dict)
    apart_problems: tuple[ShadeProblem, ...] = ()
    kept: Kept = field(default_factory=Kept)

    @property
    def pending(self) -> bool:
        """Whether some of it is still a quick answer."""
        return bool(self.open_problems)

    @property
    def from_stash(self) -> tuple[RunPlan, ...]:
        """The runs that the free stash works."""
        return tuple(r for r in self.plan.runs if r.cover is Cover.STASH)

    @property
    def buy_balls(self) -> int:
        """Balls to buy for it."""
        return sum(s.buy_balls for s in self.buy)


def without_holds(project: Project) -> Project:
    """The piece without holds; pins and purchases stay."""

    def free(claim: Claim | None) -> Claim | None:
        return None if claim is not None and claim.kind is ClaimKind.HOLD else claim

    border, fringe = project.border, project.fringe
    return replace(
        project,
        stripes=tuple(
            replace(s, claim=None) if s.claim and s.claim.kind is ClaimKind.HOLD else s
            for s in project.stripes
        ),
        border=replace(border, claim=free(border.claim)) if border else None,
        fringe=replace(fringe, claim=free(fringe.claim)) if fringe else None,
    )


def ground_of(
    studio: Studio,
    today: date,
    kept: Kept | None = None,
    without: str = "",
    solved: Mapping[ShadeProblem, ShadeAnswer] | None = None,
) -> Ground:
    """The studio as it stands, less the piece `without` that is going to be tried.

    `kept` is what the last reconciliation of the studio left; with it only the shades of the
    piece are worked again. Raises NoHoursError where the week has no hours.
    """
    base = studio
    if without in studio.project:
        base = replace(studio, projects=tuple(p for p in studio.projects if p.key != without))
    result = reconcile(base, kept, solved)
    axis = Axis(studio.trade.hours, today)
    jobs = booked_jobs(base, result.plan.projects, today)
    done = schedule(jobs, axis, studio.trade.hand_order)
    return Ground(base, result, jobs, axis, done, today)


def ask(
    ground: Ground,
    trial: Project,
    aim: Aim | None = None,
    shown: Decimal | None = None,
    solved: Mapping[ShadeProblem, ShadeAnswer] | None = None,
) -> Answer:
    """What taking the piece would mean; the studio is not changed."""
    if trial.key in ground.studio.project:
        raise EnquiryError(f"{trial.name} stands in the studio: leave it out of the ground first.")
    if not trial.stage.needs_yarn or trial.stage.holds:
        raise EnquiryError(
            f"{trial.name} is at stage '{trial.stage.value}'; an idea or a quote can be tried."
        )
    # No date: it chooses behind all that is promised, whenever it is due itself.
    taken = replace(without_holds(trial), stage=Stage.BOOKED, due=None, booked=None)
    studio = replace(ground.studio, projects=(*ground.studio.projects, taken))
    result = reconcile(studio, ground.result.kept, solved)
    worked = result.kept.worked[trial.key]
    outcomes = {r: o for r in worked.by_shade if (o := result.kept.outcomes.get(r)) is not None}
    plan = _as_quoted(trial, result, outcomes, studio)
    buy = tuple(s for s in plan.shades if s.buy_g > 0)
    price, no_price = _price(trial, plan, worked.demand, studio, aim, shown)
    apart = offered_apart(trial.key, (outcomes[s.shade] for s in buy), solved or {})
    hours = hours_of(trial, plan.size, plan.ends, studio)
    job = job_of(trial, plan, hours, studio, ground.today)
    order = studio.trade.hand_order
    promise = earliest_promise(ground.jobs, replace(job, due=None), ground.axis, order)
    both = schedule((*ground.jobs, booked_for(job, promise)), ground.axis, order)
    return Answer(
        project=trial,
        plan=plan,
        demand=worked.demand,
        buy=buy,
        competes=tuple(_competes(trial.key, ground.result.plan, result.plan)),
        price=price,
        no_price=no_price,
        weeks=_weeks(ground, both),
        laid=_as_asked(trial, both.by_key[trial.key]),
        promise=promise,
        made_late=_made_late(ground.schedule, both),
        freed=apart.freed,
        relaxed=apart.relaxed,
        drift=_drift(trial, plan, worked.demand, studio),
        asked=asked_findings(trial, ground.today),
        open_problems={r: p for r, p in result.open_problems.items() if r in worked.by_shade},
        apart_problems=apart.open_problems,
        kept=result.kept,
    )


def booked_for(job: Job, promise: Promise) -> Job:
    """The piece for the day it is booked for: the one asked, else the earliest promise."""
    return job if job.due is not None else replace(job, due=promise.ready)


def _as_asked(trial: Project, laid: Laid) -> Laid:
    """The piece where it is laid, neither late nor early where nobody asked for a day."""
    if trial.due is not None:
        return laid
    return replace(laid, due=None, late_days=None, spare_min=None)


def still_open(ground: Ground, answer: Answer, solved: Solved) -> tuple[ShadeProblem, ...]:
    """The questions of an answer that no exact answer is known to: its own, then those apart."""
    before, asked = ground.result.open_problems, answer.open_problems
    own = (*asked.values(), *(before[ref] for ref in asked if ref in before))
    wanted = [p for p in dict.fromkeys(own) if p not in solved]
    return tuple(wanted or [p for p in answer.apart_problems if p not in solved])


def settled(
    stand: Callable[[Solved], Ground],
    solve: Callable[[Sequence[ShadeProblem]], Solved],
    trial: Project,
    aim: Aim | None = None,
    shown: Decimal | None = None,
) -> Answer:
    """The exact answer, `solve` called until nothing is open; the last one where it gives up.

    `stand` makes the ground from the answers so far.
    """
    solved: dict[ShadeProblem, ShadeAnswer] = {}
    while True:
        ground = stand(solved)
        answer = ask(ground, trial, aim, shown, solved)
        wanted = still_open(ground, answer, solved)
        found = solve(wanted) if wanted else {}
        if not found:
            return answer
        solved.update(found)


def _as_quoted(
    trial: Project, result: Reconciled, outcomes: Mapping[ShadeRef, ShadeOutcome], studio: Studio
) -> ProjectPlan:
    """The plan of the booked piece with the money of a quote and its own date."""
    plan = result.plan.projects[trial.key]
    quoted = replace(trial, stage=Stage.QUOTED)
    settings, library = studio.settings, studio.library
    worked = result.kept.worked[trial.key]
    costs = [
        shade_cost(
            quoted,
            ref,
            runs,
            outcomes[ref].lot_of if ref in outcomes else {},
            outcomes[ref].share(trial.key) if ref in outcomes else None,
            library,
            studio.stash,
            settings,
            worked.demand.covered,
        )
        for ref, runs in worked.by_shade.items()
        if ref in library.shade
    ]
    of_shade = {c.shade: c for c in costs}
    runs = tuple(_dated(run, trial.due, studio) for run in plan.runs)
    late = {
        s.shade: sum(
            (r.need_g for r in runs if r.shade == s.shade and r.cover is Cover.LATE), Decimal(0)
        )
        for s in plan.shades
    }
    shades = tuple(
        replace(
            s,
            order_g=s.order_g + s.late_g - late[s.shade],
            late_g=late[s.shade],
            used_cost=of_shade[s.shade].used,
            cash_cost=of_shade[s.shade].cash,
            cash_alone=of_shade[s.shade].alone,
            price_assumed=any(n.price.assumed for n in of_shade[s.shade].lines if n.grams),
        )
        for s in plan.shades
    )
    names = {c.shade: library.shade[c.shade].name for c in costs}
    return replace(plan, runs=runs, shades=shades, cost=piece_cost(quoted, costs, names, settings))


def _dated(run: RunPlan, due: date | None, studio: Studio) -> RunPlan:
    """The run with its cover by the date that the piece asks."""
    purchase = studio.stash.purchase.get(run.lot or "")
    if run.cover not in (Cover.ORDER, Cover.LATE) or purchase is None:
        return run
    late = comes_too_late(purchase.arrives, due)
    return replace(run, cover=Cover.LATE if late else Cover.ORDER)


def _price(
    trial: Project,
    plan: ProjectPlan,
    demand: Demand,
    studio: Studio,
    aim: Aim | None,
    shown: Decimal | None,
) -> tuple[Priced | None, str]:
    try:
        return priced(trial, plan, demand, studio, aim, shown), ""
    except PriceError as why:
        return None, why.text


def _drift(trial: Project, plan: ProjectPlan, demand: Demand, studio: Studio) -> tuple[Drift, ...]:
    """What has changed since its quote was sent; nothing where it has none."""
    quote = trial.quote
    if quote is None:
        return ()
    try:
        today = priced(trial, plan, demand, studio, shown=quote.price)
        return drift(quote, today, priced(trial, plan, demand, studio))
    except PriceError:
        return ()


def _competes(trial: str, before: StudioPlan, after: StudioPlan) -> Iterable[Competes]:
    for key, plan in after.projects.items():
        old = before.projects.get(key)
        if key == trial or old is None or old is plan:
            continue
        asked = {s.shade: s for s in old.shades}
        for shade in plan.shades:
            was = asked.get(shade.shade)
            if was is not None and shade.buy_g > was.buy_g:
                more = shade.buy_g - was.buy_g
                balls = shade.buy_balls - was.buy_balls
                yield Competes(key, plan.stage, shade.shade, more, balls)


def _weeks(ground: Ground, both: Schedule) -> tuple[WeekAdded, ...]:
    before = {w.monday: w for w in weeks(ground.schedule, ground.axis)}
    after = {w.monday: w for w in weeks(both, ground.axis)}
    found = []
    for monday in sorted({*before, *after}):
        then, now = before.get(monday), after.get(monday)
        there = now or then
        assert there is not None
        found.append(
            WeekAdded(
                monday,
                there.there_min,
                then.taken_min if then else 0,
                now.taken_min if now else 0,
            )
        )
    return tuple(found)


def _made_late(before: Schedule, after: Schedule) -> tuple[MadeLate, ...]:
    old = before.by_key
    found = []
    for laid in after.laid:
        was = old.get(laid.key)
        if was is None or was.late_days is None or laid.late_days is None:
            continue
        if laid.late and laid.late_days > was.late_days:
            found.append(MadeLate(laid.key, was.late_days, laid.late_days, laid.ready))
    return tuple(found)
