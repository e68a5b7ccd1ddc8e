"""Themes: TOML files of eleven named colours, checked before they are used.

A theme states few colours, and every text colour must be readable on every ground; all the names
Textual's own widgets ask for are made from these, so that nothing on a screen is left to chance.
A file that is wrong is told in sentences and left out; the others are still there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from studio.core.frozen import dataclass
from studio.core.light import contrast, rgb_of

if TYPE_CHECKING:
    from textual.app import App
    from textual.theme import Theme

GROUNDS: Final = ("ground", "field", "raised", "cursor", "cursor_idle")
TEXTS: Final = ("text", "quiet", "focus", "needs_you")
COLOURS: Final = (*GROUNDS, *TEXTS, "on_focus", "frame")
PAIRS: Final = (*((text, ground) for text in TEXTS for ground in GROUNDS), ("on_focus", "focus"))
"""Every text colour with every ground it may stand on."""

KEYS: Final = ("name", "note", "kind", "colours")
KINDS: Final = ("dark", "light")

LEAST_CONTRAST: Final = 4.5
"""WCAG 2.2, success criterion 1.4.3, for text of ordinary size."""

DEFAULT: Final = "felt"
BIGGEST_BYTES: Final = 100_000


@dataclass(frozen=True, slots=True)
class StudioTheme:
    """A theme as its file states it; `key` is the file's name and what studio.toml says."""

    key: str
    name: str
    note: str
    dark: bool
    colours: Mapping[str, str]

    @property
    def label(self) -> str:
        """How a list of themes names it."""
        return f"{self.name}: {self.note.lower()}" if self.note else self.name


@dataclass(frozen=True, slots=True)
class Themes:
    """All themes that could be read, by key, and what was wrong with the others."""

    by_key: Mapping[str, StudioTheme]
    problems: tuple[str, ...] = ()

    def choose(self, wanted: str) -> tuple[str, str | None]:
        """The key to use for what settings ask, and a sentence where that is another one."""
        if not wanted:
            return DEFAULT, None
        if wanted in self.by_key:
            return wanted, None
        near = get_close_matches(wanted, self.by_key, 1)
        meant = f" Did you mean '{near[0]}'?" if near else ""
        return DEFAULT, f"There is no theme '{wanted}'.{meant} '{DEFAULT}' is used."


def shipped_folder() -> Path:
    """Where the themes lie: in the wheel, or beside the package in a checkout."""
    inside = Path(str(files("studio"))) / "_shipped" / "themes"
    return inside if inside.is_dir() else Path(str(files("studio"))).parent / "themes"


def load_themes(*folders: Path) -> Themes:
    """The shipped themes and those in these folders; a later one of the same name wins.

    The default is always there, even if no file can be read.
    """
    found = {DEFAULT: StudioTheme(DEFAULT, "Felt", "Dark and warm", True, _UNTHEMED)}
    problems: list[str] = []
    for folder in (shipped_folder(), *folders):
        try:
            paths = sorted(folder.glob("*.toml"))
        except OSError as error:
            problems.append(f"The folder {folder} cannot be read: {error.strerror}.")
            continue
        for path in paths:
            theme, wrong = read_theme(path)
            problems += wrong
            if theme is not None:
                found[theme.key] = theme
    return Themes(found, tuple(problems))


