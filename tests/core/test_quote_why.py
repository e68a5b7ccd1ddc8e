"""The figures of a customer's paper, followed back to what they were made of."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core import booking
from studio.core.enquiry import ask, ground_of
from studio.core.labels import fibre_words
from studio.core.model import Fibre, Library, Notion, Stage, Studio, Used
from studio.core.price_sheet import priced
from studio.core.quote_why import Printed, fact_lines, money_lines, why, why_figure
from studio.core.reasons import Step
from studio.core.reconcile import reconcile
from studio.core.trade_model import Quote
from tests.core.trading import COTTON, SETTINGS, TODAY, TRADE, WOOL, D, piece, studio

NEW = piece("new", ("A", 90, ""), ("C", 30, ""), notions=(Notion("label", D("0.80")),))


def printed(**rules: object) -> Printed:
    """The piece quoted at the studio's rules, as its paper would be made."""
    prices = replace(TRADE.prices, **rules)  # type: ignore[arg-type]
    taxed = replace(SETTINGS, tax_registered=bool(prices.tax_rate))
    home = replace(studio(NEW, trade=replace(TRADE, prices=prices)), settings=taxed)
    answer = ask(ground_of(home, TODAY, without="new"), home.project["new"])
    assert answer.price is not None
    home = booking.send_quote(home, "new", answer.price, TODAY, date(2027, 4, 1))
    return of(home)


def of(home: Studio) -> Printed:
    found = reconcile(home)
    project = home.project["new"]
    assert project.quote is not None
    demand = found.kept.worked["new"].demand
    return Printed(project, project.quote, found.plan.projects["new"], demand, home)


def fibres_of_paper(sheet: Printed) -> str:
    return fibre_words(sheet.demand, sheet.studio.library, sheet.project.used)


def amount(step: Step) -> Decimal:
    return Decimal(step.figure.removesuffix(" EUR"))


RULES: list[dict[str, object]] = [
    {},
    {"tax_rate": D("0.19"), "tax_inclusive": True},
    {"tax_rate": D("0.19"), "tax_inclusive": False},
    {"deposit_share": None},
    {"ending": None, "margin": D("0.37")},
]


@pytest.mark.parametrize("rules", RULES)
def test_the_price_is_the_sum_of_its_frozen_figures(rules: dict[str, object]) -> None:
    """Added up here apart: all lines above it make the price without tax, and the tax in it."""
    sheet = printed(**rules)
    steps = why(sheet, "price")
    assert amount(steps[-1]) == sheet.quote.price
    plain = [s for s in steps[:-1] if s.text != "Without tax"]
    assert sum(amount(s) for s in plain) == sheet.quote.price
    assert "Not explained" not in " ".join(s.text for s in steps)
    assert ("Tax in it, 19 %" in [s.text for s in steps]) == bool(
        rules.get("tax_inclusive") and rules.get("tax_rate")
    )


@pytest.mark.parametrize("rules", RULES)
def test_every_line_of_money_on_the_paper_ends_in_its_own_figure(rules: dict[str, object]) -> None:
    sheet = printed(**rules)
    lines = {n.code: n.amount for n in money_lines(sheet.quote)}
    for code, figure in lines.items():
        assert amount(why(sheet, code)[-1]) == figure, code
    whole = lines["price"] + lines["shipping"]
    if "tax" in lines and not sheet.quote.tax_inclusive:
        whole += lines["tax"]
    assert whole == lines["total"] == sheet.quote.total
    if "deposit" in lines:
        assert lines["deposit"] + lines["balance"] == lines["total"]
    assert ("deposit" in lines) == (rules.get("deposit_share", D("0.3")) is not None)


def test_the_deposit_says_its_share_and_the_material_it_covers() -> None:
    sheet = printed()
    cash = priced(sheet.project, sheet.plan, sheet.demand, sheet.studio).sheet.case.cash
    assert cash is not None
    said = {s.text: s.figure for s in why(sheet, "deposit")}
    assert said["Of all it is"] == "30 %"
    assert said["Material to lay out, which it is to cover"] == f"{cash:.2f} EUR"


