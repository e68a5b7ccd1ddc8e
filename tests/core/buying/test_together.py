"""Lots and purchases together, against every allowed assignment of a small shade."""

from __future__ import annotations

import itertools
import pickle
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.core.buying.offers import Offer, OfferBook
from studio.core.buying.problem import Need
from studio.core.buying.question import Chosen, needs_of, purchase_problem
from studio.core.buying.together import Questions, Wanted, buy_together, questions_of
from studio.core.buying.ways import ways_of
from studio.core.lots.judge import held, is_allowed, settled
from studio.core.lots.problem import BUY, Fixed, Lot, Piece, Run, ShadeProblem
from studio.core.lots.solve import solve_shade
from studio.core.model import Library, Project, Settings, ShadeRef, Stage
from studio.core.shades import Claimant, ShadeOutcome, outcome_of
from tests.core.buying.making import TODAY, D, cheapest_by_hand, seller, steps, yarn
from tests.core.editing import piece

REF = ShadeRef("wool", "1")
BALL = 500
LIBRARY = Library(yarns=(yarn(),))
SETTINGS = Settings("Test")


def project(key: str, days: int | None = 30, stage: Stage = Stage.BOOKED) -> Project:
    due = None if days is None else TODAY + timedelta(days=days)
    return replace(piece(key, stage=stage), due=due)


def outcome(problem: ShadeProblem, projects: Mapping[str, Project]) -> ShadeOutcome:
    claimants = [Claimant(projects[p.key], ()) for p in problem.pieces]
    return outcome_of(REF, problem, solve_shade(problem), claimants, pending=False)


def run(key: str, dg: int, fixed: Fixed | None = None, lot: str | None = None) -> Run:
    owner = key.split("/", maxsplit=1)[0]
    return Run(key, f"{owner}/A", dg, fixed, lot)


def questions(
    found: ShadeOutcome, projects: Mapping[str, Project], book: OfferBook, chosen: Chosen
) -> Questions:
    asked = questions_of(Wanted((found,), projects, book, LIBRARY, SETTINGS, TODAY, chosen))
    # What goes to a child process must survive the way there.
    sent: Questions = pickle.loads(pickle.dumps(asked))
    return sent


ONE_SHOP = OfferBook(
    (seller("north"),), (Offer("north", "wool", steps((1, "5.00"), (10, "4.00")), 1, ("1",)),)
)
FAST_AND_SLOW = OfferBook(
    (seller("fast", 2), seller("slow", 15)),
    (
        Offer("fast", "wool", steps((1, "9.00"))),
        Offer("slow", "wool", steps((1, "4.00"))),
    ),
)
BOTH = Chosen(projects=frozenset({"near", "far"}))


def test_the_late_piece_buys_where_it_is_cheap_and_leaves_its_lot_to_the_near_one() -> None:
    # By the rules of lots the piece booked first has the lot, and the near one would buy dear.
    projects = {"far": project("far", 60), "near": project("near", 6)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 3 * BALL),),
        (Piece("far", True, (run("far/1", 1400),)), Piece("near", True, (run("near/1", 1500),))),
    )
    found = outcome(problem, projects)
    assert found.lot_of == {"far/1": "7", "near/1": BUY}
    both = buy_together(questions(found, projects, FAST_AND_SLOW, BOTH))
    assert both.plan.landed == D("12.00")
    assert both.saves == D("15.00")
    assert set(both.plan.moves) == {("far/1", "7", BUY), ("near/1", BUY, "7")}
    assert both.offer is None
    assert both.complete


def test_a_held_run_stays_and_its_move_is_only_offered() -> None:
    projects = {"far": project("far", 60), "near": project("near", 6)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 3 * BALL),),
        (
            Piece("far", True, (run("far/1", 1400, Fixed.HOLD, "7"),)),
            Piece("near", True, (run("near/1", 1500),)),
        ),
    )
    both = buy_together(questions(outcome(problem, projects), projects, FAST_AND_SLOW, BOTH))
    assert both.plan.landed == D("27.00")
    assert both.plan.moves == ()
    assert both.saves == 0
    assert both.offer is not None
    assert both.offer.moves == (("far/1", "7", BUY),)
    assert both.offer.saves == D("15.00")


