"""The entry point: reads the words, runs the command, and turns trouble into one clear line."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence

from studio.cli.parser import COMMANDS, build_parser, with_default_command
from studio.errors import StudioError

EXIT_WRONG_COMMAND = 3
EXIT_CANCELLED = 130
"""As shells count it: 128 and the number of the signal that Ctrl+C sends."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status (see `stripewright --help`)."""
    words = with_default_command(list(sys.argv[1:] if arguments is None else arguments))
    try:
        chosen = build_parser(words[0] if words[0] in COMMANDS else None).parse_args(words)
    except SystemExit as stop:
        # argparse ends with 2 on a wrong word, which for us means a wrong file.
        return 0 if stop.code in (0, None) else EXIT_WRONG_COMMAND
    try:
        from studio.cli import commands

        return commands.run(chosen)
    except StudioError as trouble:
        print(f"stripewright: {trouble.title}: {trouble.text}", file=sys.stderr)
        return EXIT_WRONG_COMMAND
    except BrokenPipeError:
        # The reader (head, less) has had enough; say nothing more to it.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        # The terminal has put ^C behind whatever stood on the line.
        start = "\n" if sys.stderr.isatty() else ""
        print(f"{start}stripewright: Cancelled: nothing is changed.", file=sys.stderr)
        return EXIT_CANCELLED


def run() -> None:
    """The console script."""
    sys.exit(main())
