"""Single rules of lot assignment, on problems that can be checked by hand.

The rules are the studio's own order of stages (common practice, no source).
"""

from __future__ import annotations

from datetime import date

import pytest

from studio.core.lots.judge import is_allowed, value_of
from studio.core.lots.mip import Limits
from studio.core.lots.problem import BUY, Fixed, Lot, Piece, Run, ShadeAnswer, ShadeProblem
from studio.core.lots.solve import quick_answer, solve_shade

SOLVER_ALONE = Limits(search_steps=0)


def shade(lots: list[Lot], *pieces: Piece) -> ShadeProblem:
    return ShadeProblem(1000, tuple(lots), pieces)


def piece(key: str, *runs: Run, held: bool = True, together: str = "") -> Piece:
    return Piece(key, held, runs, frozenset(together))


def both_ways(problem: ShadeProblem) -> ShadeAnswer:
    """The answer of the search and of the solver, which must be one."""
    answer = solve_shade(problem)
    alone = solve_shade(problem, SOLVER_ALONE)
    assert answer.proved
    assert alone.proved
    assert alone.lots == answer.lots
    return answer


def test_two_balls_of_an_old_lot_do_not_shorten_the_order_for_a_three_ball_stripe() -> None:
    problem = shade([Lot("A", 2000)], piece("p", Run("stripe", "a", 3000)))
    answer = both_ways(problem)
    assert dict(answer.lots) == {"stripe": BUY}
    assert answer.value.buy == ((3, 3000),)


def test_a_project_that_chooses_first_is_not_made_worse_for_the_sum() -> None:
    first = piece("first", Run("a", "a", 600), Run("b", "a", 300))
    second = piece("second", Run("c", "a", 1000))
    answer = both_ways(shade([Lot("A", 1000)], first, second))
    assert answer.value.buy == ((0, 0), (1, 1000))
    turned = both_ways(shade([Lot("A", 1000)], second, first))
    assert turned.value.buy == ((0, 0), (1, 900))


def test_held_pieces_pool_their_balls() -> None:
    first, second = piece("first", Run("a", "a", 400)), piece("second", Run("b", "a", 500))
    idea = piece("idea", Run("c", "a", 900), held=False)
    answer = both_ways(shade([], first, second, idea))
    assert answer.value.buy == ((1, 400), (1, 500), (1, 900))
    assert answer.value.pooled_balls == 1


def test_begun_runs_keep_a_lot_that_has_too_little_and_nothing_else_takes_from_it() -> None:
    begun = piece("begun", Run("a", "a", 700, Fixed.BEGUN, "A"))
    other = piece("other", Run("b", "a", 100))
    answer = both_ways(shade([Lot("A", 500)], begun, other))
    assert dict(answer.lots) == {"a": "A", "b": BUY}
    assert answer.overdrawn == (("A", 200),)


def test_an_impossible_hold_moves_and_disturbs_the_fewest_projects() -> None:
    one = piece("one", Run("a", "a", 300, Fixed.HOLD, "A"), Run("b", "a", 300, Fixed.HOLD, "A"))
    two = piece("two", Run("c", "a", 500, Fixed.HOLD, "A"))
    answer = both_ways(shade([Lot("A", 700), Lot("B", 500)], one, two))
    assert answer.value.repair == (1, 1)
    assert answer.moved == ("c",)
    assert dict(answer.lots) == {"a": "A", "b": "A", "c": "B"}


def test_one_project_disturbed_twice_is_better_than_two_once() -> None:
    one = piece("one", *(Run(f"a{n}", "a", 200, Fixed.HOLD, "A") for n in range(3)))
    two = piece("two", Run("b", "a", 200, Fixed.HOLD, "A"))
    answer = both_ways(shade([Lot("A", 400)], one, two))
    assert answer.value.repair == (1, 2)
    assert answer.moved == ("a1", "a2")


def test_a_hold_that_is_possible_stays_though_a_fresh_plan_would_be_better() -> None:
    held = piece("held", Run("a", "a", 400, Fixed.HOLD, "A"))
    new = piece("new", Run("b", "a", 900))
    answer = both_ways(shade([Lot("A", 1000), Lot("B", 500)], held, new))
    assert dict(answer.lots) == {"a": "A", "b": BUY}
    assert answer.moved == ()


