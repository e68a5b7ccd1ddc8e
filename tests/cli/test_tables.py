"""`import` and `export`: what is taken in and said, what is refused, and out and in again."""

from __future__ import annotations

import json
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from studio.cli.main import main
from studio.cli.words_tables import FIELDS
from studio.core.model import Lot, Stage, Studio
from studio.core.sheets.taking import SheetKind
from studio.storage.read import load_studio

KINDS = ("stash", "prices", "orders")

# fmt: off
KEYS = [
    "format", "kind", "file", "encoding", "delimiter", "decimal", "dates", "columns", "unused",
    "doubts", "dry_run", "taken", "counts", "rows",
]
ROW_KEYS = ["line", "change", "what", "words", "problems", "notes"]
HERS = (
    "Qualität;Farbe;Partie;Knäuel;Preis;Gekauft;Sterne\n"
    "Fenlight;Oat;7001;4;7,40;3.11.2026;5\n"
    "Fenlight;01;7001;2;7,10;31.12.2025;\n"
)
MATCHED = ["yarn=Qualität", "shade=farbe", "lot=Partie", "balls=Knäuel", "price=Preis",
           "bought=Gekauft"]
# fmt: on


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 11, 25))


def read(folder: Path) -> Studio:
    found = load_studio(folder)
    assert found.problems == ()
    return found.studio


