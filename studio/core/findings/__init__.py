"""What she should know about a piece, each finding one whole sentence with its place and its mend.

`piece` looks at the plan itself (size, rows, evidence, colours), `yarn` at what the stash does to
it. Codes are stable: scripts read them, and a maker accepts a finding by its code.
"""

from __future__ import annotations

from dataclasses import replace

from studio.core.answers import Finding, Weight
from studio.core.findings import piece, yarn
from studio.core.findings.seen import Seen

CODES = (*piece.CODES, *yarn.CODES, yarn.REORDER)
"""Every code there is, in the order in which findings are listed."""

_ORDER = {Weight.STOP: 0, Weight.CAUTION: 1, Weight.NOTE: 2}


def findings_of(seen: Seen) -> tuple[Finding, ...]:
    """All findings of one piece, what needs her first; accepted ones are kept and marked."""
    found = [*piece.findings(seen), *yarn.findings(seen)]
    accepted = {a.code for a in seen.project.accepted}
    marked = [replace(f, accepted=True) if f.code in accepted else f for f in found]
    return tuple(sorted(marked, key=lambda f: (f.accepted, _ORDER[f.weight])))


__all__ = ["CODES", "Seen", "findings_of"]
