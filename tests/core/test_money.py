"""Currencies, rounding and shares."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from babel.core import get_global
from babel.numbers import get_currency_precision
from hypothesis import given
from hypothesis import strategies as st

from studio.core import money
from studio.errors import StudioError


@pytest.mark.parametrize(
    ("digits", "codes"),
    [
        # ISO 4217, list of the maintenance agency: from memory; USD and BHD also found printed.
        (0, "JPY KRW CLP ISK"),
        (2, "USD EUR GBP"),
        (3, "KWD BHD OMR TND JOD"),
        (4, "CLF UYW"),
    ],
)
def test_minor_digits(digits: int, codes: str) -> None:
    assert {money.minor_digits(code) for code in codes.split()} == {digits}


# CLDR prints no decimals where coins of the low value are gone, though ISO 4217 still has them.
CLDR_DIFFERS = {
    "AFN",
    "ALL",
    "IQD",
    "IRR",
    "KPW",
    "LAK",
    "LBP",
    "MGA",
    "MMK",
    "RSD",
    "SOS",
    "SYP",
    "YER",
}


def test_against_cldr() -> None:
    differs = {c for c, n in money.MINOR_DIGITS.items() if get_currency_precision(c) != n}
    assert differs == CLDR_DIFFERS


def test_every_legal_tender_is_listed() -> None:
    # CLDR's currencies by territory that are legal tender and have no end date.
    current = {
        code
        for entries in get_global("territory_currencies").values()
        for code, _, end, tender in entries
        if tender and (end is None or date(*end) > date(2026, 1, 1))
    }
    assert len(current) > 140
    assert current <= set(money.MINOR_DIGITS)


@pytest.mark.parametrize(
    ("wrong", "near"), [("EURO", "EUR"), ("eur", "EUR"), ("USS", "USD"), ("GPB", "GBP")]
)
def test_an_unknown_currency_names_the_nearest(wrong: str, near: str) -> None:
    with pytest.raises(StudioError, match=f"'{wrong}'.*{near}"):
        money.minor_digits(wrong)


def test_a_currency_like_no_other() -> None:
    with pytest.raises(StudioError, match="three-letter code"):
        money.minor_digits("123456")


@pytest.mark.parametrize(
    ("value", "even", "up"),
    # ISO 80000-1:2009, Annex B, rules A and B (from memory; recomputed), as cents of a currency.
    [("0.1225", "0.122", "0.123"), ("0.1235", "0.124", "0.124"), ("-0.1225", "-0.122", "-0.123")],
)
def test_half_up_and_not_to_even(value: str, even: str, up: str) -> None:
    amount = Decimal(value)
    assert amount.quantize(Decimal("0.001"), ROUND_HALF_EVEN) == Decimal(even)
    assert money.rounded(amount, "BHD") == Decimal(up)


def test_rounded_up_leaves_no_less() -> None:
    # Fee gross-up: net 50 with 9.5 % and 0.25 asks 55.5249, and 55.52 would net 49.9956 (derived).
    price = money.rounded_up((Decimal(50) + Decimal("0.25")) / Decimal("0.905"), "EUR")
    assert price == Decimal("55.53")
    assert price * Decimal("0.905") - Decimal("0.25") >= 50


def test_shares_go_by_largest_remainder() -> None:
    shares = money.share(Decimal("10.00"), [1, 1, 1], "EUR")
    assert shares == (Decimal("3.34"), Decimal("3.33"), Decimal("3.33"))
    assert money.share_units(100, [Decimal("2.5"), Decimal("2.5"), 5]) == (25, 25, 50)
    assert money.share_units(7, [1, 2, 4]) == (1, 2, 4)
    assert money.share_units(5, [10, 25, 65]) == (1, 1, 3)


def test_shares_of_nothing() -> None:
    assert money.share_units(5, [0, 0]) == (3, 2)
    with pytest.raises(ValueError, match="nothing"):
        money.share_units(5, [])
    with pytest.raises(ValueError, match="negative"):
        money.share_units(5, [2, -1])


WEIGHTS = st.lists(
    st.one_of(st.integers(0, 1000), st.decimals(0, 1000, places=1)), min_size=1, max_size=12
)


@given(st.integers(-100_000, 100_000), WEIGHTS)
def test_shares_add_up_and_keep_the_order_of_weights(total: int, weights: list[Decimal]) -> None:
    shares = money.share_units(total, weights)
    assert sum(shares) == total
    whole = sum(weights)
    if whole:
        for share, weight in zip(shares, weights, strict=True):
            # The quota rule: nobody is a whole unit or more from the exact share.
            assert abs(share - total * Decimal(weight) / Decimal(whole)) < 1 + Decimal("1e-9")
        heavier = sorted(zip(weights, map(abs, shares), strict=True))
        assert [s for _, s in heavier] == sorted(s for _, s in heavier) or len(set(weights)) < len(
            weights
        )


@given(st.decimals(-10_000, 10_000, places=4), WEIGHTS, st.sampled_from(["EUR", "JPY", "BHD"]))
def test_amounts_tie_to_the_rounded_total(
    total: Decimal, weights: list[Decimal], currency: str
) -> None:
    assert sum(money.share(total, weights, currency)) == money.rounded(total, currency)
