"""What is typed of a parcel lies with its purchase; barcodes are given to shades."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from studio.core import edits
from studio.core.buying.delivery import Bag, Delivery, ShareBy, extras_words
from studio.core.buying.gtin import new_barcode
from studio.core.model import ShadeRef, Studio
from studio.errors import EditRefusedError
from tests.core import editing

D = Decimal
MOSS, CLAY = ShadeRef("wool", "10"), ShadeRef("wool", "20")
BAND, OTHER = "6291041500213", "4006381333931"
"""The worked example of GS1's page on check digits, and a sound number from memory."""


def with_codes(*codes: str) -> Studio:
    return edits.set_barcodes(editing.studio(), MOSS, codes)


def test_what_is_typed_stays_with_its_purchase_until_it_is_dropped() -> None:
    studio = editing.studio()
    purchase = studio.stash.purchases[0]
    typed = Delivery(purchase.key, date(2027, 1, 4), (Bag("wool", "10", "9", 2),))
    kept = edits.set_parcel(studio, typed)
    assert kept.stash.purchase[purchase.key].parcel is typed
    assert kept.stash.lots is studio.stash.lots
    assert edits.set_parcel(kept, replace(typed)) is kept
    assert edits.drop_parcel(kept, purchase.key) == studio
    assert edits.drop_parcel(studio, purchase.key) is studio
    with pytest.raises(EditRefusedError, match="no open purchase 'p9'"):
        edits.set_parcel(studio, replace(typed, purchase="p9"))


def test_an_order_may_come_on_another_day() -> None:
    studio = editing.studio()
    key, day = studio.stash.purchases[0].key, date(2027, 1, 20)
    later = edits.set_arrival(studio, key, day)
    assert later.stash.purchase[key].arrives == day
    assert edits.set_arrival(later, key, day) is later
    with pytest.raises(EditRefusedError, match="no open purchase 'p9'"):
        edits.set_arrival(studio, "p9", day)
    ordered = replace(studio.stash.purchases[0], ordered=date(2027, 1, 4))
    studio = replace(studio, stash=replace(studio.stash, purchases=(ordered,)))
    with pytest.raises(EditRefusedError, match="before it was ordered on 4 Jan 2027"):
        edits.set_arrival(studio, key, date(2027, 1, 3))


def test_shipping_and_tax_are_said_with_how_they_are_shared() -> None:
    parcel = Delivery("p1", date(2027, 1, 4), (), D("4.90"), D(2), ShareBy.WEIGHT)
    assert extras_words(parcel, "EUR") == (
        "Shipping 4.90 EUR, shared by weight; tax 2.00 EUR, shared by value."
    )
    assert extras_words(replace(parcel, shipping=D(0)), "EUR") == "Tax 2.00 EUR, shared by value."
    assert extras_words(replace(parcel, shipping=D(0), tax=D(0)), "EUR") == ""


def test_a_new_barcode_is_kept_with_its_shade_and_then_known() -> None:
    studio = editing.studio()
    assert new_barcode(f" {BAND[:6]} {BAND[6:]}", studio.library) == BAND
    known = edits.add_barcode(studio, MOSS, f"{BAND[:6]} {BAND[6:]}")
    assert known.library.shade[MOSS].barcodes == (BAND,)
    assert known.library.shade[CLAY] is studio.library.shade[CLAY]
    assert new_barcode(BAND, known.library) is None
    # The same number with a leading nought is no second one.
    assert edits.add_barcode(known, MOSS, f"0{BAND}") is known


def test_a_barcode_has_one_shade_and_must_check() -> None:
    studio = with_codes(BAND)
    with pytest.raises(EditRefusedError, match="is that of Wool Moss already"):
        edits.add_barcode(studio, CLAY, f"0{BAND}")
    with pytest.raises(EditRefusedError, match="its last digit would be 3"):
        edits.add_barcode(studio, CLAY, "6291041500214")
    with pytest.raises(EditRefusedError, match="no shade '99'"):
        edits.add_barcode(studio, ShadeRef("wool", "99"), OTHER)


def test_barcodes_are_put_right_as_a_whole() -> None:
    studio = with_codes(BAND, OTHER)
    assert studio.library.shade[MOSS].barcodes == (BAND, OTHER)
    assert edits.set_barcodes(studio, MOSS, (OTHER,)).library.shade[MOSS].barcodes == (OTHER,)
    moved = edits.add_barcode(edits.set_barcodes(studio, MOSS, (OTHER,)), CLAY, BAND)
    assert moved.library.shade[CLAY].barcodes == (BAND,)


def test_a_number_from_a_file_that_does_not_check_may_stay() -> None:
    studio = editing.studio()
    shades = (replace(studio.library.shade[MOSS], barcodes=("12345678",)),)
    wool = replace(studio.library.yarn["wool"], shades=(*shades, studio.library.shade[CLAY]))
    studio = edits.set_yarn(studio, wool)
    assert new_barcode("12345678", studio.library) is None
    both = edits.add_barcode(studio, MOSS, BAND)
    assert both.library.shade[MOSS].barcodes == ("12345678", BAND)
