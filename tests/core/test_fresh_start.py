"""Every kind of edit, one after the other: what is kept must answer as a fresh start would."""

from __future__ import annotations

import functools
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.core import booking, edits
from studio.core.answers import StudioPlan
from studio.core.buying.delivery import Bag, Delivery, Fate
from studio.core.buying.noting import Whom, line_added, line_changed, noted
from studio.core.buying.offers import Offer, PriceBreak, Supplier, flat
from studio.core.buying.parcel import need_dg_of
from studio.core.buying.receiving import receive
from studio.core.buying.shelf import with_staple
from studio.core.edits import customers, trade
from studio.core.lots.solve import solve_shade
from studio.core.model import (
    Fibre,
    LotRule,
    OrderLine,
    Purchase,
    Shade,
    ShadeRef,
    Slot,
    Stage,
    Studio,
    UsedFrom,
    WeighIn,
    Weighing,
    Yarn,
)
from studio.core.reconcile import Kept, Reconciled, reconcile
from studio.core.trade_model import StageDate, StapleRules
from studio.errors import EditRefusedError
from tests.core.small import RUST, SWATCH, TIDE, YARN, lot, piece, studio

TODAY = date(2026, 6, 1)
KIN_1 = ShadeRef("kin", "1")
KIN = replace(YARN, key="kin", name="Kin", works_with=("marl",), price=None)


def _made() -> Studio:
    """Held, quoted and finished pieces, an order on its way, a staple, and who sells it."""
    finished = [
        piece(
            f"old{n}",
            "A4",
            Stage.DELIVERED,
            reached=(StageDate(Stage.DELIVERED, TODAY - timedelta(days=60 * n + 10)),),
        )
        for n in range(9)
    ]
    made = studio(
        piece("a", "A6 B4 A6", Stage.BOOKED, booked=date(2026, 1, 2), due=date(2026, 7, 1)),
        piece("b", "A8 B8", customer="Ilva"),
        piece("c", "B4 A10", Stage.IDEA, slots=(Slot("A", "kin", "1"), Slot("B", "marl", "2"))),
        *finished,
        lots=(lot("x", 4), lot("xx", 2), lot("y", 3, shade="2")),
    )
    order = Purchase(
        "way", "mill", date(2026, 6, 20), (OrderLine("marl", "1", 3, Decimal("5.5")),), TODAY
    )
    made = replace(
        made,
        library=replace(made.library, yarns=(YARN, KIN)),
        stash=replace(made.stash, purchases=(order,)),
        suppliers=(Supplier("mill", "Mill", "EUR", 7, shipping=flat(Decimal("4.50"))),),
        offers=(Offer("mill", "marl", (PriceBreak(1, Decimal("5.50")),)),),
    )
    return with_staple(made, RUST, staple=True)


def _day(draw: st.DataObject) -> date:
    return TODAY + timedelta(days=draw.draw(st.integers(-30, 60)))


def _of_pieces(made: Studio, now: Reconciled, draw: st.DataObject) -> list[Callable[[], Studio]]:
    key = draw.draw(st.sampled_from(["a", "b", "c", "old0"]))
    index = draw.draw(st.integers(0, 2))
    slot = draw.draw(st.sampled_from("AB"))
    rows = draw.draw(st.integers(1, 12))
    return [
        lambda: edits.set_rows(made, key, index, rows),
        lambda: edits.set_slot(made, key, index, slot),
        lambda: edits.set_rows_done(made, key, rows),
        lambda: edits.work_rows(made, key, rows, Decimal(40), TODAY),
        lambda: edits.put_weigh_in(made, key, WeighIn(slot, 2, Decimal(rows * 3), 2)),
        lambda: edits.drop_weigh_in(made, key, 0),
        lambda: edits.take_used(
            made,
            key,
            [
                edits.Take(
                    draw.draw(st.sampled_from(made.stash.lots)).ref,
                    Decimal(rows * 3),
                    draw.draw(st.sampled_from(UsedFrom)),
                    draw.draw(st.booleans()),
                )
            ],
            TODAY,
        ),
        lambda: edits.set_used(made, key, 0, Decimal(rows)),
        lambda: edits.drop_used(made, key, 0),
        lambda: edits.map_slot(made, key, slot, draw.draw(st.sampled_from([RUST, TIDE]))),
        lambda: edits.set_lot_rule(made, key, slot, draw.draw(st.sampled_from(LotRule))),
        lambda: edits.set_project(made, key, stage=draw.draw(st.sampled_from(Stage))),
        lambda: edits.set_project(made, key, due=_day(draw)),
        lambda: edits.set_project(made, key, customer=draw.draw(st.sampled_from(["", "Ilva"]))),
        lambda: customers.add_customer(made, "Ilva"),
        lambda: edits.split_stripe(made, key, index, 2),
        lambda: edits.remove_project(made, "old8"),
        lambda: booking.accept(made, key, now.plan.projects[key], TODAY, TODAY),
    ]


