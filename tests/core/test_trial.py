"""Trials: made from a design, changed aside, then quoted or booked; and what is said of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core import trial
from studio.core.answers import Cover, ProjectPlan
from studio.core.enquiry import Answer, ask, ground_of
from studio.core.enquiry_say import facts, findings_of, run_groups
from studio.core.enquiry_why import why, why_line
from studio.core.model import (
    ClaimKind,
    Length,
    LengthUnit,
    Notion,
    ShadeRef,
    Stage,
    Studio,
)
from studio.core.price_why import why_part
from studio.core.pricing import Aim, LineKind
from studio.core.reconcile import reconcile
from studio.core.trade_model import FeeRates, Payment, PaymentKind, StageDate
from studio.core.trial import Variant
from studio.errors import EditRefusedError
from tests.core.trading import TODAY, D, lot, piece, studio

PAID = (Payment(PaymentKind.DEPOSIT, D(50), TODAY),)


def tried(home: Studio, variant: Variant) -> Answer:
    ground = ground_of(home, TODAY, None, variant.trial.key)
    return ask(ground, variant.trial, variant.aim, variant.shown)


def test_an_idea_is_tried_as_it_is_and_a_booked_piece_only_lends_its_design() -> None:
    booked = piece("booked", ("A", 50, "1"), stage=Stage.BOOKED, due=TODAY, payments=PAID,
                   reached=(StageDate(Stage.BOOKED, TODAY),), price=D(90))  # fmt: skip
    idea = piece("idea", ("A", 40, ""))
    home = studio(booked, idea)
    assert trial.trial_of(home, "idea") is idea
    fresh = trial.trial_of(home, "booked")
    assert fresh.key not in home.project
    assert (fresh.stage, fresh.customer, fresh.due, fresh.price) == (Stage.IDEA, "", None, None)
    assert (fresh.payments, fresh.reached, fresh.quote) == ((), (), None)
    assert [s.claim for s in fresh.stripes] == [None]
    assert fresh.slots == booked.slots


def test_a_fresh_piece_is_called_what_she_calls_it_and_filed_so() -> None:
    home = studio(piece("wrap", ("A", 50, "1"), stage=Stage.BOOKED, due=TODAY), piece("idea"))
    fresh = trial.trial_of(home, "wrap")
    called = trial.named(home, fresh, "  Sunniva's wrap ")
    assert (called.name, called.key) == ("Sunniva's wrap", "sunniva-s-wrap")
    assert replace(called, name=fresh.name, key=fresh.key) == fresh
    done = trial.taken(home, tried(home, Variant(called)), TODAY)
    assert done.project["sunniva-s-wrap"].name == "Sunniva's wrap"
    # A piece that has a file keeps it.
    idea = trial.named(home, home.project["idea"], "Another")
    assert (idea.name, idea.key) == ("Another", "idea")
    for taken, refusal in (("  ", "needs a name"), (home.project["wrap"].name, "already")):
        with pytest.raises(EditRefusedError, match=refusal):
            trial.named(home, fresh, taken)


def test_variants_are_one_piece_and_go_by_one_name() -> None:
    home = studio(piece("wrap", ("A", 50, "1"), stage=Stage.BOOKED, due=TODAY))
    fresh = trial.trial_of(home, "wrap")
    like = trial.named(home, fresh, "Sunniva's wrap")
    other = Variant(replace(fresh, due=TODAY), shown=D(90))
    both = trial.named_alike((Variant(fresh), other), like)
    assert [(v.trial.key, v.trial.name) for v in both] == [(like.key, like.name)] * 2
    assert (both[1].shown, both[1].trial.due) == (D(90), TODAY)


def test_another_size_fits_the_rows_in_pairs_and_keeps_the_order() -> None:
    from tests.ui import fake, small

    home = small.studio()
    quote = trial.trial_of(home, fake.PRAM.key)
    assert [s.rows for s in quote.stripes] == [24, 24, 24]
    # 8 rows to 10 cm: 120 cm are 96 rows, a third each.
    wider = trial.resized(home, quote, Length(D(100)), Length(D(120)))
    assert [s.rows for s in wider.stripes] == [32, 32, 32]
    assert [s.slot for s in wider.stripes] == [s.slot for s in quote.stripes]
    inches = trial.resized(
        home, quote, Length(D(40), LengthUnit.INCH), Length(D(48), LengthUnit.INCH)
    )
    # 48 in are 121.92 cm, or 97.5 rows: 98 is the nearest even number.
    assert sum(s.rows for s in inches.stripes) == 98


def test_another_design_brings_its_stripes_and_no_ties_to_yarn() -> None:
    booked = piece("booked", ("A", 50, "1"), ("B", 20, ""), stage=Stage.BOOKED)
    idea = piece("idea", ("C", 40, ""), due=date(2027, 5, 1))
    made = trial.redesigned(studio(booked, idea), idea, "booked")
    assert (made.key, made.due) == ("idea", date(2027, 5, 1))
    assert [(s.slot, s.claim) for s in made.stripes] == [("A", None), ("B", None)]


def test_a_shade_is_tried_without_the_studio_changing() -> None:
    idea = piece("idea", ("A", 40, ""))
    home = studio(idea)
    made = trial.recoloured(home, idea, "A", ShadeRef("wool", "20"))
    slot = made.slot("A")
    assert slot is not None
    assert slot.shade_ref == ShadeRef("wool", "20")
    assert home.project["idea"] is idea
    with pytest.raises(EditRefusedError, match="no shade '99'"):
        trial.recoloured(home, idea, "A", ShadeRef("wool", "99"))


def test_a_day_in_the_past_is_refused() -> None:
    with pytest.raises(EditRefusedError, match="28 Feb 2027 is past"):
        trial.due_on(piece("idea"), TODAY - timedelta(days=1), TODAY)


def test_taking_holds_the_lots_that_were_shown_and_freezes_the_price() -> None:
    idea = piece("idea", ("A", 90, ""), ("B", 60, ""))
    home = studio(idea)
    answer = tried(home, Variant(idea))
    after = trial.taken(home, answer, TODAY)
    taken = after.project["idea"]
    assert (taken.stage, taken.booked) == (Stage.BOOKED, TODAY)
    assert taken.due == answer.promise.ready
    shown = [r.lot if r.cover.value == "stash" else None for r in answer.plan.runs]
    assert [s.claim.on if s.claim else None for s in taken.stripes] == shown
    assert all(s.claim is None or s.claim.kind is ClaimKind.HOLD for s in taken.stripes)
    assert taken.quote is not None
    assert answer.price is not None
    assert taken.quote.price == answer.price.sheet.shown
    assert [r.stage for r in taken.reached] == [Stage.QUOTED, Stage.BOOKED]


def test_a_quote_that_was_sent_stays_as_sent_when_the_piece_is_taken() -> None:
    idea = piece("idea", ("A", 90, ""))
    home = trial.quoted(studio(idea), tried(studio(idea), Variant(idea)), TODAY)
    sent = home.project["idea"].quote
    later = tried(home, Variant(home.project["idea"], Aim(margin=D("0.4"))))
    assert later.price is not None
    assert sent is not None
    assert later.price.sheet.shown > sent.price
    assert trial.taken(home, later, TODAY).project["idea"].quote == sent


def test_a_fresh_design_comes_into_the_studio_when_it_is_taken() -> None:
    home = studio(piece("done", ("A", 90, ""), stage=Stage.DELIVERED))
    fresh = trial.trial_of(home, "done")
    after = trial.taken(home, tried(home, Variant(fresh)), TODAY)
    assert after.project[fresh.key].stage is Stage.BOOKED
    assert after.project["done"] is home.project["done"]


def test_a_piece_that_was_booked_meanwhile_is_not_taken_again() -> None:
    idea = piece("idea", ("A", 90, ""))
    home = studio(idea)
    answer = tried(home, Variant(idea))
    booked = trial.taken(home, answer, TODAY)
    with pytest.raises(EditRefusedError, match="no longer an idea or a quote"):
        trial.taken(booked, answer, TODAY)


def test_every_fact_says_something_and_has_its_sum() -> None:
    booked = piece("booked", ("A", 100, "1"), stage=Stage.BOOKED, due=date(2027, 3, 12))
    other = piece("other", ("A", 70, ""), stage=Stage.QUOTED)
    idea = piece("idea", ("A", 60, ""), ("B", 60, ""), due=date(2027, 3, 12))
    home = studio(booked, other, idea)
    ground = ground_of(home, TODAY, None, "idea")
    answer = ask(ground, idea)
    found = facts(answer, home)
    assert len({f.code for f in found}) == len(found) >= 18
    for fact in found:
        steps = why(answer, ground, fact.code)
        assert fact.text, fact.code
        assert steps, fact.code
        assert any(step.text or step.figure for step in steps)
    assert answer.price is not None
    for line in (*answer.price.sheet.charged, *answer.price.sheet.leaves):
        assert why_line(answer, ground, line)[-1].figure
    for part in answer.price.parts:
        assert why_part(part, answer.price)[-1].figure.endswith("%")


def test_what_speaks_against_it_is_marked() -> None:
    idea = piece("idea", ("A", 400, ""), due=TODAY)
    home = studio(idea)
    below = tried(home, Variant(idea, shown=D(20)))
    needs = {f.code for f in facts(below, home) if f.needs_you}
    assert needs == {"buy", "margin", "pay", "slack", "findings"}
    codes = [f.code for f in findings_of(below)]
    assert {"price-below-cost", "pay-below-floor"} <= set(codes)


def test_runs_of_one_lot_stand_together_and_add_up() -> None:
    idea = piece("idea", ("A", 20, ""), ("B", 30, ""), ("A", 25, ""), ("A", 15, ""))
    answer = tried(studio(idea), Variant(idea))
    groups = run_groups(answer)
    assert {g.places for g in groups} == {"stripes 1, 3-4", "stripe 2"}
    assert sum(g.need_g for g in groups) == sum(r.need_g for r in answer.plan.runs)


def test_variants_compare_by_what_they_ask() -> None:
    idea = piece("idea", ("A", 20, ""))
    assert Variant(idea) == Variant(replace(idea))
    assert Variant(idea) != Variant(idea, shown=D(20))


@pytest.mark.parametrize("inclusive", [True, False])
def test_every_line_of_the_price_ends_in_its_amount(inclusive: bool) -> None:
    home = studio(lots=())
    rules = replace(
        home.trade.prices, tax_rate=D("0.2"), tax_inclusive=inclusive, overhead_per_hour=D("0.6"),
        fees=FeeRates(D("0.02"), D("0.01"), D("0.03"), D("0.30")),
    )  # fmt: skip
    home = replace(
        home,
        settings=replace(home.settings, tax_registered=True),
        trade=replace(home.trade, prices=rules),
    )
    new = piece("new", ("A", 90, ""), ("C", 40, ""), notions=(Notion("label", D("1.20")),))
    ground = ground_of(home, TODAY, None, "new")
    answer = ask(ground, new)
    assert answer.price is not None
    sheet = answer.price.sheet
    assert {n.kind for n in (*sheet.charged, *sheet.leaves)} >= {
        LineKind.TAX, LineKind.NOTIONS, LineKind.OVERHEAD, LineKind.FEES, LineKind.SHIPPING,
    }  # fmt: skip
    for line in (*sheet.charged, *sheet.leaves):
        steps = why_line(answer, ground, line)
        assert steps[-1].figure == f"{abs(line.amount):.2f} EUR", line.label
    # Used, shade by shade and with notions, adds up to what it is said to be.
    used = why(answer, ground, "used")
    parts = [D(step.figure.removesuffix(" EUR")) for step in used]
    assert sum(parts[:-1]) == parts[-1] == answer.plan.cost.used
    cash = why(answer, ground, "cash")
    assert cash[-1].figure == f"{answer.plan.cost.cash} EUR"


GRAMS = st.integers(1, 15).map(lambda n: 10 * n)
RUNS = st.lists(st.tuples(st.sampled_from("AB"), GRAMS), min_size=1, max_size=3)


@settings(max_examples=60)
@given(
    st.lists(RUNS, min_size=1, max_size=3),
    RUNS,
    st.lists(st.tuples(st.integers(1, 4), st.sampled_from(["10", "20"])), max_size=5),
)
def test_taking_moves_no_booked_piece_though_it_is_due_first_and_they_hold_nothing(
    booked: list[list[tuple[str, int]]],
    runs: list[tuple[str, int]],
    stash: list[tuple[int, str]],
) -> None:
    def covers(plans: Mapping[str, ProjectPlan]) -> dict[str, list[Cover]]:
        return {k: [r.cover for r in p.runs] for k, p in plans.items() if k != "new"}

    others = (
        piece(f"p{n}", *((s, g, "") for s, g in found), stage=Stage.BOOKED, due=date(2027, 5, 1))
        for n, found in enumerate(booked)
    )
    lots = tuple(lot(str(n), balls, shade) for n, (balls, shade) in enumerate(stash))
    home = studio(*others, lots=lots)
    asked = piece("new", *((s, g, "") for s, g in runs), due=date(2027, 4, 1))
    answer = tried(home, Variant(asked))
    after = reconcile(trial.taken(home, answer, TODAY)).plan
    assert covers(after.projects) == covers(reconcile(home).plan.projects)
    assert [(r.lot, r.cover) for r in after.projects["new"].runs] == [
        (r.lot, r.cover) for r in answer.plan.runs
    ]
