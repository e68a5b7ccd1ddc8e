"""What each command does; all figures come from the workshop's snapshot."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import TYPE_CHECKING

from studio.errors import StudioError

# The core is read in by the command that needs it: opening the app paints its frame before.
if TYPE_CHECKING:
    import argparse

    from studio.asked import Snapshot
    from studio.cli import report
    from studio.core.model import Studio
    from studio.workshop import Workshop

EXIT_FINE, EXIT_SHORT, EXIT_FILE = 0, 1, 2
MOST_AMOUNT = 1_000_000_000
"""The greatest number that the files take."""


class CommandError(StudioError):
    """A command that asks for something that is not there."""

    title = "Not understood"


def run(chosen: argparse.Namespace) -> int:
    """Run the chosen command and return its exit status."""
    match chosen.command:
        case "check":
            return _check(chosen)
        case "show":
            return _show(chosen)
        case "new":
            from studio.cli.new import new_project, new_studio

            return new_studio(chosen) if chosen.kind == "studio" else new_project(chosen)
        case "schema":
            return _schema(chosen)
        case "completion":
            return _completion(chosen)
        case "open" | None:
            return _open(chosen)
        case _:
            return _run_of_group(chosen)


def _run_of_group(chosen: argparse.Namespace) -> int:
    """Run a command that lies with its like in a module of its own."""
    match chosen.command:
        case "enquire" | "orders" | "quote" | "book":
            from studio.cli import orders

            return orders.run(chosen)
        case "used" | "closing":
            from studio.cli import using

            return using.run(chosen)
        case "buy" | "staples":
            from studio.cli import buying

            return buying.run(chosen)
        case "receive":
            from studio.cli import receiving

            return receiving.run(chosen)
        case "import" | "export":
            from studio.cli import tables

            return tables.run(chosen)
        case _:
            raise CommandError(f"There is no command '{chosen.command}'.")


def studio_folder(folder: Path | None) -> Path:
    """The folder that was named, or the maker's own studio."""
    if folder is not None:
        return folder
    from studio.paths import own_studio

    return own_studio()


def existing_folder(folder: Path | None) -> Path:
    """The folder that was named, or the maker's own studio; refuses where there is none."""
    place = studio_folder(folder)
    if not place.is_dir():
        raise CommandError(
            f"There is no studio folder at {place}. Make one with: stripewright new studio {place}"
        )
    return place


@contextmanager
def opened(folder: Path | None, *, warn: bool = True) -> Iterator[Workshop]:
    """A studio with every lot worked out exactly, with progress where a terminal shows it.

    Its solver processes end with it. Files that need her are named, unless the command does so.
    """
    place = existing_folder(folder)
    from studio.workshop import Workshop

    workshop = Workshop.open(place)
    say_told(workshop.told)
    try:
        workshop.settle_here(_progress if sys.stderr.isatty() else None)
        if warn:
            _warn(workshop.snapshot)
        yield workshop
    finally:
        workshop.close()


def settled(folder: Path | None, *, warn: bool = True) -> Snapshot:
    """What there is to tell of a studio."""
    with opened(folder, warn=warn) as workshop:
        return workshop.snapshot


def say_told(told: Iterable[str]) -> None:
    """Say what was done with a save that had been cut short, apart from what a script reads."""
    for words in told:
        print(f"stripewright: {words}", file=sys.stderr)


def _warn(snapshot: Snapshot) -> None:
    """Say that the answer may lack something, where a script's answer on the output stays whole."""
    files = list(dict.fromkeys(p.file for p in snapshot.problems))
    if files:
        from studio.core import say

        verb = "needs" if len(files) == 1 else "need"
        print(
            f"stripewright: {say.either(files, 'and')} {verb} you; what is wrong there may be left "
            "out of this. stripewright check tells how to mend it.",
            file=sys.stderr,
        )


def _progress(done: int, total: int) -> None:
    ending = "\n" if done == total else ""
    print(f"\rworking out the lots: {done} of {total} shades", end=ending, file=sys.stderr)


@contextmanager
def undisturbed() -> Iterator[None]:
    """Ctrl+C is not heard while files are written, so that nothing stays half done."""
    import signal

    kept = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, kept)


