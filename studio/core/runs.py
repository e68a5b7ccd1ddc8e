"""What each run of a piece needs: stripes, border and fringe, each from the yarn of its slot.

A run whose yarn, shade, stitch or gauge is not there is marked unknown, with the reason, and asks
for nothing; all the rest is still worked out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from enum import StrEnum

from studio.core import gauge as gauges
from studio.core import student
from studio.core import use as uses
from studio.core.answers import Gauge, RowUse, RunKind, RunRef, Size, StripeRows
from studio.core.frozen import dataclass
from studio.core.model import (
    MM_PER_UNIT,
    Border,
    Claim,
    Fringe,
    Library,
    Method,
    Project,
    Settings,
    ShadeRef,
    Slot,
    Stage,
    Stitch,
    Stripe,
    Yarn,
)
from studio.core.use import NOTHING, Need

FINISHED = frozenset({Stage.IN_STOCK, Stage.DELIVERED})
"""At these stages every row, round and strand is worked, whatever the row counter says."""

NO_SHADE = ShadeRef("", "")
"""The shade of a run whose slot is not mapped."""


class Unknown(StrEnum):
    """Why a run's need cannot be told, as the end of a sentence."""

    SLOT = "its slot is not among the slots of the project"
    YARN = "its yarn is not in the studio"
    SHADE = "its yarn has no such shade"
    STITCH = "its stitch is not in the studio"
    GAUGE = "there is no swatch to take a gauge from"
    SIZE = "no size can be worked out"
    USE = "nothing tells how much yarn a row uses"
    METRES = "the metres of a ball of its yarn are not known"
    GRAMS = "its grams have not been entered"


@dataclass(frozen=True, slots=True)
class RunDemand:
    """What one run needs of one lot, for its rows still to be worked.

    `mean_g` is expected use; `need_dg` the planned need in tenths of a gram, rounded up. Both are
    nought when the run is done, and when it is not `known`, for which `reason` tells why.
    `whole_mean_g` is the expected use of the whole run, worked rows included. `rows` are rounds
    for a border and nought for a fringe. `use` is the evidence behind, None where grams were
    entered or measured by length; `sure_g` is then the part that is not an estimate from rows,
    and otherwise the tails.
    """

    ref: RunRef
    slot: str
    shade: ShadeRef
    rows: int
    rows_left: int
    effective_left: float
    mean_g: float
    need_dg: int
    whole_mean_g: float = 0.0
    sure_g: float = 0.0
    begun: bool = False
    done: bool = False
    claim: Claim | None = None
    use: RowUse | None = None
    known: bool = True
    reason: Unknown | None = None


@dataclass(frozen=True, slots=True)
class _Place:
    """A slot as the runs in it need it: its yarn and shade, or why there is none."""

    shade: ShadeRef
    yarn: Yarn | None
    reason: Unknown | None


