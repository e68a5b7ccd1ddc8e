"""The enquiry: asked, answered, compared, quoted and booked from the keyboard."""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from studio.core import edits, say
from studio.core.enquiry import Answer
from studio.core.enquiry import ask as core_ask
from studio.core.model import ClaimKind, Stage
from studio.ui import bars
from studio.ui.app import StripewrightApp
from studio.ui.dialogs.message import Words
from studio.ui.drawn_list import DrawnList
from studio.ui.enquiry import trying
from studio.ui.enquiry.screen import Enquiry
from studio.ui.orderbook.screen import OrderBookScreen
from tests.core import trading
from tests.ui import fake, small

PRAM = fake.PRAM.key


@pytest.fixture(autouse=True)
def _a_fixed_day(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 2, 2))


async def tried(app: StripewrightApp, pilot: Pilot[None]) -> Enquiry:
    """Open the enquiry on the quoted piece and wait for its answer."""
    app.stand_on_piece(PRAM)
    await pilot.press("ctrl+t")
    await answered(app, pilot)
    assert isinstance(app.screen, Enquiry)
    return app.screen


async def answered(app: StripewrightApp, pilot: Pilot[None]) -> None:
    """Wait until every variant is answered as it is now."""
    for _ in range(400):
        await pilot.pause(0.01)
        screen = app.screen
        if isinstance(screen, Enquiry):
            now = [t is not None and t.variant == v for t, v in zip(screen.told, screen.variants)]  # noqa: B905
            if all(now) and not (screen.answer and screen.answer.pending):
                await pilot.pause()
                return
    raise AssertionError("no answer came")


def text(screen: Enquiry, sheet: str) -> str:
    found = screen.sheet(sheet).list
    return "\n".join(found.row_text(row) for row in found.rows)


def line(screen: Enquiry, code: str) -> str:
    found = screen.sheet("asked").list
    row = next(r for r in found.rows if isinstance(r.key, tuple) and r.key[1] == code)
    return found.row_text(row)


async def stand_on(screen: Enquiry, pilot: Pilot[None], what: str) -> None:
    screen.go_to_sheet("asked")
    assert screen.list.go_to(("ask", what)) or screen.list.go_to(("fact", what)), what
    await pilot.pause()


async def test_everything_is_answered_and_follows_each_change(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        screen = await tried(app, pilot)
        before = app.workshop.snapshot
        first = screen.answer
        assert first is not None
        assert first.price is not None
        # The screen says what core answers.
        assert f"{first.price.sheet.shown:.2f}" in line(screen, "price")
        for row in (*first.price.sheet.charged, *first.price.sheet.leaves):
            assert f"{row.amount:.2f}" in text(screen, "price")
        left = sum(n.amount for n in first.price.sheet.leaves)
        assert left == first.price.sheet.margin
        assert f"margin  20 % of the price  {left:.2f}" in text(screen, "price")
        assert "Three times materials" in text(screen, "price")
        assert "2 Feb 2026" in text(screen, "weeks")
        # Another size: the stripes are fitted, the price is another, nothing is changed.
        await stand_on(screen, pilot, "size")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"75", "tab", *"90", "enter")
        await answered(app, pilot)
        assert sum(s.rows for s in screen.variant.trial.stripes) == 72
        assert "75 x 90 cm" in app.screen.query_one("#answers").text  # type: ignore[attr-defined]
        second = screen.answer
        assert second is not None
        assert second.price is not None
        assert second.price.sheet.shown < first.price.sheet.shown
        # The price the other way: what an hour is paid.
        await stand_on(screen, pilot, "wanted")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press("right", "right", "tab", *"40", "enter")
        await answered(app, pilot)
        priced = screen.answer
        assert priced is not None
        assert priced.price is not None
        assert priced.price.sheet.shown == 40
        assert priced.price.by_hand
        assert line(screen, "pay").endswith(f"{priced.price.sheet.pay_per_hour}")
        assert "below what the piece" in text(screen, "price")
        assert app.workshop.snapshot is before


