"""The first mend of a finding, done for her as one edit that undo takes back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from studio.core import edits
from studio.core.answers import Cover, Finding, Mend, ProjectPlan, RunKind
from studio.core.model import Claim, ClaimKind, LotRule, Studio
from studio.core.money import share_units
from studio.core.own_price import too_low
from studio.errors import EditRefusedError


def fitted_rows(old: Sequence[int], rows: int) -> tuple[int, ...]:
    """Stripes of `old` rows scaled to a total, in pairs of rows, order and proportion kept.

    None is lost: each stripe keeps at least a pair. An odd total gives its single row to the last.
    """
    pairs = rows // 2
    if pairs < len(old):
        raise EditRefusedError(
            f"{rows} rows are too few for {len(old)} stripes of two rows each; "
            "take a stripe out first."
        )
    shares = share_units(pairs, old)
    # A stripe whose share came out at nothing takes its pair from the longest one.
    given = list(shares)
    for index, share in enumerate(given):
        if share == 0:
            longest = max(range(len(given)), key=lambda i: (given[i], -i))
            given[longest] -= 1
            given[index] = 1
    result = [2 * g for g in given]
    result[-1] += rows % 2
    return tuple(result)


def mend(studio: Studio, finding: Finding, plan: ProjectPlan) -> Studio:
    """The studio with the finding's first mend made; refuses where there is none."""
    key, stripe = finding.project, finding.stripe
    if finding.mend is None or key is None:
        raise EditRefusedError("There is no ready mend for this; open its place and change it.")
    match finding.mend:
        case Mend.MAKE_EVEN if stripe is not None:
            return edits.change_rows(studio, key, stripe, 1)
        case Mend.SHORTEN if stripe is not None:
            return edits.change_rows(studio, key, stripe, -2)
        case Mend.FIT_LENGTH if plan.size is not None:
            return _fit(studio, key, plan, plan.size.rows_for_target)
        case Mend.CLEAR_STATED if finding.field:
            stated = replace(studio.project[key].stated, **{finding.field: None})
            return edits.set_project(studio, key, stated=stated)
        case Mend.ALLOW_BY_STRIPE if finding.slot is not None:
            return edits.set_lot_rule(studio, key, finding.slot, LotRule.BY_STRIPE)
        case Mend.TAKE_PRICE if finding.shade is not None:
            found = too_low(studio.project[key], plan.shades, studio)
            asked = {f.shade.yarn: f.asked.price for f in found}
            yarn = finding.shade.yarn
            return take_prices(studio, {yarn: asked[yarn]} if yarn in asked else {})
        case Mend.DROP_CLAIM | Mend.MOVE_HOLD:
            return _reclaim(studio, finding, plan)
        case _:
            raise EditRefusedError("The place of this finding is no longer there.")


def _fit(studio: Studio, key: str, plan: ProjectPlan, target: int) -> Studio:
    """Scale what is not begun so that all rows together make the target."""
    begun = [lie for lie in plan.stripe_rows if lie.done]
    free = [lie for lie in plan.stripe_rows if not lie.done]
    if not free:
        raise EditRefusedError("Every stripe is begun, so none can be made to fit.")
    fixed = sum(lie.last - lie.first + 1 for lie in begun)
    rows = fitted_rows([lie.last - lie.first + 1 for lie in free], target - fixed)
    for lie, count in zip(free, rows, strict=True):
        studio = edits.set_rows(studio, key, lie.index, count)
    return studio


def _reclaim(studio: Studio, finding: Finding, plan: ProjectPlan) -> Studio:
    """Take the plan's lot for a run whose claim no longer works, or none at all."""
    runs = [
        r
        for r in plan.runs
        if (r.ref.kind is RunKind.STRIPE and r.ref.index == finding.stripe)
        or (finding.stripe is None and r.ref.kind is not RunKind.STRIPE and r.slot == finding.slot)
    ]
    if not runs or finding.project is None:
        raise EditRefusedError("The place of this finding is no longer there.")
    run = runs[0]
    claim = None
    if finding.mend is Mend.MOVE_HOLD and run.cover is Cover.STASH and run.lot is not None:
        claim = Claim(ClaimKind.HOLD, run.lot)
    return edits.set_claim(studio, finding.project, run.ref.kind, run.ref.index, claim)


def take_prices(studio: Studio, prices: Mapping[str, Decimal]) -> Studio:
    """The studio with these prices of a ball as her own, by yarn."""
    for key, price in prices.items():
        studio = edits.set_yarn(studio, replace(studio.library.yarn[key], price=price))
    return studio
