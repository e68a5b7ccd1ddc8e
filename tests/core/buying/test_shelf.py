"""The shelf of staples: which pieces count, what is free, where it is ordered, and the finding."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.core.buying.asking import staple_worth
from studio.core.buying.offers import Offer, flat
from studio.core.buying.question import StapleWorth
from studio.core.buying.shelf import (
    Shelf,
    finished_on,
    marked,
    parcel_words,
    shelf_now,
    staple_findings,
    with_staple,
)
from studio.core.buying.staples import TooLittle, YearlyUse, best_order_size
from studio.core.model import (
    Claim,
    ClaimKind,
    Method,
    OrderLine,
    Project,
    Purchase,
    ShadeRef,
    Stage,
    Stash,
    Stripe,
    Studio,
    Used,
    UsedFrom,
)
from studio.core.reconcile import reconcile
from studio.core.trade_model import StageDate, StapleRules, Trade
from tests.core import small
from tests.core.buying.making import D, seller, steps

TODAY = date(2027, 6, 1)
RUST, TIDE = small.RUST, small.TIDE


def piece(key: str, grams: int, stage: Stage = Stage.DELIVERED, **more: object) -> Project:
    """A piece of so many grams of Rust, entered by hand."""
    made = small.piece(key, "A4", stage, method=Method.BY_HAND)
    made = replace(made, stripes=(Stripe("A", 4, grams=D(grams)),))
    return replace(made, **more)  # type: ignore[arg-type]


def delivered(count: int, every_days: int, grams: int = 200) -> list[Project]:
    """So many delivered pieces, the newest of today."""
    return [
        piece(
            f"p{n:02}", grams, due=TODAY,
            reached=(StageDate(Stage.DELIVERED, TODAY - timedelta(days=n * every_days)),),
        )
        for n in range(count)
    ]  # fmt: skip


def studio(*pieces: Project, balls: int = 10, **more: object) -> Studio:
    """Rust is a staple; two suppliers sell it."""
    base = small.studio(*pieces, lots=(small.lot("K", balls),))
    parcel = flat(D(5))
    base = replace(
        base,
        suppliers=(seller("dear", 5, shipping=parcel), seller("cheap", 20, shipping=parcel)),
        offers=(
            Offer("dear", "marl", steps((1, "8.00"))),
            Offer("cheap", "marl", steps((1, "7.00"), (20, "6.00"))),
        ),
    )  # fmt: skip
    return with_staple(replace(base, **more), RUST, staple=True)  # type: ignore[arg-type]


def shelf(there: Studio, kept: Shelf | None = None) -> Shelf:
    seen = reconcile(there).kept
    demands = {key: w.demand for key, w in seen.worked.items()}
    return shelf_now(kept, there, demands, seen.lots, seen.plans, TODAY)


def test_only_marked_shades_are_on_the_shelf() -> None:
    there = studio(*delivered(2, 30))
    assert marked(there.library) == (RUST,)
    assert [line.shade for line in shelf(there).lines] == [RUST]
    off = with_staple(there, RUST, staple=False)
    assert shelf(off).lines == ()
    both = with_staple(there, TIDE, staple=True)
    assert marked(both.library) == (RUST, TIDE)


def test_a_piece_counts_on_the_day_it_was_finished() -> None:
    made = StageDate(Stage.IN_STOCK, date(2027, 1, 2))
    sold = StageDate(Stage.DELIVERED, date(2027, 4, 2))
    assert finished_on(piece("p", 100, reached=(made, sold))) == date(2027, 1, 2)
    assert finished_on(piece("p", 100, reached=(sold,))) == date(2027, 4, 2)
    assert finished_on(piece("p", 100, due=date(2027, 3, 3))) == date(2027, 3, 3)
    assert finished_on(piece("p", 100, Stage.IN_STOCK, reached=(made,))) == date(2027, 1, 2)
    assert finished_on(piece("p", 100, Stage.MAKING, reached=(made,))) is None


def test_below_twelve_months_or_eight_uses_no_figure_is_told() -> None:
    for few in (delivered(7, 60), delivered(12, 30)):
        (line,) = shelf(studio(*few)).lines
        assert isinstance(line.use, TooLittle)
        assert line.standing is None
        assert not line.due
    (line,) = shelf(studio(*delivered(8, 53))).lines
    assert isinstance(line.use, YearlyUse)


def test_yearly_use_order_and_reorder_point_by_hand() -> None:
    # Ten pieces of 2 balls over 9 x 41 = 369 days: 20 / 369 x 365.25 = 19.797 balls a year.
    (line,) = shelf(studio(*delivered(10, 41))).lines
    assert isinstance(line.use, YearlyUse)
    assert line.use.balls == pytest.approx(20 / 369 * 365.25)
    standing = line.standing
    assert standing is not None
    # A year in orders of 20 at 6.00: 118.78 + 4.95 + 12.00; the dearer shop cannot come near.
    assert (line.supplier, standing.size.balls, standing.size.price) == ("Cheap", 20, D("6.00"))
    assert standing.size.year == pytest.approx(
        19.797 * 6 + 19.797 / 20 * 5 + 20 / 2 * 0.2 * 6, 1e-4
    )
    assert standing.free_balls == 10
    # 20 days of lead: 1.08 balls, and 1.645 spreads of a month's use over 20 / 30.44 months.
    assert standing.point.lead_use == pytest.approx(19.797 / 365.25 * 20, 1e-4)
    safety = 1.645 * line.use.month_spread * (20 / (365.25 / 12)) ** 0.5
    assert standing.point.safety == pytest.approx(safety, rel=1e-3)


def test_what_she_states_of_reorders_is_what_is_reckoned_with() -> None:
    rules = StapleRules(order_cost=D("12.50"), holding=D("0.4"), service=D("0.5"))
    there = studio(*delivered(10, 41), trade=Trade(staples=rules))
    (line,) = shelf(there).lines
    assert isinstance(line.use, YearlyUse)
    assert line.standing is not None
    # At even odds there is no safety stock.
    assert line.standing.point.safety == pytest.approx(0)
    best = best_order_size(line.use.balls, D("17.50"), D("0.4"), steps((1, "7.00"), (20, "6.00")))
    assert line.standing.size == best


def test_held_yarn_is_not_free_and_what_is_on_order_counts() -> None:
    held = piece("held", 700, Stage.BOOKED)
    claim = Claim(ClaimKind.HOLD, "K")
    held = replace(held, stripes=(replace(held.stripes[0], claim=claim),))
    there = studio(*delivered(10, 41), held)
    (line,) = shelf(there).lines
    assert line.standing is not None
    assert line.standing.free_balls == 3
    assert line.due
    coming = Purchase("p", "cheap", TODAY, (OrderLine("marl", "1", 9),))
    (line,) = shelf(replace(there, stash=Stash(there.stash.lots, (coming,)))).lines
    assert line.standing is not None
    assert line.standing.ordered_balls == 9
    assert not line.due


def test_what_runs_wait_for_is_not_counted_as_coming_to_the_shelf() -> None:
    waits = piece("waits", 500, Stage.BOOKED)
    claim = Claim(ClaimKind.ORDER, "p")
    waits = replace(waits, stripes=(replace(waits.stripes[0], claim=claim),))
    coming = Purchase("p", "cheap", TODAY, (OrderLine("marl", "1", 9),))
    there = studio(*delivered(10, 41), waits)
    (line,) = shelf(replace(there, stash=Stash(there.stash.lots, (coming,)))).lines
    assert line.standing is not None
    assert line.standing.ordered_balls == 4


def test_a_staple_that_nobody_sells_says_so() -> None:
    (line,) = shelf(studio(*delivered(10, 41), offers=())).lines
    assert isinstance(line.use, YearlyUse)
    assert (line.standing, line.trouble) == (None, "No supplier stocks Marl Rust.")


def test_the_finding_comes_when_the_shelf_is_low() -> None:
    full, low = shelf(studio(*delivered(10, 41))), shelf(studio(*delivered(10, 41), balls=2))
    assert staple_findings(full.lines) == ()
    (told,) = staple_findings(low.lines)
    assert (told.code, told.shade) == ("time-to-reorder", RUST)
    standing = low.lines[0].standing
    assert standing is not None
    point = standing.point.balls
    assert told.text == (
        f"Time to reorder Marl Rust: 2 balls free, reorder point {point}, order 20."
    )


def test_surplus_of_a_staple_is_worth_todays_price_for_a_years_use() -> None:
    there = studio(*delivered(10, 41))
    assert staple_worth(there, shelf(there).lines) == {RUST: StapleWorth(D("7.00"), 19)}
    few = studio(*delivered(3, 41))
    assert staple_worth(few, shelf(few).lines) == {}


def test_use_is_told_anew_only_where_a_finished_piece_changed() -> None:
    there = studio(*delivered(10, 41))
    seen = reconcile(there, today=TODAY)
    shelf_then = seen.kept.shelf
    assert shelf_then is not None
    priced = replace(there, trade=Trade(staples=StapleRules(order_cost=D(9))))
    shelf_now_ = reconcile(priced, seen.kept, today=TODAY).kept.shelf
    assert shelf_now_ is not None
    assert shelf_now_.uses is shelf_then.uses
    assert shelf_now_.lines != shelf_then.lines
    fewer = replace(there, projects=there.projects[1:])
    shelf_fewer = reconcile(fewer, seen.kept, today=TODAY).kept.shelf
    assert shelf_fewer is not None
    assert len(shelf_fewer.uses[RUST]) == 9


def test_grams_are_told_in_balls() -> None:
    there = studio(*delivered(10, 41, grams=150))
    uses = shelf(there).uses[RUST]
    assert {u.balls for u in uses} == {Decimal("1.5")}


def test_what_was_noted_as_used_counts_in_place_of_the_expected_use() -> None:
    def noted(
        grams: int, rows: int, shade: ShadeRef = RUST, *, whole: bool = False
    ) -> tuple[Used, ...]:
        by = UsedFrom.WEIGHED
        return (Used(*shade, "K", D(grams), None, TODAY, by, rows, whole),)

    plain = delivered(10, 41)
    assert {u.balls for u in shelf(studio(*plain)).uses[RUST]} == {D(2)}
    # The whole piece noted: 170 g, whatever was expected of it.
    whole = replace(plain[0], used=noted(170, 4, whole=True))
    uses = shelf(studio(whole, *plain[1:])).uses[RUST]
    assert [u.balls for u in uses][-1] == D("1.7")
    assert len(uses) == 10
    # Two of four rows noted with 120 g: the others count with the 100 g expected of them.
    half = replace(plain[0], used=noted(120, 2))
    assert [u.balls for u in shelf(studio(half, *plain[1:])).uses[RUST]][-1] == D("2.2")
    # Another shade of which nothing was planned counts for that shade.
    other = replace(plain[0], used=noted(30, 4, TIDE, whole=True))
    both = with_staple(studio(other, *plain[1:]), TIDE, staple=True)
    assert [u.balls for u in shelf(both).uses[TIDE]] == [D("0.3")]


def test_lead_times_that_were_seen_widen_the_safety_stock() -> None:
    there = studio(*delivered(10, 41))
    dear, cheap = there.suppliers
    seen = replace(there, suppliers=(dear, replace(cheap, seen_days=(10, 20, 30, 40))))
    (before,), (after,) = shelf(there).lines, shelf(seen).lines
    assert before.standing is not None
    assert after.standing is not None
    assert isinstance(after.use, YearlyUse)
    point = after.standing.point
    # Mean 25 days, spread sqrt(500 / 3) = 12.91 days; z is 1.645.
    assert point.lead_days == 25
    assert point.lead_spread_days == pytest.approx(12.91, abs=0.005)
    months = 25 / (365.25 / 12)
    use, day = after.use.month_spread, after.use.balls / 365.25
    assert point.safety == pytest.approx(
        1.645 * (months * use**2 + (day * 12.91) ** 2) ** 0.5, 1e-3
    )
    assert point.safety > before.standing.point.safety


@pytest.mark.parametrize(
    ("balls", "told"),
    [
        (9, "Below the minimum of 60.00 EUR at the wool shed: order 15.00 EUR more, or together"),
        (12, ""),
        (22, "10.00 EUR more would ship free at the wool shed, which saves 12.00 EUR."),
        (21, ""),
        (24, ""),
    ],
)
def test_an_order_size_is_held_against_minimum_and_free_shipping(balls: int, told: str) -> None:
    """By hand: 5.00 a ball, a minimum of 60.00, 12.00 a parcel and free from 120.00."""
    shed = replace(
        seller("wool"), name="the wool shed", minimum=D(60), shipping=flat(D(12), D(120))
    )
    found = parcel_words(shed, balls, D(5), "EUR")
    assert found.startswith(told) if told else found == ""