async def test_a_copied_design_is_called_what_she_calls_it(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        home = app.workshop.snapshot.studio
        app.stand_on_piece(next(p.key for p in home.projects if p.stage.holds))
        await pilot.press("ctrl+t")
        await answered(app, pilot)
        screen = app.screen
        assert isinstance(screen, Enquiry)
        assert screen.list.key == ("ask", "customer")
        await pilot.press("equals_sign", "up", "enter")
        await pilot.pause()
        # A name that another piece has is refused in the form, before anything is changed.
        await pilot.press("ctrl+u", *fake.PRAM.name, "enter")
        await pilot.pause()
        assert app.screen is not screen
        await pilot.press("ctrl+u", *"Tove's wrap", "enter")
        await answered(app, pilot)
        assert line(screen, "name") == "name  Tove's wrap  Tove's wrap"
        assert {v.trial.key for v in screen.variants} == {"tove-s-wrap"}
        assert app.workshop.snapshot.studio is home
        await pilot.press("ctrl+u")
        await pilot.pause()
        quoted = app.workshop.snapshot.studio.project["tove-s-wrap"]
        assert quoted.name == "Tove's wrap"
        assert quoted.quote is not None


async def test_variants_stand_side_by_side_and_figures_are_explained(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        screen = await tried(app, pilot)
        await pilot.press("equals_sign")
        await stand_on(screen, pilot, "slot A")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"rowan", "enter")
        await answered(app, pilot)
        assert screen.hand == 1
        assert line(screen, "slot A") == "shade A  Oatmeal  Rowan berry"
        one, two = (t.answer for t in screen.told if t)
        assert one is not None
        assert two is not None
        assert line(screen, "buy") == "to buy  1 ball, 1 shade  2 balls, 2 shades"
        assert (one.buy_balls, two.buy_balls) == (1, 2)
        assert "short 2 balls of 2 shades" in app.screen.query_one("#answers").text  # type: ignore[attr-defined]
        await pilot.press("left")
        await pilot.pause()
        assert "short 1 ball Lichen" in app.screen.query_one("#answers").text  # type: ignore[attr-defined]
        # Why: the sum behind the price ends in the price.
        await stand_on(screen, pilot, "price")
        await pilot.press("question_mark")
        await pilot.pause()
        assert isinstance(app.screen, Words)
        assert one.price is not None
        assert app.screen.text.rstrip().endswith(f"{one.price.sheet.shown:.2f} EUR")
        assert "One ending lower" in app.screen.text
        await pilot.press("escape")
        # The bench's own changes do not reach through.
        await pilot.press("f8")
        await pilot.pause()
        assert app.desk is screen
        assert "Nothing is changed while it is tried" in screen.say_line.words
        # Left and opened again it is as it was; a variant can be dropped.
        await pilot.press("escape", "ctrl+t")
        await answered(app, pilot)
        again: Any = app.desk
        assert again is not screen
        assert again.variants == screen.variants
        await pilot.press("delete", "delete")
        assert len(again.variants) == 1
        assert "One variant is left" in again.say_line.words


@pytest.mark.parametrize("way", ["escape", "f4"])
async def test_an_enquiry_from_a_design_is_not_lost_on_leaving(way: str, tmp_path: Path) -> None:
    """The customer is still on the line while she looks at the stash."""
    sold = trading.piece("sold", ("A", 40, ""), stage=Stage.DELIVERED)
    async with small.opened(tmp_path, (80, 24), trading.studio(sold)) as (app, pilot):
        app.stand_on_piece("sold")
        await pilot.press("ctrl+t")
        await answered(app, pilot)
        screen: Any = app.desk
        fresh = screen.variant
        screen.change(replace(fresh, trial=replace(fresh.trial, customer="Sunniva")))
        await answered(app, pilot)
        await pilot.press(way)
        await pilot.pause()
        assert app.desk is app.bench
        # Asked for again, it goes on, or another begins.
        await pilot.press("ctrl+t")
        await pilot.pause()
        await pilot.pause()
        shown = app.screen.query_one("#entries", DrawnList)
        assert "go on with it  for Sunniva, 100 x 120 cm" in [shown.row_text(r) for r in shown.rows]
        await pilot.press("enter")
        await answered(app, pilot)
        screen = app.desk
        assert screen.variant.trial.customer == "Sunniva"
        await pilot.press("escape", "ctrl+t")
        await pilot.pause()
        await pilot.pause()
        await pilot.press("down", "enter")
        await answered(app, pilot)
        screen = app.desk
        assert screen.variants == [fresh]
        # Left as it began there is nothing to go on with.
        await pilot.press("escape", "ctrl+t")
        await answered(app, pilot)
        screen = app.desk
        assert screen.variants == [fresh]
        # Once it is quoted it is a piece of its own, and the design begins another one.
        await pilot.press("ctrl+u")
        await pilot.pause()
        assert screen.variant.trial.key in app.view.studio.project
        await pilot.press("escape")
        app.stand_on_piece("sold")
        await pilot.press("ctrl+t")
        await answered(app, pilot)
        screen = app.desk
        assert screen.variant.trial.key not in app.view.studio.project


async def test_a_piece_changed_meanwhile_is_tried_as_it_is_now(tmp_path: Path) -> None:
    """Variants hold the piece as it was: booking one would take back what was changed since."""
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        screen = await tried(app, pilot)
        await pilot.press("equals_sign", "escape")
        await pilot.pause()
        assert len(screen.variants) == 2
        rows = app.view.studio.project[PRAM].stripes[0].rows + 2
        assert app.edit("rows", lambda s: edits.set_rows(s, PRAM, 0, rows), PRAM)
        again = await tried(app, pilot)
        assert [v.trial for v in again.variants] == [app.view.studio.project[PRAM]]
        assert "was changed since it was tried" in again.say_line.words
        # Undone over the enquiry it is changed again.
        await pilot.press("ctrl+z")
        await answered(app, pilot)
        assert again.variant.trial.stripes[0].rows == rows - 2
        # A quote of a variant, and taking it back, leave the variants as they are.
        await stand_on(again, pilot, "due")
        later = replace(again.variant.trial, due=date(2026, 6, 1))
        again.change(replace(again.variant, trial=later))
        await answered(app, pilot)
        for key in ("ctrl+u", "ctrl+z"):
            await pilot.press(key)
            await answered(app, pilot)
            assert again.variant.trial.due == date(2026, 6, 1)


async def test_quoting_freezes_and_booking_holds_what_was_shown(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24)) as (app, pilot):
        screen = await tried(app, pilot)
        shown = screen.answer
        assert shown is not None
        assert shown.price is not None
        # One sheet is seen at a time, and Tab goes through all of them.
        seen = []
        for _ in range(5):
            seen.append([name for name, _ in screen.names if screen.sheet(name).size.area])
            assert screen.focused is screen.list
            await pilot.press("tab")
            await pilot.pause()
        assert seen == [["asked"], ["price"], ["yarn"], ["weeks"], ["asked"]]
        await pilot.press("ctrl+u")
        await answered(app, pilot)
        quote = app.view.studio.project[PRAM].quote
        assert quote is not None
        assert quote.total == shown.price.sheet.total
        assert screen.say_line.words == (
            f"Quoted: {quote.total} EUR until 16 Feb 2026, ready by 18 Feb 2026."
        )
        await pilot.press("ctrl+z")
        await answered(app, pilot)
        assert app.view.studio.project[PRAM].quote is None
        assert screen.variant.trial.quote is None
        await pilot.press("ctrl+k")
        await small.settled(app, pilot)
        for _ in range(100):
            if isinstance(app.screen, OrderBookScreen):
                break
            await pilot.pause(0.01)
        booked = app.view.studio.project[PRAM]
        assert booked.stage is Stage.BOOKED
        assert booked.due == shown.promise.ready
        held = [s.claim.on if s.claim and s.claim.kind is ClaimKind.HOLD else None
                for s in booked.stripes]  # fmt: skip
        assert held == [r.lot for r in shown.plan.runs]
        assert any(held)
        assert isinstance(app.screen, OrderBookScreen)
        assert app.screen.project is booked
        await pilot.pause()
        assert f"Booked for {say.date(shown.promise.ready)}" in app.screen.say_line.words


