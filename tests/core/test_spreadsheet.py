"""Tables in and out: how they are written, columns matched once, rows refused one by one."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.model import Batch, Library, Lot
from studio.core.sheets.preview import Preview
from studio.core.sheets.stash import STASH_FIELDS, lots_together, preview_stash, stash_table
from studio.core.spreadsheet import (
    Columns,
    CsvForm,
    DateOrder,
    Field,
    TableError,
    date_order_of,
    detect,
    guarded,
    guess,
    proposed,
    read_count,
    read_date,
    read_figure,
    read_table,
    unguarded,
    write_table,
)
from tests.core.buying.making import D, yarn

LIBRARY = Library(yarns=(yarn(), yarn("silk", 2, 100, no_dye_lot=True)))
GERMAN = CsvForm(";", ",", bom=True)


def stash(text: str, columns: Columns | None = None, form: CsvForm | None = None) -> Preview[Lot]:
    table = read_table(text, form)
    return preview_stash(table, columns or guess(STASH_FIELDS, table.headers), LIBRARY, "EUR")


def problems(preview: Preview[Lot]) -> list[str]:
    return [p for row in preview.rows for p in row.problems]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("bom", [True, False])
def test_delimiter_decimal_mark_and_byte_order_mark_are_found(
    delimiter: str, decimal: str, bom: bool
) -> None:
    form = CsvForm(delimiter, decimal, bom)
    rows = [("wool", "1", form.figure(D("4.50"))), ("wool", "2", form.figure(D("12.95")))]
    text = write_table(("yarn", "shade", "price"), rows, form)
    table = read_table(text)
    assert table.form == form
    assert table.headers[0] == "yarn"
    assert [read_figure(r[2], table.form) for r in table.rows] == [D("4.50"), D("12.95")]


def test_a_comma_inside_words_does_not_pass_for_the_delimiter() -> None:
    text = "yarn;note\nwool;soft, thick, warm\nsilk;thin, cool, dear\n"
    assert detect(text).delimiter == ";"


@pytest.mark.parametrize(
    ("cell", "decimal", "value"),
    [
        ("1.234,50", ",", "1234.50"),
        ("1,234.50", ".", "1234.50"),
        ("1 234,5", ",", "1234.5"),
        ("1\u202f234,5", ",", "1234.5"),
        ("-3", ".", "-3"),
        (".5", ".", "0.5"),
        ("0,10", ",", "0.10"),
    ],
)
def test_figures_as_people_write_them(cell: str, decimal: str, value: str) -> None:
    assert read_figure(cell, CsvForm(decimal=decimal)) == D(value)


@pytest.mark.parametrize(
    "cell", ["4,50", "12,34,567", "1e5", "NaN", "4.5.6", "x", "", "١٢", "1,2345"]
)
def test_what_is_no_figure_with_a_decimal_point(cell: str) -> None:
    with pytest.raises(ValueError, match="is not a number"):
        read_figure(cell, CsvForm())


def test_a_number_that_could_be_two_is_asked_about() -> None:
    table = read_table("yarn;balls\nwool;1,234\n")
    assert not table.form.sure
    with pytest.raises(ValueError, match="could be two numbers"):
        read_figure("1,234", table.form)
    assert read_figure("1,234", replace(table.form, sure=True)) == D("1234")
    assert read_figure("1,234", CsvForm(decimal=",")) == D("1.234")
    assert read_figure("1234", table.form) == D("1234")


def test_counts_are_whole() -> None:
    assert read_count("12", CsvForm()) == 12
    for cell in ("1.5", "-1"):
        with pytest.raises(ValueError, match="whole number"):
            read_count(cell, CsvForm())


def test_dates_that_could_be_two_days_are_asked_about() -> None:
    assert read_date("2027-03-04", DateOrder.YEAR_FIRST) == date(2027, 3, 4)
    assert read_date("4.3.2027", DateOrder.DAY_FIRST) == date(2027, 3, 4)
    assert read_date("3/4/2027", DateOrder.MONTH_FIRST) == date(2027, 3, 4)
    with pytest.raises(ValueError, match="two days"):
        read_date("3/4/2027", DateOrder.YEAR_FIRST)
    with pytest.raises(ValueError, match="calendar"):
        read_date("31/2/2027", DateOrder.DAY_FIRST)
    assert date_order_of(["3/4/2027", "25/4/2027"]) is DateOrder.DAY_FIRST
    assert date_order_of(["3/4/2027", "3/25/2027"]) is DateOrder.MONTH_FIRST
    assert date_order_of(["3/4/2027"]) is None
    assert date_order_of(["25/4/2027", "4/25/2027"]) is None


def test_lines_are_told_as_they_stand_in_the_text() -> None:
    table = read_table('a,b\r\n1,"two\r\nlines"\r\n\r\n3,4\r\n')
    assert table.rows == (("1", "two\r\nlines"), ("3", "4"))
    assert table.lines == (2, 5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "nothing in this table"),
        (BOM := "\ufeff", "nothing in this table"),
        ("\n \n", "nothing in this table"),
        ("a,A\n1,2\n", "Two columns are called"),
        ('a,b\n1,"2\n', "cannot be read as a table"),
        ('a,b\n1,"2"x\n', "cannot be read as a table"),
    ],
)
def test_a_text_that_is_no_table(text: str, words: str) -> None:
    with pytest.raises(TableError, match=words):
        read_table(text, CsvForm())


def test_columns_are_matched_by_name_and_can_be_matched_by_hand() -> None:
    text = "Brand,Colour,Dye lot,Skeins\nWool,Shade 1,77,4\n"
    table = read_table(text)
    columns = guess(STASH_FIELDS, table.headers)
    assert columns.by_field == {
        "yarn": "Brand", "shade": "Colour", "lot": "Dye lot", "balls": "Skeins",
    }  # fmt: skip
    (lot,) = stash(text).accepted()
    assert lot == Lot("wool", "1", "77", (Batch(4),))
    odd = "Q1,Q2,Q3,Q4\nWool,Shade 1,77,4\n"
    by_hand = Columns((("yarn", "Q1"), ("shade", "Q2"), ("lot", "Q3"), ("balls", "Q4")))
    assert stash(odd, by_hand).accepted() == (lot,)


def test_wrong_columns_are_refused_with_those_that_are_there() -> None:
    with pytest.raises(TableError, match=r"No column is matched with yarn and shade; .* a, b"):
        stash("a,b\n1,2\n")
    with pytest.raises(TableError, match=r"no column 'lot'.*yarn, shade"):
        stash("yarn,shade\nwool,1\n", Columns((("yarn", "yarn"), ("lot", "lot"))))


def test_every_problem_of_every_row_is_shown_before_anything_is_taken_over() -> None:
    text = (
        "yarn,shade,lot,balls,part,price,bought\n"
        "wool,1,77,4,,4.50,2026-05-01\n"
        "flax,1,77,4,,4.50,\n"
        "wool,9,,4.5,,-1,31.02.2026\n"
        "wool,1,78,,,,\n"
        "wool,1,78,,60,,\n"
        "wool,1,buy,2,,,\n"
    )
    preview = stash(text)
    assert [r.line for r in preview.faulty] == [3, 4, 5, 6, 7]
    found = problems(preview)
    assert found[0] == "yarn: 'flax': there is no such yarn in the library."
    assert found[1:6] == [
        "shade: no shade of Wool is called '9'.",
        "lot: it is empty; give the code of the ball band, or a mark of yours.",
        "balls: '4.5' is not a whole number of 0 or more.",
        "price: -1 is not an amount of 0 or more in EUR.",
        "bought: '31.02.2026' could be two days: say whether day or month comes first.",
    ]
    assert "neither balls nor a part ball" in found[6]
    assert "at most the 50 g" in found[7]
    assert "cannot be called" in found[8]
    with pytest.raises(TableError, match=r"5 rows of 6.*Line 3: yarn"):
        preview.accepted()
    assert len(preview.accepted(leave_out_faulty=True)) == 1


def test_rows_of_one_lot_become_its_batches_and_parts() -> None:
    text = (
        "yarn,shade,lot,balls,part,bought,code lost\n"
        "wool,1,77,4,,2026-05-01,\nwool,1,77,,12.5,,\nwool,1,77,2,,2026-08-01,yes\n"
    )
    (lot,) = lots_together(stash(text).accepted())
    assert lot.balls == 6
    assert lot.parts_g == (D("12.5"),)
    assert lot.code_lost


def test_a_yarn_without_dye_lots_needs_no_code() -> None:
    (lot,) = stash("yarn,shade,balls\nsilk,1,4\n").accepted()
    assert lot.code == ""


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=12).map(
    str.strip
)
MONEY = st.integers(0, 10_000).map(lambda n: D(n) / 100)
FORMS = st.builds(
    CsvForm, st.sampled_from([",", ";", "\t", "|"]), st.sampled_from([".", ","]), st.booleans()
)
BATCHES = st.builds(
    Batch, st.integers(0, 50), st.none() | MONEY, MONEY,
    st.none() | st.dates(date(2000, 1, 1), date(2090, 1, 1)), WORDS, WORDS,
)  # fmt: skip
PARTS = st.integers(1, 499).map(lambda n: D(n) / 10)


@st.composite
def many_lots(draw: st.DrawFn) -> list[Lot]:
    codes = draw(st.lists(WORDS.filter(lambda c: bool(c) and c != "buy"), max_size=4, unique=True))
    lots = []
    for code in codes:
        batches = tuple(draw(st.lists(BATCHES, max_size=3)))
        parts = tuple(draw(st.lists(PARTS, min_size=0 if batches else 1, max_size=3)))
        shade = draw(st.sampled_from(["1", "2", "3"]))
        lots.append(Lot("wool", shade, code, batches, parts, draw(st.booleans()), draw(WORDS)))
    return [lot for lot in lots if not lot.code.startswith("order:")]


@given(many_lots(), FORMS)
def test_a_stash_comes_back_as_it_went_out(lots: list[Lot], form: CsvForm) -> None:
    text = stash_table(lots, form)
    assert lots_together(stash(text, form=form).accepted()) == tuple(lots)


def test_the_form_of_our_own_tables_is_found_again() -> None:
    lots = [
        Lot("wool", "1", "77", (Batch(4, D("4.50"), D("0.31"), date(2026, 5, 1)),), (D("9.5"),))
    ]
    for form in (CsvForm(), GERMAN, CsvForm("\t", ","), CsvForm("|")):
        text = stash_table(lots, form)
        assert detect(text) == form
        assert lots_together(stash(text).accepted()) == tuple(lots)


@given(st.lists(st.lists(st.text(max_size=8), min_size=2, max_size=2), max_size=5), FORMS)
def test_any_text_in_a_field_comes_back(rows: list[list[str]], form: CsvForm) -> None:
    kept = [[f.replace("\0", "").replace("\r", "").strip() for f in row] for row in rows]
    text = write_table(("one", "two"), kept, form)
    assert [list(r) for r in read_table(text, form).rows] == [r for r in kept if any(r)]


@given(st.text("'=+-@ ＝ab", max_size=6).map(str.strip))
def test_no_field_is_a_formula_and_honest_ones_come_back(field: str) -> None:
    # A field that begins with = + - or @ is worked out by spreadsheets: OWASP, 'CSV Injection'.
    written = guarded(field)
    assert written[:1] not in tuple("=+-@＝＋－＠")
    assert unguarded(written) == field
    (row,) = read_table(write_table(("one", "two"), [(field, "x")], CsvForm())).rows
    assert row == (field, "x")


def test_an_ordinary_apostrophe_stays_as_it_is() -> None:
    assert guarded("'s Gravel") == "'s Gravel"
    assert unguarded("'s Gravel") == "'s Gravel"
    assert guarded("=1+1") == "'=1+1"
    assert unguarded("'=1+1") == "=1+1"


def test_our_tables_are_read_by_the_standard_reader() -> None:
    # RFC 4180: fields with a delimiter, a quote or a line break stand in quotes, quotes doubled.
    text = write_table(("a", "b"), [('say "so"', "one,two")], CsvForm())
    assert text == 'a,b\r\n"say ""so""","one,two"\r\n'
    assert list(csv.reader(text.splitlines()))[1] == ['say "so"', "one,two"]


def test_columns_are_proposed_as_they_were_matched_the_last_time() -> None:
    fields = (Field("yarn", True), Field("balls"), Field("due", day=True))
    table = read_table("Quality;yarn;balls;due\nWool;x;3;25.3.2027\n")
    assert proposed(fields, table, None).headers == (
        ("yarn", "yarn"), ("balls", "balls"), ("due", "due"),
    )  # fmt: skip
    kept = Columns((("yarn", "quality"), ("balls", "gone")), DateOrder.MONTH_FIRST)
    found = proposed(fields, table, kept)
    assert found.headers == (("yarn", "Quality"), ("balls", "balls"), ("due", "due"))
    # The 25th month is none, so the table's own dates outdo what was kept.
    assert found.dates is DateOrder.DAY_FIRST
    open_ = read_table("yarn;due\nWool;4.3.2027\n")
    assert proposed(fields, open_, kept).dates is DateOrder.MONTH_FIRST
