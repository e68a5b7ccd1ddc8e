"""The words of the commands about orders: enquire, orders, quote, book."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from studio.cli.words_base import PROJECT, as_json, command, folder

if TYPE_CHECKING:
    from studio.cli.words_base import Commands

_EXIT_ENQUIRE = """exit status: 0 the free stash works it, in time, and nothing booked is made late,
1 something must be bought, it or a booked piece is late, or no price can be made,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""

_EXIT_ORDERS = """exit status: 0 nothing promised is late, 1 something promised is late,
2 a file is wrong (2 wins over 1), 3 the command itself is wrong"""

_EXIT_QUOTE = """exit status: 0 the paper is made, 2 it is made though a file is wrong,
3 the command itself is wrong, or there is no quote yet"""

_EXIT_BOOK = """exit status: 0 booked, 1 booked, and something promised is short or made late,
2 booked though a file is wrong (2 wins over 1), 3 not booked: the reason is said"""


def add_orders(commands: Commands) -> None:
    """Enquiry, order book, papers and booking."""
    _enquire(commands)

    orders = command(commands, "orders", "the order book and the weeks of handwork", _EXIT_ORDERS)
    folder(orders)
    as_json(orders)

    _quote(commands)

    book = command(
        commands, "book", "book an idea or a quote: hold its lots, keep its price", _EXIT_BOOK
    )
    book.add_argument("project", metavar="PROJECT", help=PROJECT)
    folder(book, option=True)
    book.add_argument("--due", metavar="YYYY-MM-DD", help="the day agreed, if it is another one")


def _enquire(commands: Commands) -> None:
    enquire = command(
        commands, "enquire", "what taking a piece would mean; changes nothing", _EXIT_ENQUIRE
    )
    enquire.add_argument("project", metavar="PROJECT", help=f"the design: {PROJECT}")
    folder(enquire, option=True)
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
    as_json(enquire)


def _quote(commands: Commands) -> None:
    quote = command(
        commands, "quote", "the customer's paper: a quote or an order confirmation", _EXIT_QUOTE
    )
    quote.add_argument("project", metavar="PROJECT", help=PROJECT)
    folder(quote, option=True)
    quote.add_argument(
        "--form", choices=("text", "markdown", "html", "pdf"), default="text", help="text if none"
    )
    quote.add_argument("--out", type=Path, metavar="FILE", help="write it there")
    quote.add_argument(
        "--replace", action="store_true", help="--out may take the place of a file that is there"
    )
    quote.add_argument(
        "--send", action="store_true", help="first freeze today's price as the quote"
    )
    quote.add_argument(
        "--confirmation", action="store_true", help="the order confirmation instead of the quote"
    )
    quote.add_argument(
        "--wording", type=Path, metavar="FILE", help="other wording than the studio's wording.txt"
    )
