"""What is written is read back as the same, whatever it is and whatever was there before."""

from __future__ import annotations

import tomllib
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import jsonschema
import pytest
from hypothesis import HealthCheck, Phase, given, settings

from studio.core.model import Fibre, Library, Project, Settings, Studio, Yarn
from studio.storage.disk import changed_on_disk
from studio.storage.kinds import Kind
from studio.storage.layout import comments
from studio.storage.read import Loaded, load_studio, parse
from studio.storage.records import schema
from studio.storage.render import new_text, updated_bytes
from studio.storage.things import by_file
from studio.storage.write import save_changes
from tests.storage import strategies as any_

quick = settings(
    deadline=None,
    max_examples=25,
    # Explaining a failure of a whole studio would take minutes.
    phases=[Phase.explicit, Phase.reuse, Phase.generate, Phase.shrink],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def _errors(loaded: Loaded) -> list[str]:
    return [str(p) for p in loaded.problems if p.level.value == "error"]


@quick
@given(any_.studios(), any_.studios())
def test_a_studio_and_another_saved_over_it_are_read_back_as_written(
    before: Studio, after: Studio
) -> None:
    """One making of two whole studios, which is what costs time, serves all that is asked."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        stamps = save_changes(folder, None, before, {})
        loaded = load_studio(folder)
        assert _errors(loaded) == []
        assert loaded.studio == before
        assert loaded.stamps == stamps
        assert changed_on_disk(folder, stamps) == ()
        _fits_its_schema(before)

        save_changes(folder, before, after, stamps)
        loaded = load_studio(folder)
        assert _errors(loaded) == []
        assert loaded.studio == after, "what was in the first is gone"


@cache
def _validators() -> dict[str, jsonschema.Draft202012Validator]:
    """jsonschema is a reader of the published draft 2020-12, independent of pydantic."""
    return {kind: jsonschema.Draft202012Validator(part) for kind, part in schema().items()}


def _fits_its_schema(studio: Studio) -> None:
    """What is written of a studio is what its schema allows."""
    for kind, thing in by_file(studio).values():
        raw = tomllib.loads(new_text(thing), parse_float=Decimal)
        _validators()[kind.value].validate(_as_json(raw))


@quick
@given(any_.projects, any_.projects)
def test_any_project_over_any_noted_one_keeps_what_both_have(was: Project, now: Project) -> None:
    """In a file that is not in our order nothing needs to be written afresh."""
    noted = new_text(was).replace("\nstitch = ", "\n# the pattern\nstitch   =  ")
    done = updated_bytes(Kind.PROJECT, f"projects/{now.key}.toml", noted.encode(), now).decode()
    read, _, problems = parse(Kind.PROJECT, f"projects/{now.key}.toml", done.encode())
    assert problems == []
    assert read == now
    assert "# the pattern\nstitch   =  " in done
    assert "written afresh" not in done
    assert len(comments(done)) >= 1


@quick
@given(any_.yarns, any_.yarns)
def test_any_yarn_over_any_noted_one(was: Yarn, now: Yarn) -> None:
    noted = new_text(was).replace("\nball_g = ", "\n# weighed\nball_g = ")
    done = updated_bytes(Kind.YARN, f"yarns/{now.key}.toml", noted.encode(), now).decode()
    assert parse(Kind.YARN, f"yarns/{now.key}.toml", done.encode())[0] == now
    assert "# weighed\nball_g = " in done
    assert "written afresh" not in done


@pytest.mark.parametrize("text", ["6.90", "0.1", "1234567.89", "100", "0.0001", "3.00"])
def test_money_keeps_every_digit(text: str) -> None:
    fibres = (Fibre("wool", Decimal(100)),)
    yarn = Yarn("y", "Y", 4, fibres, Decimal(50), (), price=Decimal(text))
    written = new_text(yarn)
    assert f"\nprice = {text}\n" in written
    read, _, problems = parse(Kind.YARN, "yarns/y.toml", written.encode())
    assert problems == []
    assert isinstance(read, Yarn)
    assert str(read.price) == text


def test_a_number_in_quotes_is_read_as_exactly() -> None:
    start = b'format = 1\nname = "Y"\ncategory = 4\n'
    data = start + b'ball_g = "50.0"\nprice = "6.90"\n[fibres]\nwool = 100\n'
    read, _, problems = parse(Kind.YARN, "yarns/y.toml", data)
    assert problems == []
    assert isinstance(read, Yarn)
    assert str(read.price) == "6.90"
    assert str(read.ball_g) == "50.0"


def _as_json(value: Any) -> Any:
    """A TOML value as JSON has it: a date is text, and a number has no exact digits."""
    if isinstance(value, dict):
        return {key: _as_json(part) for key, part in value.items()}
    if isinstance(value, list):
        return [_as_json(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    return float(value) if isinstance(value, Decimal) else value


def test_each_schema_is_a_schema() -> None:
    for part in schema().values():
        jsonschema.Draft202012Validator.check_schema(part)


def test_the_schema_refuses_what_the_reader_refuses() -> None:
    project = {"format": 1, "name": "P", "stage": "idea", "stitch": "s", "hook_mm": 5}
    size = {"width": "100 cm", "length": "120 cm"}
    jsonschema.validate({**project, "size": size}, schema()["project"])
    wrong: list[dict[str, Any]] = [
        {**project},
        {**project, "size": {**size, "width": 100}},
        {**project, "size": size, "stage": "bookd"},
        {**project, "size": size, "colour": "red"},
        {**project, "size": size, "stripe": [{"slot": "A", "rows": 0}]},
        {**project, "size": size, "stripe": [{"slot": "A", "rows": 10_000}]},
    ]
    for raw in wrong:
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(raw, schema()["project"])


def test_an_unchanged_studio_writes_nothing(tmp_path: Path) -> None:
    studio = Studio(Settings("S"), Library())
    stamps = save_changes(tmp_path, None, studio, {})
    before = (tmp_path / "studio.toml").stat().st_mtime_ns
    assert save_changes(tmp_path, studio, Studio(Settings("S"), Library()), stamps) == stamps
    assert (tmp_path / "studio.toml").stat().st_mtime_ns == before
    assert not (tmp_path / ".history").exists()
