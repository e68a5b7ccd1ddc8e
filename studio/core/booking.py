"""Booking a piece: the lot the plan has for each run becomes the lot promised to it."""

from __future__ import annotations

from studio.core import edits
from studio.core.answers import Cover, ProjectPlan, RunKind
from studio.core.model import Claim, ClaimKind, Stage, Studio


def to_stage(studio: Studio, key: str, stage: Stage, plan: ProjectPlan | None) -> Studio:
    """Bring a piece to a stage; where it begins to hold yarn, its lots are promised to it.

    Runs that are pinned, bought for, worked or short keep what they have. A piece that mixes lots
    holds none, since a run of it has no one lot.
    """
    before = studio.project[key]
    after = edits.set_project(studio, key, stage=stage)
    if plan is None or before.mix or before.stage.holds or not stage.holds:
        return after
    for run in plan.runs:
        if run.cover is not Cover.STASH or run.lot is None or run.claim is not None:
            continue
        if run.ref.kind is RunKind.STRIPE and run.ref.index >= len(before.stripes):
            continue
        hold = Claim(ClaimKind.HOLD, run.lot)
        after = edits.set_claim(after, key, run.ref.kind, run.ref.index, hold)
    return after
