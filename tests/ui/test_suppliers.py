"""Suppliers and offers from the keyboard: added, changed, removed, kept in their files."""

from __future__ import annotations

import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from textual.pilot import Pilot
from textual.widgets import Input

from studio.core.buying.offers import (
    BreakScope,
    Offer,
    PriceBreak,
    Shipping,
    Supplier,
    WeightTier,
)
from studio.core.model import Studio
from studio.ui import keys
from studio.ui.app import StripewrightApp
from studio.ui.buying import offer_entries
from studio.ui.buying.receiving import Receiving
from studio.ui.buying.screen import Buying
from studio.ui.buying.suppliers import Suppliers
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.form import Form
from tests.ui import fake, looking, small

D = Decimal
DEMO = Path(__file__).parents[2] / "projects" / "demo"

money = st.integers(0, 99_999).map(lambda cents: D(cents) / 100)
breaks = st.dictionaries(st.integers(1, 500), money, min_size=1, max_size=4).map(
    lambda steps: tuple(PriceBreak(n, steps[n]) for n in sorted(steps))
)
tiers = st.builds(
    lambda limits, costs: tuple(
        WeightTier(limit, cost) for limit, cost in zip([*limits, None], costs, strict=False)
    ),
    st.lists(st.integers(1, 9000).map(D), max_size=3, unique=True).map(sorted),
    st.lists(money, min_size=4, max_size=4),
)


@given(breaks)
def test_a_price_is_typed_as_it_is_shown(prices: tuple[PriceBreak, ...]) -> None:
    assert offer_entries.price_typed(offer_entries.price_text(prices, "EUR")) == prices


@given(tiers)
def test_shipping_is_typed_as_it_is_shown(costs: tuple[WeightTier, ...]) -> None:
    text = offer_entries.shipping_text(Shipping(costs), "EUR")
    assert offer_entries.shipping_typed(text) == costs


@pytest.mark.parametrize(
    "entry",
    ["7.40; from 10: 6.90", "7,40; 10: 6,90", "7.40, from 10 6.90", "7.40; from 10 balls: 6.90"],
)
def test_a_price_may_be_typed_in_several_ways(entry: str) -> None:
    assert offer_entries.price_typed(entry) == (PriceBreak(1, D("7.40")), PriceBreak(10, D("6.90")))


