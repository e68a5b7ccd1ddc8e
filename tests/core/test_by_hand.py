"""The demo's figures by another route: its files read with tomllib, and the formulas written out.

Nothing of the program is used to find what is expected. Student's t comes from scipy. Floats are
good enough here: amounts are compared to the cent, needs to the tenth of a gram.
"""

from __future__ import annotations

import math
import statistics
import tomllib
from collections.abc import Iterator
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

import pytest
import scipy

from studio.core.answers import Cover, RunKind
from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.parcel import expected_shipping
from studio.core.buying.receiving import receive
from studio.core.buying.shelf import StapleLine
from studio.core.price_sheet import priced
from tests.core.test_demo import DEMO, TODAY, demo, worked

Table = dict[str, Any]

FREEDOM = 4
"""v0 + k - 1 degrees of freedom for one weighing: v0 = 4 (trade rules, section 3)."""


def read(folder: str, key: str) -> Table:
    return tomllib.loads((DEMO / folder / f"{key}.toml").read_text())


def every(folder: str) -> Iterator[tuple[str, Table]]:
    for path in sorted((DEMO / folder).glob("*.toml")):
        yield path.stem, tomllib.loads(path.read_text())


def cm(length: str) -> float:
    value, unit = length.split()
    assert unit == "cm"
    return float(value)


def swatches(piece: Table, yarn: str) -> list[Table]:
    wanted = (yarn, piece["stitch"], piece["hook_mm"])
    return [s for _, s in every("swatches") if (s["yarn"], s["stitch"], s["hook_mm"]) == wanted]


def stitches_of(piece: Table) -> int:
    """Of a body row, by the gauge after washing: the width nearest the target, wider on a tie."""
    stitch = read("stitches", piece["stitch"])
    (yarn,) = {slot["yarn"] for slot in piece["slots"].values()}
    washed = [s["after"] for s in swatches(piece, yarn)]
    per_cm = sum(w["stitches"] for w in washed) / sum(cm(w["stitch_span"]) for w in washed)
    across = piece.get("direction") != "along"
    target = cm(piece["size"]["width" if across else "length"])
    target -= 2 * cm(piece["border"]["width"]) if "border" in piece else 0
    base = stitch["extra"] - stitch["skipped"] + stitch["turning_counts"]
    widths = {n: (stitch["multiple"] * n + base) / per_cm for n in range(1, 1000)}
    n = min(widths, key=lambda n: (round(abs(widths[n] - target), 9), -n))
    return int(stitch["multiple"] * n + base)


def weight_of(piece: Table, first: int, rows: int) -> float:
    """Rows counted in body rows: the first ones weigh more."""
    found, row = 0.0, 1
    for kind in read("stitches", piece["stitch"])["kind"]:
        last = row + kind["rows"] - 1 if "rows" in kind else 10**6
        over = max(0, min(first + rows - 1, last) - max(first, row) + 1)
        found += over * kind.get("weight", 1)
        row = last + 1
    return found


PLAIN = ("gull-and-shingle", "cinder-field", "evening-porch-lap")
"""Pieces of which nothing is worked, with one weighed swatch as their only evidence."""


@pytest.mark.parametrize("key", PLAIN)
def test_size_needs_and_balls(key: str) -> None:
    """m = g / n with n in rows of the piece; S^2 = (0.05 m)^2 for one weighing, which fits itself.

    sd^2 = S^2 (N + N^2 / n) + (0.03 N m)^2; need = N m + t(0.95, 4) sd + two tails of 15 cm for
    each ball that is begun, up to the tenth of a gram.
    """
    piece, plan = read("projects", key), worked().plan.projects[key]
    (yarn,) = {slot["yarn"] for slot in piece["slots"].values()}
    ball = read("yarns", yarn)
    stitches = stitches_of(piece)
    assert plan.size is not None
    assert plan.size.stitches == stitches
    weighed = swatches(piece, yarn)[0]["weighed"]
    n = weight_of(piece, 1, weighed["rows"]) * weighed["stitches"] / stitches
    m = weighed["grams"] / n
    tails = 2 * 0.15 * ball["ball_g"] / ball["ball_m"]
    first, needs = 1, []
    for stripe in piece["stripe"]:
        rows = weight_of(piece, first, stripe["rows"])
        first += stripe["rows"]
        spread = (0.05 * m) ** 2 * (rows + rows**2 / n) + (0.03 * rows * m) ** 2
        bound = rows * m + scipy.special.stdtrit(FREEDOM, 0.95) * math.sqrt(spread)
        bound += tails * math.ceil(rows * m / ball["ball_g"])
        needs.append(math.ceil(bound * 10 - 1e-6) / 10)
    runs = [r for r in plan.runs if r.ref.kind is RunKind.STRIPE]
    assert [float(r.need_g) for r in runs] == needs
    for shade in plan.shades:
        # Bought whole and pooled: balls are counted over the sum, never for each run.
        short = [r.need_g for r in plan.runs if r.shade == shade.shade and r.cover is Cover.SHORT]
        assert shade.buy_balls == math.ceil(sum(short) / ball["ball_g"])


