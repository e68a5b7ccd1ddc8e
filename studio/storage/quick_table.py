"""What the files may hold, for `quick`: made from `records*.py`, never by hand."""

# Made by `python -m tests.quick_table`.
# fmt: off
# ruff: noqa: E501

from __future__ import annotations

from decimal import Decimal

from studio.core.buying.delivery import (
    Fate,
    ShareBy,
)
from studio.core.buying.offers import (
    BreakScope,
)
from studio.core.model import (
    CrochetTerms,
    Direction,
    Join,
    Length,
    LengthUnit,
    LotRule,
    Method,
    Stage,
    StashValue,
    UsedFrom,
    WeightUnit,
)
from studio.core.trade_model import (
    PaymentKind,
    WorkKind,
)
from studio.storage import rules
from studio.storage.quick import (
    NEEDED,
    Check,
    Row,
    a_date,
    a_truth,
    exact,
    many,
    named,
    number_of,
    one_of,
    table,
    text,
    then,
    whole,
    word,
)

whole_1 = whole(least=1, most=1)
text_1 = text(least=1, most=200, pattern='^[^\\x00-\\x1f\\x7f-\\x9f]*$')
text_2 = text()
word_1 = word(kind=LengthUnit)
word_2 = word(kind=WeightUnit)
word_3 = word(kind=CrochetTerms)
exact_1 = exact(ge=Decimal('0'), le=Decimal('1000000000'), places=6)
word_4 = word(kind=StashValue)
word_5 = word(kind=Join)
word_6 = word(kind=LotRule)
text_3 = text(most=400, pattern='^[^\\x00-\\x1f\\x7f-\\x9f]*$')
exact_2 = exact(gt=Decimal('0'), le=Decimal('1000000000'), places=6)
exact_3 = exact(gt=Decimal('0'), lt=Decimal('1'), places=6)
whole_2 = whole(least=0, most=1000000)

assumed_record = table(
    prior_weight=(exact_2, Decimal('4')),
    prior_spread=(exact_1, Decimal('0.05')),
    other_piece_spread=(exact_1, Decimal('0.03')),
    ball_spread=(exact_1, Decimal('0.02')),
    scale_step_g=(exact_2, Decimal('1')),
    confidence=(exact_3, Decimal('0.95')),
    size_tolerance=(exact_1, Decimal('0.05')),
    carry_rows=(whole_2, 2),
    tail=(rules.length, Length(Decimal('15'), LengthUnit.CM)),
    min_per_end=(exact_1, Decimal('3')),
    alike_difference=(exact_1, Decimal('10')),
)

settings_record = table(
    format=(whole_1, NEEDED),
    name=(text_1, NEEDED),
    currency=(then(text_2, rules.currency), 'EUR'),
    length_unit=(word_1, LengthUnit.CM),
    weight_unit=(word_2, WeightUnit.GRAM),
    terms=(word_3, CrochetTerms.US),
    rate_per_hour=(exact_1, Decimal('15')),
    tax_registered=(a_truth, False),
    stash_value=(word_4, StashValue.REPLACEMENT),
    join=(word_5, Join.ANYWHERE),
    lots_for_customer=(word_6, LotRule.ONE),
    lots_otherwise=(word_6, LotRule.BY_STRIPE),
    theme=(text_3, ''),
    assumed=(assumed_record, Row(prior_weight=Decimal('4'), prior_spread=Decimal('0.05'), other_piece_spread=Decimal('0.03'), ball_spread=Decimal('0.02'), scale_step_g=Decimal('1'), confidence=Decimal('0.95'), size_tolerance=Decimal('0.05'), carry_rows=2, tail=Length(Decimal('15'), LengthUnit.CM), min_per_end=Decimal('3'), alike_difference=Decimal('10'))),
)
whole_3 = whole(least=0, most=1000)

parcel_record = table(
    name=(text_1, NEEDED),
    up_to_g=(exact_2, NEEDED),
    paid=(exact_1, NEEDED),
    charged=(exact_1, None),
)
exact_4 = exact(ge=Decimal('0'), lt=Decimal('1'), places=6)
exact_5 = exact(ge=Decimal('0'), le=Decimal('1'), places=6)

fees_record = table(
    on_price=(exact_4, Decimal('0')),
    on_charged=(exact_4, Decimal('0')),
    on_total=(exact_4, Decimal('0')),
    fixed=(exact_1, Decimal('0')),
)

