"""How the tests run: the whole suite over the cores of the machine, a part of it in one process."""

from __future__ import annotations

import gc
import importlib
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from itertools import groupby
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).parents[1]

MOST_WORKERS = 4
"""More at once would wait for each other: some tests start solver processes of their own."""

LONGEST = (
    "test_looks.py::test_every_screen_is_whole",
    "test_brute_force.py",
    "test_round_trip.py",
    "ui/test_tour.py",
    "ui/test_enquiry.py",
    "test_messy.py",
    "test_fresh_start.py",
    "test_explain.py",
    "/ui/",
)
"""What takes longest, by a part of its name, longest first."""

# Examples have no deadline, since the machine is shared.
settings.register_profile("stripewright", deadline=None)
settings.load_profile("stripewright")

# What is compiled is kept beside its source, also in a container that is told to keep nothing:
# else every worker, and every process that a test starts, would compile all of it anew, which is
# a fifth of the time of the whole suite.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Where the machine has a disk in its memory with room enough, tests write there: a save waits for
# the disk, and some tests make thousands of folders.
_MEMORY = Path("/dev/shm")
if os.access(_MEMORY, os.W_OK) and shutil.disk_usage(_MEMORY).free > 2**30:
    os.environ.setdefault("TMPDIR", str(_MEMORY))
    tempfile.tempdir = None

# Nothing that is read in becomes garbage; see below.
gc.disable()

# Where the suite is started from says nothing of how wide, how coloured or where it speaks; a
# test of these sets its own. Here rather than in a fixture, so that child processes hear it too.
for _said in ("COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR", "TEXTUAL_FPS"):
    os.environ.pop(_said, None)


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Workers for `-n auto`: several for the whole suite, none where single files are named.

    One more than cores, since the tests of screens wait a quarter of their time; each further one
    would read everything in and work out what is shared once more.
    """
    if config.option.file_or_dir:
        return 0
    return min(MOST_WORKERS, 1 + (os.cpu_count() or 1))


def pytest_collection(session: pytest.Session) -> None:
    """Each worker reads in its own share of the files first, the others' after that.

    The first to read a file in compiles it, and that is most of what reading in costs.
    """
    worker = getattr(session.config, "workerinput", None)
    if worker is None or session.config.option.file_or_dir:
        return
    mine = int(worker["workerid"].removeprefix("gw"))
    files = sorted((ROOT / "tests").rglob("test_*.py"), key=lambda file: file.stat().st_size)
    for file in files[mine :: int(worker["workercount"])]:
        importlib.import_module(".".join(file.relative_to(ROOT).with_suffix("").parts))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The longest tests first in the share of each worker, so that none is left alone with one.

    Every worker begins with as many tests as the others, in this order, and takes over from
    others when it is through; tests of one file stay together, for what they share.
    """
    worker = getattr(config, "workerinput", None)
    workers = int(worker["workercount"]) if worker is not None else 1
    long: list[list[pytest.Item]] = [[] for _ in range(workers)]
    ranked = sorted((item for item in items if _rank(item) < len(LONGEST)), key=_rank)
    for nth, (_, unit) in enumerate(groupby(ranked, key=_unit)):
        long[nth % workers].extend(unit)
    others = [item for item in items if _rank(item) == len(LONGEST)]
    left, dealt = len(items), list[pytest.Item]()
    for nth, share in enumerate(long):
        fair = left // (workers - nth)
        kept = max(0, fair - len(share))
        dealt += [*share, *others[:kept]]
        left -= len(share) + kept
        others = others[kept:]
    items[:] = dealt


def _rank(item: pytest.Item) -> int:
    """Where a test stands among the longest, or after them."""
    return next((at for at, part in enumerate(LONGEST) if part in item.nodeid), len(LONGEST))


def _unit(item: pytest.Item) -> str:
    """What of the longest tests stays together: a file, or one test where each is long."""
    return item.nodeid if "whole" in item.name else item.nodeid.partition("::")[0]


def pytest_collection_finish() -> None:
    """What was read in stays to the end: looking through it for garbage finds none.

    And what a test leaves is looked for seldom: a tenth of the time of the tests of screens.
    """
    gc.freeze()
    gc.set_threshold(100_000, 20, 50)
    gc.enable()


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
