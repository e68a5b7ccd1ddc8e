"""The standard `dataclass`, made in a quarter of the time.

A check makes over a hundred classes before it reads a file, and the standard decorator writes out
and compiles six methods for each of them, which was a fifth of the whole check. Of a frozen class
only `__init__` is compiled here; its other methods are shared and do what the standard
ones do. Whatever else is asked for is left to the standard decorator.
"""

from __future__ import annotations

import dataclasses
import sys
from collections.abc import Callable, Sequence
from dataclasses import MISSING, Field, FrozenInstanceError
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any, NoReturn

__all__ = ["dataclass"]

_WRITTEN = frozenset(
    {
        "__init__", "__post_init__", "__eq__", "__hash__", "__repr__",
        "__setattr__", "__delattr__", "__getstate__", "__setstate__",
    }
)  # fmt: skip
"""A class that has one of these of its own is left to the standard decorator."""

MADE_ANEW = type("MadeAnew", (), {"__repr__": lambda _: "<factory>"})()
"""Stands for a default that is made for each value."""


def _dataclass(
    *, frozen: bool = False, slots: bool = False, **others: bool
) -> Callable[[type[Any]], type[Any]]:
    def make(cls: type[Any]) -> type[Any]:
        alone = cls.__bases__ == (object,) and _WRITTEN.isdisjoint(vars(cls))
        if frozen and alone and not others and all(map(_is_plain, vars(cls).values())):
            return _made(cls, slots=slots)
        return dataclasses.dataclass(frozen=frozen, slots=slots, **others)(cls)

    return make


def _is_plain(value: object) -> bool:
    """Whether a field, if it is one, has no more to it than a default."""
    if not isinstance(value, Field):
        return True
    plain = value.init and value.repr and value.compare
    return plain and value.hash is None and value.kw_only is MISSING


def _made(plain: type[Any], *, slots: bool) -> type[Any]:
    cls = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(plain)
    fields = dataclasses.fields(cls)
    methods = _SHARED | _compared(tuple(f.name for f in fields)) | {"__init__": _init(cls, fields)}
    if slots:
        methods |= {"__getstate__": _getstate, "__setstate__": _setstate}
    for name, method in methods.items():
        setattr(cls, name, method)
    return cls


def _init(cls: type[Any], fields: Sequence[Field[Any]]) -> Any:
    """`__init__` with the fields as its arguments; assigning goes past the refusal to assign."""
    made_anew = {f.name: f.default_factory for f in fields if f.default_factory is not MISSING}
    defaults = tuple(
        MADE_ANEW if f.name in made_anew else f.default
        for f in fields
        if f.name in made_anew or f.default is not MISSING
    )
    first = len(fields) - len(defaults)
    if any(f.default is MISSING and f.name not in made_anew for f in fields[first:]):
        raise TypeError(f"{cls.__qualname__}: a field without a default follows one with it")
    lines = [
        f"put(self, {name!r}, new[{name!r}]() if {name} is MADE_ANEW else {name})"
        if name in made_anew
        else f"put(self, {name!r}, {name})"
        for name in (f.name for f in fields)
    ] or ["pass"]
    arguments = ", ".join(["self", *(f.name for f in fields)])
    text = "\n  ".join([f"def make(put, new, MADE_ANEW):\n def __init__({arguments}):", *lines])
    made: dict[str, Any] = {}
    # In the names of its module, so that what is asked of its annotations is found.
    exec(f"{text}\n return __init__", vars(sys.modules[cls.__module__]), made)
    init = made["make"](object.__setattr__, made_anew, MADE_ANEW)
    init.__defaults__ = defaults
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    init.__annotations__ = {**{f.name: f.type for f in fields}, "return": None}
    return init


def _compared(names: tuple[str, ...]) -> dict[str, Any]:
    """`__eq__` and `__hash__` by the values of the fields in their order."""
    values: Callable[[Any], tuple[Any, ...]]
    if len(names) > 1:
        values = attrgetter(*names)
    else:
        # One name alone would not make a tuple, which takes the very same object for equal.
        def values(self: Any) -> tuple[Any, ...]:
            return tuple(getattr(self, name) for name in names)

    def equal(self: object, other: object) -> object:
        return (
            values(self) == values(other) if other.__class__ is self.__class__ else NotImplemented
        )

    def hashed(self: object) -> int:
        return hash(values(self))

    return {"__eq__": equal, "__hash__": hashed}


@recursive_repr()
def _repr(self: Any) -> str:
    shown = ", ".join(f"{f.name}={getattr(self, f.name)!r}" for f in dataclasses.fields(self))
    return f"{self.__class__.__qualname__}({shown})"


def _refuse_to_assign(_self: object, name: str, _value: object) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(_self: object, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _getstate(self: Any) -> list[Any]:
    return [getattr(self, f.name) for f in dataclasses.fields(self)]


def _setstate(self: Any, state: list[Any]) -> None:
    for field, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, field.name, value)


_SHARED: dict[str, Any] = {
    "__repr__": _repr,
    "__setattr__": _refuse_to_assign,
    "__delattr__": _refuse_to_delete,
}

if TYPE_CHECKING:
    # The check of types knows the standard one by its name, and all that it promises.
    from dataclasses import dataclass
else:
    dataclass = _dataclass
