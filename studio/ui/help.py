"""Help for the pane at hand, made from the registry and the keys in force."""

from __future__ import annotations

from textual.content import Content

from studio.ui.dialogs.message import Words
from studio.ui.keys import ACTIONS, EVERYWHERE, GROUPS, MOVING, TYPED, Action, Keymap, key_words
from studio.ui.panes.marks import ASSUMED_WORDS, ROUGH_WORDS
from studio.ui.panes.stash import LOST_WORDS

INTRO = {
    "projects": "Every piece, by stage. The piece you stand on is the one all panes speak of.",
    "stripes": "Every stripe of the piece at hand, and the cloth to scale. What you change is "
    "reckoned through at once: size, yarn, lots and cost.",
    "stash": "Every lot in the house. Held is promised to booked pieces; takes is what the piece "
    "at hand takes; left is what the whole plan leaves.",
    "cost": "What each shade of the piece needs and where it comes from. Used is yarn worked, at "
    "its price; cash is what still has to be bought.",
    "findings": "Everything that wants a look, the loudest first.",
}

KEY_WIDTH = 18


def help_for(group: str, keymap: Keymap) -> Words:
    """The help sheet of one pane."""
    lines: list[Content] = [Content(INTRO.get(group, "")), Content("")]
    lines += _part(GROUPS.get(group, group), [a for a in ACTIONS if a.group == group], keymap)
    for key, words in TYPED.get(group, ()):
        lines.append(_line(key, words, ""))
    lines.append(Content(""))
    lines += _part(GROUPS[EVERYWHERE], [a for a in ACTIONS if a.group == EVERYWHERE], keymap)
    lines += [_line(key, words, "") for key, words in MOVING]
    lines += [Content(""), Content.styled("Marks", "bold $focus")]
    lines += [Content(words) for words in (ROUGH_WORDS, ASSUMED_WORDS, LOST_WORDS)]
    lines += [
        Content(""),
        Content("Keys can be changed in keymap.toml in the studio's folder, under [keys]:"),
        Content('"stripes.more" = "ctrl+u". The names are those in grey here.'),
    ]
    return Words(f"Help: {GROUPS.get(group, group).lower()}", Content("\n").join(lines))


def _part(title: str, actions: list[Action], keymap: Keymap) -> list[Content]:
    lines = [Content.styled(title, "bold $focus")]
    for action in actions:
        keys = "  ".join(key_words(k) for k in keymap.of(action).split(",") if k)
        lines.append(_line(keys or "in the palette", f"{action.label}. {action.help}", action.id))
    return lines


def _line(keys: str, words: str, name: str) -> Content:
    return Content.assemble(
        (f"{keys:<{KEY_WIDTH}}", "bold"), words, (f"  {name}" if name else "", "$quiet")
    )
