"""Makes `studio/storage/quick_table.py` from the types of the files; `python -m tests.quick_table`.

It walks the schemas that pydantic made of the records, and stops at whatever it does not know, so
that a new kind of field is met here and not in a file.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from studio.storage import rules
from studio.storage.records import RECORDS

PLACE = Path(__file__).parents[1] / "studio/storage/quick_table.py"

HEAD = '''"""What the files may hold, for `quick`: made from `records*.py`, never by hand."""

# Made by `python -m tests.quick_table`.
# fmt: off
# ruff: noqa: E501

from __future__ import annotations
'''

Schema = Mapping[str, Any]


class _Writer:
    """The lines that are written so far, and what they need."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.names: dict[str, str] = {}
        """By expression, what it is called: the same check is made once."""
        self.records: dict[type, str] = {}
        self.enums: dict[str, set[str]] = {}

    def check(self, schema: Schema, refs: Mapping[str, Schema]) -> str:
        """The expression of the check that this schema asks for."""
        match schema["type"]:
            case "definition-ref":
                return self.check(refs[schema["schema_ref"]], refs)
            case "nullable":
                # No file holds a null.
                return self.check(schema["schema"], refs)
            case "model":
                return self.record(schema, refs)
            case "tuple":
                return self._many(schema, refs)
            case "dict":
                self._knows(schema, "keys_schema", "values_schema")
                keys = self.check(schema["keys_schema"], refs)
                return f"named({keys}, {self.check(schema['values_schema'], refs)})"
            case "function-plain" | "function-before" | "function-after":
                return self._function(schema, refs)
            case kind:
                return self._value(kind, schema)

    def _value(self, kind: str, schema: Schema) -> str:
        """The check of a plain value."""
        match kind:
            case "bool" | "date":
                self._knows(schema)
                return "a_truth" if kind == "bool" else "a_date"
            case "str":
                self._knows(schema, "min_length", "max_length", "pattern")
                given = {"least": schema.get("min_length"), "most": schema.get("max_length"),
                         "pattern": schema.get("pattern")}  # fmt: skip
                return self._shared("text", given)
            case "int":
                self._knows(schema, "ge", "le")
                return self._shared("whole", {"least": schema["ge"], "most": schema["le"]})
            case "decimal":
                self._knows(schema, "ge", "gt", "le", "lt", "decimal_places", "strict")
                bounds = {k: Decimal(schema[k]) for k in ("ge", "gt", "le", "lt") if k in schema}
                return self._shared("exact", {**bounds, "places": schema.get("decimal_places")})
            case "enum":
                self._knows(schema, "cls", "members", "sub_type", "strict")
                return self._shared("word", {"kind": schema["cls"]})
            case "literal":
                self._knows(schema, "expected")
                return self._shared("one_of", {"words": {w: w for w in schema["expected"]}})
            case _:
                raise TypeError(f"{kind} is not known here")

    def _many(self, schema: Schema, refs: Mapping[str, Schema]) -> str:
        self._knows(schema, "items_schema", "variadic_item_index", "max_length", "strict")
        (item,) = schema["items_schema"]
        assert schema["variadic_item_index"] == 0
        assert schema["strict"] is False
        return _call("many", {"most": schema.get("max_length")}, self.check(item, refs))

    def _function(self, schema: Schema, refs: Mapping[str, Schema]) -> str:
        """A rule of the file, before or after its type or instead of it."""
        rule = schema["function"]["function"]
        assert schema["function"]["type"] == "no-info"
        if isinstance(rule, functools.partial):
            # Where a length is bounded behind a rule, pydantic has made it one more rule.
            names = {"min_length": "least", "max_length": "most"}
            given = {names[key]: bound for key, bound in rule.keywords.items()}
            assert schema["type"] == "function-after"
            return f"then({self.check(schema['schema'], refs)}, {_call('number_of', given)})"
        assert getattr(rules, rule.__name__) is rule, f"{rule} is no rule of rules.py"
        name = f"rules.{rule.__name__}"
        match schema["type"]:
            case "function-plain":
                return name
            case "function-before":
                return f"then({name}, {self.check(schema['schema'], refs)})"
            case _:
                return f"then({self.check(schema['schema'], refs)}, {name})"

    @staticmethod
    def _knows(schema: Schema, *keys: str) -> None:
        """Stop at anything in a schema that would be passed over."""
        beside = {"type", "ref", "metadata", "serialization", "json_schema_input_schema"}
        if unknown := schema.keys() - beside - set(keys):
            raise TypeError(f"{unknown} of {schema['type']} is not known here")

    def _shared(self, make: str, given: Mapping[str, Any]) -> str:
        """A check that is made once and used by its name."""
        for value in given.values():
            self.learn(value)
        made = _call(make, given)
        if made not in self.names:
            self.names[made] = f"{make}_{sum(m.startswith(make) for m in self.names) + 1}"
            self.lines.append(f"{self.names[made]} = {made}")
        return self.names[made]

    def record(self, schema: Schema, refs: Mapping[str, Schema]) -> str:
        """The name of the check of a record, which stands in a line of its own."""
        cls = schema["cls"]
        if cls not in self.records:
            config = schema["config"]
            assert config["extra_fields_behavior"] == "forbid"
            assert config["strict"] is True
            inner = schema["schema"]
            assert inner["type"] == "model-fields"
            lines = [f"    {name}={self.field(name, field, refs)},"
                     for name, field in inner["fields"].items()]  # fmt: skip
            self.records[cls] = _snake(cls.__name__)
            self.lines += ["", f"{self.records[cls]} = table(", *lines, ")"]
        return self.records[cls]

    def field(self, name: str, field: Schema, refs: Mapping[str, Schema]) -> str:
        """Check and default of a field, and its key where that is no name in Python."""
        schema, default = field["schema"], "NEEDED"
        if schema["type"] == "default":
            assert not schema.get("validate_default")
            value = schema["default"] if "default" in schema else schema["default_factory"]()
            self.learn(value)
            default = _written(value)
            schema = schema["schema"]
        key = field.get("validation_alias", name)
        return f"({self.check(schema, refs)}, {default}{'' if key == name else f', {key!r}'})"

    def learn(self, value: object) -> None:
        """Note what must be imported to write a value down."""
        kind = value if isinstance(value, type) else type(value)
        if issubclass(kind, Enum) or is_dataclass(kind):
            self.enums.setdefault(kind.__module__, set()).add(kind.__name__)
        for inner in _within(value):
            self.learn(inner)


