"""Whatever the core can state has a key in a file, or a save says that it has none."""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass, replace
from decimal import Decimal
from pathlib import Path

import pytest

from studio.core import model, trade_model
from studio.core.buying import delivery, offers
from studio.core.model import Settings, Studio
from studio.core.trade_model import Customer, Trade
from studio.errors import SaveError
from studio.storage import things, write
from studio.storage.tables import KEYS
from studio.storage.write import save_changes

HELD_OTHERWISE: dict[type, set[str]] = {
    model.Lot: {"yarn"},
    offers.Offer: {"supplier"},
    delivery.Delivery: {"purchase"},
    model.Slot: {"letter"},
    # Both lie in the table `size`.
    model.Project: {"key", "length"},
    **{
        cls: {"key"}
        for cls in (model.Yarn, model.Stitch, model.Swatch, model.Purchase, offers.Supplier)
    },
}
"""The name of the file says these, or of the table."""


@pytest.mark.parametrize("cls", KEYS, ids=lambda cls: cls.__name__)
def test_every_field_has_a_key(cls: type) -> None:
    assert is_dataclass(cls)
    named = {part.partition(":")[0] for part in KEYS[cls].split()}
    assert {f.name for f in fields(cls)} - named == HELD_OTHERWISE.get(cls, set())


def test_every_dataclass_of_the_core_is_written_somewhere() -> None:
    whole = {model.Length, model.Fibre, model.Claim, model.Library, model.Stash, model.Studio}
    # The parts of a supplier's file, and what is wrong with one.
    whole |= {offers.OfferBook, offers.Shipping, offers.OfferProblem}
    known = {
        c
        for module in (model, trade_model, offers, delivery, things)
        for c in vars(module).values()
        if is_dataclass(c) and c.__module__ == module.__name__
    }
    assert known == set(KEYS) | whole


def test_a_part_without_a_file_is_not_lost_in_silence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert {f.name for f in fields(Studio)} == things.STORED
    monkeypatch.setattr(write, "STORED", things.STORED - {"customers"})
    studio = Studio(Settings("S"))
    with pytest.raises(SaveError, match="no file yet that could hold the customers"):
        save_changes(tmp_path, None, replace(studio, customers=(Customer("n", "N."),)), {})
    assert list(tmp_path.iterdir()) == []


def test_an_offer_of_nobody_is_not_lost_in_silence(tmp_path: Path) -> None:
    offer = offers.Offer("mill", "y", (offers.PriceBreak(1, Decimal(5)),))
    with pytest.raises(SaveError, match="names the supplier 'mill', which is not"):
        save_changes(tmp_path, None, Studio(Settings("S"), offers=(offer,)), {})
    assert list(tmp_path.iterdir()) == []


def test_left_out_keys_are_those_of_the_core() -> None:
    """A default must not be stated twice: the files' defaults are the core's own."""
    from studio.storage import records, records_trade
    from studio.storage.convert import to_core
    from studio.storage.kinds import Kind

    for core, record in (
        (model.Assumed, records.AssumedRecord),
        (Settings, records.SettingsRecord),
        (trade_model.FeeRates, records_trade.FeesRecord),
    ):
        for f in fields(core):
            if f.default is not MISSING and f.name != "assumed":
                assert record.model_fields[f.name].get_default(call_default_factory=True) == (
                    f.default
                ), f.name
    empty = records_trade.TradeRecord.model_validate({"format": 1})
    assert to_core(Kind.TRADE, "trade", empty) == Trade()
    bare = records_trade.SupplierRecord.model_validate(
        {"format": 1, "name": "M", "currency": "EUR"}
    )
    assert to_core(Kind.SUPPLIER, "m", bare) == offers.OfferBook(
        (offers.Supplier("m", "M", "EUR"),)
    )


def test_the_words_for_dates_are_those_of_the_core() -> None:
    from studio.core.spreadsheet import DateOrder
    from studio.storage.records_trade import SheetRecord

    assert [SheetRecord.model_validate({"dates": str(order)}).dates for order in DateOrder] == list(
        DateOrder
    )
