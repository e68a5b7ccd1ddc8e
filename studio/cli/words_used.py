"""The words of the commands about used yarn: used, closing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio.cli.words_base import PROJECT, as_json, command, folder

if TYPE_CHECKING:
    from studio.cli.words_base import Commands

_EXIT_USED = """exit status: 0 shown or noted, 2 a file is wrong,
3 the command itself is wrong, or a promise of yarn would break: nothing is noted"""

_EXIT_CLOSING = """exit status: 0 shown, 2 a file is wrong, 3 the command itself is wrong"""


def add_used(commands: Commands) -> None:
    """What a piece has used, and its account."""
    used = command(
        commands, "used", "the yarn a piece has used: shown, or taken out of its lots", _EXIT_USED
    )
    used.add_argument("project", metavar="PROJECT", help=PROJECT)
    folder(used, option=True)
    used.add_argument(
        "--lot",
        action="append",
        metavar="YARN/SHADE/LOT=GRAMS",
        help="so many grams were used of this lot; once for each lot",
    )
    used.add_argument(
        "--left",
        action="append",
        metavar="YARN/SHADE/LOT=GRAMS",
        help="so many grams are left of this lot, all its balls together, by the scale",
    )
    used.add_argument(
        "--as-worked-out",
        action="store_true",
        help="all other lots as the rows done are worked out; without any of these it only shows",
    )
    used.add_argument(
        "--out-already",
        action="store_true",
        help="only note it: the yarn has left the lots already",
    )
    used.add_argument("--on", metavar="YYYY-MM-DD", help="the day; today if none")
    as_json(used)

    closing = command(
        commands,
        "closing",
        "a piece's account: grams, hours and money, actual against planned",
        _EXIT_CLOSING,
    )
    closing.add_argument("project", metavar="PROJECT", help=PROJECT)
    folder(closing, option=True)
    as_json(closing)
