"""Each finding's first mend puts it right, as one edit; and rows are scaled without losing any."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.answers import Finding, Mend
from studio.core.mends import fitted_rows, mend
from studio.core.model import Claim, ClaimKind, LotRule, Stage, Stated, Stripe, Studio
from studio.core.reconcile import reconcile
from studio.errors import EditRefusedError
from tests.core.small import lot, piece, studio


def found(made: Studio, code: str) -> Finding:
    plan = reconcile(made).plan.projects["a"]
    return next(f for f in plan.findings if f.code == code)


def mended(made: Studio, code: str) -> Studio:
    return mend(made, found(made, code), reconcile(made).plan.projects["a"])


def codes(made: Studio) -> set[str]:
    return {f.code for f in reconcile(made).plan.projects["a"].findings}


LOTS = (lot("x", 30), lot("y", 30, shade="2"))

CASES = {
    "odd-stripe": studio(piece("a", "A7 B6"), lots=LOTS),
    "size-off": studio(piece("a", "A6 B6 A6"), lots=LOTS),
    "disagree": studio(piece("a", "A40 B40", stated=Stated(stitches=100, rows=70)), lots=LOTS),
    "one-lot-costs": studio(
        piece("a", "A8 B2 A8", customer="M."), lots=(lot("x", 1), lot("xx", 1), *LOTS[1:])
    ),
    "hold-moved": studio(
        piece("a", "A1", Stage.BOOKED, stripes=(Stripe("A", 12, Claim(ClaimKind.HOLD, "x")),)),
        lots=(lot("x", 1), lot("xx", 3)),
    ),
    "lot-overdrawn": studio(
        piece("a", "A1", Stage.BOOKED, stripes=(Stripe("A", 12, Claim(ClaimKind.PIN, "x")),)),
        lots=(lot("x", 1), lot("xx", 3)),
    ),
}


@pytest.mark.parametrize("code", CASES)
def test_a_mend_takes_its_finding_away(code: str) -> None:
    made = CASES[code]
    assert code in codes(made)
    assert code not in codes(mended(made, code))


def test_a_short_stripe_gets_two_rows_fewer() -> None:
    made = studio(piece("a", "A10"), lots=(lot("x", 1),))
    assert mended(made, "short").project["a"].stripes[0].rows == 8
    # 8 rows of 10 g and their margin go into one ball.
    assert "short" not in codes(mended(made, "short"))


def test_a_shortage_stands_where_rows_can_be_spared() -> None:
    """Under one lot the two-row stripe is short with the long one, but has no rows to give."""
    made = studio(piece("a", "A2 B4 A16", customer="M."), lots=(lot("x", 2), LOTS[1]))
    told = found(made, "short")
    assert (told.stripe, told.mend) == (2, Mend.SHORTEN)
    assert [s.rows for s in mended(made, "short").project["a"].stripes] == [2, 4, 14]


def test_allowing_a_lot_for_each_stripe_changes_the_rule_only() -> None:
    after = mended(CASES["one-lot-costs"], "one-lot-costs")
    slot = after.project["a"].slot("A")
    assert slot is not None
    assert slot.lots is LotRule.BY_STRIPE


def test_a_moved_hold_takes_the_lot_of_the_plan() -> None:
    claim = mended(CASES["hold-moved"], "hold-moved").project["a"].stripes[0].claim
    assert claim == Claim(ClaimKind.HOLD, "xx")


def test_only_the_number_that_disagrees_is_cleared() -> None:
    stated = mended(CASES["disagree"], "disagree").project["a"].stated
    assert (stated.stitches, stated.rows) == (100, None)


def test_begun_stripes_keep_their_rows_when_the_rest_is_fitted() -> None:
    made = studio(piece("a", "A10 B10 A10", Stage.MAKING, rows_done=4), lots=LOTS)
    rows = [s.rows for s in mended(made, "size-off").project["a"].stripes]
    # 80 rows for 100 cm at 8 to 10 cm; 70 left for the two that are not begun, in pairs.
    assert rows[0] == 10
    assert sum(rows) == 80


def test_a_finding_without_a_mend_is_refused_in_words() -> None:
    made = studio(piece("a", "A10"))
    plan = reconcile(made).plan.projects["a"]
    bare = replace(plan.findings[0], mend=None)
    with pytest.raises(EditRefusedError, match="no ready mend"):
        mend(made, bare, plan)
    gone = replace(plan.findings[0], mend=Mend.MAKE_EVEN, stripe=None)
    with pytest.raises(EditRefusedError, match="no longer there"):
        mend(made, gone, plan)


@given(st.lists(st.integers(1, 200), min_size=1, max_size=40), st.integers(0, 3000))
def test_fitted_rows_make_the_total_and_lose_no_stripe(old: list[int], more: int) -> None:
    target = 2 * len(old) + more
    rows = fitted_rows(old, target)
    assert sum(rows) == target
    assert all(r >= 2 for r in rows)
    assert all(r % 2 == 0 for r in rows[:-1])


@given(st.lists(st.integers(2, 60), min_size=1, max_size=12), st.integers(2, 5))
def test_fitted_rows_keep_proportion(old: list[int], times: int) -> None:
    even = [2 * r for r in old]
    assert list(fitted_rows(even, times * sum(even))) == [times * r for r in even]


def test_too_few_rows_for_the_stripes_are_refused() -> None:
    with pytest.raises(EditRefusedError, match="3 stripes of two rows"):
        fitted_rows([4, 4, 4], 4)
