"""The maker's own keys: her keymap file read, checked and told in words where it cannot be used."""

from __future__ import annotations

import tomllib
import unicodedata
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Final

from textual.keys import KEY_NAME_REPLACEMENTS

from studio.core.frozen import dataclass
from studio.ui.keys import ACTIONS, ALSO, BY_ID, EVERYWHERE, GROUPS, Action, key_words

KEYMAP_FILE: Final = "keymap.toml"


@dataclass(frozen=True, slots=True)
class Keymap:
    """What the user's keymap says: keys by action id, and what was wrong with it in words."""

    keys: Mapping[str, str]
    problems: tuple[str, ...] = ()

    def of(self, action: Action) -> str:
        """The keys in force for an action."""
        return self.keys.get(action.id, action.keys)

    def shown(self, action: Action) -> str:
        """The first key in force, as it is written on the screen."""
        return key_words(self.of(action))


NO_KEYMAP: Final = Keymap({})


def read_keymap(folder: Path) -> Keymap:
    """The keymap of a studio folder; a file that is wrong is told in words and not used."""
    path = folder / KEYMAP_FILE
    try:
        stated = tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return NO_KEYMAP
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        return Keymap({}, (f"{KEYMAP_FILE} could not be read ({error}). The keys are as always.",))
    return check_keymap(stated)


def check_keymap(stated: Mapping[str, object]) -> Keymap:
    """Sorts what a keymap file states into keys that can be used and problems told in words."""
    keys: dict[str, str] = {}
    problems = [
        f"{KEYMAP_FILE}: '{name}' is not known; keys stand under [keys]."
        for name in stated
        if name not in {"format", "keys"}
    ]
    table = stated.get("keys", {})
    if not isinstance(table, Mapping):
        return Keymap({}, (f"{KEYMAP_FILE}: [keys] must be a table of actions and keys.",))
    for name, value in _flat(table):
        if name not in BY_ID and name not in ALSO:
            near = get_close_matches(name, [*BY_ID, *ALSO], n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            problems.append(f"{KEYMAP_FILE}: there is no action '{name}'.{hint}")
        elif not isinstance(value, str) or not value.strip():
            problems.append(f"{KEYMAP_FILE}: '{name}' must be a key such as \"ctrl+u\".")
        else:
            keys[name] = _normal(value)
            problems += _typed_clash(name, keys[name])
    return Keymap(keys, (*problems, *_clashes(keys)))


def _typed_clash(name: str, keys: str) -> Iterable[str]:
    """Letters and digits are typed in the stripe editor, so that nothing there can sit on them."""
    group = BY_ID[name].group if name in BY_ID else ""
    for key in keys.split(","):
        if group in (EVERYWHERE, "stripes") and len(key) == 1:
            yield (
                f"{KEYMAP_FILE}: '{key}' for '{name}' is typed in the stripe editor, where letters "
                "pick slots and digits are rows; take a sign, ctrl and a letter, or an F-key."
            )


def _flat(table: Mapping[str, object], before: str = "") -> Iterable[tuple[str, object]]:
    for name, value in table.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{before}{name}.")
        else:
            yield before + name, value


def _normal(keys: str) -> str:
    parts = (key.strip() for key in keys.split(","))
    return ",".join(_sign_name(key) if len(key) == 1 else key for key in parts if key)


def _sign_name(key: str) -> str:
    """The name of a sign as key events spell it: 'slash' for '/', 'plus' for '+'."""
    if key.isalnum():
        return key
    name = unicodedata.name(key, key).lower().replace("-", "_").replace(" ", "_")
    return KEY_NAME_REPLACEMENTS.get(name, name)


def _clashes(keys: Mapping[str, str]) -> tuple[str, ...]:
    """Two actions that can be asked for at the same moment and share a key."""
    told: list[str] = []
    taken: dict[tuple[str, str], Action] = {}
    for action in ACTIONS:
        for key in filter(None, keys.get(action.id, action.keys).split(",")):
            groups = GROUPS if action.group == EVERYWHERE else (action.group, EVERYWHERE)
            for group in groups:
                other = taken.get((group, key))
                if other is not None and other is not action and {action.id, other.id} & set(keys):
                    told.append(
                        f"{KEYMAP_FILE}: {key_words(key)} is both '{other.id}' ({other.label}) and "
                        f"'{action.id}' ({action.label}); give one of them another key."
                    )
                    break
            taken.setdefault((action.group, key), action)
    return tuple(dict.fromkeys(told))
