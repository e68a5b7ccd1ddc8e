"""A small studio to test with: one bulky yarn of two shades, one stitch, one swatch, one piece.

The figures are round on purpose. Gauge 10 stitches and 8 rows to 10 cm; a weighed swatch of 10
rows at 10 stitches weighs 10 g, so that a body row of 100 stitches uses 10 g. Balls have 100 g.
"""

from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core.model import (
    Batch,
    Fibre,
    GaugeCount,
    Length,
    Library,
    Lot,
    Project,
    RowKind,
    Settings,
    Shade,
    ShadeRef,
    Slot,
    Stage,
    Stash,
    Stitch,
    Stripe,
    Studio,
    Swatch,
    Weighing,
    Yarn,
)

RUST = ShadeRef("marl", "1")
TIDE = ShadeRef("marl", "2")

YARN = Yarn(
    key="marl",
    name="Marl",
    category=5,
    fibres=(Fibre("wool", Decimal(100)),),
    ball_g=Decimal(100),
    price=Decimal("7.00"),
    shades=(Shade("1", "Rust", ("#a4512a",)), Shade("2", "Tide", ("#2f6f73",))),
)

STITCH = Stitch("sc", "single crochet", extra=1, kinds=(RowKind("body"),))

_TEN = Length(Decimal(10))

SWATCH = Swatch(
    key="first",
    yarn="marl",
    stitch="sc",
    hook_mm=Decimal(9),
    after=GaugeCount(Decimal(10), _TEN, Decimal(8), _TEN),
    weighed=Weighing(Decimal(10), Decimal(10), Decimal(10)),
)


def lot(code: str, balls: int, *, shade: str = "1", price: str | None = "6.00") -> Lot:
    """Full balls bought on a day that the code decides, so that lots have an age."""
    paid = None if price is None else Decimal(price)
    bought = date(2025, 1, 1 + len(code))
    batch = Batch(balls, paid, Decimal("0.50") if paid else Decimal(0), bought)
    return Lot("marl", shade, code, (batch,))


def piece(key: str, design: str, stage: Stage = Stage.QUOTED, **changes: object) -> Project:
    """A piece 100 cm wide with stripes such as 'A6 B4'."""
    project = Project(
        key=key,
        name=key.title(),
        stage=stage,
        stitch="sc",
        hook_mm=Decimal(9),
        width=Length(Decimal(100)),
        length=Length(Decimal(100)),
        slots=(Slot("A", "marl", "1"), Slot("B", "marl", "2")),
        stripes=tuple(Stripe(s[0], int(s[1:])) for s in design.split()),
    )
    return replace(project, **changes)  # type: ignore[arg-type]


def studio(*projects: Project, lots: tuple[Lot, ...] = (), **settings: object) -> Studio:
    """These pieces and lots with the one yarn, stitch and swatch."""
    return Studio(
        replace(Settings("Small"), **settings),  # type: ignore[arg-type]
        Library((YARN,), (STITCH,), (SWATCH,)),
        Stash(lots),
        projects,
    )
