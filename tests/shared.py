"""What tests of one process share: what equal files and equal questions come to is found out once.

Most tests of screens and commands begin with the demo or another small studio, each with a folder
of its own; reading it and working it out was half of what they did. Here the same bytes of a file
give the same things again, the same things the same first plan, and the same question the same
purchase. All of these are functions of nothing but what they are given, and give what nobody can
change; each is still worked out once in every process, and whatever a test has changed, anew.
"""

from __future__ import annotations

import pickle
from collections import OrderedDict
from collections.abc import Callable, Hashable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from studio.core.model import Studio

MOST = 2_000
"""So many results are kept; the longest unused is forgotten first."""

_found: OrderedDict[Hashable, tuple[object, Any]] = OrderedDict()


def _once(key: Hashable, asked: object, find: Callable[[], Any]) -> Any:
    """What was found for the key before, or is now; `asked` is kept as long as that."""
    if key in _found:
        _found.move_to_end(key)
        return _found[key][1]
    found = find()
    _found[key] = asked, found
    while len(_found) > MOST:
        _found.popitem(last=False)
    return found


def _things(studio: Studio) -> list[object]:
    """All that a studio is made of, as it was read."""
    library, stash = studio.library, studio.stash
    return [
        studio.settings, studio.trade, *library.yarns, *library.stitches, *library.swatches,
        *stash.lots, *stash.purchases, *studio.projects, *studio.customers, *studio.suppliers,
        *studio.offers,
    ]  # fmt: skip


def share_readings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Files with the same bytes and studios of the same things are worked out once."""
    from studio.core.reconcile import reconcile
    from studio.storage import read

    parse = read.parse

    def parsed(kind: Any, file: str, data: bytes) -> Any:
        key = ("file", kind, file, data)
        thing, text, problems = _once(key, None, lambda: parse(kind, file, data))
        return thing, text, list(problems)

    def reconciled(
        studio: Studio,
        kept: Any = None,
        solved: Any = None,
        tick: Callable[[], None] = lambda: None,
        today: date | None = None,
    ) -> Any:
        if kept is not None or solved is not None:
            return reconcile(studio, kept, solved, tick, today)
        # By the things themselves, not by their values: 4.5 and 4.50 are equal, and told otherwise.
        key = ("plan", today, studio.unread, *map(id, _things(studio)))
        return _once(key, studio, lambda: reconcile(studio, tick=tick, today=today))

    monkeypatch.setattr(read, "parse", parsed)
    monkeypatch.setattr("studio.workshop.reconcile", reconciled)


def share_purchases(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same question for a purchase starts one process; one with a limit of time its own."""
    from studio.cli import buying

    worked_out = buying.worked_out

    def bought(asked: Any, limit_s: Decimal | None) -> Any:
        if limit_s is not None:
            return worked_out(asked, limit_s)
        key = ("purchase", pickle.dumps(asked))
        return _once(key, None, lambda: worked_out(asked, limit_s))

    monkeypatch.setattr(buying, "worked_out", bought)


def share_solving(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a solver process of the app has answered once is answered at once the next time."""
    from studio.solving import SolverProcess
    from studio.solving_purchase import PurchaseProcess

    solve_many, buy = SolverProcess.solve_many, PurchaseProcess.buy

    def solved(
        self: SolverProcess,
        problems: Any,
        on_answer: Callable[[int, Any], None],
        cancelled: Callable[[], bool] = lambda: False,
        workers: int = 2,
    ) -> None:
        keys = [("shade", pickle.dumps((problem, self.limits))) for problem in problems]

        def told(index: int, answer: Any) -> None:
            _once(keys[index], None, lambda: answer)
            on_answer(index, answer)

        if cancelled() or not _found.keys() >= set(keys):
            solve_many(self, problems, told, cancelled, workers)
            return
        for index, key in enumerate(keys):
            on_answer(index, _found[key][1])

    def bought(
        self: PurchaseProcess,
        asked: Any,
        on_progress: Callable[[Any], None] = lambda _: None,
        stopped: Callable[[], bool] = lambda: False,
        dropped: Callable[[], bool] = lambda: False,
    ) -> Any:
        key = ("bought", pickle.dumps((asked, self.limits)))
        if key in _found and not stopped() and not dropped():
            return _found[key][1]
        found = buy(self, asked, on_progress, stopped, dropped)
        if found is not None and found.plan.proved and not found.plan.stopped:
            _once(key, None, lambda: found)
        return found

    monkeypatch.setattr(SolverProcess, "solve_many", solved)
    monkeypatch.setattr(PurchaseProcess, "buy", bought)
