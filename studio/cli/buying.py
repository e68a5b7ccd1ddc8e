"""`buy` and `staples`: the same plan and the same shelf as on the screens, for the shell."""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from studio import clock
from studio.cli.commands import (
    EXIT_FILE,
    EXIT_FINE,
    EXIT_SHORT,
    CommandError,
    amount_of,
    find_project,
    opened,
    print_json,
    undisturbed,
)
from studio.cli.report import Json
from studio.cli.words_buying import FORMS, HELD
from studio.core import say
from studio.core.buying.asking import at_once, named, pieces_asked
from studio.core.buying.papers import order_paper
from studio.core.buying.parcel import shade_named
from studio.core.buying.placing import Placed, place_orders, take_offer
from studio.core.buying.plan import SupplierOrder
from studio.core.buying.question import HELD as HELD_STAGES
from studio.core.buying.question import Chosen
from studio.core.buying.restock import restock
from studio.core.buying.shelf import StapleLine
from studio.core.buying.together import (
    HoldOffer,
    Questions,
    Together,
    as_offered,
    buy_together,
    questions_of,
)
from studio.core.model import Stage, Studio
from studio.errors import StudioError
from studio.workshop import Workshop

NOT_ORDERED = "Not ordered"


def run(chosen: argparse.Namespace) -> int:
    """Run one of these commands and return its exit status."""
    if chosen.form and chosen.papers is None:
        raise CommandError("--form is for order papers; name their folder with --papers.")
    with opened(chosen.folder) as workshop:
        if chosen.place:
            _check_files(workshop)
        status = (_buy if chosen.command == "buy" else _staples)(chosen, workshop)
        return EXIT_FILE if workshop.snapshot.problems else status


# The plan


def chosen_of(chosen: argparse.Namespace, studio: Studio) -> Chosen:
    """The pieces that are bought for."""
    keys = [find_project(name, studio) for name in chosen.project or ()]
    for key in keys:
        piece = studio.project[key]
        if not piece.stage.needs_yarn:
            raise CommandError(
                f"{piece.name} is at stage '{piece.stage.value}': no yarn is bought for it."
            )
    stages: set[Stage] = set()
    for name in chosen.stage or ():
        stages |= HELD_STAGES.stages if name == HELD else {Stage(name)}
    return named(keys, stages, studio.project)


class _Looking:
    """Tells a terminal how long the search has gone on, and ends it where a limit is set."""

    def __init__(self, limit_s: Decimal | None) -> None:
        self.since = time.monotonic()
        self.limit_s = limit_s
        self._told = ""

    def tell(self, _: object) -> None:
        if sys.stderr.isatty():
            seconds = int(time.monotonic() - self.since)
            self._told = f"looking for the cheapest purchase, {seconds} s; Ctrl+C cancels"
            print(f"\r{self._told}", end="", file=sys.stderr, flush=True)

    def over(self) -> bool:
        return self.limit_s is not None and time.monotonic() - self.since >= self.limit_s

    def end(self) -> None:
        if self._told:
            print(f"\r{' ' * len(self._told)}\r", end="", file=sys.stderr, flush=True)


def worked_out(asked: Questions, limit_s: Decimal | None) -> Together:
    """The cheapest purchase, or the best one found when the time is up.

    The process that looks for it is gone when this returns, also by Ctrl+C.
    """
    if not asked.opened.shades:
        return buy_together(asked)
    from studio.solving_purchase import PurchaseProcess

    process, looking = PurchaseProcess(), _Looking(limit_s)
    try:
        found = process.buy(asked, looking.tell, looking.over)
    finally:
        process.close()
        looking.end()
    if found is None:
        first = replace(at_once(asked), stopped=True)
        found = Together(first, Decimal(0), None, asked.complete)
    return found


def _check_files(workshop: Workshop) -> None:
    """Refuse to order while a file is left out: what lies in it would be bought again."""
    from studio.storage.problems import Level

    problems = workshop.snapshot.problems
    left_out = list(dict.fromkeys(p.file for p in problems if p.level is Level.ERROR))
    if left_out:
        raise CommandError(
            f"{say.either(left_out, 'and')} could not be read, and yarn or pieces in it are not "
            "counted: mend that before you place an order.",
            title=NOT_ORDERED,
        )


def _buy(chosen: argparse.Namespace, workshop: Workshop) -> int:
    limit_s = amount_of(chosen.limit, "--limit")
    snapshot, day = workshop.snapshot, clock.today()
    wanted = workshop.wanted(day, chosen_of(chosen, snapshot.studio))
    together = worked_out(questions_of(wanted), limit_s)
    if chosen.move_holds:
        together = _with_holds_moved(together)
    offer = together.offer if chosen.move_holds else None
    pieces = pieces_asked(wanted, snapshot.plan.projects)
    with undisturbed():
        papers, placed = _carry_out(chosen, workshop, together.plan.orders, offer)
    if chosen.json:
        from studio.cli.buy_report import holds_moved, purchase

        document = purchase(together, pieces, snapshot.studio, day)
        print_json(document | holds_moved(offer if placed else None) | _done(placed, papers))
    else:
        from studio.cli.buy_plain import print_done, print_purchase

        print_purchase(together, pieces, snapshot.studio, taken=chosen.move_holds)
        print_done(placed, papers, workshop.snapshot.studio, day, offer)
    plan = together.plan
    return EXIT_SHORT if plan.late or plan.not_sold else EXIT_FINE


