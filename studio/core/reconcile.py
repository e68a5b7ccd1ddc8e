"""The whole studio reconciled: every project against the stash, all shades at once.

`reconcile` is a function of the studio and of what is kept from the last time: demands by project,
outcomes by shade and plans by project are reused while what they were made from is the same
object, so that an edit costs what it touches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import field, replace
from datetime import date

from studio.core.answers import LotState, ProjectPlan, Shortfall, StudioPlan
from studio.core.assemble import RunsBefore, lot_states, project_plan, shortfall_of
from studio.core.buying.shelf import Shelf, shelf_now, staple_findings
from studio.core.demand import Demand, as_before, demand_of
from studio.core.evidence import Evidence, EvidenceKey, evidence_of
from studio.core.frozen import dataclass
from studio.core.ground import Moved, moved
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.lots.solve import quick_answer
from studio.core.model import LotRef, Project, Purchase, ShadeRef, Stash, Studio
from studio.core.prices import replacement
from studio.core.runs import RunDemand
from studio.core.shades import (
    Claimant,
    ShadeOutcome,
    choosing_order,
    outcome_of,
    shade_problem,
)

KEPT_ANSWERS = 5000
"""How many solved questions are remembered, so that an undo or a second look costs nothing."""


@dataclass(frozen=True, slots=True)
class _Worked:
    """A project's demand with its runs sorted by shade, kept while the project is the same."""

    project: Project
    demand: Demand
    by_shade: Mapping[ShadeRef, tuple[RunDemand, ...]]


@dataclass(frozen=True)
class Kept:
    """What one reconciliation leaves for the next; opaque to everybody else."""

    studio: Studio | None = None
    evidence: Evidence | None = None
    worked: Mapping[str, _Worked] = field(default_factory=dict)
    outcomes: Mapping[ShadeRef, ShadeOutcome] = field(default_factory=dict)
    plans: Mapping[str, ProjectPlan] = field(default_factory=dict)
    lots: Mapping[LotRef, LotState] = field(default_factory=dict)
    shortfalls: Mapping[ShadeRef, Shortfall] = field(default_factory=dict)
    exact: Mapping[ShadeProblem, ShadeAnswer] = field(default_factory=dict)
    """Answers that needed the solver, by question."""
    shelf: Shelf | None = None
    """The staples; None where no day was given."""


@dataclass(frozen=True)
class Reconciled:
    """The plan, what to keep, and the questions that still want the solver."""

    plan: StudioPlan
    kept: Kept
    open_problems: Mapping[ShadeRef, ShadeProblem]


def _by_shade(project: Project, demand: Demand) -> Mapping[ShadeRef, tuple[RunDemand, ...]]:
    """The runs of each shade; also a shade that was used and that no slot is mapped to any more."""
    found: dict[ShadeRef, list[RunDemand]] = {}
    for run in demand.runs:
        found.setdefault(run.shade, []).append(run)
    for used in project.used:
        found.setdefault(used.shade_ref, [])
    return {ref: tuple(runs) for ref, runs in found.items()}


def _moved(kept: Kept, studio: Studio) -> Moved | None:
    """What of the library changed; None where everything is to be worked out anew."""
    old = kept.studio
    if old is None or old.settings is not studio.settings:
        return None
    return moved(old.library, studio.library)


def _changed_evidence(kept: Kept, evidence: Evidence) -> frozenset[EvidenceKey]:
    """Yarn, stitch and hook of weigh-ins that tell otherwise than before."""
    old = kept.evidence or {}
    if old is evidence:
        return frozenset()
    return frozenset(key for key in {*old, *evidence} if old.get(key) != evidence.get(key))


