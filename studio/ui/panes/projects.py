"""The project list: every piece by stage, with what it still lacks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import pairwise
from typing import ClassVar

from textual import on
from textual.binding import BindingType

from studio.core import edits, headline, say
from studio.core.answers import ProjectPlan
from studio.core.headline import State
from studio.core.model import Project, Stage
from studio.ui import keys
from studio.ui.asking import Edit, PieceAtHand
from studio.ui.drawn_list import Align, Cell, Column, DrawnList, Row, Tone
from studio.ui.panes.pane import Pane
from studio.ui.view import View

WORKING_ORDER = (
    Stage.MAKING,
    Stage.FINISHING,
    Stage.BOOKED,
    Stage.QUOTED,
    Stage.IDEA,
    Stage.IN_STOCK,
    Stage.DELIVERED,
    Stage.DECLINED,
    Stage.CANCELLED,
)
"""What is in hand first, what is over last."""

ONWARD = (
    Stage.IDEA,
    Stage.QUOTED,
    Stage.BOOKED,
    Stage.MAKING,
    Stage.FINISHING,
    Stage.IN_STOCK,
    Stage.DELIVERED,
)
"""The way of a piece through the studio."""

OVER = frozenset({Stage.DELIVERED, Stage.DECLINED, Stage.CANCELLED})

TONES = {
    State.SHORT: Tone.NEEDS_YOU,
    State.LATE: Tone.NEEDS_YOU,
    State.ORDER: Tone.CAUTION,
    State.HERE: Tone.GOOD,
    State.DONE: Tone.QUIET,
    State.UNKNOWN: Tone.CAUTION,
    State.WORKING: Tone.QUIET,
}


def in_working_order(projects: Iterable[Project]) -> list[Project]:
    """Pieces by stage, what is in hand first, each stage by due date."""
    return sorted(
        projects,
        key=lambda p: (WORKING_ORDER.index(p.stage), p.due is None, p.due or date.max, p.name),
    )


class ProjectsPane(Pane):
    """All pieces, grouped by stage in working order."""

    words = "Projects"
    empty = "No piece yet. Insert or Ctrl+N begins one."
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("projects")

    def __init__(self) -> None:
        super().__init__("projects")
        self._kept: dict[str, tuple[Project, ProjectPlan | None, Row]] = {}

    def columns(self) -> Iterable[Column]:
        """Name, yarn cover, due date."""
        return (
            Column("piece", share=1, least=16, most=30),
            Column("yarn", most=14, drop=1),
            Column("due", drop=2, align=Align.RIGHT),
        )

    def fill(self, view: View) -> None:
        """A heading for each stage that has pieces, and a line for each piece."""
        rows: list[Row] = []
        stage = None
        for piece in in_working_order(view.studio.projects):
            if piece.stage is not stage:
                stage = piece.stage
                rows.append(Row(("stage", stage), (stage.value,), Tone.HEADING))
            rows.append(self._row(view, piece))
        self.list.set_rows(rows, view.key)
        self.head.show(self.words, str(len(view.studio.projects) or ""))

    def _row(self, view: View, project: Project) -> Row:
        plan = view.snapshot.plan.projects.get(project.key)
        kept = self._kept.get(project.key)
        if kept is not None and kept[0] is project and kept[1] is plan:
            return kept[2]
        row = _project_row(view, project, plan)
        self._kept[project.key] = (project, plan, row)
        return row

    @on(DrawnList.Moved)
    def _moved(self, event: DrawnList.Moved) -> None:
        event.stop()
        if isinstance(event.key, str):
            self.post_message(PieceAtHand(event.key))

    @on(DrawnList.Filtered)
    def _filtered(self, event: DrawnList.Filtered) -> None:
        """The cursor stands on another piece where the filter took the one at hand away."""
        event.stop()
        if isinstance(event.key, str):
            self.post_message(PieceAtHand(event.key))

    @property
    def project(self) -> Project | None:
        """The piece the cursor stands on."""
        key = self.list.key
        return self.view.studio.project.get(key) if isinstance(key, str) else None

    def action_open(self) -> None:
        """Go to its stripes."""
        self.ask("stripes")

    def action_add(self) -> None:
        """Begin a new piece."""
        self.ask("new_piece")

    def action_again(self) -> None:
        """Copy the piece."""
        if self.project:
            self.ask("copy_piece", self.project.key)

    def action_remove(self) -> None:
        """Remove the piece."""
        if self.project:
            key = self.project.key
            self.post_message(
                Edit(f"{self.project.name} removed", lambda s: edits.remove_project(s, key))
            )

    def action_stage(self) -> None:
        """Choose any stage."""
        if self.project:
            self.ask("stage", self.project.key)

    def action_on(self) -> None:
        """One stage on."""
        self._to_stage(ONWARD)

    def action_back(self) -> None:
        """One stage back."""
        self._to_stage(tuple(reversed(ONWARD)))

    def _to_stage(self, way: tuple[Stage, ...]) -> None:
        project = self.project
        if project is None or project.stage not in way[:-1]:
            return
        self.ask("to_stage", (project.key, dict(pairwise(way))[project.stage]))


def _project_row(view: View, project: Project, plan: ProjectPlan | None) -> Row:
    over = project.stage in OVER
    due = say.date(project.due).rsplit(" ", 1)[0] if project.due else ""
    if plan is None:
        cover = Cell("")
    else:
        answer = headline.yarn_words(plan, view.shade_name)
        words = "" if over or answer.state is State.DONE else answer.words[-1]
        words = words.removeprefix("yarn ")
        cover = Cell(words, TONES[answer.state])
    whom = headline.customer_name(project, view.studio)
    return Row(
        project.key,
        (Cell(project.name), cover, Cell(due, Tone.QUIET)),
        Tone.QUIET if over else Tone.NORMAL,
        words=f"{project.stage.value} {whom}",
        hint=f"for {whom}" if whom else "",
    )
