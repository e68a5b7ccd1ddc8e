"""The README's tour as a scripted session on a fresh copy of the demo, key by key.

What is expected is worked out in `tour_sums` from the demo's files alone. Each figure that is
looked for on the screen is looked for in the README's words too, by `told`.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from textual.pilot import Pilot

from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from studio.ui.dialogs.message import Words
from studio.ui.panes.pane import Pane
from tests.ui import looking, small
from tests.ui.tour_sums import (
    DEMO,
    HEDGE,
    THROW,
    WRAP,
    cents,
    hedge_g,
    landed,
    lots,
    throw,
    wrap,
)

pytestmark = pytest.mark.usefixtures("own_solver")

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
_TOUR = re.search(r"^## A five-minute tour\n(.*?)^## ", README, re.DOTALL | re.MULTILINE)
assert _TOUR is not None
TOUR = " ".join(_TOUR[1].split())
TODAY = date(2026, 11, 25)
NEW = f"{WRAP}-again"


@pytest.fixture(autouse=True)
def _the_day_of_the_tour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.clock.today", lambda: TODAY)
    monkeypatch.setattr("studio.ui.session.SAVE_AFTER_S", 0.05)


def told(words: object) -> str:
    """These words, which stand in the README's tour."""
    assert str(words) in TOUR, f"the README's tour does not say {words}"
    return str(words)


class Walk:
    """A maker at the keyboard: she presses keys, and reads what is on the screen."""

    def __init__(self, app: StripewrightApp, pilot: Pilot[None]) -> None:
        self.app = app
        self.pilot = pilot

    async def press(self, *keys: str) -> None:
        """Press keys one after the other, waiting for what follows each."""
        for key in keys:
            await self.pilot.press(key)
            await self.rest()

    async def type(self, words: str) -> None:
        """Type letters and figures."""
        await self.pilot.press(*("space" if letter == " " else letter for letter in words))
        await self.pilot.pause()

    async def rest(self) -> None:
        """Wait until no worker but a waiting dialog is at work."""
        await small.settled(self.app, self.pilot)
        for _ in range(200):
            busy = [w for w in self.app.workers if w.group in {"enquiry", "buying", "save"}]
            if not busy and not self.app.workshop.snapshot.plan.pending:
                return
            await self.pilot.pause(0.05)

    @property
    def screen(self) -> str:
        """All words on the screen, lines one after the other, frames and gaps as one blank."""
        rows = looking.lines(looking.grid(self.app))
        return " ".join(re.sub(r"[─-╿▀-▟]", " ", "\n".join(rows)).split())

    async def sees(self, *words: object) -> None:
        """The words come to stand on the screen."""
        for each in words:
            wanted = " ".join(str(each).split())
            for _ in range(600):
                if wanted in self.screen:
                    break
                await self.pilot.pause(0.05)
            assert wanted in self.screen, f"{wanted!r} is not in: {self.screen}"

    @property
    def answers(self) -> str:
        """The line on top of where she is."""
        return self.app.desk.answers.text


@asynccontextmanager
async def begun(folder: Path, size: tuple[int, int] = (120, 36)) -> AsyncIterator[Walk]:
    app = StripewrightApp(Path(shutil.copytree(DEMO, folder / "demo")))
    async with app.run_test(size=size) as pilot:
        walk = Walk(app, pilot)
        await walk.rest()
        yield walk


# A stripe, a shortfall, a mend