def _work(
    kept: Kept,
    studio: Studio,
    ground: Moved | None,
    evidence: Evidence,
    tick: Callable[[], None],
) -> dict[str, _Worked]:
    told = _changed_evidence(kept, evidence)
    worked: dict[str, _Worked] = {}
    for project in studio.projects:
        old = kept.worked.get(project.key)
        same = old is not None and old.project is project
        if old is not None and same and ground is not None and not ground.needs_of(project):
            keys = ((s.yarn, project.stitch, project.hook_mm) for s in project.slots)
            if not told or told.isdisjoint(keys):
                worked[project.key] = old
                continue
        demand = demand_of(project, studio.library, studio.settings, evidence)
        if old is not None and same and demand == old.demand:
            worked[project.key] = old
        else:
            if old is not None:
                demand = as_before(demand, old.demand)
            worked[project.key] = _Worked(project, demand, _by_shade(project, demand))
        tick()
    return worked


def _touched(
    kept: Kept, studio: Studio, ground: Moved | None, worked: Mapping[str, _Worked]
) -> set[ShadeRef]:
    """The shades whose question may have changed."""
    old = kept.studio
    if old is None or ground is None:
        return _asked_or_there(studio, worked) | set(kept.outcomes)
    touched = set(ground.shades)
    for key in {*worked, *kept.worked}:
        now, then = worked.get(key), kept.worked.get(key)
        if now is not then:
            touched |= _touched_by_piece(now, then)
    if old.stash is not studio.stash:
        touched |= _touched_by_stash(old.stash, studio)
    if old.offers is not studio.offers or old.suppliers is not studio.suppliers:
        touched |= _touched_by_offers(old, studio)
    return touched


def _asked_or_there(studio: Studio, worked: Mapping[str, _Worked]) -> set[ShadeRef]:
    """The shades that a piece asks for or that are in the house; no others have an answer."""
    return {ref for w in worked.values() for ref in w.by_shade} | studio.stash.by_shade.keys()


def _touched_by_piece(now: _Worked | None, then: _Worked | None) -> set[ShadeRef]:
    """Shades of which a changed piece asks otherwise than before.

    Where anything changed that decides who chooses first or whether lots may differ, all of them.
    """
    if now is None or then is None or _standing(now.project) != _standing(then.project):
        return {ref for side in (now, then) if side for ref in side.by_shade}
    return {
        ref
        for ref in {*now.by_shade, *then.by_shade}
        if now.by_shade.get(ref) != then.by_shade.get(ref)
    }


def _standing(project: Project) -> tuple[object, ...]:
    return (
        project.stage,
        project.due,
        project.booked,
        project.customer,
        project.slots,
        project.mix,
    )


def _touched_by_stash(old: Stash, studio: Studio) -> set[ShadeRef]:
    """Shades with other lots or in a changed purchase, and their kin.

    The other shades of the yarn are kin: one without a price takes the yarn's last purchase.
    """
    new = studio.stash
    touched = {
        ref
        for ref in {*old.by_shade, *new.by_shade}
        if old.by_shade.get(ref) != new.by_shade.get(ref)
    }
    changed = set(_ordered(old)) ^ set(_ordered(new))
    touched |= {ShadeRef(n.yarn, n.shade) for p in changed for n in p.lines}
    yarns = [y for key in {r.yarn for r in touched} if (y := studio.library.yarn.get(key))]
    return touched | {ShadeRef(y.key, s.code) for y in yarns for s in y.shades}


def _touched_by_offers(old: Studio, new: Studio) -> set[ShadeRef]:
    """The shades of yarns that are now offered otherwise: what they cost today is told by it."""
    then, now = ({s.key: (s.name, s.currency) for s in n.suppliers} for n in (old, new))
    other = {key for key in {*then, *now} if then.get(key) != now.get(key)}
    changed = set(old.offers) ^ set(new.offers)
    changed |= {o for o in (*old.offers, *new.offers) if o.supplier in other}
    yarns = [y for key in {o.yarn for o in changed} if (y := new.library.yarn.get(key))]
    return {ShadeRef(y.key, s.code) for y in yarns for s in y.shades}


def _ordered(stash: Stash) -> Iterator[Purchase]:
    """The purchases without what is typed of their parcels, which no plan knows of."""
    return (p if p.parcel is None else replace(p, parcel=None) for p in stash.purchases)


