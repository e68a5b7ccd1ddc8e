"""The stripe editor: every stripe as a line of figures, and the cloth beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, ClassVar

from textual import events, on
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widget import Widget

from studio.core import edits, say
from studio.core.answers import Finding, RunKind, RunPlan, StripeRows
from studio.core.model import Project, Studio
from studio.core.picture import picture_of
from studio.ui import keys
from studio.ui.asking import Edit, Said
from studio.ui.cloth import Cloth
from studio.ui.drawn_list import Align, Column, DrawnList, Row
from studio.ui.panes.marks import FOUND_WORDS, ROUGH_WORDS, is_rough
from studio.ui.panes.pane import Pane
from studio.ui.panes.slot_strip import SlotStrip
from studio.ui.panes.stripe_rows import (
    BORDER,
    FRINGE,
    edge_row,
    runs_by_place,
    same_but_place,
    stripe_row,
    with_range,
)
from studio.ui.view import View


class StripesPane(Pane):
    """All stripes of the piece at hand, then its border and fringe."""

    words = "Stripes"
    empty = "No stripes yet: F2 shows the pieces, Ctrl+N begins one."
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("stripes")

    def __init__(self) -> None:
        super().__init__("stripes")
        self._typed = ""
        self._kept: dict[object, tuple[tuple[Any, ...], StripeRows | None, Row]] = {}
        self._kept_of: str | None = None

    def columns(self) -> Iterable[Column]:
        """Number, slot, shade, rows, row range, the side its first row shows, need, lot."""
        return (
            Column("no", align=Align.RIGHT),
            Column("", width=1),
            Column("slot and shade", share=1, least=14, most=30),
            Column("rows", width=4, align=Align.RIGHT),
            Column("from to", width=9, align=Align.RIGHT, drop=2),
            Column("begins", width=6, drop=3),
            Column("need", width=6, unit="g", align=Align.RIGHT),
            Column("lot", most=14),
        )

    def body(self) -> Iterable[Widget]:
        """The slots, the list and the cloth."""
        yield SlotStrip()
        yield Horizontal(self._list(), Cloth(id="cloth"), id="stripes-body")

    def fill(self, view: View) -> None:
        """A line for each stripe, the border and the fringe."""
        project, plan = view.project, view.plan
        if self._kept_of != view.key:
            self._kept.clear()
            self._typed = ""
        at = None if self._kept_of == view.key else 0
        self._kept_of = view.key
        self.query_one(SlotStrip).show(view)
        if project is None:
            self.list.set_rows(())
            self.query_one(Cloth).show(None)
            self.head.show(self.words, "")
            self.explain(())
            return
        rows = list(self._rows(view, project))
        self.list.set_rows(rows, at)
        picture = picture_of(project, plan, view.studio.library)
        hints = [str(row.cell(2).text) for row in rows]
        self.query_one(Cloth).show(picture, hints=hints)
        self.mark_cloth()
        if plan is not None and plan.size is not None:
            total = (
                f"{say.count(len(project.stripes), 'stripe')}, {say.count(plan.size.rows, 'row')}, "
                f"chain {plan.size.chain}, {say.count(plan.ends, 'end')}"
            )
        else:
            total = say.count(len(project.stripes), "stripe")
        self.head.show(f"Stripes of {project.name}", total)
        rough = plan is not None and any(is_rough(s) for s in plan.shades)
        found = any(f.stripe is not None and not f.accepted for f in plan.findings) if plan else 0
        self.explain([*([FOUND_WORDS] if found else ()), *([ROUGH_WORDS] if rough else ())])

    def mark_cloth(self) -> None:
        """Mark the stripe at hand in the cloth."""
        self.query_one(Cloth).mark(self.index)

    def stand_on(self, index: int) -> None:
        """Put the cursor on a stripe, here and in the cloth."""
        self.list.go_to(index)
        self.mark_cloth()

    @on(Cloth.StripePicked)
    def _picked(self, event: Cloth.StripePicked) -> None:
        event.stop()
        self.stand_on(event.index)
        self.list.focus()

    def _rows(self, view: View, project: Project) -> Iterable[Row]:
        plan = view.plan
        runs = runs_by_place(plan.runs if plan else ())
        places = plan.stripe_rows if plan else ()
        said: dict[int, list[Finding]] = {}
        for finding in plan.findings if plan else ():
            if finding.stripe is not None and not finding.accepted:
                said.setdefault(finding.stripe, []).append(finding)
        rough = frozenset(s.shade for s in plan.shades if is_rough(s)) if plan else frozenset()
        ground = (project.slots, rough, view.studio.library)
        for index, stripe in enumerate(project.stripes):
            typed = self._typed if self._typed and self.list.key == index else ""
            run = runs.get((RunKind.STRIPE, index), ())
            stem = (stripe, run, tuple(said.get(index, ())), typed, *ground)
            yield self._stripe(view, index, stem, places[index] if index < len(places) else None)
        for key, kind in ((BORDER, RunKind.BORDER), (FRINGE, RunKind.FRINGE)):
            run = runs.get((kind, 0), ())
            edge = (project.border, project.fringe, run, *ground)
            kept = self._kept.get(key)
            if kept is None or kept[0] != edge:
                kept = self._kept[key] = (edge, None, edge_row(view, key, run, rough))
            yield kept[2]

    def _stripe(
        self, view: View, index: int, stem: tuple[Any, ...], place: StripeRows | None
    ) -> Row:
        """The very row of before, or that row in another place, where nothing else has changed."""
        kept = self._kept.get(index)
        if kept is not None and kept[0] == stem:
            if kept[1] == place:
                return kept[2]
            if place is not None and kept[1] is not None and same_but_place(kept[1], place):
                row = replace(kept[2], cells=with_range(kept[2].cells, place))
                self._kept[index] = (stem, place, row)
                return row
        stripe, run, findings, typed, _, rough, _ = stem
        row = stripe_row(view, index, stripe, run, place, findings, typed, rough)
        self._kept[index] = (stem, place, row)
        return row

    # What is at hand

    @property
    def index(self) -> int | None:
        """The stripe at hand, None on the border, the fringe or nothing."""
        key = self.list.key
        return key if isinstance(key, int) else None

    @property
    def place(self) -> tuple[RunKind, int] | None:
        """The run at hand."""
        key = self.list.key
        if isinstance(key, int):
            return RunKind.STRIPE, key
        return {BORDER: (RunKind.BORDER, 0), FRINGE: (RunKind.FRINGE, 0)}.get(str(key))

    @property
    def run(self) -> RunPlan | None:
        """What the plan says of the run at hand."""
        plan = self.view.plan
        runs = runs_by_place(plan.runs if plan else ())
        found = runs.get(self.place, ()) if self.place else ()
        return found[0] if found else None

    @on(DrawnList.Moved)
    def _moved(self, event: DrawnList.Moved) -> None:
        event.stop()
        self.mark_cloth()

    # Typing: digits are rows, letters are slots

    def on_key(self, event: events.Key) -> None:
        """Digits gather into a number of rows, a letter takes that slot."""
        if self.list.filtering or self.index is None or self.app.focused is not self.list:
            return
        character = event.character or ""
        if self._typed and event.key in {"enter", "escape", "backspace", "up", "down"}:
            self._end_typing(event)
        elif character.isdigit() and len(self._typed) < 4:
            self._type(self._typed + character)
            event.stop()
        elif len(character) == 1 and character.isalpha() and character.isascii():
            self._take_slot(character.upper())
            event.stop()

    def _end_typing(self, event: events.Key) -> None:
        typed = self._typed
        if event.key == "backspace":
            self._type(typed[:-1])
        elif event.key == "escape":
            self._type("")
        else:
            self._typed = ""
            index = self.index
            rows = int(typed)
            # An arrow moves on after the number is set, so the cursor is not called back.
            self._edit(
                f"stripe {(index or 0) + 1} to {say.count(rows, 'row')}",
                lambda s, p, i: edits.set_rows(s, p, i, rows),
                moves_on=event.key in {"up", "down"},
            )
            self.fill(self.view)
        if event.key not in {"up", "down"}:
            event.stop()

    def _type(self, typed: str) -> None:
        self._typed = typed
        self.fill(self.view)

    def _take_slot(self, letter: str) -> None:
        project = self.view.project
        if project is not None and project.slot(letter) is None:
            letters = ", ".join(slot.letter for slot in project.slots)
            self.post_message(Said(f"There is no slot {letter} yet; this piece has {letters}. "
                                   "The slots dialog adds one."))  # fmt: skip
            return
        self._edit(f"slot {letter}", lambda s, p, i: edits.set_slot(s, p, i, letter))

    # Edits

    def _edit(
        self,
        label: str,
        change: Callable[[Studio, str, int], Studio],
        stand: int | None = None,
        *,
        moves_on: bool = False,
    ) -> None:
        """Ask for a change of the stripe at hand; the cursor then stands on it, or on `stand`."""
        index, key = self.index, self.view.key
        if index is None or key is None:
            return
        stand = None if moves_on else index if stand is None else stand
        self.post_message(Edit(label, lambda studio: change(studio, key, index), stand))

    def _rows_by(self, by: int, label: str) -> None:
        self._edit(label, lambda s, p, i: edits.change_rows(s, p, i, by))

    def action_more(self) -> None:
        """Two rows more."""
        self._rows_by(2, "two rows more")

    def action_fewer(self) -> None:
        """Two rows fewer."""
        self._rows_by(-2, "two rows fewer")

    def action_one_more(self) -> None:
        """One row more."""
        self._rows_by(1, "one row more")

    def action_one_fewer(self) -> None:
        """One row fewer."""
        self._rows_by(-1, "one row fewer")

    def action_add(self) -> None:
        """A stripe below, in the slot that follows in the design."""
        project, index = self.view.project, self.index
        if project is None:
            self.ask("new_piece")
            return
        if not project.slots:
            self.ask("slots")
            return
        if not project.stripes:
            self._add(0, project.slots[0].letter, 2, "first stripe")
            return
        if index is None:
            index = len(project.stripes) - 1
        here = project.stripes[index]
        letters = [slot.letter for slot in project.slots]
        at = letters.index(here.slot) if here.slot in letters else -1
        letter = (letters[at + 1 :] or letters)[0]
        self._add(index + 1, letter, here.rows, "stripe added")

    def action_again(self) -> None:
        """The same slot and rows once more, below."""
        project, index = self.view.project, self.index
        if project is not None and index is not None:
            here = project.stripes[index]
            self._add(index + 1, here.slot, here.rows, "one more like it")

    def _add(self, at: int, letter: str, rows: int, label: str) -> None:
        key = self.view.key
        if key is not None:
            self.post_message(Edit(label, lambda s: edits.add_stripe(s, key, at, letter, rows), at))

    def action_remove(self) -> None:
        """Remove the stripe, the border or the fringe."""
        key = self.view.key
        if key is None:
            return
        if self.list.key == BORDER:
            self.post_message(Edit("border removed", lambda s: edits.set_border(s, key, None)))
        elif self.list.key == FRINGE:
            self.post_message(Edit("fringe removed", lambda s: edits.set_fringe(s, key, None)))
        else:
            self._edit("stripe removed", lambda s, p, i: edits.remove_stripe(s, p, i))

    def action_back(self) -> None:
        """Up past the one above."""
        if self.index:
            self._move(-1, "stripe moved up")

    def action_on(self) -> None:
        """Down past the one below."""
        project = self.view.project
        if project and self.index is not None and self.index + 1 < len(project.stripes):
            self._move(1, "stripe moved down")

    def _move(self, by: int, label: str) -> None:
        index = self.index or 0
        self._edit(label, lambda s, p, i: edits.move_stripe(s, p, i, i + by), index + by)

    def action_divide(self) -> None:
        """Ask where to split the stripe."""
        if self.index is not None:
            self.ask("split", self.index)

    def action_join(self) -> None:
        """Merge with the next."""
        self._edit("stripes merged", lambda s, p, i: edits.merge_stripe(s, p, i))

    def action_lot(self) -> None:
        """Choose the lot of the run at hand."""
        if self.place is not None:
            self.ask("lot", self.place)

    def action_open(self) -> None:
        """Change the stripe, the border or the fringe in a form."""
        if self.list.key in (BORDER, FRINGE):
            self.ask(str(self.list.key))
        elif self.index is not None:
            self.ask("stripe", self.index)