ending_record = table(
    step=(exact_2, NEEDED),
    tail=(exact_1, Decimal('0')),
)

prices_record = table(
    margin=(exact_4, Decimal('0.2')),
    overhead=(exact_1, Decimal('0')),
    overhead_per_hour=(exact_1, Decimal('0')),
    floor_per_hour=(exact_1, Decimal('0')),
    tax_rate=(exact_4, Decimal('0')),
    tax_inclusive=(a_truth, True),
    deposit_share=(exact_5, Decimal('0.3')),
    valid_days=(whole_3, 14),
    per_area=(exact_1, None),
    fees=(fees_record, Row(on_price=Decimal('0'), on_charged=Decimal('0'), on_total=Decimal('0'), fixed=Decimal('0'))),
    ending=(ending_record, None),
)

day_off_record = table(
    first=(a_date, NEEDED),
    last=(a_date, NEEDED),
    note=(text_3, ''),
)

hours_record = table(
    monday=(rules.hours_of_day, 180),
    tuesday=(rules.hours_of_day, 180),
    wednesday=(rules.hours_of_day, 180),
    thursday=(rules.hours_of_day, 180),
    friday=(rules.hours_of_day, 180),
    saturday=(rules.hours_of_day, 0),
    sunday=(rules.hours_of_day, 0),
    daily_limit=(rules.hours_of_day, 300),
    day_off=(many(then(day_off_record, rules.days_in_order)), ()),
)

task_record = table(
    name=(text_1, NEEDED),
    minutes=(exact_1, NEEDED),
)

times_record = table(
    stitches_per_min=(exact_2, Decimal('20')),
    min_per_strand=(exact_1, Decimal('0.5')),
    task=(many(task_record), (Row(name='blocking', minutes=Decimal('30')), Row(name='photographs', minutes=Decimal('20')), Row(name='packing', minutes=Decimal('20')), Row(name='messages', minutes=Decimal('30')), )),
)
exact_6 = exact(ge=Decimal('0.5'), lt=Decimal('1'), places=6)

staples_record = table(
    order_cost=(exact_1, Decimal('0')),
    holding=(exact_4, Decimal('0.2')),
    service=(exact_6, Decimal('0.95')),
)

trade_record = table(
    format=(whole_1, NEEDED),
    transit_days=(whole_3, 3),
    drying_days=(whole_3, 2),
    lead_days=(whole_3, 10),
    packing_g=(exact_1, Decimal('100')),
    hand_order=(many(text_1), ()),
    shipping=(many(parcel_record), ()),
    prices=(prices_record, Row(margin=Decimal('0.2'), overhead=Decimal('0'), overhead_per_hour=Decimal('0'), floor_per_hour=Decimal('0'), tax_rate=Decimal('0'), tax_inclusive=True, deposit_share=Decimal('0.3'), valid_days=14, per_area=None, fees=Row(on_price=Decimal('0'), on_charged=Decimal('0'), on_total=Decimal('0'), fixed=Decimal('0')), ending=None)),
    hours=(hours_record, Row(monday=180, tuesday=180, wednesday=180, thursday=180, friday=180, saturday=0, sunday=0, daily_limit=300, day_off=())),
    times=(times_record, Row(stitches_per_min=Decimal('20'), min_per_strand=Decimal('0.5'), task=(Row(name='blocking', minutes=Decimal('30')), Row(name='photographs', minutes=Decimal('20')), Row(name='packing', minutes=Decimal('20')), Row(name='messages', minutes=Decimal('30')), ))),
    staples=(staples_record, Row(order_cost=Decimal('0'), holding=Decimal('0.2'), service=Decimal('0.95'))),
)
text_4 = text(most=20000, pattern='^[^\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f]*$')

customer_record = table(
    key=(text_1, NEEDED),
    name=(text_1, NEEDED),
    contact=(many(text_3), ()),
    note=(text_4, ''),
)

customers_record = table(
    format=(whole_1, NEEDED),
    customer=(then(many(customer_record), rules.customers_once), ()),
)
whole_4 = whole(least=0, most=7)
text_5 = text(pattern='^#[0-9A-Fa-f]{6}$')
text_6 = text(pattern='^[0-9]{8}$|^[0-9]{12,14}$')

