"""What the tour is to show, worked out from the demo's files by the formulas of the trade rules.

Sections 2, 3, 5, 6 and 7 of the rules, with scipy's t quantile; nothing of the program is called.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import Any

import scipy

DEMO = Path(__file__).parents[2] / "projects" / "demo"
THROW, WRAP, HEDGE = "afterglow-throw", "mothlight-wrap", "damson-hedge-throw"


def read(name: str) -> dict[str, Any]:
    return tomllib.loads((DEMO / name).read_text(encoding="utf-8"))


def centimetres(text: str) -> float:
    figure, unit = text.split()
    assert unit == "cm"
    return float(figure)


def cents(amount: float | Decimal) -> Decimal:
    return Decimal(str(amount)).quantize(Decimal("0.01"), ROUND_HALF_UP)


def gauge() -> tuple[float, float]:
    """Stitches and rows in a centimetre of Fenlight in half double crochet, washed."""
    swatch = read("swatches/fenlight-half-double.toml")["after"]
    return (
        swatch["stitches"] / centimetres(swatch["stitch_span"]),
        swatch["rows"] / centimetres(swatch["row_span"]),
    )


@dataclass(frozen=True)
class Run:
    """A run of rows: grams as expected and as planned, and the balls it is worked from."""

    mean_g: float
    need_g: float
    balls: int


def runs_of(stitches: int, piece: Mapping[str, Any]) -> Callable[[float], Run]:
    """What a run of n rows uses, by the weigh-ins of the delivered piece in the same yarn.

    Its rows are taken as rows of this width; the foundation row counts 1.15.
    """
    yarn, per_cm = read("yarns/fenlight.toml"), gauge()[0]
    other = read("projects/pigeon-loft-throw.toml")
    assert (other["stitch"], other["hook_mm"]) == (piece["stitch"], piece["hook_mm"])
    there = round(centimetres(other["size"]["width"]) * per_cm)
    seen = [
        (w["grams"], (w["rows"] + (0.15 if w["first_row"] == 1 else 0)) * there / stitches)
        for w in other["weigh_in"]
    ]
    weight, over = sum(g for g, _ in seen), sum(n for _, n in seen)
    m, k, v0, tau = weight / over, len(seen), 4, 0.03
    spread = (v0 * (0.05 * m) ** 2 + sum((g - n * m) ** 2 / n for g, n in seen)) / (v0 + k - 1)
    quantile = scipy.special.stdtrit(v0 + k - 1, 0.95)
    tail_g = 2 * 0.15 * yarn["ball_g"] / yarn["ball_m"]

    def run(n: float) -> Run:
        risk = quantile * math.sqrt(spread * (n + n * n / over) + (tau * n * m) ** 2)
        balls = math.ceil((n * m + risk) / yarn["ball_g"])
        mean = n * m + balls * tail_g
        return Run(mean, math.ceil((mean + risk) * 10 - 1e-6) / 10, balls)

    return run


def lots(shade: str) -> dict[str, dict[str, Any]]:
    """The lots of a shade of Fenlight; a whole ball is as heavy as its band says."""
    found = {}
    for lot in read("stash/fenlight.toml")["lot"]:
        if lot["shade"] == shade:
            grams = sum(lot.get("parts_g", [])) + 100 * sum(
                b["balls"] for b in lot.get("batch", [])
            )
            found[lot["code"]] = {"grams": grams, "batch": lot.get("batch", [])}
    return found


# The throw, with its first stripe at so many rows


@dataclass(frozen=True)
class Throw:
    size: str
    nightfall_g: float
    stripe_g: float
    balls: int
    used: str
    cash: str


def throw(first_rows: int, slot_f: str = "01", lot_f: str = "2301") -> Throw:
    """Size, Nightfall's need, and material cost of the Afterglow throw."""
    piece, yarn = read(f"projects/{THROW}.toml"), read("yarns/fenlight.toml")
    border = piece["border"]
    edge_cm = 2 * centimetres(border["width"])
    per_cm, rows_per_cm = gauge()
    # Size: half double crochet on any number of chains; stitches = chain - 2.
    stitches = round((centimetres(piece["size"]["width"]) - edge_cm) * per_cm)
    stripes = [(s["slot"], s["rows"], s["hold"]) for s in piece["stripe"]]
    stripes[0] = (stripes[0][0], first_rows, stripes[0][2])
    rows = sum(count for _, count, _ in stripes)
    width, length = stitches / per_cm + edge_cm, rows / rows_per_cm + edge_cm
    size = f"{math.floor(width + 0.5)} x {math.floor(length + 0.5)} cm"

    run = runs_of(stitches, piece)
    rounds = range(border["rounds"])
    around = [2 * stitches + 2 * border["pick_up"] * rows + 12 + 8 * i for i in rounds]
    runs = [(s, run(n + (0.15 if i == 0 else 0)), lot) for i, (s, n, lot) in enumerate(stripes)]
    runs.append((border["slot"], run(sum(around) / stitches), border["hold"]))
    need = sum(r.need_g for slot, r, _ in runs if slot == "A")

    # Lots: one lot for each colour, since the piece has a customer; what no lot works is bought.
    most = max(lot["grams"] for lot in lots("34").values())
    balls = 0 if most >= need else math.ceil(need / yarn["ball_g"])

    # Money: what was paid with its share of shipping, or today's price for what is bought.
    used = Decimal(0)
    for letter in piece["slots"]:
        mean = sum(r.mean_g for slot, r, _ in runs if slot == letter)
        code = lot_f if letter == "F" else next(lot for slot, _, lot in runs if slot == letter)
        shade = slot_f if letter == "F" else piece["slots"][letter]["shade"]
        batches = lots(shade)[code]["batch"]
        (price,) = {b["price"] + b.get("shipping", 0) for b in batches}
        if letter == "A" and balls:
            price = yarn["price"]
        used += cents(mean * price / yarn["ball_g"])
    notions = sum(cents(n["cost"]) for n in piece["notion"])
    cash = cents(balls * yarn["price"]) + notions
    return Throw(size, need, runs[0][1].need_g, balls, f"{used + notions}", f"{cash}")


