"""How fast 'what if I take it' is in the large studio: `python -m tests.bench.enquiry`."""

from __future__ import annotations

import statistics
import time
from dataclasses import replace
from datetime import date

from studio.core.enquiry import ask, ground_of
from studio.core.model import Stage
from studio.core.reconcile import reconcile
from tests.bench.large import large_studio

TODAY = date(2026, 11, 25)


def main() -> None:
    """Open each of twenty quotes as a trial, then edit it; print medians in milliseconds."""
    studio = large_studio()
    kept = reconcile(studio).kept
    opened, edited = [], []
    for quote in [p for p in studio.projects if p.stage is Stage.QUOTED][:20]:
        started = time.perf_counter()
        ground = ground_of(studio, TODAY, kept, quote.key)
        ask(ground, quote)
        opened.append(time.perf_counter() - started)
        first = quote.stripes[0]
        trial = replace(quote, stripes=(replace(first, rows=first.rows + 2), *quote.stripes[1:]))
        started = time.perf_counter()
        ask(ground, trial)
        edited.append(time.perf_counter() - started)
    for name, times in (("opened", opened), ("after an edit", edited)):
        milliseconds = sorted(1000 * t for t in times)
        print(f"{name}: median {statistics.median(milliseconds):.0f}, most {milliseconds[-1]:.0f}")


if __name__ == "__main__":
    main()