@pytest.mark.parametrize(
    ("entry", "words"),
    [("", "still to be filled in"), ("cheap", "This says cheap"), ("7.40; from 10: x", "A price")],
)
def test_a_price_that_is_none_is_told(entry: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        offer_entries.price_typed(entry)


def test_shades_are_typed_by_name_or_number() -> None:
    yarn = fake.COTTON
    check = offer_entries.shades_check(yarn)
    first, second = yarn.shades[:2]
    assert check("all") is None
    assert check(f"{first.name.upper()}, {second.code}") == (first.code, second.code)
    assert check(offer_entries.shades_text((first.code, second.code), yarn)) == (
        first.code,
        second.code,
    )
    with pytest.raises(ValueError, match="no shade Mauve"):
        check("Mauve")


# On the screen


async def typed(pilot: Pilot[None], *fields: str) -> None:
    """Type one entry after the other, then keep the form."""
    for at, field in enumerate(fields):
        if at:
            await pilot.press("tab")
        entry = pilot.app.focused
        if field and isinstance(entry, Input):
            entry.value = ""
            await pilot.press(*field)
    await pilot.press("enter")
    await pilot.pause(0.1)


def words_on(app: StripewrightApp) -> str:
    return "\n".join(looking.lines(looking.grid(app)))


def told(app: StripewrightApp) -> str:
    return str(app.screen.query_one("#told").render())


async def came_to(pilot: Pilot[None], kind: type) -> None:
    for _ in range(100):
        if isinstance(pilot.app.screen, kind):
            return
        await pilot.pause(0.02)
    raise AssertionError(f"{kind.__name__} did not open; {pilot.app.screen} is there")


async def test_without_a_supplier_the_way_to_one_is_said_and_gone(tmp_path: Path) -> None:
    async with small.opened(tmp_path) as (app, pilot):
        await pilot.press("ctrl+b", "ctrl+w")
        await came_to(pilot, Suppliers)
        assert "No supplier is known yet" in words_on(app)
        await pilot.press("insert")
        await came_to(pilot, Form)
        await typed(pilot, "The mill", "9", "20", "to 2000 g: 4.90; heavier: 8.50", "120")
        await came_to(pilot, Choose)  # at once on to what they offer
        await pilot.press("enter")
        await came_to(pilot, Form)
        await typed(pilot, "7.40; from 10: 6.90")
        await came_to(pilot, Suppliers)
        studio = app.workshop.snapshot.studio
        shipping = Shipping((WeightTier(D(2000), D("4.90")), WeightTier(None, D("8.50"))), D(120))
        assert studio.suppliers == (Supplier("the-mill", "The mill", "EUR", 9, D(20), shipping),)
        prices = (PriceBreak(1, D("7.40")), PriceBreak(10, D("6.90")))
        assert studio.offers == (Offer("the-mill", fake.COTTON.key, prices),)
        assert "7.40; from 10: 6.90" in words_on(app)
        await pilot.press("ctrl+z", "ctrl+z")
        await small.settled(app, pilot)
        assert not app.workshop.snapshot.studio.suppliers
        await pilot.press("escape")
        assert isinstance(app.screen, Buying)


async def test_what_cannot_be_is_said_in_the_form_and_nothing_is_kept(tmp_path: Path) -> None:
    whole = with_mill(small.studio())
    async with small.opened(tmp_path, whole=whole) as (app, pilot):
        app.ask("suppliers")
        await came_to(pilot, Suppliers)
        await pilot.press("tab", "enter")
        await came_to(pilot, Form)
        await typed(pilot, "7.40; from 10: 7.90")
        assert isinstance(app.screen, Form)
        assert "a break must not rise" in told(app)
        assert app.workshop.snapshot.studio is whole
        await pilot.press("escape", "shift+tab", "insert")
        await came_to(pilot, Form)
        await typed(pilot, "The mill", "9", "0", "0")
        assert "called The mill already" in told(app)
        await pilot.press("escape")
        assert app.workshop.snapshot.studio is whole


def with_mill(studio: Studio) -> Studio:
    offer = Offer("mill", fake.COTTON.key, (PriceBreak(1, D("7.40")),), scope=BreakScope.YARN)
    mill = Supplier("mill", "The mill", "EUR", 9)
    return replace(studio, suppliers=(mill,), offers=(offer,))


async def test_delete_takes_the_offer_then_the_supplier_and_undo_brings_them_back(
    tmp_path: Path,
) -> None:
    whole = with_mill(small.studio())
    async with small.opened(tmp_path, whole=whole) as (app, pilot):
        app.ask("suppliers")
        await came_to(pilot, Suppliers)
        await pilot.press("tab", "delete")
        await pilot.pause(0.1)
        assert app.workshop.snapshot.studio.offers == ()
        assert "The mill offers nothing yet" in words_on(app)
        await pilot.press("shift+tab", "delete")
        await pilot.pause(0.1)
        assert app.workshop.snapshot.studio.suppliers == ()
        await pilot.press("delete")  # there is nothing left, and that is said
        await pilot.pause(0.1)
        assert "No supplier at hand." in words_on(app)
        await pilot.press("ctrl+z", "ctrl+z")
        assert app.workshop.snapshot.studio == whole


@asynccontextmanager
async def demo(folder: Path) -> AsyncIterator[tuple[StripewrightApp, Pilot[None]]]:
    app = StripewrightApp(Path(shutil.copytree(DEMO, folder / "demo")))
    async with app.run_test(size=(120, 36)) as pilot:
        await small.settled(app, pilot)
        yield app, pilot


async def test_a_changed_supplier_keeps_every_word_of_its_file(tmp_path: Path) -> None:
    async with demo(tmp_path) as (app, pilot):
        file = tmp_path / "demo" / "suppliers" / "spinner.toml"
        before = file.read_text()
        assert "# says thirty" in before
        app.ask("suppliers")
        await came_to(pilot, Suppliers)
        await pilot.press("down", "enter")
        await came_to(pilot, Form)
        await typed(pilot, "", "35")
        await pilot.press("tab", "down", "enter")
        await came_to(pilot, Form)
        await typed(pilot, "5.10; from 10: 4.60")
        await pilot.press("ctrl+s")
        await small.settled(app, pilot)
        after = file.read_text()
        assert after == before.replace("lead_days = 40", "lead_days = 35").replace(
            "price = 4.90", "price = 5.10"
        )


def test_every_action_of_these_screens_can_be_done() -> None:
    for action in keys.ACTIONS:
        place = {"buying": Buying, "receiving": Receiving, "suppliers": Suppliers}.get(action.group)
        assert place is None or hasattr(place, f"action_{action.verb}"), action.id