async def test_a_slow_answer_never_holds_the_keyboard_and_the_newest_edit_wins(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate, seen = threading.Event(), []

    def slow(ground: Any, trial: Any, *more: Any) -> Answer:
        seen.append(trial.due)
        gate.wait(60)
        return core_ask(ground, trial, *more)

    monkeypatch.setattr(trying, "ask", slow)
    async with small.opened(tmp_path, (200, 50)) as (app, pilot):
        app.stand_on_piece(PRAM)
        await pilot.press("ctrl+t")
        await pilot.pause(0.05)
        screen = app.screen
        assert isinstance(screen, Enquiry)
        assert "working ..." in text(screen, "asked")
        started = time.perf_counter()
        for day in ("2026-06-01", "2026-06-02", "2026-06-03"):
            await stand_on(screen, pilot, "due")
            await pilot.press("enter")
            await pilot.pause()
            await pilot.press(*day, "enter")
        assert time.perf_counter() - started < 30, "the keyboard waited for the answer"
        assert line(screen, "due") == "wanted for  3 Jun 2026"
        gate.set()
        await answered(app, pilot)
        assert screen.answer is not None
        assert screen.answer.project.due == date(2026, 6, 3)
        # What was asked in between was never worked out.
        assert date(2026, 6, 2) not in seen


async def test_every_line_of_every_sheet_has_its_sum(tmp_path: Path) -> None:
    """Whatever is at hand, '?' opens what it is made from."""
    async with small.opened(tmp_path, (200, 50)) as (app, pilot):
        screen = await tried(app, pilot)
        seen = 0
        for name, _ in screen.names:
            screen.go_to_sheet(name)
            for row in screen.list.rows:
                if not row.selectable:
                    continue
                screen.list.go_to(row.key)
                await screen.why()
                shown = app.screen
                assert isinstance(shown, Words), screen.list.row_text(row)
                assert shown.text.strip(), screen.list.row_text(row)
                await pilot.press("escape")
                seen += 1
        assert seen > 50
        # The price leads on to her own figures.
        screen.go_to_sheet("price")
        screen.list.go_to(("sum", "margin"))
        await pilot.press("question_mark")
        await pilot.pause()
        assert "F12 shows your own rates, fees and parcels behind it." in getattr(
            app.screen, "text", ""
        )


async def test_who_asks_is_chosen_or_added_on_the_way(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (80, 24)) as (app, pilot):
        screen = await tried(app, pilot)
        await stand_on(screen, pilot, "customer")
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"somebody", "enter")
        await pilot.pause()
        await pilot.press(*"Ilva", "tab", *"ilva@example.org", "enter")
        await answered(app, pilot)
        (added,) = app.workshop.snapshot.studio.customers
        assert added.contact == ("ilva@example.org",)
        assert screen.variant.trial.customer == added.key
        assert added.name in line(screen, "customer")
        assert app.workshop.snapshot.studio.project[PRAM].quote is None
        # A name that is not in the list leads to the form with the name in it.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"Gudrun", "enter")
        await pilot.pause()
        await pilot.press("enter")
        await answered(app, pilot)
        assert [c.name for c in app.workshop.snapshot.studio.customers] == ["Ilva", "Gudrun"]
        assert "Gudrun" in line(screen, "customer")
        # A name of the list is taken, though somebody new stands below it.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"ilva", "enter")
        await answered(app, pilot)
        assert screen.variant.trial.customer == added.key
        # Nobody, then the customer of the file again.
        await pilot.press("enter")
        await pilot.pause()
        await pilot.press(*"nobody", "enter")
        await answered(app, pilot)
        assert screen.variant.trial.customer == ""
        assert "nobody yet" in line(screen, "customer")


