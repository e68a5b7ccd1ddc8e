"""The time of a piece: every line from its evidence, logged time before any estimate."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import gauge as gauges
from studio.core.answers import Size
from studio.core.hours import TimeFrom, hours_of, pace_of
from studio.core.model import (
    Border,
    Fringe,
    GaugeCount,
    Length,
    Project,
    RowKind,
    Stage,
    Stitch,
    Stripe,
    Studio,
    Swatch,
    Weighing,
)
from studio.core.trade_model import Task, Times, Trade, WorkKind, WorkLog
from tests.core.editing import piece, studio

D = Decimal

STITCH = Stitch(
    "sc", "single crochet", extra=1, kinds=(RowKind("foundation", rows=1), RowKind("body"))
)
COUNT = GaugeCount(D(10), Length(D(10)), D(10), Length(D(10)))
SWATCH = Swatch("s", "wool", "sc", D(5), COUNT)
FIXED = Times(tasks=(Task("blocking", D(30)), Task("packing", D(20))))


def house(project: Project, *others: Project, swatch: Swatch = SWATCH) -> Studio:
    """A gauge of one stitch and one row to the centimetre, so a piece 100 cm wide has 100."""
    base = studio(project, *others)
    library = replace(base.library, stitches=(STITCH,), swatches=(swatch,))
    return replace(base, library=library, trade=Trade(times=FIXED))


def size(project: Project, home: Studio) -> Size:
    gauge = gauges.gauge_of(project, home.library)
    assert gauge is not None
    found = gauges.size_of(project, STITCH, gauge)
    assert found is not None
    assert found.stitches == 100
    return found


def lines(project: Project, home: Studio, ends: int = 10) -> dict[str, tuple[Decimal, Decimal]]:
    found = hours_of(project, size(project, home), ends, home)
    assert sum((n.total_min for n in found.lines), D(0)) == found.total_min
    return {n.what: (n.total_min, n.spent_min) for n in found.lines}


def test_the_assumed_rate_is_rough_and_every_step_is_a_line() -> None:
    throw = piece("throw")  # 20 rows of 100 stitches
    home = house(throw)
    found = hours_of(throw, size(throw, home), 10, home)
    assert found.rough
    assert lines(throw, home) == {
        "stitches, foundation": (D(5), D(0)),
        "stitches, body": (D(95), D(0)),
        "ends": (D(30), D(0)),
        "blocking": (D(30), D(0)),
        "packing": (D(20), D(0)),
    }
    assert found.hours == 3
    assert found.lines[1].how == "1900 at 0.05 min, an assumed rate"


def test_minutes_of_trials_beat_the_assumed_rate_by_kind_of_row() -> None:
    trials = (
        Weighing(D(1), D(50), D(10), minutes=D(10), first_row=1),
        Weighing(D(4), D(50), D(40), minutes=D(20), first_row=2),
        Weighing(D(6), D(50), D(40), minutes=D(40), first_row=2),
    )
    throw = piece("throw")
    home = house(throw, swatch=replace(SWATCH, trials=trials))
    pace = pace_of(throw, size(throw, home), home)
    assert pace.source is TimeFrom.SWATCHES
    assert (pace.of("foundation"), pace.of("body")) == (D("0.2"), D("0.12"))
    found = lines(throw, home)
    assert found["stitches, foundation"] == (D(20), D(0))
    assert found["stitches, body"] == (D(228), D(0))
    assert not hours_of(throw, size(throw, home), 10, home).rough


def test_rows_timed_over_both_kinds_count_for_both() -> None:
    weighed = Weighing(D(5), D(20), D(20), minutes=D(10), first_row=1)
    throw = piece("throw")
    home = house(throw, swatch=replace(SWATCH, weighed=weighed))
    pace = pace_of(throw, size(throw, home), home)
    assert (pace.of("foundation"), pace.of("body")) == (D("0.1"), D("0.1"))


def test_logged_time_of_a_like_piece_beats_the_trial() -> None:
    trial = Weighing(D(4), D(50), D(40), minutes=D(20), first_row=2)
    throw = piece("throw", stage=Stage.QUOTED)
    like = replace(
        piece("like", stage=Stage.DELIVERED), log=(WorkLog(D(150), rows=10, first_row=2),)
    )
    other_hook = replace(like, key="thin", hook_mm=D(3), log=(WorkLog(D(999), rows=1),))
    home = house(throw, like, other_hook, swatch=replace(SWATCH, trials=(trial,)))
    pace = pace_of(throw, size(throw, home), home)
    assert (pace.source, pace.of("body")) == (TimeFrom.PIECES, D("0.15"))


def test_logged_time_of_the_piece_itself_beats_all_and_counts_as_spent() -> None:
    like = replace(piece("like"), log=(WorkLog(D(150), rows=10, first_row=2),))
    throw = replace(
        piece("throw", stage=Stage.MAKING),
        rows_done=5,
        log=(
            WorkLog(D(40), rows=2, first_row=2, on=date(2027, 1, 2)),
            WorkLog(D(20), rows=2, first_row=4),
            WorkLog(D(12), WorkKind.ENDS),
            WorkLog(D(40), WorkKind.TASK),
        ),
    )
    home = house(throw, like)
    assert pace_of(throw, size(throw, home), home).source is TimeFrom.THIS_PIECE
    assert lines(throw, home) == {
        "rows 1-5": (D(60), D(60)),
        "stitches, body": (D(225), D(0)),  # 15 rows of 100 at 0.15
        "ends": (D(30), D(12)),
        "blocking": (D(30), D(30)),
        "packing": (D(20), D(10)),
    }
    found = hours_of(throw, size(throw, home), 10, home)
    assert (found.total_min, found.spent_min, found.left_min) == (D(365), D(112), D(253))


def test_a_finished_piece_takes_what_was_logged() -> None:
    log = (WorkLog(D(200)), WorkLog(D(45), WorkKind.ENDS), WorkLog(D(15), WorkKind.TASK))
    throw = replace(piece("throw", stage=Stage.DELIVERED), log=log)
    home = house(throw)
    found = hours_of(throw, size(throw, home), 10, home)
    assert (found.total_min, found.left_min) == (D(260), D(0))
    assert {n.source for n in found.lines} == {TimeFrom.LOGGED}


def test_more_ends_than_estimated_count_as_logged() -> None:
    throw = replace(piece("throw", stage=Stage.FINISHING), log=(WorkLog(D(44), WorkKind.ENDS),))
    assert lines(throw, house(throw))["ends"] == (D(44), D(44))


def test_border_and_fringe_have_their_lines() -> None:
    border = Border("A", 2, Length(D(1)))
    throw = replace(
        piece("throw", Stripe("A", 20)), width=Length(D(102)), border=border,
        fringe=Fringe("B", 80, Length(D(30))),
    )  # fmt: skip
    found = lines(throw, house(throw))
    # Rounds of 2 x 100 + 2 x 20 + 12 corners, the second with 8 more: 252 + 260 stitches at 0.05.
    assert found["stitches, border"] == (D(26), D(0))
    assert found["fringe"] == (D(40), D(0))


def test_worked_rows_without_a_log_are_spent_by_the_estimate() -> None:
    throw = replace(piece("throw", stage=Stage.MAKING), rows_done=10)
    home = house(throw)
    found = hours_of(throw, size(throw, home), 0, home)
    assert found.spent_min == 50
    assert found.total_min == 150


def test_a_guess_of_her_own_stands_where_nothing_can_be_counted() -> None:
    throw = replace(piece("throw", stage=Stage.MAKING), minutes=D(600), rows_done=5)
    home = house(throw)
    found = hours_of(throw, None, 0, home)
    assert not found.unknown
    assert (found.lines[0].total_min, found.lines[0].spent_min) == (D(600), D(150))
    assert hours_of(replace(throw, minutes=None), None, 0, home).unknown
