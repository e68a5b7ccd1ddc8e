"""A small studio made by hand, with a plan made by hand: what screens are drawn from in tests.

Figures are chosen to be looked at, not computed; nothing here checks a rule of the trade.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from studio.core.answers import (
    Cost,
    Cover,
    Finding,
    Gauge,
    LotState,
    Measure,
    Mend,
    ProjectPlan,
    RunKind,
    RunPlan,
    RunRef,
    ShadePlan,
    Shortfall,
    Side,
    Size,
    StripeRows,
    StudioPlan,
    Weight,
)
from studio.core.model import (
    Batch,
    Border,
    Fibre,
    Fringe,
    Length,
    Library,
    Lot,
    LotRef,
    Notion,
    Project,
    Settings,
    Shade,
    ShadeRef,
    Slot,
    Stage,
    Stash,
    Stitch,
    Stripe,
    Studio,
    Yarn,
)

if TYPE_CHECKING:
    from studio.asked import Snapshot

_D = Decimal

COTTON = Yarn(
    key="harbour-cotton",
    name="Harbour Cotton",
    category=4,
    fibres=(Fibre("cotton", _D(100)),),
    ball_g=_D(50),
    ball_m=_D(85),
    price=_D("3.40"),
    shades=(
        Shade("07", "Lichen", ("#7f9168",)),
        Shade("12", "Oatmeal", ("#e3d6bd",)),
        Shade("19", "Slate roof", ("#4c5a67",)),
        Shade("23", "Rowan berry", ("#b8432f",)),
        Shade("31", "Tide pool", ("#2f6f73", "#7fb8a4", "#d8c48a")),
    ),
)

STITCH = Stitch(key="half-double", name="half double crochet", extra=1, turning_chain=2)


def _project(
    key: str, name: str, stage: Stage, rows: tuple[tuple[str, int], ...], **more: object
) -> Project:
    values: dict[str, object] = {
        "key": key,
        "name": name,
        "stage": stage,
        "stitch": STITCH.key,
        "hook_mm": _D("5.5"),
        "width": Length(_D(150)),
        "length": Length(_D(165)),
        "slots": (
            Slot("A", COTTON.key, "12"),
            Slot("B", COTTON.key, "07"),
            Slot("C", COTTON.key, "31"),
        ),
        "stripes": tuple(Stripe(letter, count) for letter, count in rows),
    }
    return Project(**{**values, **more})  # type: ignore[arg-type]


MOOR = _project(
    "moor-blanket",
    "Moor blanket",
    Stage.MAKING,
    (("A", 12), ("B", 6), ("A", 18), ("C", 18), ("B", 6), ("A", 20), ("B", 6), ("C", 18)),
    customer="T. Example",
    due=date(2026, 3, 12),
    rows_done=26,
    border=Border("B", 2, Length(_D(2))),
    fringe=Fringe("A", 120, Length(_D(24))),
    notions=(Notion("label", _D("0.80")),),
)
PRAM = _project("pram-rug", "Pram rug", Stage.QUOTED, (("B", 24), ("A", 24), ("B", 24)))
GIFT = _project("wedding-gift", "Wedding gift", Stage.DELIVERED, (("C", 40), ("A", 40)))


def studio() -> Studio:
    """A maker with one yarn, four lots and three pieces."""
    lots = (
        Lot(COTTON.key, "07", "2207", (Batch(1, _D("3.10"), bought=date(2024, 5, 2)),), (_D(34),)),
        Lot(COTTON.key, "12", "1180", (Batch(9, _D("3.20"), bought=date(2025, 1, 9)),)),
        Lot(COTTON.key, "12", "1203", (Batch(2),), (_D("12.5"),), note="a little darker"),
        Lot(COTTON.key, "31", "mark-a", (Batch(6, _D("3.40")),), code_lost=True),
    )
    return Studio(
        Settings("A small studio", theme="felt"),
        Library((COTTON,), (STITCH,)),
        Stash(lots),
        (MOOR, PRAM, GIFT),
    )


def _runs(project: Project) -> tuple[RunPlan, ...]:
    lots = {"A": "1180", "B": "2207", "C": "mark-a"}
    runs = []
    for index, stripe in enumerate(project.stripes):
        slot = project.slot(stripe.slot)
        assert slot is not None
        short = stripe.slot == "B" and index == 4
        runs.append(
            RunPlan(
                RunRef(project.key, RunKind.STRIPE, index),
                stripe.slot,
                slot.shade_ref,
                stripe.rows,
                float(stripe.rows) * 5.2,
                _D(stripe.rows) * _D("5.6"),
                Cover.SHORT if short else Cover.STASH,
                None if short else lots[stripe.slot],
                balls=2,
            )
        )
    return tuple(runs)


def _stripe_rows(project: Project) -> tuple[StripeRows, ...]:
    found, first = [], 1
    for index, stripe in enumerate(project.stripes):
        last = first + stripe.rows - 1
        done = max(0, min(stripe.rows, project.rows_done - first + 1))
        sides = [Side.RIGHT if row % 2 else Side.WRONG for row in (first, last)]
        found.append(StripeRows(index, first, last, sides[0], sides[1], done))
        first = last + 1
    return tuple(found)


def _plan(project: Project) -> ProjectPlan:
    gauge = Gauge(1.18, 0.76, Measure.WASHED, ("half-double-swatch",))
    rows = sum(s.rows for s in project.stripes)
    size = Size(178, 177, 177, rows, 152.0, 165.4, 150.0, 165.0, gauge, rows)
    lichen = ShadeRef(COTTON.key, "07")
    shade = ShadePlan(
        lichen, ("B",), _D("100.8"), 93.6, _D("67.2"), _D(0), _D(0), _D("33.6"), 1, ("2207",), 8, 8,
        used_cost=_D("6.85"), cash_cost=_D("3.40"), cash_alone=_D("3.40"),
    )  # fmt: skip
    findings = (
        Finding(
            "short",
            Weight.STOP,
            "Stripe 5 needs 33.6 g of Lichen; lot 2207 has 16.8 g left. "
            "Two rows fewer, or 1 ball in a new lot.",
            project.key,
            4,
            "B",
            lichen,
            LotRef(COTTON.key, "07", "2207"),
            Mend.SHORTEN,
        ),
    )
    held = project.stage.holds
    return ProjectPlan(
        project.key,
        project.stage,
        size,
        _stripe_rows(project),
        _runs(project),
        (shade,) if held else (),
        28,
        Cost(_D("60.40"), _D("73.70"), _D("75.10"), _D("0.80")),
        findings if held else (),
    )


def plan() -> StudioPlan:
    """What a reconciliation would say of it, by hand."""
    whole = studio()
    lots = {
        lot.ref: LotState(
            lot.ref, lot.balls, lot.parts_g, _D(lot.balls * 50) + sum(lot.parts_g, _D(0)),
            _D(lot.balls * 50), _D(50), _D(20), (("moor-blanket/stripe/1", _D("33.6")),),
        )
        for lot in whole.stash.lots
    }  # fmt: skip
    short = Shortfall(
        ShadeRef(COTTON.key, "07"), _D("33.6"), 1, _D("33.6"), 1, _D("33.6"), 1, _D(0), _D(0),
        ("moor-blanket",), date(2026, 2, 20),
    )  # fmt: skip
    return StudioPlan({p.key: _plan(p) for p in whole.projects}, lots, (short,), {})


def snapshot() -> Snapshot:
    """All of it as the app holds it."""
    from studio.asked import Snapshot

    return Snapshot(studio(), plan(), 1, undo_label="two rows more")
