"""Strands started and yarn tails to weave in, once the lots of a piece are known.

Every strand started leaves two ends. A colour need not be started anew where it is carried up the
side: from the same lot, with yarn left on the ball, over an even number of rows, since only then
it waits at the edge where it is wanted.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from studio.core.frozen import dataclass
from studio.core.use import strands_for


@dataclass(frozen=True, slots=True)
class Worked:
    """Rows worked in one colour from one lot; `lot` None stands for a new lot to be bought.

    `grams` is what they take, `ball_g` a full ball, `row_g` one row of it: a remnant under a row
    is no yarn left.
    """

    colour: Hashable
    lot: str | None
    first: int
    last: int
    grams: float
    ball_g: float
    row_g: float = 0.0


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A colour's ball at the edge of the work."""

    lot: str | None
    row: int
    left_g: float


def strands_of(stripes: Sequence[Worked], carry_rows: int) -> tuple[int, ...]:
    """How many strands each stripe starts, in the order they are worked.

    A stripe from several balls starts one for each; a carried colour starts none until its ball
    runs out. Neighbours of one colour and lot simply go on.
    """
    waiting: dict[Hashable, _Waiting] = {}
    started = []
    for stripe in stripes:
        if stripe.last < stripe.first:
            started.append(0)
            continue
        ball = waiting.get(stripe.colour)
        left = 0.0
        if ball is not None and ball.lot == stripe.lot and ball.left_g > 0:
            between = stripe.first - ball.row - 1
            if between % 2 == 0 and between <= carry_rows and ball.left_g >= stripe.row_g:
                left = ball.left_g
        fresh = max(0.0, stripe.grams - left)
        strands = strands_for(fresh, stripe.ball_g) if fresh > 1e-9 or left <= 0 else 0
        left_over = left + strands * stripe.ball_g - stripe.grams
        waiting[stripe.colour] = _Waiting(stripe.lot, stripe.last, left_over)
        started.append(strands)
    return tuple(started)


def ends_of(stripes: Sequence[Worked], carry_rows: int, *, other_strands: int = 0) -> int:
    """Ends to weave in: two for each strand, those of the border among `other_strands`."""
    return 2 * (sum(strands_of(stripes, carry_rows)) + other_strands)