@pytest.mark.parametrize("fixed", [Fixed.BEGUN, Fixed.PIN])
def test_begun_and_pinned_runs_are_not_even_offered(fixed: Fixed) -> None:
    projects = {"far": project("far", 60), "near": project("near", 6)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 3 * BALL),),
        (
            Piece("far", True, (run("far/1", 1400, fixed, "7"),)),
            Piece("near", True, (run("near/1", 1500),)),
        ),
    )
    both = buy_together(questions(outcome(problem, projects), projects, FAST_AND_SLOW, BOTH))
    assert both.plan.landed == D("27.00")
    assert both.offer is None


def test_a_whole_new_lot_frees_the_old_one_at_the_break() -> None:
    # Pooled balls are what counts: 6 + 4 balls either way, but the way that buys 10 is not worse.
    projects = {"near": project("near"), "far": project("far", 31)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 9 * BALL),),
        (
            Piece("near", True, (run("near/1", 9 * BALL), run("near/2", 2 * BALL))),
            Piece("far", True, (run("far/1", 7 * BALL),)),
        ),
    )
    found = outcome(problem, projects)
    # Present plan: the near piece keeps its 9 balls and buys 2; the far one buys 7: 9 x 5.00.
    both = buy_together(questions(found, projects, ONE_SHOP, BOTH))
    # Near 2 and far 7 from the lot, near 9 new would be 9 balls as well: 45.00, or 10 at 4.00.
    assert both.plan.landed == D("40.00")
    assert both.saves == 0
    assert both.plan.moves == ()


def test_a_piece_that_is_not_bought_for_keeps_its_lot() -> None:
    projects = {"far": project("far", 60), "near": project("near", 6)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 3 * BALL),),
        (Piece("far", True, (run("far/1", 1400),)), Piece("near", True, (run("near/1", 1500),))),
    )
    found = outcome(problem, projects)
    chosen = Chosen(projects=frozenset({"near"}))
    both = buy_together(questions(found, projects, FAST_AND_SLOW, chosen))
    assert both.plan.moves == ()
    assert both.plan.landed == D("27.00")


def test_a_delay_is_spared_before_money() -> None:
    # Bought, the near piece would be late from anybody; the lot is given to it instead.
    projects = {"far": project("far", 60), "near": project("near", 2)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 3 * BALL),),
        (Piece("far", True, (run("far/1", 1400),)), Piece("near", True, (run("near/1", 1500),))),
    )
    both = buy_together(questions(outcome(problem, projects), projects, FAST_AND_SLOW, BOTH))
    assert both.plan.late == ()
    assert {m[0] for m in both.plan.moves} == {"far/1", "near/1"}


def test_needs_are_the_shortfall_of_the_chosen_pieces() -> None:
    projects = {"near": project("near"), "idea": project("idea", None, Stage.IDEA)}
    problem = ShadeProblem(
        BALL,
        (Lot("7", 100),),
        (
            Piece("near", True, (run("near/1", 700, Fixed.PIN, "7"),)),
            Piece("idea", False, (run("idea/1", 900),)),
        ),
    )
    found = outcome(problem, projects)
    (only,) = needs_of([found], projects)
    # Pinned to a lot of 10 g that must give 70 g: the rest is lacking.
    assert (only.project, only.dg, only.runs) == ("near", 600, ("near/1",))
    assert only.need_by == date(2027, 3, 30)
    every = needs_of([found], projects, Chosen(projects=frozenset({"near", "idea"})))
    assert [n.dg for n in every] == [600, 900]
    moved = needs_of([found], projects, need_by={"near": date(2027, 3, 9)})
    assert moved[0].need_by == date(2027, 3, 9)
    assert ways_of(found, projects, Chosen()).ways[0].needs == (only,)


