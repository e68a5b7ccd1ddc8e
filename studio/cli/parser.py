"""The command line's words: one parser, from which help and shell completion are made.

Each group of commands has its words in a module of its own, `words_*.py`, which reads in none of
what the commands need. Where a command is named, only the words of its group are put together,
since a script waits for all of it. A new group is a function and a line in `GROUPS`, and a case
in `commands.run`.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from studio import __version__
from studio.cli.words_base import EXIT_STUDIO

if TYPE_CHECKING:
    from studio.cli.words_base import Commands


def _studio(commands: Commands) -> None:
    from studio.cli.words_studio import add_studio

    add_studio(commands)


def _orders(commands: Commands) -> None:
    from studio.cli.words_orders import add_orders

    add_orders(commands)


def _used(commands: Commands) -> None:
    from studio.cli.words_used import add_used

    add_used(commands)


def _buying(commands: Commands) -> None:
    from studio.cli.words_buying import add_buying

    add_buying(commands)


def _tables(commands: Commands) -> None:
    from studio.cli.words_tables import add_tables

    add_tables(commands)


def _tools(commands: Commands) -> None:
    from studio.cli.words_studio import add_tools

    add_tools(commands)


GROUPS = (
    (("open", "check", "show", "new"), _studio),
    (("enquire", "orders", "quote", "book"), _orders),
    (("used", "closing"), _used),
    (("buy", "receive", "staples"), _buying),
    (("import", "export"), _tables),
    (("schema", "completion"), _tools),
)
"""The commands in the order of the help, and what adds their words to the parser."""

COMMANDS = tuple(name for names, _ in GROUPS for name in names)


def build_parser(only: str | None = None) -> argparse.ArgumentParser:
    """Every command and option, or those of the group that a command is in.

    `open` is what a bare `stripewright [FOLDER]` means.
    """
    parser = argparse.ArgumentParser(
        prog="stripewright",
        description="Plan, cost and make striped crochet blankets. Without a command\nit opens the "
        "studio in the terminal: stripewright [FOLDER].",
        epilog=f"{EXIT_STUDIO};\neach command's own: stripewright COMMAND --help",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"stripewright {__version__}")
    parser.add_argument(
        "--demo", action="store_true", help="open a scratch copy of the demo studio"
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    for names, add in GROUPS:
        if only is None or only in names:
            add(commands)
    return parser


def with_default_command(arguments: list[str]) -> list[str]:
    """Put `open` in front where the first plain word is no command, so that a folder opens."""
    first = next((a for a in arguments if not a.startswith("-")), None)
    if first in COMMANDS or any(a in ("-h", "--help", "--version") for a in arguments):
        return arguments
    return ["open", *arguments]
