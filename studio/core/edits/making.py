"""Edits of what is noted while a piece is worked: rows with their minutes, weigh-ins, hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TypeVar

from studio.core.edits.places import counted, put_project, refuse, the_project, the_slot
from studio.core.edits.projects import set_rows_done
from studio.core.model import Project, Studio, WeighIn
from studio.core.trade_model import WorkKind, WorkLog

T = TypeVar("T")

MOST_MINUTES = 100_000
"""Far over the hours of any one piece, so that no true figure is refused."""


def work_rows(
    studio: Studio, project: str, rows: int, minutes: Decimal | None = None, on: date | None = None
) -> Studio:
    """State how many rows are worked; minutes, where known, are logged for those since then."""
    piece = the_project(studio, project)
    studio = set_rows_done(studio, project, rows)
    if minutes is None:
        return studio
    since = rows - piece.rows_done
    if since <= 0:
        refuse(
            f"{counted(piece.rows_done, 'row')} of {piece.name} were done already: minutes go with "
            "rows that were worked since. Time spent on other things is noted by itself."
        )
    new = WorkLog(minutes, WorkKind.CROCHET, since, piece.rows_done + 1, on)
    return put_work(studio, project, new)


def put_work(studio: Studio, project: str, new: WorkLog, at: int | None = None) -> Studio:
    """Note minutes spent on a piece, or correct what was noted at this place."""
    piece = the_project(studio, project)
    if not (new.minutes.is_finite() and 0 < new.minutes <= MOST_MINUTES):
        refuse(f"{new.minutes} minutes make no sense: more than 0 and up to {MOST_MINUTES:,}.")
    if new.kind is WorkKind.CROCHET and new.rows:
        _check_rows(piece, new.first_row, new.rows)
    elif new.rows:
        refuse("Only crochet is counted in rows; leave the rows out.")
    log = _put(piece.log, new, at, f"{piece.name} has no such note of time.")
    return put_project(studio, replace(piece, log=log))


def drop_work(studio: Studio, project: str, at: int) -> Studio:
    """Take a note of time out."""
    piece = the_project(studio, project)
    log = _drop(piece.log, at, f"{piece.name} has no such note of time.")
    return put_project(studio, replace(piece, log=log))


def put_weigh_in(studio: Studio, project: str, new: WeighIn, at: int | None = None) -> Studio:
    """Note what rows of a piece have used, or correct the weigh-in at this place."""
    piece = the_project(studio, project)
    the_slot(piece, new.slot)
    if not (new.grams.is_finite() and 0 < new.grams <= MOST_MINUTES):
        refuse(f"{new.grams} g make no sense for a weigh-in: it is more than 0 g.")
    _check_rows(piece, new.first_row, new.rows)
    weigh_ins = _put(piece.weigh_ins, new, at, f"{piece.name} has no such weigh-in.")
    return put_project(studio, replace(piece, weigh_ins=weigh_ins))


def drop_weigh_in(studio: Studio, project: str, at: int) -> Studio:
    """Take a weigh-in out; the yarn is reckoned from what is left."""
    piece = the_project(studio, project)
    weigh_ins = _drop(piece.weigh_ins, at, f"{piece.name} has no such weigh-in.")
    return put_project(studio, replace(piece, weigh_ins=weigh_ins))


def _put(there: tuple[T, ...], new: T, at: int | None, missing: str) -> tuple[T, ...]:
    if at is None:
        return (*there, new)
    if not 0 <= at < len(there):
        refuse(missing)
    return (*there[:at], new, *there[at + 1 :])


def _drop(there: tuple[T, ...], at: int, missing: str) -> tuple[T, ...]:
    if not 0 <= at < len(there):
        refuse(missing)
    return (*there[:at], *there[at + 1 :])


def _check_rows(piece: Project, first: int, rows: int) -> None:
    """Refuse rows that the piece does not have."""
    total = sum(s.rows for s in piece.stripes)
    if first < 1 or rows < 1 or first + rows - 1 > total:
        refuse(
            f"{piece.name} has {counted(total, 'row')}: {counted(rows, 'row')} from row {first} "
            "on are not there."
        )
