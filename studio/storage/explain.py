"""Validation errors and broken TOML told in the maker's words, each with its place in the file."""

from __future__ import annotations

from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from studio.core.money import MINOR_DIGITS
from studio.storage.dangling import dotted
from studio.storage.kinds import Kind
from studio.storage.layout import Path, line_of
from studio.storage.problems import FileProblem, nearest, shorten
from studio.storage.records import schema

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic import ValidationError
    from pydantic_core import ErrorDetails

_LETTER = "one letter from A to Z"
_LOOSE_LIMIT = 10**6
"""Limits from here on only guard the program, and are not worth telling."""


def explain(kind: Kind, file: str, text: str, error: ValidationError) -> list[FileProblem]:
    """Every problem of one file, in the order of its lines."""
    problems = [
        _problem(_schemas()[kind.value], file, text, details)
        for details in error.errors(include_url=False)
    ]
    return sorted(problems, key=lambda p: (p.line or 0, p.key))


@lru_cache(maxsize=1)
def _schemas() -> dict[str, dict[str, Any]]:
    return schema()


def _problem(whole: Mapping[str, Any], file: str, text: str, details: ErrorDetails) -> FileProblem:
    context: Mapping[str, Any] = details.get("ctx", {})
    path: Path = tuple(details["loc"])
    if path and path[-1] == "[key]":
        path = path[:-1]
        return _key_problem(file, text, path)
    if details["type"] == "twice":
        path = (*path, int(context["index"]), str(context["key"]))
    found, allowed, sentence = _words(whole, path, details, context)
    return FileProblem(file, dotted(path), line_of(text, path), found, allowed, sentence)


def _key_problem(file: str, text: str, path: Path) -> FileProblem:
    """A name that the maker gives to a part of a table, such as a slot's letter."""
    named = {"slots": "slot", "fibres": "fibre"}.get(str(path[0]), "column")
    allowed = _LETTER if named == "slot" else "a name of some letters"
    found = shorten(path[-1])
    sentence = f"{found} cannot name a {named}: it must be {allowed}."
    return FileProblem(file, dotted(path), line_of(text, path), found, allowed, sentence)


def _words(
    whole: Mapping[str, Any], path: Path, details: ErrorDetails, context: Mapping[str, Any]
) -> tuple[str, str, str]:
    """What was found, what is allowed, and the sentence."""
    name = _named(path)
    found = _shown(details["input"])
    match details["type"]:
        case "extra_forbidden":
            return _unknown_key(whole, path)
        case "missing":
            if path == ("format",):
                return (
                    "nothing",
                    "format = 1",
                    "The format is missing: write format = 1 at the top.",
                )
            allowed = describe(whole, path)
            return "nothing", allowed, f"{name} is missing; it must be {allowed}."
        case "enum":
            allowed = describe(whole, path)
            near = nearest(str(details["input"]), _part(whole, path).get("enum", ()))
            return found, allowed, f"{found} is not known as {name}{_meant(near, allowed)}"
        case "currency":
            allowed = "an ISO 4217 code, such as EUR"
            near = nearest(str(details["input"]), sorted(MINOR_DIGITS))
            return (
                found,
                allowed,
                f"{found} is no currency that is known here{_meant(near, allowed)}",
            )
        case _:
            return _special(path, details, context) or (
                found,
                describe(whole, path),
                f"{name} must be {describe(whole, path)}, but {found} is written.",
            )


def _special(
    path: Path, details: ErrorDetails, context: Mapping[str, Any]
) -> tuple[str, str, str] | None:
    """Words for what a schema cannot say; None where it can."""
    name, found, kind = _named(path), _shown(details["input"]), details["type"]
    if kind.startswith("length_"):
        return _length_words(name, found, kind, context)
    if kind == "string_too_short":
        return found, "some text", f"{name} must not be empty."
    if kind == "string_too_long":
        most = f"at most {context['max_length']} characters"
        return found, most, f"{name} may have {most}."
    if kind == "string_pattern_mismatch" and "x00" in context["pattern"]:
        allowed = "text without control characters"
        return found, allowed, f"{name} must be {allowed}, but {found} is written."
    if kind == "decimal_max_places":
        return found, "at most 6 decimals", f"{name} may have at most 6 decimals."
    if kind == "less_than" and context["lt"] == 1 and (percent := _percent(details["input"])):
        allowed = "a share of one, less than 1"
        return (
            found,
            allowed,
            f"{name} is a share of one, so less than 1: for {found} percent write {percent}.",
        )
    return _tied_words(name, kind, details["input"], context)


def _percent(given: object) -> str | None:
    """What someone who wrote 20 for 20 percent should have written; None for any other slip."""
    try:
        number = Decimal(str(given))
    except ArithmeticError:
        return None
    return f"{(number / 100).normalize():f}" if 1 < number < 100 else None


def _length_words(
    name: str, found: str, kind: str, context: Mapping[str, Any]
) -> tuple[str, str, str]:
    if kind == "length_unit":
        number = found.strip('"').strip()
        allowed = f'"{number} cm" or "{number} in"'
        return found, allowed, f"{name} has no unit: write {allowed}, whichever is meant."
    if kind == "length_unit_unknown":
        units = "mm, cm, m or in"
        return found, units, f'"{context["unit"]}" is no unit of length here: use {units}.'
    rule = "more than zero"
    return found, rule, f"{name} must be {rule}, but {found} is written."


