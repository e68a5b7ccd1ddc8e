"""The yarn stash: every lot, what the piece at hand takes from it first."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, ClassVar

from textual.binding import BindingType

from studio.core import edits, say
from studio.core.answers import LotState
from studio.core.model import Lot, LotRef, ShadeRef
from studio.ui import keys
from studio.ui.asking import Edit
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.panes.marks import ONE_LOT
from studio.ui.panes.pane import Pane
from studio.ui.view import View

LOST = "'"
LOST_WORDS = "' a mark of your own: the ball band is lost"


class StashPane(Pane):
    """All lots in the house; those the piece at hand takes from, or could, stand first."""

    words = "Stash"
    empty = "No yarn in the house yet. Insert or Ctrl+N adds a lot."
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("stash")

    def __init__(self) -> None:
        super().__init__("stash")
        self._kept: dict[LotRef, tuple[Lot, LotState | None, str | None, Row]] = {}
        self._of: str | None = None
        self._ground: tuple[object, ...] = (None, None, None, None)
        self._places: list[list[Any]] = []
        self._rows: list[Row] = []

    def columns(self) -> Iterable[Column]:
        """Shade and lot, what is in it, who has it, what the piece takes, what is left."""
        return (
            Column("shade", share=3, least=11),
            Column("lot", share=1, least=6, most=12),
            Column("balls", width=5, align=Align.RIGHT, drop=2),
            Column("parts", most=16, unit="g", align=Align.RIGHT, drop=4),
            Column("held", width=6, unit="g", align=Align.RIGHT, drop=3),
            Column("free", width=6, unit="g", align=Align.RIGHT),
            Column("takes", width=7, unit="g", align=Align.RIGHT),
            Column("left", width=6, unit="g", align=Align.RIGHT, drop=1),
        )

    def fill(self, view: View) -> None:
        """The lots of the piece's shades, what is on order, and all others by yarn."""
        slots = view.project.slots if view.project else ()
        ground = (view.key, slots, view.studio.stash, view.studio.library)
        if all(a is b for a, b in zip(ground, self._ground, strict=True)):
            self._follow(view)
            return
        self._ground = ground
        self._arrange(view)

    def _follow(self, view: View) -> None:
        """Take over the lots whose state is another one; all else stands as it did."""
        states = view.snapshot.plan.lots
        changed = False
        for place in self._places:
            at, ref, lot, state = place
            now = states.get(ref)
            if now is not state:
                place[3] = now
                self._rows[at] = self._row(view, lot)
                changed = True
        if changed:
            self.list.set_rows(self._rows)

    def _arrange(self, view: View) -> None:
        mine = set(view.letters)
        first: list[tuple[str, Row]] = []
        by_yarn: dict[str, list[Row]] = {}
        lost = False
        for lot in view.studio.stash.lots:
            row = self._row(view, lot)
            lost = lost or lot.code_lost
            if lot.shade_ref in mine:
                first.append((view.letters[lot.shade_ref], row))
            else:
                by_yarn.setdefault(lot.yarn, []).append(row)
        rows: list[Row] = []
        if first and view.project:
            first.sort(key=lambda pair: pair[0])
            rows.append(Row("mine", (f"shades of {view.project.name}",), Tone.HEADING))
            rows += [row for _, row in first]
        rows += _on_order(view)
        for yarn, lots in by_yarn.items():
            rows.append(Row(("yarn", yarn), (view.yarn_name(yarn),), Tone.HEADING))
            rows += lots
        # Another piece at hand: begin with what it takes.
        at = first[0][1].key if first and view.key != self._of else None
        self._of = view.key
        by_ref = {lot.ref: lot for lot in view.studio.stash.lots}
        states = view.snapshot.plan.lots
        self._places = [
            [i, row.key, by_ref[row.key], states.get(row.key)]
            for i, row in enumerate(rows)
            if isinstance(row.key, LotRef)
        ]
        self._rows = rows
        self.list.set_rows(rows, at)
        count = len(view.studio.stash.lots)
        self.head.show(self.words, say.count(count, "lot") if count else "")
        self.explain([LOST_WORDS] if lost else [])

    def _row(self, view: View, lot: Lot) -> Row:
        state = view.snapshot.plan.lots.get(lot.ref)
        letter = view.letters.get(lot.shade_ref)
        kept = self._kept.get(lot.ref)
        asked = f"{view.key} {letter}" if letter else None
        if kept is not None and kept[:2] == (lot, state) and kept[2] == asked:
            return kept[3]
        row = _lot_row(view, lot, state, letter or "")
        self._kept[lot.ref] = (lot, state, asked, row)
        return row

    @property
    def lot(self) -> Lot | None:
        """The lot the cursor stands on."""
        key = self.list.key
        if not isinstance(key, LotRef):
            return None
        return next((lot for lot in self.view.studio.stash.lots if lot.ref == key), None)

    def action_open(self) -> None:
        """Correct the lot."""
        if self.lot:
            self.ask("correct_lot", self.lot.ref)

    def action_add(self) -> None:
        """Add a lot, of the shade at hand to begin with."""
        self.ask("add_lot", self.lot.shade_ref if self.lot else None)

    def action_use(self) -> None:
        """Use up balls."""
        if self.lot:
            self.ask("use_balls", self.lot.ref)

    def action_weigh(self) -> None:
        """Weigh a part ball."""
        if self.lot:
            self.ask("weigh_part", self.lot.ref)

    def action_remove(self) -> None:
        """Remove the lot."""
        lot = self.lot
        if lot:
            ref = lot.ref
            self.post_message(Edit(f"lot {lot.code} removed", lambda s: edits.remove_lot(s, ref)))


