"""An order placed elsewhere is noted, changed and called off by the keys, on a demo copy."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from functools import partial
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input, Static

from studio.core import edits
from studio.core.answers import Cover
from studio.core.model import Claim, ClaimKind, Purchase
from studio.ui.app import StripewrightApp
from studio.ui.buying.receiving import Receiving
from studio.ui.dialogs import entries
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.form import Form
from tests.ui import small
from tests.ui.test_buying import MILL, came_to, opened, studio_of, told, typed_over

DAMSON = "damson-hedge-throw"
RUNNER = "barley-drill-runner"
KEY = "dyehouse-2026-11-24"
D = Decimal


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 11, 25))


async def receiving(app: StripewrightApp, pilot: Pilot[None]) -> Receiving:
    await pilot.press("ctrl+a")
    await came_to(pilot, Receiving)
    assert isinstance(app.screen, Receiving)
    return app.screen


async def note(pilot: Pilot[None], *, supplier: int, shade: str, **fields: str) -> None:
    """Note an order with the supplier at that place of the list."""
    await pilot.press("ctrl+u")
    await came_to(pilot, Choose)
    await pilot.press(*["down"] * supplier, "enter")
    await came_to_list(pilot, "What was ordered?")
    await pilot.press(*shade, "enter")
    await came_to(pilot, Form)
    for field, text in fields.items():
        await typed_over(pilot, field, text)


async def came_to_list(pilot: Pilot[None], title: str) -> Choose:
    for _ in range(100):
        screen = pilot.app.screen
        if isinstance(screen, Choose) and screen.title_words == title and screen.is_mounted:
            await pilot.pause()
            return screen
        await pilot.pause(0.02)
    raise AssertionError(f"no list {title!r}; {pilot.app.screen} is there")


async def keep(app: StripewrightApp, pilot: Pilot[None]) -> None:
    await pilot.press("enter")
    await came_to(pilot, Receiving)
    await small.settled(app, pilot)


def asked(app: StripewrightApp) -> str:
    """What a question tells above its rows."""
    return str(app.screen.query_one(".sheet-note", Static).render())


def new_one(app: StripewrightApp, before: set[str]) -> Purchase:
    (key,) = set(studio_of(app).stash.purchase) - before
    return studio_of(app).stash.purchase[key]


async def test_a_telephone_order_is_noted_and_the_short_piece_waits_for_it(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        before = studio_of(app)
        assert app.workshop.snapshot.plan.promised_short
        screen = await receiving(app, pilot)
        await note(pilot, supplier=0, shade="Damson", ordered="24 Nov", price="7.20", note="Per")
        # What booked pieces lack and when it should be there stood in the form already.
        assert app.screen.query_one("#field-balls", Input).value == "3"
        assert app.screen.query_one("#field-arrives", Input).value == "4 Dec 2026"
        assert told(app) == "3 balls at 7.20: 21.60 EUR; Damson hedge throw waits for it."
        await keep(app, pilot)
        made = new_one(app, set(before.stash.purchase))
        assert made.key == KEY
        assert (made.supplier, made.ordered, made.arrives, made.note) == (
            "dyehouse", date(2026, 11, 24), date(2026, 12, 4), "Per",
        )  # fmt: skip
        assert [(n.yarn, n.shade, n.balls, n.price) for n in made.lines] == [
            ("fenlight", "15", 3, D("7.20"))
        ]
        plan = app.workshop.snapshot.plan
        assert not plan.promised_short
        waits = [r.ref.index for r in plan.projects[DAMSON].runs if r.lot == KEY]
        assert waits == [12, 18]
        assert {r.cover for r in plan.projects[DAMSON].runs if r.lot == KEY} == {Cover.ORDER}
        assert "Damson hedge throw waits for it" in screen.say_line.words
        assert screen.purchase is made  # the order that was noted is at hand
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        assert studio_of(app) == before


async def test_somebody_else_is_typed_and_a_line_follows(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        before = set(studio_of(app).stash.purchase)
        screen = await receiving(app, pilot)
        await pilot.press("ctrl+u")
        await came_to(pilot, Choose)
        await pilot.press("end", "enter")
        await came_to_list(pilot, "What was ordered?")
        await pilot.press(*"Inkwell", "enter")
        await came_to(pilot, Form)
        await typed_over(pilot, "supplier", "a stall at the fair")
        await typed_over(pilot, "arrives", "12 Dec")
        await typed_over(pilot, "balls", "2")
        assert told(app) == "2 balls, price not known; no piece waits for it."
        await keep(app, pilot)
        made = new_one(app, before)
        assert (made.supplier, made.arrives) == ("a stall at the fair", date(2026, 12, 12))
        assert screen.purchase is made
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("down", "enter")
        await came_to_list(pilot, "What else was ordered?")
        await pilot.press(*"Damson", "enter")
        await came_to(pilot, Form)
        await keep(app, pilot)
        lines = studio_of(app).stash.purchase[made.key].lines
        assert [(n.shade, n.balls) for n in lines] == [("22", 2), ("15", 3)]
        assert not app.workshop.snapshot.plan.promised_short


async def test_fewer_balls_are_told_to_break_a_promise_before_it_is_done(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        screen = await receiving(app, pilot)
        await note(pilot, supplier=0, shade="Damson", ordered="24 Nov")
        await keep(app, pilot)
        before = studio_of(app)

        async def fewer() -> None:
            await pilot.press("ctrl+l")
            await came_to(pilot, Choose)
            await pilot.press("enter")
            await came_to(pilot, Form)
            await typed_over(pilot, "balls", "1")
            assert "no piece waits for it" in told(app)
            await pilot.press("enter")
            await came_to_list(pilot, "This breaks a promise")

        await fewer()
        assert asked(app) == (
            "Damson hedge throw: stripes 13 and 19 would be short of Fenlight Damson again."
        )
        await pilot.press("escape")
        await came_to(pilot, Receiving)
        await pilot.pause()
        assert studio_of(app) is before
        assert screen.say_line.words == "Left as it was."
        await fewer()
        await pilot.press("down")
        await keep(app, pilot)
        after = studio_of(app)
        assert after.stash.purchase[KEY].lines[0].balls == 1
        assert app.workshop.snapshot.plan.promised_short
        assert after.project[DAMSON].stripes[12].claim is None
        await pilot.press("ctrl+z")
        await small.settled(app, pilot)
        assert studio_of(app) == before


async def test_a_price_is_put_right_without_a_question_and_comments_stay(tmp_path: Path) -> None:
    file = tmp_path / "demo" / "purchases" / f"{MILL}.toml"
    async with opened(tmp_path) as (app, pilot):
        before = file.read_text()
        assert "# edging of the runner" in before
        await receiving(app, pilot)
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("enter")
        await came_to(pilot, Form)
        await typed_over(pilot, "price", "4.80")
        assert "Barley drill runner waits for it" in told(app)
        await keep(app, pilot)
        await pilot.press("ctrl+s")
        await small.settled(app, pilot)
        line = 'shade = "74", balls = 2, price = 4.'
        assert file.read_text() == before.replace(f"{line}60", f"{line}80")


async def test_a_later_day_that_is_too_late_is_asked_about(tmp_path: Path) -> None:
    file = tmp_path / "demo" / "purchases" / f"{MILL}.toml"
    async with opened(tmp_path) as (app, pilot):
        before = file.read_text()
        await receiving(app, pilot)
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("down", "down", "enter")
        await came_to(pilot, Form)
        await typed_over(pilot, "arrives", "2027-06-30")
        await pilot.press("enter")
        await came_to_list(pilot, "This breaks a promise")
        assert asked(app).startswith(
            "Barley drill runner: the border would wait for Withyspun Sloe"
        )
        await pilot.press("down")
        await keep(app, pilot)
        await pilot.press("ctrl+s")
        await small.settled(app, pilot)
        assert file.read_text() == before.replace("arrives = 2026-12-01", "arrives = 2027-06-30")


async def test_an_order_is_called_off_once_its_pieces_were_named(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    file = folder / "purchases" / f"{MILL}.toml"
    async with opened(tmp_path) as (app, pilot):
        before, text = studio_of(app), file.read_bytes()
        border = before.project[RUNNER].border
        assert border is not None
        assert border.claim == Claim(ClaimKind.ORDER, MILL)
        screen = await receiving(app, pilot)
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("end", "enter")
        await came_to_list(pilot, "Call the order off")
        assert asked(app) == (
            "6 balls from the dyehouse would not come. "
            "Barley drill runner: the border would be short of Withyspun Sloe again."
        )
        await pilot.press("enter")  # the first row leaves it
        await came_to(pilot, Receiving)
        assert studio_of(app) is before
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("end", "enter")
        await came_to_list(pilot, "Call the order off")
        await pilot.press("down")
        await keep(app, pilot)
        assert MILL not in studio_of(app).stash.purchase
        border = studio_of(app).project[RUNNER].border
        assert border is not None
        assert border.claim is None
        assert "called off" in screen.say_line.words
        await pilot.press("ctrl+s")
        await small.settled(app, pilot)
        assert not file.exists()
        (kept,) = (folder / ".history" / "purchases" / f"{MILL}.toml").glob("*")
        assert kept.read_bytes() == text
        await pilot.press("ctrl+z", "ctrl+s")
        await small.settled(app, pilot)
        assert studio_of(app) == before
        assert file.exists()


async def test_a_line_that_nobody_waits_for_leaves_at_once(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        before = studio_of(app)
        screen = await receiving(app, pilot)
        await pilot.press("down", "delete")
        for _ in range(100):
            if studio_of(app) is not before:
                break
            await pilot.pause(0.02)
        lines = studio_of(app).stash.purchase[MILL].lines
        assert [n.shade for n in lines] == ["74"]
        assert "taken out of the order" in screen.say_line.words
        await pilot.press("up", "delete")  # the last line goes with its order
        await came_to_list(pilot, "Call the order off")


async def test_typed_bags_are_not_lost_with_their_order(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        screen = await receiving(app, pilot)
        await pilot.press("enter")
        await came_to(pilot, Form)
        await pilot.press(*"LX")
        await keep(app, pilot)
        await pilot.press("ctrl+l")
        await came_to(pilot, Choose)
        await pilot.press("end", "enter")
        await came_to(pilot, Receiving)
        await pilot.pause(0.1)
        assert "1 bag of this order came already" in screen.say_line.words
        assert MILL in studio_of(app).stash.purchase


def test_the_day_of_an_order_lies_behind() -> None:
    check = entries.past_day("Ordered on", date(2026, 11, 25))
    assert check("24 Nov") == date(2026, 11, 24)
    assert check("25 Nov") == date(2026, 11, 25)
    assert check("3 Dec") == date(2025, 12, 3)
    assert check("2026-11-02") == date(2026, 11, 2)
    for ahead in ("26 Nov 2026", "in 3 weeks"):
        with pytest.raises(ValueError, match="has still to come"):
            check(ahead)
    with pytest.raises(ValueError, match="is a day"):
        check("29 Feb 2026")


async def test_an_order_is_noted_from_the_bench_where_nothing_is_on_order(tmp_path: Path) -> None:
    async with opened(tmp_path) as (app, pilot):
        for key in list(studio_of(app).stash.purchase):
            app.edit("nothing on order", partial(edits.call_off, key=key))
        await small.settled(app, pilot)
        screen = await receiving(app, pilot)
        await pilot.press("ctrl+l")
        await pilot.pause()
        assert screen.say_line.words == "Nothing is on order; Ctrl+U notes an order."
        await pilot.press("escape", "ctrl+p")
        await came_to(pilot, Choose)
        await pilot.press(*"telephone", "enter")
        await came_to_list(pilot, "With whom was it ordered?")
        await pilot.press("enter")
        await came_to_list(pilot, "What was ordered?")
        await pilot.press("enter")
        await came_to(pilot, Form)
        await keep(app, pilot)
        (made,) = studio_of(app).stash.purchases
        assert [(n.yarn, n.shade, n.balls) for n in made.lines] == [("fenlight", "15", 3)]
        assert isinstance(app.screen, Receiving)
        assert app.screen.purchase is made
