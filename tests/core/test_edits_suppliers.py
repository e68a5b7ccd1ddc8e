"""Suppliers and offers added, changed and removed; what no plan could use is refused in words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from studio.core import edits
from studio.core.buying.offers import (
    Offer,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
    flat,
)
from studio.core.model import Stash, Studio
from studio.errors import EditRefusedError
from tests.core import editing

D = Decimal
MILL = Supplier("mill", "The mill", "EUR", 9, shipping=flat(D("4.90")))
SHOP = Supplier("shop", "The shop", "EUR", 3)


def wool(supplier: str = "mill", *steps: tuple[int, str], **more: object) -> Offer:
    breaks = tuple(PriceBreak(balls, D(price)) for balls, price in steps or ((1, "4.20"),))
    return replace(Offer(supplier, "wool", breaks), **more)  # type: ignore[arg-type]


def two() -> Studio:
    studio = edits.add_supplier(edits.add_supplier(editing.studio(), MILL), SHOP)
    return edits.add_offer(edits.add_offer(studio, wool("mill")), wool("shop"))


def test_a_supplier_is_added_with_what_they_offer() -> None:
    studio = two()
    assert [s.key for s in studio.suppliers] == ["mill", "shop"]
    plain = replace(wool("mill"), yarn="plain")
    more = edits.add_offer(studio, plain)
    # Behind the others of its supplier, as the files are read.
    assert [(o.supplier, o.yarn) for o in more.offers] == [
        ("mill", "wool"),
        ("mill", "plain"),
        ("shop", "wool"),
    ]
    assert edits.offers_of(more, "mill") == (0, 1)


def test_terms_and_offers_are_corrected_and_the_rest_stays_the_same_object() -> None:
    studio = two()
    slower = edits.set_supplier(studio, replace(MILL, lead_days=14))
    assert slower.suppliers[0].lead_days == 14
    assert slower.suppliers[1] is studio.suppliers[1]
    assert slower.offers is studio.offers
    dearer = edits.set_offer(studio, 0, wool("mill", (1, "4.50"), (10, "4.10")))
    assert [b.price for b in dearer.offers[0].breaks] == [D("4.50"), D("4.10")]
    assert dearer.offers[1] is studio.offers[1]
    assert edits.set_offer(studio, 0, studio.offers[0]) is studio
    assert edits.set_supplier(studio, studio.suppliers[0]) is studio


def test_what_is_removed_takes_its_offers_along() -> None:
    studio = two()
    assert edits.remove_offer(studio, 0).offers == (studio.offers[1],)
    gone = edits.remove_supplier(studio, "mill")
    assert gone.suppliers == (SHOP,)
    assert gone.offers == (studio.offers[1],)


@pytest.mark.parametrize("word", ["mill", "The mill"])
def test_a_supplier_stays_while_something_is_on_order_there(word: str) -> None:
    studio = two()
    purchases = tuple(replace(p, supplier=word) for p in studio.stash.purchases)
    studio = replace(studio, stash=Stash(studio.stash.lots, purchases))
    with pytest.raises(EditRefusedError, match="on order from The mill: receive"):
        edits.remove_supplier(studio, "mill")


def test_a_key_is_made_from_the_name_and_not_taken() -> None:
    assert edits.supplier_key(two(), "The Mill") == "the-mill"
    assert edits.supplier_key(two(), "Mill") == "mill-2"
    assert edits.supplier_key(two(), "…") == "supplier"


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda s: edits.add_supplier(s, MILL), "supplier 'mill' already"),
        (lambda s: edits.add_supplier(s, replace(MILL, key="m")), "called The mill already"),
        (lambda s: edits.add_supplier(s, replace(SHOP, key="x", name=" ")), "needs a name"),
        (lambda s: edits.set_supplier(s, replace(MILL, key="nobody")), "no supplier 'nobody'"),
        (lambda s: edits.set_supplier(s, replace(MILL, lead_days=None)), "has no lead time"),
        (lambda s: edits.set_supplier(s, replace(MILL, currency="SEK")), "reckons in EUR"),
        (lambda s: edits.set_supplier(s, replace(MILL, minimum=D("4.905"))), "2 decimals"),
        (
            lambda s: edits.set_supplier(
                s, replace(MILL, shipping=Shipping((WeightTier(D(500), D(4)),)))
            ),
            "does not say what a heavier parcel costs",
        ),
        (lambda s: edits.add_offer(s, wool("nobody")), "no supplier 'nobody'"),
        (lambda s: edits.add_offer(s, wool("mill")), "twice in packs of 1"),
        (lambda s: edits.add_offer(s, wool("mill", (1, "4"), pack=0)), "packs of 0 balls"),
        (lambda s: edits.set_offer(s, 0, wool("mill", (1, "4"), (10, "5"))), "must not rise"),
        (lambda s: edits.set_offer(s, 0, wool("mill", (1, "4"), (1, "3"))), "may not overlap"),
        (lambda s: edits.set_offer(s, 0, wool("mill", shades=("99",))), "no shade '99'"),
        (lambda s: edits.set_offer(s, 0, wool("shop")), "stays with its supplier"),
        (lambda s: edits.set_offer(s, 7, wool("mill")), "not there any more"),
        (lambda s: edits.remove_offer(s, -1), "not there any more"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(
    edit: Callable[[Studio], Studio], words: str
) -> None:
    with pytest.raises(EditRefusedError, match=words):
        edit(two())


def test_an_offer_that_makes_another_one_faulty_is_refused() -> None:
    studio = edits.add_offer(two(), wool("mill", (1, "4"), pack=5))
    # The first would be in packs of 5 as well: it is the second of the two that is then at fault.
    with pytest.raises(EditRefusedError, match="twice in packs of 5"):
        edits.set_offer(studio, 0, wool("mill", (1, "4"), pack=5))


def test_a_fault_that_was_there_before_keeps_nobody_from_the_others() -> None:
    studio = two()
    studio = replace(studio, offers=(replace(studio.offers[0], breaks=()), studio.offers[1]))
    dearer = edits.set_offer(studio, 1, wool("shop", (1, "9")))
    assert dearer.offers[1].breaks[0].price == D(9)