def _g(value: Decimal) -> str:
    """Grams for a column whose head has the unit."""
    return say.grams(value).removesuffix(" g")


def _lot_row(view: View, lot: Lot, state: LotState | None, letter: str) -> Row:
    parts = " + ".join(_g(g) for g in lot.parts_g)
    code = (lot.code or ONE_LOT) + (LOST if lot.code_lost else "")
    name = Cell(view.shade_name(lot.shade_ref), patch=view.patch(lot.shade_ref, letter))
    if state is None:
        return Row(lot.ref, (name, code, str(lot.balls), parts), Tone.QUIET)
    takes = state.taken_by(view.key) if view.key else Decimal(0)
    over = state.left_g < 0
    return Row(
        lot.ref,
        (
            name,
            code,
            str(lot.balls) if lot.balls else "",
            parts,
            _g(state.held_g) if state.held_g else "",
            Cell(_g(state.free_g), Tone.NEEDS_YOU if state.free_g < 0 else None),
            Cell(_g(takes), Tone.STRONG) if takes else "",
            Cell(_g(state.left_g), Tone.NEEDS_YOU if over else Tone.QUIET),
        ),
        Tone.NORMAL if letter else Tone.QUIET,
        detail=(lot.note,) if lot.note else (),
        words=view.yarn_name(lot.yarn),
        hint=lot.note,
    )


def _on_order(view: View) -> list[Row]:
    """What is on order: its shade, when it arrives, how many balls."""
    rows: list[Row] = []
    for purchase in view.studio.stash.purchases:
        for at, line in enumerate(purchase.lines):
            ref = ShadeRef(line.yarn, line.shade)
            rows.append(
                Row(
                    ("order", purchase.key, at),
                    (
                        Cell(
                            view.shade_name(ref), patch=view.patch(ref, view.letters.get(ref, ""))
                        ),
                        say.date(purchase.arrives).rsplit(" ", 1)[0],
                        str(line.balls),
                    ),
                    Tone.QUIET,
                    detail=(f"From {purchase.supplier}, to arrive {say.date(purchase.arrives)}.",),
                    words="on order",
                )
            )
    return [Row("order", ("on order, to arrive",), Tone.HEADING), *rows] if rows else []
