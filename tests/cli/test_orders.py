"""`enquire`, `orders`, `quote` and `book`: statuses, documents, papers, and what is written."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from studio.cli.main import main
from studio.core import say
from studio.core.model import ClaimKind, Stage, Studio
from studio.storage.read import load_studio

DEMO = Path(__file__).parents[2] / "projects" / "demo"
TODAY = date(2026, 11, 25)
QUOTED = "gull-and-shingle"

# fmt: off
ENQUIRY_KEYS = [
    "format", "currency", "project", "name", "stage", "customer", "due", "width_cm", "length_cm",
    "asked_width_cm", "asked_length_cm", "runs", "shades", "balls_to_buy", "material_used",
    "material_cash", "takes_from", "price", "no_price", "drift", "promise", "ready", "late_days",
    "weeks", "makes_late", "if_holds_moved", "if_lots_by_stripe", "findings",
]
PRICE_KEYS = [
    "shown", "by_hand", "wanted_margin", "wanted_per_hour", "without_tax", "tax", "total",
    "deposit", "balance", "margin", "margin_share", "per_hour", "minutes", "minutes_rough",
    "charged", "leaves", "parts", "a_tenth_dearer", "rules_of_thumb", "parcel_g", "assumed",
]
BOOK_KEYS = [
    "format", "studio", "currency", "orders", "totals", "findings", "weeks", "hand_order",
    "hand_order_cost",
]
ORDER_KEYS = [
    "project", "name", "section", "stage", "since", "customer", "due", "done_by", "ready",
    "late_days", "latest_start", "behind_min", "total", "deposit", "deposit_paid", "received",
    "outstanding", "expired", "from_stock",
]
TOTAL_KEYS = [
    "held", "late", "agreed", "received", "outstanding", "in_stock", "in_stock_price",
    "to_give_back",
]
# fmt: on


def read(folder: Path) -> Studio:
    return load_studio(folder).studio


def files(folder: Path) -> dict[str, bytes]:
    return {str(p): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def answer(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    main([*(str(w) for w in words), "--json"])
    return json.loads(capsys.readouterr().out)


def trouble(capsys: pytest.CaptureFixture[str], *words: str | Path) -> str:
    assert main([str(w) for w in words]) == 3
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    return err.strip()


def test_the_documents_hold_their_keys_and_asking_changes_no_file(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(demo)
    found = answer(capsys, "enquire", QUOTED, "-f", demo)
    assert list(found) == ENQUIRY_KEYS
    assert list(found["price"]) == PRICE_KEYS
    book = answer(capsys, "orders", demo)
    assert list(book) == BOOK_KEYS
    assert list(book["totals"]) == TOTAL_KEYS
    assert all(list(row) == ORDER_KEYS for row in book["orders"])
    held = [r for r in book["orders"] if r["section"] == "promised and in hand"]
    assert book["totals"]["held"] == len(held) > 0
    assert {p["project"] for w in book["weeks"] for p in w["pieces"]} <= {
        r["project"] for r in held
    }
    assert files(demo) == before


def test_the_lines_of_the_price_add_up(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    price = answer(capsys, "enquire", QUOTED, "-f", demo)["price"]
    assert sum(Decimal(n["amount"]) for n in price["charged"]) == Decimal(price["total"])
    assert sum(Decimal(n["amount"]) for n in price["leaves"]) == Decimal(price["margin"])
    assert sum(Decimal(n["amount"]) for n in price["parts"]) == Decimal(price["total"])
    assert Decimal(price["deposit"]) + Decimal(price["balance"]) == Decimal(price["total"])


def test_the_price_is_found_in_both_directions(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    wanted = answer(capsys, "enquire", QUOTED, "-f", demo, "--hourly", "21")["price"]
    assert Decimal(wanted["per_hour"]) >= 21
    back = answer(capsys, "enquire", QUOTED, "-f", demo, "--price", wanted["shown"])["price"]
    assert back["by_hand"]
    assert back["per_hour"] == wanted["per_hour"]
    assert back["total"] == wanted["total"]
    margin = answer(capsys, "enquire", QUOTED, "-f", demo, "--margin", "25 %")["price"]
    assert margin["margin_share"] >= 0.25


def test_size_shades_and_day_are_tried(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    whole = answer(capsys, "enquire", QUOTED, "-f", demo)
    words = ("--size", "90x120cm", "--slot", "D=osierwold/230", "--due", "2027-06-01")
    small = answer(capsys, "enquire", QUOTED, "-f", demo, *words)
    assert (small["asked_width_cm"], small["asked_length_cm"]) == (90.0, 120.0)
    assert small["due"] == "2027-06-01"
    assert {r["shade"] for r in small["runs"] if r["slot"] == "D"} == {"230"}
    assert sum(r["rows"] for r in small["runs"]) < sum(r["rows"] for r in whole["runs"])
    assert Decimal(small["price"]["shown"]) < Decimal(whole["price"]["shown"])


def test_a_booked_design_is_tried_as_a_fresh_piece(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = answer(capsys, "enquire", "damson-hedge-throw", "-f", demo)
    assert found["project"] is None
    assert found["stage"] == "idea"
    assert all(r["claim"] is None for r in found["runs"])


def test_the_status_tells_whether_it_can_be_taken_as_it_is(demo: Path) -> None:
    assert main(["enquire", QUOTED, "-f", str(demo)]) == 1
    for path in (demo / "projects").glob("*.toml"):
        if path.stem != QUOTED:
            path.unlink()
    one_shade = [w for slot in "ABCDE" for w in ("--slot", f"{slot}=osierwold/210")]
    lap = ["enquire", QUOTED, "-f", str(demo), "--size", "60x60cm", *one_shade]
    assert main([*lap, "--due", "2027-06-01"]) == 0
    assert main([*lap, "--due", "2026-11-26"]) == 1
    assert main([*lap, "--due", "2027-06-01", "--margin", "100"]) == 1
    (demo / "projects" / "half.toml").write_text('name = "half')
    assert main([*lap, "--due", "2027-06-01"]) == 2


def test_orders_ends_with_1_where_something_promised_is_late(demo: Path) -> None:
    path = demo / "projects" / "cinder-field.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("due = 2027-01-08", "due = 2026-11-27"), encoding="utf-8")
    assert main(["orders", str(demo)]) == 1
    for other in (demo / "projects").glob("*.toml"):
        if other.stem != QUOTED:
            other.unlink()
    assert main(["orders", str(demo)]) == 0


def test_a_quote_is_sent_and_printed_in_every_form(
    demo: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["quote", QUOTED, "-f", str(demo), "--send"]) == 0
    text = capsys.readouterr().out
    sent = read(demo).project[QUOTED].quote
    assert sent is not None
    assert sent.on == TODAY
    assert f"{sent.total:.2f} EUR" in text
    for form, start in (("markdown", b"# "), ("html", b"<!DOCTYPE html>"), ("pdf", b"%PDF")):
        out = tmp_path / f"paper.{form}"
        words = ["quote", QUOTED, "-f", str(demo), "--form", form, "--out", str(out)]
        assert main(words) == 0
        assert out.read_bytes().startswith(start)
    # What is there is not written over unless that is said.
    out.write_text("hers", encoding="utf-8")
    capsys.readouterr()
    assert "is there already" in trouble(
        capsys, "quote", QUOTED, "-f", demo, "--form", "pdf", "--out", out
    )
    assert out.read_text(encoding="utf-8") == "hers"
    assert main([*words, "--replace"]) == 0
    assert out.read_bytes().startswith(b"%PDF")
    # Her own wording lies in the studio's folder; another file may be named.
    (demo / "wording.txt").write_text("[quote title]\nFor you: $piece\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["quote", QUOTED, "-f", str(demo)]) == 0
    assert "For you: " in capsys.readouterr().out
    wording = tmp_path / "wording.txt"
    wording.write_text("[quote closing]\nPlease answer until $valid_until.\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["quote", QUOTED, "-f", str(demo), "--wording", str(wording)]) == 0
    assert f"Please answer until {say.date(sent.valid_until)}." in capsys.readouterr().out
    wording.write_text("[quote closing]\n$markup\n", encoding="utf-8")
    told = trouble(capsys, "quote", QUOTED, "-f", demo, "--wording", wording)
    assert "there is no field '$markup'" in told
    gone = tmp_path / "gone.txt"
    assert "gone.txt" in trouble(capsys, "quote", QUOTED, "-f", demo, "--wording", gone)


def test_booking_holds_the_lots_that_enquire_named(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = answer(capsys, "enquire", QUOTED, "-f", demo)
    assert main(["book", QUOTED, "-f", str(demo), "--due", "2027-04-01"]) in (0, 1)
    assert "is booked for 1 Apr 2027" in capsys.readouterr().out
    piece = read(demo).project[QUOTED]
    assert (piece.stage, piece.booked, piece.due) == (Stage.BOOKED, TODAY, date(2027, 4, 1))
    stripes = [r for r in asked["runs"] if r["run"].startswith("stripe")]
    shown = [r["lot"] if r["cover"] == "stash" else None for r in stripes]
    held = [
        s.claim.on if s.claim and s.claim.kind is ClaimKind.HOLD else None for s in piece.stripes
    ]
    assert held == shown
    assert any(held)
    again = trouble(capsys, "book", QUOTED, "-f", demo)
    assert "is at stage 'booked'" in again


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("enquire", "gull"), "Did you mean 'gull-and-shingle'?"),
        (("enquire", QUOTED, "--due", "2020-01-01"), "is past"),
        (("enquire", QUOTED, "--due", "soon"), "write year-month-day"),
        (("enquire", QUOTED, "--margin", "much"), "write a number"),
        (("enquire", QUOTED, "--size", "small"), "write width x length"),
        (("enquire", QUOTED, "--slot", "A=osierwold/none"), "has no shade 'none'"),
        (("enquire", QUOTED, "--slot", "Q=osierwold/210"), "There is no slot 'Q'"),
        (("enquire", QUOTED, "--price", "-3"), "it is 0 or more"),
        (("quote", "last-of-the-tweed", "--confirmation"), "has no quote yet"),
        (("book", "cinder-field"), "is at stage 'booked'"),
    ],
)
def test_what_is_wrong_is_told_in_one_line(
    words: tuple[str, ...], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told in trouble(capsys, *words, "-f", DEMO)


def test_help_documents_the_statuses(capsys: pytest.CaptureFixture[str]) -> None:
    for command in ("enquire", "orders", "quote", "book"):
        assert main([command, "--help"]) == 0
        assert "exit status: 0" in capsys.readouterr().out


@pytest.mark.parametrize("file", ["trade.toml", "studio.toml"])
def test_nothing_is_frozen_or_booked_at_rates_that_are_not_hers(
    file: str, demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = (demo / file).read_text()
    (demo / file).write_text(f"{whole}\nnothing_like_it = 1\n")
    before = files(demo)
    assert f"{file} could not be read" in trouble(capsys, "quote", QUOTED, "--send", "-f", demo)
    assert f"{file} could not be read" in trouble(capsys, "book", QUOTED, "-f", demo)
    assert files(demo) == before
    assert main(["enquire", QUOTED, "-f", str(demo)]) == 2
    assert f"No price: {file} could not be read" in " ".join(capsys.readouterr().out.split())
    (demo / file).write_text(whole)
    assert main(["book", QUOTED, "-f", str(demo)]) in (0, 1)


def test_a_day_far_beyond_all_plans_stops_no_book(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    piece = demo / "projects" / "afterglow-throw.toml"
    piece.write_text(piece.read_text().replace("due = 2026-12-18", "due = 2206-12-18"))
    rows = {r["project"]: r for r in answer(capsys, "orders", demo)["orders"]}
    assert rows["afterglow-throw"]["late_days"] < -60_000
    assert rows["afterglow-throw"]["latest_start"] is None
    assert answer(capsys, "enquire", QUOTED, "-f", demo, "--due", "9999-12-31")["late_days"] < 0


def test_a_quote_that_ran_out_is_booked_with_a_word(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["book", "northing-wave", "-f", str(demo)])
    said = " ".join(capsys.readouterr().out.split())
    assert "Its quote of 525.49 EUR held until 18 Nov 2026; booked, it stands." in said
    main(["book", QUOTED, "-f", str(demo)])
    assert "held until" not in capsys.readouterr().out


def test_no_name_turns_the_lines_of_the_shell(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = demo / "customers.toml"
    book.write_text(book.read_text().replace('name = "Maren"', 'name = "\\u202eMaren"'))
    main(["orders", str(demo)])
    said = capsys.readouterr().out
    assert "Maren" in said
    assert "\u202e" not in said
    # To a program it is as it was typed.
    rows = answer(capsys, "orders", demo)["orders"]
    assert "\u202eMaren" in [r["customer"] for r in rows]