def test_yarn_on_order_works_only_the_runs_it_was_bought_for() -> None:
    bought_for = piece("p", Run("a", "a", 400, Fixed.ORDER, "next"), Run("b", "b", 300))
    answer = both_ways(shade([Lot("next", 1000, arrives=date(2026, 3, 1))], bought_for))
    assert dict(answer.lots) == {"a": "next", "b": BUY}


def test_one_lot_for_a_slot_is_kept_though_it_buys_more() -> None:
    runs = (Run("a", "a", 400), Run("b", "a", 400))
    lots = [Lot("A", 500), Lot("B", 500)]
    assert both_ways(shade(lots, piece("p", *runs))).value.buy == ((0, 0),)
    assert both_ways(shade(lots, piece("p", *runs, together="a"))).value.buy == ((1, 800),)


def test_an_open_run_follows_the_lot_of_the_settled_ones_or_is_bought() -> None:
    runs = (Run("a", "a", 300, Fixed.HOLD, "A"), Run("b", "a", 300))
    fits = both_ways(shade([Lot("A", 600), Lot("B", 900)], piece("p", *runs, together="a")))
    assert dict(fits.lots) == {"a": "A", "b": "A"}
    small = both_ways(shade([Lot("A", 500), Lot("B", 900)], piece("p", *runs, together="a")))
    assert dict(small.lots) == {"a": "A", "b": BUY}


def test_neighbours_stay_in_one_lot() -> None:
    runs = [Run(f"r{n}", "a", 100) for n in range(4)]
    answer = both_ways(shade([Lot("A", 200), Lot("B", 200)], piece("p", *runs)))
    assert answer.value.lots == (1, 1)
    assert list(dict(answer.lots).values()) == ["A", "A", "B", "B"]


def test_part_balls_go_before_whole_lots_and_those_before_age() -> None:
    run = piece("p", Run("a", "a", 300))
    old, new = date(2022, 1, 1), date(2025, 1, 1)
    part = Lot("C", 300, part_dg=300, whole=False, bought=new)
    opened = Lot("B", 1000, whole=False, bought=new)
    whole = Lot("A", 1000, bought=old)
    assert dict(both_ways(shade([whole, opened, part], run)).lots) == {"a": "C"}
    assert dict(both_ways(shade([whole, opened], run)).lots) == {"a": "B"}
    newer = Lot("Y", 1000, bought=new)
    assert dict(both_ways(shade([newer, Lot("Z", 1000, bought=old)], run)).lots) == {"a": "Z"}
    assert dict(both_ways(shade([Lot("Z", 1000), Lot("Y", 1000)], run)).lots) == {"a": "Y"}


def test_a_lot_that_is_not_there_holds_nothing() -> None:
    held = piece("p", Run("a", "a", 300, Fixed.HOLD, "gone"), Run("b", "a", 0, Fixed.BEGUN, "gone"))
    answer = both_ways(shade([Lot("A", 500)], held))
    assert dict(answer.lots) == {"a": "A", "b": "gone"}
    assert answer.moved == ("a",)


@pytest.mark.parametrize(
    ("lots", "why"),
    [
        ({"a": "A"}, "no lot"),
        ({"a": "B", "b": "A"}, "is begun in A"),
        ({"a": "A", "b": "next"}, "not open"),
        ({"a": "A", "b": "B"}, "asked for"),
    ],
)
def test_the_judge_says_which_rule_is_broken(lots: dict[str, str], why: str) -> None:
    runs = (Run("a", "a", 100, Fixed.BEGUN, "A"), Run("b", "a", 300))
    stash = [Lot("A", 500), Lot("B", 200), Lot("next", 900, arrives=date(2026, 1, 1))]
    reason = is_allowed(shade(stash, piece("p", *runs)), lots)
    assert reason is not None
    assert why in reason


def test_the_judge_counts_balls_upward() -> None:
    problem = shade([], piece("p", Run("a", "a", 1001)))
    assert value_of(problem, {"a": BUY}).buy == ((2, 1001),)


def test_an_empty_question_has_an_empty_answer() -> None:
    answer, final = quick_answer(shade([Lot("A", 500)]))
    assert final
    assert answer.lots == ()
    assert answer.proved