def exit_status(snapshot: Snapshot) -> int:
    """2 where a file is wrong, else 1 where something promised is short, else 0."""
    if snapshot.problems:
        return EXIT_FILE
    return EXIT_SHORT if snapshot.plan.promised_short else EXIT_FINE


def print_json(document: report.Json) -> None:
    """Print a document: with indents for a reader at a terminal, in one line for a program."""
    import json

    indent = 2 if sys.stdout.isatty() else None
    print(json.dumps(document, indent=indent, ensure_ascii=False))


def _check(chosen: argparse.Namespace) -> int:
    snapshot = settled(chosen.folder, warn=False)
    if chosen.json:
        from studio.cli import report

        print_json(report.check(snapshot))
    else:
        from studio.cli.plain import print_check

        print_check(snapshot)
    return exit_status(snapshot)


def find_project(words: str, studio: Studio) -> str:
    """The key of the project of this file name or name; `CommandError` with the nearest one."""
    if words in studio.project:
        return words
    by_name = {p.name.casefold(): p.key for p in studio.projects}
    key = by_name.get(words.casefold())
    if key is None:
        raise CommandError(
            f"There is no project '{words}'.{near([*studio.project, *by_name], words)}"
        )
    return key


def near(names: Iterable[str], words: str) -> str:
    """' Did you mean ...?' with the name that is nearest to what was typed; nothing without one."""
    from difflib import get_close_matches

    found = get_close_matches(words.casefold(), names, n=1, cutoff=0.4)
    return f" Did you mean '{found[0]}'?" if found else ""


def amount_of(text: str | None, option: str) -> Decimal | None:
    """A number of 0 or more as typed; a percent sign and a decimal comma are read."""
    if text is None:
        return None
    try:
        found = Decimal(text.strip().removesuffix("%").strip().replace(",", "."))
    except InvalidOperation:
        raise CommandError(f"{option} is '{text}'; write a number, as 20 or 419.90.") from None
    if not found.is_finite() or found < 0:
        raise CommandError(f"{option} is '{text}'; it is 0 or more.")
    if found > MOST_AMOUNT:
        raise CommandError(f"{option} is '{text}'; the most is {MOST_AMOUNT:,}.")
    return found


def day_of(text: str | None, option: str) -> date | None:
    """A day as typed."""
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        raise CommandError(f"{option} is '{text}'; write year-month-day, as 2027-03-12.") from None


def _show(chosen: argparse.Namespace) -> int:
    snapshot = settled(chosen.folder)
    key = find_project(chosen.project, snapshot.studio)
    project, plan = snapshot.studio.project[key], snapshot.plan.projects[key]
    if chosen.json:
        from studio.cli import report

        document = {"format": report.FORMAT, "currency": snapshot.studio.settings.currency}
        print_json(document | report.project(project, plan))
    else:
        from studio.cli.plain import print_project

        print_project(project, plan, snapshot)
    return EXIT_FINE


def _schema(chosen: argparse.Namespace) -> int:
    from studio.storage.records import schema

    every = schema()
    if chosen.kind is None:
        print_json(every)
        return EXIT_FINE
    if chosen.kind not in every:
        raise CommandError(f"'{chosen.kind}' is no kind of file; there are {', '.join(every)}.")
    print_json(every[chosen.kind])
    return EXIT_FINE


def _completion(chosen: argparse.Namespace) -> int:
    import shtab

    from studio.cli.parser import build_parser

    print(shtab.complete(build_parser(), shell=chosen.shell))
    return EXIT_FINE


def _open(chosen: argparse.Namespace) -> int:
    if not sys.stdout.isatty() or not sys.stdin.isatty():
        raise CommandError("The studio opens in a terminal; for scripts use check, show or --json.")
    from studio.ui.app import run_app

    if chosen.demo:
        if chosen.folder is not None:
            raise CommandError("--demo opens its own scratch copy; leave the folder out.")
        import tempfile

        from studio.storage.begin import copy_demo

        with tempfile.TemporaryDirectory(prefix="stripewright-demo-") as scratch:
            place = Path(scratch) / "demo"
            copy_demo(place)
            return run_app(place)
    return run_app(studio_folder(chosen.folder))
