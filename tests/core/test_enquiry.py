"""What taking a piece would mean: checked by booking it and looking again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core import booking, edits
from studio.core import trial as trials
from studio.core.answers import Cover, Weight
from studio.core.enquiry import Answer, EnquiryError, ask, ground_of, settled
from studio.core.enquiry_say import facts, findings_of
from studio.core.lots.problem import ShadeAnswer, ShadeProblem
from studio.core.lots.solve import greedy_answer, solve_shade
from studio.core.model import (
    ClaimKind,
    LotRule,
    OrderLine,
    Project,
    Purchase,
    ShadeRef,
    Slot,
    Stage,
    Studio,
)
from studio.core.reconcile import reconcile
from studio.core.trade_model import Quote
from tests.core.trading import COTTON, TODAY, TRADE, WOOL, D, hold, lot, piece, studio

MOSS = ShadeRef("wool", "10")


def tried(home: Studio, trial: Project) -> Answer:
    return ask(ground_of(home, TODAY, reconcile(home).kept, trial.key), trial)


def lots(answer: Answer) -> list[tuple[str | None, Cover]]:
    return [(r.lot, r.cover) for r in answer.plan.runs]


def test_only_the_free_stash_is_offered_and_nothing_is_changed() -> None:
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED, due=date(2027, 6, 1))
    home = studio(booked)
    before = reconcile(home).plan
    answer = tried(home, piece("new", ("A", 90, "")))
    assert lots(answer) == [("2", Cover.STASH)]
    assert answer.buy_balls == 0
    assert home.projects == (booked,)
    assert reconcile(home).plan == before


def test_a_run_that_no_free_lot_holds_is_bought_whole() -> None:
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED)
    answer = tried(studio(booked), piece("new", ("A", 110, "")))
    assert lots(answer) == [(None, Cover.SHORT)]
    (shade,) = answer.buy
    assert (shade.shade, shade.buy_g, shade.buy_balls) == (MOSS, D(110), 3)


def test_what_a_booked_piece_still_has_to_find_comes_first() -> None:
    # The booked piece has no holds yet and is due later, but it is promised: it chooses first.
    booked = piece("booked", ("A", 140, ""), stage=Stage.BOOKED, due=date(2027, 9, 1))
    answer = tried(studio(booked), piece("new", ("A", 120, ""), due=date(2027, 4, 1)))
    assert answer.buy_balls == 3


def test_quotes_and_ideas_that_it_takes_yarn_from_are_named() -> None:
    quote = piece("quote", ("A", 140, ""), stage=Stage.QUOTED, due=date(2027, 4, 1))
    untouched = piece("other", ("B", 40, ""))
    answer = tried(studio(quote, untouched), piece("new", ("A", 150, "")))
    assert lots(answer) == [("1", Cover.STASH)]
    (found,) = answer.competes
    assert (found.project, found.stage, found.shade) == ("quote", Stage.QUOTED, MOSS)
    assert (found.more_g, found.more_balls) == (D(140), 3)


def test_a_quote_in_the_studio_is_tried_without_itself_in_the_way() -> None:
    quote = piece("quote", ("A", 140, ""), stage=Stage.QUOTED)
    bigger = replace(quote, stripes=(replace(quote.stripes[0], grams=D(150)),))
    answer = tried(studio(quote), bigger)
    assert lots(answer) == [("1", Cover.STASH)]
    assert answer.competes == ()


def test_variants_stand_side_by_side() -> None:
    ground = ground_of(studio(), TODAY)
    found = [ask(ground, piece("s", ("A", 90, ""))), ask(ground, piece("m", ("A", 160, "")))]
    assert [a.buy_balls for a in found] == [0, 4]


def test_holds_that_could_move_are_offered_apart() -> None:
    # The booked piece has the big lot though the small one would do.
    booked = piece("booked", ("A", 50, "1"), stage=Stage.BOOKED)
    answer = tried(studio(booked), piece("new", ("A", 120, "")))
    assert answer.buy_balls == 3
    (freed,) = answer.freed
    assert (freed.shade, freed.less_g, freed.less_balls) == (MOSS, D(120), 3)
    assert freed.moves == ("booked/stripe/0",)


def test_no_move_is_offered_that_makes_a_promised_piece_buy() -> None:
    first = piece("first", ("A", 60, "1"), stage=Stage.BOOKED)
    second = piece("second", ("A", 80, "2"), stage=Stage.BOOKED)
    assert tried(studio(first, second), piece("new", ("A", 120, ""))).freed == ()


def test_a_lot_for_each_stripe_is_offered_with_what_it_saves() -> None:
    answer = tried(studio(), piece("new", ("A", 120, ""), ("A", 80, "")))
    assert answer.buy_balls == 4
    (found,) = answer.relaxed
    assert (found.slot, found.less_g, found.less_balls) == ("A", D(200), 4)
    free = piece("new", ("A", 120, ""), ("A", 80, ""))
    free = replace(free, slots=(Slot("A", "wool", "10", LotRule.BY_STRIPE), *free.slots[1:]))
    assert tried(studio(), free).buy_balls == 0


def test_the_hours_it_adds_are_its_own() -> None:
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12))
    answer = tried(studio(booked), piece("new", ("A", 90, ""), due=date(2027, 3, 31)))
    assert sum(w.added_min for w in answer.weeks) == 630
    assert [(w.monday, w.there_min, w.before_min, w.after_min) for w in answer.weeks] == [
        (date(2027, 3, 1), 600, 600, 600),
        (date(2027, 3, 8), 600, 30, 600),
        (date(2027, 3, 15), 600, 0, 60),
    ]
    assert answer.made_late == ()


def test_booked_pieces_it_would_make_late_and_the_date_that_spares_them() -> None:
    # 630 minutes each at 120 a day: the booked piece needs 5.25 days and has until Tuesday the 9th,
    # since drying and transit take three days; the new one asked for the 10th goes first.
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12))
    answer = tried(studio(booked), piece("new", ("A", 90, ""), due=date(2027, 3, 10)))
    (late,) = answer.made_late
    assert (late.project, late.before_days, late.after_days) == ("booked", -1, 6)
    assert answer.laid.late_days == 1
    # Both take 1,260 minutes, which end on the eleventh day of work.
    assert answer.promise.done_by == date(2027, 3, 15)
    assert answer.promise.ready == date(2027, 3, 18)


def test_yarn_to_be_bought_waits_for_its_lead_time() -> None:
    answer = tried(studio(), piece("new", ("B", 90, ""), minutes=D(60)))
    # Seven days to come, one more until it can be worked; packing is worked with it.
    assert answer.promise.done_by == TODAY + timedelta(days=8)
    here = tried(studio(), piece("new", ("A", 90, ""), minutes=D(60)))
    assert here.promise.done_by == TODAY


def test_stripes_before_the_missing_yarn_are_worked_meanwhile() -> None:
    answer = tried(studio(), piece("new", ("A", 90, ""), ("B", 10, ""), minutes=D(600)))
    # 540 of 600 minutes are for the 90 g that are here; 60 and the packing wait.
    assert answer.laid.pieces == ((0, 540), (720, 810))


def test_yarn_bought_for_it_that_comes_too_late_is_called_late() -> None:
    arrives = date(2027, 3, 20)
    purchase = Purchase("p1", "Shop", arrives, (OrderLine("wool", "20", 4),))
    trial = piece("new", ("B", 90, ""), due=date(2027, 3, 20))
    trial = replace(
        trial, stripes=(replace(trial.stripes[0], claim=replace(hold("p1"), kind=ClaimKind.ORDER)),)
    )
    answer = tried(studio(purchases=(purchase,)), trial)
    assert lots(answer) == [("p1", Cover.LATE)]
    assert answer.plan.shades[0].late_g == D(90)
    later = tried(studio(purchases=(purchase,)), replace(trial, due=date(2027, 5, 1)))
    assert lots(later) == [("p1", Cover.ORDER)]
    assert (later.plan.shades[0].late_g, later.plan.shades[0].order_g) == (D(0), D(90))
    assert later.laid.begins == date(2027, 3, 22)  # the day after is a Sunday


def test_the_price_values_stash_yarn_as_a_quote_does() -> None:
    # 90 g at 4.50 for 50 g is 8.10, though the lot was bought at 4.00 a ball.
    answer = tried(studio(), piece("new", ("A", 90, "")))
    assert answer.price is not None
    assert answer.price.sheet.case.yarn == D("8.10")
    assert answer.plan.cost.used == D("8.10")
    assert answer.plan.cost.cash == 0


def test_without_a_yarn_price_there_is_none_and_it_says_why() -> None:
    home = studio()
    bare = tuple(replace(y, price=None) for y in home.library.yarns)
    home = replace(
        home, library=replace(home.library, yarns=bare), stash=replace(home.stash, lots=())
    )
    answer = tried(home, piece("new", ("A", 90, "")))
    assert answer.price is None
    assert "no price known" in answer.no_price


def test_what_is_not_an_idea_or_quote_is_refused() -> None:
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED)
    with pytest.raises(EnquiryError, match="an idea or a quote"):
        ask(ground_of(studio(booked), TODAY, without="booked"), booked)
    quote = piece("quote", ("A", 10, ""))
    with pytest.raises(EnquiryError, match="leave it out"):
        ask(ground_of(studio(quote), TODAY), quote)


def test_hours_per_week_are_taken_from_the_trade() -> None:
    more = replace(TRADE, hours=replace(TRADE.hours, weekday_min=(240,) * 7))
    answer = tried(studio(trade=more), piece("new", ("A", 90, "")))
    assert answer.promise.done_by == date(2027, 3, 3)


GRAMS = st.integers(1, 15).map(lambda n: 10 * n)
RUNS = st.lists(st.tuples(st.sampled_from("AB"), GRAMS), min_size=1, max_size=3)


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(RUNS, st.sampled_from([Stage.BOOKED, Stage.QUOTED, Stage.IDEA])), max_size=3
    ),
    RUNS,
    st.lists(st.tuples(st.integers(1, 4), st.sampled_from(["10", "20"])), max_size=5),
)
def test_accepting_holds_what_the_answer_said_and_moves_nobody(
    others: list[tuple[list[tuple[str, int]], Stage]],
    runs: list[tuple[str, int]],
    stash: list[tuple[int, str]],
) -> None:
    home = studio(
        *(
            piece(f"p{n}", *((s, g, "") for s, g in found), stage=stage, due=date(2027, 5, n + 1))
            for n, (found, stage) in enumerate(others)
        ),
        lots=tuple(lot(str(n), balls, shade) for n, (balls, shade) in enumerate(stash)),
    )
    # What is booked holds its lots first, as it would after booking.
    plan = reconcile(home).plan
    held = tuple(
        booking.promised(p, plan.projects[p.key]) if p.stage.holds else p for p in home.projects
    )
    home = replace(home, projects=held)
    before = reconcile(home)
    trial = piece("new", *((s, g, "") for s, g in runs), due=date(2027, 4, 1))
    answer = tried(home, trial)
    taken = booking.accept(edits.add_project(home, trial), "new", answer.plan, TODAY)
    after = reconcile(taken).plan
    for said, now in zip(answer.plan.runs, after.projects["new"].runs, strict=True):
        assert (said.lot, said.cover) == (now.lot, now.cover)
        assert (now.claim is ClaimKind.HOLD) == (now.cover is Cover.STASH)
    for key, old in before.plan.projects.items():
        if old.stage.holds:
            assert [(r.lot, r.cover) for r in old.runs] == [
                (r.lot, r.cover) for r in after.projects[key].runs
            ]
    assert all(state.left_g >= 0 for state in after.lots.values())


def test_what_the_quick_search_leaves_open_is_solved_and_proved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The quick search is cut short; the exact solver must give the same offers, proved."""
    booked = piece("booked", ("A", 50, "1"), stage=Stage.BOOKED)
    home, new = studio(booked), piece("new", ("A", 80, ""), ("A", 40, ""))
    plain = tried(home, new)
    assert [f.proved for f in plain.freed] + [r.proved for r in plain.relaxed] == [True, True]

    def unproved(problem: ShadeProblem) -> tuple[ShadeAnswer, bool]:
        return greedy_answer(problem), False

    monkeypatch.setattr("studio.core.enquiry_apart.quick_answer", unproved)
    quick = tried(home, new)
    assert not quick.pending
    assert len(quick.apart_problems) == 2
    assert not any(f.proved for f in quick.freed)
    assert not any(r.proved for r in quick.relaxed)
    asked: list[ShadeProblem] = []

    def solve(wanted: Sequence[ShadeProblem]) -> dict[ShadeProblem, ShadeAnswer]:
        asked.extend(wanted)
        return {problem: solve_shade(problem) for problem in wanted}

    exact = settled(lambda solved: ground_of(home, TODAY, None, "new", solved), solve, new)
    assert asked == list(quick.apart_problems)
    assert exact.apart_problems == ()
    assert (exact.freed, exact.relaxed) == (plain.freed, plain.relaxed)
    # A solver that gives up leaves the quick answer.
    stopped = settled(lambda solved: ground_of(home, TODAY, None, "new", solved), lambda _: {}, new)
    assert stopped.freed == quick.freed


