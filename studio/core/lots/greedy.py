"""What a careful person would do: piece by piece, whole slots first, the tightest lot that fits.

It is always allowed and takes milliseconds, so it is shown at once and gives the solver its start.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from studio.core.lots.arrange import QUICK_STEPS, arrange
from studio.core.lots.frame import UNSET, Class, Frame, Option, Unit
from studio.core.lots.judge import value_key

Counts = dict[int, dict[int, int]]
"""How many runs of each class go to each lot: counts[class][lot]."""


def greedy(frame: Frame) -> tuple[int, ...]:
    """The better of two careful assignments: tightest lots first, and oldest lots first."""
    plans = [fill(frame, {}, oldest) for oldest in (False, True)]
    return min(plans, key=lambda places: value_key(frame.value(places)))


def fill(frame: Frame, given: Mapping[int, int], oldest: bool = False) -> tuple[int, ...]:
    """An allowed assignment that keeps the places `given` to some runs and is greedy about others.

    Where a group has any run given, all its moving runs must be.
    """
    return _Filler(frame, given, oldest).run()


class _Filler:
    def __init__(self, frame: Frame, given: Mapping[int, int], oldest: bool) -> None:
        self.frame = frame
        self.oldest = oldest
        self.places = list(frame.start)
        self.room = list(frame.room)
        self.given = given
        self.classes: dict[int, list[int]] = {}
        for at, cls in enumerate(frame.classes):
            self.classes.setdefault(cls.group, []).append(at)
        self.units: dict[int, Unit] = {unit.group: unit for unit in frame.units}
        self.stays: set[int] = set()
        self.reserved: dict[int, int] = {}
        """Lots of classes that have but one place."""

    def run(self) -> tuple[int, ...]:
        for run, place in self.given.items():
            self.places[run] = place
            if place != self.frame.buy:
                self.room[place] -= self.frame.runs[run].need_dg
        self._reserve()
        if self.frame.repairs:
            self._keep_holds()
        for at, group in enumerate(self.frame.groups):
            if any(run in self.given for run in group.runs):
                continue
            if at in self.units:
                self._place_unit(self.units[at])
            elif at in self.classes:
                self._place_group(at)
        return tuple(self.places)

    def _reserve(self) -> None:
        """Set yarn aside for a run that has but one place, as a question may demand."""
        for at, cls in enumerate(self.frame.classes):
            if any(run in self.given for run in cls.runs):
                continue
            if len(cls.allowed) == 1 and cls.allowed[0] != self.frame.buy:
                self.reserved[at] = cls.allowed[0]
                self.room[cls.allowed[0]] -= cls.need * len(cls.runs)
        for unit in self.frame.units:
            if all(option.loads for option in unit.options):
                if not any(run in self.given for run in unit.runs):
                    self._place_unit(unit)
                del self.units[unit.group]

    def _keep_holds(self) -> None:
        """Decide which held runs stay: as many pieces as can stay whole, then as many runs.

        Pieces are taken by what they ask of the overdrawn lots, the smallest first, so that the
        few largest are disturbed.
        """
        holds = [
            run
            for run in self.frame.movable
            if self.frame.home[run] not in (UNSET, self.frame.buy)
            and run not in self.given
            and self.places[run] == UNSET
            and not any(run in self.frame.classes[cls].runs for cls in self.reserved)
        ]
        by_piece: dict[int, list[int]] = {}
        piece_of = {run: group.piece for group in self.frame.groups for run in group.runs}
        for run in holds:
            by_piece.setdefault(piece_of[run], []).append(run)
        need = {run: self.frame.runs[run].need_dg for run in holds}
        order = sorted(by_piece, key=lambda piece: (sum(need[r] for r in by_piece[piece]), piece))
        broken = []
        for piece in order:
            if self._all_fit(by_piece[piece]):
                self._stay(by_piece[piece])
            else:
                broken.append(piece)
        in_unit = {run: unit for unit in self.frame.units for run in unit.runs}
        for piece in broken:
            for run in sorted(by_piece[piece], key=lambda each: (need[each], each)):
                together = [r for r in by_piece[piece] if in_unit.get(r) == in_unit.get(run)]
                block = together if run in in_unit else [run]
                if run not in self.stays and self._all_fit(block):
                    self._stay(block)

    def _all_fit(self, runs: Sequence[int]) -> bool:
        asked: dict[int, int] = {}
        for run in runs:
            home = self.frame.home[run]
            asked[home] = asked.get(home, 0) + self.frame.runs[run].need_dg
        return all(dg <= self.room[lot] for lot, dg in asked.items())

    def _stay(self, runs: Sequence[int]) -> None:
        for run in runs:
            self.stays.add(run)
            self.room[self.frame.home[run]] -= self.frame.runs[run].need_dg

    def _preference(self, lot: int, left: int) -> tuple[int, ...]:
        """Of the lots that fit: the one that leaves least, or the oldest."""
        if self.oldest:
            return (self.frame.age[lot], left, lot)
        return (left, self.frame.age[lot], lot)

    def _place_unit(self, unit: Unit) -> None:
        for run in unit.runs:
            if run in self.stays:
                self.room[self.frame.home[run]] += self.frame.runs[run].need_dg
        stay = any(run in self.stays for run in unit.runs)
        fits = [
            option
            for option in unit.options
            if all(dg <= self.room[lot] for lot, dg in option.loads)
        ]
        best = min(fits, key=lambda option: (stay and option.moved, *self._rank(option)))
        for run, place in zip(unit.runs, best.places, strict=True):
            self.places[run] = place
        for lot, dg in best.loads:
            self.room[lot] -= dg

    def _rank(self, option: Option) -> tuple[int, ...]:
        worst = max(
            (self._preference(lot, self.room[lot] - dg) for lot, dg in option.loads),
            default=(0, 0, 0),
        )
        return (option.bought_dg, option.moved, *worst)

    def _place_group(self, at: int) -> None:
        """Lots already in use first, then one lot for all, then the lot that takes most."""
        frame = self.frame
        counts: Counts = {}
        left: dict[int, int] = {}
        for cls in self.classes[at]:
            staying = [run for run in frame.classes[cls].runs if run in self.stays]
            home = frame.classes[cls].home
            counts[cls] = {home: len(staying)} if staying and home is not None else {}
            left[cls] = len(frame.classes[cls].runs) - len(staying)
            if cls in self.reserved:
                counts[cls] = {self.reserved[cls]: left[cls]}
                left[cls] = 0
        used = {lot for lot in frame.groups[at].fixed_lots if lot != frame.buy}
        used |= {lot for lots in counts.values() for lot in lots}
        while any(left.values()):
            lot = self._best_lot(left, used)
            if lot is None:
                break
            for cls, count in self._portion(lot, left).items():
                counts[cls][lot] = counts[cls].get(lot, 0) + count
                left[cls] -= count
                self.room[lot] -= count * frame.classes[cls].need
            used.add(lot)
        for cls, count in left.items():
            if count:
                counts[cls][frame.buy] = counts[cls].get(frame.buy, 0) + count
        _, places, _ = arrange(frame, frame.groups[at], counts, max_steps=QUICK_STEPS)
        for run, place in places.items():
            self.places[run] = place

    def _best_lot(self, left: Mapping[int, int], used: set[int]) -> int | None:
        frame = self.frame
        total = sum(left.values())
        best: tuple[tuple[int, ...], int] | None = None
        lots = {lot for cls, n in left.items() if n for lot in frame.classes[cls].allowed}
        for lot in sorted(lots - {frame.buy}):
            portion = self._portion(lot, left)
            count = sum(portion.values())
            if not count:
                continue
            dg = sum(n * frame.classes[cls].need for cls, n in portion.items())
            whole = count == total
            key = (
                -(lot in used),
                -whole,
                0 if whole else -dg,
                *self._preference(lot, self.room[lot] - dg),
            )
            if best is None or key < best[0]:
                best = (key, lot)
        return best[1] if best else None

    def _portion(self, lot: int, left: Mapping[int, int]) -> dict[int, int]:
        """What the lot takes of the runs left, the largest first."""
        room = self.room[lot]
        portion = {}
        by_need = sorted(left, key=lambda cls: (-self.frame.classes[cls].need, cls))
        for cls in by_need:
            each: Class = self.frame.classes[cls]
            if not left[cls] or lot not in each.allowed:
                continue
            count = min(left[cls], room // each.need if each.need else left[cls])
            if count:
                portion[cls] = count
                room -= count * each.need
        return portion
