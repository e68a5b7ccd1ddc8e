"""A TOML file changed in place: only what differs is touched, so that comments, order, blank lines
and the spelling of numbers stay as the maker wrote them.

The text is cut into its tables and pairs, and tomlkit changes a table within a pair. What stands
beside an element of a list (its comment above or at the end of its line) goes with it when it
moves, and goes when it goes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from studio.storage.layout import Statement, What, statements
from studio.storage.match import Table, matched, place_after
from studio.storage.values import CannotChangeError, change_value, key_text, literal


@dataclass(eq=False)
class Section:
    """One table as text: comments above it, header, pairs, and what stands free below them.

    A table that is only implied by the headers of those within it has no text of its own.
    """

    key: str = ""
    element: bool = False
    lead: str = ""
    header: str = ""
    body: str = ""
    tail: str = ""
    inner: list[Section] = field(default_factory=list)

    def text(self) -> str:
        """The table and all within it."""
        own = self.lead + self.header + self.body + self.tail
        return own + "".join(section.text() for section in self.inner)

    def tail_end(self) -> Section:
        """The table whose tail is the end of this one's text."""
        return self.inner[-1].tail_end() if self.inner else self

    def named(self, key: str) -> list[Section]:
        """The tables, or list elements, of this key."""
        return [section for section in self.inner if section.key == key]


def changed(text: str, old: Table, new: Table) -> str:
    """The text of a file that held `old`, made to hold `new`.

    Keys that the text states although `old` leaves them out (defaults) stay. Raises
    CannotChangeError, or what tomlkit raises, where the text is laid out too strangely.
    """
    root = _sections(text if text.endswith("\n") else f"{text}\n")
    _change_section(root, (), old, new)
    done = root.text()
    return done if text.endswith("\n\n") else done.rstrip("\n") + "\n"


def _sections(text: str) -> Section:
    """Cut a file into its tables."""
    root = Section()
    current = root
    for chunk in _chunks(text):
        header = next((s for s in chunk if s.what in (What.TABLE, What.ELEMENT)), None)
        if header is not None:
            current = _place(root, header.keys, header.what is What.ELEMENT)
        _fill(current, text, chunk)
    return root


def _chunks(text: str) -> list[list[Statement]]:
    """Statements by table; comments directly above a header belong to it."""
    chunks: list[list[Statement]] = [[]]
    for statement in statements(text):
        if statement.what in (What.TABLE, What.ELEMENT):
            above: list[Statement] = []
            while chunks[-1] and chunks[-1][-1].what is What.COMMENT:
                above.insert(0, chunks[-1].pop())
            chunks.append([*above, statement])
        else:
            chunks[-1].append(statement)
    return chunks


def _place(root: Section, keys: tuple[str, ...], element: bool) -> Section:
    """A new table at the place that its header names."""
    parent = root
    for key in keys[:-1]:
        last = parent.named(key)[-1:]
        # A table that is only implied is implied anew wherever its parts are torn apart.
        if not last or (not last[0].header and last[0] is not parent.inner[-1]):
            last = [Section(key)]
            parent.inner.append(last[0])
        parent = last[0]
    section = Section(keys[-1], element)
    parent.inner.append(section)
    return section


def _fill(section: Section, text: str, chunk: list[Statement]) -> None:
    """Sort the statements of one table into what stands above, in and below it."""
    pairs = [i for i, s in enumerate(chunk) if s.what is What.PAIR]
    last_pair = pairs[-1] if pairs else -1
    for i, statement in enumerate(chunk):
        words = text[statement.start : statement.end]
        if statement.what in (What.TABLE, What.ELEMENT):
            section.header = words
        elif section.key and not section.header:
            section.lead += words
        elif i <= last_pair:
            section.body += words
        else:
            section.tail += words


def _change_section(section: Section, names: tuple[str, ...], old: Table, new: Table) -> None:
    """Make one table, whose header has these names, hold `new`."""
    in_body: list[str] = []
    held = _pair_keys(section.body)
    for key in [*new, *(k for k in old if k not in new)]:
        was, now = old.get(key), new.get(key)
        if was == now:
            continue
        inner = section.named(key)
        if inner:
            if not _change_inner(section, inner, (*names, key), was, now):
                in_body.append(key)
        elif isinstance(now, dict) and key not in held:
            _append(section, _fresh((*names, key), now, element=False))
        else:
            in_body.append(key)
    if in_body:
        if names and not section.header:
            # It was only implied by the headers of those within it.
            section.header = _header_of(names, section.element)
        section.body = _change_body(section.body, in_body, old, new)


def _change_inner(
    section: Section, inner: list[Section], names: tuple[str, ...], was: Any, now: Any
) -> bool:
    """Change what stands under headers of its own; false where it now has to be a pair."""
    if now is None or (inner[0].element and not _stay_blocks(was, now)):
        for gone in inner:
            _remove(section, gone)
        return now is None
    if inner[0].element:
        _change_elements(section, names, was, now)
    else:
        _change_tables(inner, names, was or {}, now)
    return True


def _stay_blocks(was: Any, now: Any) -> bool:
    """Whether [[blocks]] are changed one by one.

    Not where a plain value or an empty list takes their place, nor where they stated the default,
    which is not among what was.
    """
    return isinstance(was, list) and isinstance(now, list) and bool(now)


def _pair_keys(body: str) -> set[str]:
    return {s.keys[0] for s in statements(body) if s.what is What.PAIR}