class Work:
    """The runs of one piece; what equal stripes share is worked out once."""

    def __init__(
        self,
        project: Project,
        library: Library,
        settings: Settings,
        stitch: Stitch | None,
        gauge: Gauge | None,
        size: Size | None,
        row_use: Mapping[str, RowUse],
    ) -> None:
        self.project = project
        self.settings = settings
        self.assumed = settings.assumed
        self.stitch = stitch
        self.size = size
        self.row_use = row_use
        self.join = project.join or settings.join
        self.finished = project.stage in FINISHED
        self.places = {slot.letter: _place(slot, library) for slot in reversed(project.slots)}
        self.no_size: Unknown | None = None
        if stitch is None:
            self.no_size = Unknown.STITCH
        elif size is None:
            self.no_size = Unknown.SIZE if gauge else Unknown.GAUGE
        self.needs: dict[tuple[str, int, float, bool], tuple[Need, float]] = {}
        # From this row on a row is a body row and counts 1.
        self.body_from = gauges.kind_spans(stitch)[-1][0] if stitch else 1

    def place(self, letter: str) -> _Place:
        """The slot's yarn and shade, or that there is no such slot."""
        return self.places.get(letter) or _Place(NO_SHADE, None, Unknown.SLOT)

    def no_rows(self, place: _Place) -> Unknown | None:
        """Why a need cannot be told from rows, None where it can."""
        if place.reason is not None or self.no_size is not None:
            return place.reason or self.no_size
        return None if place.shade.yarn in self.row_use else Unknown.USE

    def effective(self, first: int, last: int) -> float:
        """Body rows that rows first to last are worth."""
        if first >= self.body_from or self.stitch is None or self.size is None:
            return float(max(0, last - first + 1))
        return gauges.effective_rows(self.stitch, self.size.repeats, first, last)

    def tails_g(self, yarn: Yarn) -> float:
        """What the two tails of a strand weigh; nought where the ball's metres are not known."""
        if not yarn.ball_m:
            return 0.0
        return 2 * self.assumed.tail.cm / 100 * float(yarn.ball_g) / float(yarn.ball_m)

    def need(self, yarn: Yarn, rows: int, effective: float, begun: bool) -> tuple[Need, float]:
        """A run's need and the grams of it that are tails."""
        key = (yarn.key, rows, effective, begun)
        found = self.needs.get(key)
        if found is None:
            use = self.row_use[yarn.key]
            need = uses.run_need(
                use,
                rows,
                effective,
                float(yarn.ball_g),
                self.tails_g(yarn),
                self.join,
                self.assumed,
                begun=begun,
            )
            found = self.needs[key] = (need, max(0.0, need.mean_g - effective * use.row_g))
        return found

    def stripes(self, stripe_rows: Sequence[StripeRows]) -> list[RunDemand]:
        """A run for each stripe, or one for each row pair of it where lots may mix."""
        by_hand = self.project.method is Method.BY_HAND
        runs: list[RunDemand] = []
        for stripe, lie in zip(self.project.stripes, stripe_rows, strict=True):
            run = self.by_hand(stripe, lie) if by_hand else self.stripe(stripe, lie)
            if self.project.mix and lie.last > lie.first:
                runs.extend(self.parts(run, lie))
            else:
                runs.append(run)
        return runs

    def stripe(self, stripe: Stripe, lie: StripeRows) -> RunDemand:
        """A stripe whose need comes from its rows."""
        place = self.place(stripe.slot)
        ref = RunRef(self.project.key, RunKind.STRIPE, lie.index)
        rows = lie.last - lie.first + 1
        left = rows - lie.done
        reason = self.no_rows(place)
        if reason is not None or place.yarn is None:
            return _unknown(ref, stripe.slot, place, rows, left, stripe.claim, reason)
        effective = self.effective(lie.first + lie.done, lie.last)
        need, tails = self.need(place.yarn, left, effective, lie.done > 0)
        whole = need
        if lie.done:
            whole, _ = self.need(place.yarn, rows, self.effective(lie.first, lie.last), False)
        return RunDemand(
            ref=ref,
            slot=stripe.slot,
            shade=place.shade,
            rows=rows,
            rows_left=left,
            effective_left=effective,
            mean_g=need.mean_g,
            need_dg=_tenths(need.bound_g),
            whole_mean_g=whole.mean_g,
            sure_g=tails,
            begun=lie.done > 0,
            done=left <= 0,
            claim=stripe.claim,
            use=self.row_use[place.yarn.key],
        )

    def by_hand(self, stripe: Stripe, lie: StripeRows) -> RunDemand:
        """A stripe whose grams the maker entered: they are the need, by the rows left of it."""
        place = self.place(stripe.slot)
        ref = RunRef(self.project.key, RunKind.STRIPE, lie.index)
        rows = lie.last - lie.first + 1
        left = rows - lie.done
        if place.reason is not None or stripe.grams is None:
            reason = place.reason or Unknown.GRAMS
            return _unknown(ref, stripe.slot, place, rows, left, stripe.claim, reason)
        share = Decimal(left) / rows if rows else Decimal(1)
        done = (self.finished or lie.done > 0) and left <= 0
        return _entered(
            ref,
            stripe.slot,
            place,
            stripe.grams,
            Decimal(0) if done else stripe.grams * share,
            stripe.claim,
            rows=rows,
            rows_left=left,
            begun=lie.done > 0,
            done=done,
        )

    def parts(self, run: RunDemand, lie: StripeRows) -> list[RunDemand]:
        """A stripe cut into its row pairs, each with its share of the need, rounded up."""
        parts = []
        whole = self.effective(lie.first, lie.last)
        next_row = lie.first + lie.done
        for number, first in enumerate(range(lie.first, lie.last + 1, 2), start=1):
            last = min(first + 1, lie.last)
            start = max(first, min(next_row, last + 1))
            effective = self.effective(start, last)
            # Unknown runs have no effective rows, and nothing to share.
            share = effective / run.effective_left if run.effective_left > 0 else 0.0
            of_whole = effective if start == first else self.effective(first, last)
            parts.append(
                RunDemand(
                    ref=RunRef(run.ref.project, run.ref.kind, run.ref.index, number),
                    slot=run.slot,
                    shade=run.shade,
                    rows=last - first + 1,
                    rows_left=last - start + 1,
                    effective_left=effective if run.known else 0.0,
                    mean_g=run.mean_g * share,
                    need_dg=_up(run.need_dg * share),
                    whole_mean_g=run.whole_mean_g * of_whole / whole if whole > 0 else 0.0,
                    sure_g=run.sure_g * share,
                    begun=start > first,
                    done=start > last,
                    claim=run.claim,
                    use=run.use,
                    known=run.known,
                    reason=run.reason,
                )
            )
        return parts

    def border(self, border: Border) -> RunDemand:
        """The border by its rounds, or the grams entered for it."""
        place = self.place(border.slot)
        ref = RunRef(self.project.key, RunKind.BORDER)
        rounds = max(0, border.rounds)
        left = 0 if self.finished else rounds
        if border.grams is not None or self.project.method is Method.BY_HAND:
            if place.reason is not None or border.grams is None:
                lacking = place.reason or Unknown.GRAMS
                return _unknown(ref, border.slot, place, rounds, left, border.claim, lacking)
            return _entered(
                ref,
                border.slot,
                place,
                border.grams,
                Decimal(0) if self.finished else border.grams,
                border.claim,
                rows=rounds,
                rows_left=left,
                done=self.finished,
            )
        reason = self.no_rows(place)
        if reason is not None or place.yarn is None or self.stitch is None or self.size is None:
            return _unknown(ref, border.slot, place, rounds, left, border.claim, reason)
        stitches = sum(gauges.border_stitches(border, self.size.stitches, self.size.rows))
        effective = stitches / gauges.body_stitches(self.stitch, self.size.repeats)
        use = self.row_use[place.yarn.key]
        # A new ball can be joined anywhere in a round: there is no edge to keep whole.
        ball_g = float(place.yarn.ball_g)
        plain = uses.need(use, effective, self.assumed)
        tails = self.tails_g(place.yarn) * uses.strands_for(plain.mean_g, ball_g) if rounds else 0.0
        need = Need(plain.mean_g + tails, plain.bound_g + tails)
        planned = NOTHING if self.finished else need
        return RunDemand(
            ref=ref,
            slot=border.slot,
            shade=place.shade,
            rows=rounds,
            rows_left=left,
            effective_left=0.0 if self.finished else effective,
            mean_g=planned.mean_g,
            need_dg=_tenths(planned.bound_g),
            whole_mean_g=need.mean_g,
            sure_g=0.0 if self.finished else tails,
            done=left <= 0,
            claim=border.claim,
            use=use,
        )

    def fringe(self, fringe: Fringe) -> RunDemand:
        """The fringe by strands and cut length, or the grams entered for it.

        What is uncertain is only the grams of a metre, as much as the grams of an unopened ball.
        """
        place = self.place(fringe.slot)
        ref = RunRef(self.project.key, RunKind.FRINGE)
        grams = fringe.grams
        reason: Unknown | None = place.reason
        if reason is None and grams is None and self.project.method is Method.BY_HAND:
            reason = Unknown.GRAMS
        if reason is None and grams is None and (place.yarn is None or not place.yarn.ball_m):
            reason = Unknown.METRES
        if reason is not None or place.yarn is None:
            return _unknown(ref, fringe.slot, place, 0, 0, fringe.claim, reason)
        if grams is not None or not place.yarn.ball_m:
            mean = bound = grams or Decimal(0)
        else:
            metres = fringe.cut.value * MM_PER_UNIT[fringe.cut.unit] / 1000
            mean = max(0, fringe.strands) * metres * place.yarn.ball_g / place.yarn.ball_m
            z = student.quantile(float(self.assumed.confidence), math.inf)
            bound = mean * (1 + self.assumed.ball_spread * Decimal(repr(max(0.0, z))))
        return _entered(
            ref,
            fringe.slot,
            place,
            mean,
            Decimal(0) if self.finished else bound,
            fringe.claim,
            mean_left=Decimal(0) if self.finished else mean,
            done=self.finished,
        )


