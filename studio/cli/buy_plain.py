"""What `buy`, `receive` and `staples` print for people."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from studio.cli.plain import new_console, new_table
from studio.core import say
from studio.core.answers import ProjectPlan
from studio.core.buying import words
from studio.core.buying.asking import PieceAsked, book_troubles
from studio.core.buying.delivery import Delivery
from studio.core.buying.parcel import (
    line_states,
    meaning,
    purchase_words,
    received_words,
    supplier_of,
    waiting,
)
from studio.core.buying.placing import Placed
from studio.core.buying.plan import PurchasePlan, SupplierOrder
from studio.core.buying.receiving import Received
from studio.core.buying.restock import restock_words
from studio.core.buying.shelf import StapleLine
from studio.core.buying.staples import TooLittle
from studio.core.buying.together import HoldOffer, Together
from studio.core.edits.places import shade_name
from studio.core.headline import money_figure
from studio.core.model import Purchase, Studio

WIDE = 110
"""Columns from which on what a line is for stands beside it, not under the order."""

LEAST = 20
"""Columns of a sentence, however narrow the terminal says it is."""

NOTHING = "Nothing is short for these pieces: there is nothing to buy."

NOTHING_THEN = "With these holds moved there is nothing to buy."


def print_purchase(
    found: Together, pieces: Sequence[PieceAsked], studio: Studio, *, taken: bool = False
) -> None:
    """What cannot be had, the orders, how sure it is, and what else could be done.

    `taken` where it is the plan with the offered holds moved.
    """
    console, plan, currency = new_console(), found.plan, studio.settings.currency
    moved = " with holds moved" if taken else ""
    name = f"[bold]Purchase plan of {escape(studio.settings.name)}{moved}[/]"
    if plan.orders:
        console.print(f"{name}: {say.money(plan.landed, currency)}, {words.proof_words(plan)}")
    else:
        console.print(name)
    _in_the_way(console, plan, studio)
    _pieces(console, pieces)
    if not plan.orders and not plan.not_sold:
        console.print(f"\n{NOTHING_THEN if taken else NOTHING}")
    for order in plan.orders:
        _order(console, order, studio)
    if plan.orders:
        _total(console, plan, currency)
    if plan.orders or found.offer is not None:
        _beside(console, found, studio, taken=taken)
    _sentences(console, "Suppliers and offers that need you", book_troubles(studio))


def _pieces(console: Console, pieces: Iterable[PieceAsked]) -> None:
    texts = []
    for piece in pieces:
        if piece.covered and piece.balls:
            by = f", yarn by {say.date(piece.by)}" if piece.by else ""
            texts.append(f"{piece.name} ({piece.stage.value}): {say.balls(piece.balls)}{by}")
    _sentences(console, "Short", texts)


def _in_the_way(console: Console, plan: PurchasePlan, studio: Studio) -> None:
    texts = [text for _, text in words.in_the_way(plan, studio)]
    _sentences(console, "Not to be had, or not in time", texts)


def _sentences(console: Console, head: str, texts: Iterable[str]) -> None:
    found = list(texts)
    if found:
        console.print(f"\n[bold]{head}[/]")
    for text in found:
        _indented(console, text)


def _indented(console: Console, text: str, by: int = 2, mark: str = "") -> None:
    """A sentence whose further lines begin where its first does."""
    whole = Text.from_markup(f"{mark}{escape(text)}")
    for line in whole.wrap(console, max(LEAST, console.width - by)):
        line.rstrip()
        console.print(Text.assemble(" " * by, line))


def _order(console: Console, order: SupplierOrder, studio: Studio) -> None:
    currency = studio.settings.currency
    landed = say.money(order.landed, currency)
    how = words.order_words(order, currency)
    console.print(f"\n[bold]{escape(order.name)}[/]: {landed} ({how})")
    wide = console.width >= WIDE
    titles = ["shade", "order", "a ball", currency, *(["for"] if wide else [])]
    table = new_table(*titles, right=frozenset({2, 3}))
    for line in order.lines:
        cells = [
            escape(shade_name(studio, line.shade)),
            words.amount_words(line),
            money_figure(line.ball_price, currency),
            money_figure(line.cost, currency),
        ]
        uses = escape("\n".join(words.use_words(line, studio)))
        table.add_row(*cells, *([uses] if wide else []))
    console.print(table)
    if not wide:
        for line in order.lines:
            for text in words.use_words(line, studio):
                _indented(console, f"{shade_name(studio, line.shade)}: {text}")


def _total(console: Console, plan: PurchasePlan, currency: str) -> None:
    console.print(
        f"\n[bold]In all[/]: goods {money_figure(plan.goods, currency)}, shipping "
        f"{money_figure(plan.shipping, currency)}, landed {say.money(plan.landed, currency)}"
    )


def _beside(console: Console, found: Together, studio: Studio, *, taken: bool) -> None:
    if found.plan.orders:
        _sentences(console, "Beside it", words.aside_words(found.plan, studio))
    _sentences(console, "Lots", words.together_words(found, studio))
    for move in found.plan.moves:
        _indented(console, words.move_words(move, studio), 4)
    if found.offer is not None and not taken:
        _sentences(console, "Offered", [words.offer_words(found.offer, studio)])
        for text in words.taking_words(found.offer, studio):
            _indented(console, text, 4)
        _indented(console, "The same line with --move-holds shows that plan in full.", 4)


def print_done(
    placed: Placed | None,
    papers: Sequence[Path],
    studio: Studio,
    today: date,
    offer: HoldOffer | None = None,
) -> None:
    """What was put on order, which holds of the `offer` moved, and which papers were written."""
    console = new_console()
    if offer is not None:
        head = "Holds moved" if placed else "Holds that would move; with --place they do"
        _sentences(console, head, [f"{words.move_words(m, studio)}." for m in offer.moves])
    for key in placed.purchases if placed else ():
        purchase = studio.stash.purchase[key]
        told = escape(purchase_words(studio, purchase, today))
        console.print(f"\n[bold]On order[/] as {escape(key)}: {told}")
    if placed and (rest := words.untied_words(studio, placed.untied)):
        _indented(console, rest)
    if papers:
        console.print("\n[bold]Order papers[/]")
    for path in papers:
        console.print(f"  {escape(str(path))}", soft_wrap=True)


# The parcel


def print_on_order(
    purchases: Sequence[Purchase],
    plans: Mapping[str, ProjectPlan],
    studio: Studio,
    today: date,
) -> None:
    """Every open purchase with its lines, and the pieces that wait for them."""
    console, currency = new_console(), studio.settings.currency
    if not purchases:
        console.print("Nothing is on order.")
    for at, purchase in enumerate(purchases):
        if at:
            console.print()
        told = escape(purchase_words(studio, purchase, today))
        console.print(f"[bold]{escape(purchase.key)}[/]: {told}")
        table = new_table("  shade", "balls", f"a ball {currency}", "for", right=frozenset({1, 2}))
        for state in line_states(purchase, None):
            price = state.line.price
            names = [words.piece_name(studio, k) for k in waiting(purchase, plans, state.ref)]
            table.add_row(
                f"  {escape(shade_name(studio, state.ref))}",
                str(state.line.balls),
                "" if price is None else money_figure(price, currency),
                escape(", ".join(names)),
            )
        console.print(table)


def print_received(
    before: Studio,
    purchase: Purchase,
    delivery: Delivery,
    found: Received,
    *,
    short: bool,
    done: bool,
) -> None:
    """What a parcel does to lots, prices and pieces, sentence by sentence."""
    console, currency = new_console(), before.settings.currency
    console.print(
        f"[bold]Parcel from {escape(supplier_of(before, purchase))}[/] ({escape(purchase.key)}), "
        f"{say.date(delivery.on)}: shipping {say.money(delivery.shipping, currency)}, "
        f"tax {say.money(delivery.tax, currency)}, shared by {delivery.share_by.value}"
    )
    if purchase.parcel and purchase.parcel.bags:
        already = say.count(len(purchase.parcel.bags), "bag")
        console.print(f"  With {already} typed in on the screen of receiving.")
    for weight, text in meaning(before, found):
        _indented(console, text, mark=f"[bold]{weight.value}:[/] " if weight else "")
    if short:
        console.print("Something promised is short: stripewright buy finds what to order.")
    if done:
        console.print(f"[bold]Done:[/] {escape(received_words(found))}")
    else:
        console.print("Nothing is changed yet: the same line with --put puts it on the shelf.")


# What is always kept


def print_staples(lines: Sequence[StapleLine], studio: Studio) -> None:
    """Every staple against its reorder point; why where there is no figure."""
    console = new_console()
    console.print(f"[bold]Staples of {escape(studio.settings.name)}[/]")
    if not lines:
        console.print(
            "No shade is marked as a staple: write staple = true beside a shade of a yarn's file, "
            "or mark it on the screen of buying."
        )
        return
    table = new_table(
        "shade", "a year", "free", "on order", "reorder at", "order", "from",
        right=frozenset({1, 2, 3, 4, 5}),
    )  # fmt: skip
    for line in lines:
        figures = [""] * 6
        if not isinstance(line.use, TooLittle):
            figures[0] = say.number(line.use.balls, 1)
        if line.standing is not None:
            standing = line.standing
            figures[1:] = [
                say.number(standing.free_balls, 1),
                str(standing.ordered_balls or ""),
                str(standing.point.balls),
                str(standing.size.balls),
                escape(line.supplier),
            ]
        table.add_row(escape(line.name), *figures)
    console.print(table)
    console.print("all figures in balls")
    for line in lines:
        told = " ".join(words.staple_words(line))
        _indented(console, f"{line.name}: {told}")


def print_restock(line: StapleLine, order: SupplierOrder, studio: Studio) -> None:
    """What an order for the shelf costs, and when it is there."""
    told = restock_words(order, studio.settings.currency)
    new_console().print(f"[bold]{escape(line.name)}[/] from {escape(order.name)}: {escape(told)}")