def test_the_tour_says_what_it_is_meant_to_show() -> None:
    """The demo's own figures: as it lies, the lot just suffices; four rows more and it does not."""
    one, two, three = throw(10), throw(12), throw(14)
    assert (one.balls, two.balls, three.balls) == (0, 0, 4)
    assert [told(s.size) for s in (one, two)] == ["175 x 133 cm", "175 x 135 cm"]
    assert (told(one.cash), told(three.cash)) == ("3.20", "32.80")
    told(f"Lot 2271 still has {lots('34')['2271']['grams'] - two.nightfall_g:.1f} g to spare")
    told(f"{lots('34')['2160']['grams']} g of lot 2160")
    told(f"{one.used} EUR become {throw(10, '40', '2005').used}")
    told("five runs")  # stripes 1, 3, 29 and 31, and the border


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (200, 50)])
async def test_a_changed_stripe_a_shortfall_and_its_mend(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    before, more, after = throw(10), throw(12), throw(14)
    async with begun(tmp_path, size) as walk:
        app = walk.app
        # It opens on the throw that is being made, in the stripe editor.
        assert (app.view.key, app.bench.at) == (THROW, "stripes")
        for words in (before.size, "all in the house", f"used {before.used}", "due 18 Dec 2026"):
            assert words in walk.answers
        assert f"cash {before.cash} EUR" in walk.answers
        await walk.press("plus")
        assert more.size in walk.answers
        assert f"used {more.used}" in walk.answers
        assert "all in the house" in walk.answers

        # The lot that is promised to them no longer does, so she is asked first.
        await walk.press("plus")
        assert isinstance(app.screen, Choose)
        assert app.screen.title_words == "This breaks a promise"
        await walk.press("down", "enter")
        row = app.bench.stripes.list.row
        assert row is not None
        assert row.cell(3).text == "14"
        assert float(row.cell(6).text) == pytest.approx(after.stripe_g, abs=0.5)
        assert row.cell(7).text == "buy"
        assert told(f"short {after.balls} balls Nightfall") in walk.answers
        for words in (after.size, f"used {after.used}", f"cash {after.cash} EUR"):
            assert words in walk.answers

        # Why, on the stripe and on the cost.
        await walk.press("question_mark")
        await walk.sees("Lot 2160: too little")
        await walk.press("escape", "f5")
        line = app.bench.query_one("#cost", Pane).list.rows[0]
        assert line.cell(0).text == "Nightfall"
        assert float(line.cell(1).text) == pytest.approx(after.nightfall_g, abs=0.5)
        assert [line.cell(at).text for at in (5, 7)] == [str(after.balls), "29.60"]
        await walk.press("question_mark")
        await walk.sees("4 balls at 7.40 EUR")

        # Mended, and taken back edit by edit.
        await walk.press("escape", "f3", "exclamation_mark")
        assert more.size in walk.answers
        assert told("two rows fewer") in app.bench.say_line.words
        await walk.press("ctrl+z", "ctrl+z", "ctrl+z")
        assert before.size in walk.answers
        assert f"cash {before.cash} EUR" in walk.answers


async def test_what_is_changed_is_saved_and_another_shade_is_one_step(tmp_path: Path) -> None:
    async with begun(tmp_path) as walk:
        await walk.press("plus")
        await walk.sees("saved")
        # In the file one number is another one, all else stands as it was.
        written = (tmp_path / "demo" / "projects" / f"{THROW}.toml").read_text(encoding="utf-8")
        original = (DEMO / "projects" / f"{THROW}.toml").read_text(encoding="utf-8")
        pairs = zip(written.splitlines(), original.splitlines(), strict=True)
        assert [a for a, b in pairs if a != b] == ['    { slot = "A", rows = 12, hold = "2271" },']
        await walk.press("ctrl+z", "f8", *["down"] * 5, "enter", "enter")
        await walk.type("chalk")
        await walk.press("enter")
        assert f"used {throw(10, '40', '2005').used}" in walk.answers
        assert "all in the house" in walk.answers
        await walk.press("ctrl+z")
        assert f"used {throw(10).used}" in walk.answers


# From an enquiry to the shelf


async def enquire(walk: Walk) -> None:
    """Try the wrap for Sunniva; nothing is changed by it."""
    asked = wrap()
    before = walk.app.workshop.snapshot.studio
    await walk.press("f2", "slash")
    await walk.type("moth")
    await walk.press("enter", "ctrl+t", "enter")
    await walk.type("sunn")
    await walk.press("enter", "down", "down", "enter")
    await walk.type("90")
    await walk.press("tab")
    await walk.type("130")
    await walk.press("enter", "down", "enter")
    await walk.type("dams")
    await walk.press("enter", "down", "enter")
    await walk.type("roseh")
    await walk.press("enter", "down", "enter")
    await walk.type(told("5 feb"))
    await walk.press("enter")
    # Damson: no lot has so much left, so a new one of 2 balls. Rosehip: one lot has.
    free = {code: lot["grams"] for code, lot in lots("12").items() if code != "2215"}
    assert [c for c, g in free.items() if g >= asked.rosehip_g] == ["2240"]
    assert -(-asked.damson_g // 100) == 2
    told("Rosehip is all in lot 2240, Damson lacks 2 balls")
    await walk.sees("for Sunniva", "90 x 130 cm", "due 5 Feb 2027", "short 2 balls Damson")
    await walk.sees("lot 2240", f"price {told(f'{asked.price:.2f}')}")
    told(f"the price is {asked.price} EUR and pays {asked.an_hour} an hour")
    await walk.sees(f"an hour is paid {asked.an_hour}", told("20 days to spare"))
    await walk.sees(f"margin {asked.margin}", f"deposit {asked.deposit}")
    # The price followed back to what it is made from.
    await walk.press("down", "down", "down")
    await walk.press("question_mark")
    hours = f"{asked.minutes / 60:.1f}"
    told(f"{asked.yarn} of yarn, {hours} hours at 16.00")
    told(f"355.00 would leave a margin of {asked.margin_below}")
    await walk.sees(f"{hours} h at 16.00 EUR {asked.hours} EUR")
    await walk.sees(f"355.00 EUR, is not enough: margin {asked.margin_below} EUR")
    await walk.press("escape")
    assert walk.app.workshop.snapshot.studio == before


async def follow_back(walk: Walk) -> None:
    """The other figures of the page, each with what it is made from."""
    asked = wrap()
    for fact, figure, made_from in (
        ("total", asked.total, (asked.price, asked.parcel)),
        ("deposit", asked.deposit, (asked.total, "30 %")),
        ("size", "90 x 130 cm", ("117", "126", "13 stitches to 10 cm", "after washing")),
        ("slack", "20 days to spare", ("16 Jan 2027", "5 Feb 2027")),
    ):
        assert walk.app.beside is not None
        assert walk.app.beside.list.go_to(("fact", fact))
        await walk.press("question_mark")
        assert isinstance(walk.app.screen, Words)
        why = " ".join(walk.app.screen.text.split())
        for words in (figure, *made_from):
            assert str(words) in why, fact
        await walk.press("escape")


async def quote(walk: Walk, folder: Path) -> None:
    """Freeze the quote and write its page."""
    asked = wrap()
    await walk.press("ctrl+u")
    told(f"{asked.total} EUR with the parcel, until 16 Dec 2026")
    await walk.sees(f"Quoted: {asked.total} EUR until 16 Dec 2026")
    await walk.press("ctrl+f", "right", "enter")
    await walk.sees("Quote written")
    page = (folder / "papers" / told(f"quote-{NEW}.html")).read_text(encoding="utf-8")
    told(f"deposit of {asked.deposit} EUR")
    shown = [f"{asked.price} EUR", f"{asked.total} EUR", f"{asked.deposit} EUR", "16 Dec 2026"]
    for words in ("Sunniva", "<svg", "about 90 x 130 cm", "Hand wash cool", "100 % wool", *shown):
        assert words in page
    # Neither what it costs nor what she earns by it, nor her lots, nor anybody else.
    for amount in (asked.yarn, asked.hours, asked.overhead, asked.margin, asked.an_hour):
        assert f"{amount}" not in page
    assert not any(words in page for words in ("2240", "Yrsa", "dyehouse"))
    await walk.press("escape")


async def book(walk: Walk) -> None:
    """Book it: its Rosehip is held from then on."""
    await walk.press("ctrl+k")
    told("4 runs held from the stash, 2 balls to buy")
    await walk.sees("Booked for 5 Feb 2027: 4 runs held from the stash, 2 balls to buy.")
    await walk.sees("Order book", told("11 Jan 2027"), "20 days to spare")
    booked = walk.app.workshop.snapshot.studio.project[NEW]
    assert booked.stage.value == "booked"
    assert tuple(s.rows for s in booked.stripes) == wrap().rows
    held = {(s.slot, s.claim.on if s.claim else "") for s in booked.stripes}
    assert held == {("A", ""), ("B", "2240")}


async def buy(walk: Walk, folder: Path) -> None:
    """The cheapest purchase for both pieces that lack Damson, written and placed."""
    need, asked = hedge_g(), wrap()
    # For each piece what no lot works: two wide stripes of the throw, and the wrap, 5 balls. Four
    # balls work the stripes 7, 9, 13 and 19 of the throw; lot 1188 then has enough for the wrap.
    bought = sum(need[i] for i in (6, 8, 12, 18))
    assert need[12] + need[18] + asked.damson_g > 400 >= bought
    rest = sum(need) - bought - sum(need[i] for i in (14, 20, 24))
    assert rest + asked.damson_g <= lots("15")["1188"]["grams"]
    assert sum(need[i] for i in (14, 20, 24)) <= lots("15")["1203"]["grams"]
    told(f"Bought for each, that is {landed(5)} EUR. The plan has it for {landed(4)}, proved")
    await walk.press("ctrl+b")
    await walk.sees("Proved: nothing is cheaper.", "4 balls 7.40 29.60", f"{landed(5)} EUR")
    await walk.sees("stripes 7, 9, 13 and 19: 370 g")
    told("short for two pieces, 3 balls and 2")
    await walk.sees("yes Damson hedge throw booked 3", "yes Mothlight wrap again booked 2")
    await walk.press("ctrl+f", "enter")
    await walk.sees("Order papers written", f"Total {landed(4)} EUR")
    papers = {p.suffix: p for p in (folder / "papers").glob("order-*")}
    assert set(papers) == {".txt", ".csv", ".html"}
    text = papers[".txt"].read_text(encoding="utf-8")
    assert "Damson (15)" in text
    assert "one dye lot" in " ".join(text.split())
    await walk.press("escape", "ctrl+k")
    await walk.sees("1 order placed.")
    assert "all in the house" in walk.answers
    studio = walk.app.workshop.snapshot.studio
    (new,) = [p for p in studio.stash.purchases if p.ordered == TODAY]
    assert [(n.yarn, n.shade, n.balls, n.price) for n in new.lines] == [
        ("fenlight", "15", 4, Decimal("7.40"))
    ]
    ties = studio.project[HEDGE].stripes
    assert [i for i, s in enumerate(ties) if s.claim and s.claim.on == new.key] == [6, 8, 12, 18]


async def receive(walk: Walk) -> None:
    """Two dye lots where one was asked for."""
    await walk.press("ctrl+a", "down", "down")
    for lot in (told("3301"), told("3302")):
        await walk.press("enter")
        await walk.type(lot)
        await walk.press("tab")
        await walk.type("2")
        await walk.press("enter")
    told("stripe 19 of the throw is short again, since no lot that came has 117 g left for it")
    assert f"{hedge_g()[18]:.0f}" == "117"
    await walk.sees("Fenlight Damson came in 2 dye lots: 3301 and 3302.")
    await walk.sees("stripe 13: now held in lot 3302", "stripe 19: short of Fenlight Damson again")
    ball = cents(landed(4) / 4)
    await walk.sees(f"at {told(f'{ball} EUR a ball').removesuffix(' a ball')} landed")
    await walk.press("ctrl+k")
    await walk.sees("2 lots on the shelf, 1 piece short again.")


async def see_the_new_assignment(walk: Walk) -> None:
    """On the bench the throw has its lots anew, and the wrap lacks yarn again."""
    await walk.press("escape", "ctrl+p")
    await walk.type("damson hedge")
    await walk.press("enter", "f3")
    told("stripes 7 and 9 from 3301, stripe 13 from 3302, and stripe 19 from 1188")
    assert walk.app.view.key == HEDGE
    assert "all in the house" in walk.answers
    rows = walk.app.bench.stripes.list.rows
    assert [rows[i].cell(7).text for i in (6, 8, 12, 18)] == ["3301", "3301", "3302", "1188"]
    lacking = walk.app.view.snapshot.plan.projects[NEW].shades
    assert [(s.shade.shade, s.buy_balls) for s in lacking] == [("15", 2), ("12", 0)]
    await walk.press("ctrl+b")
    # 2 balls at 7.40 are under the 20 EUR from which the dyehouse takes orders.
    told(f"3 balls, {landed(3)} EUR, as the dyehouse takes orders from 20")
    await walk.sees("Proved: nothing is cheaper.", "3 balls 7.40 22.20", f"{landed(3)} EUR")
    await walk.press("escape")


async def give_and_take_a_table(walk: Walk, folder: Path) -> None:
    """The stash out as a table, and looked at on the way in."""
    await walk.press("ctrl+p")
    await walk.type(told("write out"))
    await walk.press("enter", "enter", "enter")
    path = folder / told("papers/stash.csv")
    await walk.sees("Written:")
    rows = path.read_text(encoding="utf-8-sig").splitlines()
    assert [r.split(",")[:4] for r in rows if ",3301," in r] == [
        ["fenlight", "15", "3301", "1"]
    ] * 2
    path.write_text("\n".join((*rows, "fenlight,15,3310,2")), encoding="utf-8")
    before = walk.app.workshop.snapshot.studio
    await walk.press("number_sign", "enter", "enter", "ctrl+k")
    await walk.sees("3310")
    await walk.press("escape", "escape", "escape")
    assert walk.app.workshop.snapshot.studio == before


async def test_from_an_enquiry_to_two_dye_lots_on_the_shelf(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    async with begun(tmp_path) as walk:
        await enquire(walk)
        await follow_back(walk)
        await quote(walk, folder)
        await book(walk)
        await buy(walk, folder)
        await receive(walk)
        await see_the_new_assignment(walk)
        await give_and_take_a_table(walk, folder)
        await walk.press("ctrl+q")
    # Left, everything is in the files.
    stash = (folder / "stash" / "fenlight.toml").read_text(encoding="utf-8")
    assert all(f'code = "{lot}"' in stash for lot in ("3301", "3302"))
    booked = (folder / "projects" / f"{NEW}.toml").read_text(encoding="utf-8")
    assert 'stage = "booked"' in booked
    assert booked.count('hold = "2240"') == 4
