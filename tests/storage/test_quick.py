"""Files in order are read without pydantic, and never otherwise than pydantic reads them."""

from __future__ import annotations

import copy
import functools
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from studio.storage import quick
from studio.storage.convert import to_core
from studio.storage.kinds import STUDIO_KINDS, Kind
from studio.storage.quick import in_order
from studio.storage.records import RECORDS
from studio.storage.things import Thing
from tests import quick_table

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "projects" / "demo"
BROKEN = ROOT / "tests" / "data" / "broken"


def raw_files(folder: Path) -> Iterator[tuple[str, Kind, dict[str, Any]]]:
    """Every file that is TOML, as `read` takes it."""
    for kind in STUDIO_KINDS:
        pattern = f"{kind.folder}/*.toml" if kind.folder else kind.file()
        for path in sorted(folder.glob(pattern)):
            try:
                raw = tomllib.loads(path.read_text("utf-8-sig"), parse_float=Decimal)
            except (ValueError, ArithmeticError, RecursionError, OSError):
                continue
            yield str(path.relative_to(folder)), kind, raw


def by_pydantic(kind: Kind, raw: dict[str, Any]) -> Thing | None:
    """What pydantic makes of a file; None where it refuses it."""
    try:
        return to_core(kind, "key", RECORDS[kind].model_validate(copy.deepcopy(raw)))
    except ValidationError:
        return None


def quickly(kind: Kind, raw: dict[str, Any]) -> Thing | None:
    """What the quick way makes of it; None where it leaves it to pydantic."""
    row: Any = in_order(kind, copy.deepcopy(raw))
    return None if row is None else to_core(kind, "key", row)


def test_the_table_is_made_from_the_records() -> None:
    """Make it anew with `python -m tests.quick_table`."""
    assert quick_table.PLACE.read_text("utf-8") == quick_table.module()


def test_every_file_of_the_demo_is_read_quickly() -> None:
    files = list(raw_files(DEMO))
    assert len(files) > 80
    for name, kind, raw in files:
        row = quickly(kind, raw)
        assert row is not None, name
        assert repr(row) == repr(by_pydantic(kind, raw)), name


def test_a_check_of_files_in_order_reads_in_no_pydantic() -> None:
    program = (
        "import sys; from studio.cli.main import main; status = main(['check', sys.argv[1]]);"
        "assert not any(name.startswith('pydantic') for name in sys.modules); sys.exit(status)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(DEMO)], capture_output=True, check=False, cwd=ROOT
    )
    assert done.returncode in (0, 1), done.stderr


def test_no_broken_file_is_taken_quickly() -> None:
    files = list(raw_files(BROKEN))
    refused = [name for name, kind, raw in files if by_pydantic(kind, raw) is None]
    assert len(refused) > 10
    for name, kind, raw in files:
        found = quickly(kind, raw)
        assert found is None or repr(found) == repr(by_pydantic(kind, raw)), name


ODD = st.one_of(
    st.sampled_from(
        [
            True, False, 0, 1, -1, 7, 8, 24, 100, 1001, 10**6, 10**9 + 1, 2**70, "", " ", "A", "a",
            "é", "A\n", "a\tb", "a\x00", "x" * 201, "x" * 401, "5", "1.5", "1e3", "2:30", "24:00",
            "150 cm", "0 cm", "150", "60in", "1.5 m", "5 furlongs", "#a4512a", "#a4512A\n", "EUR",
            "XXX", "12345678", "4006381333931", "one", "idea", "booked", "day first", "cm",
            [], {}, [1], ["#a4512a"], ["A"], {"A": 1}, [{}], date(2027, 3, 1),
            datetime(2027, 3, 1, tzinfo=UTC), "2027-03-01",
            *map(Decimal, ("0", "-0", "0.5", "1", "1.0", "0.000001", "0.0000001", "1.0000000",
                           "1E+9", "1E+10", "1E-9", "0E+5", "0E-50", "-1", "100.5", "NaN",
                           "Infinity", "-Infinity", "sNaN", "999999999.999999", "2.25")),
        ]
    ),
    st.decimals(allow_nan=True, allow_infinity=True),
    st.integers(),
    st.text(max_size=5),
    st.dates(),
)  # fmt: skip
"""Values that tomllib may give, many of them at the edge of what some field takes."""


def alike(kind: Kind, raw: dict[str, Any]) -> None:
    """Both ways agree, or the quick one leaves it to the other."""
    found = quickly(kind, raw)
    if found is not None:
        assert repr(found) == repr(by_pydantic(kind, raw))


def places(value: Any) -> Iterator[tuple[Any, Any]]:
    """Every place in a file: what holds it, and its key there."""
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, within in inner:
        yield value, key
        if isinstance(within, dict | list):
            yield from places(within)


FILES = [(kind, raw) for _, kind, raw in raw_files(DEMO)]
KEYS = st.sampled_from(
    ["hold", "pin", "rest", "pairs", "on_order", "grams", "note", "code", "price", "from", "balls"]
)