def _with_holds_moved(found: Together) -> Together:
    """The purchase with the offered move taken; refused where there is none to take."""
    taken = as_offered(found)
    if taken is not None:
        return taken
    if found.plan.stopped:
        raise CommandError(
            "The search was stopped before moves of holds were looked at: give it more time with "
            "--limit. Nothing is ordered or moved.",
            title=NOT_ORDERED,
        )
    raise CommandError(
        "No move of holds is offered, so --move-holds has nothing to do: nothing is ordered or "
        "moved. The same line without it shows the plan.",
        title=NOT_ORDERED,
    )


# What is done with it


def _carry_out(
    chosen: argparse.Namespace,
    workshop: Workshop,
    orders: tuple[SupplierOrder, ...],
    offer: HoldOffer | None = None,
) -> tuple[tuple[Path, ...], Placed | None]:
    """Papers first: where they cannot be written nothing is ordered either.

    With an offer its holds move along with the orders, which may then be none.
    """
    if not orders and offer is None:
        return (), None
    papers = _papers(chosen, workshop, orders) if orders else ()
    if not chosen.place:
        return papers, None
    try:
        return papers, _place(workshop, orders, offer)
    except StudioError as trouble:
        if papers:
            trouble.text += f" The papers in {chosen.papers} are of orders that are not placed."
        raise


def _done(placed: Placed | None, papers: tuple[Path, ...]) -> Json:
    return {
        "placed": list(placed.purchases) if placed else [],
        "not_waiting": list(placed.untied) if placed else [],
        "papers": [str(path) for path in papers],
    }


def _papers(
    chosen: argparse.Namespace, workshop: Workshop, orders: tuple[SupplierOrder, ...]
) -> tuple[Path, ...]:
    if chosen.papers is None:
        return ()
    from studio.storage.order_papers import PaperKind, write_order_papers

    studio = workshop.snapshot.studio
    kinds = dict(zip(FORMS, (PaperKind.TEXT, PaperKind.TABLE, PaperKind.PAGE), strict=True))
    made = [order_paper(o, studio.library, studio.settings, clock.today()) for o in orders]
    wanted = [kinds[form] for form in dict.fromkeys(chosen.form or FORMS)]
    return write_order_papers(chosen.papers, made, wanted)


def _place(
    workshop: Workshop, orders: tuple[SupplierOrder, ...], offer: HoldOffer | None = None
) -> Placed:
    plans, day, placed = workshop.snapshot.plan.projects, clock.today(), list[Placed]()

    def change(studio: Studio) -> Studio:
        if offer is None:
            placed.append(place_orders(studio, orders, plans, day))
        else:
            placed.append(take_offer(studio, offer, plans, day))
        return placed[-1].studio

    label = f"{say.count(len(orders), 'order')} placed"
    workshop.do(label if offer is None else f"{say.count(len(offer.moves), 'hold')} moved", change)
    workshop.save()
    return placed[-1]


# What is always kept


def _staples(chosen: argparse.Namespace, workshop: Workshop) -> int:
    if chosen.order is not None:
        return _restock(chosen, workshop)
    if chosen.place or chosen.papers or chosen.balls:
        raise CommandError("Which staple? Name it with --order SHADE.")
    lines, studio = workshop.staples, workshop.snapshot.studio
    if chosen.json:
        from studio.cli.buy_report import staples

        print_json(staples(lines, studio))
    else:
        from studio.cli.buy_plain import print_staples

        print_staples(lines, studio)
    return EXIT_SHORT if any(line.due for line in lines) else EXIT_FINE


def _staple(chosen: argparse.Namespace, workshop: Workshop) -> StapleLine:
    """The staple that is to be ordered."""
    lines = {line.shade: line for line in workshop.staples}
    library = workshop.snapshot.studio.library
    try:
        ref = shade_named(library, list(lines), chosen.order)
    except ValueError as error:
        raise CommandError(f"--order: {error}") from None
    if ref not in lines:
        raise CommandError(f"--order: {chosen.order} is not marked as a staple.")
    return lines[ref]


def _restock(chosen: argparse.Namespace, workshop: Workshop) -> int:
    """Order one staple for the shelf, where that is asked; else tell what it would cost."""
    staple, studio = _staple(chosen, workshop), workshop.snapshot.studio
    balls = amount_of(chosen.balls, "--balls")
    if balls is None and staple.standing is not None:
        balls = Decimal(staple.standing.size.balls)
    if not balls or balls % 1:
        raise CommandError("Say how many balls, from 1, with --balls.")
    order = restock(studio, staple, int(balls), clock.today())
    with undisturbed():
        papers, placed = _carry_out(chosen, workshop, (order,))
    if chosen.json:
        from studio.cli.buy_report import shelf_order

        print_json(shelf_order(order, studio) | _done(placed, papers))
    else:
        from studio.cli.buy_plain import print_done, print_restock

        print_restock(staple, order, studio)
        print_done(placed, papers, workshop.snapshot.studio, clock.today())
    return EXIT_FINE
