"""How the tests run: the whole suite over the cores of the machine, a part of it in one process."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from datetime import date

import pytest
from hypothesis import settings

MOST_WORKERS = 4
"""More at once would wait for each other: some tests start solver processes of their own."""

# Examples have no deadline, since the machine is shared.
settings.register_profile("stripewright", deadline=None)
settings.load_profile("stripewright")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Workers for `-n auto`: several for the whole suite, none where single files are named.

    Two for a core, since the tests of screens wait as long as they work.
    """
    if config.option.file_or_dir:
        return 0
    return min(MOST_WORKERS, 2 * (os.cpu_count() or 1))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest tests first, so that no worker is left alone with one at the end."""
    items.sort(key=lambda item: "test_looks.py" not in item.nodeid)


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """The suite says the same on every day; a test of another day sets its own."""
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 11, 25))


@pytest.fixture
def ctrl_c() -> Iterator[None]:
    """Ctrl+C is heard as in a terminal, also where the suite was started in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
