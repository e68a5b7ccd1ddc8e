"""What stands unless she says so: the design of a delivered piece, and rows still open."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from studio.core import booking, edits
from studio.core.model import Length, ShadeRef, Stage, Studio
from studio.core.standing import StandingError, check_standing
from studio.core.trade_model import StageDate
from tests.core.small import lot, piece, studio

DELIVERED = studio(
    piece(
        "a", "A10 B10", Stage.DELIVERED,
        reached=(StageDate(Stage.DELIVERED, date(2026, 12, 3)),),
    ),
    lots=(lot("x", 9),),
)  # fmt: skip
WIDE = Length(Decimal(120))
Change = Callable[[Studio], Studio]
ASKED: dict[str, Change] = {
    "rows": lambda s: edits.change_rows(s, "a", 0, 2),
    "size": lambda s: edits.set_size(s, "a", WIDE, WIDE),
    "shade": lambda s: edits.map_slot(s, "a", "A", ShadeRef("marl", "2")),
    "hook": lambda s: edits.set_project(s, "a", hook_mm=Decimal(8)),
}
FREE: dict[str, Change] = {
    "note": lambda s: edits.set_project(s, "a", note="She wrote a card."),
    "taken back": lambda s: booking.take_back(s, "a", date(2026, 12, 9)),
    "another lot": lambda s: edits.set_lot(s, s.stash.lots[0].ref, lot("y", 9)),
}


@pytest.mark.parametrize("what", ASKED)
def test_a_delivered_piece_is_asked_about_once(what: str) -> None:
    after = ASKED[what](DELIVERED)
    with pytest.raises(StandingError) as told:
        check_standing(DELIVERED, after, set())
    assert told.value.text == (
        "A was delivered on 3 Dec 2026; its papers and books stand on it as it is."
    )
    check_standing(DELIVERED, after, told.value.marks)
    # The same yes holds for whatever else is changed of it.
    for other in ASKED.values():
        check_standing(DELIVERED, other(DELIVERED), told.value.marks)


@pytest.mark.parametrize("what", FREE)
def test_notes_stages_and_lots_of_a_delivered_piece_are_free(what: str) -> None:
    after = FREE[what](DELIVERED)
    assert after is not DELIVERED
    check_standing(DELIVERED, after, set())


@pytest.mark.parametrize("stage", [s for s in Stage if s is not Stage.DELIVERED])
def test_a_piece_that_is_not_delivered_is_free(stage: Stage) -> None:
    made = studio(piece("a", "A10 B10", stage))
    check_standing(made, edits.change_rows(made, "a", 0, 2), set())


@pytest.mark.parametrize("stage", [Stage.FINISHING, Stage.IN_STOCK, Stage.DELIVERED])
def test_rows_still_open_are_named_before_it_is_finished(stage: Stage) -> None:
    def brought(done: int) -> None:
        made = studio(piece("a", "A10 B10", Stage.MAKING, rows_done=done))
        to = booking.to_stage(made, "a", stage, None, date(2026, 12, 3))
        check_standing(made, to, set())

    with pytest.raises(StandingError, match="12 of 20 rows of A are noted as done; 8 are still"):
        brought(12)
    brought(20)
    brought(0)


def test_other_stages_do_not_mind_rows() -> None:
    made = studio(piece("a", "A10 B10", Stage.MAKING, rows_done=12))
    for stage in (Stage.CANCELLED, Stage.BOOKED, Stage.IDEA):
        check_standing(made, booking.to_stage(made, "a", stage, None, date(2026, 12, 3)), set())
