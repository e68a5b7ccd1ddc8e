"""The ways to buy side by side: what each would cost in all, the cheapest plan among them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from studio.core import say
from studio.core.buying import words
from studio.core.buying.plan import RunnerUp, SupplierOrder
from studio.core.buying.together import Together
from studio.core.edits.places import shade_name
from studio.core.frozen import dataclass
from studio.core.model import Studio


@dataclass(frozen=True, slots=True)
class Compared:
    """One way to buy: its landed cost, how much that is over the plan, and what it is.

    `share` is the cost as a part of the dearest way's, for a picture. `orders` says line by line
    what would be bought, where that is known.
    """

    label: str
    landed: Decimal
    more: Decimal
    share: float
    is_plan: bool = False
    orders: tuple[str, ...] = ()


Way = tuple[str, Decimal, tuple[str, ...]]
"""A label, a landed cost, and what would be ordered."""


def compared(found: Together, studio: Studio) -> tuple[Compared, ...]:
    """The plan and all other ways that were worked out, the cheapest first.

    Empty where nothing is bought, or where there is no other way to hold it against.
    """
    plan = found.plan
    if not plan.orders:
        return ()
    others = list(_others(found, studio))
    if not others:
        return ()
    most = max(plan.landed, *(landed for _, landed, _ in others))
    ways = [
        Compared(label, landed, landed - plan.landed, _share(landed, most), orders=orders)
        for label, landed, orders in others
    ]
    ways.append(Compared("this plan", plan.landed, Decimal(0), _share(plan.landed, most), True))
    return tuple(sorted(ways, key=lambda way: (way.landed, not way.is_plan)))


def _share(landed: Decimal, most: Decimal) -> float:
    return float(landed / most) if most else 0.0


def _others(found: Together, studio: Studio) -> Iterator[Way]:
    plan, runner_up = found.plan, found.plan.runner_up
    if found.offer is not None:
        count = say.count(len(found.offer.moves), "hold")
        orders = tuple(_lines(found.offer.plan.orders, studio))
        yield f"with {count} moved", found.offer.plan.landed, orders
    if found.unmoved is not None and plan.moves:
        yield "with the lots as they stand", found.unmoved, ()
    if plan.person is not None and plan.person > plan.landed:
        yield "each shade where it is cheapest", plan.person, ()
    if runner_up is not None:
        yield _differs(runner_up), runner_up.landed, tuple(_lines(runner_up.orders, studio))
    for single in plan.singles:
        # Where the plan or the runner-up is that supplier alone, it stands there already.
        if single.landed is None or _is(single.supplier, single.landed, plan.landed, plan.orders):
            continue
        if runner_up and _is(single.supplier, single.landed, runner_up.landed, runner_up.orders):
            continue
        yield f"all from {words.supplier_name(studio, single.supplier)}", single.landed, ()


def _is(supplier: str, alone: Decimal, landed: Decimal, orders: tuple[SupplierOrder, ...]) -> bool:
    return alone == landed and [order.supplier for order in orders] == [supplier]


def _differs(found: RunnerUp) -> str:
    names = say.either([order.name for order in found.orders], "and")
    return f"from {names}" if found.other_suppliers else "with other runs from elsewhere"


def _lines(orders: Iterable[SupplierOrder], studio: Studio) -> Iterator[str]:
    currency = studio.settings.currency
    for order in orders:
        bought = [
            f"{words.amount_words(line)} {shade_name(studio, line.shade)}" for line in order.lines
        ]
        yield f"{order.name}: {', '.join(bought)}; {words.order_words(order, currency)}"