def test_a_quote_that_was_sent_has_its_drift_beside_it() -> None:
    home = studio(piece("new", ("A", 90, "")))
    quoted = trials.quoted(home, tried(home, home.project["new"]), TODAY)
    assert tried(quoted, quoted.project["new"]).drift == ()
    dearer = replace(
        quoted, library=replace(quoted.library, yarns=(replace(WOOL, price=D("9.50")), COTTON))
    )
    found = {d.code: d for d in tried(dearer, dearer.project["new"]).drift}
    # 90 g of 50 g balls, each 5.00 dearer.
    assert found["yarn"].more == D("9.00")
    assert found["margin"].more == -D("9.00")
    assert found["price"].more > 0
    assert tried(home, home.project["new"]).drift == ()
    # The stash went to somebody else: it must be bought, and the cash to lay out says so.
    gone = replace(quoted, stash=replace(quoted.stash, lots=()))
    by_stash = {d.code: d for d in tried(gone, gone.project["new"]).drift}
    assert (by_stash["cash"].then, by_stash["cash"].more) == (D(0), D("9.00"))
    assert "yarn" not in by_stash


@pytest.mark.parametrize("stage", [Stage.BOOKED, Stage.MAKING, Stage.FINISHING])
def test_from_whatever_stage_it_comes_it_holds_what_its_enquiry_showed(stage: Stage) -> None:
    # A quote stands before the idea; booked, the idea stands before the quote.
    quote = piece("quote", ("A", 150, ""), stage=Stage.QUOTED)
    for start in (Stage.IDEA, Stage.QUOTED, Stage.DECLINED, Stage.CANCELLED, Stage.IN_STOCK):
        home = studio(quote, piece("new", ("A", 140, ""), stage=start, customer=""))
        if start is Stage.IDEA:
            plan = reconcile(home).plan.projects["new"]
            assert [r.cover for r in plan.runs] == [Cover.SHORT]
        asked = trials.asked_for(home.project["new"])
        after = trials.brought(home, tried(home, asked), stage, TODAY)
        booked = after.project["new"]
        assert (booked.stage, booked.stripes[0].claim) == (stage, hold("1"))
        assert booked.reached[-1].stage is stage
        # Nobody ordered it, so that nothing is owed for it.
        assert booked.quote is None
        assert [r.cover for r in reconcile(after).plan.projects["quote"].runs] == [Cover.SHORT]