def _of_orders(made: Studio, now: Reconciled, draw: st.DataObject) -> list[Callable[[], Studio]]:
    plans = now.plan.projects
    balls = draw.draw(st.integers(1, 5))
    whom = draw.draw(st.sampled_from(Whom))
    ref = draw.draw(st.sampled_from([RUST, TIDE]))
    line = OrderLine("marl", ref.shade, balls, draw.draw(st.sampled_from([None, Decimal("6.1")])))
    new = Purchase("", "mill", TODAY + timedelta(days=balls), (line,), TODAY)
    fate = draw.draw(st.sampled_from(Fate))
    bag = Bag("marl", ref.shade, draw.draw(st.sampled_from(["x", "new"])), balls, fate)
    parcel = Delivery("way", _day(draw), (bag,), Decimal("4.51"), rest_comes=balls > 2)
    return [
        lambda: noted(made, new, whom, plans),
        lambda: line_added(made, "way", line, whom, plans),
        lambda: line_changed(made, "way", 0, line, whom, plans),
        lambda: edits.remove_line(made, "way", 0),
        lambda: edits.call_off(made, "way"),
        lambda: edits.set_arrival(made, "way", _day(draw)),
        lambda: edits.set_parcel(made, parcel),
        lambda: edits.drop_parcel(made, "way"),
        lambda: receive(made, parcel, need_dg_of(plans)).studio,
    ]


def _of_the_house(made: Studio, draw: st.DataObject) -> list[Callable[[], Studio]]:
    yarn = draw.draw(st.sampled_from(made.library.yarns))
    price = draw.draw(st.sampled_from([None, Decimal(3), Decimal(9)]))
    balls = draw.draw(st.integers(1, 3))
    supplier = made.suppliers[0]

    def yarn_with(**changes: object) -> Yarn:
        return replace(yarn, **changes)  # type: ignore[arg-type]

    return [
        lambda: edits.use_balls(made, made.stash.lots[0].ref, balls),
        lambda: edits.weigh_part(made, made.stash.lots[0].ref, None, Decimal(10 * balls)),
        lambda: edits.add_lot(made, replace(lot("yy", balls), yarn=yarn.key)),
        lambda: edits.remove_lot(made, made.stash.lots[-1].ref),
        lambda: edits.put_lots(made, [lot("x", balls, price=None)]),
        lambda: edits.set_yarn(made, yarn_with(price=price)),
        lambda: edits.set_yarn(made, yarn_with(discontinued=not yarn.discontinued)),
        lambda: edits.set_yarn(made, yarn_with(ball_g=Decimal(50 * balls))),
        lambda: edits.set_swatch(made, replace(SWATCH, weighed=None)),
        lambda: edits.set_settings(made, rate_per_hour=Decimal(balls)),
        lambda: edits.set_supplier(
            made, replace(supplier, lead_days=balls * 10, seen_days=(balls, 20))
        ),
        lambda: edits.remove_supplier(made, supplier.key),
        lambda: edits.set_offer(made, 0, replace(made.offers[0], pack=balls)),
        lambda: edits.remove_offer(made, 0),
        lambda: trade.set_staples(made, StapleRules(Decimal(balls), service=Decimal("0.9"))),
        lambda: with_staple(made, TIDE, staple=balls > 1),
    ]


