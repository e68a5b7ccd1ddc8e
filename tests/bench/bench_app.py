"""How the whole program feels: start, key to repaint, load and check; ratios in one run.

`python -m tests.bench.bench_app [FOLDER]` prints a table; FOLDER keeps the large studio between
runs. Times on a shared machine are noisy, so each is the median of several and is told as a ratio
where a blank program can be timed beside it.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.large import AT_HAND_STRIPES, write_large
from tests.bench.terminal import ROOT, Terminal, plain, terminal

PYTHON = sys.executable
DEMO = ROOT / "projects" / "demo"

BLANK_APP = """
from textual.app import App
from textual.widgets import Static
class Blank(App):
    def compose(self):
        yield Static("Projects")
Blank().run()
"""

ONE_SMALL_MODEL = """
import highspy
h = highspy.Highs()
h.setOptionValue("output_flag", False)
x = h.addVariable(lb=0, ub=4, type=highspy.HighsVarType.kInteger)
y = h.addVariable(lb=0, ub=4, type=highspy.HighsVarType.kInteger)
h.addConstr(2 * x + 3 * y <= 12)
h.maximize(x + y)
"""

Row = tuple[str, str, str, bool]


def row(what: str, measured: str, goal: str, met: bool) -> Row:
    return what, measured, goal, met


def first_paint(command: list[str]) -> float:
    with terminal(command) as running:
        return running.until("Projects")


def interleaved(runs: int, *measures: Callable[[], float]) -> list[float]:
    """The median of each, taken in turn so that a busy moment hits all of them alike."""
    times = [[measure() for measure in measures] for _ in range(runs)]
    return [statistics.median(column) for column in zip(*times, strict=True)]


def process(command: list[str]) -> float:
    begun = time.perf_counter()
    subprocess.run(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False, cwd=ROOT
    )
    return time.perf_counter() - begun


def as_installed(scratch: Path) -> None:
    """Let every program that follows have its byte code, as pip leaves it for an installed one.

    A checkout may be run where Python is told to write none, and then compiles itself each time.
    """
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(scratch / "bytecode")


def starts(large: Path, runs: int = 7) -> Iterator[Row]:
    blank, demo, big = interleaved(
        runs,
        lambda: first_paint([PYTHON, "-c", BLANK_APP]),
        lambda: first_paint([PYTHON, "-m", "studio", str(DEMO)]),
        lambda: first_paint([PYTHON, "-m", "studio", str(large)]),
    )
    for name, took in (("demo", demo), ("large studio", big)):
        ratio = took / blank
        yield row(
            f"first paint, {name}, against a blank app ({blank:.2f} s)",
            f"{ratio:.2f} x",
            "1.6 x",
            ratio <= 1.6,
        )
    small, check = interleaved(
        runs,
        lambda: process([PYTHON, "-c", ONE_SMALL_MODEL]),
        lambda: process([PYTHON, "-m", "studio", "check", str(DEMO), "--json"]),
    )
    yield row(
        f"check --json, demo, against one small model ({small:.2f} s)",
        f"{check / small:.2f} x",
        "2 x",
        check / small <= 2,
    )


def open_at_hand(large: Path, columns: int, rows: int) -> Terminal:
    """The app on the large studio, the piece with 300 stripes in the editor, all shades settled."""
    running = Terminal([PYTHON, "-m", "studio", str(large)], columns, rows)
    running.until("200")
    running.settle(3.0, 300.0)
    for keys in (b"\x1bOQ", b"/", *(c.encode() for c in "at hand"), b"\r", b"\r", b"\x1bOR"):
        running.key(keys)
    running.settle(3.0, 300.0)
    return running


def keys(large: Path, columns: int, rows: int, presses: int = 60) -> Iterator[Row]:
    running = open_at_hand(large, columns, rows)
    try:
        assert "Stripes of Piece at hand" in plain(running.seen), "the piece at hand is not open"
        took: list[float] = []
        for number in range(presses):
            running.settle(0.2)
            seconds, painted = running.key(b"+" if number % 4 < 2 else b"-")
            if "working" not in plain(painted):
                took.append(1000 * seconds)
    finally:
        running.close()
    took.sort()
    median, high = statistics.median(took), took[int(len(took) * 0.95)]
    yield row(
        f"key to repaint, {AT_HAND_STRIPES} stripes, {columns}x{rows}, {len(took)} plain edits",
        f"median {median:.0f} ms, 95 % {high:.0f} ms",
        "50 ms, 100 ms",
        median < 50 and high < 100,
    )


def files(large: Path) -> Iterator[Row]:
    from studio.core import edits
    from studio.storage.read import load_studio
    from studio.workshop import Workshop

    begun = time.perf_counter()
    load_studio(large)
    took = time.perf_counter() - begun
    yield row("load of the large studio", f"{took:.2f} s", "2 s", took < 2)
    workshop = Workshop.open(large)
    key = workshop.snapshot.studio.projects[0].key
    workshop.do("rows", lambda s: edits.change_rows(s, key, 0, 2))
    # All the keyboard's thread does for a save is to start a worker with the snapshot at hand.
    import threading

    thread = threading.Thread(target=workshop.save)
    begun = time.perf_counter()
    thread.start()
    waited = 1000 * (time.perf_counter() - begun)
    thread.join()
    workshop.undo()
    workshop.save()
    yield row("an autosave's work on the keyboard's thread", f"{waited:.2f} ms", "5 ms", waited < 5)


def library_edits(large: Path) -> Iterator[Row]:
    """What the keyboard's thread does for an edit of the library: the edit and its whole answer."""
    from dataclasses import replace
    from decimal import Decimal

    from studio.core import edits
    from studio.core.model import Studio, Yarn
    from studio.workshop import Workshop

    workshop = Workshop.open(large)
    library = workshop.snapshot.studio.library
    users = {
        y.key: sum(any(s.yarn == y.key for s in p.slots) for p in workshop.snapshot.studio.projects)
        for y in library.yarns
    }
    key = sorted(users, key=lambda k: (abs(users[k] - 5), k))[0]
    swatch = next(s for s in library.swatches if s.yarn == key)

    def yarn(**changes: object) -> Callable[[Studio], Studio]:
        new: Yarn = replace(library.yarn[key], **changes)  # type: ignore[arg-type]
        return lambda s: edits.set_yarn(s, new)

    weighed = swatch.weighed and replace(swatch.weighed, grams=Decimal("16.1"))
    kinds = {
        "a yarn's care text": yarn(care="Wash at 30 degrees."),
        "a yarn's price": yarn(price=Decimal("5.55")),
        "a yarn's metres": yarn(ball_m=Decimal(155)),
        "a swatch's grams": lambda s: edits.set_swatch(s, replace(swatch, weighed=weighed)),
    }
    for name, edit in kinds.items():
        took = []
        for _ in range(7):
            begun = time.perf_counter()
            workshop.do(name, edit, mind_holds=True)
            took.append(1000 * (time.perf_counter() - begun))
            workshop.undo()
        ms = statistics.median(took)
        what = f"{name} ({users[key]} pieces use it), on the keyboard's thread"
        yield row(what, f"{ms:.0f} ms", "50 ms", ms < 50)
    workshop.close()