shade_record = table(
    code=(text_1, NEEDED),
    name=(text_1, NEEDED),
    colour=(then(then(then(rules.as_many, many(text_5)), number_of(least=1)), number_of(most=12)), NEEDED),
    discontinued=(a_truth, False),
    staple=(a_truth, False),
    barcodes=(many(text_6), ()),
)

yarn_record = table(
    format=(whole_1, NEEDED),
    name=(text_1, NEEDED),
    category=(whole_4, NEEDED),
    ball_g=(exact_2, NEEDED),
    ball_m=(exact_2, None),
    price=(exact_1, None),
    care=(text_3, ''),
    no_dye_lot=(a_truth, False),
    discontinued=(a_truth, False),
    works_with=(many(text_1), ()),
    fibres=(then(named(text_1, exact_2), rules.sum_100), {}),
    shade=(then(many(shade_record), rules.shades_once), ()),
)
whole_5 = whole(least=1, most=1000000)
whole_6 = whole(least=-1000, most=1000)

kind_record = table(
    name=(text_1, NEEDED),
    rows=(whole_5, None),
    weight=(exact_2, Decimal('1')),
    per_repeat=(whole_5, None),
    extra_stitches=(whole_6, 0),
    instruction=(text_4, ''),
)

stitch_record = table(
    format=(whole_1, NEEDED),
    name=(text_1, NEEDED),
    multiple=(whole_5, 1),
    extra=(whole_6, 0),
    skipped=(whole_2, 1),
    turning_chain=(whole_2, 1),
    turning_counts=(a_truth, False),
    change_either_side=(a_truth, False),
    stitches_per_repeat=(whole_5, None),
    edge_stitches=(whole_2, 0),
    instruction=(text_4, ''),
    kind=(then(many(kind_record, most=50), rules.one_body), ()),
)
exact_7 = exact(gt=Decimal('0'), le=Decimal('100'), places=6)

count_record = table(
    stitches=(exact_2, NEEDED),
    stitch_span=(then(rules.length, rules.above_zero), NEEDED),
    rows=(exact_2, NEEDED),
    row_span=(then(rules.length, rules.above_zero), NEEDED),
    in_repeats=(a_truth, False),
)

weighing_record = table(
    rows=(exact_2, NEEDED),
    stitches=(exact_2, NEEDED),
    grams=(exact_2, None),
    balls=(exact_2, None),
    first_row=(whole_5, 1),
    minutes=(exact_2, None),
    on=(a_date, None),
    note=(text_4, ''),
)

swatch_record = table(
    format=(whole_1, NEEDED),
    yarn=(text_1, NEEDED),
    stitch=(text_1, NEEDED),
    hook_mm=(exact_7, NEEDED),
    note=(text_4, ''),
    before=(count_record, None),
    after=(count_record, None),
    weighed=(then(weighing_record, rules.one_amount), None),
    trial=(many(then(weighing_record, rules.one_amount)), ()),
)

batch_record = table(
    balls=(whole_2, NEEDED),
    price=(exact_1, None),
    shipping=(exact_1, Decimal('0')),
    bought=(a_date, None),
    supplier=(text_3, ''),
    kept=(text_3, ''),
)

lot_record = table(
    shade=(text_1, NEEDED),
    code=(text_3, ''),
    code_lost=(a_truth, False),
    parts_g=(many(exact_2), ()),
    note=(text_4, ''),
    batch=(many(batch_record), ()),
)

stash_record = table(
    format=(whole_1, NEEDED),
    lot=(then(many(lot_record), rules.lots_once), ()),
)

weight_tier_record = table(
    up_to_g=(exact_2, None),
    cost=(exact_1, NEEDED),
)
whole_7 = whole(least=1, most=1000)

break_record = table(
    from_balls=(whole_5, NEEDED, 'from'),
    price=(exact_1, NEEDED),
)
word_7 = word(kind=BreakScope)

offer_record = table(
    yarn=(text_1, NEEDED),
    shades=(many(text_1), None),
    pack=(whole_7, 1),
    price=(then(rules.one_price, many(break_record)), NEEDED),
    scope=(word_7, BreakScope.SHADE),
    note=(text_3, ''),
)

