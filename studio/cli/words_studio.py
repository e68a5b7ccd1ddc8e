"""The words of the commands about a studio as a whole: open, check, show, new; and the tools."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio.cli.words_base import EXIT_STUDIO, PROJECT, as_json, command, folder

if TYPE_CHECKING:
    from studio.cli.words_base import Commands


def add_studio(commands: Commands) -> None:
    """Open, check, show, new."""
    opening = command(commands, "open", "open a studio in the terminal (the default)")
    folder(opening)
    opening.add_argument("--demo", action="store_true", help="open a scratch copy of the demo")

    check = command(commands, "check", "reconcile every project against the stash", EXIT_STUDIO)
    folder(check)
    as_json(check, "print the whole answer as JSON")

    show = command(commands, "show", "show one project: size, stripes, yarn, cost, findings")
    show.add_argument("project", metavar="PROJECT", help=PROJECT)
    folder(show, option=True)
    as_json(show)

    new = command(commands, "new", "start a studio or a project")
    kinds = new.add_subparsers(dest="kind", metavar="KIND", required=True)
    _new_studio(kinds)
    _new_project(kinds)


def _new_studio(kinds: Commands) -> None:
    studio = command(kinds, "studio", "a new studio folder with common stitches in it")
    folder(studio)
    studio.add_argument("--name", default="My studio", help="what you call it")
    studio.add_argument("--currency", default="EUR", help="three letters, as in ISO 4217")
    studio.add_argument("--units", choices=("cm", "in"), default="cm", help="for lengths")


def _new_project(kinds: Commands) -> None:
    project = command(kinds, "project", "a new project in a studio")
    project.add_argument("name", metavar="NAME", help="what you call the piece")
    folder(project, option=True)
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


def add_tools(commands: Commands) -> None:
    """Schema and completion, which need no studio."""
    schema = command(commands, "schema", "print the JSON Schema of each kind of file")
    schema.add_argument("kind", nargs="?", metavar="KIND", help="one kind only")

    completion = command(commands, "completion", "print a completion script for your shell")
    completion.add_argument("shell", choices=("bash", "zsh", "tcsh"))
