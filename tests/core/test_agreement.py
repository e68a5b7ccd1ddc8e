"""Numbers written by hand, held against the stitch's rule and the gauge."""

from __future__ import annotations

from dataclasses import replace

import pytest

from studio.core import gauge as gauges
from studio.core.agreement import Disagreement, agreement
from studio.core.answers import Gauge
from studio.core.model import Border, Direction, LengthUnit, Project, Settings, Stated, Stripe
from tests.core.test_gauge import BULKY, PROJECT, RIB, cm, gauge, inch, size

INCHES = Settings("Studio", length_unit=LengthUnit.INCH)


def disagreements(
    stated: Stated, project: Project = PROJECT, of: Gauge = BULKY, settings: Settings = INCHES
) -> tuple[Disagreement, ...]:
    project = replace(project, stated=stated)
    return agreement(project, RIB, of, size(project, RIB, of), settings)


def test_178_stitches_are_not_60_inches() -> None:
    # Common practice, no source: at 10 to 4 in they are 71.2 in.
    assert gauges.row_width_cm(RIB, BULKY, gauges.repeats_for(RIB, 178)) / 2.54 == pytest.approx(
        71.2
    )
    (found,) = disagreements(Stated(stitches=178, width=inch(60)))
    assert found.between == ("stitches", "width")
    assert found.stated == "stitches"
    assert found.off == pytest.approx(71.2 / 60 - 1)
    assert "178 stitches come to 71.2 in" in found.text
    assert "60 in would be 150 stitches" in found.text
    # 178 stitches over 60 in.
    assert "11.9 stitches to 4 in" in found.text
    (by_chain,) = disagreements(Stated(chain=179))
    assert by_chain.stated == "chain"
    assert "chain of 179 gives 178 stitches" in by_chain.text


def test_180_stitches_are_not_125_centimetres() -> None:
    # Trade rules: at 12 to 10 cm they are 150 cm.
    (found,) = disagreements(
        Stated(stitches=180, width=cm(125)), of=gauge(1.2, 1.2), settings=Settings("Studio")
    )
    assert found.off == pytest.approx(0.2)
    assert "180 stitches come to 150 cm" in found.text
    assert "125 cm would be 150 stitches" in found.text
    assert "14.4 stitches to 10 cm" in found.text


def test_what_agrees_is_not_mentioned() -> None:
    assert disagreements(Stated()) == ()
    assert disagreements(Stated(chain=151, stitches=150, rows=12, width=inch(60))) == ()
    # 156 stitches are 62.4 in, 4 % over; 158 are 63.2 in, 5.3 % over.
    assert disagreements(Stated(stitches=156)) == ()
    assert len(disagreements(Stated(stitches=158))) == 1


def test_the_border_is_counted_when_widths_are_compared() -> None:
    project = replace(PROJECT, border=Border("A", 3, inch(5)))
    assert disagreements(Stated(stitches=126, width=inch(60)), project) == ()
    (found,) = disagreements(Stated(stitches=150, width=inch(60)), project)
    assert "60 in would be 125 stitches" in found.text


def test_counts_that_a_rule_ties_must_be_equal() -> None:
    (found,) = disagreements(Stated(chain=151, stitches=151))
    assert found.between == ("chain", "stitches")
    assert "would need a chain of 152" in found.text
    (found,) = disagreements(Stated(chain=152))
    assert found.between == ("chain", "multiple")
    assert "151 and 153" in found.text
    (found, _) = disagreements(Stated(rows=14))
    assert found.between == ("rows", "stripes")
    assert "Add 2 rows" in found.text


def test_a_written_size_against_the_plan() -> None:
    stripes = (Stripe("A", 128),)
    project = replace(PROJECT, stripes=stripes)
    (found,) = disagreements(Stated(length=inch(50)), project)
    assert (found.stated, found.between) == ("length", ("rows", "length"))
    assert "The plan's 128 rows come to 64 in" in found.text
    assert "50 in would be 100 rows" in found.text


def test_rows_build_the_width_of_a_piece_worked_along() -> None:
    project = replace(PROJECT, direction=Direction.ALONG, stripes=(Stripe("A", 120),))
    (found,) = disagreements(Stated(stitches=200), project)
    assert found.between == ("stitches", "length")
    (found,) = disagreements(Stated(rows=120, width=inch(50)), project)
    assert found.between == ("rows", "width")


def test_nothing_written_is_divided_by() -> None:
    found = disagreements(Stated(chain=0, stitches=0, rows=0, width=cm(0), length=cm(0)))
    assert found
    assert all(d.text for d in found)
