"""Trade, customers and suppliers: what they say, what stays noted, and what stays when emptied."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from studio.core.buying.offers import OfferBook, PriceBreak
from studio.core.model import Studio
from studio.core.trade_model import Customer, Trade
from studio.storage.kinds import Kind
from studio.storage.layout import comments
from studio.storage.problems import FileProblem
from studio.storage.read import Loaded, load_studio, parse
from studio.storage.render import updated_bytes
from studio.storage.tables import to_toml
from studio.storage.things import CustomerList, Thing
from studio.storage.write import save_changes
from tests.storage import trade_strategies as any_
from tests.storage.messy import messy

quick = settings(
    deadline=None,
    max_examples=40,
    phases=[Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

TRADE = """\
# how I charge
format = 1
lead_days = 9                  # the mill

[prices]
margin = 0.10                  # thin
deposit_share = 0

[hours]
monday = 2.5
tuesday = "0:50"               # after school
saturday = 3
"""
MILL = """\
format = 1
name = "The mill"
currency = "EUR"
lead_days = 5
shipping = 4.90                # up to any weight
offer = [
    # soft
    { yarn = "y", price = 5.20 },      # by the ball
    { yarn = "z", pack = 5, price = [{ from = 5, price = 4.40 }, { from = 20, price = 4.10 }] },
]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "studio.toml").write_text('format = 1\nname = "S"\n')
    (tmp_path / "trade.toml").write_text(TRADE)
    (tmp_path / "suppliers").mkdir()
    (tmp_path / "suppliers/mill.toml").write_text(MILL)
    return tmp_path


def _saved(loaded: Loaded, after: Studio) -> Loaded:
    save_changes(loaded.folder, loaded.studio, after, loaded.stamps)
    again = load_studio(loaded.folder)
    assert again.studio == after
    return again


def test_hours_and_no_deposit_are_read(folder: Path) -> None:
    trade = load_studio(folder).studio.trade
    assert trade.hours.weekday_min == (150, 50, 180, 180, 180, 180, 0)
    assert trade.prices.deposit_share is None
    assert trade.prices.margin == Decimal("0.10")
    assert trade.lead_days == 9


def test_a_change_of_trade_keeps_what_is_noted(folder: Path) -> None:
    loaded = load_studio(folder)
    trade = loaded.studio.trade
    hours = replace(trade.hours, weekday_min=(150, 55, 185, 180, 180, 180, 0))
    prices = replace(trade.prices, deposit_share=Decimal("0.5"))
    _saved(loaded, replace(loaded.studio, trade=replace(trade, hours=hours, prices=prices)))
    assert (folder / "trade.toml").read_text() == TRADE.replace('"0:50"', '"0:55"').replace(
        "deposit_share = 0", "deposit_share = 0.5"
    ).replace("# after school\n", '# after school\nwednesday = "3:05"\n')


@pytest.mark.parametrize("written", ["inline", "blocks"])
def test_tasks_that_were_stated_as_they_come_can_change(folder: Path, written: str) -> None:
    tasks = [(t.name, int(t.minutes)) for t in Trade().times.tasks]
    inline = ", ".join(f'{{ name = "{name}", minutes = {least} }}' for name, least in tasks)
    blocks = "".join(
        f'[[times.task]]\nname = "{name}"\nminutes = {least}\n' for name, least in tasks
    )
    added = f"[times]\ntask = [{inline}]\n" if written == "inline" else blocks
    (folder / "trade.toml").write_text(f"{TRADE}\n{added}")
    loaded = load_studio(folder)
    times = replace(loaded.studio.trade.times, tasks=loaded.studio.trade.times.tasks[1:])
    fewer = replace(loaded.studio.trade, times=times)
    again = _saved(loaded, replace(loaded.studio, trade=fewer))
    none = replace(fewer, times=replace(times, tasks=()))
    _saved(again, replace(again.studio, trade=none))
    done = (folder / "trade.toml").read_text()
    assert "task = []" in done
    assert "written afresh" not in done
    assert comments(done) == comments(TRADE)


def test_trade_as_it_comes_keeps_its_file(folder: Path) -> None:
    loaded = load_studio(folder)
    _saved(loaded, replace(loaded.studio, trade=Trade()))
    assert comments((folder / "trade.toml").read_text())[0] == "# how I charge"


def test_no_file_is_made_for_what_is_not_said(tmp_path: Path) -> None:
    (tmp_path / "studio.toml").write_text('format = 1\nname = "S"\n')
    loaded = load_studio(tmp_path)
    after = replace(loaded.studio, customers=(Customer("t", "Tove", ("two doors down",)),))
    again = _saved(loaded, after)
    assert sorted(again.stamps) == ["customers.toml", "studio.toml"]
    emptied = _saved(again, loaded.studio)
    assert sorted(emptied.stamps) == ["customers.toml", "studio.toml"]


def test_a_change_of_an_offer_keeps_what_is_noted(folder: Path) -> None:
    loaded = load_studio(folder)
    soft, packs = loaded.studio.offers
    steps = (PriceBreak(1, Decimal("5.20")), PriceBreak(10, Decimal("4.80")))
    offers = (replace(soft, breaks=steps), replace(packs, pack=10))
    _saved(loaded, replace(loaded.studio, offers=offers))
    assert (folder / "suppliers/mill.toml").read_text() == MILL.replace(
        "price = 5.20", "price = [{ from = 1, price = 5.20 }, { from = 10, price = 4.80 }]"
    ).replace("pack = 5", "pack = 10")


