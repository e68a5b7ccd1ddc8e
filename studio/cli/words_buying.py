"""The words of the commands about buying in bulk: buy, receive, staples."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from studio.cli.words_base import PROJECT, as_json, command, folder

if TYPE_CHECKING:
    import argparse

    from studio.cli.words_base import Commands

HELD = "held"
STAGES = (HELD, "idea", "quoted", "booked", "making", "finishing")
FORMS = ("text", "csv", "html")
SHARES = ("value", "weight")

_EXIT_BUY = """Without --place nothing is put on order. Holds move only with --move-holds and
--place together; --move-holds alone shows the plan as it then would be.

exit status: 0 everything that is short can be had in time, or nothing is short,
1 something cannot be had in time or at all, 2 a file is wrong (2 wins over 1),
3 not answered or not placed: the reason is said, 130 cancelled by Ctrl+C"""

_EXIT_RECEIVE = """A purchase in two dye lots, first looked at, then put on the shelf:
  stripewright receive mill --bag Moss 2207 8 --bag Moss 2208 4
  stripewright receive mill --bag Moss 2207 8 --bag Moss 2208 4 --put

Without PURCHASE it lists what is on order. Without --put it only tells what the
parcel means, since a command cannot be undone. Bags that are typed on the
screen of receiving already are counted in.

SHADE is a name or code, with its yarn where two are called alike ('Fenlight
Moss', fenlight/12), or the number under the barcode of the ball band. LOT is
the dye lot on the band: '?' where the band is lost, - for yarn without lots.

exit status: 0 nobody is left short or waiting, 1 a piece is short again or
still waits, or an order is overdue, 2 a file is wrong (2 wins over 1),
3 not received: the reason is said"""

_EXIT_STAPLES = """Without --place nothing is put on order.

exit status: 0 no staple is to be reordered, or --order can be had, 1 it is time
to reorder one, 2 a file is wrong (2 wins over 1), 3 the command itself is
wrong, or --order cannot be had: the reason is said"""


def add_buying(commands: Commands) -> None:
    """Buying, receiving, staples."""
    _buy(commands)
    _receive(commands)
    _staples(commands)


def _buy(commands: Commands) -> None:
    buy = command(
        commands, "buy", "the cheapest purchase that covers what is short, in time", _EXIT_BUY
    )
    folder(buy)
    buy.add_argument(
        "--project", action="append", metavar="PROJECT",
        help=f"only for this piece, {PROJECT}; once for each",
    )  # fmt: skip
    buy.add_argument(
        "--stage", action="append", choices=STAGES, metavar="STAGE",
        help="only for pieces in this stage, once for each: idea, quoted, booked, making, "
        "finishing, or held for the last three, which is what is bought for without --project "
        "and --stage",
    )  # fmt: skip
    buy.add_argument(
        "--limit", metavar="SECONDS", help="look no longer than this, and take the best plan so far"
    )
    buy.add_argument(
        "--move-holds", action="store_true",
        help="take the move of holds that is offered: its plan is shown, and with --place the "
        "holds move and the orders of that plan are placed, both in one step",
    )  # fmt: skip
    _ordering(buy)
    as_json(buy)


def _staples(commands: Commands) -> None:
    staples = command(
        commands, "staples", "the shades that are always kept, and when to reorder", _EXIT_STAPLES
    )
    folder(staples)
    staples.add_argument(
        "--order", metavar="SHADE", help="order this staple for the shelf, where it is best ordered"
    )
    staples.add_argument(
        "--balls", metavar="N", help="how many; without it, as many as are best ordered at once"
    )
    _ordering(staples)
    as_json(staples)


def _ordering(parser: argparse.ArgumentParser) -> None:
    """What is done with orders."""
    parser.add_argument(
        "--place", action="store_true", help="put it on order; what it is for then waits for it"
    )
    parser.add_argument(
        "--papers",
        type=Path,
        metavar="DIR",
        help="write an order for each supplier into this folder",
    )  # fmt: skip
    parser.add_argument(
        "--form", action="append", choices=FORMS, metavar="FORM",
        help="text, csv or html for the papers, once for each; all three without it",
    )  # fmt: skip


def _receive(commands: Commands) -> None:
    receive = command(
        commands, "receive", "what a parcel means, bag by bag; and onto the shelf", _EXIT_RECEIVE
    )
    receive.add_argument(
        "purchase", nargs="?", metavar="PURCHASE",
        help="its file name without .toml, or its supplier where one parcel is to come from there",
    )  # fmt: skip
    folder(receive, option=True)
    _bags(receive)
    _parcel(receive)
    receive.add_argument("--put", action="store_true", help="put it on the shelf")
    receive.add_argument(
        "--take-prices", action="store_true",
        help="where a ball cost more than the yarn's own price, make that its price",
    )  # fmt: skip
    as_json(receive)


def _bags(receive: argparse.ArgumentParser) -> None:
    bags = receive.add_argument_group("the bags, once for each")
    bags.add_argument(
        "--bag", action="append", nargs=3, metavar=("SHADE", "LOT", "BALLS"), help="good balls"
    )
    bags.add_argument(
        "--all", action="append", nargs=2, metavar=("SHADE", "LOT"),
        help="every ball of a shade that is still to come, in one dye lot",
    )  # fmt: skip
    bags.add_argument(
        "--damaged", action="append", nargs=3, metavar=("SHADE", "LOT", "BALLS"),
        help="ordered, but of no use; they stay outstanding",
    )  # fmt: skip
    bags.add_argument(
        "--wrong", action="append", nargs=2, metavar=("SHADE", "BALLS"),
        help="not ordered, and going back",
    )  # fmt: skip
    bags.add_argument(
        "--price", action="append", nargs=2, metavar=("SHADE", "AMOUNT"),
        help="the price of a ball on the bill, where it is not as ordered",
    )  # fmt: skip


def _parcel(receive: argparse.ArgumentParser) -> None:
    parcel = receive.add_argument_group("the parcel")
    parcel.add_argument(
        "--shipping", metavar="AMOUNT", help="as on the bill; without it, by the supplier's terms"
    )
    parcel.add_argument("--tax", metavar="AMOUNT", help="tax that you do not get back")
    parcel.add_argument(
        "--share",
        choices=SHARES,
        help="shipping is shared by value or weight; without it as typed in the app, or by value",
    )
    parcel.add_argument("--on", metavar="YYYY-MM-DD", help="the day it came; without it, today")
    rest = parcel.add_mutually_exclusive_group()
    rest.add_argument(
        "--rest-arrives", metavar="YYYY-MM-DD", help="when what is missing is to come"
    )
    rest.add_argument("--no-rest", action="store_true", help="what is missing does not come at all")
    parcel.add_argument("--kept", default="", metavar="PLACE", help="where it is kept")
