"""Is an assignment allowed, and how good is it: the rules of lot assignment in plain integers.

Greedy, enumeration, solver and tests are all measured by these functions, which share no code with
them; an answer that leaves the solver is believed only once it has passed here.

Three readings that the rules leave open are settled here:

- A fixed run whose lot is missing from the problem counts as fixed to a lot that holds nothing;
  a fixed run without a lot is open.
- Where a group must come from one lot and its settled runs agree on one, its other runs may still
  be bought, all together: else a lot that has become too small would leave no answer at all.
- When a hold of such a group has to move, the group's held and open runs move to one place.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from studio.core.lots.problem import BUY, Fixed, Piece, Run, ShadeProblem, Value


def value_key(value: Value) -> tuple[object, ...]:
    """The value as one tuple that compares in the order of the stages."""
    return (value.repair, value.buy, value.pooled_balls, value.lots, value.leftovers)


def balls_for(dg: int, ball_dg: int) -> int:
    """Whole balls that `dg` of yarn take."""
    return -(-dg // ball_dg)


def settled(run: Run) -> bool:
    """Whether the run has a lot that no stage may change."""
    return run.lot is not None and run.fixed in (Fixed.BEGUN, Fixed.PIN, Fixed.ORDER)


def held(run: Run) -> bool:
    """Whether the run has a lot that only a repair may change."""
    return run.lot is not None and run.fixed is Fixed.HOLD


def every_run(problem: ShadeProblem) -> Iterator[Run]:
    """All runs in the problem's order."""
    for piece in problem.pieces:
        yield from piece.runs


def groups_of(piece: Piece) -> dict[str, list[Run]]:
    """The piece's runs by group, both in the order in which they are listed."""
    groups: dict[str, list[Run]] = {}
    for run in piece.runs:
        groups.setdefault(run.group, []).append(run)
    return groups


def settled_load(problem: ShadeProblem) -> dict[str, int]:
    """The dg that the runs which never move ask of each lot."""
    load: dict[str, int] = {}
    for run in every_run(problem):
        if settled(run) and run.lot is not None and run.lot != BUY:
            load[run.lot] = load.get(run.lot, 0) + run.need_dg
    return load


def overdrawn_lots(problem: ShadeProblem) -> dict[str, int]:
    """By how many dg the runs that never move ask more than their lot has, by lot code."""
    free = {lot.code: lot.free_dg for lot in problem.lots}
    over = {code: dg - free.get(code, 0) for code, dg in settled_load(problem).items()}
    return {code: dg for code, dg in sorted(over.items()) if dg > 0}


def is_allowed(problem: ShadeProblem, lots: Mapping[str, str]) -> str | None:
    """Why the assignment breaks a rule, or None where it keeps them all.

    A held run that leaves its lot breaks no rule here: the repair stage counts it.
    """
    return (
        _wrong_place(problem, lots)
        or _too_much(problem, lots)
        or next((why for piece in problem.pieces if (why := _not_together(piece, lots))), None)
    )


def _wrong_place(problem: ShadeProblem, lots: Mapping[str, str]) -> str | None:
    open_lots = {lot.code for lot in problem.lots if lot.arrives is None} | {BUY}
    for run in every_run(problem):
        place = lots.get(run.key)
        if place is None:
            return f"run {run.key} has no lot"
        if (settled(run) or held(run)) and place == run.lot:
            continue
        if settled(run):
            return f"run {run.key} is {run.fixed} in {run.lot}, not in {place}"
        if place not in open_lots:
            return f"lot {place} is not open to run {run.key}"
    return None


def _too_much(problem: ShadeProblem, lots: Mapping[str, str]) -> str | None:
    free = {lot.code: lot.free_dg for lot in problem.lots}
    over = overdrawn_lots(problem)
    asked: dict[str, int] = {}
    for run in every_run(problem):
        place = lots[run.key]
        if place == BUY or (place in over and settled(run)):
            continue
        asked[place] = asked.get(place, 0) + run.need_dg
    for code, dg in asked.items():
        has = 0 if code in over else free.get(code, 0)
        if dg > has:
            return f"lot {code} has {has} dg and is asked for {dg}"
    return None


def _not_together(piece: Piece, lots: Mapping[str, str]) -> str | None:
    for name, runs in groups_of(piece).items():
        if name not in piece.together:
            continue
        moved = any(held(run) and lots[run.key] != run.lot for run in runs)
        stays = [run for run in runs if settled(run) or (held(run) and not moved)]
        moves = [run for run in runs if run not in stays]
        places = {lots[run.key] for run in moves}
        if len(places) > 1:
            return f"group {name} of {piece.key} is split over {len(places)} lots"
        agreed = {run.lot for run in stays}
        if places and len(agreed) == 1 and not places <= agreed | {BUY}:
            return f"group {name} of {piece.key} leaves the lot of its settled runs"
    return None


def moved_runs(problem: ShadeProblem, lots: Mapping[str, str]) -> tuple[str, ...]:
    """The held runs that are not in their lot, in the problem's order."""
    return tuple(run.key for run in every_run(problem) if held(run) and lots[run.key] != run.lot)


def age_places(problem: ShadeProblem) -> tuple[dict[str, int], int]:
    """Each lot's place in the order of purchase, and the place of a lot of unknown age.

    Lots bought on one day share a place. What is still on order is as new as can be.
    """
    dates = sorted({lot.bought for lot in problem.lots if lot.bought and lot.arrives is None})
    place = {day: at for at, day in enumerate(dates)}
    newest = len(dates)
    return {
        lot.code: place[lot.bought] if lot.bought and lot.arrives is None else newest
        for lot in problem.lots
    }, newest


def value_of(problem: ShadeProblem, lots: Mapping[str, str]) -> Value:
    """How good an allowed assignment is at every stage."""
    moved = set(moved_runs(problem, lots))
    disturbed = sum(any(run.key in moved for run in piece.runs) for piece in problem.pieces)
    bought = [
        sum(run.need_dg for run in piece.runs if lots[run.key] == BUY) for piece in problem.pieces
    ]
    pooled = sum(dg for dg, piece in zip(bought, problem.pieces, strict=True) if piece.held)
    return Value(
        repair=(disturbed, len(moved)),
        buy=tuple((balls_for(dg, problem.ball_dg), dg) for dg in bought),
        pooled_balls=balls_for(pooled, problem.ball_dg),
        lots=_lots_value(problem, lots),
        leftovers=_leftovers_value(problem, lots),
    )


def _lots_value(problem: ShadeProblem, lots: Mapping[str, str]) -> tuple[int, int]:
    extra = changes = 0
    for piece in problem.pieces:
        for runs in groups_of(piece).values():
            places = [lots[run.key] for run in runs]
            extra += len(set(places)) - 1
            changes += sum(a != b for a, b in itertools.pairwise(places))
    return extra, changes


def _leftovers_value(problem: ShadeProblem, lots: Mapping[str, str]) -> tuple[int, int, int]:
    taken: dict[str, int] = {}
    for run in every_run(problem):
        if lots[run.key] != BUY:
            taken[lots[run.key]] = taken.get(lots[run.key], 0) + run.need_dg
    places, newest = age_places(problem)
    part = sum(min(taken.get(lot.code, 0), lot.part_dg) for lot in problem.lots)
    opened = sum(lot.whole and taken.get(lot.code, 0) > 0 for lot in problem.lots)
    age = sum(dg * places.get(code, newest) for code, dg in taken.items())
    return -part, opened, age
