"""Edits of what is noted while a piece is worked: rows, weigh-ins, hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from studio.core import edits
from studio.core.model import WeighIn
from studio.core.trade_model import WorkKind, WorkLog
from tests.core.editing import D, piece, refused, studio

DAY = date(2026, 11, 25)
LOG = WorkLog(D(40), WorkKind.ENDS, on=DAY, note="first half")


def test_rows_worked_are_logged_with_the_minutes_since() -> None:
    base = studio(piece("throw", rows_done=4))
    done = edits.work_rows(base, "throw", 10, D(95), DAY).project["throw"]
    assert done.rows_done == 10
    assert done.log == (WorkLog(D(95), WorkKind.CROCHET, 6, 5, DAY),)
    assert edits.work_rows(base, "throw", 10).project["throw"].log == ()
    back = edits.work_rows(base, "throw", 2)
    assert back.project["throw"].rows_done == 2
    refused(lambda: edits.work_rows(base, "throw", 4, D(5)), "4 rows", "done already")
    refused(lambda: edits.work_rows(base, "throw", 21, D(5)), "20 rows")


def test_time_is_noted_corrected_and_taken_out() -> None:
    base = studio()
    noted = edits.put_work(base, "throw", LOG)
    assert noted.project["throw"].log == (LOG,)
    longer = replace(LOG, minutes=D(55))
    put = edits.put_work(noted, "throw", longer, 0)
    assert put.project["throw"].log == (longer,)
    assert edits.put_work(put, "throw", longer, 0) is put
    assert edits.drop_work(noted, "throw", 0) == base
    assert noted.project["other"] is base.project["other"]
    refused(lambda: edits.put_work(base, "throw", LOG, 0), "no such note")
    refused(lambda: edits.drop_work(base, "throw", 0), "no such note")
    refused(lambda: edits.put_work(base, "throw", replace(LOG, minutes=D(0))), "0 minutes")
    refused(lambda: edits.put_work(base, "throw", replace(LOG, rows=2)), "Only crochet")
    beyond = WorkLog(D(5), rows=4, first_row=18)
    refused(lambda: edits.put_work(base, "throw", beyond), "20 rows", "row 18")


def test_weigh_ins_are_noted_corrected_and_taken_out() -> None:
    base = studio()
    first, second = WeighIn("A", 6, D(40), 1, DAY), WeighIn("B", 4, D("26.5"), 7)
    both = edits.put_weigh_in(edits.put_weigh_in(base, "throw", first), "throw", second)
    assert both.project["throw"].weigh_ins == (first, second)
    lighter = replace(first, grams=D(38))
    assert edits.put_weigh_in(both, "throw", lighter, 0).project["throw"].weigh_ins[0] == lighter
    assert edits.drop_weigh_in(both, "throw", 0).project["throw"].weigh_ins == (second,)
    refused(lambda: edits.put_weigh_in(base, "throw", replace(first, slot="F")), "slot 'F'")
    refused(lambda: edits.put_weigh_in(base, "throw", replace(first, grams=D(0))), "0 g")
    refused(lambda: edits.put_weigh_in(base, "throw", replace(first, rows=21)), "not there")
    refused(lambda: edits.put_weigh_in(base, "throw", replace(first, first_row=0)), "not there")
    refused(lambda: edits.drop_weigh_in(base, "throw", 3), "no such weigh-in")
