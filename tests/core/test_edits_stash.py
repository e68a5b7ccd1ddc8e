"""Edits of the stash, the library and the settings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.core import edits
from studio.core.edits import stash
from studio.core.model import (
    Assumed,
    Batch,
    Claim,
    ClaimKind,
    Fibre,
    GaugeCount,
    Library,
    Lot,
    LotRef,
    RowKind,
    Shade,
    Stage,
    Stash,
    Stitch,
    Stripe,
    Studio,
    Swatch,
    Weighing,
)
from studio.errors import EditRefusedError
from tests.core.editing import HOLD_1, PIN_1, D, border, cm, piece, refused, studio, yarn

MOSS_1 = LotRef("wool", "10", "1")
MOSS_2 = LotRef("wool", "10", "2")


def the_lot(edited: Studio, ref: LotRef) -> Lot:
    return next(lot for lot in edited.stash.lots if lot.ref == ref)


def test_add_lot() -> None:
    base = studio()
    new = Lot("wool", "20", "7", (Batch(2, D("4.00")),))
    added = edits.add_lot(base, new)
    assert added.stash.lots == (*base.stash.lots, new)
    assert all(a is b for a, b in zip(added.stash.lots, base.stash.lots, strict=False))
    assert added.stash.purchases is base.stash.purchases
    assert edits.remove_lot(added, new.ref) == base


def test_lots_that_cannot_be_are_refused() -> None:
    base = studio()

    def add(**more: object) -> Studio:
        plain = Lot("wool", "10", "7", (Batch(2),))
        return edits.add_lot(base, replace(plain, **more))  # type: ignore[arg-type]

    refused(lambda: add(code="1"), "lot 1 of Wool Moss already")
    refused(lambda: add(code=" "), "ball band")
    refused(lambda: add(code="buy"), "'buy'")
    refused(lambda: add(yarn="silk"), "no yarn 'silk'")
    refused(lambda: add(shade="30"), "no shade '30'")
    refused(lambda: add(batches=(Batch(-1),)), "-1 balls")
    refused(lambda: add(batches=(Batch(1, D(-2)),)), "price of -2")
    refused(lambda: add(batches=(Batch(1, shipping=D("NaN")),)), "shipping of NaN")
    refused(lambda: add(batches=()), "holds nothing")
    refused(lambda: add(parts_g=(D(-3),)), "-3 g")
    refused(lambda: add(parts_g=(D(56),)), "50 g")
    refused(lambda: add(yarn="plain"), "no dye lots", "Plain Moss")
    refused(lambda: add(code="order:p1"), "'order:p1'")


def test_a_yarn_without_dye_lots_needs_no_code() -> None:
    added = edits.add_lot(studio(), Lot("plain", "20", "", (Batch(2),)))
    assert the_lot(added, LotRef("plain", "20", "")).balls == 2


_PUT = st.builds(
    Lot,
    st.sampled_from(["wool", "plain"]),
    st.sampled_from(["10", "20"]),
    st.sampled_from(["", "1", "2", "3", "buy"]),
    st.lists(st.builds(Batch, st.integers(-1, 3)), max_size=1).map(tuple),
)


def _put_plainly(made: Studio, lots: list[Lot]) -> Studio:
    """Putting many told the plain way: each is looked for among all lots of its shade."""
    shelf = list(made.stash.lots)
    for new in lots:
        stash._check_lot(made, new)
        others = [lot for lot in shelf if lot.shade_ref == new.shade_ref]
        at = next((i for i, lot in enumerate(shelf) if lot.ref == new.ref), None)
        if at is None:
            stash._check_code(made, new, others)
            shelf.append(new)
        else:
            shelf[at] = new
    return replace(made, stash=Stash(tuple(shelf)))


@given(st.lists(_PUT, max_size=6), st.lists(_PUT, max_size=8), st.booleans())
def test_many_lots_are_put_as_one_by_one(there: list[Lot], lots: list[Lot], lot_less: bool) -> None:
    shelf = tuple({lot.ref: lot for lot in there}.values())
    yarns = (yarn("wool"), yarn("plain", no_dye_lot=lot_less))
    made = replace(studio(), stash=Stash(shelf), library=Library(yarns))

    def outcome(put: Callable[[Studio, list[Lot]], Studio]) -> object:
        try:
            return put(made, lots).stash
        except EditRefusedError as error:
            return error.text

    assert outcome(edits.put_lots) == outcome(_put_plainly)


def test_a_corrected_code_takes_its_claims_along() -> None:
    start = piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 4, HOLD_1), Stripe("C", 2, PIN_1))
    base = studio(replace(start, border=border("A", HOLD_1)), piece("other"))
    corrected = edits.set_lot(base, MOSS_1, replace(the_lot(base, MOSS_1), code="11"))
    now = corrected.project["throw"]
    assert [s.claim and s.claim.on for s in now.stripes] == ["11", "1", "11"]
    assert now.border == border("A", Claim(ClaimKind.HOLD, "11"))
    assert now.stripes[1] is start.stripes[1]  # a hold on lot 1 of another shade
    assert corrected.project["other"] is base.project["other"]
    back = edits.set_lot(corrected, LotRef("wool", "10", "11"), the_lot(base, MOSS_1))
    assert back == base


def test_correcting_a_lot() -> None:
    base = studio(piece("throw", Stripe("A", 6, HOLD_1)))
    old = the_lot(base, MOSS_1)
    assert edits.set_lot(base, MOSS_1, old) is base
    noted = edits.set_lot(base, MOSS_1, replace(old, note="smells of cedar"))
    assert noted.projects is base.projects
    refused(lambda: edits.set_lot(base, MOSS_1, replace(old, code="2")), "lot 2 of Wool Moss")
    refused(lambda: edits.set_lot(base, MOSS_1, replace(old, shade="20", code="9")), "promised to")
    other = the_lot(base, MOSS_2)
    moved = edits.set_lot(base, MOSS_2, replace(other, shade="20"))
    assert the_lot(moved, LotRef("wool", "20", "2")).balls == 6
    refused(lambda: edits.set_lot(base, LotRef("wool", "10", "9"), old), "no lot '9' of Wool Moss")


def test_a_promised_lot_stays_until_it_is_worked() -> None:
    held = studio(piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 6), rows_done=5))
    refused(lambda: edits.remove_lot(held, MOSS_1), "promised to Throw (stripe 1)")
    worked = studio(piece("throw", Stripe("A", 6, HOLD_1), Stripe("B", 6), rows_done=6))
    gone = edits.remove_lot(worked, MOSS_1)
    assert MOSS_1 not in [lot.ref for lot in gone.stash.lots]


def test_a_pin_of_a_quote_goes_with_its_lot() -> None:
    quote = piece("throw", Stripe("A", 6, PIN_1), Stripe("B", 6, PIN_1), stage=Stage.QUOTED)
    gone = edits.remove_lot(studio(quote, piece("other")), MOSS_1)
    assert [s.claim for s in gone.project["throw"].stripes] == [None, PIN_1]


def test_using_balls_takes_the_oldest_and_keeps_what_was_paid() -> None:
    base = studio()
    used = edits.use_balls(base, MOSS_2, 5)
    assert [b.balls for b in the_lot(used, MOSS_2).batches] == [0, 1]  # unknown dates go first
    assert the_lot(used, MOSS_2).batches[0].price == D("4.50")
    assert edits.use_balls(base, MOSS_2, 0) is base
    refused(lambda: edits.use_balls(base, MOSS_2, 7), "6 full balls", "7 cannot")
    refused(lambda: edits.use_balls(base, MOSS_2, -1), "-1 cannot")


def test_part_balls() -> None:
    base = studio()
    assert the_lot(edits.weigh_part(base, MOSS_1, 1, D("12.5")), MOSS_1).parts_g == (
        D(20),
        D("12.5"),
    )
    assert the_lot(edits.weigh_part(base, MOSS_1, 0, D(0)), MOSS_1).parts_g == (D(31),)
    added = edits.weigh_part(base, MOSS_1, None, D(7))
    assert the_lot(added, MOSS_1).parts_g == (D(20), D(31), D(7))
    assert edits.weigh_part(added, MOSS_1, 2, D(0)) == base
    assert edits.weigh_part(base, MOSS_1, 0, D(20)) is base
    refused(lambda: edits.weigh_part(base, MOSS_1, 2, D(5)), "no part ball 3", "2 part balls")
    refused(lambda: edits.weigh_part(base, MOSS_1, 0, D(-5)), "-5 g")
    refused(lambda: edits.weigh_part(base, MOSS_1, None, D(0)), "0 g")
    refused(lambda: edits.weigh_part(base, MOSS_1, 0, D(56)), "56 g", "50 g")


@given(st.integers(0, 9), st.integers(0, 9), st.integers(0, 18))
def test_balls_used_leave_the_lot_and_nothing_else(first: int, second: int, used: int) -> None:
    lot = Lot("wool", "20", "9", (Batch(first, bought=date(2026, 5, 1)), Batch(second)), (D(9),))
    start = edits.add_lot(studio(), lot)
    if used > first + second:
        refused(lambda: edits.use_balls(start, lot.ref, used), "cannot be used up")
        return
    after = edits.use_balls(start, lot.ref, used)
    assert the_lot(after, lot.ref).balls == first + second - used
    assert all(a is b for a, b in zip(after.stash.lots[:-1], start.stash.lots[:-1], strict=True))
    assert after.projects is start.projects
    assert after.library is start.library


def test_yarns() -> None:
    base = studio()
    new = yarn("silk")
    added = edits.add_yarn(base, new)
    assert added.library.yarn["silk"] is new
    assert added.projects is base.projects
    assert added.stash is base.stash
    assert edits.set_yarn(added, new) is added
    dearer = edits.set_yarn(added, replace(new, price=D(9)))
    assert dearer.library.yarn["silk"].price == D(9)
    assert dearer.library.yarn["wool"] is base.library.yarn["wool"]
    refused(lambda: edits.add_yarn(base, yarn()), "'wool' already")
    refused(lambda: edits.set_yarn(base, new), "no yarn 'silk'")


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({"name": ""}, "needs a name"),
        ({"category": 8}, "0 to 7"),
        ({"ball_g": D(0)}, "0 grams"),
        ({"ball_m": D(-1)}, "-1 metres"),
        ({"price": D(-1)}, "price of -1"),
        ({"fibres": (Fibre("wool", D(90)),)}, "90 %"),
        ({"shades": (Shade("1", "A", ("#000000",)), Shade("1", "B", ("#000000",)))}, "twice"),
        ({"shades": (Shade("1", "A", ()),)}, "none"),
        ({"shades": (Shade("1", "A", ("red",)),)}, "#7A8B69"),
    ],
)
def test_yarns_that_cannot_be_are_refused(more: dict[str, object], word: str) -> None:
    refused(lambda: edits.add_yarn(studio(), yarn("silk", **more)), word)


def test_a_shade_in_use_stays() -> None:
    base = studio()
    bare = replace(base.library.yarn["wool"], shades=(Shade("99", "New", ("#000000",)),))
    refused(lambda: edits.set_yarn(base, bare), "Wool Moss is in the stash")
    no_lots = replace(base, stash=replace(base.stash, lots=()))
    refused(lambda: edits.set_yarn(no_lots, bare), "on order (p1)")
    no_orders = replace(no_lots, stash=replace(no_lots.stash, purchases=()))
    refused(lambda: edits.set_yarn(no_orders, bare), "is in Throw")
    assert edits.set_yarn(replace(no_orders, projects=()), bare).library.yarn["wool"] == bare


def test_stitches_and_swatches() -> None:
    base = studio()
    shell = Stitch("shell", "shells", 6, 1)
    with_stitch = edits.add_stitch(base, shell)
    assert with_stitch.library.stitches == (*base.library.stitches, shell)
    refused(lambda: edits.add_stitch(base, Stitch("sc", "again")), "'sc' already")
    refused(lambda: edits.add_stitch(base, replace(shell, multiple=0)), "multiple of 0")
    refused(lambda: edits.add_stitch(base, replace(shell, kinds=())), "last kind")
    first = (RowKind("foundation", 0), RowKind("body"))
    refused(lambda: edits.add_stitch(base, replace(shell, kinds=first)), "foundation")

    count = GaugeCount(D(12), cm(10), D(9), cm(10))
    swatch = Swatch("s1", "wool", "sc", D(5), count, None, Weighing(D(9), D(12), D(11)))
    added = edits.add_swatch(base, swatch)
    assert added.library.swatches == (swatch,)
    refused(lambda: edits.add_swatch(added, swatch), "'s1' already")
    refused(lambda: edits.add_swatch(base, replace(swatch, yarn="silk")), "no yarn 'silk'")
    refused(lambda: edits.add_swatch(base, replace(swatch, stitch="knot")), "no stitch 'knot'")
    refused(lambda: edits.add_swatch(base, replace(swatch, hook_mm=D(0))), "hook of 0")
    zero = replace(swatch, after=replace(count, rows=D(0)))
    refused(lambda: edits.add_swatch(base, zero), "0 rows")
    bad = replace(swatch, trials=(Weighing(D(4), D(12)),))
    refused(lambda: edits.add_swatch(base, bad), "more than 0 g")


def test_stitches_and_swatches_are_put_right_and_removed() -> None:
    shell = Stitch("shell", "shells", 6, -1)
    count = GaugeCount(D(12), cm(10), D(9), cm(10))
    swatch = Swatch("s1", "wool", "shell", D(5), count)
    base = edits.add_swatch(edits.add_stitch(studio(), shell), swatch)

    eight = replace(shell, multiple=8)
    assert edits.set_stitch(base, eight).library.stitch["shell"] == eight
    assert edits.set_stitch(base, shell) is base
    refused(lambda: edits.set_stitch(base, Stitch("knot", "knots")), "no stitch 'knot'")
    refused(lambda: edits.remove_stitch(base, "shell"), "swatch s1")
    refused(lambda: edits.remove_stitch(base, "sc"), "Throw is worked in single crochet")

    looser = replace(swatch, hook_mm=D(6))
    assert edits.set_swatch(base, looser).library.swatches == (looser,)
    assert edits.set_swatch(base, swatch) is base
    refused(lambda: edits.set_swatch(base, replace(swatch, yarn="silk")), "no yarn 'silk'")
    refused(lambda: edits.set_swatch(base, replace(swatch, key="s2")), "no swatch 's2'")
    bare = edits.remove_swatch(base, "s1")
    assert bare.library.swatches == ()
    assert edits.remove_stitch(bare, "shell").library.stitches == studio().library.stitches
    refused(lambda: edits.remove_swatch(bare, "s1"), "no swatch 's1'")
    assert edits.swatch_key(base, "wool", "sc", D("5.5")) == "wool-sc-5-5mm"


def test_a_yarn_is_removed_with_its_swatches_and_stays_while_it_is_in_use() -> None:
    silk = yarn("silk", works_with=("wool",))
    count = GaugeCount(D(12), cm(10), D(9), cm(10))
    base = edits.add_swatch(edits.add_yarn(studio(), silk), Swatch("s", "silk", "sc", D(5), count))
    assert edits.remove_yarn(base, "silk") == studio()
    refused(lambda: edits.remove_yarn(base, "wool"), "Wool Moss is in the stash")
    refused(lambda: edits.remove_yarn(base, "flax"), "no yarn 'flax'")
    alone = replace(base, stash=Stash(), projects=())
    left = edits.remove_yarn(alone, "wool").library.yarn
    assert left["silk"].works_with == ()


def test_settings() -> None:
    base = studio()
    changed = edits.set_settings(base, currency="DKK", rate_per_hour=D(18))
    assert changed.settings.currency == "DKK"
    assert changed.projects is base.projects
    assert edits.set_settings(base, currency="EUR") is base
    refused(lambda: edits.set_settings(base, currency="q"), "'q'")
    refused(lambda: edits.set_settings(base, rate_per_hour=D(-1)), "-1 an hour")
    refused(lambda: edits.set_settings(base, assumed=Assumed(confidence=D(1))), "confidence of 1")
    refused(lambda: edits.set_settings(base, assumed=Assumed(carry_rows=-2)), "carry_rows is -2")
    with pytest.raises(TypeError, match="colour"):
        edits.set_settings(base, colour="blue")