def _tied_words(
    name: str, kind: str, given: object, context: Mapping[str, Any]
) -> tuple[str, str, str] | None:
    """The rules that tie several values of a table together."""
    match kind:
        case "fibres":
            total = f"{context['total']} in all"
            return total, "100 in all", f"The fibres are {total}; they must sum to 100 percent."
        case "twice":
            what, code = context["what"], shorten(context["code"])
            place = {"lot": "shade", "customer": "file"}.get(what, "yarn")
            rule = f"a {context['key']} stands once in a {place}"
            return code, f"each {context['key']} once", f"The {what} {code} is here twice; {rule}."
        case "kinds":
            text = "The last kind is the body and has no rows; all others have."
            return "other kinds", "rows on every kind but the last", text
        case "amount":
            both = isinstance(given, dict) and "grams" in given
            found, verb = ("both", "are") if both else ("neither", "is")
            text = f"Either grams or balls must be given, but {found} {verb}."
            return found, "grams or balls", text
        case "hours":
            allowed = 'hours of a day from 0 to 24, such as 3, 2.5 or "2:30"'
            return (
                _shown(given),
                allowed,
                f"{name} must be {allowed}, but {_shown(given)} is written.",
            )
        case "days":
            found = f"{context['last']}"
            text = f"The last day off, {found}, is before the first, {context['first']}."
            return found, "a last day on or after the first", text
        case "validity":
            found = f"{context['until']}"
            text = f"The quote is valid until {found}, before it was sent on {context['on']}."
            return found, "a day on or after it was sent", text
        case "claims":
            names = str(context["given"])
            text = f"A run has one claim at most, but {names} are given."
            return names, "one of hold, pin and on_order", text
        case "claim_missing":
            names = str(context["names"])
            text = f'"{context["what"]}" ties a part of a run, but nothing says to what.'
            return "nothing", names, text
        case _:
            return None


def _named(path: Path) -> str:
    """The last key of a path, as the subject of a sentence."""
    keys = [part for part in path if isinstance(part, str)]
    if path and isinstance(path[-1], int) and keys:
        return f"{keys[-1]} {path[-1] + 1}"
    return f'"{keys[-1]}"' if keys else "The file"


def _shown(value: object) -> str:
    if isinstance(value, dict):
        return "a table"
    return "a list" if isinstance(value, list | tuple) else shorten(value)


def _meant(near: str | None, allowed: str) -> str:
    return f'; did you mean "{near}"?' if near else f"; it must be {allowed}."


def _unknown_key(whole: Mapping[str, Any], path: Path) -> tuple[str, str, str]:
    keys = list(_part(whole, path[:-1]).get("properties", {}))
    key, allowed = str(path[-1]), ", ".join(keys)
    near = nearest(key, keys)
    found = shorten(key)
    hint = f'; did you mean "{near}"?' if near else f"; the keys here are {allowed}."
    return found, allowed, f"{found} is not a key here{hint}"


def _part(whole: Mapping[str, Any], path: Path) -> Mapping[str, Any]:
    """The part of a schema that a path leads to; empty where it leads out of it."""
    part: Mapping[str, Any] = whole
    for step in path:
        if isinstance(step, int):
            lists = [p for p in (part, *part.get("anyOf", ())) if "items" in p]
            part = _resolved(whole, lists[0]["items"]) if lists else {}
        elif step in part.get("properties", {}):
            part = _resolved(whole, part["properties"][step])
        else:
            inner = list(part.get("patternProperties", {}).values())
            inner.append(part.get("additionalProperties") or {})
            part = _resolved(whole, inner[0]) if isinstance(inner[0], dict) else {}
    return part


def _resolved(whole: Mapping[str, Any], part: Mapping[str, Any]) -> Mapping[str, Any]:
    if "$ref" in part:
        name = part["$ref"].rpartition("/")[2]
        return {**whole["$defs"][name], **{k: v for k, v in part.items() if k != "$ref"}}
    return part


def describe(whole: Mapping[str, Any], path: Path) -> str:
    """What a file may hold at this path, in words, from its schema."""
    part = _part(whole, path)
    # A number may also be text, and a list of colours may be one: the first is what is told.
    part = part.get("anyOf", (part,))[0]
    if "enum" in part:
        return "one of " + ", ".join(f'"{word}"' for word in part["enum"])
    match part.get("type"):
        case "integer":
            return "a whole number" + _range(part)
        case "number":
            return "a number" + _range(part)
        case "boolean":
            return "true or false"
        case "array":
            most = f" of at most {part['maxItems']}" if "maxItems" in part else ""
            return f"a list{most}"
        case "string":
            return _text_words(part)
        case _:
            keys = ", ".join(part.get("required", ()))
            return f"a table with {keys}" if keys else "a table"


def _range(part: Mapping[str, Any]) -> str:
    low, above = part.get("minimum"), part.get("exclusiveMinimum")
    high, below = part.get("maximum"), part.get("exclusiveMaximum")
    told = high is not None and high < _LOOSE_LIMIT
    if low is not None and told:
        return f" from {low:g} to {high:g}"
    words = []
    if low is not None:
        words.append(f"at least {low:g}")
    if above is not None:
        words.append(f"more than {above:g}")
    if told:
        words.append(f"at most {high:g}")
    if below is not None:
        words.append(f"less than {below:g}")
    return f" of {' and '.join(words)}" if words else ""


def _text_words(part: Mapping[str, Any]) -> str:
    pattern = part.get("pattern", "")
    if part.get("format") == "date":
        return "a date without quotes, such as 2026-03-14"
    if "examples" in part:
        shown = " or ".join(f'"{example}"' for example in part["examples"])
        return f"a number and its unit, such as {shown}"
    if pattern.startswith("^#"):
        return 'a colour such as "#a4512a"'
    if pattern.startswith("^[A-Z"):
        return _LETTER
    if pattern.startswith("^[0-9]{8}"):
        return 'the digits under a barcode in quotes, such as "4006381333931"'
    return "text in quotes"
