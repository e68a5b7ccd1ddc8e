"""Runs tied in part: row pairs on order, and what a lot lacks that comes from elsewhere.

A run is worked from one lot; where lots may mix, or where a lot that a run stays with does not
last, a part of it has a tie of its own. That part is a run of its own to the lots.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from studio.core.answers import REST, RunRef
from studio.core.model import Claim, Project, Stripe
from studio.core.runs import RunDemand


def tied_in_part(project: Project, runs: Sequence[RunDemand]) -> list[RunDemand]:
    """The runs of a piece, those that are tied in part cut up into their ties."""
    found: list[RunDemand] = []
    for _, parts in groupby(runs, key=lambda r: (r.ref.kind, r.ref.index)):
        together = list(parts)
        claim = together[0].claim
        if claim is None or not in_part(claim):
            found += together
        else:
            found += _cut(together, claim, mix=project.mix)
    return found


def _cut(parts: Sequence[RunDemand], claim: Claim, *, mix: bool) -> list[RunDemand]:
    pairs = [r.ref.part or 1 for r in parts]
    tied = [
        replace(run, claim=_claim_of(claim, pair, mix=mix))
        for run, pair in zip(parts, pairs, strict=True)
    ]
    rest = claim.rest
    if rest is None or not rest.grams:
        return tied
    left = math.floor(rest.grams * 10)
    given: list[RunDemand] = []
    for at in reversed(range(len(tied))):
        run = tied[at]
        part = min(left, run.need_dg)
        if run.claim is rest or run.done or not run.known or not part:
            continue
        tied[at], other = _shared(run, part)
        given.append(replace(other, claim=rest))
        left -= part
    return [*tied, *_one(given)]


def _claim_of(claim: Claim, pair: int, *, mix: bool) -> Claim | None:
    """What ties a row pair; a run that may not mix lots is not tied by pairs."""
    if mix and claim.rest is not None and pair in claim.rest.pairs:
        return claim.rest
    if claim.pairs and not (mix and pair in claim.pairs):
        return None
    return claim


def _shared(run: RunDemand, part_dg: int) -> tuple[RunDemand, RunDemand]:
    """A run without so much of its need, and that part, with its share of all else."""
    share = part_dg / run.need_dg
    rows = min(run.rows - 1, max(1, round(run.rows * share))) if run.rows > 1 else 0
    rows_left = min(rows, run.rows_left)
    mean_g = run.mean_g * share
    part = replace(
        run,
        rows=rows,
        rows_left=rows_left,
        effective_left=run.effective_left * share,
        mean_g=mean_g,
        need_dg=part_dg,
        whole_mean_g=mean_g,
        sure_g=run.sure_g * share,
        begun=False,
    )
    kept = replace(
        run,
        rows=run.rows - rows,
        rows_left=run.rows_left - rows_left,
        effective_left=run.effective_left - part.effective_left,
        mean_g=run.mean_g - mean_g,
        need_dg=run.need_dg - part_dg,
        whole_mean_g=run.whole_mean_g - mean_g,
        sure_g=run.sure_g - part.sure_g,
    )
    return kept, part


def _one(parts: Sequence[RunDemand]) -> Iterator[RunDemand]:
    """The parts of one run that have one tie, as one."""
    if not parts:
        return
    first = parts[-1]
    yield replace(
        first,
        ref=RunRef(first.ref.project, first.ref.kind, first.ref.index, REST),
        rows=sum(p.rows for p in parts),
        rows_left=sum(p.rows_left for p in parts),
        effective_left=sum(p.effective_left for p in parts),
        mean_g=sum(p.mean_g for p in parts),
        need_dg=sum(p.need_dg for p in parts),
        whole_mean_g=sum(p.whole_mean_g for p in parts),
        sure_g=sum(p.sure_g for p in parts),
    )


def ties_of(claim: Claim | None) -> tuple[Claim, ...]:
    """The tie of a run and that of its rest."""
    if claim is None:
        return ()
    return (claim,) if claim.rest is None else (claim, claim.rest)


def tied_dg(ref: RunRef, rows: int, claim: Claim, tie: Claim, need_dg: Mapping[str, int]) -> int:
    """What a run of so many rows asks of one of its ties, from the needs of its parts by run key.

    `rows` tells how many row pairs it may have been cut into.
    """
    found = 0
    for part in (0, *range(1, (rows + 1) // 2 + 1), REST):
        rest = claim.rest
        of_rest = rest is not None and (part == REST or part in rest.pairs)
        mine = of_rest if tie is rest else not of_rest
        if mine and (not tie.pairs or tie is rest or not part or part in tie.pairs):
            found += need_dg.get(RunRef(ref.project, ref.kind, ref.index, part).key, 0)
    return found


def in_part(claim: Claim | None) -> bool:
    """Whether a claim ties a part of its run only, or a part of it elsewhere."""
    return claim is not None and bool(claim.pairs or claim.rest)


def retied(claim: Claim, change: Callable[[Claim], Claim | None]) -> Claim | None:
    """The claim with each of its ties changed or gone; what is left is the claim."""
    rest = None if claim.rest is None else change(claim.rest)
    main = change(replace(claim, rest=None))
    return _only_rest(rest) if main is None else replace(main, rest=rest)


def _only_rest(rest: Claim | None) -> Claim | None:
    """A rest whose run has no other tie any more: its pairs stand, its grams have no meaning."""
    return replace(rest, grams=None) if rest is not None and rest.pairs else None


def split_tie(stripe: Stripe, first_rows: int) -> tuple[Claim | None, Claim | None]:
    """The claims of a stripe that is cut in two: pairs go where they lie, grams to the second.

    A cut within a row pair leaves no pair as it was, so what was tied by pairs is open again.
    """
    claim = stripe.claim
    if claim is None or not in_part(claim):
        return claim, claim
    at = first_rows // 2 if first_rows % 2 == 0 else None

    def side(tie: Claim | None, *, second: bool) -> Claim | None:
        if tie is None:
            return None
        rest = side(tie.rest, second=second)
        pairs = tuple(
            p - at if second else p for p in tie.pairs if at is not None and (p > at) == second
        )
        grams = tie.grams if second else None
        if not pairs and (tie.pairs or tie is claim.rest) and grams is None:
            return _only_rest(rest)
        return replace(tie, pairs=pairs, grams=grams, rest=rest)

    return side(claim, second=False), side(claim, second=True)
