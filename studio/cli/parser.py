"""The command line's words: one parser, from which help and shell completion are made."""

from __future__ import annotations

import argparse
from pathlib import Path

from studio import __version__

COMMANDS = (
    *("open", "check", "show", "new", "schema", "completion"),
    *("enquire", "orders", "quote", "book"),
)

_EXIT = """exit status: 0 nothing promised is short, 1 something promised is short,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""


def _folder(parser: argparse.ArgumentParser, *, option: bool = False) -> None:
    text = "the studio folder; without it, your own studio in the data folder of this computer"
    if option:
        parser.add_argument("--folder", "-f", type=Path, metavar="FOLDER", help=text)
    else:
        parser.add_argument("folder", nargs="?", type=Path, metavar="FOLDER", help=text)


def build_parser() -> argparse.ArgumentParser:
    """Every command and option; `open` is what a bare `stripewright [FOLDER]` means."""
    parser = argparse.ArgumentParser(
        prog="stripewright",
        description="Plan, cost and make striped crochet blankets. Without a command it opens the "
        "studio in the terminal: stripewright [FOLDER].",
        epilog=_EXIT,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"stripewright {__version__}")
    parser.add_argument(
        "--demo", action="store_true", help="open a scratch copy of the demo studio"
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")

    opening = commands.add_parser("open", help="open a studio in the terminal (the default)")
    _folder(opening)
    opening.add_argument("--demo", action="store_true", help="open a scratch copy of the demo")

    check = commands.add_parser(
        "check",
        help="reconcile every project against the stash",
        epilog=_EXIT,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _folder(check)
    check.add_argument("--json", action="store_true", help="print the whole answer as JSON")

    show = commands.add_parser("show", help="show one project: size, stripes, yarn, cost, findings")
    show.add_argument("project", metavar="PROJECT", help="its file name without .toml, or its name")
    _folder(show, option=True)
    show.add_argument("--json", action="store_true", help="print it as JSON")

    new = commands.add_parser("new", help="start a studio or a project")
    kinds = new.add_subparsers(dest="kind", metavar="KIND", required=True)
    studio = kinds.add_parser("studio", help="a new studio folder with common stitches in it")
    _folder(studio)
    studio.add_argument("--name", default="My studio", help="what you call it")
    studio.add_argument("--currency", default="EUR", help="three letters, as in ISO 4217")
    studio.add_argument("--units", choices=("cm", "in"), default="cm", help="for lengths")
    project = kinds.add_parser("project", help="a new project in a studio")
    project.add_argument("name", metavar="NAME", help="what you call the piece")
    _folder(project, option=True)
    project.add_argument(
        "--size", required=True, metavar="WxL", help="such as 150x180cm or 60x70in"
    )
    project.add_argument("--stitch", required=True, help="the file name of a stitch, without .toml")
    project.add_argument("--hook", required=True, metavar="MM", help="hook in mm")
    project.add_argument(
        "--slot",
        action="append",
        required=True,
        metavar="A=YARN/SHADE",
        help="map a slot to a shade; once for each slot",
    )
    project.add_argument(
        "--stripes", required=True, metavar="'A6 B4 A6'", help="slots and rows in order worked"
    )
    project.add_argument("--customer", default="", help="who it is for")
    project.add_argument("--due", metavar="YYYY-MM-DD", help="the day it is handed over")

    _order_commands(commands)

    schema = commands.add_parser("schema", help="print the JSON Schema of each kind of file")
    schema.add_argument("kind", nargs="?", metavar="KIND", help="one kind only")

    completion = commands.add_parser("completion", help="print a completion script for your shell")
    completion.add_argument("shell", choices=("bash", "zsh", "tcsh"))
    return parser


_EXIT_ENQUIRE = """exit status: 0 the free stash works it, in time, and nothing booked is made late,
1 something must be bought, it or a booked piece is late, or no price can be made,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""

_EXIT_ORDERS = """exit status: 0 nothing promised is late, 1 something promised is late,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""

_EXIT_QUOTE = """exit status: 0 the paper is made, 2 it is made though a file is wrong,
3 the command itself is wrong, or there is no quote yet"""

_EXIT_BOOK = """exit status: 0 booked, 1 booked, and something promised is short or made late,
2 booked though a file is wrong (2 wins over 1), 3 not booked: the reason is said"""


def _order_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Enquiry, order book, papers and booking."""

    def command(name: str, words: str, status: str) -> argparse.ArgumentParser:
        return commands.add_parser(
            name, help=words, epilog=status, formatter_class=argparse.RawDescriptionHelpFormatter
        )

    project = "its file name without .toml, or its name"
    enquire = command("enquire", "what taking a piece would mean; changes nothing", _EXIT_ENQUIRE)
    enquire.add_argument("project", metavar="PROJECT", help=f"the design: {project}")
    _folder(enquire, option=True)
    enquire.add_argument(
        "--size", metavar="WxL", help="such as 150x180cm; the stripes are fitted to it"
    )
    enquire.add_argument(
        "--slot", action="append", metavar="A=YARN/SHADE", help="another shade; once for each slot"
    )
    enquire.add_argument("--due", metavar="YYYY-MM-DD", help="the day it is wanted for")
    enquire.add_argument("--customer", help="who asks; with '' it is made for stock")
    priced = enquire.add_mutually_exclusive_group()
    priced.add_argument("--price", metavar="AMOUNT", help="try a price: what an hour is paid")
    priced.add_argument("--margin", metavar="PERCENT", help="the price that leaves this margin")
    priced.add_argument("--hourly", metavar="AMOUNT", help="the price that pays this an hour")
    enquire.add_argument("--json", action="store_true", help="print it as JSON")

    orders = command("orders", "the order book and the weeks of handwork", _EXIT_ORDERS)
    _folder(orders)
    orders.add_argument("--json", action="store_true", help="print it as JSON")

    quote = command("quote", "the customer's paper: a quote or an order confirmation", _EXIT_QUOTE)
    quote.add_argument("project", metavar="PROJECT", help=project)
    _folder(quote, option=True)
    quote.add_argument(
        "--form", choices=("text", "markdown", "html", "pdf"), default="text", help="text if none"
    )
    quote.add_argument("--out", type=Path, metavar="FILE", help="write it there")
    quote.add_argument(
        "--send", action="store_true", help="first freeze today's price as the quote"
    )
    quote.add_argument(
        "--confirmation", action="store_true", help="the order confirmation instead of the quote"
    )
    quote.add_argument(
        "--wording", type=Path, metavar="FILE", help="a file with wording of your own"
    )

    book = command("book", "book an idea or a quote: hold its lots, keep its price", _EXIT_BOOK)
    book.add_argument("project", metavar="PROJECT", help=project)
    _folder(book, option=True)
    book.add_argument("--due", metavar="YYYY-MM-DD", help="the day agreed, if it is another one")


def with_default_command(arguments: list[str]) -> list[str]:
    """Put `open` in front where the first plain word is no command, so that a folder opens."""
    first = next((a for a in arguments if not a.startswith("-")), None)
    if first in COMMANDS or any(a in ("-h", "--help", "--version") for a in arguments):
        return arguments
    return ["open", *arguments]
