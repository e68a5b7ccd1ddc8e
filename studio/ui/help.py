"""Help for the pane at hand, made from the registry and the keys in force."""

from __future__ import annotations

from textual.content import Content

from studio.ui.columns import wrap
from studio.ui.dialogs.message import Words
from studio.ui.keymap import Keymap
from studio.ui.keys import ACTIONS, BY_ID, EVERYWHERE, GROUPS, MOVING, TYPED, Action, key_words
from studio.ui.panes.marks import ASSUMED_WORDS, FOUND_WORDS, ROUGH_WORDS
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
    "orders": "What is quoted, promised, in stock and over. Booked work is laid over the weeks, "
    "earliest due date first; a piece whose yarn has still to come lets the next one go first.",
    "enquiry": "The piece tried behind all that is promised; nothing is changed until it is quoted "
    "or booked. Holds stay where they are; what moving them would free is offered apart.",
    "trade": "How you charge and work, and for whom. Every price and day is reckoned from it.",
    "buying": "The purchase that costs least with shipping and covers what is short in time, over "
    "all shades at once. It is shown at once and bettered while you look.",
    "suppliers": "Whom you buy from and on what terms, and what each of them offers. A supplier "
    "without days, or an offer that cannot be, is left out of every plan.",
    "receiving": "What is on order, and the parcel on the table bag by bag. What it would do to "
    "lots, prices and pieces is told before it is put on the shelf.",
    "library": "The yarns with their shades, the stitches, and the swatches that tell size and "
    "grams.",
}

KEY_WIDTH = 16

KEYMAP_WORDS = (
    "Keys can be changed in keymap.toml in the studio's folder, under [keys], such as "
    '"stripes.more" = "ctrl+u". The names are those in grey here.'
)


def help_for(group: str, keymap: Keymap, width: int) -> Words:
    """The help sheet of one pane, its lines wrapped to a width."""
    title = GROUPS.get(group, group)
    lines = [Content(line) for line in wrap(INTRO.get(group, ""), width)]
    lines += [Content(""), Content.styled(title, "bold $focus")]
    for action in ACTIONS:
        if action.group == group:
            lines += _action_lines(action, keymap, width)
    for key, words in TYPED.get(group, ()):
        lines += _lines(key, words, "", width)
    lines += [Content(""), Content.styled(GROUPS[EVERYWHERE], "bold $focus")]
    for action in ACTIONS:
        if action.group == EVERYWHERE:
            lines += _action_lines(action, keymap, width)
    for key, words in MOVING:
        lines += _lines(key, words, "", width)
    lines += [Content(""), Content.styled("Marks", "bold $focus")]
    for words in (FOUND_WORDS, ROUGH_WORDS, ASSUMED_WORDS, LOST_WORDS, "", KEYMAP_WORDS):
        lines += [Content(line) for line in wrap(words, width)]
    return Words(f"Help: {title.lower()}", Content("\n").join(lines))


def _action_lines(action: Action, keymap: Keymap, width: int) -> list[Content]:
    keys = "  ".join(key_words(k) for k in keymap.of(action).split(",") if k)
    words = f"{action.label}. {action.help}"
    found = f"in {keymap.shown(BY_ID['palette'])}"
    return _lines(keys or found, words, action.id, width)


def _lines(keys: str, words: str, name: str, width: int) -> list[Content]:
    """Keys on the left, words beside them, and the action's name behind the last of them."""
    room = max(16, width - KEY_WIDTH)
    texts = wrap(words, room)
    if name and len(texts[-1]) + len(name) + 2 > room:
        texts.append("")
    lines = [
        Content.assemble((f"{keys if at == 0 else '':<{KEY_WIDTH}}", "bold"), text)
        for at, text in enumerate(texts)
    ]
    if name:
        gap = "  " if texts[-1] else ""
        lines[-1] = Content.assemble(lines[-1], gap, (name, "$quiet"))
    return lines