def _of_the_library(made: Studio, draw: st.DataObject) -> list[Callable[[], Studio]]:
    """Every kind of edit of yarns, shades, barcodes, stitches and swatches."""
    yarn = draw.draw(st.sampled_from(made.library.yarns))
    other = draw.draw(st.sampled_from(made.library.yarns))
    stitch = draw.draw(st.sampled_from(made.library.stitches))
    swatch = draw.draw(st.sampled_from(made.library.swatches or (SWATCH,)))
    number = draw.draw(st.integers(1, 4))
    shade = yarn.shades[0]

    def yarn_with(**changes: object) -> Callable[[], Studio]:
        return lambda: edits.set_yarn(made, replace(yarn, **changes))  # type: ignore[arg-type]

    def shade_with(**changes: object) -> Callable[[], Studio]:
        new = replace(shade, **changes)  # type: ignore[arg-type]
        return yarn_with(shades=(new, *yarn.shades[1:]))

    def stitch_with(**changes: object) -> Callable[[], Studio]:
        return lambda: edits.set_stitch(made, replace(stitch, **changes))  # type: ignore[arg-type]

    def swatch_with(**changes: object) -> Callable[[], Studio]:
        return lambda: edits.set_swatch(made, replace(swatch, **changes))  # type: ignore[arg-type]

    return [
        yarn_with(care=f"wash at {number}0"),
        yarn_with(name=f"Yarn {number}"),
        yarn_with(category=number),
        yarn_with(fibres=() if number == 1 else (Fibre("wool", Decimal(100)),)),
        yarn_with(ball_m=None if number == 1 else Decimal(50 * number)),
        yarn_with(works_with=(other.key,)),
        yarn_with(no_dye_lot=number > 2),
        yarn_with(shades=(*yarn.shades, Shade(f"n{number}", "New", ("#102030",)))),
        yarn_with(shades=yarn.shades[:-1]),
        shade_with(name=f"Shade {number}"),
        shade_with(colours=(f"#a4512{number}",)),
        shade_with(discontinued=number > 2),
        shade_with(staple=number > 2),
        lambda: edits.add_barcode(made, ShadeRef(yarn.key, shade.code), "4006381333931"),
        lambda: edits.add_yarn(made, replace(YARN, key=f"more{number}")),
        lambda: edits.remove_yarn(made, yarn.key),
        stitch_with(name=f"Stitch {number}"),
        stitch_with(instruction=f"Turn {number} times."),
        stitch_with(multiple=number),
        stitch_with(change_either_side=number > 2),
        lambda: edits.add_stitch(made, replace(stitch, key=f"more{number}")),
        swatch_with(note=f"note {number}"),
        swatch_with(weighed=Weighing(Decimal(20), Decimal(10), Decimal(5 * number))),
        swatch_with(after=None),
        lambda: edits.add_swatch(made, replace(swatch, key=f"m{number}", hook_mm=Decimal(4))),
        lambda: edits.add_swatch(made, replace(swatch, key=f"on{number}", yarn=other.key)),
        lambda: edits.remove_swatch(made, swatch.key),
    ]


def _edited(made: Studio, now: Reconciled, draw: st.DataObject) -> Studio:
    kinds = [*_of_pieces(made, now, draw), *_of_orders(made, now, draw)]
    kinds += _of_the_library(made, draw)
    if made.suppliers and made.offers:
        kinds += _of_the_house(made, draw)
    try:
        return draw.draw(st.sampled_from(kinds))()
    except EditRefusedError:
        return made


def _settled(made: Studio, kept: Kept | None) -> Reconciled:
    now = reconcile(made, kept, today=TODAY)
    solved = {q: solve_shade(q) for q in now.open_problems.values()}
    return reconcile(made, now.kept, solved, today=TODAY) if solved else now


def _all_of(now: Reconciled) -> tuple[object, ...]:
    plan: StudioPlan = now.plan
    shelf = now.kept.shelf
    told = (dict(plan.projects), dict(plan.lots), plan.shortfalls, dict(plan.shades))
    return (*told, plan.findings, shelf and shelf.lines)


_MADE = _made()


@functools.cache
def _first() -> Reconciled:
    """Where every row of edits begins, worked out once: it can be nothing but a fresh start."""
    now = _settled(_MADE, None)
    assert _all_of(now) == _all_of(_settled(_made(), None))
    return now


def _followed(made: Studio, before: Reconciled) -> Reconciled:
    """The studio after an edit, by what was kept; it answers as a fresh start does."""
    now = _settled(made, before.kept)
    if made is not before.kept.studio:
        assert _all_of(now) == _all_of(_settled(made, None))
    else:
        # The edit was refused or changed nothing, and a fresh start was held to it before.
        assert _all_of(now) == _all_of(before)
    return now


def test_the_staple_is_told_of() -> None:
    """Nine finished pieces over more than a year: without them the shelf would say nothing."""
    shelf = reconcile(_made(), today=TODAY).kept.shelf
    assert shelf is not None
    (line,) = shelf.lines
    assert line.standing is not None


@settings(max_examples=60)
@given(st.data())
def test_every_kind_of_edit_gives_the_answer_of_a_fresh_start(data: st.DataObject) -> None:
    made, now = _MADE, _first()
    for _ in range(4):
        made = _edited(made, now, data)
        now = _followed(made, now)


@settings(max_examples=60)
@given(st.data())
def test_every_kind_of_library_edit_gives_the_answer_of_a_fresh_start(data: st.DataObject) -> None:
    made, now = _MADE, _first()
    for _ in range(5):
        kinds = _of_the_library(made, data)
        # Of another kind now and then, since evidence stands on pieces too.
        kinds += _of_pieces(made, now, data)[4:7]
        with suppress(EditRefusedError):
            made = data.draw(st.sampled_from(kinds))()
        now = _followed(made, now)


