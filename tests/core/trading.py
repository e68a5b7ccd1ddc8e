"""A small invented studio whose grams are entered by hand, so that every sum can be seen."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core.model import (
    Assumed,
    Batch,
    Claim,
    ClaimKind,
    Fibre,
    Length,
    Library,
    Lot,
    Method,
    Project,
    Purchase,
    Settings,
    Shade,
    Slot,
    Stage,
    Stash,
    Stitch,
    Stripe,
    Studio,
    Yarn,
)
from studio.core.trade_model import (
    FeeRates,
    PriceEnding,
    PriceRules,
    ShippingTier,
    Task,
    Times,
    Trade,
    WorkHours,
)

D = Decimal
TODAY = date(2027, 3, 1)
"""A Monday."""

WOOL = Yarn(
    key="wool",
    name="Wool",
    category=4,
    fibres=(Fibre("wool", D(80)), Fibre("polyamide", D(20))),
    ball_g=D(50),
    shades=(Shade("10", "Moss", ("#667755",)), Shade("20", "Clay", ("#aa6644",))),
    price=D("4.50"),
    care="Wash by hand at 30 degrees.",
)
COTTON = replace(
    WOOL, key="cotton", name="Cotton", fibres=(Fibre("cotton", D(100)),), care="Wash at 40 degrees."
)
SETTINGS = Settings("Test", rate_per_hour=D(15), assumed=Assumed(min_per_end=D(0)))
TRADE = Trade(
    prices=PriceRules(
        margin=D("0.2"),
        overhead=D(5),
        fees=FeeRates(on_total=D("0.03"), fixed=D("0.30")),
        ending=PriceEnding(D(1)),
        floor_per_hour=D(12),
    ),
    shipping=(
        ShippingTier("small parcel", D(1000), D("6.90"), D("7.50")),
        ShippingTier("large parcel", D(3000), D("9.90")),
    ),
    packing_g=D(150),
    hours=WorkHours((120, 120, 120, 120, 120, 0, 0)),
    times=Times(tasks=(Task("packing", D(30)),)),
    transit_days=2,
    drying_days=1,
    lead_days=7,
)


def hold(lot: str) -> Claim:
    return Claim(ClaimKind.HOLD, lot)


def lot(code: str, balls: int, shade: str = "10", yarn: str = "wool") -> Lot:
    return Lot(yarn, shade, code, (Batch(balls, D("4.00"), bought=date(2026, 1, int(code) + 1)),))


def piece(
    key: str, *runs: tuple[str, int, str], stage: Stage = Stage.IDEA, **more: object
) -> Project:
    """A piece of stripes (slot, grams, held lot or ''); ten hours of crochet unless said."""
    base = Project(
        key=key,
        name=key.title(),
        stage=stage,
        stitch="sc",
        hook_mm=D(5),
        width=Length(D(100)),
        length=Length(D(120)),
        slots=(Slot("A", "wool", "10"), Slot("B", "wool", "20"), Slot("C", "cotton", "10")),
        stripes=tuple(
            Stripe(slot, 4, hold(held) if held else None, grams=D(grams))
            for slot, grams, held in runs
        ),
        method=Method.BY_HAND,
        minutes=D(600),
        customer="ilva",
    )
    return replace(base, **more)  # type: ignore[arg-type]


def studio(
    *projects: Project,
    lots: tuple[Lot, ...] = (lot("1", 3), lot("2", 2)),
    purchases: tuple[Purchase, ...] = (),
    trade: Trade = TRADE,
) -> Studio:
    return Studio(
        settings=SETTINGS,
        library=Library((WOOL, COTTON), (Stitch("sc", "single crochet"),)),
        stash=Stash(lots, purchases),
        projects=projects,
        trade=trade,
    )
