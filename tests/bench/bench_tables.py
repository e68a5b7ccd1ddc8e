"""How long a long table takes: `python -m tests.bench.bench_tables` prints the table.

All lots are of one shade, which is where looking through the shade for each of them would show.
Seconds of the processor, since the machine is shared; each is the least of three.
"""

from __future__ import annotations

import sys
import time
from datetime import date
from decimal import Decimal

from studio.core.model import Fibre, Library, Settings, Shade, Studio, Yarn
from studio.core.sheets.taking import Intake, Request, SheetKind, intake
from studio.core.spreadsheet import detect, guess, read_table

LOTS = 4000
LIMIT_S = 2.0


def asked(lots: int, letter: str = "L") -> Request:
    """A table of so many lots of one shade, each with three balls."""
    rows = (f"meadow,12,{letter}{number},3\n" for number in range(lots))
    text = "yarn,shade,lot,balls\n" + "".join(rows)
    table = read_table(text, detect(text))
    columns = guess(SheetKind.STASH.fields, table.headers)
    return Request(SheetKind.STASH, table, columns, date(2026, 11, 1))


def empty() -> Studio:
    """A studio with that shade and no lot."""
    shade = Shade("12", "Rust", ("#a4512a",))
    yarn = Yarn("meadow", "Meadow", 5, (Fibre("wool", Decimal(100)),), Decimal(100), (shade,))
    return Studio(Settings("Tables"), Library((yarn,)))


def took(request: Request, studio: Studio) -> tuple[float, Intake]:
    """Seconds of the processor, and what came of it."""
    times = []
    for _ in range(3):
        begun = time.process_time()
        found = intake(request, studio)
        times.append(time.process_time() - begun)
    return min(times), found


def main() -> int:
    """Print the table; 1 where the limit is passed."""
    quarter, _ = took(asked(LOTS // 4), empty())
    first, found = took(asked(LOTS), empty())
    again, _ = took(asked(LOTS), found.after)
    others, _ = took(asked(LOTS, "M"), found.after)
    rows = [
        (f"{LOTS // 4:,} lots of one shade", quarter),
        (f"{LOTS:,} lots of one shade", first),
        ("the same table again", again),
        ("as many other lots of that shade", others),
    ]
    for what, seconds in rows:
        print(f"{what:<36}{seconds:7.2f} s")
    kept = max(first, again, others) < LIMIT_S
    print(f"limit {LIMIT_S} s: {'kept' if kept else 'PASSED'}")
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main())