def _change_tables(tables: list[Section], names: tuple[str, ...], old: Any, new: Any) -> None:
    """Change one table, which may be torn into several places; what is new goes to the last."""
    rest = set(old) | set(new)
    for table in tables:
        held = _pair_keys(table.body) | {inner.key for inner in table.inner}
        held = rest if table is tables[-1] else held & rest
        rest = rest - held
        was = {key: value for key, value in old.items() if key in held}
        _change_section(table, names, was, {k: v for k, v in new.items() if k in held})


def _remove(section: Section, gone: Section) -> None:
    """Take a table out; comments that stand free below it stay."""
    place = section.inner.index(gone)
    section.inner.remove(gone)
    if free := _free_words(gone):
        if place:
            section.inner[place - 1].tail_end().tail += free
        else:
            section.tail += free


def _free_words(section: Section) -> str:
    words = section.tail + "".join(_free_words(inner) for inner in section.inner)
    return words if "#" in words else ""


def _append(section: Section, new: Section) -> None:
    """Put a new table behind the others, a blank line before it."""
    before = section.tail_end()
    if not before.text().endswith("\n\n"):
        before.tail += "\n"
    section.inner.append(new)


def _header_of(names: tuple[str, ...], element: bool) -> str:
    dotted = ".".join(key_text(name) for name in names)
    return f"[[{dotted}]]\n" if element else f"[{dotted}]\n"


def _fresh(names: tuple[str, ...], value: Table, *, element: bool) -> Section:
    """A table that was not there before."""
    section = Section(names[-1], element)
    tables = {key: inner for key, inner in value.items() if isinstance(inner, dict)}
    section.body = "".join(
        f"{key_text(key)} = {literal(inner)}\n" for key, inner in value.items() if key not in tables
    )
    if section.body or element or not tables:
        section.header = _header_of(names, element)
    for i, (key, inner) in enumerate(tables.items()):
        if i or section.header:
            section.tail_end().tail += "\n"
        section.inner.append(_fresh((*names, key), inner, element=False))
    return section


def _change_elements(section: Section, names: tuple[str, ...], old: Any, new: Any) -> None:
    """Change a list that is written as [[blocks]]."""
    elements = section.named(names[-1])
    if len(elements) != len(old):
        raise CannotChangeError
    free = [_cut_free_words(element) for element in elements]
    spaced = any(element.tail_end().tail for element in elements)
    came_from = matched(old, new)
    made = []
    for now, origin in zip(new, came_from, strict=True):
        if origin is None:
            made.append(_fresh(names, now, element=True))
        else:
            made.append(elements[origin])
            _change_section(elements[origin], names, old[origin], now)
        if spaced and not made[-1].text().endswith("\n\n"):
            made[-1].tail_end().tail += "\n"
    first = section.inner.index(elements[0])
    before = section.inner[first - 1].tail_end() if first else section
    for i, words in enumerate(free):
        holder = place_after(came_from, i)
        # A comment at the end of the file would otherwise belong to what is put behind it.
        apart = "" if words.endswith("\n\n") or not words or holder == len(made) - 1 else "\n"
        (made[holder].tail_end() if holder >= 0 else before).tail += words + apart
    others = [inner for inner in section.inner if inner not in elements]
    section.inner[:] = [*others[:first], *made, *others[first:]]


def _cut_free_words(element: Section) -> str:
    """Take from an element the comments that stand free below it, which do not move with it."""
    end = element.tail_end()
    if "#" not in end.tail:
        return ""
    blank = len(end.tail) - len(end.tail.lstrip("\n"))
    free, end.tail = end.tail[blank:], end.tail[:blank]
    return free


def _change_body(body: str, keys: list[str], old: Table, new: Table) -> str:
    """Change pairs of one table; all others keep every byte."""
    for key in keys:
        done, there = "", False
        for statement in statements(body):
            words = body[statement.start : statement.end]
            if statement.what is What.PAIR and statement.keys[0] == key:
                there = True
                words = _change_pair(words, statement.keys[1:], old.get(key), new.get(key))
            done += words
        body = done if there else _with_pair(body, key, new)
        if there and isinstance(new.get(key), dict):
            body = _with_dotted(body, key, new)
    return body


def _change_pair(words: str, inner: tuple[str, ...], old: Any, new: Any) -> str:
    """Change the value of a pair, or drop it; a comment at the end of its line stays."""
    for key in inner:
        old = old.get(key) if isinstance(old, dict) else None
        new = new.get(key) if isinstance(new, dict) else None
    start, end = next(statements(words)).value
    if new is None:
        after = words[end:].strip()
        return f"{after}\n" if after else ""
    if old == new:
        return words
    return words[:start] + change_value(words[start:end], old, new) + words[end:]


def _with_pair(body: str, key: str, new: Table) -> str:
    """Add a pair behind the nearest one that stands before it in a file of our own."""
    order = list(new)
    before = set(order[: order.index(key)])
    place = 0
    for statement in statements(body):
        if statement.what is What.PAIR and (statement.keys[0] in before or not place):
            place = statement.end
    return f"{body[:place]}{key_text(key)} = {literal(new[key])}\n{body[place:]}"


def _with_dotted(body: str, key: str, new: Table) -> str:
    """Add what is new in a table that is written by dotted keys."""
    pairs = [s for s in statements(body) if s.what is What.PAIR and s.keys[0] == key]
    if not pairs:
        return _with_pair(body, key, new)
    if len(pairs[0].keys) == 1:
        return body
    place, there = pairs[-1].end, {s.keys[1] for s in pairs}
    added = "".join(
        f"{key_text(key)}.{key_text(inner)} = {literal(value, within=True)}\n"
        for inner, value in new[key].items()
        if inner not in there
    )
    return body[:place] + added + body[place:]
