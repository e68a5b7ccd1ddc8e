"""Ordering a staple for the shelf, and an order on its way told as the order that it was."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.core.buying.offers import Offer, flat
from studio.core.buying.placed import NO_OFFER, placed_order
from studio.core.buying.restock import restock, restock_words
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import TooLittle
from studio.core.model import OrderLine, Purchase, ShadeRef, Studio
from studio.errors import EditRefusedError
from tests.core import editing
from tests.core.buying.making import TODAY, seller, steps

D = Decimal
MOSS = ShadeRef("wool", "10")
STAPLE = StapleLine(MOSS, "Wool Moss", TooLittle("unused here"), supplier="Mill")
SINGLE = Offer("mill", "wool", steps((1, "4.00"), (10, "3.50")))
PACKS = Offer("mill", "wool", steps((5, "3.80"), (20, "3.20")), pack=5)


def studio(*offers: Offer, minimum: str = "0") -> Studio:
    mill = seller("mill", lead=9, minimum=minimum, shipping=flat(D("4.90"), D(60)))
    other = seller("other")
    cheap = Offer("other", "wool", steps((1, "1.00")))
    return replace(
        editing.studio(), suppliers=(mill, other), offers=(*(offers or (SINGLE, PACKS)), cheap)
    )


def test_balls_are_ordered_where_the_goods_cost_least_up_to_whole_packs() -> None:
    # 8 singles cost 32.00, two packs of five 38.00; 18 singles 63.00, four packs 64.00.
    few = restock(studio(), STAPLE, 8, TODAY)
    assert [(n.packs, n.pack, n.ball_price) for n in few.lines] == [(8, 1, D("4.00"))]
    assert (few.goods, few.shipping, few.free) == (D("32.00"), D("4.90"), False)
    assert few.arrives == TODAY + timedelta(days=9)
    packs = restock(studio(PACKS), STAPLE, 18, TODAY)
    assert [(n.packs, n.pack, n.ball_price) for n in packs.lines] == [(4, 5, D("3.20"))]
    assert (packs.goods, packs.shipping, packs.free) == (D("64.00"), D(0), True)
    assert restock_words(packs, "EUR") == (
        "20 balls at 3.20, shipping free: 64.00 EUR, there by 10 Mar 2027."
    )


def test_more_balls_than_an_order_can_hold_are_refused() -> None:
    """As they are where an order is noted by hand: no file could hold a thousand million."""
    for balls in (0, 10_001):
        with pytest.raises(EditRefusedError, match="make no sense"):
            restock(studio(), STAPLE, balls, TODAY)


@pytest.mark.parametrize(
    ("offers", "minimum", "words"),
    [
        ((SINGLE,), "50", "takes orders from 50.00 EUR: 3 balls cost 12.00 EUR"),
        ((replace(SINGLE, breaks=steps((6, "4.00"))),), "0", "sells Wool Moss from 6 balls"),
        ((replace(SINGLE, yarn="plain"),), "0", "No supplier stocks Wool Moss"),
    ],
)
def test_what_cannot_be_ordered_is_refused_in_words(
    offers: tuple[Offer, ...], minimum: str, words: str
) -> None:
    with pytest.raises(EditRefusedError, match=words):
        restock(studio(*offers, minimum=minimum), STAPLE, 3, TODAY)


def test_an_order_on_its_way_is_told_in_the_packs_it_is_sold_in() -> None:
    lines = (
        OrderLine("wool", "10", 10, D("3.80")),
        OrderLine("wool", "20", 7, D("9.99")),
        OrderLine("wool", "20", 2),
    )
    order = placed_order(studio(), Purchase("p", "mill", date(2027, 3, 9), lines))
    assert order.name == "Mill"
    assert [(n.packs, n.pack, n.cost) for n in order.lines] == [
        (2, 5, D("38.00")),
        (7, 1, D("69.93")),
        (2, 1, D(0)),
    ]
    assert [n.offer for n in order.lines] == [1, NO_OFFER, NO_OFFER]
    assert (order.goods, order.shipping, order.free) == (D("107.93"), D(0), True)


def test_an_order_of_a_yarn_that_is_gone_is_refused() -> None:
    purchase = Purchase("p", "mill", date(2027, 3, 9), (OrderLine("silk", "1", 1),))
    with pytest.raises(EditRefusedError, match="no yarn 'silk'"):
        placed_order(studio(), purchase)
