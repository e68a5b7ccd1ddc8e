"""The demo's trade: prices that add up, a calendar that tells something, and a real purchase."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

from studio.core.model import Stage, Studio
from studio.core.payments import outstanding, received
from studio.core.trade_model import PaymentKind
from studio.storage.read import load_studio

DEMO = Path(__file__).parents[2] / "projects" / "demo"
TODAY = date(2026, 11, 25)
"""The day on which the demo stands: its newest dates are of this week."""


def demo() -> Studio:
    loaded = load_studio(DEMO)
    assert loaded.problems == ()
    return loaded.studio


def test_quotes_add_up_to_the_cent() -> None:
    quoted = [p for p in demo().projects if p.quote]
    assert len(quoted) >= 10
    for piece in quoted:
        quote = piece.quote
        assert quote is not None
        assert quote.total == quote.price + quote.shipping, piece.key
        known = {f.code: f.amount for f in quote.figures}
        minor = Decimal("0.01")
        assert quote.deposit == (quote.total * Decimal("0.3")).quantize(minor), piece.key
        spent = sum(
            known.get(code, Decimal(0))
            for code in ("yarn", "notions", "hours", "overhead", "shipping", "fixed_fees")
        )
        fee = known["fee_of_the_total_with_tax"]
        assert quote.total - spent - fee == known["margin"], piece.key
        assert piece.reached[0].stage is Stage.QUOTED
        assert piece.reached[0].on == quote.on


def test_money_fits_the_stages() -> None:
    pieces = {p.key: p for p in demo().projects}
    for piece in pieces.values():
        if piece.quote and piece.stage.holds:
            assert received(piece) == piece.quote.deposit, piece.key
        if piece.reached:
            assert piece.reached[-1].stage is piece.stage, piece.key
            assert piece.booked in (None, *(r.on for r in piece.reached)), piece.key
    assert outstanding(pieces["pigeon-loft-throw"]) == 0
    cancelled = pieces["rookery-mist-wrap"]
    assert received(cancelled) == 0
    assert {p.kind for p in cancelled.payments} == {PaymentKind.DEPOSIT, PaymentKind.REFUND}


def test_everybody_is_in_the_file_and_babies_are_known() -> None:
    studio = demo()
    assert {p.customer for p in studio.projects} - {""} <= set(studio.customer)
    assert {p.key for p in studio.projects if p.for_baby} == {
        "iris-lane-pram", "midnight-ferry-cot"
    }  # fmt: skip
    assert sum(w.minutes for w in studio.project["pigeon-loft-throw"].log) == 1650


def test_one_piece_is_late_and_one_quote_has_run_out() -> None:
    from studio.core.orderbook import order_book
    from studio.core.reconcile import reconcile

    studio = demo()
    book = order_book(studio, reconcile(studio).plan.projects, TODAY)
    late = [r.project for r in book.rows if r.late_days is not None and r.late_days > 0]
    assert late == ["evening-porch-lap"]  # its yarn is
    assert [r.project for r in book.rows if r.expired] == ["northing-wave"]


def test_the_suppliers_make_a_real_choice() -> None:
    """With the quotes: three orders beat what a person would buy, and any one supplier.

    By hand: Damson 3 x 7.40 + 4.90 from the dyehouse, Charlock 5.20 + 5.50 from the spinner; Flint
    5 x 4.40, Shingle 8 x 3.80, Wrack 4 x 3.80 and 7.90 from the wholesaler.
    """
    from studio.core.buying.question import Chosen
    from studio.core.buying.together import buy_together, questions_of
    from studio.workshop import Workshop

    workshop = Workshop.open(DEMO)
    try:
        workshop.settle_here()
        chosen = Chosen(
            stages=frozenset({Stage.BOOKED, Stage.MAKING, Stage.FINISHING, Stage.QUOTED})
        )
        plan = buy_together(questions_of(workshop.wanted(TODAY, chosen))).plan
    finally:
        workshop.close()
    assert plan.proved
    assert {o.supplier for o in plan.orders} == {"dyehouse", "spinner", "wholesaler"}
    assert plan.landed == Decimal("113.30")
    assert plan.person is not None
    assert plan.person > plan.landed
    whole = [one.landed for one in plan.singles if one.landed is not None]
    assert min(whole) > plan.landed
