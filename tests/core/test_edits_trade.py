"""Edits of her trade and of customers: what is kept, and what is refused in one sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from studio.core import edits as all_edits
from studio.core.edits import customers, trade
from studio.core.headline import customer_name
from studio.core.model import Studio
from studio.core.trade_model import (
    Customer,
    DayOff,
    FeeRates,
    PriceEnding,
    ShippingTier,
    StapleRules,
    Task,
)
from studio.core.trade_say import hour_lines, hours_words, other_lines, price_lines
from studio.errors import EditRefusedError
from tests.core.trading import D, piece, studio

HOME = replace(
    studio(piece("throw", ("A", 40, "1"), customer="Odette")),
    customers=(Customer("maren", "Maren of the mill", ("maren@example.org",)),),
)
LONG_WEEK = (120, 120, 120, 120, 120, 0, 0)


def test_prices_change_together_with_the_rate_and_the_registration() -> None:
    after = trade.set_prices(
        HOME, rate_per_hour=D(18), tax_registered=True, margin=D("0.25"), tax_rate=D("0.2")
    )
    assert after.settings.rate_per_hour == 18
    assert after.settings.tax_registered
    assert after.trade.prices.margin == D("0.25")
    assert after.trade.prices.overhead == HOME.trade.prices.overhead
    assert trade.set_prices(HOME, margin=HOME.trade.prices.margin) is HOME


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: trade.set_prices(s, margin=D("0.97")), "97 % and fees of 3 % make 100 %"),
        (
            lambda s: trade.set_prices(s, fees=FeeRates(on_price=D("0.5"), on_total=D("0.4"))),
            "fees of 90 % make 110 %",
        ),
        (
            # 3 % of the total with a fifth of tax on it are 3.6 % of the price.
            lambda s: trade.set_prices(
                s, tax_registered=True, tax_rate=D("0.2"), margin=D("0.965"), tax_inclusive=False
            ),
            "96.5 % and fees of 3.6 % make 100.1 %",
        ),
        (lambda s: trade.set_prices(s, deposit_share=D("1.2")), "120 % is larger than the price"),
        (lambda s: trade.set_prices(s, ending=PriceEnding(D("0.005"))), "smallest amount is 0.01"),
        (lambda s: trade.set_prices(s, ending=PriceEnding(D(1), D(2))), "ends in 2"),
        (lambda s: trade.set_prices(s, fees=FeeRates(fixed=D("0.305"))), "so small parts"),
        (lambda s: trade.set_prices(s, overhead=D(-1)), "must be 0 or more"),
        (lambda s: trade.set_prices(s, valid_days=-1), "cannot hold for -1 days"),
        (lambda s: trade.set_prices(s, valid_days=1001), "0 to 1,000 are allowed"),
        (lambda s: trade.set_prices(s, tax_rate=D("-0.2")), "a share of the price"),
        (lambda s: trade.set_prices(s, tax_rate=D(1)), "a share of the price"),
        (lambda s: trade.set_hours(s, (0,) * 7, 300), "at least one day needs hours"),
        (lambda s: trade.set_hours(s, LONG_WEEK, 0), "at least one day needs hours"),
        (lambda s: trade.set_hours(s, (1500, *LONG_WEEK[1:]), 60), "25 hours do not fit"),
        (
            lambda s: trade.put_day_off(s, DayOff(date(2027, 5, 2), date(2027, 5, 1))),
            "is before the first",
        ),
        (lambda s: trade.put_parcel(s, ShippingTier("  ", D(1), D(1))), "needs a name"),
        (lambda s: trade.put_parcel(s, ShippingTier("box", D(0), D(1))), "more than 0 g"),
        (lambda s: trade.put_parcel(s, ShippingTier("box", D(9), D("1.005"))), "so small parts"),
        (lambda s: trade.put_parcel(s, ShippingTier("box", D(1000), D(1))), "'small parcel' is"),
        (lambda s: trade.remove_parcel(s, 7), "no such parcel"),
        (lambda s: trade.put_task(s, Task("Packing", D(3))), "a task 'packing' already"),
        (lambda s: trade.put_task(s, Task("ironing", D(-3))), "must be 0 or more"),
        (lambda s: trade.set_times(s, D(0), D(1)), "more than 0"),
        (
            lambda s: trade.set_days(s, transit_days=1, drying_days=-1, lead_days=2),
            "Drying takes -1 days",
        ),
        (lambda s: trade.set_packing(s, D(-1)), "0 or more"),
        (lambda s: trade.set_staples(s, StapleRules(service=D(1))), "50 % to under 100 %"),
        (lambda s: trade.set_staples(s, StapleRules(holding=D(-1))), "0 % to under 100 %"),
        (lambda s: trade.set_staples(s, StapleRules(holding=D(1))), "0 % to under 100 %"),
        (lambda s: all_edits.set_settings(s, currency="EUP"), "EUP"),
        (lambda s: customers.add_customer(s, "maren of the MILL"), "Maren of the mill already"),
        (lambda s: customers.add_customer(s, " "), "needs a name"),
        (lambda s: customers.set_customer(s, "gone", "G"), "no customer 'gone'"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(
    change: Callable[[Studio], Studio], words: str
) -> None:
    with pytest.raises(EditRefusedError, match=r"[.?]$") as refused:
        change(HOME)
    assert words in refused.value.text


def test_days_off_parcels_and_tasks_are_added_changed_and_removed_in_order() -> None:
    late, early = (
        DayOff(date(2027, 7, 1), date(2027, 7, 9)),
        DayOff(date(2027, 5, 1), date(2027, 5, 1)),
    )
    home = trade.put_day_off(trade.put_day_off(HOME, late), early)
    assert home.trade.hours.days_off == (early, late)
    longer = replace(early, last=date(2027, 5, 3))
    home = trade.put_day_off(home, longer, 0)
    assert home.trade.hours.days_off == (longer, late)
    assert trade.remove_day_off(home, 0).trade.hours.days_off == (late,)
    middle = ShippingTier("parcel", D(2000), D("8.20"))
    home = trade.put_parcel(HOME, middle)
    assert [t.name for t in home.trade.shipping] == ["small parcel", "parcel", "large parcel"]
    home = trade.put_parcel(home, replace(middle, charged=D(9)), 1)
    assert home.trade.shipping[1].charged == 9
    assert trade.remove_parcel(home, 1).trade == HOME.trade
    home = trade.put_task(HOME, Task("blocking", D(40)))
    assert [t.name for t in home.trade.times.tasks] == ["packing", "blocking"]
    assert trade.remove_task(home, 1).trade == HOME.trade


def test_a_new_customer_takes_the_pieces_that_named_them() -> None:
    home = customers.add_customer(HOME, "Odette", ("call after six",), "likes moss")
    assert home.customer["odette"].contact == ("call after six",)
    assert home.project["throw"].customer == "odette"
    with pytest.raises(EditRefusedError, match="is theirs"):
        customers.remove_customer(home, "odette")
    free = customers.set_customer_of(home, "throw", "")
    assert customers.remove_customer(free, "odette").customers == HOME.customers
    renamed = customers.set_customer(home, "odette", "Odette L.")
    assert renamed.project["throw"].customer == "odette"
    assert customers.set_customer(renamed, "odette", "Odette L.") is renamed
    # A name of the file is its key; other words stay as they are.
    assert customers.customer_key(home, " maren of the mill ") == "maren"
    assert customers.customer_key(home, "Ilka") == "Ilka"
    # Names in any script get a key of plain letters.
    assert customers.add_customer(HOME, "Зоя").customers[-1].key == "customer"


def test_every_figure_of_her_trade_has_its_line() -> None:
    lines = {n.label: n.figure for n in (*price_lines(HOME), *hour_lines(HOME), *other_lines(HOME))}
    assert lines["an hour of work"] == "15.00"
    assert lines["margin"] == "20 %"
    assert lines["of all that is paid"] == "3 %"
    assert lines["deposit"] == "30 %"
    assert (lines["Monday"], lines["Sunday"], lines["in a week"]) == ("2", "", "10")
    assert lines["small parcel"] == "6.90"
    assert (lines["keeping for a year"], lines["the shelf lasts"]) == ("20 %", "95 %")
    assert trade.set_staples(HOME, StapleRules()) is HOME
    assert trade.set_staples(HOME, StapleRules(D(3))).trade.staples.order_cost == 3
    assert lines["packing"] == "30 min"  # the task; the weight has a line of the same name before
    assert [hours_words(m) for m in (0, 60, 150, 605)] == ["0", "1", "2:30", "10:05"]


def test_a_piece_names_a_customer_of_the_file_by_key_however_it_is_typed() -> None:
    named = all_edits.set_project(HOME, "throw", customer="Maren of the Mill")
    assert named.project["throw"].customer == "maren"
    added = all_edits.add_project(HOME, piece("new", ("A", 5, ""), customer="maren of the mill"))
    assert added.project["new"].customer == "maren"
    assert customer_name(added.project["new"], added) == "Maren of the mill"
    stranger = all_edits.set_project(HOME, "throw", customer="Somebody")
    assert customer_name(stranger.project["throw"], stranger) == "Somebody"
