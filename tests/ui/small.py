"""The small studio of `fake`, swatched and weighed, in an open workshop: real answers, quickly."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from textual.pilot import Pilot
from textual.worker import WorkerCancelled

from studio.core.model import GaugeCount, Length, Studio, Swatch, Weighing
from studio.ui.app import StripewrightApp
from studio.workshop import Workshop
from tests.ui import fake

PATIENCE_S = 60.0
"""How long a test waits for what takes a moment on an idle machine."""

# 12 stitches and 8 rows to 10 cm, washed; 24 g worked 20 rows of 120 stitches.
SWATCH = Swatch(
    "half-double-swatch",
    fake.COTTON.key,
    fake.STITCH.key,
    Decimal("5.5"),
    after=GaugeCount(Decimal(12), Length(Decimal(10)), Decimal(8), Length(Decimal(10))),
    weighed=Weighing(Decimal(20), Decimal(120), grams=Decimal(24)),
)


def studio() -> Studio:
    """One yarn with its swatch, four lots, three pieces."""
    whole = fake.studio()
    return replace(whole, library=replace(whole.library, swatches=(SWATCH,)))


@asynccontextmanager
async def opened(
    folder: Path, size: tuple[int, int] = (120, 36), whole: Studio | None = None
) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    """The app on the small studio (or another one), read and painted."""
    made = whole or studio()
    app = StripewrightApp(folder, workshop_factory=lambda _: Workshop(made))
    async with app.run_test(size=size) as pilot:
        await settled(app, pilot)
        yield app, pilot


async def settled(app: StripewrightApp, pilot: Pilot[None]) -> None:
    """Wait until the studio has been read and all workers but dialogs have come to rest."""
    await asyncio.to_thread(app.opened.wait, PATIENCE_S)
    await pilot.pause()
    while busy := [w for w in app.workers if w.group in {"open", "settle", "save"}]:
        # One that gives way to a newer one is no fault; the newer one is waited for in turn.
        with contextlib.suppress(WorkerCancelled):
            await app.workers.wait_for_complete(busy)
        await pilot.pause()
    await pilot.pause()


async def until(pilot: Pilot[None], true: Callable[[], bool]) -> None:
    """Wait until something has come true, however busy the machine is."""
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end, "it did not come true"
        await pilot.pause(0.02)
