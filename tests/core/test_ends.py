"""Strands started and ends to weave in."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from studio.core.ends import Worked, ends_of, strands_of


def stripes(*rows: tuple[str, int], lot: str = "L1", row_g: float = 2.0) -> list[Worked]:
    """Stripes of (colour, rows), worked one after the other from 100 g balls."""
    found, last = [], 0
    for colour, count in rows:
        found.append(Worked(colour, lot, last + 1, last + count, count * row_g, 100.0, row_g))
        last += count
    return found


def test_every_colour_change_leaves_two_ends() -> None:
    # Common practice, no source.
    colours = "ABCABCABC"
    counts = [ends_of(stripes(*[(c, 6) for c in colours[:n]]), 2) for n in range(1, 10)]
    assert counts == [2 * n for n in range(1, 10)]


def test_a_two_row_stripe_is_carried_over_two_rows() -> None:
    # Carrying up the side with stripes of two rows: found in a crochet magazine, issue 122.
    worked = stripes(*[("A", 2), ("B", 2)] * 5)
    assert strands_of(worked, 2) == (1, 1, *[0] * 8)
    assert ends_of(worked, 2) == 4
    assert ends_of(worked, 0) == 20


def test_no_colour_is_carried_further_than_the_limit() -> None:
    worked = stripes(("A", 2), ("B", 4), ("A", 2))
    assert strands_of(worked, 2) == (1, 1, 1)
    assert strands_of(worked, 4) == (1, 1, 0)


def test_over_an_odd_number_of_rows_the_ball_waits_at_the_other_edge() -> None:
    assert strands_of(stripes(("A", 2), ("B", 1), ("A", 2)), 2) == (1, 1, 1)
    assert strands_of(stripes(("A", 1), ("B", 2), ("A", 1)), 2) == (1, 1, 0)


def test_another_lot_is_another_strand() -> None:
    worked = stripes(("A", 2), ("B", 2), ("A", 2))
    worked[2] = replace(worked[2], lot="L2")
    assert strands_of(worked, 2) == (1, 1, 1)
    worked[2] = replace(worked[2], lot=None)
    assert strands_of(worked, 2) == (1, 1, 1)
    bought = [replace(stripe, lot=None) for stripe in worked]
    assert strands_of(bought, 2) == (1, 1, 0)


def test_neighbours_of_one_colour_and_lot_go_on() -> None:
    assert strands_of(stripes(("A", 6), ("A", 7)), 0) == (1, 0)


def test_a_stripe_from_several_balls_starts_a_strand_for_each() -> None:
    # 120 rows of 2 g are 240 g: three balls.
    assert strands_of(stripes(("A", 120)), 2) == (3,)


def test_a_carried_ball_that_runs_out_is_followed_by_a_new_one() -> None:
    # 46 rows leave 8 g of the first ball, four rows of the next stripe.
    assert strands_of(stripes(("A", 46), ("B", 2), ("A", 4)), 2) == (1, 1, 0)
    assert strands_of(stripes(("A", 46), ("B", 2), ("A", 6)), 2) == (1, 1, 1)


def test_a_remnant_under_a_row_is_not_carried() -> None:
    # 98 g leave 2 g: one row. 99 g leave 1 g: none.
    worked = stripes(("A", 49), ("B", 2), ("A", 1))
    assert strands_of(worked, 2)[2] == 0
    worked[0] = replace(worked[0], grams=99.0)
    assert strands_of(worked, 2)[2] == 1


def test_border_strands_and_empty_stripes() -> None:
    worked = stripes(("A", 6), ("B", 0), ("A", 6))
    assert strands_of(worked, 2) == (1, 0, 0)
    assert ends_of(worked, 2, other_strands=3) == 8
    assert ends_of([], 2) == 0


@given(
    st.lists(st.tuples(st.sampled_from("ABC"), st.integers(1, 60)), max_size=20),
    st.integers(0, 8),
)
def test_ends_laws(rows: list[tuple[str, int]], carry: int) -> None:
    worked = stripes(*rows)
    ends = ends_of(worked, carry)
    assert ends % 2 == 0
    assert ends >= 2 * len({colour for colour, _ in rows})
    # Enough balls are started for all that is worked.
    for colour in {c for c, _ in rows}:
        mine = [(w, n) for w, n in zip(worked, strands_of(worked, carry), strict=True)]
        started = sum(n for w, n in mine if w.colour == colour)
        assert started * 100 >= sum(w.grams for w, _ in mine if w.colour == colour) - 1e-6
    assert ends_of(worked, 0) <= 2 * sum(1 + (w.grams > 100) for w in worked)
