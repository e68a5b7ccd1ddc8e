"""For every test of a screen: what is said stays to be read, however slow the machine is."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True)
def _what_is_said_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.ui.foot.SAY_FOR_S", 3600.0)
