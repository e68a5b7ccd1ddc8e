"""The README's tour as a scripted session: a fresh copy of the demo, a changed stripe, the new
shortfall, the new cost.

What is expected is worked out here from the demo's files alone, by the formulas of the trade rules
(sections 2, 3 and 6) with scipy's t quantile; nothing of the program is called for it.
"""

from __future__ import annotations

import math
import shutil
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from scipy.stats import t

from studio.ui.app import StripewrightApp
from studio.ui.dialogs.choose import Choose
from studio.ui.panes.pane import Pane
from tests.ui import small

DEMO = Path(__file__).parents[2] / "projects" / "demo"
PIECE = "afterglow-throw"


def read(name: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


def centimetres(text: str) -> float:
    figure, unit = text.split()
    assert unit == "cm"
    return float(figure)


@dataclass(frozen=True)
class Expected:
    """The piece's figures with stripe 1 at so many rows."""

    size: str
    nightfall_g: float
    stripe_g: float
    balls: int
    used: str
    cash: str


def expected(first_rows: int) -> Expected:
    """Size, Nightfall's need, and material cost, by hand."""
    piece = read(f"projects/{PIECE}.toml")
    yarn = read("yarns/fenlight.toml")
    swatch = read("swatches/fenlight-half-double.toml")["after"]
    lots = {lot["code"]: lot for lot in read("stash/fenlight.toml")["lot"]}
    border = piece["border"]
    edge_cm = 2 * centimetres(border["width"])

    # Size: half double crochet on any number of chains; stitches = chain - 2.
    per_cm = swatch["stitches"] / centimetres(swatch["stitch_span"])
    rows_per_cm = swatch["rows"] / centimetres(swatch["row_span"])
    stitches = round((centimetres(piece["size"]["width"]) - edge_cm) * per_cm)
    stripes = [(s["slot"], s["rows"], s["hold"]) for s in piece["stripe"]]
    stripes[0] = (stripes[0][0], first_rows, stripes[0][2])
    rows = sum(count for _, count, _ in stripes)
    width, length = stitches / per_cm + edge_cm, rows / rows_per_cm + edge_cm
    size = f"{math.floor(width + 0.5)} x {math.floor(length + 0.5)} cm"

    # Use: the weigh-ins of the delivered piece in the same yarn, stitch and hook, its rows taken
    # as rows of this width; the foundation row counts 1.15.
    other = read("projects/pigeon-loft-throw.toml")
    assert (other["stitch"], other["hook_mm"]) == (piece["stitch"], piece["hook_mm"])
    there = round((centimetres(other["size"]["width"]) - 2 * _border_cm(other)) * per_cm)
    seen = [
        (w["grams"], (w["rows"] + (0.15 if w["first_row"] == 1 else 0)) * there / stitches)
        for w in other["weigh_in"]
    ]
    weight, over = sum(g for g, _ in seen), sum(n for _, n in seen)
    m, k, v0, tau = weight / over, len(seen), 4, 0.03
    spread = (v0 * (0.05 * m) ** 2 + sum((g - n * m) ** 2 / n for g, n in seen)) / (v0 + k - 1)
    quantile = t.ppf(0.95, v0 + k - 1)
    tail_g = 2 * 0.15 * yarn["ball_g"] / yarn["ball_m"]

    def run(n: float) -> tuple[float, float]:
        """Expected use and planned need of one run of n rows, to the tenth of a gram above."""
        risk = quantile * math.sqrt(spread * (n + n * n / over) + (tau * n * m) ** 2)
        balls = math.ceil((n * m + risk) / yarn["ball_g"])
        mean = n * m + balls * tail_g
        return mean, math.ceil((mean + risk) * 10 - 1e-6) / 10

    rounds = range(border["rounds"])
    around = [2 * stitches + 2 * border["pick_up"] * rows + 12 + 8 * i for i in rounds]
    runs = [(s, run(n + (0.15 if i == 0 else 0)), lot) for i, (s, n, lot) in enumerate(stripes)]
    runs.append((border["slot"], run(sum(around) / stitches), border["hold"]))
    need = sum(grams for slot, (_, grams), _ in runs if slot == "A")

    # Lots: one lot for each colour, since the piece has a customer. A whole ball is as heavy as
    # its band says. What no lot can work whole is bought whole.
    nightfall = [lot for lot in lots.values() if lot["shade"] == "34"]
    weights = [
        sum(lot.get("parts_g", [])) + 100 * sum(b["balls"] for b in lot["batch"])
        for lot in nightfall
    ]
    balls = 0 if max(weights) >= need else math.ceil(need / yarn["ball_g"])

    # Money: what was paid with its share of shipping, or today's price for what is bought.
    used = 0.0
    for letter in piece["slots"]:
        mean = sum(grams for slot, (grams, _), _ in runs if slot == letter)
        lot = lots[next(lot for slot, _, lot in runs if slot == letter)]
        batch = lot["batch"][0]
        assert len({(b["price"], b["shipping"]) for b in lot["batch"]}) == 1
        price = batch["price"] + batch["shipping"]
        if letter == "A" and balls:
            price = yarn["price"]
        used += math.floor(mean * price / yarn["ball_g"] * 100 + 0.5) / 100
    notions = sum(n["cost"] for n in piece["notion"])
    cash = balls * yarn["price"] + notions
    return Expected(size, need, runs[0][1][1], balls, f"{used + notions:.2f}", f"{cash:.2f}")


def _border_cm(project: dict[str, Any]) -> float:
    return centimetres(project["border"]["width"]) if "border" in project else 0.0


def test_the_tour_shows_what_it_is_meant_to_show() -> None:
    """The demo's own figures: as it lies, the lot just suffices; two rows more and it does not."""
    assert expected(10).balls == 0
    assert expected(14).balls == 4
    assert (expected(10).cash, expected(14).cash) == ("3.20", "32.80")


@pytest.mark.parametrize("size", [(80, 24), (120, 36), (200, 50)])
async def test_fresh_copy_changed_stripe_new_shortfall_new_cost(
    tmp_path: Path, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("studio.ui.session.SAVE_AFTER_S", 0.05)
    folder = Path(shutil.copytree(DEMO, tmp_path / "demo"))
    before, after = expected(10), expected(14)
    app = StripewrightApp(folder)
    async with app.run_test(size=size) as pilot:
        await small.settled(app, pilot)
        # It opens on the throw that is being made, in the stripe editor.
        assert (app.view.key, app.bench.at) == (PIECE, "stripes")
        answers = app.bench.answers.text
        for words in (before.size, "all in the house", f"used {before.used}", "due 18 Dec 2026"):
            assert words in answers
        assert f"cash {before.cash} EUR" in answers

        # Two times two rows more on the first stripe.
        await pilot.press("plus", "plus")
        await small.settled(app, pilot)
        # The lot that is promised to them no longer does, so she is asked first.
        asked = app.screen
        assert isinstance(asked, Choose)
        assert asked.title_words == "This breaks a promise"
        await pilot.press("down", "enter")
        await small.settled(app, pilot)
        row = app.bench.stripes.list.row
        assert row is not None
        assert row.cell(3).text == "14"
        assert float(row.cell(6).text) == pytest.approx(after.stripe_g, abs=0.5)
        assert row.cell(7).text == "buy"
        answers = app.bench.answers.text
        assert after.size in answers
        assert f"short {after.balls} balls Nightfall" in answers
        assert f"used {after.used}" in answers
        assert f"cash {after.cash} EUR" in answers

        # The cost sheet says it shade by shade.
        await pilot.press("f5")
        await pilot.pause()
        line = app.bench.query_one("#cost", Pane).list.rows[0]
        assert line.cell(0).text == "Nightfall"
        assert float(line.cell(1).text) == pytest.approx(after.nightfall_g, abs=0.5)
        assert [line.cell(at).text for at in (5, 7)] == [str(after.balls), "29.60"]

        # Saved by itself: in the file one number is another one, all else stands as it was.
        await pilot.pause(0.2)
        await small.settled(app, pilot)
        assert app.bench.say_line.saved == "saved"
        written = (folder / "projects" / f"{PIECE}.toml").read_text(encoding="utf-8")
        original = (DEMO / "projects" / f"{PIECE}.toml").read_text(encoding="utf-8")
        pairs = zip(written.splitlines(), original.splitlines(), strict=True)
        assert [a for a, b in pairs if a != b] == ['    { slot = "A", rows = 14, hold = "2271" },']

        # And back again.
        await pilot.press("ctrl+z", "ctrl+z")
        await small.settled(app, pilot)
        assert before.size in app.bench.answers.text
        assert "all in the house" in app.bench.answers.text
        assert f"cash {before.cash} EUR" in app.bench.answers.text
