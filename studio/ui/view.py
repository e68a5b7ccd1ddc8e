"""What a pane looks at: the snapshot and the piece at hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from studio.core.answers import Finding, ProjectPlan, Weight
from studio.core.model import Project, Settings, ShadeRef, Studio
from studio.ui.swatch import Patch

if TYPE_CHECKING:
    from studio.asked import Snapshot

LOUDEST = tuple(Weight)
"""Findings in the order in which they want to be looked at."""


@dataclass(frozen=True)
class View:
    """One snapshot, seen from one piece."""

    snapshot: Snapshot
    key: str | None
    notices: tuple[str, ...] = field(default=(), kw_only=True)
    """What is wrong with the keymap or a theme, in words."""

    @property
    def studio(self) -> Studio:
        """All that the maker states."""
        return self.snapshot.studio

    @property
    def settings(self) -> Settings:
        """Units, money and defaults."""
        return self.snapshot.studio.settings

    @cached_property
    def project(self) -> Project | None:
        """The piece at hand."""
        return self.studio.project.get(self.key) if self.key is not None else None

    @cached_property
    def plan(self) -> ProjectPlan | None:
        """What is computed of the piece at hand."""
        return self.snapshot.plan.projects.get(self.key) if self.key is not None else None

    def shade_name(self, ref: ShadeRef) -> str:
        """A shade's name, or its keys where the library lacks it."""
        shade = self.studio.library.shade.get(ref)
        return shade.name if shade else f"{ref.yarn} {ref.shade}"

    def yarn_name(self, key: str) -> str:
        """A yarn's name, or its key where the library lacks it."""
        yarn = self.studio.library.yarn.get(key)
        return yarn.name if yarn else key

    def patch(self, ref: ShadeRef, letter: str = "") -> Patch:
        """The swatch of a shade; a letter stands in it where there is no colour."""
        shade = self.studio.library.shade.get(ref)
        return Patch(shade.colours if shade else (), letter)

    @cached_property
    def letters(self) -> Mapping[ShadeRef, str]:
        """The slot letter of each shade of the piece, the first where it has several."""
        slots = self.project.slots if self.project else ()
        return {slot.shade_ref: slot.letter for slot in reversed(slots)}

    @cached_property
    def open_findings(self) -> int:
        """How many findings are not accepted, and files that want a look."""
        plan = self.snapshot.plan
        every = (plan.findings, *(p.findings for p in plan.projects.values()))
        found = sum(not f.accepted for findings in every for f in findings)
        return found + len(self.snapshot.problems) + len(self.notices)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """All findings of the studio, those of the piece at hand first, the loudest first."""
        plans = self.snapshot.plan.projects.values()
        found = [*self.snapshot.plan.findings, *(f for p in plans for f in p.findings)]
        found.sort(key=lambda f: (f.accepted, LOUDEST.index(f.weight), f.project != self.key))
        return tuple(found)
