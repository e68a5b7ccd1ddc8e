"""Where things lie: the maker's own studio, and the themes and demo that come with the program."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def own_studio() -> Path:
    """The maker's own studio in the platform's data folder; it need not be there yet."""
    import platformdirs

    return Path(platformdirs.user_data_dir("stripewright", appauthor=False)) / "studio"


def shipped(name: str) -> Path:
    """A folder that comes with the program: in the package once installed, else in the checkout."""
    inside = _PACKAGE / "_shipped" / name
    return inside if inside.is_dir() else _PACKAGE.parent / name


def shipped_themes() -> Path:
    """The theme files that come with the program."""
    return shipped("themes")


def demo_studio() -> Path:
    """The demo studio, which is only ever opened as a copy."""
    return shipped("projects") / "demo"
