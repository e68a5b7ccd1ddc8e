"""The command line's words: one parser, from which help and shell completion are made.

Each group of commands has its words in a module of its own, `words_*.py`, so that the parser
reads in none of what the commands need. A new group is a line in `GROUPS` and one in
`commands.run`.
"""

from __future__ import annotations

import argparse

from studio import __version__
from studio.cli.words_buying import BUY_COMMANDS, add_buying
from studio.cli.words_orders import ORDER_COMMANDS, add_orders
from studio.cli.words_studio import (
    EXIT_STUDIO,
    STUDIO_COMMANDS,
    TOOL_COMMANDS,
    add_studio,
    add_tools,
)
from studio.cli.words_tables import TABLE_COMMANDS, add_tables

GROUPS = (
    (STUDIO_COMMANDS, add_studio),
    (ORDER_COMMANDS, add_orders),
    (BUY_COMMANDS, add_buying),
    (TABLE_COMMANDS, add_tables),
    (TOOL_COMMANDS, add_tools),
)
"""The commands in the order of the help, and what adds their words to the parser."""

COMMANDS = tuple(name for names, _ in GROUPS for name in names)


def build_parser() -> argparse.ArgumentParser:
    """Every command and option; `open` is what a bare `stripewright [FOLDER]` means."""
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
    for _, add in GROUPS:
        add(commands)
    return parser


def with_default_command(arguments: list[str]) -> list[str]:
    """Put `open` in front where the first plain word is no command, so that a folder opens."""
    first = next((a for a in arguments if not a.startswith("-")), None)
    if first in COMMANDS or any(a in ("-h", "--help", "--version") for a in arguments):
        return arguments
    return ["open", *arguments]
