"""The check digit against the numbers that GS1 publishes, and codes found or refused."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.buying.gtin import (
    BarcodeError,
    check_digit,
    find_shade,
    gtin14,
    known_shades,
    normalised,
)
from studio.core.model import Library, Shade, ShadeRef, Yarn

MOSS = ShadeRef("wool", "10")


@pytest.mark.parametrize(
    ("body", "digit"),
    [
        # https://www.gs1.org/how-calculate-check-digit-manually
        ("629104150021", 3),
        # GS1 Sweden, https://www.gs1.se/Support/Berakna-kontrollsiffra/Sa-beraknas-kontrollsiffran/
        ("730001100001", 7),
        # UPC-A, encyclopedia text on check digits (standards.md section 10)
        ("03600024145", 7),
    ],
)
def test_published_check_digits(body: str, digit: int) -> None:
    assert check_digit(body) == digit
    assert normalised(body + str(digit)).endswith(body + str(digit))


def test_upc_is_the_longer_code_with_a_leading_nought() -> None:
    assert normalised("036000241457") == "0036000241457"
    known = {gtin14("036000241457"): MOSS}
    assert find_shade("036000241457", known) == MOSS
    assert find_shade("0036000241457", known) == MOSS
    assert find_shade("00036000241457", known) == MOSS


def test_codes_are_one_where_they_differ_by_leading_noughts() -> None:
    # GS1 General Specifications: a GTIN of 8, 12, 13 or 14 digits is kept in a field of fourteen,
    # right-aligned with leading noughts (from memory). 96385074 is the EAN-8 of encyclopedia texts.
    short = "96385074"
    long_ones = [short.zfill(n) for n in (8, 12, 13, 14)]
    assert {gtin14(code) for code in long_ones} == {short.zfill(14)}
    wool = Yarn("wool", "Wool", 4, (), Decimal(50), (Shade("10", "Moss", ("#556b2f",)),))
    for kept in long_ones:
        shade = replace(wool.shades[0], barcodes=(kept, "123"))
        known = known_shades(Library((replace(wool, shades=(shade,)),)))
        assert [find_shade(code, known) for code in long_ones] == [MOSS] * 4


def test_spaces_and_hyphens_are_as_printed() -> None:
    assert normalised(" 6 291041-500213\n") == "6291041500213"


def test_a_pack_finds_its_ball() -> None:
    # A short code is filled up before the digit of the pack is put in front of it.
    short = "1" + "00000" + "9638507"
    assert find_shade(short + str(check_digit(short)), {gtin14("96385074"): MOSS}) == MOSS
    pack = "1" + "629104150021"
    assert find_shade(pack + str(check_digit(pack)), {gtin14("6291041500213"): MOSS}) == MOSS


def test_unknown_code_is_no_error() -> None:
    assert find_shade("6291041500213", {}) is None


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("6291041500214", "would be 3"),
        ("629104", "6 digits"),
        ("", "digits only"),
        ("62910415x0213", "digits only"),
        ("\u0661\u0662\u0663\u0664\u0665\u0666\u0667\u0668", "digits only"),
    ],
)
def test_what_is_no_code_is_refused_in_words(code: str, words: str) -> None:
    with pytest.raises(BarcodeError, match=words):
        normalised(code)


@given(st.text("0123456789", min_size=12, max_size=12), st.integers(0, 11), st.integers(1, 9))
def test_every_single_wrong_digit_is_caught(body: str, place: int, by: int) -> None:
    code = body + str(check_digit(body))
    wrong = code[:place] + str((int(code[place]) + by) % 10) + code[place + 1 :]
    assert normalised(code) == code
    with pytest.raises(BarcodeError):
        normalised(wrong)
