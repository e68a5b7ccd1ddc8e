"""The quick dataclass does what the standard one does."""

from __future__ import annotations

import copy
import dataclasses
import functools
import inspect
import pickle
from collections.abc import Callable
from decimal import Decimal
from typing import Any, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import frozen, model


class _Plain:
    """Balls of a shade."""

    shade: str
    balls: Decimal
    note: str = ""
    codes: tuple[str, ...] = ()

    @property
    def many(self) -> bool:
        return self.balls > 5


class _One:
    """One value."""

    value: float


class _None:
    """Nothing."""


def quick(cls: type[Any]) -> type[Any]:
    return frozen.dataclass(frozen=True, slots=True)(copied(cls))


def standard(cls: type[Any]) -> type[Any]:
    return dataclasses.dataclass(frozen=True, slots=True)(copied(cls))


def copied(cls: type[Any]) -> type[Any]:
    """The class anew, since the decorators change what they are given."""
    body = {
        name: value for name, value in vars(cls).items() if name not in ("__dict__", "__weakref__")
    }
    made = type(cls.__name__, cls.__bases__, body)
    made.__qualname__ = cls.__qualname__
    return made


Picked = quick(_Plain)
"""Where a pickle finds it."""
Picked.__qualname__ = Picked.__name__ = "Picked"

VALUES = st.tuples(
    st.text(max_size=3),
    st.decimals(0, 9, places=1),
    st.text(max_size=2),
    st.lists(st.text(max_size=2), max_size=2).map(tuple),
)


@given(VALUES, VALUES)
def test_values_are_compared_hashed_and_shown_alike(one: Any, other: Any) -> None:
    ours, theirs = quick(_Plain), standard(_Plain)
    assert (ours(*one) == ours(*other)) is (theirs(*one) == theirs(*other))
    assert hash(ours(*one)) == hash(theirs(*one))
    assert repr(ours(*one)) == repr(theirs(*one))
    assert ours(*one) != theirs(*one)
    assert ours(*one).many is theirs(*one).many
    assert dataclasses.astuple(dataclasses.replace(ours(*one), note="x")) == dataclasses.astuple(
        dataclasses.replace(theirs(*one), note="x")
    )


@pytest.mark.parametrize("cls", [_Plain, _One, _None])
def test_a_class_looks_as_the_standard_one(cls: type[Any]) -> None:
    ours, theirs = quick(cls), standard(cls)
    assert inspect.signature(ours) == inspect.signature(theirs)
    assert get_type_hints(ours.__init__) == get_type_hints(theirs.__init__)
    assert ours.__match_args__ == theirs.__match_args__
    assert ours.__slots__ == theirs.__slots__
    assert ours.__doc__ == theirs.__doc__
    assert ours.__init__.__qualname__ == theirs.__init__.__qualname__
    assert set(dir(theirs)) == set(dir(ours))
    shown = [(f.name, f.type, f.default) for f in dataclasses.fields(ours)]
    assert shown == [(f.name, f.type, f.default) for f in dataclasses.fields(theirs)]


def test_the_very_same_object_is_equal_though_it_differs_from_itself() -> None:
    nan = float("nan")
    for make in (quick, standard):
        one = make(_One)
        assert one(nan) == one(nan)
        assert one(nan) != one(float("nan"))
    assert quick(_None)() != quick(_None)()
    nothing = quick(_None)
    assert nothing() == nothing()
    assert repr(nothing()) == repr(standard(_None)())


@pytest.mark.parametrize("make", [quick, standard])
def test_nothing_can_be_assigned_or_deleted(make: Callable[[type[Any]], type[Any]]) -> None:
    value = make(_Plain)("Moss", Decimal(2))
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot assign to field 'balls'"):
        value.balls = Decimal(3)
    with pytest.raises(dataclasses.FrozenInstanceError, match="cannot delete field 'balls'"):
        del value.balls
    with pytest.raises((dataclasses.FrozenInstanceError, TypeError)):
        value.other = 1
    assert value.balls == 2
    with pytest.raises(TypeError, match="missing 2 required positional arguments"):
        make(_Plain)()


def test_a_value_is_pickled_and_copied() -> None:
    value = Picked("Moss", Decimal(2), codes=("a",))
    assert pickle.loads(pickle.dumps(value)) == value
    assert copy.copy(value) == value
    assert copy.deepcopy(value) == value


class _Changed:
    """With a method of its own that would be made."""

    value: int

    def __eq__(self, other: object) -> bool:
        return isinstance(other, type(self))

    def __hash__(self) -> int:
        return 1


class _Loose:
    """Not for the quick way."""

    value: int = dataclasses.field(default=1, compare=False)


def test_whatever_else_is_asked_for_is_left_to_the_standard_one() -> None:
    changed = quick(_Changed)
    assert changed(1) == changed(2)
    without = quick(_Loose)
    assert without(1) == without(2)
    loose = frozen.dataclass()(copied(_One))(1.0)
    loose.value = 2.0
    assert loose.value == 2.0


class _Anew:
    """Defaults that are made for each value, and something kept beside them."""

    name: str
    found: dict[str, int] = dataclasses.field(default_factory=dict)
    many: tuple[int, ...] = ()

    @functools.cached_property
    def size(self) -> int:
        return len(self.found)


def test_a_default_is_made_for_each_value() -> None:
    for decorator in (frozen.dataclass, dataclasses.dataclass):
        cls = decorator(frozen=True)(copied(_Anew))
        one, other = cls("a"), cls("a")
        assert one == other
        assert one.found is not other.found
        assert cls("a", {"b": 1}, (2,)).size == 1
        assert one.size == 0
        assert repr(one).endswith("(name='a', found={}, many=())")
        assert str(inspect.signature(cls)).count("<factory>") == 1
        with pytest.raises(TypeError, match="unhashable"):
            hash(one)
        with pytest.raises(dataclasses.FrozenInstanceError):
            one.name = "b"


class _Disordered:
    """A default too early."""

    first: int = 1
    second: int


@pytest.mark.parametrize("make", [quick, standard])
def test_defaults_come_last(make: Callable[[type[Any]], type[Any]]) -> None:
    with pytest.raises(TypeError):
        make(_Disordered)


def test_what_is_stated_is_made_quickly() -> None:
    assert model.Stripe.__repr__ is model.Shade.__repr__
