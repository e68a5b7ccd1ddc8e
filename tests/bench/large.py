"""The large studio of the bench, made from a seed: 200 projects, 5,000 lots over 800 shades.

Forty projects hold yarn; twelve staple shades have 30 lots and some 60 to 100 runs each. The
project at hand has 300 stripes. `python -m tests.bench.large FOLDER` writes it as files.
"""

import random
import sys
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

from studio.core.model import (
    Batch,
    Claim,
    ClaimKind,
    Fibre,
    GaugeCount,
    Length,
    LengthUnit,
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

YARNS, SHADES_EACH, STAPLES = 80, 10, 12
PROJECTS, HOLDING, STRIPES, AT_HAND_STRIPES = 200, 40, 60, 300
LOTS, STAPLE_LOTS = 5000, 30
ROW_COUNTS = (2, 4, 6, 8, 10, 12)
AT_HAND = "piece-at-hand"


def _yarns(chance: random.Random) -> tuple[Yarn, ...]:
    return tuple(
        Yarn(
            key=f"yarn-{y:02}",
            name=f"Yarn {y:02}",
            category=4,
            fibres=(Fibre("wool", Decimal(100)),),
            ball_g=Decimal(100),
            ball_m=Decimal(190),
            price=Decimal(chance.randrange(450, 990)) / 100,
            shades=tuple(
                Shade(f"{s}", f"Shade {y:02}-{s}", (f"#{chance.randrange(1 << 24):06x}",))
                for s in range(SHADES_EACH)
            ),
        )
        for y in range(YARNS)
    )


def _lots(
    yarns: tuple[Yarn, ...], staples: list[ShadeRef], chance: random.Random
) -> tuple[Lot, ...]:
    refs = [ShadeRef(y.key, s.code) for y in yarns for s in y.shades]
    ordinary = [r for r in refs if r not in staples]
    counts = dict.fromkeys(staples, STAPLE_LOTS)
    rest = LOTS - STAPLE_LOTS * len(staples)
    for index, ref in enumerate(ordinary):
        counts[ref] = rest // len(ordinary) + (1 if index < rest % len(ordinary) else 0)
    lots = []
    for ref, count in counts.items():
        for n in range(count):
            parts = tuple(
                Decimal(chance.randrange(15, 95)) for _ in range(chance.choice((0, 0, 0, 1, 2)))
            )
            bought = date(2024, 1, 1) + timedelta(days=chance.randrange(900))
            batch = Batch(chance.randrange(0, 6), Decimal("6.20"), Decimal("0.30"), bought)
            lots.append(Lot(ref.yarn, ref.shade, f"{1000 + n}", (batch,), parts))
    return tuple(lots)


def _slots(chance: random.Random, staples: list[ShadeRef], yarns: tuple[Yarn, ...]) -> list[Slot]:
    yarn = chance.choice(yarns)
    refs = [ShadeRef(yarn.key, s.code) for s in chance.sample(yarn.shades, 5)]
    if chance.random() < 0.75:
        refs[0] = chance.choice(staples)
    return [Slot("ABCDE"[i], r.yarn, r.shade) for i, r in enumerate(refs)]


def _project(
    index: int, chance: random.Random, staples: list[ShadeRef], yarns: tuple[Yarn, ...]
) -> Project:
    slots = _slots(chance, staples, yarns)
    letters = [s.letter for s in slots]
    rows = chance.sample(ROW_COUNTS, 2)
    count = AT_HAND_STRIPES if index == PROJECTS - 1 else STRIPES
    weights = [1] + [4] * (len(letters) - 1)
    stripes = tuple(
        Stripe(chance.choices(letters, weights)[0], chance.choice(rows)) for _ in range(count)
    )
    held = index < HOLDING
    stage = Stage.BOOKED if held else chance.choice((Stage.QUOTED, Stage.IDEA, Stage.DELIVERED))
    at_hand = index == PROJECTS - 1
    return Project(
        key=AT_HAND if at_hand else f"piece-{index:03}",
        name="Piece at hand" if at_hand else f"Piece {index:03}",
        stage=Stage.QUOTED if at_hand else stage,
        stitch="single-crochet",
        hook_mm=Decimal(6),
        width=Length(Decimal(chance.randrange(60, 180))),
        length=Length(Decimal(chance.randrange(80, 220))),
        slots=tuple(slots),
        stripes=stripes,
        customer="" if chance.random() < 0.4 else f"Customer {index}",
        due=date(2027, 1, 1) + timedelta(days=index) if held else None,
        booked=date(2026, 10, 1) + timedelta(days=index) if held else None,
    )


def _with_holds(studio: Studio) -> Studio:
    """Give the holding projects the lots a fresh greedy plan would have promised them."""
    from studio.core.model import LotRef
    from studio.core.reconcile import reconcile

    plan = reconcile(studio).plan
    projects = []
    for project in studio.projects:
        if not project.stage.holds:
            projects.append(project)
            continue
        lots = [r.lot for r in plan.projects[project.key].runs]
        stripes = tuple(
            Stripe(s.slot, s.rows, Claim(ClaimKind.HOLD, lot))
            if lot and LotRef(*_ref(project, s), lot) in plan.lots
            else s
            for s, lot in zip(project.stripes, lots, strict=True)
        )
        projects.append(_replace(project, stripes))
    return Studio(studio.settings, studio.library, studio.stash, tuple(projects))


def _ref(project: Project, stripe: Stripe) -> ShadeRef:
    slot = project.slot(stripe.slot)
    assert slot is not None
    return slot.shade_ref


def _replace(project: Project, stripes: tuple[Stripe, ...]) -> Project:
    from dataclasses import replace

    return replace(project, stripes=stripes)


def large_studio(seed: int = 1) -> Studio:
    """The same studio for the same seed."""
    chance = random.Random(seed)
    yarns = _yarns(chance)
    refs = [ShadeRef(y.key, s.code) for y in yarns for s in y.shades]
    staples = chance.sample(refs, STAPLES)
    stitch = Stitch(
        "single-crochet",
        "Single crochet",
        kinds=(RowKind("foundation", 1, Decimal("1.15")), RowKind("body")),
        extra=1,
    )
    span = Length(Decimal(10), LengthUnit.CM)
    swatches = tuple(
        Swatch(
            y.key,
            y.key,
            stitch.key,
            Decimal(6),
            after=GaugeCount(Decimal(13), span, Decimal(15), span),
            weighed=Weighing(Decimal(20), Decimal(26), Decimal("15.5")),
        )
        for y in yarns
    )
    studio = Studio(
        Settings("The large studio"),
        Library(yarns, (stitch,), swatches),
        Stash(_lots(yarns, staples, chance)),
        tuple(_project(i, chance, staples, yarns) for i in range(PROJECTS)),
    )
    return _with_holds(studio)


def write_large(folder: Path) -> Studio:
    """Write it as files and return it."""
    from studio.storage.write import save_changes

    folder.mkdir(parents=True, exist_ok=True)
    studio = large_studio()
    save_changes(folder, None, studio, {})
    return studio


if __name__ == "__main__":
    write_large(Path(sys.argv[1]))
