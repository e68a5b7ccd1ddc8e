"""The stable JSON documents of `enquire` and `orders`.

As in `report`: money is a string, grams are numbers to a tenth, times are minutes, days are dates.
"""

from __future__ import annotations

from collections.abc import Sequence

from studio.cli.report import (
    FORMAT,
    Json,
    day,
    finding,
    grams,
    money,
    ref_json,
    run_json,
    shade_json,
)
from studio.core.enquiry import Answer
from studio.core.enquiry_say import findings_of
from studio.core.model import Studio
from studio.core.order_say import Desk
from studio.core.orderbook import Row
from studio.core.price_sheet import Priced
from studio.core.pricing import PriceLine


def _lines(found: Sequence[PriceLine]) -> list[Json]:
    return [
        {"kind": n.kind.value, "label": n.label, "how": n.how, "amount": money(n.amount)}
        for n in found
    ]


def price(priced: Priced) -> Json:
    """A price as it is shown, worked forward line by line."""
    sheet = priced.sheet
    return {
        "shown": money(sheet.shown),
        "by_hand": priced.by_hand,
        "wanted_margin": money(priced.aim.margin),
        "wanted_per_hour": money(priced.aim.per_hour),
        "without_tax": money(sheet.price),
        "tax": money(sheet.tax),
        "total": money(sheet.total),
        "deposit": money(sheet.deposit),
        "balance": money(sheet.balance),
        "margin": money(sheet.margin),
        "margin_share": None if sheet.margin_share is None else round(float(sheet.margin_share), 6),
        "per_hour": money(sheet.pay_per_hour),
        "minutes": float(priced.hours.total_min),
        "minutes_rough": priced.hours.rough,
        "charged": _lines(sheet.charged),
        "leaves": _lines(sheet.leaves),
        "parts": [
            {"label": p.label, "amount": money(p.amount), "share": round(p.share, 6)}
            for p in priced.parts
        ],
        "a_tenth_dearer": [{"label": m.label, "more": money(m.more)} for m in priced.moves],
        "rules_of_thumb": [
            {"name": t.name, "amount": money(t.amount), "how": t.how} for t in priced.thumbs
        ],
        "parcel_g": grams(priced.parcel.weight_g),
        "assumed": list(priced.assumed),
    }


def _offered(answer: Answer) -> Json:
    """What would do with less, and is only offered."""
    return {
        "if_holds_moved": [
            {**ref_json(f.shade), "less_g": grams(f.less_g), "less_balls": f.less_balls,
             "moves": list(f.moves), "proved": f.proved}
            for f in answer.freed
        ],
        "if_lots_by_stripe": [
            {"slot": r.slot, **ref_json(r.shade), "less_g": grams(r.less_g),
             "less_balls": r.less_balls, "proved": r.proved}
            for r in answer.relaxed
        ],
    }  # fmt: skip


def enquiry(answer: Answer, studio: Studio) -> Json:
    """All that is said of a piece before it is taken."""
    piece, size = answer.project, answer.plan.size
    return {
        "format": FORMAT,
        "currency": studio.settings.currency,
        "project": piece.key if piece.key in studio.project else None,
        "name": piece.name,
        "stage": piece.stage.value,
        "customer": piece.customer or None,
        "due": day(piece.due),
        "width_cm": round(size.width_cm, 2) if size else None,
        "length_cm": round(size.length_cm, 2) if size else None,
        "asked_width_cm": round(piece.width.cm, 2),
        "asked_length_cm": round(piece.length.cm, 2),
        "runs": [run_json(r) for r in answer.plan.runs],
        "shades": [shade_json(s) for s in answer.plan.shades],
        "balls_to_buy": answer.buy_balls,
        "material_used": money(answer.plan.cost.used),
        "material_cash": money(answer.plan.cost.cash),
        "takes_from": [
            {"project": c.project, "stage": c.stage.value, **ref_json(c.shade),
             "more_g": grams(c.more_g), "more_balls": c.more_balls}
            for c in answer.competes
        ],
        "price": price(answer.price) if answer.price else None,
        "no_price": answer.no_price or None,
        "drift": [
            {"code": d.code, "label": d.label, "unit": d.unit or None, "then": str(d.then),
             "now": str(d.now)}
            for d in answer.drift
        ],
        "promise": day(answer.promise.ready),
        "ready": day(answer.laid.ready),
        "late_days": answer.laid.late_days,
        "weeks": [
            {"monday": day(w.monday), "there_min": w.there_min, "before_min": w.before_min,
             "after_min": w.after_min}
            for w in answer.weeks
        ],
        "makes_late": [
            {"project": n.project, "before_days": n.before_days, "after_days": n.after_days,
             "ready": day(n.ready)}
            for n in answer.made_late
        ],
        **_offered(answer),
        "findings": [finding(f) for f in findings_of(answer)],
    }  # fmt: skip


def _row(row: Row) -> Json:
    start = row.latest_start
    return {
        "project": row.project,
        "name": row.name,
        "section": row.section.value,
        "stage": row.stage.value,
        "since": day(row.since),
        "customer": row.customer or None,
        "due": day(row.due),
        "done_by": day(row.done_by),
        "ready": day(row.ready),
        "late_days": row.late_days,
        "latest_start": day(start.day) if start else None,
        "behind_min": start.short_min if start else None,
        "total": money(row.total),
        "deposit": money(row.deposit),
        "deposit_paid": row.deposit_paid,
        "received": money(row.received),
        "outstanding": money(row.outstanding),
        "expired": row.expired,
        "from_stock": row.from_stock,
    }


def orders(desk: Desk, studio: Studio) -> Json:
    """The order book with its weeks."""
    totals, hand = desk.book.totals, desk.hand
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": studio.settings.currency,
        "orders": [_row(r) for r in desk.book.rows],
        "totals": {
            "held": totals.held,
            "late": totals.late,
            "agreed": money(totals.agreed),
            "received": money(totals.received),
            "outstanding": money(totals.outstanding),
            "in_stock": totals.stock,
            "in_stock_price": money(totals.stock_price),
            "to_give_back": money(totals.owed_back),
        },
        "findings": [finding(f) for f in desk.findings],
        "weeks": [
            {
                "monday": day(w.monday),
                "there_min": w.there_min,
                "taken_min": w.taken_min,
                "pieces": [{"project": key, "minutes": m} for key, m in w.by_piece],
            }
            for w in desk.weeks
        ],
        "hand_order": list(studio.trade.hand_order),
        "hand_order_cost": None
        if hand is None
        else {
            "greatest_late_days_more": hand.greatest_more,
            "late_days_more": hand.total_more,
            "pieces": [{"project": key, "days_later": days} for key, days in hand.pieces],
        },
    }