def cents(amount: float | Decimal) -> Decimal:
    return Decimal(str(round(amount, 9))).quantize(Decimal("0.01"), ROUND_HALF_EVEN)


def test_a_price_line_by_line() -> None:
    """C + fees + shipping + margin = price + shipping, at the least five that leaves a tenth."""
    key = "gull-and-shingle"
    piece, plan = read("projects", key), worked().plan.projects[key]
    trade, house = tomllib.loads((DEMO / "trade.toml").read_text()), demo().settings
    prices, times = trade["prices"], trade["times"]
    demand = worked().kept.worked[key].demand
    sheet = priced(demo().project[key], plan, demand, demo()).sheet
    found = {line.label: line.amount for line in sheet.leaves}
    # Time: stitches at 22 a minute, ends, strands of fringe at half a minute, the tasks.
    stitches, rows = stitches_of(piece), sum(s["rows"] for s in piece["stripe"])
    border = piece["border"]
    one_round = 2 * stitches + 2 * math.floor(border["pick_up"] * rows + 0.5) + 12
    parts = (stitches, (rows - 1) * stitches, 2 * one_round + 8)
    minutes = sum(round(part / times["stitches_per_min"]) for part in parts)
    minutes += 3 * plan.ends + round(piece["fringe"]["strands"] * 0.5)
    minutes += sum(task["minutes"] for task in times["task"])
    # Yarn at today's price of the ball, shade by shade, as grams that are expected to be used.
    ball = read("yarns", "osierwold")
    grams: dict[str, float] = {}
    for run in demand.runs:
        grams[run.shade.shade] = grams.get(run.shade.shade, 0) + run.whole_mean_g
    yarn = sum(cents(g * ball["price"] / ball["ball_g"]) for g in grams.values())
    assert found["Yarn"] == -yarn
    labour = cents(16 * minutes / 60)
    assert found["Her hours"] == -labour
    overhead = cents(prices["overhead"] + prices["overhead_per_hour"] * minutes / 60)
    assert found["Overhead"] == -overhead
    weight = sum(grams.values()) + trade["packing_g"]
    parcel = min(p["paid"] for p in trade["shipping"] if p["up_to_g"] >= weight)
    assert found["Shipping charged"] == -found["Shipping paid"] == cents(parcel)

    def margin(price: int) -> Decimal:
        fee = cents(prices["fees"]["on_total"] * float(price + cents(parcel)))
        fixed = 2 * cents(prices["fees"]["fixed"])
        return price - yarn - labour - overhead - fee - fixed

    step = prices["ending"]["step"]
    asked = next(p for p in range(0, 10_000, step) if margin(p) * 10 >= p)
    assert sheet.shown == asked
    assert sheet.margin == margin(asked)
    share = math.ceil(prices["deposit_share"] * float(sheet.total) * 100 - 1e-6) / 100
    assert plan.cost.cash is not None
    assert sheet.deposit == max(cents(share), plan.cost.cash)
    assert house.rate_per_hour == 16


def test_what_a_parcel_costs_landed() -> None:
    """Shipping is flat below the sum that ships free, and shared by value to the last cent."""
    key = "2026-12-cotton"
    order, shop = read("purchases", key), read("suppliers", "wholesaler")
    lines = [(n["yarn"], n["shade"], n["balls"], Decimal(str(n["price"]))) for n in order["line"]]
    goods = sum(balls * price for _, _, balls, price in lines)
    shipping = Decimal(str(shop["shipping"])) if goods < shop["free_from"] else Decimal(0)
    purchase = demo().stash.purchase[key]
    assert expected_shipping(demo(), purchase) == shipping
    bags = tuple(Bag(yarn, shade, "N-1", balls) for yarn, shade, balls, _ in lines)
    after = receive(demo(), Delivery(key, TODAY, bags, shipping), {}).studio
    assert key not in after.stash.purchase
    paid = Decimal(0)
    for yarn, shade, balls, price in lines:
        (lot,) = (n for n in after.stash.lots if (n.yarn, n.shade, n.code) == (yarn, shade, "N-1"))
        assert sum(b.balls for b in lot.batches) == balls
        landed = sum((b.balls * ((b.price or 0) + b.shipping) for b in lot.batches), Decimal(0))
        fair = balls * price * (1 + shipping / goods)
        assert abs(landed - fair) < Decimal("0.01")
        paid += landed
    assert paid == goods + shipping