def _place(slot: Slot, library: Library) -> _Place:
    yarn = library.yarn.get(slot.yarn)
    if yarn is None:
        return _Place(slot.shade_ref, None, Unknown.YARN)
    if slot.shade_ref not in library.shade:
        return _Place(slot.shade_ref, yarn, Unknown.SHADE)
    return _Place(slot.shade_ref, yarn, None)


def _unknown(
    ref: RunRef,
    slot: str,
    place: _Place,
    rows: int,
    left: int,
    claim: Claim | None,
    reason: Unknown | None,
) -> RunDemand:
    """A run of which nothing can be said but its rows."""
    return RunDemand(
        ref=ref,
        slot=slot,
        shade=place.shade,
        rows=rows,
        rows_left=left,
        effective_left=0.0,
        mean_g=0.0,
        need_dg=0,
        begun=left < rows,
        done=rows > 0 and left <= 0,
        claim=claim,
        known=False,
        reason=reason or Unknown.YARN,
    )


def _entered(
    ref: RunRef,
    slot: str,
    place: _Place,
    whole: Decimal,
    need: Decimal,
    claim: Claim | None,
    *,
    rows: int = 0,
    rows_left: int = 0,
    mean_left: Decimal | None = None,
    begun: bool = False,
    done: bool = False,
) -> RunDemand:
    """A run whose grams do not come from rows."""
    mean = float(need if mean_left is None else mean_left)
    return RunDemand(
        ref=ref,
        slot=slot,
        shade=place.shade,
        rows=rows,
        rows_left=rows_left,
        effective_left=float(rows_left),
        mean_g=mean,
        need_dg=_up_exact(need * 10),
        whole_mean_g=float(whole),
        sure_g=mean,
        begun=begun,
        done=done,
        claim=claim,
    )


def _up(value: float) -> int:
    # A hair over a whole number is the rounding of a binary float and not another tenth.
    return math.ceil(value - 1e-6)


def _up_exact(value: Decimal) -> int:
    return math.ceil(value)


def _tenths(grams: float) -> int:
    """Grams as whole tenths, rounded up: a plan may have a little more, never less."""
    return _up(grams * 10)