supplier_record = table(
    format=(whole_1, NEEDED),
    name=(text_1, NEEDED),
    currency=(then(text_2, rules.currency), NEEDED),
    lead_days=(whole_3, None),
    seen_days=(many(whole_3), ()),
    minimum=(exact_1, Decimal('0')),
    free_from=(exact_1, None),
    note=(text_4, ''),
    shipping=(then(rules.one_cost, many(weight_tier_record)), (Row(up_to_g=None, cost=Decimal('0')), )),
    offer=(many(offer_record), ()),
)

line_record = table(
    yarn=(text_1, NEEDED),
    shade=(text_1, NEEDED),
    balls=(whole_5, NEEDED),
    price=(exact_1, None),
)
word_8 = word(kind=ShareBy)
word_9 = word(kind=Fate)

bag_record = table(
    yarn=(text_1, NEEDED),
    shade=(text_1, NEEDED),
    code=(text_3, ''),
    balls=(whole_5, NEEDED),
    fate=(word_9, Fate.GOOD),
    code_lost=(a_truth, False),
)

paid_record = table(
    yarn=(text_1, NEEDED),
    shade=(text_1, NEEDED),
    price=(exact_1, NEEDED),
)

delivery_record = table(
    on=(a_date, NEEDED),
    shipping=(exact_1, Decimal('0')),
    tax=(exact_1, Decimal('0')),
    share_by=(word_8, ShareBy.VALUE),
    rest_comes=(a_truth, True),
    rest_arrives=(a_date, None),
    kept=(text_3, ''),
    bag=(many(bag_record), ()),
    price=(then(many(paid_record), rules.prices_once), ()),
)

purchase_record = table(
    format=(whole_1, NEEDED),
    supplier=(text_1, NEEDED),
    arrives=(a_date, NEEDED),
    ordered=(a_date, None),
    part_came=(a_truth, False),
    note=(text_4, ''),
    line=(many(line_record), ()),
    parcel=(delivery_record, None),
)
word_10 = word(kind=Stage)
word_11 = word(kind=Direction)
word_12 = word(kind=Method)

rest_record = table(
    hold=(text_3, None),
    on_order=(text_1, None),
    pairs=(many(whole_5, most=1000), ()),
    grams=(exact_2, None),
)
text_7 = text(pattern='^[A-Z]$')
whole_8 = whole(least=1, most=2000)

stripe_record = table(
    hold=(text_3, None),
    pin=(text_3, None),
    on_order=(text_1, None),
    pairs=(many(whole_5, most=1000), ()),
    rest=(then(rest_record, rules.one_claim_of_rest), None),
    grams=(exact_1, None),
    slot=(text_7, NEEDED),
    rows=(whole_8, NEEDED),
    note=(text_4, ''),
)

notion_record = table(
    name=(text_1, NEEDED),
    cost=(exact_1, NEEDED),
)

weigh_in_record = table(
    slot=(text_7, NEEDED),
    rows=(whole_5, NEEDED),
    grams=(exact_2, NEEDED),
    first_row=(whole_5, 2),
    on=(a_date, None),
)
word_13 = word(kind=UsedFrom)

used_record = table(
    yarn=(text_1, NEEDED),
    shade=(text_1, NEEDED),
    lot=(text_3, ''),
    grams=(exact_2, NEEDED),
    paid=(exact_1, None),
    on=(a_date, None),
    by=(word_13, UsedFrom.WORKED_OUT),
    rows=(whole_2, 0),
    whole=(a_truth, False),
)
word_14 = word(kind=PaymentKind)

payment_record = table(
    kind=(word_14, NEEDED),
    amount=(exact_2, NEEDED),
    on=(a_date, NEEDED),
    note=(text_3, ''),
)

reached_record = table(
    stage=(word_10, NEEDED),
    on=(a_date, NEEDED),
)
word_15 = word(kind=WorkKind)

work_log_record = table(
    minutes=(exact_2, NEEDED),
    kind=(word_15, WorkKind.CROCHET),
    rows=(whole_2, 0),
    first_row=(whole_5, 1),
    on=(a_date, None),
    note=(text_3, ''),
)

accepted_record = table(
    code=(text_1, NEEDED),
    note=(text_4, ''),
)

size_record = table(
    width=(then(rules.length, rules.above_zero), NEEDED),
    length=(then(rules.length, rules.above_zero), NEEDED),
)

slot_record = table(
    yarn=(text_1, NEEDED),
    shade=(text_1, NEEDED),
    lots=(word_6, None),
)
whole_9 = whole(least=1, most=200)

