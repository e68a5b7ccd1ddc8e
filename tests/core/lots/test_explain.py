"""Each passed-over lot is forced by an independent route: brute force with the run put there."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from studio.core.lots.explain import Measure, PassedOver, Rule, passed_over, relaxed, unheld
from studio.core.lots.judge import balls_for
from studio.core.lots.mip import Limits
from studio.core.lots.problem import BUY, Fixed, Lot, Piece, Run, ShadeProblem, Stage
from studio.core.lots.solve import solve_shade
from tests.core.lots.brute import Best, BruteForce
from tests.core.lots.cases import small_case

SEEDS = range(5_000, 5_160)


def _first_difference(problem: ShadeProblem, one: Best, two: Best) -> tuple[Stage, Measure, int]:
    """The first stage and number at which the second is worse, straight from the numbers."""
    ball = problem.ball_dg
    rows: list[tuple[Stage, Measure, int, int]] = [
        (Stage.REPAIR, Measure.PIECES, one.repair[0], two.repair[0]),
        (Stage.REPAIR, Measure.RUNS, one.repair[1], two.repair[1]),
    ]
    for a, b in zip(one.buy, two.buy, strict=True):
        rows.append((Stage.BUY_EACH, Measure.BALLS, balls_for(a, ball), balls_for(b, ball)))
        rows.append((Stage.BUY_EACH, Measure.DG, a, b))
    rows += [
        (Stage.BUY_POOLED, Measure.BALLS, one.pooled_balls, two.pooled_balls),
        (Stage.LOTS, Measure.LOTS, one.lots_value[0], two.lots_value[0]),
        (Stage.LOTS, Measure.NEIGHBOURS, one.lots_value[1], two.lots_value[1]),
        (Stage.LEFTOVERS, Measure.PART_DG, one.leftovers[0], two.leftovers[0]),
        (Stage.LEFTOVERS, Measure.OPENED, one.leftovers[1], two.leftovers[1]),
        (Stage.LEFTOVERS, Measure.AGE, one.leftovers[2], two.leftovers[2]),
    ]
    for stage, measure, a, b in rows:
        if a != b:
            return stage, measure, b - a
    return Stage.CODE, Measure.CODE, 0


def _check(problem: ShadeProblem, base: Best, key: str, found: PassedOver) -> None:
    forced = BruteForce(problem, (key, found.lot)).best()
    if found.rule is None:
        assert forced is not None
        stage, measure, amount = _first_difference(problem, base, forced)
        assert (found.stage, found.measure, found.amount) == (stage, measure, amount)
        assert found.proved
        assert amount > 0 or stage is Stage.CODE
        if measure is Measure.BALLS:
            bought = dict(zip((p.key for p in problem.pieces), forced.buy, strict=True))
            before = dict(zip((p.key for p in problem.pieces), base.buy, strict=True))
            assert found.piece is not None
            assert found.dg == bought[found.piece] - before[found.piece]
    elif forced is not None:
        # A rule that speaks of what holds leave: the run fits only where a hold is broken.
        assert found.rule in (Rule.TOO_LITTLE, Rule.TOGETHER, Rule.HOLD)
        assert forced.repair > base.repair


@pytest.mark.parametrize("limits", [Limits(), Limits(search_steps=0)], ids=["search", "solver"])
def test_stage_and_amount_are_those_of_the_brute_force(limits: Limits) -> None:
    seen: Counter[str] = Counter()
    for seed in SEEDS if limits.search_steps else SEEDS[::2]:
        problem = small_case(seed)
        answer = solve_shade(problem)
        base = BruteForce(problem).best()
        assert base is not None
        key = random.Random(seed).choice(answer.lots)[0]
        explained = passed_over(problem, answer, key, limits)
        chosen = dict(answer.lots)[key]
        codes = {lot.code for lot in problem.lots} | {BUY}
        named = {run.lot for piece in problem.pieces for run in piece.runs if run.lot}
        assert {found.lot for found in explained} == (codes | named) - {chosen}
        for found in explained:
            _check(problem, base, key, found)
            seen[(found.rule or found.measure or Measure.CODE).value] += 1
    common = ["too little", "begun", "arrives", "balls", "lots", "opened", "age", "part dg"]
    assert {name: seen[name] for name in common if not seen[name]} == {}


def _problem(
    *runs: Run, lots: tuple[Lot, ...], together: frozenset[str] = frozenset()
) -> ShadeProblem:
    return ShadeProblem(1000, lots, (Piece("p", True, runs, together),))


def test_too_little_tells_how_much_is_lacking() -> None:
    problem = _problem(
        Run("held", "a", 300, Fixed.HOLD, "A"),
        Run("new", "a", 450),
        lots=(Lot("A", 700), Lot("B", 900)),
    )
    answer = solve_shade(problem)
    assert dict(answer.lots) == {"held": "A", "new": "B"}
    too_little = passed_over(problem, answer, "new")[0]
    assert (too_little.lot, too_little.rule, too_little.amount) == ("A", Rule.TOO_LITTLE, 50)


def test_a_held_slot_that_outgrew_its_lot_lacks_what_it_grew_by() -> None:
    """Six runs of 40 held together in a lot of 220: it lacks 20, though they all are at home."""
    runs = tuple(Run(f"{n}", "a", 40, Fixed.HOLD, "A") for n in range(6))
    problem = _problem(*runs, lots=(Lot("A", 220),), together=frozenset({"a"}))
    answer = solve_shade(problem)
    assert set(dict(answer.lots).values()) == {BUY}
    (found,) = passed_over(problem, answer, "0")
    assert (found.rule, found.amount) == (Rule.TOO_LITTLE, 20)


def test_what_is_too_little_always_lacks_something() -> None:
    lacks = []
    for seed in SEEDS[::3]:
        problem = small_case(seed)
        answer = solve_shade(problem)
        for key in dict(answer.lots):
            passed = passed_over(problem, answer, key)
            lacks += [found.amount for found in passed if found.rule is Rule.TOO_LITTLE]
    assert len(lacks) > 100
    assert min(lacks) > 0


def test_buying_instead_costs_balls_and_grams() -> None:
    problem = _problem(Run("new", "a", 450), lots=(Lot("A", 700),))
    (buying,) = passed_over(problem, solve_shade(problem), "new")
    assert buying == PassedOver(
        BUY, stage=Stage.BUY_EACH, measure=Measure.BALLS, amount=1, dg=450, piece="p"
    )


def test_relaxing_one_lot_saves_what_the_rule_costs() -> None:
    runs = (Run("one", "a", 400), Run("two", "a", 400))
    lots = (Lot("A", 500), Lot("B", 500))
    problem = _problem(*runs, lots=lots, together=frozenset({"a"}))
    assert solve_shade(problem).value.buy == ((1, 800),)
    freer = solve_shade(relaxed(problem, "p", "a"))
    assert freer.value.buy == ((0, 0),)
    assert relaxed(problem, "another", "a") == problem


def test_a_fresh_plan_lets_holds_go_and_nothing_else() -> None:
    runs = (
        Run("held", "a", 400, Fixed.HOLD, "A"),
        Run("begun", "a", 100, Fixed.BEGUN, "B"),
        Run("new", "a", 500),
    )
    problem = _problem(*runs, lots=(Lot("A", 500), Lot("B", 1_100)))
    kept = solve_shade(problem)
    fresh = solve_shade(unheld(problem))
    assert kept.value.lots == (1, 1)
    assert fresh.value.lots == (0, 0)
    assert dict(fresh.lots)["begun"] == "B"
