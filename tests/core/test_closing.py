"""The account of a piece: by hand from the trade rules (sections 3, 6 and 8), worked out apart.

The small studio: 10 g a row of 100 stitches, balls of 100 g at 6.50 landed.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import edits
from studio.core.closing import Closing, closing_of
from studio.core.closing_say import account
from studio.core.edits import Take
from studio.core.model import LotRef, Notion, Stage, Studio, UsedFrom, WeighIn
from studio.core.reconcile import reconcile
from studio.core.trade_model import (
    FeeRates,
    Payment,
    PaymentKind,
    PriceRules,
    ShippingTier,
    Times,
    Trade,
    WorkKind,
    WorkLog,
)
from tests.core.small import RUST, TIDE, lot
from tests.core.test_used import begun, house

D = Decimal
DAY = date(2026, 11, 20)
X = LotRef("marl", "1", "x")
Y = LotRef("marl", "2", "y")

TRADE = Trade(
    prices=PriceRules(
        overhead=D("5.00"), fees=FeeRates(on_price=D("0.10"), fixed=D("0.35")), deposit_share=D(0)
    ),
    shipping=(ShippingTier("parcel", D(2000), D("5.49")),),
    times=Times(stitches_per_min=D(20), tasks=()),
)


def finished(**changes: object) -> Studio:
    """Sold for 100.00 in two payments, 5 hours logged, 130 g of Rust and 38 g of Tide weighed."""
    made = begun(
        16,
        Stage.DELIVERED,
        price=D("100.00"),
        customer="Ilva",
        notions=(Notion("label", D("0.80")),),
        payments=(
            Payment(PaymentKind.DEPOSIT, D("30.00"), DAY),
            Payment(PaymentKind.BALANCE, D("70.00"), DAY),
        ),
        log=(WorkLog(D(240), rows=16, on=DAY), WorkLog(D(60), WorkKind.ENDS, on=DAY)),
    )
    made = replace(made, **changes)  # type: ignore[arg-type]
    stash = replace(house(made), trade=TRADE)
    weighed = [Take(X, D(130), UsedFrom.WEIGHED), Take(Y, D(38), UsedFrom.WEIGHED)]
    return edits.take_used(stash, "throw", weighed, DAY)


def closing(made: Studio) -> Closing:
    now = reconcile(made)
    return closing_of(
        made.project["throw"],
        now.plan.projects["throw"],
        now.kept.worked["throw"].demand,
        now.kept.evidence or {},
        made,
    )


def test_grams_hours_and_money_by_hand() -> None:
    found = closing(finished())
    # 12 rows of Rust at 10 g and 4 of Tide.
    assert {s.shade: (s.planned_g, s.used_g, s.more_g) for s in found.shades} == {
        RUST: (D(120), D(130), D(10)),
        TIDE: (D(40), D(38), D(-2)),
    }
    # 16 rows of 100 stitches at 20 a minute are 80 minutes; three strands, six ends at 3 minutes.
    assert (found.planned_min, found.planned_rough) == (D(98), True)
    assert found.logged_min == D(300)
    # 130 g and 38 g at 6.50 for 100 g; a tenth of 100.00; two payments of 0.35.
    assert found.costs is not None
    assert {c.label: c.amount for c in found.costs} == {
        "Yarn": D("8.45") + D("2.47"),
        "Notions": D("0.80"),
        "Overhead": D("5.00"),
        "Fee of the price": D("10.00"),
        "Fixed fees": D("0.70"),
        "Shipping paid": D("5.49"),
    }
    assert found.cash_costs == D("32.91")
    assert found.earned == D("67.09")
    # 67.09 over five hours, rounded down.
    assert found.per_hour() == D("13.41")
    # Yarn from the planned side is left alone: nothing is unknown but the pace.
    assert found.unknown == ()


def test_a_price_agreed_without_a_quote_has_its_tax_in_it() -> None:
    """100.00 received are all there is: a sixth of them is tax of 20 %, also where quotes add it.

    The rule of a sixth is HMRC's VAT fraction for 20 %.
    """
    made = finished()
    prices = replace(TRADE.prices, tax_rate=D("0.2"), tax_inclusive=False)
    made = replace(
        made,
        settings=replace(made.settings, tax_registered=True),
        trade=replace(TRADE, prices=prices),
    )
    found = closing(made)
    assert found.tax == D("16.67")
    assert found.costs is not None
    fee = next(c for c in found.costs if c.label == "Fee of the price")
    assert fee.amount == D("8.33")  # a tenth of 83.33


def test_planned_is_what_it_was_without_its_own_weighings() -> None:
    """Twelve rows weighed 14 g each say nothing of what was planned before they were worked."""
    own = WeighIn("A", 6, D(84), 1, DAY)
    assert closing(finished(weigh_ins=(own,))).shades[0].planned_g == D(120)


def test_what_is_still_to_come_is_told_apart() -> None:
    """30.00 received: less than the 32.56 it cost with one payment; with the rest 67.44 stay."""
    found = closing(finished(payments=(Payment(PaymentKind.DEPOSIT, D("30.00"), DAY),)))
    assert (found.received, found.to_come, found.cash_costs) == (D(30), D(70), D("32.56"))
    assert found.per_hour() == D("-0.52")
    assert found.per_hour(with_rest=True) == D("13.48")


def test_what_is_not_known_is_said() -> None:
    found = closing(finished(log=()))
    assert found.per_hour() is None
    assert "No minutes are logged, so what an hour was paid is not known." in found.unknown
    gift = closing(finished(price=None, payments=()))
    assert gift.agreed is None
    assert "No price is agreed, so fees and shipping are not counted." in gift.unknown
    assert gift.costs is not None
    assert [c.label for c in gift.costs] == ["Yarn", "Notions"]


def test_a_piece_that_is_not_finished_has_no_pay_yet() -> None:
    found = closing(finished(stage=Stage.MAKING))
    assert (found.over, found.per_hour(), found.shades[0].more_g) == (False, None, None)
    assert any("not finished" in text for text in found.unknown)


def test_what_was_worked_and_not_noted_is_told() -> None:
    made = replace(house(begun(16, Stage.DELIVERED, price=D(50))), trade=TRADE)
    assert "No used yarn is noted." in closing(made).unknown
    half = edits.take_used(made, "throw", [Take(X, D(120))], DAY)
    found = closing(half)
    assert [s.open_g for s in found.shades] == [D(0), D(40)]
    assert "40 g more are worked out and not noted yet." in found.unknown
    assert found.costs is not None
    assert found.costs[0].amount == D("7.80") + D("2.60")


def test_a_shade_without_a_price_leaves_the_account_open() -> None:
    bare = house(begun(16, Stage.DELIVERED, price=D(50)), lots=(lot("x", 2, price=None),))
    yarns = tuple(replace(y, price=None) for y in bare.library.yarns)
    made = replace(bare, trade=TRADE, library=replace(bare.library, yarns=yarns))
    found = closing(made)
    assert (found.costs, found.earned, found.per_hour()) == (None, None, None)
    assert any("no price known" in text for text in found.unknown)


def test_a_piece_without_a_gauge_has_an_account_all_the_same() -> None:
    made = finished(stitch="gone")
    found = closing(made)
    assert found.planned_min is None
    assert all(s.planned_g is None for s in found.shades)
    words = [s.text for part in account(found, made) for s in part.steps]
    assert "No size can be worked out." in words


def test_the_account_in_words() -> None:
    made = finished()
    parts = {p.heading: p.steps for p in account(closing(made), made)}
    assert list(parts) == ["Yarn", "Size", "Time", "Money"]
    rust = next(s for s in parts["Yarn"] if s.text == "Marl Rust")
    assert rust.figure.split("  ")[-1].strip() == "+10 g"
    assert parts["Time"][-1].figure == "+3.4 h"
    assert parts["Money"][-1].figure == "13.41 EUR"