def _within(value: object) -> Iterator[object]:
    if isinstance(value, BaseModel):
        yield from (getattr(value, name) for name in type(value).model_fields)
    elif is_dataclass(value) and not isinstance(value, type):
        yield from (getattr(value, f.name) for f in fields(value))
    elif isinstance(value, tuple):
        yield from value


def _written(value: object) -> str:
    """A value as it is written in Python."""
    if isinstance(value, type):
        return value.__name__
    if isinstance(value, Enum):
        return f"{type(value).__name__}.{value.name}"
    if isinstance(value, BaseModel):
        names = type(value).model_fields
        return f"Row({', '.join(f'{n}={_written(getattr(value, n))}' for n in names)})"
    if is_dataclass(value):
        return f"{type(value).__name__}({', '.join(map(_written, _within(value)))})"
    if isinstance(value, tuple):
        return f"({''.join(_written(v) + ', ' for v in value)})"
    assert value is None or isinstance(value, bool | int | str | Decimal | dict), value
    return repr(value)


def _call(make: str, given: Mapping[str, Any], *first: str) -> str:
    shown = [f"{key}={_written(value)}" for key, value in given.items() if value is not None]
    return f"{make}({', '.join([*first, *shown])})"


def _snake(name: str) -> str:
    return "".join(f"_{c.lower()}" if c.isupper() else c for c in name).lstrip("_")


def module() -> str:
    """The whole module."""
    writer = _Writer()
    files = {}
    for kind, record in RECORDS.items():
        record.model_rebuild(force=True)
        schema = record.__pydantic_core_schema__
        refs: dict[str, Schema] = {}
        if schema["type"] == "definitions":
            refs = {d["ref"]: d for d in schema["definitions"]}
            schema = schema["schema"]
        files[kind.name] = writer.check(schema, refs)
    imports = ["from decimal import Decimal", ""]
    for name, kinds in sorted(writer.enums.items()):
        listed = "".join(f"    {kind},\n" for kind in sorted(kinds))
        imports.append(f"from {name} import (\n{listed})")
    imports += ["from studio.storage import rules", "from studio.storage.quick import ("]
    body = "\n".join(writer.lines)
    known = ("NEEDED", "Check", "Row", "a_date", "a_truth", "exact", "many", "named", "number_of",
             "one_of", "table", "text", "then", "whole", "word")  # fmt: skip
    imports += [f"    {name}," for name in known] + [")"]
    body += "\n\nFILES: dict[str, Check] = {\n"
    body += "\n".join(f'    "{name}": {check},' for name, check in files.items())
    body += '\n}\n"""By the name of the kind of file."""\n'
    return "\n".join([HEAD, *imports, "", body])


if __name__ == "__main__":
    PLACE.write_text(module(), encoding="utf-8")