# The wrap that is asked for: 90 x 130 cm in Damson and Rosehip


@dataclass(frozen=True)
class Wrap:
    rows: tuple[int, ...]
    damson_g: float
    rosehip_g: float
    yarn: Decimal
    minutes: int
    hours: Decimal
    overhead: Decimal
    parcel: Decimal
    price: Decimal
    margin: Decimal
    margin_below: Decimal
    total: Decimal
    deposit: Decimal
    an_hour: Decimal


def wrap() -> Wrap:
    """Rows, grams, time and price of the wrap; the stash is valued at today's price."""
    piece, yarn, trade = (
        read(f"projects/{WRAP}.toml"),
        read("yarns/fenlight.toml"),
        read("trade.toml"),
    )
    per_cm, rows_per_cm = gauge()
    stitches = round(90 * per_cm)
    rows = scaled([s["rows"] for s in piece["stripe"]], 2 * round(130 * rows_per_cm / 2))
    run = runs_of(stitches, piece)
    runs = [
        (s["slot"], run(n + (0.15 if i == 0 else 0)))
        for i, (s, n) in enumerate(zip(piece["stripe"], rows, strict=True))
    ]
    grams = {slot: sum(r.mean_g for s, r in runs if s == slot) for slot in "AB"}
    used = sum((cents(g * yarn["price"] / yarn["ball_g"]) for g in grams.values()), Decimal(0))
    minutes = minutes_of(stitches, sum(rows), sum(r.balls for _, r in runs), trade)
    hours = cents(read("studio.toml")["rate_per_hour"] * minutes / 60)
    prices = trade["prices"]
    overhead = cents(prices["overhead"] + prices["overhead_per_hour"] * minutes / 60)
    weight = sum(grams.values()) + trade["packing_g"]
    parcel = cents(next(s["paid"] for s in trade["shipping"] if weight <= s["up_to_g"]))
    fixed = 2 * cents(prices["fees"]["fixed"])  # a deposit and a balance

    def margin_at(price: int) -> Decimal:
        total = price + parcel
        fee = cents(float(total) * prices["fees"]["on_total"])
        return total - (used + hours + overhead + fee + fixed + parcel)

    step = prices["ending"]["step"]
    share = Decimal(str(prices["margin"]))
    price = next(p for p in range(step, 10_000, step) if margin_at(p) >= share * p)
    total, margin = price + parcel, margin_at(price)
    damson, rosehip = (sum(r.need_g for s, r in runs if s == slot) for slot in "AB")
    return Wrap(
        rows=tuple(rows),
        damson_g=damson,
        rosehip_g=rosehip,
        yarn=used,
        minutes=minutes,
        hours=hours,
        overhead=overhead,
        parcel=parcel,
        price=cents(price),
        margin=margin,
        margin_below=margin_at(price - step),
        total=total,
        deposit=cents(float(total) * prices["deposit_share"]),
        an_hour=cents(float(margin + hours) * 60 / minutes),
    )


def scaled(rows: list[int], wanted: int) -> list[int]:
    """Stripes to another length in pairs of rows, by largest remainders, the first ones first."""
    pairs = [n / 2 * wanted / sum(rows) for n in rows]
    whole = [math.floor(p) for p in pairs]
    order = sorted(range(len(rows)), key=lambda i: (-round(pairs[i] - whole[i], 9), i))
    for i in order[: wanted // 2 - sum(whole)]:
        whole[i] += 1
    return [2 * n for n in whole]


def minutes_of(stitches: int, rows: int, strands: int, trade: Mapping[str, Any]) -> int:
    """Minutes by the log of the delivered throw, the first row apart; ends, and fixed tasks."""
    other = read("projects/pigeon-loft-throw.toml")
    wide = round(centimetres(other["size"]["width"]) * gauge()[0])
    log = [entry for entry in other["log"] if "rows" in entry]
    body = [entry for entry in log if entry.get("first_row", 1) > 1]
    each, each_body = (
        sum(e["minutes"] for e in some) / (wide * sum(e["rows"] for e in some))
        for some in (log, body)
    )
    ends = 2 * strands * read("studio.toml")["assumed"]["min_per_end"]
    tasks = sum(task["minutes"] for task in trade["times"]["task"])
    first, rest = round(stitches * each), round(stitches * (rows - 1) * each_body)
    return int(first + rest + ends + tasks)


# The purchase


def hedge_g() -> list[float]:
    """The planned need of each run of Damson in the Damson hedge throw, by its stripe."""
    piece = read(f"projects/{HEDGE}.toml")
    run = runs_of(round(centimetres(piece["size"]["width"]) * gauge()[0]), piece)
    return [
        run(s["rows"] + (0.15 if i == 0 else 0)).need_g if s["slot"] == "A" else 0.0
        for i, s in enumerate(piece["stripe"])
    ]


def landed(balls: int) -> Decimal:
    """Balls of Fenlight from the dyehouse with the parcel, under ten and under two kilograms."""
    dyehouse = read("suppliers/dyehouse.toml")
    assert balls < 10
    return cents(
        balls * dyehouse["offer"][0]["price"][0]["price"] + dyehouse["shipping"][0]["cost"]
    )
