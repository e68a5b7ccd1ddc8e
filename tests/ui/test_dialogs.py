"""Forms tell what is wrong at once and lose nothing; slots, lots and pieces are changed by them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.widgets import Input, Static

from studio.core import say
from studio.core.model import (
    ClaimKind,
    Fibre,
    Length,
    LengthUnit,
    LotRef,
    LotRule,
    ShadeRef,
    Stage,
)
from studio.ui.app import StripewrightApp
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose_shade
from studio.ui.dialogs.form import Form
from studio.ui.dialogs.message import Words
from studio.ui.dialogs.piece import date_entry
from studio.ui.dialogs.stitch import kinds
from studio.ui.dialogs.yarn import fibres
from tests.ui import fake, small

MOOR, PRAM = "moor-blanket", "pram-rug"
TODAY = date(2026, 11, 20)


@pytest.mark.parametrize(
    ("check", "entry", "value"),
    [
        (entries.whole("Rows", 1, 2000), " 12 ", 12),
        (entries.number("Grams"), "12,5", Decimal("12.5")),
        (entries.length("Width", LengthUnit.CM), "150", Length(Decimal(150))),
        (entries.length("W", LengthUnit.CM), '60 "', Length(Decimal(60), LengthUnit.INCH)),
        (entries.day("Due", TODAY), "2027-03-12", date(2027, 3, 12)),
        (entries.day("Due", TODAY), "12 Mar", date(2027, 3, 12)),
        (entries.day("Due", TODAY), "12. december", date(2026, 12, 12)),
        (entries.day("Due", TODAY), "in 3 weeks", date(2026, 12, 11)),
        (entries.colours, "7F9168 #2f6f73", ("#7f9168", "#2f6f73")),
        # W3C, CSS Color Module Level 4, section 6.1: olive is #808000, rebeccapurple #663399.
        (entries.colours, "olive RebeccaPurple", ("#808000", "#663399")),
        (fibres, "", ()),
        (fibres, "wool", (Fibre("wool", Decimal(100)),)),
        (
            fibres,
            "wool 62.5, nylon 37.5 %",
            (Fibre("wool", Decimal("62.5")), Fibre("nylon", Decimal("37.5"))),
        ),
        (kinds, "", ()),
        (
            kinds,
            "foundation 1 x 1.15, set-up 2",
            (("foundation", 1, Decimal("1.15")), ("set-up", 2, Decimal(1))),
        ),
        (entries.grams_list, "31 12.5", (Decimal(31), Decimal("12.5"))),
        (entries.stripe_sequence("AB"), "a6, B 2", (("A", 6), ("B", 2))),
        (entries.optional(entries.whole("Rows")), "  ", None),
    ],
)
def test_entries_are_read(check: entries.Check, entry: str, value: object) -> None:
    assert check(entry) == value


@pytest.mark.parametrize(
    ("check", "entry", "words"),
    [
        (entries.whole("Rows", 1, 2000), "0", "from 1 to 2,000"),
        (entries.whole("Rows", 1, 2000), "six", "whole number"),
        (entries.number("Grams"), "-1", "from 0"),
        (entries.number("The hook", "0", "50", above=True), "0", "more than 0"),
        (entries.number("Grams"), "1e9", "is a number"),
        (entries.length("The width", LengthUnit.CM), "0", "more than nothing"),
        (entries.length("The width", LengthUnit.CM), "3 ells", "unit is cm, in, mm or m"),
        (entries.day("Due", TODAY), "31 Feb", "is a day"),
        (entries.colours, "#12345", "six of 0-9 a-f"),
        (entries.colours, "mossy", "this says mossy"),
        (kinds, "foundation", "a name and how many"),
        # What the files allow, so that nothing is kept that would not open again.
        (entries.text("The name"), "x" * 201, "at most 200"),
        (entries.line, "x" * 401, "at most 400"),
        (entries.colours, "olive " * 13, "at most 12 colours"),
        (entries.grams_list, "31 none", "not none"),
        (entries.stripe_sequence("AB"), "A6 C2", "C is no slot"),
        (entries.stripe_sequence("AB"), "A6 what", "a letter and its rows"),
        (entries.stripe_sequence("AB"), "A0", "at least one row"),
        (fibres, "cotton 60, wool 30", "make 100"),
    ],
)
def test_wrong_entries_are_told_in_a_sentence(check: entries.Check, entry: str, words: str) -> None:
    with pytest.raises(ValueError, match=words.replace(".", r"\.")):
        check(entry)


def told(app: StripewrightApp) -> str:
    return str(app.screen.query_one("#told", Static).content)


async def test_a_form_tells_at_once_and_keeps_what_was_typed(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f7")
        await pilot.pause()
        assert isinstance(app.screen, Form)
        width = app.screen.query_one("#field-width", Input)
        width.focus()
        await pilot.press("home", "shift+end", *"nine")
        await pilot.pause()
        assert "is a length" in told(app)
        await pilot.press("enter")
        assert isinstance(app.screen, Form), "a wrong form does not close"
        await pilot.press("escape")
        await pilot.pause()
        assert app.view.studio.project[MOOR].width == Length(Decimal(150))
        await pilot.press("f7")
        await pilot.pause()
        again = app.screen.query_one("#field-width", Input)
        assert again.value == "nine", "escape loses nothing"
        again.value = "120"
        app.screen.query_one("#field-name", Input).value = "Pram rug"
        await pilot.press("enter")
        await pilot.pause()
        # The name is taken: refused in words, and nothing of the form is half done.
        assert "Pram rug already" in app.bench.say_line.words
        assert app.view.studio.project[MOOR].width == Length(Decimal(150))


async def test_a_piece_is_resized_and_delivered_in_one_step(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f7")
        await pilot.pause()
        app.screen.query_one("#field-width", Input).value = "100"
        app.screen.query_one("#field-due", Input).value = "2027-01-02"
        app.screen.query_one("#field-stage").focus()
        await pilot.press("right", "enter")
        await pilot.pause()
        # Rows of it are still open, which is asked about first.
        await pilot.press("down", "enter")
        await pilot.pause()
        piece = app.view.studio.project[MOOR]
        assert (piece.width, piece.due) == (Length(Decimal(100)), date(2027, 1, 2))
        assert piece.stage is Stage.FINISHING
        # 96 cm of body at 12 stitches to 10 cm are 115.2: 115 stitches, 95.8 cm and two borders.
        assert "100 x 134 cm" in app.bench.answers.text
        await pilot.press("ctrl+z")
        assert app.view.studio.project[MOOR].stage is Stage.MAKING


async def test_a_slot_takes_another_shade_and_rule(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f2", "down", "f8")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"rowan", "enter")
        await pilot.pause()
        slot = app.view.studio.project[PRAM].slots[0]
        assert slot.shade_ref == ShadeRef(fake.COTTON.key, "23")
        await pilot.press("f8")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press("down", "down", "enter")
        await pilot.pause()
        assert app.view.studio.project[PRAM].slots[1].lots is LotRule.BY_STRIPE
        app.ask("slots")
        await pilot.pause()
        await pilot.press("end", "enter")
        await pilot.pause()
        await pilot.press(*"slate", "enter")
        await pilot.pause()
        assert app.view.studio.project[PRAM].slots[3].letter == "D"


async def test_a_run_is_pinned_and_let_go(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f2", "down", "f3", "down", "ctrl+l")
        await pilot.pause()
        await pilot.press("end", "enter")
        await pilot.pause()
        claim = app.view.studio.project[PRAM].stripes[1].claim
        assert claim is not None
        assert (claim.kind, claim.on) == (ClaimKind.PIN, "1203")
        run = app.bench.stripes.run
        assert run is not None
        assert run.lot == "1203"
        await pilot.press("ctrl+l")
        await pilot.pause()
        await pilot.press("home", "enter")
        await pilot.pause()
        assert app.view.studio.project[PRAM].stripes[1].claim is None


async def test_lots_are_added_corrected_and_weighed(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f4", "ctrl+n")
        await pilot.pause()
        await pilot.press(*"slate", "enter")
        await pilot.pause()
        app.screen.query_one("#field-code", Input).value = "77"
        app.screen.query_one("#field-balls0", Input).value = "3"
        app.screen.query_one("#field-price0", Input).value = "3,15"
        app.screen.query_one("#field-parts", Input).value = "20 7.5"
        await pilot.press("enter")
        await pilot.pause()
        ref = LotRef(fake.COTTON.key, "19", "77")
        lot = next(x for x in app.view.studio.stash.lots if x.ref == ref)
        assert (lot.balls, lot.parts_g) == (3, (Decimal(20), Decimal("7.5")))
        assert lot.batches[0].price == Decimal("3.15")
        assert app.bench.pane.list.key == ref
        await pilot.press("ctrl+w")
        await pilot.pause()
        await pilot.press("down", "enter")
        await pilot.pause()
        await pilot.press("0", "enter")
        await pilot.pause()
        lot = next(x for x in app.view.studio.stash.lots if x.ref == ref)
        assert lot.parts_g == (Decimal(20),)
        await pilot.press("enter")
        await pilot.pause()
        app.screen.query_one("#field-note", Input).value = "smells of cedar"
        await pilot.press("enter")
        await pilot.pause()
        lot = next(x for x in app.view.studio.stash.lots if x.ref == ref)
        assert lot.note == "smells of cedar"


async def test_a_new_piece_is_guided_to_the_asked_length(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f2", "insert")
        await pilot.pause()
        await pilot.press(*"Lap", "enter")
        await pilot.pause()
        await pilot.press(*"lichen", "enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"oat", "enter")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        app.screen.query_one("#field-stripes", Input).value = "A8 B4"
        await pilot.pause()
        # 150 cm at 8 rows to 10 cm are 120 rows.
        assert "120 rows" in told(app)
        await pilot.press("enter")
        await pilot.pause()
        piece = app.view.studio.project["lap"]
        assert app.view.key == "lap"
        assert [(s.slot, s.rows) for s in piece.stripes] == [("A", 8), ("B", 4)] * 10
        assert piece.stage is Stage.IDEA
        assert app.bench.at == "stripes"
        await pilot.press("f2", "equals_sign")
        await pilot.pause()
        await pilot.press("enter")
        await pilot.pause()
        assert app.view.key == "lap-again"


async def test_why_opens_sums_that_can_be_copied(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("end", "up", "up", "question_mark")
        await pilot.pause(0.2)
        assert isinstance(app.screen, Words)
        run_need = app.bench.stripes.list.row
        assert run_need is not None
        assert run_need.cell(6).text in app.screen.text
        await pilot.press("ctrl+c")
        assert "What it needs" in app.clipboard
        await pilot.press("escape", "f5", "home", "enter")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert "Used" in app.screen.text
        await pilot.press("escape", "end", "question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert app.view.plan is not None
        assert f"{app.view.plan.cost.used} EUR" in app.screen.text
        assert "0.80 EUR" in app.screen.text
        await pilot.press("escape", "f4", "question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert "Left by the whole plan" in app.screen.text
        await pilot.press("escape", "f2", "question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert "150 x 134 cm" in app.screen.text


async def test_notions_settings_and_acceptance(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("f5", "insert")
        await pilot.pause()
        await pilot.press(*"box", "tab", *"1.25", "enter")
        await pilot.pause()
        assert [n.name for n in app.view.studio.project[MOOR].notions] == ["label", "box"]
        # 0.80 for the label and 1.25 for the box are 2.05 beside the yarn.
        assert app.view.plan is not None
        assert app.view.plan.cost.notions == Decimal("2.05")
        app.ask("settings")
        await pilot.pause()
        app.screen.query_one("#field-currency", Input).value = "eux"
        await pilot.press("enter")
        await pilot.pause()
        assert "currency code" in told(app)
        app.screen.query_one("#field-currency", Input).value = "gbp"
        await pilot.press("enter")
        await pilot.pause()
        assert app.view.settings.currency == "GBP"
        assert "GBP" in app.bench.answers.text


async def test_a_finding_is_accepted_with_a_note(tmp_path: Path) -> None:
    whole = small.studio()
    first, second, _ = fake.PRAM.stripes
    odd = replace(fake.PRAM, stripes=(replace(first, rows=25), second))
    whole = replace(whole, projects=(odd,))
    async with small.opened(tmp_path, (200, 50), whole) as (app, pilot):
        await pilot.press("f6")
        app.bench.findings.list.go_to(next(f for f in app.view.findings if f.stripe == 0))
        await pilot.press("ctrl+k")
        await pilot.pause()
        await pilot.press(*"meant", "enter")
        await pilot.pause()
        accepted = app.view.studio.project[PRAM].accepted
        assert [a.note for a in accepted] == ["meant"]
        assert app.view.findings[-1].accepted


@given(st.dates(date(1000, 1, 1), date(9999, 12, 31)), st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_every_date_that_is_filled_in_is_read_back_as_itself(day: date, today: date) -> None:
    entry = date_entry(day)
    assert entry == say.date(day)
    assert entries.day("Due", today)(entry) == day
    assert entries.day("Due", today)(entry.upper()) == day
    if day <= today:
        assert entries.past_day("Bought", today)(entry) == day


async def test_a_shade_that_is_not_there_yet_is_added_where_one_is_chosen(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24)) as (app, pilot):
        known = set(app.view.studio.library.shade)
        got: list[ShadeRef | None] = []

        async def ask() -> None:
            got.append(await choose_shade(app, "Which shade?"))

        async def press(*keys: str) -> None:
            await pilot.press(*keys)
            await pilot.pause()

        app.run_worker(ask(), group="dialog")
        await pilot.pause()
        # No shade is called so: the row for a new one stays below what is found.
        await press(*"zzz", "enter")
        await press("enter")
        await press(*"Fell", "enter")
        await press(*"Moss")
        app.screen.query_one("#field-colours", Input).value = "olive"
        await press("enter")
        await pilot.pause()
        assert got == [ShadeRef("fell", "moss")]
        assert set(app.view.studio.library.shade) == {*known, *got}
        # Left half-way, nothing is chosen and nothing is added.
        app.run_worker(ask(), group="dialog")
        await pilot.pause()
        await press(*"zzz", "enter")
        await press("escape")
        await pilot.pause()
        assert got[1:] == [None]
