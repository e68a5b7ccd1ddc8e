"""Screens are painted where a test stops to look, and not in between.

Textual paints a screen anew after every message that changes it, also where there is no terminal
and nobody looks: half of the time of a test of screens. Here what is to be painted is gathered,
and painted once where the test waits, and before it presses another key: every state that a test
stops at is drawn, as before, and one that cannot be drawn fails the test.
"""

from __future__ import annotations

from typing import Any

import pytest
from textual._compositor import Compositor
from textual._context import visible_screen_stack
from textual.pilot import Pilot

from tests.shared import share_readings, share_solving

_paint = Compositor.render_update


def _gather(
    self: Compositor, full: bool = False, screen_stack: Any = None, simplify: bool = False
) -> Any:
    """Leave what has changed for the next look; a picture of the whole screen is drawn at once."""
    if full:
        return _paint(self, full, screen_stack, simplify)
    visible_screen_stack.set(screen_stack or [])
    return None


def _draw(pilot: Pilot[Any]) -> None:
    app = pilot.app
    if app.screen_stack and app.screen._compositor._dirty_regions:
        _paint(app.screen._compositor, screen_stack=app._background_screens)


def _painting(monkeypatch: pytest.MonkeyPatch) -> None:
    press, pause = Pilot.press, Pilot.pause

    async def drawn_and_pressed(self: Pilot[Any], *keys: str) -> None:
        _draw(self)
        await press(self, *keys)

    async def paused_and_drawn(self: Pilot[Any], delay: float | None = None) -> None:
        await pause(self, delay)
        _draw(self)

    monkeypatch.setattr(Pilot, "press", drawn_and_pressed)
    monkeypatch.setattr(Pilot, "pause", paused_and_drawn)


@pytest.fixture(autouse=True)
def _painted_where_it_is_looked_at(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    if "painted_at_once" in request.fixturenames:
        return
    monkeypatch.setattr(Compositor, "render_update", _gather)
    if "looks_itself" not in request.fixturenames:
        _painting(monkeypatch)


@pytest.fixture
def painted_at_once() -> None:
    """For a test of what is painted and how often: as in a terminal, after every message."""


@pytest.fixture
def looks_itself() -> None:
    """For a test that draws every screen it comes to with `looking.grid`: nothing else is."""


@pytest.fixture(autouse=True)
def _what_is_said_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    """To be read, however slow the machine is."""
    monkeypatch.setattr("studio.ui.foot.SAY_FOR_S", 3600.0)


@pytest.fixture(autouse=True)
def _worked_out_once(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """What equal files and questions come to; each test has a folder of its own all the same."""
    share_readings(monkeypatch)
    if not {"own_solver", "slow"} & set(request.fixturenames):
        share_solving(monkeypatch)


@pytest.fixture
def own_solver() -> None:
    """For a test of the search itself: every question starts or asks a process, as in the app."""