def change(data: st.DataObject, holder: Any, key: Any) -> None:
    """One place put odd, dropped, doubled, or something added beside it."""
    match data.draw(st.sampled_from(("put", "drop", "beside"))):
        case "put":
            holder[key] = data.draw(ODD)
        case "drop":
            del holder[key]
        case _ if isinstance(holder, dict):
            holder[data.draw(KEYS | st.text(max_size=3))] = data.draw(ODD)
        case _:
            holder.append(copy.deepcopy(holder[key]))


@given(st.data())
def test_a_file_changed_in_some_places_is_read_alike(data: st.DataObject) -> None:
    kind, whole = data.draw(st.sampled_from(FILES))
    raw = copy.deepcopy(whole)
    for _ in range(data.draw(st.integers(1, 3))):
        if found := list(places(raw)):
            change(data, *data.draw(st.sampled_from(found)))
    alike(kind, raw)


def values(schema: Mapping[str, Any], refs: Mapping[str, Any]) -> st.SearchStrategy[Any]:
    """Values that mostly fit a schema of pydantic's, and are odd now and then."""
    match schema["type"]:
        case "definition-ref":
            return st.deferred(lambda: values(refs[schema["schema_ref"]], refs))
        case "nullable" | "default" | "function-after":
            return values(schema["schema"], refs)
        case "function-before":
            return values(schema["schema"], refs) | ODD
        case "tuple":
            return st.lists(values(schema["items_schema"][0], refs), max_size=3)
        case "dict":
            keys, inner = schema["keys_schema"], schema["values_schema"]
            return st.dictionaries(values(keys, refs), values(inner, refs), max_size=3)
        case "model":
            return tables(schema["schema"]["fields"], refs)
        case kind:
            return PLAIN[kind](schema)


PLAIN: dict[str, Callable[[Mapping[str, Any]], st.SearchStrategy[Any]]] = {
    "function-plain": lambda _: st.sampled_from(("15 cm", "60in", "2:30", 3, Decimal("2.5"))) | ODD,
    "str": lambda s: st.from_regex(s.get("pattern", "^[A-Z]{3}$")) | st.text(max_size=8),
    "decimal": lambda s: st.decimals(0, s.get("le", 1), places=3) | st.integers(0, 9) | ODD,
    "int": lambda s: st.integers(s["ge"] - 1, s["le"] + 1),
    "bool": lambda _: st.booleans(),
    "date": lambda _: st.dates(),
    "enum": lambda s: st.sampled_from([m.value for m in s["members"]]),
    "literal": lambda s: st.sampled_from(s["expected"]),
}


def tables(fields: Mapping[str, Any], refs: Mapping[str, Any]) -> st.SearchStrategy[Any]:
    """Tables with all keys that are needed and some of the others."""
    needed: dict[str, Any] = {}
    others: dict[str, Any] = {}
    for name, field in fields.items():
        group = others if field["schema"]["type"] == "default" else needed
        group[field.get("validation_alias", name)] = values(field["schema"], refs)
    return st.fixed_dictionaries(needed, optional=others)


@functools.cache
def of_kind(kind: Kind) -> st.SearchStrategy[Any]:
    RECORDS[kind].model_rebuild(force=True)
    schema: Any = RECORDS[kind].__pydantic_core_schema__
    refs = {d["ref"]: d for d in schema.get("definitions", ())}
    return values(schema["schema"] if schema["type"] == "definitions" else schema, refs)


@pytest.mark.parametrize("kind", RECORDS, ids=lambda kind: kind.value)
@settings(max_examples=30)
@given(st.data())
def test_whatever_a_file_may_hold_is_read_alike(kind: Kind, data: st.DataObject) -> None:
    alike(kind, data.draw(of_kind(kind)) | {"format": 1})


def test_hours_beyond_reckoning_are_refused() -> None:
    raw = {"format": 1, "hours": {"monday": Decimal("1E+9999999")}}
    assert quickly(Kind.TRADE, raw) is None
    assert by_pydantic(Kind.TRADE, raw) is None


@pytest.mark.parametrize(
    ("check", "taken", "left"),
    [
        (quick.text(1, 3, "^[a-z]*$"), ["a", "abc"], ["", "abcd", "a\n", "A", 1, None]),
        (quick.whole(1, 3), [1, 3], [0, 4, True, Decimal(2), "2"]),
        (quick.exact(ge=Decimal(0), lt=Decimal(1), places=2), [Decimal("0.25"), 0, Decimal("-0")],
         [Decimal("0.125"), 1, True, "0.2", Decimal("NaN"), Decimal("-0.1"), 0.5]),
        (quick.many(quick.a_truth, 2), [[], [True, False]], [[True] * 3, (True,), True]),
        (quick.number_of(1, 2), [[1], [1, 2]], [[], [1, 2, 3]]),
        (quick.a_date, [date(2027, 3, 1)], [datetime(2027, 3, 1, tzinfo=UTC), "2027-03-01"]),
    ],
)  # fmt: skip
def test_what_is_unusual_is_left_to_pydantic(
    check: quick.Check, taken: list[Any], left: list[Any]
) -> None:
    for value in taken:
        kept = check(value)
        assert (list(kept) if isinstance(kept, tuple) else kept) == value
    for value in left:
        with pytest.raises(quick.UnsureError):
            check(value)
