"""The open studio: undo, redo, what is unsaved, and hard shades that follow from a thread."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from studio.asked import Snapshot
from studio.core import edits
from studio.core.answers import RunKind, RunRef
from studio.core.model import GaugeCount, Length, Studio
from studio.core.reconcile import reconcile
from studio.errors import EditRefusedError
from studio.storage.write import save_changes
from studio.workshop import Workshop
from tests.core.small import RUST, lot, piece, studio

SMALL = studio(piece("a", "A6 B4"), lots=(lot("x", 1), lot("y", 1, shade="2")))


def more_rows(made: Studio) -> Studio:
    return edits.change_rows(made, "a", 0, 2)


def hard_studio() -> Studio:
    """Needs that differ and lots that are tight: no quick proof, and a moment for the solver."""
    pieces = [
        piece(f"p{n}", " ".join(f"A{2 + (7 * n + 3 * i) % 11}" for i in range(3))) for n in range(3)
    ]
    lots = tuple(lot("x" * (n + 1), 2) for n in range(7))
    return studio(*pieces, lots=lots)


@pytest.fixture
def hard() -> Iterator[Workshop]:
    workshop = Workshop(hard_studio())
    yield workshop
    workshop.close()


def test_an_edit_is_answered_at_once_and_can_be_taken_back() -> None:
    workshop = Workshop(SMALL)
    before = workshop.snapshot
    after = workshop.do("two rows more", more_rows)
    assert after.plan.projects["a"].runs[0].rows == 8
    assert (after.undo_label, after.redo_label) == ("two rows more", None)
    back = workshop.undo()
    assert back.studio is before.studio
    assert back.plan.projects == before.plan.projects
    assert (back.undo_label, back.redo_label) == (None, "two rows more")
    assert workshop.redo().studio is after.studio


def test_a_new_edit_forgets_what_could_be_redone() -> None:
    workshop = Workshop(SMALL)
    workshop.do("two rows more", more_rows)
    workshop.undo()
    assert workshop.do("two rows more", more_rows).redo_label is None


def test_a_refused_edit_changes_nothing() -> None:
    workshop = Workshop(SMALL)
    before = workshop.snapshot
    with pytest.raises(EditRefusedError):
        workshop.do("no rows", lambda s: edits.set_rows(s, "a", 0, 0))
    assert workshop.snapshot is before


def test_an_edit_that_changes_nothing_is_no_step() -> None:
    workshop = Workshop(SMALL)
    assert workshop.do("the same rows", lambda s: edits.set_rows(s, "a", 0, 6)).undo_label is None


def test_undo_and_redo_with_nothing_to_do_are_quiet() -> None:
    workshop = Workshop(SMALL)
    assert workshop.undo() is workshop.snapshot
    assert workshop.redo() is workshop.snapshot


def test_hard_shades_follow_and_are_those_of_a_whole_solve(hard: Workshop) -> None:
    assert hard.snapshot.plan.pending == {RUST}
    assert hard.snapshot.plan.projects["p0"].pending
    seen: list[Snapshot] = []
    thread = threading.Thread(target=hard.settle, args=(lambda: False, seen.append, "p0"))
    thread.start()
    thread.join(60)
    assert not thread.is_alive()
    assert seen[-1].plan.pending == frozenset()
    from studio.core.lots.solve import solve_shade

    problem = reconcile(hard.snapshot.studio).open_problems[RUST]
    assert seen[-1].plan.shades[RUST].value == solve_shade(problem).value


def test_settling_stops_when_it_is_cancelled(hard: Workshop) -> None:
    cancelled = threading.Event()
    cancelled.set()
    hard.settle(cancelled.is_set, lambda _: None)
    assert hard.snapshot.plan.pending == {RUST}


def test_the_command_lines_way_of_settling_gives_the_same(hard: Workshop) -> None:
    seen: list[tuple[int, int]] = []
    snapshot = hard.settle_here(lambda done, total: seen.append((done, total)))
    assert snapshot.plan.pending == frozenset()
    assert seen[-1] == (1, 1)


def on_disk(folder: Path) -> Path:
    from studio.storage.begin import blank_studio

    blank_studio(folder, "Small", "EUR", SMALL.settings.length_unit)
    opened = Workshop.open(folder)
    save_changes(folder, opened.snapshot.studio, SMALL, opened._stamps or {})
    return folder


def test_saving_writes_what_changed_and_opening_reads_it(tmp_path: Path) -> None:
    workshop = Workshop.open(on_disk(tmp_path / "studio"))
    assert not workshop.snapshot.unsaved
    assert workshop.do("two rows more", more_rows).unsaved
    assert not workshop.save().unsaved
    again = Workshop.open(tmp_path / "studio").snapshot
    assert again.studio.project["a"].stripes[0].rows == 8


def test_the_size_is_also_told_as_it_measures_on_the_hook() -> None:
    # 10 stitches and 8 rows to 10 cm washed; on the hook they were 9 and 10 to 10 cm. The 100 x 35
    # cm of the piece washed are its 100 stitches and 28 rows: 111 x 28 cm on the hook.
    made = studio(piece("a", "A24 B4"))
    (swatch,) = made.library.swatches
    on_hook = GaugeCount(Decimal(9), Length(Decimal(10)), Decimal(10), Length(Decimal(10)))
    library = replace(made.library, swatches=(replace(swatch, before=on_hook),))
    steps = Workshop(replace(made, library=library)).why_size("a")
    assert "111 x 28 cm" in [s.figure for s in steps if "on the hook" in s.text]


def test_an_edit_taken_back_leaves_nothing_to_save(tmp_path: Path) -> None:
    workshop = Workshop.open(on_disk(tmp_path / "studio"))
    workshop.do("two rows more", more_rows)
    assert not workshop.undo().unsaved


def test_sums_end_in_the_figure_they_explain() -> None:
    workshop = Workshop(studio(piece("a", "A24 B4"), lots=(lot("x", 1), lot("y", 1, shade="2"))))
    plan = workshop.snapshot.plan.projects["a"]
    need = workshop.why_need("a", RunRef("a", RunKind.STRIPE, 0))
    assert need[-1].figure == f"{plan.runs[0].need_g:.0f} g"
    cost = {s.text: s.figure for s in workshop.why_cost("a", RUST)}
    assert any(str(plan.shades[0].used_cost) in figure for figure in cost.values())
    assert any(str(plan.shades[0].cash_cost) in figure for figure in cost.values())
    assert "100 x 35 cm" in [s.figure for s in workshop.why_size("a")]
    (made,) = workshop.snapshot.studio.projects
    bare_piece = replace(made, stripes=(), slots=())
    workshop.do("bare", lambda s: replace(s, projects=(bare_piece,)))
    (bare,) = workshop.why_size("a")
    assert "no stripes yet" in bare.text


def test_why_this_lot_comes_from_the_solvers_process(hard: Workshop) -> None:
    hard.settle_here()
    ref = RunRef("p0", RunKind.STRIPE, 0)
    lot_of_run = next(r.lot for r in hard.snapshot.plan.projects["p0"].runs if r.ref == ref)
    chosen, *passed = hard.why_lot("p0", ref)
    assert chosen.text.startswith(f"Lot {lot_of_run} works it" if lot_of_run else "It is to be")
    # Six other lots and a new one.
    assert len(passed) == 7


def test_a_studio_with_a_file_that_could_not_be_read_is_copied_all_the_same(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "home"
    folder.mkdir()
    (folder / "studio.toml").write_text('format = 1\nname = "S"\ncurrency = "EUR"\n')
    (folder / "trade.toml").write_text("format = 1\nno_such_key = 1\n")
    workshop = Workshop.open(folder)
    assert workshop.snapshot.studio.unread == {"trade.toml"}
    place = workshop.save_copy()
    assert (place / "studio.toml").exists()
    assert not Workshop.open(place).snapshot.studio.unread
