"""The two lines at the foot: what was last done and whether it is saved, and the keys at hand."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from textual.content import Content
from textual.widget import Widget

from studio.ui.columns import CUT, cut
from studio.ui.keymap import NO_KEYMAP, Keymap
from studio.ui.keys import ACTIONS, BESIDE, BY_ID, EVERYWHERE, OF_THE_BENCH, Action

SAY_FOR_S = 6.0
LEAST_NAME = 8

PANES = (
    ("projects", "Projects"),
    ("stripes", "Stripes"),
    ("stash", "Stash"),
    ("cost", "Cost"),
    ("findings", "Findings"),
)


class SayLine(Widget):
    """The last sentence said, and on the right whether all is saved."""

    def __init__(self) -> None:
        super().__init__(id="say")
        self.words = ""
        self.saved = ""
        self._needs_you = False
        self._said = 0

    def say(self, words: str, *, needs_you: bool = False) -> None:
        """Say something; it stays for a while, and longer where it needs her."""
        self.words, self._needs_you = words, needs_you
        self._said += 1
        said = self._said
        self.refresh()
        self.set_timer(SAY_FOR_S * (2 if needs_you else 1), lambda: self._forget(said))

    def _forget(self, said: int) -> None:
        if said == self._said:
            self.words = ""
            self.refresh()

    def show_saved(self, words: str) -> None:
        """Say on the right how it stands with the files."""
        if words != self.saved:
            self.saved = words
            self.refresh()

    def render(self) -> Content:
        """The sentence on the left, the files on the right."""
        width = max(1, self.size.width)
        right = self.saved if len(self.saved) + 12 <= width else ""
        left = cut(self.words, max(0, width - len(right) - 1))
        tone = "bold $needs-you" if self._needs_you else "$foreground"
        return Content.assemble((left, tone), " ", (right, "$quiet"))


class PaneStrip(Widget):
    """The five panes, each with its key: shown where one pane is seen at a time."""

    def __init__(self) -> None:
        super().__init__(id="panes")
        self._shown = ("stripes", 0, "", NO_KEYMAP)

    def show(self, at: str, findings: int, piece: str, keymap: Keymap) -> None:
        """Which pane is at hand, how many findings there are, and the name of the piece."""
        if (at, findings, piece, keymap) != self._shown:
            self._shown = (at, findings, piece, keymap)
            self.refresh()

    def render(self) -> Content:
        """Key and name, five times, along a seam; the piece's name ends it where it fits."""
        at, findings, piece, keymap = self._shown
        parts: list[Content] = [Content.styled("╌ ", "$frame")]
        for pane, name in PANES:
            words = f"{name} {findings}" if pane == "findings" and findings else name
            tone = "bold $focus underline" if pane == at else "$foreground"
            part = Content.assemble((keymap.shown(BY_ID[pane]), "$quiet"), " ", (words, tone))
            parts += [part.stylize(f"@click=app.{pane}()"), Content.styled(" ╌ ", "$frame")]
        line = Content("").join(parts)
        room = self.size.width - line.cell_length
        name = cut(piece, room - 1).rstrip() if room >= LEAST_NAME and piece else ""
        seam = "╌" * max(0, room - len(name) - (1 if name else 0))
        return Content.assemble(line, (seam, "$frame"), " " if name else "", (name, "bold"))


class KeyLine(Widget):
    """The keys of the pane at hand, then those that always work; each can be clicked."""

    def __init__(self) -> None:
        super().__init__(id="keys")
        self._group = "stripes"
        self._keymap = NO_KEYMAP

    def show(self, group: str, keymap: Keymap) -> None:
        """Which pane is at hand, and the keys in force."""
        if (group, keymap) != (self._group, self._keymap):
            self._group, self._keymap = group, keymap
            self.refresh()

    @property
    def text(self) -> str:
        """What it says, plain."""
        return self.render().plain

    def render(self) -> Content:
        """As many keys as fit; the rest is told of by a sign and is in the help."""
        parts: list[Content] = []
        found = shown_keys(self._group, self._keymap)
        fitting = fitted([(a.id, f"{key} {words}") for key, words, a in found], self.size.width)
        for at in fitting:
            key, words, action = found[at]
            part = Content.assemble((key, "bold"), " ", (words, "$quiet"))
            run = action.target if action.group == EVERYWHERE else f"app.pane('{action.verb}')"
            parts.append(part.stylize(f"@click={run}" if "(" in run else f"@click={run}()"))
        if len(fitting) < len(found):
            parts.append(Content.styled(CUT, "$quiet"))
        return Content("   ").join(parts)


KEPT = "rows_done"
"""What is done with every piece on the hook, all day: it keeps its place on a line of some width,
though it stands behind the keys of the pane. Where there is no room, help and palette have it."""

KEPT_FROM = 100
"""From so many cells on that place is kept; on a narrower line the keys of the pane need it."""

GAP, SIGN = 3, 5
"""Cells between two keys, and those kept for the sign that some are left out."""


def fitted(found: Sequence[tuple[str, str]], room: int) -> Sequence[int]:
    """Which keys (id and text) fit, by their place, with room for the sign where some do not."""
    kept = [at for at, (key, _) in enumerate(found) if key == KEPT and room >= KEPT_FROM]
    saved = sum(cell_len(found[at][1]) + GAP for at in kept)
    taken: list[int] = []
    for at, (_, text) in enumerate(found):
        own = cell_len(text)
        left = room - (0 if at in kept else saved)
        if own + (0 if at == len(found) - 1 else SIGN) > left:
            return [*taken, *(k for k in kept if k > at)]
        taken.append(at)
        room -= own + GAP
        saved = 0 if at in kept else saved
    return taken


def shown_keys(group: str, keymap: Keymap) -> Sequence[tuple[str, str, Action]]:
    """The keys of a group for the foot: key, words, action; help comes first, pairs as one."""
    found: list[tuple[str, str, Action]] = []
    here = [a for a in ACTIONS if a.group == group]
    always = [a for a in ACTIONS if a.group == EVERYWHERE]
    if group in BESIDE:
        always = [a for a in always if a.verb not in (*OF_THE_BENCH, group)]
    for action in (BY_ID["help"], *here, *always):
        key = keymap.shown(action)
        if not action.short or not key or (action.verb == "help" and found):
            continue
        if action.id == "stripes.more":
            key = f"{key} {keymap.shown(BY_ID['stripes.fewer'])}"
        found.append((key, action.short, action))
        if action.id == "stripes.more":
            found.append(("a-z", "slot", BY_ID["slots"]))
    return found
