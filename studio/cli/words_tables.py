"""The words of the commands about spreadsheets: import, export."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from studio.cli.words_base import as_json, command, folder

if TYPE_CHECKING:
    import argparse

    from studio.cli.words_base import Commands

KINDS = ("stash", "prices", "orders")
DELIMITERS = {",": ",", ";": ";", "|": "|", "tab": "\t"}
DATES = {"year": "year first", "day": "day first", "month": "month first"}

_IMPORT = """A table is any CSV file: its delimiter, decimal mark and encoding are found by
looking. Its columns are matched by their names, or as you say once; that is
remembered in columns.toml of the studio:
  stripewright import stash shelf.csv --columns yarn=Quality balls='Full balls'

{stash}
{prices}
{orders}

Lots, prices and pieces that are there are set to what the table says, so the
same table again changes nothing; what it does not tell stays. With --add its
balls are put to those on the shelf. --dry-run says all of it and writes nothing.

exit status: 0 all of it is taken in, or can be, 1 a row has a problem: nothing is
taken in, or with --leave-out all but such rows, 2 a file of the studio is wrong
(2 wins over 1), 3 it is no such table, or could not be saved: the reason is said"""

_EXPORT = """What is written can be imported again. A field that a spreadsheet would take for
a formula gets an apostrophe before it, which import takes away.

exit status: 0 it is written, 2 it is written without what could not be read,
3 the command itself is wrong, or it could not be written"""


def add_tables(commands: Commands) -> None:
    """Tables in and out."""
    taking = command(
        commands, "import", "take in a stash, a price list or orders from a spreadsheet",
        _IMPORT.format(**{kind: _fields(kind) for kind in KINDS}),
    )  # fmt: skip
    taking.add_argument("kind", choices=KINDS, metavar="KIND", help="stash, prices or orders")
    taking.add_argument("file", type=Path, metavar="FILE", help="a CSV file")
    folder(taking, option=True)
    taking.add_argument(
        "--columns", nargs="+", default=[], metavar="OURS=YOURS",
        help="which column of yours holds which field; OURS= leaves a field out",
    )  # fmt: skip
    _form(taking, "is")
    taking.add_argument(
        "--dates", choices=tuple(DATES), help="what comes first in dates such as 3.4.2027"
    )
    taking.add_argument(
        "--add", action="store_true", help="add the balls to lots that are there (stash only)"
    )
    taking.add_argument(
        "--leave-out", action="store_true", help="take in the others where rows have problems"
    )
    taking.add_argument("--dry-run", action="store_true", help="write nothing")
    as_json(taking)
    _giving(commands)


def _giving(commands: Commands) -> None:
    giving = command(
        commands, "export", "write the stash, the prices or the orders as a table", _EXPORT
    )
    giving.add_argument("kind", choices=KINDS, metavar="KIND", help="stash, prices or orders")
    folder(giving, option=True)
    giving.add_argument("--out", type=Path, metavar="FILE", help="write it there; else it is shown")
    giving.add_argument("--overwrite", action="store_true", help="in the place of a file there")
    _form(giving, "is to be")
    giving.add_argument(
        "--bom", action="store_true", help="begin with a byte-order mark, which some need"
    )


def _form(parser: argparse.ArgumentParser, verb: str) -> None:
    parser.add_argument(
        "--delimiter", choices=tuple(DELIMITERS), metavar="MARK",
        help=f"what {verb} between two fields: a comma, ';', '|' or the word tab",
    )  # fmt: skip
    parser.add_argument(
        "--decimal", choices=(".", ","), metavar="MARK",
        help=f"what {verb} before decimals: a point or a comma",
    )  # fmt: skip


def _fields(kind: str) -> str:
    """The fields of a table in a few lines."""
    return textwrap.fill(f"Fields of {kind}: {', '.join(FIELDS[kind])}.", 80)


FIELDS = {
    "stash": ("yarn", "shade", "lot", "balls", "part", "price", "shipping", "bought",
              "supplier", "kept", "note", "code lost"),
    "prices": ("supplier", "yarn", "shade", "pack", "from", "price", "counts", "note"),
    "orders": ("name", "customer", "stage", "due", "booked", "width", "length", "price",
               "like", "note"),
}  # fmt: skip
"""Named here as well, since the parser reads in nothing of the core; a test holds them together."""