def check(large: Path) -> Iterator[Row]:
    from studio.core.lots.judge import value_key
    from studio.workshop import Workshop

    begun = time.perf_counter()
    workshop = Workshop.open(large)
    first = workshop.snapshot.plan
    snapshot = workshop.settle_here()
    took = time.perf_counter() - begun
    workshop.close()
    answers = snapshot.plan.shades
    proved = sum(a.proved for a in answers.values()) / len(answers)
    worst = max((g.gap for a in answers.values() for g in a.gaps), default=0.0)
    worse = sum(value_key(answers[r].value) > value_key(first.shades[r].value) for r in answers)
    yield row("full check of the large studio, cold", f"{took:.1f} s", "30 s", took < 30)
    yield row("shades proved", f"{100 * proved:.1f} %", "95 %", proved >= 0.95)
    yield row("largest gap of a stage", f"{100 * worst:.2f} %", "5 %", worst <= 0.05)
    yield row("shades worse than the greedy", str(worse), "0", worse == 0)


def table(rows: list[Row]) -> str:
    """The rows as Markdown, as the README shows them."""
    lines = ["| what | measured | goal | met |", "| --- | --- | --- | --- |"]
    lines += [f"| {w} | {m} | {g} | {'yes' if met else 'no'} |" for w, m, g, met in rows]
    return "\n".join(lines)


def main() -> None:
    with tempfile.TemporaryDirectory() as scratch:
        as_installed(Path(scratch))
        large = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(scratch) / "large"
        if not (large / "studio.toml").exists():
            write_large(large)
        parts: list[Callable[[], Iterator[Row]]] = [
            lambda: files(large),
            lambda: library_edits(large),
            lambda: starts(large),
            lambda: keys(large, 120, 36),
            lambda: keys(large, 200, 50),
            lambda: check(large),
        ]
        rows: list[Row] = []
        for part in parts:
            for found in part():
                rows.append(found)
                print(" | ".join(map(str, found)), file=sys.stderr, flush=True)
        print(table(rows))


if __name__ == "__main__":
    main()