def test_a_price_may_be_a_list_of_one_and_turn_plain(folder: Path) -> None:
    text = MILL.replace("price = 5.20", "price = [{ from = 1, price = 5.20 }]")
    (folder / "suppliers/mill.toml").write_text(text)
    loaded = load_studio(folder)
    soft, packs = loaded.studio.offers
    assert soft.breaks == (PriceBreak(1, Decimal("5.20")),)
    dearer = replace(soft, breaks=(PriceBreak(1, Decimal("5.90")),))
    _saved(loaded, replace(loaded.studio, offers=(dearer, packs)))
    done = (folder / "suppliers/mill.toml").read_text()
    assert "price = 5.90 }" in done
    assert "written afresh" not in done


def _one(folder: Path) -> FileProblem:
    (problem,) = load_studio(folder).problems
    return problem


def test_a_customer_is_a_key_or_a_name_that_is_nobody_elses(folder: Path) -> None:
    (folder / "suppliers/mill.toml").unlink()
    (folder / "customers.toml").write_text(
        'format = 1\ncustomer = [{ key = "maren", name = "Maren of the mill" }]\n'
    )
    (folder / "stitches").mkdir()
    (folder / "stitches/s.toml").write_text('format = 1\nname = "S"\n')
    (folder / "projects").mkdir()
    project = (
        'format = 1\nname = "P"\nstage = "idea"\nstitch = "s"\nhook_mm = 5\ncustomer = "{}"\n'
        'size = {{ width = "100 cm", length = "120 cm" }}\n'
    )
    path = folder / "projects/p.toml"
    for fine in ("maren", "Odette", ""):
        path.write_text(project.format(fine))
        assert load_studio(folder).problems == (), fine
    path.write_text(project.format("maran"))
    found = _one(folder)
    assert found.text == 'There is no customer "maran"; did you mean "maren"?'
    assert (found.line, found.key, found.level) == (6, "customer", "warning")
    path.write_text(project.format("Maren of the mill"))
    assert 'has the key "maren"' in _one(folder).text


def test_a_customer_stands_once(folder: Path) -> None:
    (folder / "suppliers/mill.toml").unlink()
    twice = '[[customer]]\nkey = "m"\nname = "{}"\n'
    text = "format = 1\n" + twice.format("A") + twice.format("B")
    (folder / "customers.toml").write_text(text)
    found = _one(folder)
    assert (found.line, found.key) == (6, "customer[2].key")
    assert found.text == 'The customer "m" is here twice; a key stands once in a file.'


def test_the_order_by_hand_names_projects(folder: Path) -> None:
    (folder / "suppliers/mill.toml").unlink()
    (folder / "trade.toml").write_text('format = 1\nhand_order = ["gone"]\n')
    found = _one(folder)
    assert (found.file, found.key) == ("trade.toml", "hand_order[1]")
    assert found.text == 'There is no project "gone".'


@st.composite
def _edit(draw: st.DrawFn, things: st.SearchStrategy[Thing]) -> tuple[str, Thing, Thing]:
    was, now = draw(things), draw(things)
    return draw(messy(to_toml(was))), was, now


def _in_place(kind: Kind, file: str, edit: tuple[str, Thing, Thing]) -> None:
    text, was, now = edit
    read, _, problems = parse(kind, file, text.encode())
    assert problems == []
    assert read == was
    done = updated_bytes(kind, file, text.encode(), now).decode()
    assert parse(kind, file, done.encode())[0] == now
    assert "written afresh" not in done
    assert set(comments(done)) <= set(comments(text))


@quick
@given(_edit(any_.trades))
def test_any_trade_in_any_layout_is_changed_in_place(edit: tuple[str, Thing, Thing]) -> None:
    _in_place(Kind.TRADE, "trade.toml", edit)


@quick
@given(_edit(any_.customers.map(CustomerList)))
def test_any_customers_in_any_layout_are_changed_in_place(edit: tuple[str, Thing, Thing]) -> None:
    _in_place(Kind.CUSTOMERS, "customers.toml", edit)


def _of_mill(book: OfferBook) -> OfferBook:
    """The first supplier of a book, under one key."""
    first = book.suppliers[0]
    mine = [replace(o, supplier="mill") for o in book.offers if o.supplier == first.key]
    return OfferBook((replace(first, key="mill"),), tuple(mine))


@quick
@given(_edit(any_.books().filter(lambda book: bool(book.suppliers)).map(_of_mill)))
def test_any_supplier_in_any_layout_is_changed_in_place(edit: tuple[str, Thing, Thing]) -> None:
    _in_place(Kind.SUPPLIER, "suppliers/mill.toml", edit)


def test_a_quote_keeps_every_digit_of_its_figures() -> None:
    quote = """
on = 2026-01-04
valid_until = 2026-01-18
price = 100.00
shipping = 0
tax = 0
total = 100.00
deposit = 30.00
currency = "EUR"
figure = [{ code = "margin", label = "Margin", amount = -0.1234567890123456789012 }]
"""
    start = 'format = 1\nname = "P"\nstage = "idea"\nstitch = "s"\nhook_mm = 5\n'
    size = '[size]\nwidth = "1 m"\nlength = "1 m"\n'
    read, _, problems = parse(
        Kind.PROJECT, "projects/p.toml", f"{start}{size}[quote]{quote}".encode()
    )
    assert problems == []
    found = getattr(read, "quote", None)
    assert found is not None
    assert str(found.figures[0].amount) == "-0.1234567890123456789012"
    assert str(found.price) == "100.00"
    assert found.on == date(2026, 1, 4)
