"""One value of a TOML file: its text, and that text changed so that what did not change stays."""

from __future__ import annotations

import re
from typing import Any

import tomli_w

from studio.core.frozen import dataclass
from studio.storage.layout import STRING_OR_COMMENT, parts
from studio.storage.match import Table, matched, place_after


class CannotChangeError(Exception):
    """A text laid out in a way that is not followed here; it has to be written afresh."""


def key_text(name: str) -> str:
    """A key, in quotes where it needs them."""
    return tomli_w.dumps({name: 0}).removesuffix(" = 0\n")


def literal(value: Any, *, within: bool = False) -> str:
    """The text of a new value; `within` a table of one line there are no line breaks."""
    if isinstance(value, dict):
        pairs = [f"{key_text(key)} = {literal(v, within=True)}" for key, v in value.items()]
        return f"{{ {', '.join(pairs)} }}" if pairs else "{}"
    if isinstance(value, list):
        shown = [literal(part, within=True) for part in value]
        if not within and value and isinstance(value[0], dict):
            return "[\n" + "".join(f"    {line},\n" for line in shown) + "]"
        return f"[{', '.join(shown)}]"
    whole = tomli_w.dumps({"v": value}, multiline_strings=not within)
    return whole.removeprefix("v = ").removesuffix("\n")


def change_value(text: str, old: Any, new: Any, *, within: bool = False) -> str:
    """The text of a value that was `old`, made to say `new`; `within` a table of one line."""
    if isinstance(new, list) and isinstance(old, list | None) and text.startswith("["):
        return change_list(text, old or [], new, within=within)
    if isinstance(new, dict) and isinstance(old, dict) and text.startswith("{"):
        return _change_inline(text, old, new)
    return literal(new, within=within)


def _change_inline(text: str, old: Table, new: Table) -> str:
    """Change a table that is written on one line."""
    import tomlkit
    from tomlkit.items import InlineTable

    table = tomlkit.value(text)
    if not isinstance(table, InlineTable):
        raise CannotChangeError
    for key in {**old, **new}:
        was, now = old.get(key), new.get(key)
        if now is None:
            del table[key]
        elif key not in table:
            table[key] = tomlkit.value(literal(now, within=True))
        elif was != now:
            table[key] = tomlkit.value(change_value(table[key].as_string(), was, now, within=True))
    done = table.as_string()
    # tomlkit drops the space between a date and the closing bracket, and leaves that of a pair
    # that is gone.
    return f"{done[:-1].rstrip()} }}" if text.endswith(" }") else done


@dataclass(frozen=True, slots=True)
class _Part:
    """An element of a list as text: what stands free before it, what belongs to it, and itself."""

    free: str
    lead: str
    value: str
    trail: str


_COMMA = re.compile(r"(?:\s|#[^\n]*\n)*,")
_LINE_COMMENT = re.compile(r"[ \t]*#[^\n]*")
_BLANK_LINE = re.compile(r"\n[ \t]*(?=\n)")


def _list_parts(text: str) -> tuple[str, list[_Part], str]:
    """The opening of a list with a comment beside it, its elements, and what closes it."""
    found: list[_Part] = []
    beside = _LINE_COMMENT.match(text, 1)
    opening = text[: beside.end() if beside else 1]
    at = len(opening)
    for _, start, end in parts(text, 0):
        after = end
        if comma := _COMMA.match(text, after):
            after = comma.end()
        if comment := _LINE_COMMENT.match(text, after):
            after = comment.end()
        lead = text[at:start]
        free = ""
        for blank in _BLANK_LINE.finditer(lead):
            if "#" in lead[: blank.start()]:
                free = lead[: blank.end()]
        found.append(_Part(free, lead[len(free) :], text[start:end], text[end:after]))
        at = after
    return opening, found, text[at:-1]


def change_list(text: str, old: list[Any], new: list[Any], *, within: bool = False) -> str:
    """The text of a list that was `old`, made to say `new`; comments go with their elements."""
    opening, was, closing = _list_parts(text)
    if not (old and new) and "#" not in text:
        return literal(new, within=within)
    if len(was) != len(old):
        raise CannotChangeError
    came_from = matched([_as_table(v) for v in old], [_as_table(v) for v in new])
    values = [
        literal(now, within=True)
        if origin is None
        else was[origin].value
        if old[origin] == now
        else change_value(was[origin].value, old[origin], now, within=True)
        for now, origin in zip(new, came_from, strict=True)
    ]
    if "\n" not in text:
        inner = text[1:-1]
        pad = inner[: len(inner) - len(inner.lstrip())]
        return f"[{pad}{', '.join(values)}{pad}]" if values else "[]"
    indent = next((m.group() for p in was if (m := re.search(r"\n[ \t]*$", p.lead))), "\n    ")
    free: dict[int, str] = {}
    for i, part in enumerate(was):
        place = place_after(came_from, i - 1)
        free[place] = free.get(place, "") + part.free
    done = _Pieces(indent, opening + free.get(-1, ""))
    for place, (value, origin) in enumerate(zip(values, came_from, strict=True)):
        lead = indent if origin is None else was[origin].lead
        trail = "" if origin is None else was[origin].trail
        done.add(lead if place or "\n" in lead else indent)
        done.add(value)
        bare = not trail.lstrip().startswith(",") and (origin is None or place < len(new) - 1)
        done.add(f",{trail}" if bare else trail)
        done.add(free.get(place, ""))
    done.add(closing if "\n" in closing else f"\n{closing.strip()}")
    return f"{done.text}]"


@dataclass(slots=True)
class _Pieces:
    """Text put together so that nothing lands behind a comment on its line."""

    indent: str
    text: str

    def add(self, piece: str) -> None:
        """Append a piece."""
        last = self.text.rpartition("\n")[2]
        if piece and piece[0] != "\n" and _comment_in(last):
            self.text += self.indent
        self.text += piece


def _comment_in(line: str) -> bool:
    return any(match.group()[0] == "#" for match in STRING_OR_COMMENT.finditer(line))


def _as_table(value: Any) -> Table:
    return value if isinstance(value, dict) else {"": value}
