"""The first files of a new studio, and the scratch copy of the demo."""

from __future__ import annotations

import shutil
from pathlib import Path

from studio import paths
from studio.core.model import LengthUnit, Library, Settings, Stitch, Studio, WeightUnit
from studio.errors import SaveError
from studio.storage.disk import reason_of
from studio.storage.kinds import HISTORY_FOLDER
from studio.storage.write import save_changes


def common_stitches() -> tuple[Stitch, ...]:
    """Plain stitches in US terms to begin with: common practice, to be edited like any other.

    Chains and turning chains are those of standards.md section 9, where single crochet was found
    in print and the taller ones are from memory.
    """
    return (
        Stitch(
            key="double-crochet",
            name="Double crochet",
            extra=2,
            skipped=3,
            turning_chain=3,
            turning_counts=True,
            instruction="Chain 3 (counts as the first stitch), turn, 1 dc in each further stitch.",
        ),
        Stitch(
            key="half-double-crochet",
            name="Half double crochet",
            extra=1,
            skipped=2,
            turning_chain=2,
            turning_counts=True,
            instruction="Chain 2 (counts as the first stitch), turn, 1 hdc in each further stitch.",
        ),
        Stitch(
            key="single-crochet",
            name="Single crochet",
            extra=1,
            skipped=1,
            turning_chain=1,
            instruction="Chain 1 (does not count as a stitch), turn, 1 sc in each stitch.",
        ),
    )


def blank_studio(folder: Path, name: str, currency: str, units: LengthUnit) -> None:
    """Write the first files of a new studio; raises SaveError where there are files already."""
    inches = units is LengthUnit.INCH
    weight_unit = WeightUnit.OUNCE if inches else WeightUnit.GRAM
    settings = Settings(name, currency, units, weight_unit)
    studio = Studio(settings, Library(stitches=common_stitches()))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SaveError(f"{folder} could not be made: {reason_of(error)}.") from error
    save_changes(folder, None, studio, {})


def copy_demo(target: Path) -> Path:
    """Copy the demo studio to an empty or new folder, so that trying it changes nothing."""
    source = paths.demo_studio()
    if not source.is_dir():
        raise SaveError(f"The demo studio is missing: it should be in {source}.")
    try:
        if target.exists() and any(target.iterdir()):
            raise SaveError(f"{target} is not empty, so the demo was not copied there.")
        for file in sorted(source.rglob("*.toml")):
            place = target / file.relative_to(source)
            if HISTORY_FOLDER not in place.parts:
                place.parent.mkdir(parents=True, exist_ok=True)
                # Without its permissions: an installed demo may be read-only.
                shutil.copyfile(file, place)
    except OSError as error:
        text = f"The demo could not be copied to {target}: {reason_of(error)}."
        raise SaveError(text) from error
    return target