def _outcome(
    ref: ShadeRef,
    studio: Studio,
    claimants: list[Claimant],
    exact: Mapping[ShadeProblem, ShadeAnswer],
    before: ShadeOutcome | None,
) -> ShadeOutcome | None:
    yarn = studio.library.yarn.get(ref.yarn)
    if yarn is None or yarn.shade(ref.shade) is None:
        return None
    stash = studio.stash
    problem = shade_problem(
        ref,
        yarn,
        claimants,
        stash.by_shade.get(ref, ()),
        stash.purchases,
        replacement(studio.library, stash, ref),
        studio.settings,
    )
    if before is not None and not before.pending and before.problem == problem:
        # The same question has the same answer; looking it up would hash it, which costs more.
        return outcome_of(ref, problem, before.answer, claimants, pending=False)
    known = exact.get(problem)
    answer, final = (known, True) if known is not None else quick_answer(problem)
    return outcome_of(ref, problem, answer, claimants, pending=not final)


def _answered(
    kept: Kept, solved: Mapping[ShadeProblem, ShadeAnswer] | None
) -> Mapping[ShadeProblem, ShadeAnswer]:
    """All answers that are remembered; the same object where none came.

    Copying the newest into a new mapping hashes every question, which no key should wait for.
    """
    if not solved:
        return kept.exact
    exact = {**kept.exact, **solved}
    surplus = len(exact) - KEPT_ANSWERS
    return dict(list(exact.items())[surplus:]) if surplus > 0 else exact


def _claimants(
    touched: set[ShadeRef], studio: Studio, worked: Mapping[str, _Worked]
) -> dict[ShadeRef, list[Claimant]]:
    """Who asks for each touched shade, in choosing order."""
    found: dict[ShadeRef, list[Claimant]] = {ref: [] for ref in touched}
    for project in choosing_order(studio.projects):
        for ref, runs in worked[project.key].by_shade.items():
            if ref in found:
                known = tuple(r for r in runs if r.known)
                if known:
                    found[ref].append(Claimant(project, known))
    return found


def _evidence(kept: Kept, studio: Studio, ground: Moved | None) -> Evidence:
    """The weigh-ins of all pieces; the old object where nothing in it changed."""
    old = kept.studio
    if old is not None and kept.evidence is not None and _same_weighings(old, studio, ground):
        return kept.evidence
    evidence = evidence_of(studio.projects, studio.library)
    return kept.evidence if kept.evidence is not None and kept.evidence == evidence else evidence


def _same_weighings(old: Studio, new: Studio, ground: Moved | None) -> bool:
    """Whether all that evidence is made from is the same: cheap, by identity."""
    if ground is None or ground.evidence:
        return False
    then, now = ([p for p in s.projects if p.weigh_ins] for s in (old, new))
    return len(then) == len(now) and all(a is b for a, b in zip(then, now, strict=True))


def _kept_lots(
    kept: Kept,
    studio: Studio,
    outcomes: Mapping[ShadeRef, ShadeOutcome],
    touched: Mapping[ShadeRef, list[Claimant]],
) -> dict[LotRef, LotState]:
    """The state of every lot, with those of touched shades made anew."""
    lots = dict(kept.lots)
    for ref, claimants in touched.items():
        old = kept.outcomes.get(ref)
        for lot in old.problem.lots if old else ():
            lots.pop(LotRef(*ref, lot.code), None)
        if ref in outcomes:
            lots.update(
                (state.ref, state) for state in lot_states(outcomes[ref], claimants, studio)
            )
    return lots


