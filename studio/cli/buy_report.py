"""The stable JSON documents of `buy`, `receive` and `staples`.

As in `report`: money is a string, grams are numbers to a tenth, days are dates.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from studio.cli.report import FORMAT, Json, day, grams, money, ref_json, run_name
from studio.core.answers import ProjectPlan, RunRef
from studio.core.buying import parcel, words
from studio.core.buying.asking import PieceAsked, book_troubles
from studio.core.buying.delivery import Delivery
from studio.core.buying.plan import Near, OneSupplier, PlanLine, RunnerUp, SupplierOrder
from studio.core.buying.problem import Need
from studio.core.buying.receiving import Received
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import TooLittle
from studio.core.buying.together import HoldOffer, Together
from studio.core.edits.places import shade_name
from studio.core.model import Purchase, ShadeRef, Studio
from studio.core.money import rounded
from studio.core.prices import landed_price


def _need(need: Need) -> Json:
    return {
        "project": need.project,
        **ref_json(need.shade),
        "need_g": grams(need.dg / 10),
        "need_by": day(need.need_by),
        "runs": list(dict.fromkeys(run_name(RunRef.of_key(key)) for key in need.runs)),
    }


def _line(line: PlanLine) -> Json:
    return {
        **ref_json(line.shade),
        "balls": line.balls,
        "packs": line.packs,
        "pack": line.pack,
        "ball_price": money(line.ball_price),
        "cost": money(line.cost),
        "beyond_need_balls": line.surplus,
        "beyond_need_worth": money(line.worth),
        "for": [{**_need(part.need), "cost": money(part.cost)} for part in line.needs],
    }


def _order(order: SupplierOrder) -> Json:
    return {
        "supplier": order.supplier,
        "name": order.name,
        "arrives": day(order.arrives),
        "goods": money(order.goods),
        "shipping": money(order.shipping),
        "shipping_free": order.free,
        "landed": money(order.landed),
        "lines": [_line(line) for line in order.lines],
    }


def _runner_up(found: RunnerUp | None) -> Json | None:
    if found is None:
        return None
    return {
        "landed": money(found.landed),
        "dearer": money(found.dearer),
        "other_suppliers": found.other_suppliers,
        "runs_moved_share": round(float(found.moved), 6),
        "proved": found.proved,
        "orders": [_order(order) for order in found.orders],
    }


def _single(single: OneSupplier) -> Json:
    return {
        "supplier": single.supplier,
        "landed": money(single.landed),
        "dearer": money(single.dearer),
        "lacks": [ref_json(ref) for ref in single.lacks],
    }


def _near(near: Near) -> Json:
    return {
        "supplier": near.supplier,
        "reaches": near.kind.value,
        **ref_json(near.shade),
        "more_balls": near.balls,
        "adds": money(near.adds),
        "listed": money(near.listed),
        "saves": money(near.saves),
    }


def _moves(moves: Iterable[tuple[str, str, str]]) -> list[Json]:
    return [
        {"project": run.project, "run": run_name(run), "part": run.part, "from": now, "to": then}
        for key, now, then in moves
        for run in (RunRef.of_key(key),)
    ]


def _in_the_way(found: Together, studio: Studio) -> Json:
    """What cannot be had at all and what comes late, each need with its sentence."""
    plan = found.plan
    late = {n.need: n for n in plan.late}
    texts = {need: text for need, text in words.in_the_way(plan, studio) if need in late}
    return {
        "not_to_be_had": [{**_need(n.need), "text": n.text} for n in plan.not_sold],
        "late": [
            {**_need(need), "arrives": day(n.arrives), "late_days": n.days, "text": texts[need]}
            for need, n in late.items()
        ],
    }


def purchase(found: Together, pieces: Sequence[PieceAsked], studio: Studio, today: date) -> Json:
    """The purchase plan, with what cannot be had said first."""
    plan, offer = found.plan, found.offer
    currency = studio.settings.currency
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": currency,
        "day": day(today),
        "pieces": [
            {
                "project": p.key,
                "name": p.name,
                "stage": p.stage.value,
                "bought_for": p.covered,
                "balls": p.balls,
                "yarn_by": day(p.by),
            }
            for p in pieces
        ],
        **_in_the_way(found, studio),
        "orders": [_order(order) for order in plan.orders],
        # Where nothing is ordered the sums are nought, with the minor digits of all money.
        "goods": money(rounded(plan.goods, currency)),
        "shipping": money(rounded(plan.shipping, currency)),
        "landed": money(rounded(plan.landed, currency)),
        "beyond_need_worth": money(plan.worth),
        "net": money(rounded(plan.net, currency)),
        "proved": plan.proved,
        "gap": round(plan.gap, 6),
        "stopped": plan.stopped,
        "each_at_its_cheapest": money(plan.person),
        "runner_up": _runner_up(plan.runner_up),
        "one_supplier": [_single(single) for single in plan.singles],
        "near": [_near(near) for near in plan.near],
        "moves": _moves(plan.moves),
        "moves_save": money(rounded(found.saves, currency)),
        "every_way_tried": found.complete,
        "if_holds_moved": None
        if offer is None
        else {
            "saves": money(offer.saves),
            "moves": _moves(offer.moves),
            "landed": money(rounded(offer.plan.landed, currency)),
            "orders": [_order(order) for order in offer.plan.orders],
        },
        "offer_problems": list(book_troubles(studio)),
    }


def holds_moved(taken: HoldOffer | None) -> Json:
    """The holds that were moved with the orders; none where no offer was taken."""
    return {"holds_moved": _moves(taken.moves) if taken else []}


def shelf_order(order: SupplierOrder, studio: Studio) -> Json:
    """An order of a staple for the shelf."""
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": studio.settings.currency,
        **_order(order),
    }


# The parcel


def on_order(
    purchases: Iterable[Purchase], plans: Mapping[str, ProjectPlan], studio: Studio, today: date
) -> Json:
    """Every open purchase, what is first to come first."""
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": studio.settings.currency,
        "day": day(today),
        "purchases": [
            {
                "purchase": p.key,
                "supplier": p.supplier,
                "ordered": day(p.ordered),
                "arrives": day(p.arrives),
                "overdue": parcel.overdue(p, today),
                "part_came": p.part_came,
                "lines": [
                    {
                        **ref_json(state.ref),
                        "balls": state.line.balls,
                        "ball_price": money(state.line.price),
                        "projects": list(parcel.waiting(p, plans, state.ref)),
                    }
                    for state in parcel.line_states(p, None)
                ],
            }
            for p in purchases
        ],
    }


def received(before: Studio, delivery: Delivery, found: Received) -> Json:
    """What a parcel does to lots, prices and pieces."""
    currency = before.settings.currency
    return {
        "format": FORMAT,
        "currency": currency,
        "purchase": delivery.purchase,
        "on": day(delivery.on),
        "shipping": money(rounded(delivery.shipping, currency)),
        "tax": money(rounded(delivery.tax, currency)),
        "shared_by": delivery.share_by.value,
        "lots": [
            {
                **ref_json(ShadeRef(ref.yarn, ref.shade)),
                "lot": ref.code,
                "batches": [
                    {
                        "balls": b.balls,
                        "ball_price": money(b.price),
                        "ball_shipping": money(b.shipping),
                        "ball_landed": money(landed_price(b)),
                    }
                    for b in parcel.new_batches(before, found.studio, ref)
                ],
            }
            for ref in found.lots
        ],
        "several_lots": [ref_json(ref) for ref in found.split],
        "other_prices": [
            {**ref_json(c.shade), "ordered": money(c.ordered), "paid": money(c.paid)}
            for c in found.prices
        ],
        "dearer_yarns": [
            {
                "yarn": yarn,
                "own_price": money(before.library.yarn[yarn].price),
                "paid": money(rounded(paid, currency)),
            }
            for yarn, paid in found.dearer.items()
        ],
        "pieces": [
            {
                "project": t.project,
                **ref_json(t.shade),
                "runs": [run_name(run) for run in t.runs],
                "state": t.passing.value,
                "lot": t.lot,
                "text": t.text,
            }
            for t in found.touched
        ],
        "still_to_come": [{"yarn": n.yarn, "shade": n.shade, "balls": n.balls} for n in found.left],
        "notes": list(found.notes),
    }


# What is always kept


def staples(lines: Iterable[StapleLine], studio: Studio) -> Json:
    """Every staple: use, order quantity, reorder point, or why there is no figure."""
    rules, currency = studio.trade.staples, studio.settings.currency
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": studio.settings.currency,
        "order_cost": money(rounded(rules.order_cost, currency)),
        "holding_share": float(rules.holding),
        "service_share": float(rules.service),
        "staples": [_staple(line, studio) for line in lines],
    }


def _staple(line: StapleLine, studio: Studio) -> Json:
    use = None if isinstance(line.use, TooLittle) else line.use
    standing = line.standing
    return {
        **ref_json(line.shade),
        "name": shade_name(studio, line.shade),
        "year_balls": None if use is None else round(use.balls, 2),
        "month_spread_balls": None if use is None else round(use.month_spread, 2),
        "uses": None if use is None else use.uses,
        "since": None if use is None else day(use.since),
        "free_balls": None if standing is None else round(float(standing.free_balls), 2),
        "on_order_balls": None if standing is None else standing.ordered_balls,
        "reorder_point_balls": None if standing is None else standing.point.balls,
        "lead_use_balls": None if standing is None else round(standing.point.lead_use, 2),
        "safety_balls": None if standing is None else round(standing.point.safety, 2),
        "order_balls": None if standing is None else standing.size.balls,
        "ball_price": None if standing is None else money(standing.size.price),
        "supplier": line.supplier or None,
        "reorder": line.due,
        "text": " ".join(words.staple_words(line)),
    }