def test_hours_and_margin_behind_the_price() -> None:
    sheet = printed()
    figures = {f.code: f for f in sheet.quote.figures}
    hours = why_figure(sheet, figures["hours"])
    assert [s.figure for s in hours[:2]] == [f"{figures['time'].amount} min", "15.00 EUR"]
    assert amount(hours[-1]) == figures["time"].amount * 15 / 60
    margin = why_figure(sheet, figures["margin"])
    bare = sheet.quote.price
    assert (
        margin[-2].figure
        == f"{100 * figures['margin'].amount / bare:.1f}".removesuffix(".0") + " %"
    )


def test_days() -> None:
    sheet = printed()
    assert [s.figure for s in why(sheet, "until")] == ["1 Mar 2027", "14 days", "15 Mar 2027"]
    agreed = replace(sheet, project=replace(sheet.project, due=date(2027, 4, 9)))
    assert [s.figure for s in why(agreed, "ready")] == ["1 Apr 2027", "9 Apr 2027"]


def test_a_quote_that_was_written_by_hand_has_no_figures_behind_it() -> None:
    by_hand = Quote(TODAY, date(2027, 3, 15), D(200), D(0), D(0), D(200), D(0), "EUR")
    sheet = replace(printed(), quote=by_hand)
    assert why(sheet, "price")[0].text == "Written down by hand, without the figures behind it."
    assert [n.code for n in money_lines(by_hand)] == ["price", "total"]
    odd = replace(printed().quote, price=D(999))
    assert "Not explained by these figures" in [s.text for s in why(replace(sheet, quote=odd),
                                                                     "price")]  # fmt: skip


def test_fibres_are_followed_to_the_grams_of_each_yarn() -> None:
    """90 g of 80 wool and 20 polyamide, 30 g of cotton: 72, 18 and 30 of 120 g."""
    sheet = printed()
    assert fibres_of_paper(sheet) == "60 % wool, 25 % cotton, 15 % polyamide"
    assert dict(fact_lines(sheet))["fibres"] == f"fibres: {fibres_of_paper(sheet)}"
    said = [(s.text, s.figure) for s in why(sheet, "fibres")]
    assert said == [
        ("Wool, as expected", "90 g"),
        ("of that wool, 80 %", "72 g"),
        ("of that polyamide, 20 %", "18 g"),
        ("Cotton, as expected", "30 g"),
        ("of that cotton, 100 %", "30 g"),
        ("All of it", "120 g"),
        ("wool: 72 g of 120 g", "60 %"),
        ("cotton: 30 g of 120 g", "25 %"),
        ("polyamide: 18 g of 120 g", "15 %"),
        ("In whole percents that make 100: 60 % wool, 25 % cotton, 15 % polyamide", ""),
    ]


def test_fibres_by_what_was_noted_and_what_is_not_known() -> None:
    sheet = printed()
    used = (Used("wool", "10", "1", D(100), rows=4),)
    making = replace(sheet.project, stage=Stage.MAKING, rows_done=4, used=used)
    home = replace(sheet.studio, projects=(making,))
    assert why(of(home), "fibres")[0].text == "Wool, noted as used"
    bare = replace(COTTON, fibres=())
    lost = replace(home, library=Library((WOOL, bare), home.library.stitches))
    assert fibres_of_paper(of(lost)) == "not known yet of Cotton"
    assert "enter them in the library" in why(of(lost), "fibres")[-1].text
    small = replace(WOOL, fibres=(Fibre("wool", D(97)), Fibre("silk", D(3))))
    tiny = replace(home, library=Library((small, COTTON), home.library.stitches))
    assert "under 5 % as 'other fibres'" in why(of(tiny), "fibres")[-1].text


def test_what_is_no_line_of_the_paper_has_no_sum() -> None:
    assert why(printed(), "on") == ()