def first_theme(folder: Path | None) -> tuple[Themes, str]:
    """What the first paint needs: the default, and the one theme that studio.toml asks for.

    Whatever is wrong here is told by `load_themes` and the studio's own reading a moment later.
    """
    found = {DEFAULT: StudioTheme(DEFAULT, "Felt", "Dark and warm", True, _UNTHEMED)}
    try:
        stated = tomllib.loads((folder / "studio.toml").read_text("utf-8")) if folder else {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        stated = {}
    wanted = stated.get("theme", "")
    if folder is None or not isinstance(wanted, str) or not wanted or "/" in wanted:
        return Themes(found), DEFAULT
    for place in (folder / "themes", shipped_folder()):
        theme, _ = read_theme(place / f"{wanted}.toml")
        if theme is not None:
            found[theme.key] = theme
            return Themes(found), theme.key
    return Themes(found), DEFAULT


def read_theme(path: Path) -> tuple[StudioTheme | None, tuple[str, ...]]:
    """The theme in a file, or None, and every problem in words; poor contrast is told but used."""
    where = f"Theme {path.name}"
    try:
        if path.stat().st_size > BIGGEST_BYTES:
            return None, (f"{where}: the file is far too big for a theme.",)
        stated = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        return None, (f"{where}: it cannot be read: {error.strerror}.",)
    except UnicodeDecodeError:
        return None, (f"{where}: it is not UTF-8 text.",)
    except tomllib.TOMLDecodeError as error:
        return None, (f"{where}: it is not TOML: {error}.",)
    problems = [f"{where}: {text}" for text in _problems(stated)]
    if problems:
        return None, tuple(problems)
    colours = {key: str(value) for key, value in stated["colours"].items()}
    theme = StudioTheme(
        path.stem, stated["name"], stated.get("note", ""), stated["kind"] == "dark", colours
    )
    return theme, tuple(f"{where}: {text}" for text in contrast_problems(theme))


def _problems(stated: Mapping[str, object]) -> Iterable[str]:
    """Everything about a file that keeps it from being a theme."""
    yield from _unknown(stated, KEYS, "")
    for key in ("name", "kind"):
        if key not in stated:
            yield f"'{key}' is missing."
    for key in ("name", "note"):
        if key in stated and not isinstance(stated[key], str):
            yield f"'{key}' must be a text in quotes."
    if "kind" in stated and stated["kind"] not in KINDS:
        yield f"'kind' is {stated['kind']!r}; it can be 'dark' or 'light'."
    colours = stated.get("colours")
    if not isinstance(colours, Mapping):
        yield "the table [colours] is missing."
        return
    yield from _unknown(colours, COLOURS, "[colours] ")
    for key in COLOURS:
        if key not in colours:
            yield f"[colours] '{key}' is missing."
        elif not _is_colour(colours[key]):
            yield f"[colours] '{key}' is {colours[key]!r}; a colour is written like '#1b2a3c'."


def _unknown(stated: Mapping[str, object], known: tuple[str, ...], place: str) -> Iterable[str]:
    for key in stated:
        if key not in known:
            near = get_close_matches(key, known, 1)
            meant = f" did you mean '{near[0]}'?" if near else f" allowed are {', '.join(known)}."
            yield f"{place}'{key}' is not known;{meant}"


def _is_colour(value: object) -> bool:
    if not isinstance(value, str):
        return False
    try:
        rgb_of(value)
    except ValueError:
        return False
    return True


def contrast_problems(theme: StudioTheme) -> tuple[str, ...]:
    """A sentence for each pair of colours that is hard to read."""
    found = []
    for text, ground in PAIRS:
        ratio = contrast(theme.colours[text], theme.colours[ground])
        if ratio < LEAST_CONTRAST:
            found.append(
                f"'{text}' on '{ground}' is hard to read: contrast {ratio:.1f}, "
                f"wanted {LEAST_CONTRAST} or more."
            )
    return tuple(found)


def to_textual(theme: StudioTheme) -> Theme:
    """The theme in the form Textual registers."""
    from textual.theme import Theme

    c = theme.colours
    return Theme(
        name=theme.key,
        dark=theme.dark,
        primary=c["focus"],
        secondary=c["focus"],
        accent=c["focus"],
        success=c["focus"],
        warning=c["needs_you"],
        error=c["needs_you"],
        foreground=c["text"],
        background=c["ground"],
        surface=c["field"],
        panel=c["raised"],
        boost=c["raised"],
        variables=variables(c),
    )


def install(app: App[Any], themes: Themes) -> None:
    """Make these the app's only themes."""
    for theme in themes.by_key.values():
        app.register_theme(to_textual(theme))


_COLOURED: Final = {
    # Ours
    "quiet": "quiet",
    "focus": "focus",
    "on-focus": "on_focus",
    "needs-you": "needs_you",
    "frame": "frame",
    "cursor": "cursor",
    "cursor-idle": "cursor_idle",
    # Textual's own, stated since it would round them on its way
    "background": "ground",
    "surface": "field",
    "panel": "raised",
    "boost": "raised",
    "foreground": "text",
    # Texts of Textual's widgets
    "text": "text",
    "text-muted": "quiet",
    "text-disabled": "quiet",
    "foreground-muted": "quiet",
    "foreground-disabled": "quiet",
    "link-color": "focus",
    "link-color-hover": "on_focus",
    "link-background-hover": "focus",
    "button-foreground": "text",
    "button-color-foreground": "on_focus",
    # Cursors and grounds
    "block-cursor-foreground": "text",
    "block-cursor-background": "cursor",
    "block-cursor-blurred-foreground": "text",
    "block-cursor-blurred-background": "cursor_idle",
    "block-hover-background": "cursor_idle",
    "surface-active": "cursor_idle",
    "border": "focus",
    "border-blurred": "frame",
    "input-cursor-background": "focus",
    "input-cursor-foreground": "on_focus",
    "input-selection-background": "focus",
    "input-selection-foreground": "on_focus",
    "screen-selection-background": "focus",
    "screen-selection-foreground": "on_focus",
    # Scroll bars and the footer
    "scrollbar": "frame",
    "scrollbar-hover": "quiet",
    "scrollbar-active": "focus",
    "scrollbar-background": "field",
    "scrollbar-background-hover": "field",
    "scrollbar-background-active": "field",
    "scrollbar-corner-color": "field",
    "footer-foreground": "quiet",
    "footer-background": "ground",
    "footer-key-foreground": "focus",
    "footer-description-foreground": "quiet",
}
"""Which colour of a theme each name in the style sheets has."""

_STYLED: Final = {
    "button-focus-text-style": "bold",
    "block-cursor-text-style": "bold",
    "block-cursor-blurred-text-style": "none",
}

_TONES: Final = {
    "primary": "focus",
    "secondary": "focus",
    "accent": "focus",
    "success": "focus",
    "warning": "needs_you",
    "error": "needs_you",
}
"""Textual's roles, each of which has three names."""


def variables(c: Mapping[str, str]) -> dict[str, str]:
    """Names for style sheets: ours, and all that Textual's own widgets would else derive."""
    made = {name: c[colour] for name, colour in _COLOURED.items()} | _STYLED
    for role, colour in _TONES.items():
        made[role] = c[colour]
        made[f"text-{role}"] = c[colour]
        made[f"{role}-muted"] = c["raised"]
    return made


_UNTHEMED: Final = {
    "ground": "#1b1917",
    "field": "#211f1c",
    "raised": "#35302a",
    "cursor": "#40382c",
    "cursor_idle": "#2e2a25",
    "text": "#ede6db",
    "quiet": "#b3a999",
    "focus": "#86cdc0",
    "on_focus": "#1b1917",
    "needs_you": "#f5967f",
    "frame": "#665e53",
}


def default_variables() -> dict[str, str]:
    """What the app's `get_theme_variable_defaults` gives, so that no style sheet lacks a name."""
    return variables(_UNTHEMED)
