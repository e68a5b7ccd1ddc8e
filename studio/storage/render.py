"""The text of a file: written afresh by tomli-w, or changed in place to lose no word of hers."""

from __future__ import annotations

import tomli_w

from studio.storage.kinds import Kind
from studio.storage.layout import What, comments, parts, statements
from studio.storage.read import parse
from studio.storage.tables import to_toml
from studio.storage.things import Thing, settled

LINE_LENGTH = 100
_KEPT = "# Comments that stood elsewhere in this file before it was written afresh:"


def new_text(thing: Thing) -> str:
    """The file of a thing that has none yet."""
    return _on_one_line(tomli_w.dumps(to_toml(thing), multiline_strings=True))


def updated_bytes(kind: Kind, file: str, old: bytes, thing: Thing) -> bytes:
    """The bytes that the file needs to hold `thing`, given those that it has.

    A file in our own order and without comments is written by tomli-w. Any other is changed in
    place; should that not come out right, it is written afresh with its comments at the end.
    """
    was, text, _ = parse(kind, file, old)
    plain = text.replace("\r\n", "\n")
    if was is None:
        done = _afresh(plain, thing)
    elif plain == new_text(was):
        done = new_text(thing)
    else:
        done = _in_place(kind, file, plain, was, thing)
    if "\r\n" in text and text.count("\n") == text.count("\r\n"):
        done = done.replace("\n", "\r\n")
    return (b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b"") + done.encode()


def _in_place(kind: Kind, file: str, text: str, was: Thing, thing: Thing) -> str:
    from tomlkit.exceptions import TOMLKitError

    from studio.storage.inplace import changed
    from studio.storage.values import CannotChangeError

    try:
        done = changed(text, to_toml(was), to_toml(thing))
    except (CannotChangeError, TOMLKitError, LookupError, ValueError):
        return _afresh(text, thing)
    read, _, _ = parse(kind, file, done.encode())
    same = read is not None and settled(read) == settled(thing)
    return done if same else _afresh(text, thing)


def _afresh(text: str, thing: Thing) -> str:
    kept = comments(text)
    done = new_text(thing)
    return "\n".join([done, _KEPT, *kept, ""]) if kept else done


def _on_one_line(text: str) -> str:
    """Put lists of plain values, which tomli-w spreads over lines, on one where they fit."""
    done = ""
    for statement in statements(text):
        words = text[statement.start : statement.end]
        start = statement.value[0]
        if statement.what is What.PAIR and text[start] == "[":
            inner = [text[a:b] for _, a, b in parts(text, start)]
            line = f"{text[statement.start : start]}[{', '.join(inner)}]\n"
            if all(value[0] not in "[{" for value in inner) and len(line) <= LINE_LENGTH:
                words = line
        done += words
    return done
