"""The sums behind a piece's account add up to the figures that the account shows."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from studio.core.closing import closing_of
from studio.core.closing_say import Part
from studio.core.closing_why import sums
from studio.core.model import Stage, Studio
from studio.core.reconcile import reconcile
from tests.core.test_closing import D, closing, finished


def parts(made: Studio) -> dict[str, Part]:
    now = reconcile(made)
    piece, plan = made.project["throw"], now.plan.projects["throw"]
    demand, evidence = now.kept.worked["throw"].demand, now.kept.evidence or {}
    account = closing_of(piece, plan, demand, evidence, made)
    return {p.heading: p for p in sums(account, piece, plan, demand, evidence, made)}


def said(part: Part) -> dict[str, str]:
    return {s.text: s.figure for s in part.steps}


def money(figure: str) -> Decimal:
    return Decimal(figure.removesuffix(" EUR"))


def test_costs_add_up_line_by_line_and_so_does_what_is_left() -> None:
    made = finished()
    account, found = closing(made), parts(made)
    *lines, whole = found["Costs"].steps
    assert account.cash_costs is not None
    assert account.earned is not None
    assert sum(money(s.figure) for s in lines) == money(whole.figure) == account.cash_costs
    pay = found["Pay for an hour"].steps
    assert money(pay[0].figure) + money(pay[1].figure) == money(pay[2].figure) == account.earned
    # Five hours were logged.
    assert money(pay[-1].figure) == account.per_hour()
    assert abs(account.earned / 5 - money(pay[-1].figure)) < D("0.01")


def test_grams_of_a_shade_from_its_rows_and_its_notes() -> None:
    """12 rows of Rust at 10 g were planned, 130 g of lot x weighed."""
    rust = said(parts(finished())["Marl Rust"])
    assert rust["Planned: stripes 1, 3, with tails"] == "120 g"
    assert next(f for t, f in rust.items() if t.startswith("Rust, lot x: weighed")) == "130 g"
    assert (rust["Used"], rust["More than planned"]) == ("130 g", "+10 g")
    row = next(f for t, f in rust.items() if t.startswith("A body row uses"))
    assert row == "10 g"


def test_time_entry_by_entry() -> None:
    time = said(parts(finished())["Time"])
    assert time["Logged: crochet, 16 rows from row 1 on, 20 Nov 2026"] == "240 min"
    assert time["Logged: ends, 20 Nov 2026"] == "60 min"
    assert time["Logged in all"] == "5 h"


def test_what_is_still_to_come_and_what_is_not_known_yet() -> None:
    part_paid = finished(payments=())
    pay = parts(part_paid)["Pay for an hour"].steps
    assert "once all is paid" in pay[-2].text
    assert money(pay[-2].figure) == closing(part_paid).per_hour(with_rest=True)
    making = parts(finished(stage=Stage.MAKING))["Pay for an hour"].steps
    assert making[-1].text == "Hours are counted once it is finished and minutes are logged."


@pytest.mark.parametrize("file", ["trade.toml", "studio.toml"])
def test_rates_that_could_not_be_read_leave_the_costs_open(file: str) -> None:
    lost = replace(finished(), unread=frozenset({file}))
    assert f"{file} could not be read" in parts(lost)["Costs"].steps[0].text
    assert "is not known" in parts(lost)["Pay for an hour"].steps[0].text
