"""Whatever the core can state has a key in a file, or a save says that it has none."""

from __future__ import annotations

from dataclasses import MISSING, fields, is_dataclass, replace
from pathlib import Path

import pytest

from studio.core import model
from studio.core.model import Settings, Studio
from studio.core.trade_model import Customer
from studio.errors import SaveError
from studio.storage.convert import _KEYS
from studio.storage.write import save_changes

HELD_OTHERWISE = {"key", "yarn"}
"""The name of the file says these: a thing's key, a lot's yarn."""

NO_FILE_YET: dict[type, set[str]] = {
    model.Project: {
        "quote", "price", "payments", "reached", "log", "minutes", "for_baby", "collected",
    },
}  # fmt: skip


@pytest.mark.parametrize("cls", _KEYS, ids=lambda cls: cls.__name__)
def test_every_field_has_a_key(cls: type) -> None:
    assert is_dataclass(cls)
    named = {part.partition(":")[0] for part in _KEYS[cls].split()}
    other = {"letter"} if cls is model.Slot else set()
    if cls is model.Project:
        # Both lie in the table `size`.
        other = {"length"}
    missing = {f.name for f in fields(cls)} - named - other
    assert missing - NO_FILE_YET.get(cls, set()) <= HELD_OTHERWISE
    assert NO_FILE_YET.get(cls, set()) <= missing


def test_every_dataclass_of_the_core_is_written_somewhere() -> None:
    whole = {model.Length, model.Fibre, model.Claim, model.Library, model.Stash, model.Studio}
    known = {c for c in vars(model).values() if is_dataclass(c) and c.__module__ == model.__name__}
    assert known == set(_KEYS) | whole


def test_a_part_without_a_file_is_not_lost_in_silence(tmp_path: Path) -> None:
    studio = Studio(Settings("S"))
    with pytest.raises(SaveError, match="no file yet that could hold the customers"):
        save_changes(tmp_path, None, replace(studio, customers=(Customer("n", "N."),)), {})
    assert list(tmp_path.iterdir()) == []


def test_left_out_keys_are_those_of_the_core() -> None:
    """A default must not be stated twice: the files' defaults are the core's own."""
    from studio.storage.records import AssumedRecord, SettingsRecord

    for core, record in ((model.Assumed, AssumedRecord), (Settings, SettingsRecord)):
        for f in fields(core):
            if f.default is not MISSING and f.name != "assumed":
                assert record.model_fields[f.name].get_default(call_default_factory=True) == (
                    f.default
                ), f.name
