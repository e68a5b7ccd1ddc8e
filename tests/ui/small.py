"""The small studio of `fake`, swatched and weighed, in an open workshop: real answers, quickly."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from textual.pilot import Pilot

from studio.core.model import GaugeCount, Length, Studio, Swatch, Weighing
from studio.ui.app import StripewrightApp
from studio.workshop import Workshop
from tests.ui import fake

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
    await asyncio.to_thread(app.opened.wait, 10)
    await pilot.pause()
    busy = [w for w in app.workers if w.group in {"open", "settle", "save"}]
    if busy:
        await app.workers.wait_for_complete(busy)
    await pilot.pause()
