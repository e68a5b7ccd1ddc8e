"""`buy`, `receive` and `staples`: plans, orders, parcels, papers, statuses and documents."""

from __future__ import annotations

import csv
import json
import queue
import signal
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from studio import solving
from studio.cli import buying
from studio.cli.main import main
from studio.core.buying.gtin import check_digit
from studio.core.buying.together import Questions, Together
from studio.core.model import Claim, ClaimKind, Studio
from studio.storage.read import load_studio
from tests.bench.bench_buying import make_studio

TODAY = date(2026, 11, 25)
DAMSON = "damson-hedge-throw"
PLACED = "dyehouse-2026-11-25"
MILL_PARCEL = "2026-11-mill-parcel"

# fmt: off
PLAN_KEYS = [
    "format", "studio", "currency", "day", "pieces", "not_to_be_had", "late", "orders", "goods",
    "shipping", "landed", "beyond_need_worth", "net", "proved", "gap", "stopped",
    "each_at_its_cheapest", "runner_up", "one_supplier", "near", "moves", "moves_save",
    "every_way_tried", "if_holds_moved", "offer_problems", "holds_moved", "placed", "not_waiting",
    "papers",
]
ORDER_KEYS = [
    "supplier", "name", "arrives", "goods", "shipping", "shipping_free", "landed", "lines",
]
LINE_KEYS = [
    "yarn", "shade", "balls", "packs", "pack", "ball_price", "cost", "beyond_need_balls",
    "beyond_need_worth", "for",
]
NEED_KEYS = ["project", "yarn", "shade", "need_g", "need_by", "runs"]
PARCEL_KEYS = [
    "format", "currency", "purchase", "on", "shipping", "tax", "shared_by", "lots",
    "several_lots", "other_prices", "dearer_yarns", "pieces", "still_to_come", "notes",
    "promised_short", "done",
]
STAPLE_KEYS = [
    "yarn", "shade", "name", "year_balls", "month_spread_balls", "uses", "since", "free_balls",
    "on_order_balls", "reorder_point_balls", "lead_use_balls", "safety_balls", "order_balls",
    "ball_price", "supplier", "reorder", "text",
]
# fmt: on


YARN = """format = 1
name = "Harbour"
category = 4
ball_g = 50
shade = [
    { code = "1", name = "Moss", colour = "#607040", barcodes = ["6291041500213"] },
    { code = "2", name = "Tide", colour = "#2f6f73" },
]
[fibres]
wool = 100
"""

MILL = """format = 1
name = "The mill"
currency = "EUR"
lead_days = 9
shipping = 4.90
offer = [
    { yarn = "harbour", price = [{ from = 1, price = 5.00 }, { from = 10, price = 4.00 }] },
]
"""

WRAP = """format = 1
name = "River wrap"
stage = "booked"
booked = 2026-11-20
due = 2027-03-12
stitch = "single-crochet"
hook_mm = 5
method = "by hand"
minutes = 60
stripe = [
    { slot = "A", rows = 8, grams = 200 },
    { slot = "B", rows = 2, grams = 40 },
    { slot = "A", rows = 8, grams = 240 },
]
[size]
width = "100 cm"
length = "100 cm"
[slots.A]
yarn = "harbour"
shade = "1"
[slots.B]
yarn = "harbour"
shade = "2"
"""


