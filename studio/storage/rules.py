"""The rules that a type alone cannot say, for both ways of reading a file: pydantic's and `quick`.

Each takes a value, or a record with its fields, and gives it back as it is kept, or refuses it.
Pydantic is read in only to refuse: a file in order is read without it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, NoReturn, TypeVar

from studio.core.model import Length, LengthUnit
from studio.core.money import MINOR_DIGITS

T = TypeVar("T")

MINUTES_OF_DAY = 24 * 60
_HOURS = re.compile(r"([01]?[0-9]|2[0-4]):([0-5][0-9])", re.ASCII)
_LENGTH = re.compile(r"\s*([0-9]{1,9}(?:\.[0-9]{1,6})?)\s*([^\s0-9.]*)\s*", re.ASCII)


def _refuse(kind: str, words: str, /, **context: object) -> NoReturn:
    """Refuse a value; `explain` knows the kind and tells it from the context."""
    from pydantic_core import PydanticCustomError

    raise PydanticCustomError(kind, words, context)


def length(value: object) -> Length:
    """Read '150 cm'; a bare number has lost its unit, and which it was cannot be known."""
    shape = r'a number and its unit, such as "150 cm" or "60 in"'
    if isinstance(value, int | Decimal) and not isinstance(value, bool):
        _refuse("length_unit", "the unit is missing", expected=shape)
    match = _LENGTH.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        _refuse("length", "this is no length", expected=shape)
    number, unit = match.groups()
    if not unit:
        _refuse("length_unit", "the unit is missing", expected=shape)
    if unit not in tuple(LengthUnit):
        _refuse("length_unit_unknown", "this unit is not known", unit=unit, expected=shape)
    return Length(Decimal(number), LengthUnit(unit))


def above_zero(length: Length) -> Length:
    """Refuse no length at all."""
    if length.value <= 0:
        _refuse("length_zero", "must be more than zero")
    return length


def hours_of_day(value: object) -> int:
    """Read 3, 2.5 or '2:30' as minutes."""
    if isinstance(value, str) and (match := _HOURS.fullmatch(value)):
        minutes = Decimal(match[1]) * 60 + Decimal(match[2])
    elif isinstance(value, int | Decimal) and not isinstance(value, bool):
        # What is beyond a day is not multiplied: it might be beyond what can be reckoned with.
        hours = Decimal(value)
        minutes = hours * 60 if hours.is_finite() and 0 <= hours <= 24 else Decimal(-1)
    else:
        minutes = Decimal(-1)
    if not (0 <= minutes <= MINUTES_OF_DAY and minutes % 1 == 0):
        _refuse("hours", "these are no hours of a day")
    return int(minutes)


def currency(code: str) -> str:
    """Refuse a code that stands for no money."""
    if code not in MINOR_DIGITS:
        _refuse("currency", "this currency is not known", code=code)
    return code


def as_many(value: object) -> object:
    """One text is a list of one."""
    return [value] if isinstance(value, str) else value


def _refuse_twice(codes: Sequence[object], what: str, key: str = "code") -> None:
    """Refuse the second of two that have the same code, or whatever key tells them apart."""
    seen: set[object] = set()
    for index, code in enumerate(codes):
        if code in seen:
            shown = code[-1] if isinstance(code, tuple) else code
            _refuse("twice", "is there twice", what=what, index=index, code=shown, key=key)
        seen.add(code)


def shades_once(shades: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse two shades of a yarn with one code."""
    _refuse_twice([shade.code for shade in shades], "shade")
    return shades


def lots_once(lots: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse two lots of a shade with one code."""
    _refuse_twice([(lot.shade, lot.code) for lot in lots], "lot")
    return lots


def prices_once(prices: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse two prices that were paid for one shade."""
    _refuse_twice([(n.yarn, n.shade) for n in prices], "price", "shade")
    return prices


def customers_once(customers: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse two customers with one key."""
    _refuse_twice([customer.key for customer in customers], "customer", "key")
    return customers


def sum_100(fibres: dict[str, Decimal]) -> dict[str, Decimal]:
    """Refuse percentages that do not sum to 100."""
    # None at all: they are not known, as where a ball band is lost.
    if fibres and (total := sum(fibres.values())) != 100:
        _refuse("fibres", "must sum to 100", total=str(total))
    return fibres


def one_body(kinds: tuple[Any, ...]) -> tuple[Any, ...]:
    """Refuse kinds of rows of which not just the last is without a number of rows."""
    bodies = [i for i, kind in enumerate(kinds) if kind.rows is None]
    if kinds and bodies != [len(kinds) - 1]:
        _refuse("kinds", "only the last kind has no rows")
    return kinds


def one_amount(weighing: T) -> T:
    """Refuse a weighing in both grams and balls, or in neither."""
    found: Any = weighing
    if (found.grams is None) == (found.balls is None):
        _refuse("amount", "needs either grams or balls")
    return weighing


def one_claim_of_rest(rest: T) -> T:
    """Refuse a rest that is tied to nothing, or to two things."""
    _one_claim(rest, ("hold", "on_order"), "rest")
    return rest


def one_claim(run: T) -> T:
    """Refuse a run that is tied to two things, or only in part and to nothing."""
    found: Any = run
    needed = "pairs" if found.pairs else "rest" if found.rest else ""
    _one_claim(run, ("hold", "pin", "on_order"), needed)
    return run


def _one_claim(record: object, names: Sequence[str], needed: str) -> None:
    """Refuse two claims in one place, and none where something rests on it."""
    given = [n for n in names if getattr(record, n) is not None]
    if len(given) > 1:
        _refuse("claims", "only one claim", given=" and ".join(given))
    if needed and not given:
        words = f"{', '.join(names[:-1])} or {names[-1]}"
        _refuse("claim_missing", "no claim", what=needed, names=words)


def days_in_order(off: T) -> T:
    """Refuse days off that end before they begin."""
    found: Any = off
    if found.last < found.first:
        _refuse("days", "last is before first", last=found.last, first=found.first)
    return off


def valid_for_some_time(quote: T) -> T:
    """Refuse a quote that ends before it begins."""
    found: Any = quote
    if found.valid_until < found.on:
        _refuse("validity", "ends before it begins", until=found.valid_until, on=found.on)
    return quote


def one_price(value: object) -> object:
    """A plain number, in quotes or not, is the price of every ball."""
    return [{"from": 1, "price": value}] if _is_figure(value) else value


def one_cost(value: object) -> object:
    """A plain number, in quotes or not, is the shipping of every parcel."""
    return [{"cost": value}] if _is_figure(value) else value


def _is_figure(value: object) -> bool:
    """Whether it is a plain value; one that is no amount is refused here, by its own key."""
    if isinstance(value, bool) or not isinstance(value, int | Decimal | str):
        return False
    try:
        amount = Decimal(value)
    except ArithmeticError:
        amount = Decimal(-1)
    if not (amount.is_finite() and amount >= 0):
        _refuse("amount_of_money", "this is no amount")
    return True
