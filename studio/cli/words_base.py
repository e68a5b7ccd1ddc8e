"""What the words of all commands share: how a command is added, and how a studio is named."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]
    """Where commands are added to; argparse names its type only for the check of types."""

EXIT_STUDIO = """exit status: 0 nothing promised is short, 1 something promised is short,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""

PROJECT = "its file name without .toml, or its name"


def command(commands: Commands, name: str, words: str, status: str = "") -> argparse.ArgumentParser:
    """A new command; `words` stand in the list of commands, `status` under its own help."""
    return commands.add_parser(
        name,
        help=words,
        description=f"{words[:1].upper()}{words[1:]}.",
        epilog=status or None,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def folder(parser: argparse.ArgumentParser, *, option: bool = False) -> None:
    """Which studio: a plain word, or --folder where another word stands in its place."""
    text = "the studio folder; without it, your own studio in the data folder of this computer"
    if option:
        parser.add_argument("--folder", "-f", type=Path, metavar="FOLDER", help=text)
    else:
        parser.add_argument("folder", nargs="?", type=Path, metavar="FOLDER", help=text)


def as_json(parser: argparse.ArgumentParser, text: str = "print it as JSON") -> None:
    """The answer for a script."""
    parser.add_argument("--json", action="store_true", help=text)