def test_where_no_day_is_asked_it_is_laid_for_the_promise_as_it_is_booked() -> None:
    # A booked piece without a hurry would let it wait for a month; booking does not.
    far = piece("far", ("A", 100, "1"), stage=Stage.BOOKED, due=date(2027, 6, 30))
    home = studio(far)
    answer = tried(home, piece("new", ("A", 90, ""), minutes=D(600)))
    assert answer.laid.ready == answer.promise.ready
    assert (answer.laid.due, answer.laid.late_days, answer.made_late) == (None, None, ())
    dated = tried(home, piece("new", ("A", 90, ""), minutes=D(600), due=answer.promise.ready))
    assert dated.weeks == answer.weeks
    assert dated.laid.pieces == answer.laid.pieces
    said = {f.code: f.text for f in facts(answer, home)}
    assert said["promise"] == said["ready"]
    assert said["slack"] == "no day asked"


def test_a_day_that_is_past_and_a_quote_that_ran_out_are_found() -> None:
    quote = Quote(date(2027, 2, 1), date(2027, 2, 28), D(200), D(10), D(0), D(210), D(63), "EUR")
    old = piece("new", ("A", 40, ""), stage=Stage.QUOTED, quote=quote, due=date(2027, 2, 20))
    home = studio(old)
    found = {f.code: f for f in findings_of(ask(ground_of(home, TODAY, without="new"), old))}
    assert found["due-in-past"].weight is Weight.STOP
    assert found["due-in-past"].text == (
        "It is wanted for 20 Feb 2027, which is past. Agree another day."
    )
    assert found["quote-expired"].text == (
        "Its quote of 210.00 EUR held until 28 Feb 2027; booked, it stands. Quoting it again "
        "takes today's price."
    )
    holds = replace(old, due=None, quote=replace(quote, valid_until=TODAY))
    fresh = ask(ground_of(home, TODAY, without="new"), holds)
    assert fresh.asked == ()