@pytest.fixture
def small(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A small studio."""
    folder = small_studio(tmp_path / "small")
    capsys.readouterr()
    return folder


def small_studio(folder: Path) -> Path:
    """A booked wrap that needs 440 g of one shade, 40 g of another, and one supplier."""
    assert main(["new", "studio", str(folder), "--name", "Small"]) == 0
    write(folder, "yarns/harbour.toml", YARN)
    write(folder, "suppliers/mill.toml", MILL)
    write(folder, "projects/wrap.toml", WRAP)
    return folder


def write(folder: Path, file: str, text: str) -> None:
    (folder / file).parent.mkdir(exist_ok=True)
    (folder / file).write_text(text, encoding="utf-8")


def read(folder: Path) -> Studio:
    loaded = load_studio(folder)
    assert loaded.problems == ()
    return loaded.studio


def files(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def run(*words: str | Path) -> int:
    return main([str(w) for w in words])


def answer(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    assert run(*words, "--json") in (0, 1)
    return json.loads(capsys.readouterr().out)


def text_of(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    """What is printed, as one line of words."""
    run(*words)
    return " ".join(capsys.readouterr().out.split())


def trouble(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    assert run(*words) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err.strip()


# The plan


def test_the_plan_of_the_demo_as_a_document_changes_no_file(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(demo)
    found = answer(capsys, "buy", demo)
    assert list(found) == PLAN_KEYS
    # Three balls of Damson at the dyehouse: 3 x 7.40 and a parcel of 300 g at 4.90.
    (order,) = found["orders"]
    assert list(order) == ORDER_KEYS
    assert (order["supplier"], order["goods"], order["shipping"]) == ("dyehouse", "22.20", "4.90")
    assert (order["landed"], order["arrives"]) == ("27.10", "2026-12-04")
    assert (found["landed"], found["proved"], found["gap"]) == ("27.10", True, 0.0)
    (line,) = order["lines"]
    assert list(line) == LINE_KEYS
    assert (line["yarn"], line["shade"], line["balls"]) == ("fenlight", "15", 3)
    (need,) = line["for"]
    assert list(need) == [*NEED_KEYS, "cost"]
    assert (need["project"], need["runs"]) == (DAMSON, ["stripe 13", "stripe 19"])
    assert found["runner_up"]["orders"][0]["name"] == "the wholesaler"
    assert Decimal(found["runner_up"]["dearer"]) > 0
    assert found["placed"] == found["papers"] == []
    assert files(demo) == before


def test_sums_tie_over_lines_orders_and_needs(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stages = ("--stage", "held", "--stage", "quoted", "--stage", "idea")
    found = answer(capsys, "buy", demo, *stages)
    for order in found["orders"]:
        assert sum(Decimal(n["cost"]) for n in order["lines"]) == Decimal(order["goods"])
        for line in order["lines"]:
            assert sum(Decimal(n["cost"]) for n in line["for"]) == Decimal(line["cost"])
            assert line["balls"] == line["packs"] * line["pack"]
    assert sum(Decimal(o["landed"]) for o in found["orders"]) == Decimal(found["landed"])
    assert Decimal(found["goods"]) + Decimal(found["shipping"]) == Decimal(found["landed"])
    # What is short is what `check` says is short.
    short = {(s["yarn"], s["shade"]): s for s in answer(capsys, "check", demo)["shortfalls"]}
    for order in found["orders"]:
        for line in order["lines"]:
            asked = short[line["yarn"], line["shade"]]["with_ideas_balls"]
            assert line["balls"] - line["beyond_need_balls"] == asked


def test_what_cannot_be_had_is_said_first(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("buy", demo, "--stage", "idea") == 1
    out = capsys.readouterr().out
    head, rest = out.split("Not to be had, or not in time", 1)
    assert len(head.splitlines()) == 2  # its title and an empty line
    assert "Last of the tweed waits for it" in " ".join(rest.split())
    found = answer(capsys, "buy", demo, "--project", "Last of the tweed")
    assert {n["project"] for n in found["not_to_be_had"]} == {"last-of-the-tweed"}
    assert found["orders"] == []


def test_the_orders_in_words_narrow_and_wide(
    demo: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns in ("80", "160"):
        monkeypatch.setenv("COLUMNS", columns)
        assert run("buy", demo) == 0
        out = capsys.readouterr().out
        assert max(len(line) for line in out.splitlines()) <= int(columns)
        told = " ".join(out.split())
        assert "27.10 EUR, proved: nothing is cheaper" in told
        assert "Damson hedge throw, stripes 13 and 19: 235 g, 22.20 EUR" in told
        assert "All from the wholesaler: 73.90 EUR" in told


def test_a_shade_just_under_a_break_is_bought_up_to_it(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # 440 g are 9 balls: 9 x 5.00 = 45.00, but 10 x 4.00 = 40.00. Tide: 1 x 5.00.
    found = answer(capsys, "buy", small)
    lines = {n["shade"]: n for n in found["orders"][0]["lines"]}
    assert (lines["1"]["balls"], lines["1"]["cost"]) == (10, "40.00")
    assert lines["1"]["beyond_need_balls"] == 1
    assert (lines["2"]["balls"], lines["2"]["cost"]) == (1, "5.00")
    assert found["landed"] == "49.90"


def test_what_stands_near_free_shipping_is_told(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # Goods of 45.00 and 4.90 shipping; one ball more at 5.00 makes 50.00 and ships free.
    free = MILL.replace("shipping = 4.90", "shipping = 4.90\nfree_from = 50")
    write(small, "suppliers/mill.toml", free)
    (near,) = answer(capsys, "buy", small)["near"]
    assert (near["reaches"], near["shade"], near["more_balls"]) == ("free shipping", "2", 1)
    assert (near["adds"], near["listed"], near["saves"]) == ("0.10", "5.00", "4.90")
    assert "reaches free shipping" in text_of(capsys, "buy", small)


LOT = """format = 1
[[lot]]
shade = "1"
code = "9"
batch = [{ balls = 6, price = 5.00 }]
"""


@pytest.fixture
def held(small: Path) -> Path:
    """A studio in which a move of holds is offered."""
    return with_an_offer(small)


def with_an_offer(small: Path) -> Path:
    """The wrap's 100 g are held in a lot of 300 g, which would work the throw's 300 g.

    Then two balls are bought for the wrap instead of six for the throw.
    """
    stripes = WRAP[WRAP.index("stripe = [") : WRAP.index("[size]")]
    held = 'stripe = [{ slot = "A", rows = 8, grams = 100, hold = "9" }]\n'
    write(small, "stash/harbour.toml", LOT)
    write(small, "projects/wrap.toml", WRAP.replace(stripes, held))
    whole = held.replace("100", "300").replace(', hold = "9"', "")
    write(small, "projects/throw.toml",
          WRAP.replace(stripes, whole).replace("River wrap", "Throw"))  # fmt: skip
    return small


WRAP_MOVES = {"project": "wrap", "run": "stripe 1", "part": 0, "from": "9", "to": "buy"}


def test_moves_of_holds_are_offered_and_not_made(
    held: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(held)
    found = answer(capsys, "buy", held)
    assert found["landed"] == "34.90"
    offer = found["if_holds_moved"]
    assert (offer["saves"], offer["landed"]) == ("20.00", "14.90")
    assert WRAP_MOVES in offer["moves"]
    assert [(n["shade"], n["balls"]) for n in offer["orders"][0]["lines"]] == [("1", 2)]
    assert found["holds_moved"] == []
    told = text_of(capsys, "buy", held)
    assert "saves 20.00 EUR. It is only offered" in told
    assert "River wrap, stripe 1: from lot 9 to new yarn" in told
    assert "Order from The mill: 2 balls of Harbour Moss, 14.90 EUR." in told
    assert files(held) == before


def test_placing_alone_moves_no_hold(held: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "buy", held, "--place")
    assert (found["holds_moved"], len(found["placed"])) == ([], 1)
    after = read(held)
    assert after.project["wrap"].stripes[0].claim == Claim(ClaimKind.HOLD, "9")
    assert [n.balls for n in after.stash.purchases[0].lines] == [6]


def test_the_offered_move_is_shown_in_full_and_changes_nothing_without_placing(
    held: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(held)
    found = answer(capsys, "buy", held, "--move-holds")
    assert (found["landed"], found["moves_save"], found["proved"]) == ("14.90", "20.00", True)
    (line,) = found["orders"][0]["lines"]
    assert (line["balls"], [n["project"] for n in line["for"]]) == (2, ["wrap"])
    assert WRAP_MOVES in found["moves"]
    assert found["holds_moved"] == found["placed"] == []
    # The plan with the holds where they are is the next one; what is said of both ties.
    assert (found["runner_up"]["landed"], found["runner_up"]["dearer"]) == ("34.90", "20.00")
    told = text_of(capsys, "buy", held, "--move-holds")
    assert "with holds moved: 14.90 EUR, proved" in told
    assert "with --place they do River wrap, stripe 1: from lot 9 to new yarn." in told
    assert files(held) == before


def test_the_offered_move_is_made_with_its_orders_in_one_step(
    held: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = held.parent / "papers"
    words = ("buy", held, "--move-holds", "--place", "--papers", out, "--form", "csv")
    found = answer(capsys, *words)
    assert found["holds_moved"] == [WRAP_MOVES]
    (key,) = found["placed"]
    after = read(held)
    assert [(n.shade, n.balls) for n in after.stash.purchase[key].lines] == [("1", 2)]
    assert after.project["wrap"].stripes[0].claim == Claim(ClaimKind.ORDER, key)
    (paper,) = out.glob("*.csv")
    assert [r["Balls"] for r in csv.DictReader(paper.read_text("utf-8-sig").splitlines())] == ["2"]
    # Nobody is left without yarn, and nothing more is short or offered.
    pieces = {p["file"]: p["runs"] for p in answer(capsys, "check", held)["projects"]}
    covers = {f.rpartition("/")[2]: [r["cover"] for r in runs] for f, runs in pieces.items()}
    assert covers == {"wrap.toml": ["on order"], "throw.toml": ["stash"]}
    again = answer(capsys, "buy", held)
    assert (again["orders"], again["if_holds_moved"]) == ([], None)
    # The files as they were are kept, as after every save.
    assert any("wrap" in str(p) for p in (held / ".history").rglob("*.toml*"))


def test_a_move_of_holds_that_spares_the_purchase_orders_nothing(
    held: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # A lot of 150 g would do for the wrap, and frees its own for the throw.
    spare = LOT + '[[lot]]\nshade = "1"\ncode = "8"\nbatch = [{ balls = 3, price = 5.00 }]\n'
    write(held, "stash/harbour.toml", spare)
    assert answer(capsys, "buy", held)["if_holds_moved"]["landed"] == "0.00"
    told = text_of(capsys, "buy", held, "--move-holds", "--place", "--papers", held / "out")
    assert "With these holds moved there is nothing to buy." in told
    assert "Holds moved River wrap, stripe 1: from lot 9 to lot 8." in told
    after = read(held)
    assert after.project["wrap"].stripes[0].claim == Claim(ClaimKind.HOLD, "8")
    assert after.stash.purchases == ()
    assert not (held / "out").exists()
    assert not answer(capsys, "check", held)["promised_short"]


def test_where_no_move_is_offered_nothing_is_ordered_either(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(small)
    told = trouble(capsys, "buy", small, "--move-holds", "--place")
    assert "No move of holds is offered" in told
    assert files(small) == before


def test_a_search_cut_short_says_that_moves_were_not_looked_at(
    held: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(held)
    told = trouble(capsys, "buy", held, "--move-holds", "--place", "--limit", "0")
    assert "give it more time with --limit" in told
    assert files(held) == before


def test_nothing_short(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (small / "projects" / "wrap.toml").unlink()
    before = files(small)
    assert run("buy", small, "--place", "--papers", small.parent / "papers") == 0
    assert "there is nothing to buy" in capsys.readouterr().out
    found = answer(capsys, "buy", small)
    assert (found["orders"], found["landed"], found["net"]) == ([], "0.00", "0.00")
    assert files(small) == before
    assert not (small.parent / "papers").exists()


def test_a_supplier_without_lead_time_is_named_and_left_out(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(small, "suppliers/slow.toml", MILL.replace("lead_days = 9\n", "").replace("5.00", "1.00")
          .replace("4.00", "1.00").replace("The mill", "Slow answers"))  # fmt: skip
    # The file says too little to be used, which is a file that needs her.
    assert run("buy", small, "--json") == 2
    found = json.loads(capsys.readouterr().out)
    assert [o["supplier"] for o in found["orders"]] == ["mill"]
    assert any("Slow answers has no lead time" in text for text in found["offer_problems"])
    # Such a file was read, so that an order can be placed all the same.
    assert run("buy", small, "--place") == 2
    assert "suppliers/slow.toml needs you" in capsys.readouterr().err
    assert len(load_studio(small).studio.stash.purchases) == 1


def test_a_day_before_any_delivery_is_said_with_its_lateness(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(small, "projects/wrap.toml", WRAP.replace("2027-03-12", "2026-11-28"))
    assert run("buy", small) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "River wrap waits for Harbour Moss, which The mill delivers on 4 Dec 2026" in told
    found = answer(capsys, "buy", small)
    assert {n["shade"] for n in found["late"]} == {"1", "2"}
    for late in found["late"]:
        assert list(late) == [*NEED_KEYS, "arrives", "late_days", "text"]
        behind = date.fromisoformat(late["arrives"]) - date.fromisoformat(late["need_by"])
        assert late["late_days"] == behind.days > 0
    # It is bought all the same, where it comes first.
    assert found["landed"] == "49.90"


def test_a_shade_nobody_stocks(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one_shade = MILL.replace('yarn = "harbour",', 'yarn = "harbour", shades = ["1"],')
    write(small, "suppliers/mill.toml", one_shade)
    assert run("buy", small) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "No supplier stocks Harbour Tide" in told
    assert "River wrap waits for it." in told


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--project", "river wrp"], "Did you mean 'river wrap'?"),
        (["--limit", "soon"], "--limit is 'soon'"),
        (["--limit", "-1"], "0 or more"),
        (["--form", "csv"], "--papers"),
    ],
)
def test_words_that_make_no_sense(
    small: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert told in trouble(capsys, "buy", small, *words)


def test_no_yarn_is_bought_for_a_piece_that_is_over(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(small, "projects/wrap.toml", WRAP.replace('"booked"', '"delivered"', 1))
    assert "no yarn is bought for it" in trouble(capsys, "buy", small, "--project", "wrap")


def test_a_broken_file_wins(small: Path) -> None:
    write(small, "projects/half.toml", 'name = "half')
    assert run("buy", small) == 2
    assert run("receive", "-f", small) == 2
    assert run("staples", small) == 2


def test_nothing_is_ordered_while_a_file_is_left_out(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write(small, "stash/harbour.toml", "lot = [")
    before = files(small)
    told = trouble(capsys, "buy", small, "--place")
    assert "stash/harbour.toml could not be read" in told
    assert files(small) == before


def test_no_time_at_all_gives_the_first_plan(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = answer(capsys, "buy", small, "--limit", "0")
    assert found["stopped"]
    assert not found["proved"]
    assert [o["supplier"] for o in found["orders"]] == ["mill"]


# Cancelling


@pytest.fixture
def children(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[solving.Child]]:
    """Every solver process that is started."""
    started: list[solving.Child] = []
    begin = solving.Child.__init__

    def noted(child: solving.Child, *words: Any) -> None:
        begin(child, *words)
        started.append(child)

    monkeypatch.setattr(solving.Child, "__init__", noted)
    yield started
    for child in started:
        child.process.kill()


@pytest.mark.usefixtures("ctrl_c")
def test_ctrl_c_ends_the_search_and_its_process_and_changes_nothing(
    small: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    children: list[solving.Child],
) -> None:
    # Asked at every turn of the wait: the signal arrives in the middle of the search.
    monkeypatch.setattr(buying._Looking, "over", lambda _: signal.raise_signal(signal.SIGINT))
    before = files(small)
    assert run("buy", small, "--place", "--papers", small / "out") == 130
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "stripewright: Cancelled: nothing is changed.\n"
    assert files(small) == before
    (child,) = children
    assert child.process.poll() is not None


@pytest.mark.usefixtures("ctrl_c")
def test_ctrl_c_while_files_are_written_does_not_leave_half(
    small: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    place = buying._place

    def disturbed(*words: Any) -> Any:
        signal.raise_signal(signal.SIGINT)
        return place(*words)

    monkeypatch.setattr(buying, "_place", disturbed)
    assert run("buy", small, "--place") == 0
    assert "On order as mill-2026-11-25" in capsys.readouterr().out
    assert list(read(small).stash.purchase) == ["mill-2026-11-25"]


def test_a_solver_process_ends_when_its_parent_is_gone() -> None:
    # However the command ended, killed or with its terminal closed: it answers nobody any more.
    replies: queue.Queue[tuple[solving.Child, Any]] = queue.Queue()
    child = solving.Child(replies)
    problem = make_studio(1)
    child.ask(1, Questions(problem, problem, None, frozenset(), complete=True), None)
    assert child.process.stdin is not None
    child.process.stdin.close()
    assert child.process.wait(timeout=20) == 0
    told = [message for _, message in iter(lambda: replies.get(timeout=5), (child, None))]
    assert not [m for m in told if isinstance(m[1], Together)]


# Placing and papers


def test_placed_orders_cover_what_was_short(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert answer(capsys, "check", demo)["promised_short"]
    found = answer(capsys, "buy", demo, "--place")
    assert found["placed"] == [PLACED]
    purchase = read(demo).stash.purchase[PLACED]
    assert (purchase.ordered, purchase.arrives) == (TODAY, date(2026, 12, 4))
    assert [(n.yarn, n.shade, n.balls) for n in purchase.lines] == [("fenlight", "15", 3)]
    after = answer(capsys, "check", demo)
    assert not after["promised_short"]
    piece = next(p for p in after["projects"] if p["file"].endswith(f"{DAMSON}.toml"))
    assert {r["cover"] for r in piece["runs"] if r["lot"] == PLACED} == {"on order"}
    assert answer(capsys, "buy", demo)["orders"] == []


def test_papers_are_written_in_the_forms_asked_for(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = small.parent / "papers"
    assert run("buy", small, "--papers", out, "--form", "csv", "--form", "text") == 0
    assert {p.suffix for p in out.iterdir()} == {".csv", ".txt"}
    (table,) = out.glob("*.csv")
    assert str(table) in capsys.readouterr().out.replace("\n", "")
    rows = list(csv.DictReader(table.read_text(encoding="utf-8-sig").splitlines()))
    assert {(r["Code"], r["Balls"]) for r in rows} == {("1", "10"), ("2", "1")}
    (text,) = out.glob("*.txt")
    assert "one dye lot" in text.read_text(encoding="utf-8")
    assert "River wrap" not in text.read_text(encoding="utf-8")
    assert read(small).stash.purchases == ()


def test_papers_that_cannot_be_written_leave_nothing_ordered(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (small.parent / "taken").write_text("a file, no folder")
    before = files(small)
    told = trouble(capsys, "buy", small, "--place", "--papers", small.parent / "taken")
    assert "could not be written" in told
    assert files(small) == before


# The parcel


def placed(small: Path, capsys: pytest.CaptureFixture[str]) -> str:
    assert run("buy", small, "--place") == 0
    capsys.readouterr()
    (key,) = read(small).stash.purchase
    return key


def test_what_is_on_order_is_listed_with_who_waits(
    demo: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("receive", "-f", demo) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"{MILL_PARCEL}: the dyehouse, ordered 16 Nov 2026, there by 1 Dec 2026" in told
    found = answer(capsys, "receive", "-f", demo)
    assert [p["arrives"] for p in found["purchases"]] == sorted(
        p["arrives"] for p in found["purchases"]
    )
    parcel = next(p for p in found["purchases"] if p["purchase"] == MILL_PARCEL)
    assert parcel["lines"][0]["projects"] == ["barley-drill-runner"]
    monkeypatch.setattr("studio.clock.today", lambda: date(2026, 12, 2))
    assert run("receive", "-f", demo) == 1
    assert "(overdue)" in capsys.readouterr().out


def test_a_parcel_with_two_dye_lots_is_told_then_received(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bags = ("--bag", "Sloe", "LX", "1", "--bag", "Withyspun Sloe", "LY", "1")
    words = ("receive", MILL_PARCEL, "-f", demo, *bags, "--shipping", "0")
    before = files(demo)
    found = answer(capsys, *words)
    assert list(found) == PARCEL_KEYS
    assert not found["done"]
    assert found["several_lots"] == [{"yarn": "withyspun", "shade": "74"}]
    assert [(n["lot"], n["batches"][0]["ball_landed"]) for n in found["lots"]] == [
        ("LX", "4.60"),
        ("LY", "4.60"),
    ]
    assert found["still_to_come"] == [{"yarn": "withyspun", "shade": "61", "balls": 4}]
    (piece,) = found["pieces"]
    assert (piece["project"], piece["runs"]) == ("barley-drill-runner", ["border"])
    assert (piece["state"], piece["lot"]) == ("held", "LX")
    assert "puts it on the shelf" in text_of(capsys, *words)
    assert files(demo) == before

    assert "2 lots on the shelf" in text_of(capsys, *words, "--put")
    after = read(demo)
    border = after.project["barley-drill-runner"].border
    assert border is not None
    assert border.claim == Claim(ClaimKind.HOLD, "LX")
    assert {n.code for n in after.stash.lots if n.shade == "74"} >= {"LX", "LY"}
    assert [(n.shade, n.balls) for n in after.stash.purchase[MILL_PARCEL].lines] == [("61", 4)]


def test_a_dearer_parcel_is_told_and_its_price_taken_where_that_is_asked(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("receive", MILL_PARCEL, "-f", demo, "--bag", "Sloe", "LX", "2", "--price", "Sloe", "5")
    told = " ".join(text_of(capsys, *words).split())
    assert "A ball of Withyspun cost 5.00; your own price of it is 4.60" in told
    found = answer(capsys, *words)["dearer_yarns"]
    assert found == [{"yarn": "withyspun", "own_price": "4.60", "paid": "5.00"}]
    run(*words, "--put")
    assert read(demo).library.yarn["withyspun"].price == Decimal("4.60")
    run("receive", MILL_PARCEL, "-f", demo, "--bag", "Barley straw", "LY", "4",
        "--price", "Barley straw", "5.10", "--put", "--take-prices")  # fmt: skip
    assert read(demo).library.yarn["withyspun"].price == Decimal("5.10")


def test_an_ordered_shade_comes_in_two_lots_that_do_not_fit(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = placed(small, capsys)
    bags = ("--bag", "Moss", "7", "5", "--bag", "Moss", "8", "3", "--all", "Tide", "3")
    words = ("receive", key, "-f", small, *bags, "--no-rest", "--put")
    # Stripe 1 takes 200 g of lot 7; its last ball and three of lot 8 are no 240 g of one lot.
    assert run(*words) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "River wrap, stripe 3: short of Harbour Moss again" in told
    assert "Something promised is short" in told
    assert read(small).stash.purchases == ()
    assert answer(capsys, "buy", small)["orders"][0]["lines"][0]["shade"] == "1"


def test_the_landed_price_has_its_share_of_shipping_and_tax(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = placed(small, capsys)
    # 10 x 4.40 and 1 x 6.00 make 50.00: of 5.00 shipping 4.40 and 0.60, of 10.00 tax 8.80 and 1.20.
    words = ["receive", key, "-f", str(small), "--all", "moss", "7", "--all", "tide", "3"]
    words += ["--price", "moss", "4.40", "--price", "tide", "6", "--shipping", "5", "--tax", "10"]
    found = answer(capsys, *words)
    landed = {n["shade"]: n["batches"] for n in found["lots"]}
    (batch,) = landed["1"]
    assert (batch["balls"], batch["ball_price"], batch["ball_shipping"]) == (10, "5.28", "0.44")
    assert batch["ball_landed"] == "5.72"
    (batch,) = landed["2"]
    assert (batch["ball_price"], batch["ball_shipping"]) == ("7.20", "0.60")
    assert [(c["ordered"], c["paid"]) for c in found["other_prices"]] == [
        ("4.00", "4.40"),
        ("5.00", "6"),
    ]
    assert (found["still_to_come"], found["promised_short"]) == ([], False)
    assert run(*words, "--put") == 0


def test_damaged_and_wrong_bags_are_not_shelved(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    key = placed(small, capsys)
    write(small, "yarns/other.toml", YARN.replace("Harbour", "Heath").replace("6291041500213", ""
          ).replace(', barcodes = [""]', ""))  # fmt: skip
    bags = ["--bag", "harbour moss", "7", "8", "--damaged", "harbour/1", "7", "2"]
    bags += ["--wrong", "heath tide", "3", "--rest-arrives", "2026-12-20"]
    found = answer(capsys, "receive", key, "-f", small, *bags, "--put")
    assert [(n["shade"], n["balls"]) for n in found["still_to_come"]] == [("1", 2), ("2", 1)]
    assert any("Damaged" in note for note in found["notes"])
    assert any("Not ordered" in note for note in found["notes"])
    after = read(small)
    assert [(n.code, n.balls) for n in after.stash.lots] == [("7", 8)]
    assert after.stash.purchase[key].arrives == date(2026, 12, 20)


def test_a_barcode_stands_for_its_shade(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # The worked example of gs1.org/how-calculate-check-digit-manually.
    key = placed(small, capsys)
    words = ("receive", key, "-f", small, "--bag")
    found = answer(capsys, *words, "6291041500213", "7", "10")
    assert [(n["shade"], n["lot"]) for n in found["lots"]] == [("1", "7")]
    told = trouble(capsys, *words, "6291041500214", "7", "10")
    assert "its last digit would be 3" in told
    other = f"400000000000{check_digit('400000000000')}"
    assert "no shade has it" in trouble(capsys, *words, other, "7", "10")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--bag", "moss", "7", "12"], "10 balls of Harbour Moss are still to come and 12"),
        (["--bag", "moss", "7", "six"], "number of balls"),
        (["--bag", "moss", "7", "0"], "1 or more"),
        (["--bag", "puce", "7", "1"], "No shade is called puce"),
        (["--bag", "moss", "", "1"], "Type the dye lot"),
        (["--bag", "moss", "7", "10", "--all", "moss", "7"], "nothing more of moss"),
        (["--bag", "moss", "7", "1", "--price", "moss", "4.405"], "4.405"),
        (["--bag", "moss", "7", "1", "--shipping", "much"], "--shipping is 'much'"),
        (["--bag", "moss", "7", "1", "--shipping", "1e400"], "the most is 1,000,000,000"),
        (["--bag", "moss", "7", "1", "--on", "today"], "year-month-day"),
        ([], "Nothing is typed in"),
    ],
)
def test_a_parcel_that_cannot_be_leaves_everything_as_it_was(
    small: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    key = placed(small, capsys)
    before = files(small)
    assert told in trouble(capsys, "receive", key, "-f", small, *words, "--put")
    assert files(small) == before


def test_a_purchase_is_found_by_its_supplier_or_named_nearly(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = trouble(capsys, "receive", "mill", "-f", small)
    assert "nothing is on order" in told
    key = placed(small, capsys)
    assert answer(capsys, "receive", "the mill", "-f", small, "--all", "moss", "7")
    told = trouble(capsys, "receive", "mill-2026-11-26", "-f", small)
    assert f"Did you mean '{key}'?" in told
    assert "Of which purchase?" in trouble(
        capsys, "receive", "-f", small, "--bag", "moss", "7", "1"
    )


def test_bags_typed_on_the_screen_are_counted_in(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from studio.core import edits
    from studio.core.buying.delivery import Bag, Delivery
    from studio.workshop import Workshop

    key = placed(small, capsys)
    workshop = Workshop.open(small)
    typed = Delivery(key, TODAY, (Bag("harbour", "1", "7", 6),), Decimal("3.10"))
    workshop.do("typed", lambda s: edits.set_parcel(s, typed))
    workshop.save()
    found = answer(capsys, "receive", key, "-f", small, "--all", "moss", "8")
    assert {n["lot"]: sum(b["balls"] for b in n["batches"]) for n in found["lots"]} == {
        "7": 6,
        "8": 4,
    }
    assert found["shipping"] == "3.10"


def test_what_is_typed_on_the_screen_of_the_parcel_stands_where_the_line_does_not_say_it(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from studio.core import edits
    from studio.core.buying.delivery import Bag, Delivery, ShareBy
    from studio.workshop import Workshop

    key = placed(small, capsys)
    workshop = Workshop.open(small)
    typed = Delivery(
        key, TODAY, (Bag("harbour", "1", "7", 6),), share_by=ShareBy.WEIGHT, rest_comes=False
    )
    workshop.do("typed", lambda s: edits.set_parcel(s, typed))
    workshop.save()
    words = ("receive", key, "-f", small, "--all", "tide", "8")
    found = answer(capsys, *words)
    assert (found["shared_by"], found["still_to_come"]) == ("weight", [])
    found = answer(capsys, *words, "--share", "value", "--rest-arrives", "2026-12-20")
    assert found["shared_by"] == "value"
    assert [(n["shade"], n["balls"]) for n in found["still_to_come"]] == [("1", 4)]


# What is always kept


def test_staples_of_the_demo(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "staples", demo)
    told = text_of(capsys, "staples", demo)
    assert found["staples"]
    for line in found["staples"]:
        assert list(line) == STAPLE_KEYS
        assert line["name"] in told
        if line["reorder"]:
            have = line["free_balls"] + line["on_order_balls"]
            assert have <= line["reorder_point_balls"]
    due = any(line["reorder"] for line in found["staples"])
    assert run("staples", demo) == (1 if due else 0)


def test_a_staple_is_ordered_for_the_shelf(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def night() -> dict[str, Any]:
        lines = answer(capsys, "staples", demo)["staples"]
        return next(n for n in lines if n["shade"] == "34")

    before, untouched = night(), files(demo)
    assert before["reorder"]
    assert "there by 9 Dec 2026" in text_of(capsys, "staples", demo, "--order", "Nightfall")
    # Ten balls are two packs of five at 6.60; the parcel of 1 kg costs 7.90.
    few = answer(capsys, "staples", demo, "--order", "34", "--balls", "7")
    assert (few["lines"][0]["balls"], few["landed"], few["placed"]) == (10, "73.90", [])
    assert files(demo) == untouched
    words = ("staples", demo, "--order", "Nightfall", "--place")
    placed = answer(capsys, *words, "--papers", demo / "out", "--form", "csv")
    assert (placed["placed"], len(placed["papers"])) == (["wholesaler-2026-11-25"], 1)
    after = night()
    # On the shelf is what was there; what was ordered is told by itself.
    assert after["free_balls"] == before["free_balls"]
    assert after["on_order_balls"] == before["on_order_balls"] + before["order_balls"]
    assert not after["reorder"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--order", "Damson"], "is not marked as a staple"),
        (["--order", "puce"], "No shade is called puce"),
        (["--order", "Nightfall", "--balls", "0"], "how many balls"),
        (["--order", "Nightfall", "--balls", "1.5"], "how many balls"),
        (["--order", "Nightfall", "--balls", "1e30"], "the most is 1,000,000,000"),
        (["--order", "Nightfall", "--balls", "1"], "takes orders from 60.00 EUR"),
        (["--place"], "Which staple?"),
    ],
)
def test_an_order_for_the_shelf_that_cannot_be(
    demo: Path, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    before = files(demo)
    assert told in trouble(capsys, "staples", demo, *words)
    assert files(demo) == before


def test_no_staple_and_one_with_too_few_uses(
    small: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("staples", small) == 0
    assert "No shade is marked as a staple" in capsys.readouterr().out
    marked = YARN.replace('name = "Tide",', 'name = "Tide", staple = true,')
    write(small, "yarns/harbour.toml", marked)
    (line,) = answer(capsys, "staples", small)["staples"]
    assert (line["year_balls"], line["reorder"]) == (None, False)
    assert "told from 8 uses on" in line["text"]
