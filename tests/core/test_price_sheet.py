"""From a piece in the studio to its price, and what is said beside it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from studio.core.made_of import grams_by_yarn
from studio.core.model import Notion, Project, Settings, Stage, Stash, Studio, Used
from studio.core.price_sheet import Priced, parcel_of, priced
from studio.core.pricing import Aim, LineKind, PriceError, one_ending_lower, sheet_at
from studio.core.reconcile import reconcile
from studio.core.trade_model import FeeRates, PriceEnding, Trade
from tests.core.trading import SETTINGS, TRADE, D, piece, studio

NEW = piece("new", ("A", 90, ""), ("C", 30, ""), notions=(Notion("label", D("0.80")),))


def of(
    project: Project = NEW, trade: Trade = TRADE, settings: Settings = SETTINGS, **more: object
) -> Priced:
    home: Studio = replace(studio(project, trade=trade), settings=settings)
    result = reconcile(home)
    demand = result.kept.worked[project.key].demand
    return priced(project, result.plan.projects[project.key], demand, home, **more)  # type: ignore[arg-type]


def codes(found: Priced) -> set[str]:
    return {f.code for f in found.findings}


def with_prices(**more: object) -> Trade:
    return replace(TRADE, prices=replace(TRADE.prices, **more))  # type: ignore[arg-type]


def test_the_sheet_takes_every_figure_from_the_studio() -> None:
    found = of()
    case = found.sheet.case
    # 120 g at 4.50 for 50 g, in two shades: 8.10 + 2.70; only the 30 g of cotton must be bought.
    assert (case.yarn, case.notions, case.cash) == (D("10.80"), D("0.80"), D("5.30"))
    assert (case.minutes, case.rate, case.overhead, case.payments) == (D(630), D(15), D(5), 2)
    assert (case.shipping_paid, case.shipping_charged, case.tax_rate) == (
        D("6.90"),
        D("7.50"),
        D(0),
    )
    assert found.parcel.weight_g == D(270)
    assert found.aim == Aim(margin=D("0.2"))
    assert found.sheet.meets(found.aim)
    lower = one_ending_lower(case, found.sheet.shown)
    assert lower is not None
    assert not sheet_at(case, lower).meets(found.aim)
    assert codes(found) == set()


def test_grams_are_of_the_whole_piece_heaviest_first() -> None:
    home = studio(NEW)
    demand = reconcile(home).kept.worked["new"].demand
    assert grams_by_yarn(demand, ()) == {"wool": D(90), "cotton": D(30)}


def test_the_parcel_weighs_what_was_noted_as_used() -> None:
    """90 and 30 g are expected; 140 g of wool were noted, and 150 g are packing."""
    used = (Used("wool", "10", "1", D(140), rows=8, whole=True),)
    done = replace(NEW, stage=Stage.IN_STOCK, rows_done=8, used=used)
    demand = reconcile(studio(done)).kept.worked["new"].demand
    assert grams_by_yarn(demand, done.used)["wool"] == D(140)
    weight = sum(grams_by_yarn(demand, done.used).values()) + D(150)
    assert parcel_of(done, demand, studio(done)).weight_g == weight == D(320)


def test_parts_add_up_to_what_the_customer_pays() -> None:
    found = of()
    assert sum(p.amount for p in found.parts) == found.sheet.total
    assert sum(p.share for p in found.parts) == pytest.approx(1.0)
    assert [p.label for p in found.parts] == [
        "Yarn and notions", "Hours", "Overhead", "Fees", "Shipping", "Margin",
    ]  # fmt: skip
    taxed = of(
        settings=replace(SETTINGS, tax_registered=True), trade=with_prices(tax_rate=D("0.2"))
    )
    assert sum(p.amount for p in taxed.parts) == taxed.sheet.total
    assert {p.label for p in taxed.parts} >= {"Tax"}
    loss = of(shown=D(50))
    assert loss.parts[-1].label == "Loss"
    assert sum(p.amount for p in loss.parts) == loss.sheet.total


def test_what_moves_the_price_most_comes_first() -> None:
    moves = of().moves
    assert [m.kind for m in moves] == [LineKind.HOURS, LineKind.YARN, LineKind.FEES]
    # A tenth of 157.50 hours over 0.77 is 20.45, within the roundings of a cent or two.
    assert abs(moves[0].more - D("20.45")) <= D("0.03")


def test_rules_of_thumb_are_named() -> None:
    thumbs = {t.name: t for t in of().thumbs}
    assert thumbs["Three times materials"].amount == D("34.80")
    assert "Per area" not in thumbs


def test_her_own_price_and_a_tried_price_are_worked_forward() -> None:
    own = of(replace(NEW, price=D(300)))
    assert (own.by_hand, own.sheet.shown) == (True, D(300))
    assert own.sheet.margin > 0
    tried = of(replace(NEW, price=D(300)), shown=D(200))
    assert tried.sheet.shown == D(200)
    assert codes(tried) == {"margin-under-wanted"}
    aimed = of(replace(NEW, price=D(300)), aim=Aim(per_hour=D(20)))
    assert aimed.sheet.pay_per_hour is not None
    assert aimed.sheet.pay_per_hour >= 20
    assert not aimed.by_hand


def test_a_price_below_cost_or_below_her_floor_is_a_finding() -> None:
    assert codes(of(shown=D(185))) >= {"margin-under-wanted"}
    assert codes(of(shown=D(170))) == {"price-below-cost"}
    low = of(shown=D(120))
    assert codes(low) == {"price-below-cost", "pay-below-floor"}
    texts = {f.code: f.text for f in low.findings}
    assert "below her floor of 12.00 EUR" in texts["pay-below-floor"]
    assert all(f.project == "new" and f.text.endswith(".") for f in low.findings)


def test_parcels() -> None:
    heavy = of(piece("new", ("A", 900, "")))
    assert heavy.parcel.tier is not None
    assert heavy.parcel.tier.name == "large parcel"
    assert heavy.sheet.case.shipping_charged == D("9.90")  # none stated: what she pays
    huge = of(piece("new", ("A", 4000, "")))
    assert codes(huge) == {"no-parcel"}
    assert huge.sheet.case.shipping_paid == 0
    met = of(replace(NEW, collected=True))
    assert (met.sheet.case.shipping_charged, met.parcel.why) == (D(0), "collected")


def test_tax_is_charged_only_by_who_is_registered() -> None:
    trade = with_prices(tax_rate=D("0.2"))
    assert codes(of(trade=trade)) == {"tax-not-charged"}
    taxed = of(trade=trade, settings=replace(SETTINGS, tax_registered=True))
    assert codes(taxed) == set()
    assert taxed.sheet.total == taxed.sheet.shown + D("7.50")  # prices are shown with tax
    assert taxed.sheet.tax > 0


def test_rough_or_unknown_time_is_said() -> None:
    unknown = of(replace(NEW, minutes=None))
    assert codes(unknown) == {"hours-unknown"}
    assert "only ends and fixed tasks" in unknown.assumed[-1]


def test_no_deposit_means_one_payment() -> None:
    found = of(trade=with_prices(deposit_share=None))
    assert (found.sheet.case.payments, found.sheet.deposit) == (1, D(0))


def test_what_cannot_be_priced_is_told() -> None:
    with pytest.raises(PriceError, match="no price is enough"):
        of(trade=with_prices(fees=FeeRates(on_price=D("0.9"))))
    with pytest.raises(PriceError, match="cannot be paid in EUR"):
        of(trade=with_prices(ending=PriceEnding(D("0.001"))))
    with pytest.raises(PriceError, match="larger than the price"):
        of(trade=with_prices(deposit_share=D(2)))
    with pytest.raises(PriceError, match="The yarn of 1 run of New is not known"):
        of(piece("new", ("Z", 90, "")))
    home = studio(NEW)
    bare = tuple(replace(y, price=None) for y in home.library.yarns)
    home = replace(home, library=replace(home.library, yarns=bare), stash=Stash())
    result = reconcile(home)
    with pytest.raises(PriceError, match="no price known"):
        priced(NEW, result.plan.projects["new"], result.kept.worked["new"].demand, home)
