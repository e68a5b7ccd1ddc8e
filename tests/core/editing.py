"""A small invented studio and helpers for the tests of edits."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from studio.core.model import (
    Batch,
    Border,
    Claim,
    ClaimKind,
    Fibre,
    Fringe,
    Length,
    Library,
    Lot,
    OrderLine,
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
from studio.errors import EditRefusedError

D = Decimal
HOLD_1 = Claim(ClaimKind.HOLD, "1")
HOLD_2 = Claim(ClaimKind.HOLD, "2")
PIN_1 = Claim(ClaimKind.PIN, "1")
ON_ORDER = Claim(ClaimKind.ORDER, "p1")


def cm(value: int | str) -> Length:
    return Length(D(value))


def yarn(key: str = "wool", **more: object) -> Yarn:
    shades = (Shade("10", "Moss", ("#667755",)), Shade("20", "Clay", ("#AA6644",)))
    base = Yarn(key, key.title(), 4, (Fibre("wool", D(100)),), D(50), shades, price=D("4.50"))
    return Yarn(**{**{f: getattr(base, f) for f in base.__dataclass_fields__}, **more})


def piece(key: str, *stripes: Stripe, stage: Stage = Stage.BOOKED, rows_done: int = 0) -> Project:
    return Project(
        key=key,
        name=key.title(),
        stage=stage,
        stitch="sc",
        hook_mm=D(5),
        width=cm(100),
        length=cm(120),
        slots=(Slot("A", "wool", "10"), Slot("B", "wool", "20"), Slot("C", "wool", "10")),
        stripes=stripes or (Stripe("A", 6), Stripe("B", 4), Stripe("A", 8), Stripe("B", 2)),
        rows_done=rows_done,
        customer="Ilva",
        due=date(2027, 1, 10),
    )


def studio(*projects: Project) -> Studio:
    """A studio of two lots of Moss, one of Clay and one cotton without dye lots."""
    lots = (
        Lot("wool", "10", "1", (Batch(3, D("4.00"), bought=date(2026, 2, 1)),), (D(20), D(31))),
        Lot("wool", "10", "2", (Batch(2, D("4.50")), Batch(4, bought=date(2025, 1, 1)))),
        Lot("wool", "20", "1", (Batch(5, D("4.00")),)),
        Lot("plain", "10", "any", (Batch(5, D("2.00")),)),
    )
    return Studio(
        settings=Settings("Test"),
        library=Library(
            yarns=(yarn(), yarn("plain", no_dye_lot=True)),
            stitches=(Stitch("sc", "single crochet"), Stitch("hdc", "half double crochet")),
        ),
        stash=Stash(
            lots, (Purchase("p1", "Shop", date(2027, 1, 1), (OrderLine("wool", "10", 5),)),)
        ),
        projects=projects or (piece("throw"), piece("other", stage=Stage.QUOTED)),
    )


def stripes(edited: Studio, key: str = "throw") -> list[tuple[str, int]]:
    return [(s.slot, s.rows) for s in edited.project[key].stripes]


def refused(edit: Callable[[], Studio], *words: str) -> None:
    """The edit is refused in one sentence of plain words that holds all of these."""
    with pytest.raises(EditRefusedError) as found:
        edit()
    text = found.value.text
    assert text.endswith(".")
    for word in words:
        assert word in text, text


def fringe(slot: str = "A", claim: Claim | None = None) -> Fringe:
    return Fringe(slot, 60, cm(30), claim)


def border(slot: str = "A", claim: Claim | None = None) -> Border:
    return Border(slot, 3, cm(2), claim=claim)
