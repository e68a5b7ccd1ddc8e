"""Money: minor digits of currencies, rounding as it is charged, and shares whose sum ties.

Everything is Decimal. Amounts round half up, since each line is rounded as a person would be
charged it; half to even is for statistics.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from fractions import Fraction

from studio.errors import StudioError

_DIGITS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    2: (
        "AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BMD BND BOB BOV BRL BSD BTN BWP BYN "
        "BZD CAD CDF CHE CHF CHW CNY COP COU CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD "
        "FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES KGS KHR KPW "
        "KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR "
        "MZN NAD NGN NIO NOK NPR NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG "
        "SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP TRY TTD TWD TZS UAH USD "
        "USN UYU UZS VED VES WST XCD XCG YER ZAR ZMW ZWG"
    ),
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_DIGITS = {code: digits for digits, codes in _DIGITS.items() for code in codes.split()}
"""ISO 4217 minor digits of the active codes (from memory, cross-checked against CLDR).

The lev, withdrawn in 2026, stays, since books are still kept in it.
"""


class CurrencyError(StudioError):
    """A currency code that ISO 4217 does not know."""

    title = "Unknown currency"


def _nearest(text: str) -> str | None:
    """The code that shares the most letters, then the longest beginning; None below two letters."""

    def likeness(code: str) -> tuple[int, int]:
        same = (Counter(code) & Counter(text)).total()
        start = next((i for i in range(len(code)) if not text.startswith(code[: i + 1])), 3)
        return same, start

    best = max(sorted(MINOR_DIGITS), key=likeness)
    return best if likeness(best)[0] >= 2 else None


def minor_digits(currency: str) -> int:
    """How many decimals an amount in the currency has."""
    found = MINOR_DIGITS.get(currency)
    if found is None:
        near = _nearest(currency.upper())
        hint = f" Did you mean {near}?" if near else " Use a three-letter code such as EUR."
        raise CurrencyError(f"'{currency}' is not a currency code of ISO 4217.{hint}")
    return found


def unit(currency: str) -> Decimal:
    """The smallest amount of the currency, 0.01 for most."""
    return Decimal(1).scaleb(-minor_digits(currency))


def rounded(amount: Decimal, currency: str) -> Decimal:
    """The amount as it is charged: half up in size, to the currency's minor digits."""
    return amount.quantize(unit(currency), rounding=ROUND_HALF_UP)


def rounded_up(amount: Decimal, currency: str) -> Decimal:
    """The least chargeable amount that is not below the given one."""
    return amount.quantize(unit(currency), rounding=ROUND_CEILING)


def share_units(total: int, weights: Sequence[Decimal | int]) -> tuple[int, ...]:
    """Whole units split by weight, by largest remainder, so that the shares add to the total.

    Ties go to the earlier place. Where all weights are nought the units are split evenly.
    """
    if not weights:
        raise ValueError("nothing to share among")
    parts = [Fraction(w) for w in weights]
    if min(parts) < 0:
        raise ValueError("a share cannot have a negative weight")
    whole = sum(parts)
    if whole == 0:
        parts, whole = [Fraction(1)] * len(parts), Fraction(len(parts))
    sign = -1 if total < 0 else 1
    exact = [abs(total) * part / whole for part in parts]
    shares = [int(value) for value in exact]
    left = abs(total) - sum(shares)
    by_remainder = sorted(range(len(parts)), key=lambda i: (shares[i] - exact[i], i))
    for i in by_remainder[:left]:
        shares[i] += 1
    return tuple(sign * value for value in shares)


def share(total: Decimal, weights: Sequence[Decimal | int], currency: str) -> tuple[Decimal, ...]:
    """An amount split by weight into chargeable amounts that add to the rounded total."""
    smallest = unit(currency)
    units = int(rounded(total, currency) / smallest)
    return tuple(value * smallest for value in share_units(units, weights))
