"""A solver process for tests that never finds an end by itself: it searches until it is stopped.

With SLOW_CHILD=deaf in its surroundings it does not heed a stop either.
"""

from __future__ import annotations

import os
import time

from studio import solving_child
from studio.core.buying import together
from studio.core.buying.model import BuyLimits, GoOn, Progress
from studio.core.buying.together import Questions, Together

REAL = together.buy_together


def endless(
    asked: Questions, limits: BuyLimits | None = None, go_on: GoOn = lambda _: True
) -> Together:
    """Tell that there is something to gain until stopped; then what a stopped search answers."""
    while go_on(Progress(2000, 1500.0, 1, 0.0)) or os.environ.get("SLOW_CHILD") == "deaf":
        time.sleep(0.05)
    return REAL(asked, limits, go_on)


if __name__ == "__main__":
    together.buy_together = endless
    solving_child.main()
