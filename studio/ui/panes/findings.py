"""The findings: everything that wants a look, in whole sentences, with the way to its place."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import BindingType

from studio.core.answers import Finding, Weight
from studio.ui import keys
from studio.ui.asking import MENDED_BY_ASKING
from studio.ui.drawn_list import Cell, Column, Row, Tone
from studio.ui.panes.pane import Pane
from studio.ui.view import View

TONES = {Weight.STOP: Tone.NEEDS_YOU, Weight.CAUTION: Tone.CAUTION, Weight.NOTE: Tone.QUIET}

BROKEN, NOTICE = "file", "notice"


class FindingsPane(Pane):
    """All findings of the studio, the loudest first, those of the piece at hand before others."""

    words = "Findings"
    empty = "Nothing wants your attention."
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("findings")

    def __init__(self) -> None:
        super().__init__("findings")
        self._found: tuple[Finding, ...] = ()
        self._kept: dict[Finding, Row] = {}

    def columns(self) -> Iterable[Column]:
        """How much it matters, the piece, the sentence."""
        return (
            Column("weight", width=9),
            Column("piece", width=16, drop=1),
            Column("what", share=1, least=20),
        )

    def fill(self, view: View) -> None:
        """A line for each finding; files that could not be read stand first."""
        self._found = view.findings
        here = {project.key: project.name for project in view.studio.projects}
        rows = [
            Row(
                (BROKEN, at),
                (Cell("file", Tone.NEEDS_YOU), "", str(problem)),
                detail=(str(problem), "Ctrl+E opens it in your editor; the rest of the studio is "
                        "not touched by it."),
            )
            for at, problem in enumerate(view.snapshot.problems)
        ]  # fmt: skip
        rows += [
            Row((NOTICE, at), (Cell("file", Tone.NEEDS_YOU), "", words), detail=(words,))
            for at, words in enumerate(view.notices)
        ]
        kept, self._kept = self._kept, {}
        for finding in self._found:
            name = here.get(finding.project or "", "")
            row = kept.get(finding)
            if row is None or row.cell(1).text != name:
                row = _row(finding, name)
            self._kept[finding] = row
        rows += self._kept.values()
        self.list.set_rows(rows)
        self.head.show(self.words, str(view.open_findings) if view.open_findings else "none")

    @property
    def finding(self) -> Finding | None:
        """The finding at hand."""
        key = self.list.key
        return key if isinstance(key, Finding) else None

    @property
    def broken(self) -> int | None:
        """Which of the files that could not be read is at hand."""
        key = self.list.key
        return key[1] if isinstance(key, tuple) and key[0] == BROKEN else None

    def action_open(self) -> None:
        """Go to where it arises."""
        if self.finding is not None:
            self.ask("place", self.finding)
        elif self.broken is not None:
            self.ask("open_file", self.broken)

    def action_accept(self) -> None:
        """Say that it is meant."""
        if self.finding is not None:
            self.ask("accept", self.finding)


def _row(finding: Finding, piece: str) -> Row:
    detail: list[Cell | str] = [Cell(finding.text, Tone.NORMAL)]
    mend = finding.mend.value if finding.mend else MENDED_BY_ASKING.get(finding.code)
    if mend:
        detail.append(f"! {mend}")
    weight = "meant" if finding.accepted else finding.weight.value
    return Row(
        finding,
        (
            Cell(weight, Tone.QUIET if finding.accepted else TONES[finding.weight]),
            piece,
            finding.text,
        ),
        Tone.QUIET if finding.accepted else Tone.NORMAL,
        detail=tuple(detail),
        words=finding.code,
    )