def random_shade(rng: random.Random) -> ShadeProblem:
    """Stock for about half of what is needed; whoever comes first has the first choice of it."""
    pieces = []
    total = 0
    lots = [f"{n}" for n in range(rng.randint(1, 2))]
    for key in rng.choice([("near", "far"), ("far", "near"), ("far", "near")]):
        runs = []
        for at in range(rng.randint(1, 3)):
            fixed, lot = None, None
            if rng.random() < 0.15:
                fixed, lot = rng.choice([Fixed.HOLD, Fixed.BEGUN]), rng.choice(lots)
            runs.append(run(f"{key}/{at}", rng.randint(2, 12) * 150, fixed, lot))
            total += runs[-1].need_dg
        together = frozenset({f"{key}/A"}) if rng.random() < 0.4 else frozenset()
        pieces.append(Piece(key, True, tuple(runs), together))
    share = total // len(lots)
    stock = tuple(Lot(code, int(share * rng.uniform(0.3, 0.7))) for code in lots)
    return ShadeProblem(BALL, stock, tuple(pieces))


def every_assignment(problem: ShadeProblem, found: ShadeOutcome) -> Iterator[dict[str, str]]:
    """All allowed ones that leave holds where the plan has them."""
    runs = [r for p in problem.pieces for r in p.runs]
    codes = [n.code for n in problem.lots]
    options = []
    for r in runs:
        stays = settled(r) or (held(r) and found.lot_of[r.key] == r.lot)
        options.append([found.lot_of[r.key]] if stays else [*codes, BUY])
    for places in itertools.product(*options):
        lots = {r.key: place for r, place in zip(runs, places, strict=True)}
        if is_allowed(problem, lots) is None:
            yield lots


@pytest.mark.parametrize("seed", range(80))
def test_no_allowed_assignment_makes_the_purchase_cheaper(seed: int) -> None:
    rng = random.Random(seed)
    problem = random_shade(rng)
    projects = {"far": project("far", 60), "near": project("near", 6)}
    found = outcome(problem, projects)
    book = rng.choice([ONE_SHOP, FAST_AND_SLOW])
    both = buy_together(questions(found, projects, book, BOTH))
    costs: dict[tuple[int, ...], int] = {}
    for lots in every_assignment(problem, found):
        needs = []
        for p in problem.pieces:
            dg = sum(r.need_dg if lots[r.key] == BUY else found.short.get(r.key, 0) for r in p.runs)
            if dg:
                due = projects[p.key].due
                assert due is not None
                needs.append(Need(REF, p.key, dg, due - timedelta(days=1), ()))
        vector = tuple(n.dg for n in needs)
        if vector not in costs:
            question = purchase_problem(needs, book, LIBRARY, "EUR", TODAY)
            cost = cheapest_by_hand(question, 5)
            assert cost is not None
            costs[vector] = cost
    assert both.complete
    assert both.plan.proved
    least = Decimal(min(costs.values())) / 100
    # Every run that moves counts for a cent, so that a plan may be so much above the least.
    assert least <= both.plan.landed <= least + Decimal("0.06")
    after = dict(found.lot_of)
    after.update({key: then for key, _, then in both.plan.moves})
    assert is_allowed(problem, after) is None


def test_few_steps_leave_the_present_plan_and_say_so() -> None:
    projects = {"far": project("far", 60), "near": project("near", 6)}
    runs = tuple(run(f"near/{n}", 300 + n) for n in range(6))
    problem = ShadeProblem(BALL, (Lot("7", 900), Lot("8", 700)), (Piece("near", True, runs),))
    found = ways_of(outcome(problem, projects), projects, BOTH, most_steps=3)
    assert not found.complete
    assert found.ways[0].moves == ()