def files(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def table(demo: Path, text: str | bytes, name: str = "hers.csv") -> Path:
    path = demo.parent / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def ran(*words: str | Path) -> int:
    return main([str(w) for w in words])


def answer(capsys: pytest.CaptureFixture[str], status: int, *words: str | Path) -> Any:
    assert ran(*words, "--json") == status
    return json.loads(capsys.readouterr().out)


def refused(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    assert ran(*words) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err.strip()


def lot(folder: Path, code: str) -> Lot:
    return next(n for n in read(folder).stash.lots if n.code == code)


def test_the_help_names_the_fields_that_there_are() -> None:
    assert {kind: tuple(f.name for f in SheetKind(kind).fields) for kind in KINDS} == FIELDS


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("form", [[], ["--delimiter", ";", "--decimal", ",", "--bom"]])
def test_out_and_in_again_changes_no_file(
    demo: Path, kind: str, form: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(demo)
    out = demo.parent / "out.csv"
    assert ran("export", kind, "-f", demo, "--out", out, *form) == 0
    capsys.readouterr()
    found = answer(capsys, 0, "import", kind, out, "-f", demo)
    assert found["taken"]
    assert found["counts"] == {
        "new": 0, "changed": 0, "same": len(found["rows"]), "faulty": 0,
    }  # fmt: skip
    assert len(found["rows"]) > 10
    assert found["decimal"] == ("," if form else ".") or kind == "orders"
    assert files(demo) == before


@pytest.mark.parametrize("kind", KINDS)
def test_what_was_dropped_comes_back_from_the_table(demo: Path, kind: str) -> None:
    before = read(demo)
    out = demo.parent / "out.csv"
    assert ran("export", kind, "-f", demo, "--out", out) == 0
    if kind == "stash":
        for file in (demo / "stash").iterdir():
            file.write_text("format = 1\n")
    elif kind == "prices":
        for file in (demo / "suppliers").iterdir():
            head = file.read_text().split("offer = [")[0]
            file.write_text(head)
    else:
        shutil.rmtree(demo / "projects")
    # Without its lots a booked piece names some that are not there: a file is wrong until then.
    assert ran("import", kind, out, "-f", demo) == (0 if kind == "orders" else 2)
    after = read(demo)
    assert after.stash.lots == before.stash.lots
    assert after.offers == before.offers
    assert {p.name: (p.customer, p.stage, p.due, p.width) for p in after.projects} == {
        p.name: (p.customer, p.stage, p.due, p.width) for p in before.projects
    }


def test_a_table_of_hers_is_matched_once_and_remembered(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, HERS)
    assert "No column is matched with yarn and shade" in refused(
        capsys, "import", "stash", hers, "-f", demo
    )
    found = answer(capsys, 0, "import", "stash", hers, "-f", demo, "--columns", *MATCHED)
    assert list(found) == KEYS
    assert all(list(row) == ROW_KEYS for row in found["rows"])
    assert (found["delimiter"], found["decimal"], found["dates"]) == (";", ",", "day first")
    assert found["unused"] == ["Sterne"]
    assert [row["change"] for row in found["rows"]] == ["new", "new"]
    assert [(b.balls, b.price) for b in lot(demo, "7001").batches] == [
        (4, Decimal("7.40")), (2, Decimal("7.10")),
    ]  # fmt: skip
    assert lot(demo, "7001").batches[0].bought == date(2026, 11, 3)
    assert 'yarn = "Qualität"' in (demo / "columns.toml").read_text()
    # The same table again neither asks nor doubles anything.
    before = files(demo)
    again = answer(capsys, 0, "import", "stash", hers, "-f", demo)
    assert {row["change"] for row in again["rows"]} == {"as it is"}
    assert "on the shelf with 6 balls: nothing to do" in again["rows"][0]["words"]
    assert files(demo) == before


def test_balls_can_be_added_and_the_doubling_is_told(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, "yarn,shade,lot,balls\nfenlight,01,7001,4\n")
    assert ran("import", "stash", hers, "-f", demo) == 0
    capsys.readouterr()
    dry = answer(capsys, 0, "import", "stash", hers, "-f", demo, "--add", "--dry-run")
    assert dry["rows"][0]["words"] == ("on the shelf with 4 balls: added to, then 8 balls")
    assert "was this table taken in before?" in dry["rows"][0]["notes"][0]
    assert not dry["taken"]
    assert lot(demo, "7001").balls == 4
    assert ran("import", "stash", hers, "-f", demo, "--add") == 0
    assert lot(demo, "7001").balls == 8
    capsys.readouterr()
    assert "--add is for the stash" in refused(
        capsys, "import", "prices", hers, "-f", demo, "--add"
    )


def test_a_dry_run_says_the_same_and_writes_nothing(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers, before = table(demo, HERS), files(demo)
    words: list[str | Path] = ["import", "stash", hers, "-f", demo, "--columns", *MATCHED]
    dry = answer(capsys, 0, *words, "--dry-run")
    assert files(demo) == before
    wet = answer(capsys, 0, *words)
    assert wet["rows"] == dry["rows"]
    assert (dry["taken"], wet["taken"]) == (False, True)


def test_rows_with_problems_hold_everything_back_unless_left_out(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        "yarn,shade,lot,balls\nfenlight,01,7001,4\nfenlight,Nope,1,1\nflaxen,1,1,1\n"
        "fenlight,02,7002,-4\n"
    )
    hers, before = table(demo, text), files(demo)
    assert ran("import", "stash", hers, "-f", demo) == 1
    out = capsys.readouterr().out
    assert "Nothing is taken in" in out
    assert "no shade of Fenlight is called" in out
    assert files(demo) == before
    assert ran("import", "stash", hers, "-f", demo, "--leave-out") == 1
    assert "Taken in: 1 row, 3 rows left out." in capsys.readouterr().out
    assert lot(demo, "7001").balls == 4


def test_a_price_list_keeps_what_it_does_not_tell(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = read(demo)
    hers = table(demo, "supplier;yarn;shade;pack;from;price\nthe wholesaler;Fenlight;01;5;1;6,20\n")
    assert ran("import", "prices", hers, "-f", demo) == 0
    assert "6.60 EUR a ball: set to 6.20 EUR" in capsys.readouterr().out
    now = [o for o in read(demo).offers if (o.supplier, o.yarn) == ("wholesaler", "fenlight")]
    assert [(o.shades, o.breaks[0].price) for o in now] == [
        (("15", "34", "40"), Decimal("6.60")), (("01",), Decimal("6.20")),
    ]  # fmt: skip
    others = [o for o in before.offers if (o.supplier, o.yarn) != ("wholesaler", "fenlight")]
    assert [o for o in read(demo).offers if o not in now] == others
    # The words that she wrote beside them stay too.
    assert "Two weeks, whatever they say" in (demo / "suppliers" / "wholesaler.toml").read_text()


def test_a_list_of_orders_begins_a_piece(demo: Path) -> None:
    head = "piece,for,due,width,length,price,like\n"
    hers = table(demo, f"{head}River wrap,Ilka,2027-03-01,90,200,310,Northing wave\n")
    assert ran("import", "orders", hers, "-f", demo) == 0
    new = read(demo).project["river-wrap"]
    assert (new.stage, new.price, new.due) == (Stage.BOOKED, Decimal(310), date(2027, 3, 1))
    assert new.stripes
    assert ran("show", "River wrap", "-f", demo) == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"", "nothing in this table"),
        (b"\xef\xbb\xbf\r\n", "nothing in this table"),
        (b"a,b\n1,2\n", "No column is matched with yarn and shade"),
        (b'yarn,shade\n"fenlight,1\n', "Line 2 cannot be read as a table"),
        (b"PK\x03\x04\x00", "export it as CSV first"),
        (b"yarn,yarn\n1,2\n", "Two columns are called"),
    ],
)
def test_what_is_no_such_table_is_refused(
    demo: Path, text: bytes, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    hers, before = table(demo, text), files(demo)
    assert words in refused(capsys, "import", "stash", hers, "-f", demo)
    assert files(demo) == before


def test_a_table_of_fifty_megabytes_is_refused_unread(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, "")
    with hers.open("wb") as file:
        file.truncate(50_000_000)
    told = refused(capsys, "import", "stash", hers, "-f", demo)
    assert "50.0 MB and was not opened" in told
    assert "There is no studio folder" in refused(capsys, "import", "stash", hers, "-f", hers)


def test_words_of_the_command_that_are_wrong_are_told(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, "yarn,shade,lot,balls\nfenlight,01,1,1\n")
    for columns, words in (
        ("yarn", "write a field and its column"),
        ("bals=balls", "Did you mean 'balls'?"),
        ("kept=Box", "There is no column 'Box' in hers.csv; its columns are yarn, shade"),
        ("yarn=", "No column is matched with yarn"),
    ):
        assert words in refused(capsys, "import", "stash", hers, "-f", demo, "--columns", columns)
    assert "no such file" in refused(capsys, "import", "stash", demo / "no.csv", "-f", demo)
    assert ran("import", "wool", hers) == 3


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_delimiters_and_decimal_commas(
    demo: Path, encoding: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "yarn\tshade\tlot\tballs\tprice\tkept\nfenlight\t01\t7001\t4\t7,40\tGeräteschuppen\n"
    hers = table(demo, text.encode(encoding))
    found = answer(capsys, 0, "import", "stash", hers, "-f", demo)
    assert found["delimiter"] == "\t"
    assert bool(found["doubts"]) == (encoding == "cp1252")
    (batch,) = lot(demo, "7001").batches
    assert (batch.price, batch.kept) == (Decimal("7.40"), "Geräteschuppen")


def test_a_doubtful_number_is_asked_about_and_can_be_said(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, "yarn;shade;lot;balls\nfenlight;01;7001;1.234\n")
    found = answer(capsys, 1, "import", "stash", hers, "-f", demo)
    assert "could be two numbers" in found["rows"][0]["problems"][0]
    assert ran("import", "stash", hers, "-f", demo, "--decimal", ",") == 0
    assert lot(demo, "7001").balls == 1234


def test_formulas_come_in_as_words_and_go_out_as_none(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, 'yarn,shade,lot,balls,note,kept\nfenlight,01,7001,4,=1+1,"@box, left"\n')
    assert ran("import", "stash", hers, "-f", demo) == 0
    assert (lot(demo, "7001").note, lot(demo, "7001").batches[0].kept) == ("=1+1", "@box, left")
    capsys.readouterr()
    assert ran("export", "stash", "-f", demo) == 0
    out = capsys.readouterr().out
    assert "'=1+1" in out
    assert '"\'@box, left"' in out
    before = files(demo)
    again = table(demo, out)
    assert ran("import", "stash", again, "-f", demo) == 0
    assert files(demo) == before


def test_a_broken_file_of_the_studio_is_told_and_not_overwritten(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    broken = demo / "stash" / "fenlight.toml"
    broken.write_text("format = 1\nlot = 7\n")
    hers = table(demo, "yarn,shade,lot,balls\nfenlight,01,7001,4\n")
    before = files(demo)
    assert "could not be read, so it is not overwritten" in refused(
        capsys, "import", "stash", hers, "-f", demo
    )
    assert files(demo) == before
    assert ran("export", "stash", "-f", demo) == 2
    out, err = capsys.readouterr()
    assert "fenlight.toml" in err
    assert "fenlight," not in out


def test_her_file_is_never_written_over(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    hers = table(demo, "mine")
    assert "--overwrite" in refused(capsys, "export", "orders", "-f", demo, "--out", hers)
    assert hers.read_text() == "mine"
    assert ran("export", "orders", "-f", demo, "--out", hers, "--overwrite") == 0
    assert hers.read_text().startswith("name,customer")


def test_a_table_without_rows_takes_nothing_in(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hers = table(demo, "yarn,shade,lot,balls\n")
    assert ran("import", "stash", hers, "-f", demo) == 1
    assert "no row under the heads" in capsys.readouterr().out


def test_a_column_choice_that_cannot_be_kept_stops_before_anything_is_written(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (demo / "columns.toml").write_text("format = 1\nstash = 7\n")
    hers, before = table(demo, HERS), files(demo)
    told = refused(capsys, "import", "stash", hers, "-f", demo, "--columns", *MATCHED)
    assert "columns.toml could not be read" in told
    assert files(demo) == before