def staple(name: str) -> StapleLine:
    shelf = worked().kept.shelf
    assert shelf is not None
    return next(line for line in shelf.lines if line.shade.shade == name)


def grams_used(key: str, piece: Table, shade: str) -> float:
    """What a finished piece took of a shade of Fenlight: weighed on it, else on the others."""
    fenlight, at = read("yarns", "fenlight"), dict(every("projects"))
    own = {key} if piece.get("weigh_in") else set(at) - {key}
    g = n = 0.0
    for other in own:
        for seen in at[other].get("weigh_in", []):
            if at[other]["slots"][seen["slot"]]["yarn"] == "fenlight":
                g += seen["grams"]
                rows = weight_of(at[other], seen.get("first_row", 2), seen["rows"])
                n += rows * stitches_of(at[other])
    per_stitch, first, used = g / n, 1, 0.0
    for stripe in piece["stripe"]:
        rows = weight_of(piece, first, stripe["rows"])
        first += stripe["rows"]
        if piece["slots"][stripe["slot"]]["shade"] == shade:
            mean = rows * stitches_of(piece) * per_stitch
            tails = 2 * 0.15 * fenlight["ball_g"] / fenlight["ball_m"]
            used += mean + tails * math.ceil(mean / fenlight["ball_g"])
    return used


@pytest.mark.parametrize("shade", ["01", "34"])
def test_when_and_how_much_to_reorder(shade: str) -> None:
    """Reorder at d L + z sqrt(L' s^2 + d^2 sL^2); order where goods, orders and keeping cost least.

    L is the mean of the days that the parcels took and sL their spread, L' the same in months, s
    the spread of the months' use. A year costs D p + D / q (order + parcel) + q / 2 x 0.2 p, where
    the parcel is free from a sum of goods on. What was noted of a whole piece is what it used.
    """
    uses: list[tuple[date, float]] = []
    ref = ("fenlight", shade)
    for key, piece in every("projects"):
        slots = {(s["yarn"], s["shade"]) for s in piece["slots"].values()}
        if piece["stage"] in ("delivered", "in stock") and ref in slots:
            reached = [r["on"] for r in piece["reached"] if r["stage"] in ("delivered", "in stock")]
            notes = [u for u in piece.get("used", ()) if (u["yarn"], u["shade"]) == ref]
            assert all(u["whole"] for u in notes)
            noted = float(sum(u["grams"] for u in notes))
            uses.append((reached[0], (noted or grams_used(key, piece, shade)) / 100))
    days = (TODAY - min(on for on, _ in uses)).days
    year = sum(balls for _, balls in uses) / days * 365.25
    month = 365.25 / 12
    months = [0.0] * int(days / month)
    for on, balls in uses:
        at = int((TODAY - on).days / month)
        if at < len(months):
            months[at] += balls
    shop = read("suppliers", "wholesaler")
    lead, spread = statistics.mean(shop["seen_days"]), statistics.stdev(shop["seen_days"])
    s, d = statistics.stdev(months), year / 365.25
    safety = scipy.special.ndtri(0.95) * math.sqrt(lead / month * s**2 + d**2 * spread**2)
    line = staple(shade)
    assert line.standing is not None
    assert line.supplier == shop["name"]
    assert line.standing.point.balls == math.ceil(d * lead + safety)
    (offer,) = (o for o in shop["offer"] if o["yarn"] == "fenlight")
    p, packs = offer["price"], range(offer["pack"], 200, offer["pack"])
    each = {q: 2 + (0 if q * p >= shop["free_from"] else shop["shipping"]) for q in packs}
    costs = {q: year / q * each[q] + q / 2 * 0.2 * p for q in packs}
    assert line.standing.size.balls == min(costs, key=costs.__getitem__)