border_record = table(
    hold=(text_3, None),
    pin=(text_3, None),
    on_order=(text_1, None),
    pairs=(many(whole_5, most=1000), ()),
    rest=(then(rest_record, rules.one_claim_of_rest), None),
    grams=(exact_1, None),
    slot=(text_7, NEEDED),
    rounds=(whole_9, NEEDED),
    width=(rules.length, NEEDED),
    pick_up=(exact_2, Decimal('1')),
    corners=(whole_2, 12),
    increase=(whole_2, 8),
)

fringe_record = table(
    hold=(text_3, None),
    pin=(text_3, None),
    on_order=(text_1, None),
    pairs=(many(whole_5, most=1000), ()),
    rest=(then(rest_record, rules.one_claim_of_rest), None),
    grams=(exact_1, None),
    slot=(text_7, NEEDED),
    strands=(whole_5, NEEDED),
    cut=(then(rules.length, rules.above_zero), NEEDED),
)

stated_record = table(
    chain=(whole_5, None),
    stitches=(whole_5, None),
    rows=(whole_5, None),
    width=(then(rules.length, rules.above_zero), None),
    length=(then(rules.length, rules.above_zero), None),
)
exact_8 = exact(ge=Decimal('-1000000000'), le=Decimal('1000000000'))

figure_record = table(
    code=(text_1, NEEDED),
    label=(text_1, NEEDED),
    amount=(exact_8, NEEDED),
    unit=(text_3, ''),
)

quote_record = table(
    on=(a_date, NEEDED),
    valid_until=(a_date, NEEDED),
    price=(exact_1, NEEDED),
    shipping=(exact_1, NEEDED),
    tax=(exact_1, NEEDED),
    total=(exact_1, NEEDED),
    deposit=(exact_1, NEEDED),
    currency=(then(text_2, rules.currency), NEEDED),
    tax_rate=(exact_4, Decimal('0')),
    tax_inclusive=(a_truth, False),
    ready_by=(a_date, None),
    figure=(many(figure_record), ()),
    assumed=(many(text_4), ()),
    design=(text_4, ''),
)

project_record = table(
    format=(whole_1, NEEDED),
    name=(text_1, NEEDED),
    stage=(word_10, NEEDED),
    customer=(text_3, ''),
    due=(a_date, None),
    booked=(a_date, None),
    price=(exact_1, None),
    stitch=(text_1, NEEDED),
    hook_mm=(exact_7, NEEDED),
    direction=(word_11, Direction.ACROSS),
    method=(word_12, Method.ROWS),
    join=(word_5, None),
    mix=(a_truth, False),
    for_baby=(a_truth, False),
    collected=(a_truth, False),
    minutes=(exact_2, None),
    rows_done=(whole_2, 0),
    note=(text_4, ''),
    stripe=(many(then(stripe_record, rules.one_claim), most=2000), ()),
    notion=(many(notion_record), ()),
    weigh_in=(many(weigh_in_record), ()),
    used=(many(used_record), ()),
    payment=(many(payment_record), ()),
    reached=(many(reached_record), ()),
    log=(many(work_log_record), ()),
    accepted=(many(accepted_record), ()),
    size=(size_record, NEEDED),
    slots=(named(text_7, slot_record), {}),
    border=(then(border_record, rules.one_claim), None),
    fringe=(then(fringe_record, rules.one_claim), None),
    stated=(stated_record, Row(chain=None, stitches=None, rows=None, width=None, length=None)),
    quote=(then(quote_record, rules.valid_for_some_time), None),
)
one_of_1 = one_of(words={'year first': 'year first', 'day first': 'day first', 'month first': 'month first'})

sheet_record = table(
    dates=(one_of_1, 'year first'),
    columns=(named(text_1, text_1), {}),
)

columns_record = table(
    format=(whole_1, NEEDED),
    stash=(sheet_record, None),
    prices=(sheet_record, None),
    orders=(sheet_record, None),
)

FILES: dict[str, Check] = {
    "STUDIO": settings_record,
    "TRADE": trade_record,
    "CUSTOMERS": customers_record,
    "YARN": yarn_record,
    "STITCH": stitch_record,
    "SWATCH": swatch_record,
    "STASH": stash_record,
    "SUPPLIER": supplier_record,
    "PURCHASE": purchase_record,
    "PROJECT": project_record,
    "COLUMNS": columns_record,
}
"""By the name of the kind of file."""