def _anew(made: Studio, edit: Callable[[Studio], Studio]) -> tuple[set[ShadeRef], set[str]]:
    """The shades and the pieces that an edit has worked out anew."""
    first = _settled(made, None)
    then = reconcile(edit(made), first.kept, today=TODAY)
    shades = {r for r, o in then.kept.outcomes.items() if first.kept.outcomes.get(r) is not o}
    pieces = {k for k, p in then.plan.projects.items() if first.plan.projects.get(k) is not p}
    return shades, pieces


def _with_yarn(key: str, **changes: object) -> Callable[[Studio], Studio]:
    def edit(made: Studio) -> Studio:
        return edits.set_yarn(made, replace(made.library.yarn[key], **changes))  # type: ignore[arg-type]

    return edit


@pytest.mark.parametrize(
    "edit",
    [
        _with_yarn("marl", care="wash cold"),
        lambda made: edits.add_barcode(made, RUST, "4006381333931"),
        lambda made: with_staple(made, TIDE, staple=True),
        lambda made: edits.set_swatch(made, replace(SWATCH, note="on the sofa")),
        lambda made: edits.set_stitch(made, replace(made.library.stitches[0], instruction="Turn.")),
        lambda made: edits.add_yarn(made, replace(YARN, key="another")),
    ],
    ids=["care", "barcode", "staple", "swatch note", "instruction", "new yarn"],
)
def test_what_no_computation_reads_touches_nothing(edit: Callable[[Studio], Studio]) -> None:
    assert _anew(_made(), edit) == (set(), set())


def test_a_name_touches_the_pieces_that_say_it_and_no_lot() -> None:
    assert _anew(_made(), _with_yarn("kin", name="Cousin")) == (set(), {"c"})


def test_metres_and_prices_touch_the_shades_and_pieces_of_their_yarn() -> None:
    for changes in ({"ball_m": Decimal(60)}, {"price": Decimal(3)}):
        shades, pieces = _anew(_made(), _with_yarn("kin", **changes))
        assert shades <= {KIN_1, ShadeRef("kin", "2"), TIDE}
        assert KIN_1 in shades
        assert "c" in pieces
        assert not any(key.startswith("old") for key in pieces)


def test_a_price_leaves_every_answer_about_lots_as_it_is() -> None:
    first = _settled(_made(), None)
    then = reconcile(_with_yarn("marl", price=Decimal(3))(_made()), first.kept, today=TODAY)
    for ref, outcome in then.kept.outcomes.items():
        assert outcome.answer is first.kept.outcomes[ref].answer


def test_a_swatch_touches_the_pieces_that_stand_on_it() -> None:
    made = _made()
    other = replace(SWATCH, key="other", hook_mm=Decimal("12.5"))
    more = replace(made, library=replace(made.library, swatches=(*made.library.swatches, other)))
    assert _anew(more, lambda m: edits.remove_swatch(m, "other")) == (set(), set())
    _, pieces = _anew(made, lambda m: edits.set_swatch(m, replace(SWATCH, weighed=None)))
    assert {"a", "b"} <= pieces


def test_a_shade_that_nobody_asks_for_any_more_has_no_answer() -> None:
    made = _made()
    first = _settled(made, None)
    assert KIN_1 in first.plan.shades
    then = _settled(edits.map_slot(made, "c", "A", TIDE), first.kept)
    assert KIN_1 not in then.plan.shades


def test_what_is_typed_of_a_parcel_touches_no_plan() -> None:
    """Each bag is an edit of its own, so a key must not wait for the shades of the order."""
    made = _made()
    first = _settled(made, None)
    typed = Delivery("way", TODAY, (Bag("marl", "1", "new", 2),))
    then = reconcile(edits.set_parcel(made, typed), first.kept, today=TODAY)
    assert all(then.kept.outcomes[ref] is old for ref, old in first.kept.outcomes.items())
    assert all(then.plan.projects[key] is old for key, old in first.plan.projects.items())


def test_answers_are_copied_only_where_new_ones_came() -> None:
    made = _made()
    first = _settled(made, None)
    then = reconcile(edits.set_rows(made, "b", 0, 4), first.kept, today=TODAY)
    assert then.kept.exact is first.kept.exact


def test_offers_are_looked_through_only_where_one_changed() -> None:
    made = _made()
    first = _settled(made, None)
    then = reconcile(edits.set_rows(made, "b", 0, 4), first.kept, today=TODAY)
    dearer = replace(made.offers[0], breaks=(PriceBreak(1, Decimal("6.50")),))
    other = reconcile(edits.set_offer(made, 0, dearer), first.kept, today=TODAY)
    shelves = [now.kept.shelf for now in (first, then, other)]
    assert shelves[0] is not None
    assert shelves[1] is not None
    assert shelves[2] is not None
    assert shelves[1].book is shelves[0].book
    assert shelves[2].book.offers == (dearer,)