async def test_a_quote_that_drifted_says_so_on_the_enquiry(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        screen = await tried(app, pilot)
        await pilot.press("ctrl+u")
        await answered(app, pilot)
        quote = app.workshop.snapshot.studio.project[PRAM].quote
        assert quote is not None
        assert "since the quote was sent" not in text(screen, "price")
        app.edit("dearer hours", lambda s: edits.set_settings(s, rate_per_hour=Decimal(30)))
        await answered(app, pilot)
        assert "since the quote was sent" in text(screen, "price")
        assert "Rate for an hour" in text(screen, "price")
        assert app.workshop.snapshot.studio.project[PRAM].quote == quote


def test_bars_show_every_share() -> None:
    assert bars.bar(0.5, 4) == "██"
    assert bars.bar(1.0, 4) == "████"
    assert bars.bar(0.0, 4) == ""
    assert bars.bar(0.001, 4) == "▏"
    assert bars.bar(0.3, 10) == "███"
    assert bars.stacked(0.5, 0.75, 4) == "██▒·"
    assert bars.stacked(1.0, 1.0, 4) == "████"
    assert bars.stacked(0.5, 0.51, 4) == "██▒·"
    assert bars.stacked(0.99, 1.0, 4) == "███▒"
    assert bars.stacked(0.0, 0.0, 4) == "····"
