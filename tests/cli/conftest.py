"""Commands are run as often as before; what equal files and questions come to is shared."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.shared import share_purchases, share_readings

DEMO = Path(__file__).parents[2] / "projects" / "demo"


@pytest.fixture(autouse=True)
def _worked_out_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    share_readings(monkeypatch)
    # Where the search itself is cancelled it must be one.
    if "ctrl_c" not in request.fixturenames:
        share_purchases(monkeypatch)


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A copy of the demo studio."""
    return Path(shutil.copytree(DEMO, tmp_path / "demo"))