def _plans(
    kept: Kept,
    studio: Studio,
    ground: Moved | None,
    worked: Mapping[str, _Worked],
    outcomes: Mapping[ShadeRef, ShadeOutcome],
    lots: Mapping[LotRef, LotState],
    touched: set[ShadeRef],
) -> dict[str, ProjectPlan]:
    plans: dict[str, ProjectPlan] = {}
    for project in studio.projects:
        now = worked[project.key]
        same = (
            ground is not None
            and kept.worked.get(project.key) is now
            and touched.isdisjoint(now.by_shade)
            and not ground.words_of(project, studio.library)
        )
        plans[project.key] = (
            kept.plans[project.key]
            if same
            else project_plan(
                project,
                now.demand,
                now.by_shade,
                outcomes,
                lots,
                studio,
                _runs_before(kept, studio, ground, project, touched),
            )
        )
    return plans


def _runs_before(
    kept: Kept, studio: Studio, ground: Moved | None, project: Project, touched: set[ShadeRef]
) -> RunsBefore | None:
    """What the runs of a piece came to before, where nothing but its runs can have changed it."""
    old, then = kept.studio, kept.worked.get(project.key)
    if old is None or then is None or ground is None:
        return None
    still = old.library is studio.library and old.stash is studio.stash
    if not still or (then.project.stage, then.project.due) != (project.stage, project.due):
        return None
    return RunsBefore(then.demand.runs, kept.plans[project.key].runs, touched)


def reconcile(
    studio: Studio,
    kept: Kept | None = None,
    solved: Mapping[ShadeProblem, ShadeAnswer] | None = None,
    tick: Callable[[], None] = lambda: None,
    today: date | None = None,
) -> Reconciled:
    """Reconcile the studio, reusing what the last time left.

    Shades that the quick proofs do not settle are answered by the greedy, marked pending, and
    listed in `open_problems`; call again with their answers in `solved`. `tick` is called once per
    project or shade worked, for progress and cancelling (it may raise). `today` is what the use of
    staples is told by; without it nothing is said of them.
    """
    kept = kept or Kept()
    ground = _moved(kept, studio)
    evidence = _evidence(kept, studio, ground)
    worked = _work(kept, studio, ground, evidence, tick)
    touched = _touched(kept, studio, ground, worked)
    exact = _answered(kept, solved)
    if solved:
        # Hashing a question costs, so pending ones are looked up only when answers came.
        touched |= {r for r, o in kept.outcomes.items() if o.pending and o.problem in solved}
    outcomes = {r: o for r, o in kept.outcomes.items() if r not in touched}
    claimants_of = _claimants(touched, studio, worked)
    looked_at = _asked_or_there(studio, worked)
    for ref, claimants in claimants_of.items():
        if ref in looked_at:
            before = kept.outcomes.get(ref)
            outcome = _outcome(ref, studio, claimants, exact, before)
            if outcome is not None:
                outcomes[ref] = outcome
        tick()
    lots = _kept_lots(kept, studio, outcomes, claimants_of)
    shortfalls = {r: s for r, s in kept.shortfalls.items() if r not in touched}
    for ref in touched & set(outcomes):
        short = shortfall_of(outcomes[ref])
        if short is not None:
            shortfalls[ref] = short
    plans = _plans(kept, studio, ground, worked, outcomes, lots, touched)
    demands = {key: w.demand for key, w in worked.items()}
    now = Kept(
        studio=studio,
        evidence=evidence,
        worked=worked,
        outcomes=outcomes,
        plans=plans,
        lots=lots,
        shortfalls=shortfalls,
        exact=exact,
        shelf=None if today is None else shelf_now(kept.shelf, studio, demands, lots, plans, today),
    )
    pending = {r: o.problem for r, o in outcomes.items() if o.pending}
    return Reconciled(_studio_plan(now, frozenset(pending)), now, pending)


def _studio_plan(now: Kept, pending: frozenset[ShadeRef]) -> StudioPlan:
    return StudioPlan(
        projects=now.plans,
        lots=now.lots,
        shortfalls=tuple(now.shortfalls[ref] for ref in sorted(now.shortfalls)),
        shades={r: o.answer for r, o in now.outcomes.items()},
        pending=pending,
        findings=() if now.shelf is None else staple_findings(now.shelf.lines),
    )
