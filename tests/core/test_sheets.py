"""Tables laid upon a studio: what each row does, what is kept, and out and in again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core.answers import RunKind
from studio.core.buying.offers import BreakScope, Offer, PriceBreak
from studio.core.model import Batch, ClaimKind, Length, LengthUnit, Lot, Stage, Stash, Studio
from studio.core.reconcile import reconcile
from studio.core.sheets.fates import Change
from studio.core.sheets.orders import order_rows
from studio.core.sheets.shelving import Lots
from studio.core.sheets.taking import Intake, Request, SheetKind, intake, table_of
from studio.core.spreadsheet import CsvForm, TableError, proposed, read_table
from studio.core.trade_model import Customer
from studio.errors import EditRefusedError
from tests.core import editing
from tests.core.buying.making import seller, steps

D = Decimal
TODAY = date(2026, 11, 25)
SOLD = (
    Offer("north", "wool", steps((1, "4.50"), (10, "4.10")), 1, None, BreakScope.YARN, "by post"),
    Offer("north", "wool", steps((5, "4.00")), 5, ("10", "20")),
    Offer("south", "wool", steps((1, "4.80")), 1, ("10",)),
)


@pytest.fixture
def studio() -> Studio:
    made = editing.studio()
    return replace(made, suppliers=(seller("north"), seller("south")), offers=SOLD)


def look(
    studio: Studio, kind: str, text: str, how: Lots = Lots.SET, form: CsvForm | None = None
) -> Intake:
    table = read_table(text, form)
    sheet = SheetKind(kind)
    plans = reconcile(studio, today=TODAY).plan.projects
    columns = proposed(sheet.fields, table, None)
    return intake(Request(sheet, table, columns, TODAY, how, plans), studio)


def told(found: Intake) -> list[tuple[str, str]]:
    return [(row.change.value, row.words or " ".join(row.problems)) for row in found.rows]


def lot(studio: Studio, code: str, shade: str = "10") -> Lot:
    return next(n for n in studio.stash.lots if (n.code, n.shade) == (code, shade))


# The stash


def test_a_lot_that_is_there_is_set_to_the_table_and_twice_changes_nothing(studio: Studio) -> None:
    text = "yarn,shade,lot,balls,part\nwool,10,1,5,\nwool,10,1,,20\nWool,Clay,77,4,\n"
    found = look(studio, "stash", text)
    assert told(found) == [
        ("changed", "on the shelf with 3 balls and 2 part balls (20 g, 31 g): "
         "set to 5 balls and 1 part ball (20 g)"),
        ("changed", "goes in with line 2"),
        ("new", "a new lot of 4 balls"),
    ]  # fmt: skip
    after = found.taken()
    assert lot(after, "1").balls == 5
    assert lot(after, "77", "20").balls == 4
    again = look(after, "stash", text)
    assert again.after is after
    assert {row.change for row in again.rows} == {Change.SAME}
    assert "nothing to do" in again.rows[0].words


def test_what_the_table_does_not_tell_stays(studio: Studio) -> None:
    after = look(studio, "stash", "yarn,shade,lot,balls\nwool,10,1,7\n").taken()
    # Price, date and part balls have no column in it.
    assert lot(after, "1") == replace(
        lot(studio, "1"), batches=(Batch(7, D("4.00"), bought=date(2026, 2, 1)),)
    )
    assert [n for n in after.stash.lots if n.code != "1"] == [
        n for n in studio.stash.lots if n.code != "1"
    ]


def test_rows_find_their_batches_in_any_order(studio: Studio) -> None:
    text = (
        "yarn,shade,lot,balls,price,bought\n"
        "wool,10,2,6,,2025-01-01\nwool,10,2,2,4.75,\nwool,10,2,1,5.00,2026-11-20\n"
    )
    found = look(studio, "stash", text)
    assert lot(found.taken(), "2").batches == (
        Batch(2, D("4.75")),
        Batch(6, bought=date(2025, 1, 1)),
        Batch(1, D("5.00"), bought=date(2026, 11, 20)),
    )


def test_a_batch_that_the_table_lacks_is_used_up_and_its_price_is_kept(studio: Studio) -> None:
    after = look(studio, "stash", "yarn,shade,lot,balls,price\nwool,10,2,2,4.50\n").taken()
    # What was paid still prices the part balls, as where balls are used up by hand.
    assert lot(after, "2").batches == (Batch(2, D("4.50")), Batch(0, bought=date(2025, 1, 1)))
    text = "yarn,shade,lot,balls,bought\nwool,10,1,4,2026-09-01\n"
    assert lot(look(studio, "stash", text).taken(), "1").batches == (
        Batch(0, D("4.00"), bought=date(2026, 2, 1)),
        Batch(4, bought=date(2026, 9, 1)),
    )


@pytest.mark.parametrize(("balls", "left"), [(6, (2, 4)), (3, (0, 3)), (1, (0, 1)), (9, (2, 7))])
def test_one_count_for_a_lot_of_two_batches(
    studio: Studio, balls: int, left: tuple[int, int]
) -> None:
    # Of the shelf's lot 2 the first batch is of no known day, which counts as the oldest.
    after = look(studio, "stash", f"yarn,shade,lot,balls\nwool,10,2,{balls}\n").taken()
    assert tuple(b.balls for b in lot(after, "2").batches) == left
    assert [b.price for b in lot(after, "2").batches] == [D("4.50"), None]


def test_new_yarn_can_be_added_and_the_same_balls_again_are_told(studio: Studio) -> None:
    text = "yarn,shade,lot,balls,price\nwool,10,1,2,4.20\n"
    first = look(studio, "stash", text, Lots.ADD)
    assert "added to, then 5 balls" in first.rows[0].words
    assert first.rows[0].notes == ()
    after = first.taken()
    assert lot(after, "1").balls == 5
    again = look(after, "stash", text, Lots.ADD)
    assert again.rows[0].notes == (
        "Balls just like these are there already: was this table taken in before?",
    )


def test_notes_of_one_lot_that_differ_are_all_kept_and_twice_changes_nothing(
    studio: Studio,
) -> None:
    text = "yarn,shade,lot,balls,part,note\nwool,10,n1,3,,dry\nwool,10,n1,,20,by the door\n"
    after = look(studio, "stash", text).taken()
    assert lot(after, "n1").note == "dry\nby the door"
    assert look(after, "stash", text).after is after
    own = table_of(SheetKind.STASH, after, CsvForm())
    assert look(after, "stash", own).after is after
    changed = text.replace("dry", "damp")
    again = look(after, "stash", changed).taken()
    assert lot(again, "n1").note == "damp\nby the door"
    assert look(again, "stash", changed).after is again


def test_blanks_about_a_code_make_no_second_lot(studio: Studio) -> None:
    first, *rest = studio.stash.lots
    spaced = replace(first, code=f"{first.code} ")
    one = replace(studio, stash=replace(studio.stash, lots=(spaced, *rest)))
    text = table_of(SheetKind.STASH, one, CsvForm())
    assert look(one, "stash", text).taken() is one
    both = replace(studio, stash=replace(studio.stash, lots=(first, spaced, *rest)))
    found = look(both, "stash", table_of(SheetKind.STASH, both, CsvForm()))
    assert found.after is both
    assert "differ only by blanks" in found.faulty[0].problems[0]


def test_a_duplicate_row_is_told(studio: Studio) -> None:
    text = "yarn,shade,lot,balls,price\nwool,10,9,2,4.20\nwool,10,9,2,4.20\n"
    found = look(studio, "stash", text)
    assert found.rows[1].notes == ("It says the same as line 2; both count.",)
    assert lot(found.taken(), "9").balls == 4


def test_a_lot_goes_in_whole_or_not_at_all(studio: Studio) -> None:
    text = "yarn,shade,lot,balls\nwool,10,1,9\nWool,Moss,1,-3\nwool,10,2,1\nflax,1,1,1\n"
    found = look(studio, "stash", text)
    assert [row.line for row in found.faulty] == [2, 3, 5]
    assert found.rows[0].problems == ("It waits for line 3, which it belongs with.",)
    assert "'-3' is not a whole number of 0 or more" in found.rows[1].problems[0]
    with pytest.raises(
        EditRefusedError, match=r"3 rows of 4 cannot be taken in\. Line 2: It waits"
    ):
        found.taken()
    after = found.taken(leave_out_faulty=True)
    assert lot(after, "1") == lot(studio, "1")
    assert lot(after, "2").balls == 1


def test_yarn_without_dye_lots_stays_one_lot(studio: Studio) -> None:
    found = look(
        studio, "stash", "yarn,shade,lot,balls\nplain,10,new,1\nplain,20,,1\nplain,20,x,1\n"
    )
    assert [row.change for row in found.rows] == [Change.FAULTY, Change.NEW, Change.FAULTY]
    assert "no dye lots" in found.rows[0].problems[0]
    assert "no dye lots" in found.rows[2].problems[0]


def test_lost_noughts_are_found_again(studio: Studio) -> None:
    made = replace(
        studio,
        library=replace(studio.library, yarns=(*studio.library.yarns, editing.yarn("silk"))),
    )
    shades = tuple(replace(s, code=f"0{s.code}") for s in made.library.yarn["silk"].shades)
    silk = replace(made.library.yarn["silk"], shades=shades)
    made = replace(made, library=replace(made.library, yarns=(*studio.library.yarns, silk)))
    found = look(made, "stash", "yarn,shade,lot,balls\nsilk,10,5,1\nwool,10,01,4\n")
    assert found.rows[0].notes == ("shade 10 is read as 010: its noughts were lost.",)
    assert found.rows[1].notes == ("The shelf has lot 1: if it is that one, mend its code first.",)
    assert found.taken().stash.lots[-2].shade == "010"


def test_what_no_file_could_hold_is_a_problem_of_its_row(studio: Studio) -> None:
    long = "x" * 401
    text = (
        "yarn,shade,lot,balls,part,price,kept\n"
        f'wool,10,a,1,,,{long}\nwool,10,"a\nb",1,,,\nwool,10,c,{"9" * 40},,,\n'
        f"wool,10,d,,1{'0' * 30},,\nwool,10,e,1,,1{'0' * 40}.5,\nwool,10,f,,56,,\n"
    )
    found = look(studio, "stash", text)
    assert [row.change for row in found.rows] == [Change.FAULTY] * 6
    words = [row.problems[0].split(":")[0] for row in found.rows]
    assert words == ["kept", "lot", "balls", "part", "price", "part"]
    assert found.after is studio


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=9).map(
    str.strip
)
CODES = WORDS.filter(lambda c: bool(c) and c != "buy" and not c.startswith("order:"))
MONEY = st.integers(0, 10_000).map(lambda n: D(n) / 100)
FORMS = st.builds(
    CsvForm, st.sampled_from([",", ";", "\t", "|"]), st.sampled_from([".", ","]), st.booleans()
)
BATCHES = st.builds(
    Batch, st.integers(0, 50), st.none() | MONEY, MONEY,
    st.none() | st.dates(date(2000, 1, 1), date(2090, 1, 1)), WORDS, WORDS,
).filter(lambda batch: batch != Batch(0))  # fmt: skip
PARTS = st.integers(1, 499).map(lambda n: D(n) / 10)


@st.composite
def shelves(draw: st.DrawFn) -> tuple[Lot, ...]:
    lots = [
        Lot(
            "wool", draw(st.sampled_from(["10", "20"])), code,
            tuple(draw(st.lists(BATCHES, max_size=3))), tuple(draw(st.lists(PARTS, max_size=3))),
            draw(st.booleans()), draw(WORDS),
        )
        for code in draw(st.lists(CODES, max_size=4, unique=True))
    ]  # fmt: skip
    return tuple(lots)


@given(shelves(), FORMS)
def test_a_stash_goes_out_and_comes_back(lots: tuple[Lot, ...], form: CsvForm) -> None:
    full = replace(editing.studio(), stash=Stash(lots))
    text = table_of(SheetKind.STASH, full, form)
    assert look(full, "stash", text, form=form).taken() is full
    empty = replace(full, stash=Stash())
    assert look(empty, "stash", text, form=form).taken() == full


@given(shelves(), shelves())
def test_any_shelf_becomes_what_a_table_says_and_stays_so(
    was: tuple[Lot, ...], wanted: tuple[Lot, ...]
) -> None:
    before = replace(editing.studio(), stash=Stash(was))
    text = table_of(SheetKind.STASH, replace(before, stash=Stash(wanted)), CsvForm())
    after = look(before, "stash", text, form=CsvForm()).taken()
    now = {n.ref: n for n in after.stash.lots}
    for n in wanted:
        assert (now[n.ref].balls, sorted(now[n.ref].parts_g)) == (n.balls, sorted(n.parts_g))
    named = {n.ref for n in wanted}
    assert [n for n in after.stash.lots if n.ref in {w.ref for w in was} - named] == [
        n for n in was if n.ref not in named
    ]
    assert look(after, "stash", text, form=CsvForm()).taken() is after


# Prices


Asked = set[tuple[str, str, int, str | None, tuple[tuple[int, Decimal], ...], str, str]]


def asked(studio: Studio) -> Asked:
    """What is asked for each shade in each pack, however the offers are cut."""
    return {
        (o.supplier, o.yarn, o.pack, code,
         tuple(sorted((s.from_balls, s.price) for s in o.breaks)), o.scope.value, o.note)
        for o in studio.offers
        for code in (o.shades or (None,))
    }  # fmt: skip


def test_a_price_list_is_merged_and_nothing_else_is_lost(studio: Studio) -> None:
    text = "supplier;yarn;shade;pack;price\nNorth;Wool;10;5;3,80\n"
    found = look(studio, "prices", text)
    assert told(found) == [
        ("changed", "4.00 EUR a ball from 5 balls on: set to 3.80 EUR"),
    ]  # fmt: skip
    after = found.taken()
    assert after.offers == (
        SOLD[0],
        Offer("north", "wool", steps((5, "4.00")), 5, ("20",)),
        Offer("north", "wool", steps((5, "3.80")), 5, ("10",)),
        SOLD[2],
    )
    assert look(after, "prices", text).after is after
    further = look(studio, "prices", "supplier,yarn,shade,pack,from,price\nnorth,wool,10,5,20,3\n")
    assert told(further) == [("changed", "a further price: 3.00 EUR a ball from 20 balls on")]


def test_a_shade_may_leave_the_price_of_all_shades(studio: Studio) -> None:
    text = "supplier,yarn,shade,pack,price\nnorth,wool,20,1,4.30\n"
    found = look(studio, "prices", text)
    assert found.rows[0].notes == ("All shades had one price; this one gets its own.",)
    after = found.taken()
    assert after.offers[:2] == (
        replace(SOLD[0], shades=("10",)),
        replace(SOLD[0], shades=("20",), breaks=steps((1, "4.30"), (10, "4.10"))),
    )
    # 'All shades' now means each that the table does not name; one has its own price already.
    whole = "supplier,yarn,shade,pack,price\nnorth,wool,,1,4.40\n"
    refused = look(after, "prices", whole)
    assert "Clay has a price of its own there" in refused.rows[0].problems[0] or (
        "Moss has a price of its own there" in refused.rows[0].problems[0]
    )
    assert refused.after is after


def with_own_price(studio: Studio, price: str | None, *offers: Offer) -> Studio:
    """The wool at her own price, with these offers of it alone."""
    own = None if price is None else D(price)
    yarns = tuple(replace(y, price=own) if y.key == "wool" else y for y in studio.library.yarns)
    return replace(studio, library=replace(studio.library, yarns=yarns), offers=offers)


LISTED = Offer("north", "wool", steps((1, "4.50"), (10, "4.10")))
OTHER = Offer("south", "wool", steps((1, "4.60")))


def test_a_row_that_makes_a_yarn_dearer_than_her_own_price_says_so(studio: Studio) -> None:
    head = "supplier,yarn,shade,from,price\n"
    made = with_own_price(studio, "4.50", LISTED, OTHER)
    (row,) = look(made, "prices", f"{head}north,wool,,1,4.90\n").rows
    # South still has it at 4.60, which is the least then.
    assert row.change is Change.CHANGED
    assert row.notes == (
        "Wool then costs 4.60 a ball at the least; your own price of Wool is 4.50, and "
        "quotes go on with that until you take the new one over.",
    )
    # A table changes offers alone: her own price is hers.
    assert look(made, "prices", f"{head}north,wool,,1,4.90\n").taken().library == made.library


@pytest.mark.parametrize(
    ("own", "rows", "noted"),
    [
        ("4.50", "north,wool,,1,4.50\n", [False]),  # as it is
        ("4.50", "north,wool,,1,4.30\n", [False]),  # cheaper
        ("4.60", "north,wool,,1,4.90\n", [False]),  # south has it for her own price
        ("4.50", "north,wool,,1,4.90\nsouth,wool,,1,4.40\n", [False, False]),  # the table itself
        ("4.50", "north,wool,,1,4.90\nsouth,wool,,1,4.95\n", [True, True]),
        ("4.50", "north,wool,10,1,4.90\n", [True]),  # one shade is enough: one price for all
        ("4.00", "north,wool,,10,4.20\n", [True]),  # from ten balls on
        ("4.20", "north,wool,,10,4.20\n", [False]),
        ("4.50", "north,wool,,1,x\n", [False]),  # a row with a problem changes nothing
        (None, "north,wool,,1,9.00\n", [False]),  # no price of her own: the last purchase holds
    ],
)
def test_only_rows_that_raise_what_she_would_pay_say_so(
    studio: Studio, own: str | None, rows: str, noted: list[bool]
) -> None:
    made = with_own_price(studio, own, LISTED, OTHER)
    found = look(made, "prices", f"supplier,yarn,shade,from,price\n{rows}")
    assert [any("your own price" in n for n in row.notes) for row in found.rows] == noted


def test_a_table_with_an_exception_goes_in_twice_alike(studio: Studio) -> None:
    text = "supplier,yarn,shade,pack,price\nnorth,wool,10,1,4.50\nnorth,wool,,1,4.40\n"
    after = look(studio, "prices", text).taken()
    assert asked(after) - asked(studio) == {
        ("north", "wool", 1, "10", ((1, D("4.50")), (10, D("4.10"))), "yarn", "by post"),
        ("north", "wool", 1, "20", ((1, D("4.40")), (10, D("4.10"))), "yarn", "by post"),
    }
    again = look(after, "prices", text)
    assert again.after is after
    fresh = replace(studio, offers=())
    made = look(fresh, "prices", text).taken()
    assert made.offers == (
        Offer("north", "wool", steps((1, "4.50")), 1, ("10",)),
        Offer("north", "wool", steps((1, "4.40")), 1, ("20",)),
    )
    assert look(made, "prices", text).after is made


def test_prices_that_cannot_be_are_told_in_their_rows(studio: Studio) -> None:
    text = (
        "supplier,yarn,shade,pack,from,price,counts\n"
        "west,wool,10,0,0,,sky\n"
        "north,wool,10,1,20,9.00,\n"
        "north,wool,20,1,,4.505,\n"
        "south,wool,10,1,5,4.00,\nsouth,wool,10,1,5,4.10,\n"
        "north,wool,10,,,4.00,\n"
    )
    found = look(studio, "prices", text)
    assert [row.change for row in found.rows] == [Change.FAULTY] * 6
    assert found.rows[0].problems == (
        "supplier: 'west' is not among the suppliers (North and South); add it first.",
        "pack: 0; it is 1 to 1,000.",
        "from: 0; it is 1 to 1,000,000.",
        "price: it is empty.",
        "counts: 'sky' is neither 'shade' nor 'yarn'.",
    )
    assert "a break must not rise" in found.rows[1].problems[0]
    assert "is not an amount of 0 or more in EUR" in found.rows[2].problems[0]
    assert "waits for another row" in found.rows[3].problems[0]
    assert "line 5 has 4.00 EUR from 5 balls on" in found.rows[4].problems[0]
    assert "packs of 1 and 5" in found.rows[5].problems[0]
    assert found.after is studio


def test_an_offer_that_is_there_twice_is_left_as_it_is(studio: Studio) -> None:
    twice = replace(studio, offers=(*SOLD, replace(SOLD[2], breaks=steps((5, "4.00")))))
    out = table_of(SheetKind.PRICES, twice, CsvForm())
    found = look(twice, "prices", out)
    assert found.after is twice
    assert [row.line for row in found.faulty] == [6, 7]
    assert "two offers of it" in found.faulty[0].problems[0]


BREAKS = st.lists(
    st.tuples(st.integers(1, 90), MONEY), min_size=1, max_size=3, unique_by=lambda t: t[0]
).map(
    lambda found: tuple(
        PriceBreak(start, price)
        for start, price in zip(
            sorted(s for s, _ in found), sorted((p for _, p in found), reverse=True), strict=True
        )
    )
)


@st.composite
def price_books(draw: st.DrawFn) -> tuple[Offer, ...]:
    """Offers as they may stand in the files: in each pack all shades together, or some by name."""
    offers = []
    for supplier in ("north", "south"):
        for pack in draw(st.lists(st.sampled_from([1, 5, 10]), unique=True, max_size=3)):
            cuts: list[tuple[str, ...] | None] = draw(
                st.sampled_from([[None], [("10",)], [("10", "20")], [("10",), ("20",)]])
            )
            for shades in cuts:
                scope, note = draw(st.sampled_from(list(BreakScope))), draw(WORDS)
                offers.append(Offer(supplier, "wool", draw(BREAKS), pack, shades, scope, note))
    return tuple(offers)


@given(price_books(), FORMS)
def test_offers_go_out_and_come_back(offers: tuple[Offer, ...], form: CsvForm) -> None:
    suppliers = (seller("north"), seller("south"))
    full = replace(editing.studio(), suppliers=suppliers, offers=offers)
    text = table_of(SheetKind.PRICES, full, form)
    assert look(full, "prices", text, form=form).taken() is full
    after = look(replace(full, offers=()), "prices", text, form=form).taken()
    assert asked(after) == asked(full)


def test_an_offer_of_no_shade_does_not_go_out_as_one_of_all(studio: Studio) -> None:
    none = Offer("north", "wool", steps((1, "4.00")), 9, ())
    full = replace(studio, offers=(*studio.offers, none))
    text = table_of(SheetKind.PRICES, full, CsvForm())
    assert text == table_of(SheetKind.PRICES, studio, CsvForm())
    assert look(full, "prices", text).taken() is full


# Orders


def test_a_list_of_orders_begins_and_changes_pieces(studio: Studio) -> None:
    studio = replace(studio, customers=(Customer("k-1", "Maren"),))
    text = (
        "piece;for;status;due;width;length;price;like;notes\n"
        "Throw;;;25.3.2027;;60 in;;;\n"
        "River wrap;Maren;;26.3.2027;;;210,00;throw;wide\n"
        "Cot;Ilva;idea;;90;1,2 m;;;\n"
    )
    found = look(studio, "orders", text)
    assert told(found) == [
        ("changed", "due 10 Jan 2027 becomes 25 Mar 2027; size 100 x 120 cm becomes "
         "100 cm x 60 in"),
        ("new", "a new piece, booked, 100 x 60 cm, due 26 Mar 2027, 210.00 EUR, like Throw"),
        ("new", "a new piece, idea, 90 cm x 1.2 m; its shades and stripes are still to be chosen"),
    ] or told(found)[1][1].startswith("a new piece, booked")  # fmt: skip
    after = found.taken()
    throw, wrap, cot = (after.project[k] for k in ("throw", "river-wrap", "cot"))
    assert (throw.due, throw.length) == (date(2027, 3, 25), Length(D(60), LengthUnit.INCH))
    assert throw.stripes == studio.project["throw"].stripes
    assert (wrap.customer, wrap.price, wrap.note) == ("k-1", D(210), "wide")
    assert wrap.stripes == throw.stripes
    assert (cot.stage, cot.stripes, cot.stitch) == (Stage.IDEA, (), "sc")
    again = look(after, "orders", text)
    assert again.after is after


def test_booking_by_a_list_promises_the_lots_of_the_plan(studio: Studio) -> None:
    after = look(studio, "orders", "name,stage\nOther,booked\n").taken()
    other = after.project["other"]
    assert other.stage is Stage.BOOKED
    assert other.reached[-1].on == TODAY
    held = [s.claim for s in other.stripes if s.claim and s.claim.kind is ClaimKind.HOLD]
    plan = reconcile(studio, today=TODAY).plan.projects["other"]
    assert len(held) == sum(r.lot is not None and r.ref.kind is RunKind.STRIPE for r in plan.runs)


def test_a_piece_is_found_by_its_name_before_another_by_its_key(studio: Studio) -> None:
    one = replace(editing.piece("dusk"), name="Sunset", note="mine")
    other = replace(editing.piece("sunset"), name="Dusk", due=date(2027, 3, 4))
    full = replace(studio, projects=(one, other))
    text = table_of(SheetKind.ORDERS, full, CsvForm())
    assert look(full, "orders", text).taken() is full


def test_a_second_row_for_a_piece_with_a_long_name_is_told_too(studio: Studio) -> None:
    found = look(
        studio, "orders", "name,stage,width,length\nOne more,idea,9,9\nOne more,booked,,\n"
    )
    assert "line 2 speaks of this piece too" in found.rows[1].problems[0]


def test_a_piece_may_be_called_as_the_file_of_another_of_the_list_will_be(studio: Studio) -> None:
    found = look(studio, "orders", "name,width,length\nGull & shingle,9,9\ngull-shingle,8,8\n")
    assert [row.change for row in found.rows] == [Change.NEW, Change.NEW]
    out = table_of(SheetKind.ORDERS, found.after, CsvForm())
    assert look(found.after, "orders", out).taken() is found.after
    assert [p.name for p in found.after.projects[-2:]] == ["Gull & shingle", "gull-shingle"]


def test_orders_that_cannot_be_are_told_in_their_rows(studio: Studio) -> None:
    text = (
        "name,stage,due,width,length,like\n"
        ",gone,soon,-3,,\n"
        "A,,,two feet,90,\n"
        "B,,,90,,\n"
        "C,,,,,nothing\n"
        "D,,,9000 m,9,\n"
        "E,idea,,90,90,\nE,booked,,90,90,\nE,idea,,90,90,\n"
    )
    found = look(studio, "orders", text)
    changes = [row.change for row in found.rows]
    assert changes == [Change.FAULTY] * 5 + [Change.NEW, Change.FAULTY, Change.SAME]
    assert [p.split(":")[0] for p in found.rows[0].problems] == ["name", "stage", "due", "width"]
    assert "needs both" in found.rows[2].problems[0]
    assert "no piece 'nothing'" in found.rows[3].problems[0]
    assert "at most 2,000 cm" in found.rows[4].problems[0]
    assert "line 7 speaks of this piece too" in found.rows[6].problems[0]
    assert found.rows[7].words == "says the same as line 7"


@given(
    st.lists(CODES.filter(str.isprintable), min_size=1, max_size=4, unique_by=str.casefold),
    st.data(),
    FORMS,
)
def test_orders_go_out_and_come_back(names: list[str], data: st.DataObject, form: CsvForm) -> None:
    days = st.none() | st.dates(date(2000, 1, 1), date(2090, 1, 1))
    sides = st.builds(Length, st.integers(1, 9999).map(lambda n: D(n) / 10), st.just(LengthUnit.CM))
    pieces = tuple(
        replace(
            editing.piece(f"p{at}"), name=name, customer=data.draw(WORDS), due=data.draw(days),
            booked=data.draw(days), width=data.draw(sides), length=data.draw(sides),
            price=data.draw(st.none() | MONEY), note=data.draw(WORDS),
            stage=data.draw(st.sampled_from(list(Stage))),
        )
        for at, name in enumerate(names)
    )  # fmt: skip
    full = replace(editing.studio(), projects=pieces)
    text = table_of(SheetKind.ORDERS, full, form)
    assert look(full, "orders", text, form=form).taken() is full
    after = look(replace(full, projects=()), "orders", text, form=form).taken()
    assert list(order_rows(after.projects)) == list(order_rows(full.projects))


# Any table


@pytest.mark.parametrize(
    ("kind", "text", "words"),
    [
        ("stash", "", "nothing in this table"),
        ("stash", "\n\n", "nothing in this table"),
        ("stash", "a,b\n1,2\n", "No column is matched with yarn and shade; the table's columns"),
        ("prices", "supplier,yarn\nx,y\n", "No column is matched with price"),
        ("orders", "due,customer\n,\n", "No column is matched with name"),
    ],
)
def test_a_table_that_is_none_of_the_kind_is_refused(
    studio: Studio, kind: str, text: str, words: str
) -> None:
    with pytest.raises(TableError, match=words):
        look(studio, kind, text)


def test_a_table_of_heads_alone_says_that_there_is_no_row(studio: Studio) -> None:
    found = look(studio, "stash", "yarn,shade,lot,balls\n")
    assert found.text == "no rows"
    assert found.taken() is studio
    assert look(
        studio, "stash", "yarn,shade,lot,balls\nwool,10,1,9\nwool,10,2,6\nx,1,1,1\n"
    ).text == ("3 rows: 1 changed, 1 as it is, 1 with a problem")


def test_a_formula_is_read_as_words_and_never_goes_out_as_one(studio: Studio) -> None:
    text = "yarn,shade,lot,balls,note\nwool,10,9,2,=1+1\nwool,=1+1,9,2,\nwool,20,-8,=2,\n"
    found = look(studio, "stash", text)
    assert [row.change for row in found.rows] == [Change.NEW, Change.FAULTY, Change.FAULTY]
    after = found.taken(leave_out_faulty=True)
    assert lot(after, "9").note == "=1+1"
    out = table_of(SheetKind.STASH, after, CsvForm())
    assert "'=1+1" in out
    assert not [f for row in out.split("\r\n") for f in row.split(",") if f[:1] in tuple("=+-@")]
    assert look(after, "stash", out).taken() is after


def test_a_table_does_not_touch_what_stands(studio: Studio) -> None:
    rows = replace(studio.projects[0], stage=Stage.MAKING, rows_done=2)
    gone = replace(studio.projects[0], key="gone", name="Gone", stage=Stage.DELIVERED)
    full = replace(studio, projects=(rows, gone))
    text = f"name,stage,width,length\nGone,,99,99\n{rows.name},delivered,,\n"
    found = look(full, "orders", text)
    assert found.after is full
    assert [row.change for row in found.rows] == [Change.FAULTY] * 2
    words = " ".join(problem for row in found.rows for problem in row.problems)
    assert "Gone was delivered; its papers and books stand on it as it is." in words
    assert f"rows of {rows.name} are noted as done" in words
