"""Tables as files: any studio's own tables change nothing, columns are remembered, tables found."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core.buying.asking import book_of
from studio.core.buying.offers import PriceBreak, problems_of
from studio.core.edits.projects import MOST_CM
from studio.core.model import Fibre, Settings, Shade, Studio, Yarn
from studio.core.sheets.fates import Change
from studio.core.sheets.preview import (
    LONGEST_LINE,
    LONGEST_NOTE,
    MOST_COUNT,
    MOST_DECIMALS,
    MOST_FIGURE,
)
from studio.core.sheets.taking import Request, SheetKind, intake, table_of
from studio.core.spreadsheet import Columns, CsvForm, DateOrder, proposed, read_table
from studio.storage.records import schema
from studio.storage.sheets import found_tables, open_table, remember
from tests.storage.strategies import studios

TODAY = date(2026, 11, 25)
FORMS = st.builds(
    CsvForm, st.sampled_from([",", ";", "\t", "|"]), st.sampled_from([".", ","]), st.booleans()
)


def cents(amount: Decimal | None) -> Decimal | None:
    return None if amount is None else round(amount, 2)


def tied(studio: Studio) -> Studio:
    """The studio with all that its lots and offers name in its library, and money in cents."""
    lots = tuple(
        replace(
            lot,
            batches=tuple(
                replace(b, price=cents(b.price), shipping=round(b.shipping, 2)) for b in lot.batches
            ),
        )
        for lot in studio.stash.lots
        if lot.code.strip() == lot.code != ""
        and lot.shade.strip() == lot.shade
        and lot.code != "buy"
        and not lot.code.startswith("order:")
    )
    offers = tuple(
        replace(o, breaks=tuple(PriceBreak(s.from_balls, round(s.price, 2)) for s in o.breaks))
        for o in studio.offers
    )
    codes: dict[str, dict[str, None]] = {}
    for yarn, shade in [(n.yarn, n.shade) for n in lots]:
        codes.setdefault(yarn, {})[shade] = None
    for offer in offers:
        codes.setdefault(offer.yarn, {"1": None}).update(dict.fromkeys(offer.shades or ()))
    wool = (Fibre("wool", Decimal(100)),)
    yarns = tuple(
        Yarn(key, key, 4, wool, Decimal(10**9), tuple(Shade(c, c, ("#777777",)) for c in found))
        for key, found in codes.items()
    )
    projects = tuple(replace(p, price=cents(p.price), quote=None) for p in studio.projects)
    return replace(
        studio,
        settings=replace(studio.settings, currency="EUR"),
        library=replace(studio.library, yarns=yarns),
        stash=replace(studio.stash, lots=lots),
        offers=offers,
        projects=projects,
    )


@settings(max_examples=30)
@given(studios(), st.booleans(), st.sampled_from(list(SheetKind)), FORMS)
def test_a_studio_taken_out_and_in_again_is_the_same(
    studio: Studio, whole: bool, kind: SheetKind, form: CsvForm
) -> None:
    # Whatever the files can say: also lots of yarns that are not there, and doubtful offers, whose
    # rows have a problem and are left out. Where all is there, only an offer may be doubtful.
    studio = tied(studio) if whole else studio
    text = table_of(kind, studio, form)
    table = read_table(text, form)
    request = Request(kind, table, proposed(kind.fields, table, None), TODAY)
    looked = intake(request, studio)
    assert {row.change for row in looked.rows} <= {Change.SAME, Change.FAULTY}
    assert looked.after is studio
    if whole and kind is SheetKind.STASH:
        assert [row.problems for row in looked.faulty] == []
        assert len(looked.rows) >= len(studio.stash.lots)
    if whole and kind is SheetKind.ORDERS:
        large = {p.name for p in studio.projects if max(p.width.cm, p.length.cm) > MOST_CM}
        assert {row.cells["name"] for row in looked.faulty} <= {name.strip() for name in large}
    if (
        whole
        and kind is SheetKind.PRICES
        and not problems_of(book_of(studio), studio.library, "EUR")
    ):
        assert looked.faulty == ()


def test_the_core_knows_what_the_files_can_hold() -> None:
    lots = schema()["stash"]["$defs"]
    batch = lots["BatchRecord"]["properties"]
    assert batch["balls"]["maximum"] == MOST_COUNT
    assert batch["kept"]["maxLength"] == LONGEST_LINE
    assert lots["LotRecord"]["properties"]["note"]["maxLength"] == LONGEST_NOTE
    assert Decimal(10) ** 9 == MOST_FIGURE
    assert MOST_DECIMALS == 6


def write(folder: Path, text: str, name: str = "hers.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_columns_that_speak_for_themselves_are_not_written_down(tmp_path: Path) -> None:
    opened = open_table(write(tmp_path, "yarn,shade,lot\na,b,c\n"), SheetKind.STASH, tmp_path)
    assert not opened.known
    remember(tmp_path, SheetKind.STASH, opened.table, opened.columns)
    assert not (tmp_path / "columns.toml").exists()


def test_what_was_matched_once_is_there_the_next_time(tmp_path: Path) -> None:
    path = write(tmp_path, "Garn;Farbe;Kasten;Datum\nWolle;1;3;3.4.2027\n")
    table = open_table(path, SheetKind.STASH, tmp_path).table
    hers = Columns(
        (("yarn", "Garn"), ("shade", "Farbe"), ("bought", "Datum"), ("kept", "Kasten")),
        DateOrder.DAY_FIRST,
    )
    remember(tmp_path, SheetKind.STASH, table, hers)
    again = open_table(path, SheetKind.STASH, tmp_path)
    assert again.known
    assert again.columns == hers
    assert again.unused(again.columns) == ()
    # A table without her box, in which the date is said to be none: the one stays, the other goes.
    other = open_table(
        write(tmp_path, "Garn;Farbe;Datum\nWolle;1;x\n", "b.csv"), SheetKind.STASH, tmp_path
    )
    fewer = Columns((("yarn", "Garn"), ("shade", "Farbe")), DateOrder.DAY_FIRST)
    remember(tmp_path, SheetKind.STASH, other.table, fewer)
    kept = open_table(path, SheetKind.STASH, tmp_path).columns
    assert kept.by_field == {"yarn": "Garn", "shade": "Farbe", "kept": "Kasten"}
    # Her matches of one kind say nothing of another.
    assert not open_table(path, SheetKind.PRICES, tmp_path).known


def test_nothing_is_written_where_nothing_changed(tmp_path: Path) -> None:
    path = write(tmp_path, "Garn;shade\nWolle;1\n")
    opened = open_table(path, SheetKind.STASH, tmp_path)
    hers = Columns((("yarn", "Garn"), ("shade", "shade")))
    remember(tmp_path, SheetKind.STASH, opened.table, hers)
    file = tmp_path / "columns.toml"
    os.utime(file, ns=(1, 1))
    remember(tmp_path, SheetKind.STASH, opened.table, hers)
    assert file.stat().st_mtime_ns == 1


def test_a_broken_file_of_columns_is_told_beside_the_table(tmp_path: Path) -> None:
    write(tmp_path, "format = 1\nstash = 3\n", "columns.toml")
    opened = open_table(write(tmp_path, "yarn,shade\na,b\n"), SheetKind.STASH, tmp_path)
    assert not opened.known
    assert opened.doubts[0].startswith("columns.toml: ")


def test_delimiter_and_decimal_mark_may_be_said(tmp_path: Path) -> None:
    path = write(tmp_path, "yarn|shade,x\n1.234|b,y\n")
    found = open_table(path, SheetKind.STASH, None, delimiter="|", decimal=",").table
    assert found.headers == ("yarn", "shade,x")
    assert (found.form.decimal, found.form.sure) == (",", True)


def test_tables_are_found_newest_first(tmp_path: Path) -> None:
    for at, name in enumerate(("old.csv", "new.TSV", ".hidden.csv", "note.txt")):
        os.utime(write(tmp_path, "a", name), (at + 1, at + 1))
    (tmp_path / "folder.csv").mkdir()
    places = [tmp_path, tmp_path, tmp_path / "nowhere"]
    assert [f.path.name for f in found_tables(places)] == ["new.TSV", "old.csv"]


@pytest.mark.parametrize("kind", list(SheetKind))
def test_an_empty_studio_has_tables_of_heads_alone(kind: SheetKind, tmp_path: Path) -> None:
    text = table_of(kind, Studio(Settings("Test")), CsvForm())
    assert text.count("\r\n") == 1
    assert open_table(write(tmp_path, text), kind, None).table.rows == ()
