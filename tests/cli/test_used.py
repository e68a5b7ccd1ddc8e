"""`used` and `closing`: what they show, what they write, and what they refuse."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from studio.cli.main import main
from studio.core.model import LotRef, Studio, UsedFrom
from studio.storage.read import load_studio

TODAY = date(2026, 11, 25)
RUNNER, THROW = "barley-drill-runner", "pigeon-loft-throw"
STRAW = LotRef("withyspun", "61", "W-0388")
Captured = pytest.CaptureFixture[str]


def read(folder: Path) -> Studio:
    loaded = load_studio(folder)
    assert loaded.problems == ()
    return loaded.studio


def lot_g(studio: Studio, ref: LotRef) -> Decimal:
    (found,) = (n for n in studio.stash.lots if n.ref == ref)
    return found.balls * studio.library.yarn[ref.yarn].ball_g + sum(found.parts_g, Decimal(0))


def test_without_an_option_it_only_shows(demo: Path, capsys: Captured) -> None:
    before = read(demo)
    assert main(["used", RUNNER, "--folder", str(demo)]) == 0
    out = capsys.readouterr().out
    assert "of Barley straw, lot W-0388  (withyspun/61/W-0388)" in out
    assert "90 g of Furrow, lot W-0417: weighed, 22 Nov 2026, 8.64 EUR" in out
    assert read(demo) == before


def test_as_worked_out_takes_it_out_once(demo: Path, capsys: Captured) -> None:
    before = read(demo)
    words = ["used", RUNNER, "--as-worked-out", "--json", "--folder", str(demo)]
    assert main(words) == 0
    first = json.loads(capsys.readouterr().out)
    after = read(demo)
    (new,) = after.project[RUNNER].used[4:]
    assert (new.ref, new.on, new.rows, new.by) == (STRAW, TODAY, 41, UsedFrom.WORKED_OUT)
    assert lot_g(before, STRAW) == lot_g(after, STRAW) + new.grams
    assert (first["done"], first["to_note"]) == (True, [])
    # Nothing is left to note, so that a second time changes nothing.
    assert main(words) == 0
    assert json.loads(capsys.readouterr().out)["done"] is False
    assert read(demo) == after


def test_what_is_left_is_weighed_and_yarn_out_already_stays(demo: Path) -> None:
    before = read(demo)
    had = lot_g(before, STRAW)
    left = ("--left", f"withyspun/61/W-0388={had - 35}")
    assert main(["used", RUNNER, *left, "--on", "2026-11-24", "--folder", str(demo)]) == 0
    after = read(demo)
    new = after.project[RUNNER].used[-1]
    assert (new.grams, new.by, new.on) == (Decimal(35), UsedFrom.WEIGHED, date(2026, 11, 24))
    assert lot_g(after, STRAW) == had - 35
    # Rows 37 to 41 are one stretch of one slot: evidence as well.
    seen = after.project[RUNNER].weigh_ins[-1]
    assert (seen.slot, seen.first_row, seen.rows, seen.grams) == ("A", 37, 5, Decimal(35))
    given = ("--lot", "withyspun/66/W-0391=4", "--out-already")
    assert main(["used", RUNNER, *given, "--folder", str(demo)]) == 0
    last = read(demo)
    assert last.stash == after.stash
    assert last.project[RUNNER].used[-1].by is UsedFrom.GIVEN


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--lot", "x=1"), "write yarn/shade/lot=grams"),
        (("--lot", "withyspun/61/W-0388=some"), "write a number"),
        (("--lot", "withyspun/61/W-0388=9999"), "cannot have been used of it"),
        (("--left", "withyspun/61/W-0388=9999"), "cannot be left of it"),
        (("--lot", "withyspun/61/gone=5"), "There is no lot 'gone'"),
        (("--lot", "withyspun/61/W-0388=5", "--lot", "withyspun/61/W-0388=6"), "twice"),
        (("--lot", "withyspun/61/W-0388=5", "--left", "withyspun/61/W-0388=6"), "not both"),
        (("--as-worked-out", "--on", "yesterday"), "year-month-day"),
        # 300 g out of the lot leave too little for the stripes that are promised it.
        (("--lot", "withyspun/61/W-0388=300"), "promised lot W-0388"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(
    demo: Path, capsys: Captured, words: tuple[str, ...], told: str
) -> None:
    before = read(demo)
    assert main(["used", RUNNER, *words, "--folder", str(demo)]) == 3
    assert told in capsys.readouterr().err
    assert read(demo) == before


def test_a_lot_that_nobody_wrote_down_is_asked_for(demo: Path, capsys: Captured) -> None:
    assert main(["used", "sedge-lap", "--folder", str(demo)]) == 0
    assert "Nothing says which lot worked" in capsys.readouterr().out


def test_the_account_of_a_finished_piece(demo: Path, capsys: Captured) -> None:
    assert main(["closing", THROW, "--folder", str(demo)]) == 0
    out = capsys.readouterr().out
    for words in ("Fenlight Nightfall", "-79.45 EUR", "Pay for an hour", "635.49 EUR"):
        assert words in out
    assert main(["closing", THROW, "--json", "--folder", str(demo)]) == 0
    found = json.loads(capsys.readouterr().out)
    # 24.99, 29.43, 12.39 and 12.64 were paid; all of it is noted.
    assert found["costs"][0] == {"label": "Yarn", "how": "at the price paid", "amount": "79.45"}
    assert found["logged_min"] == 1650.0
    assert [s["used_g"] for s in found["shades"]] == [352.0, 414.5, 174.5, 178.0]
    earned = Decimal(found["received"]) - Decimal(found["tax"]) - Decimal(found["cash_costs"])
    assert Decimal(found["earned"]) == earned
    assert float(found["per_hour"]) == pytest.approx(float(earned) / 27.5, abs=0.01)


def test_a_broken_file_is_told_by_the_status(demo: Path) -> None:
    (demo / "yarns" / "wrong.toml").write_text("format = 1\n")
    assert main(["closing", THROW, "--folder", str(demo)]) == 2
    assert main(["used", "nobody", "--folder", str(demo)]) == 3
