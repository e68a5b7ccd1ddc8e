"""`enquire`, `orders`, `quote` and `book`: the same answers as the screens give, for the shell."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from studio import clock
from studio.cli.commands import (
    EXIT_FILE,
    EXIT_FINE,
    EXIT_SHORT,
    CommandError,
    amount_of,
    day_of,
    find_project,
    opened,
    print_json,
    undisturbed,
)
from studio.cli.new import size_of_words, slots_of_words
from studio.core import order_say, say, trial
from studio.core.enquiry import Answer, settled
from studio.core.enquiry_found import expired_words
from studio.core.enquiry_say import buy_words
from studio.core.model import ShadeRef, Stage, Studio
from studio.core.pricing import Aim
from studio.core.trial import Variant
from studio.workshop import Workshop

if TYPE_CHECKING:
    from studio.papers.model import QuotePaper


def run(chosen: argparse.Namespace) -> int:
    """Run one of these commands and return its exit status."""
    with opened(chosen.folder) as workshop:
        match chosen.command:
            case "enquire":
                status = _enquire(chosen, workshop)
            case "orders":
                status = _orders(chosen, workshop)
            case "quote":
                status = _quote(chosen, workshop)
            case _:
                status = _book(chosen, workshop)
        return EXIT_FILE if workshop.snapshot.problems else status


# What if


def variant_of(chosen: argparse.Namespace, studio: Studio) -> Variant:
    """The piece as it is asked for: its design, and what the options change."""
    piece = trial.trial_of(studio, find_project(chosen.project, studio))
    if chosen.size:
        width, length = size_of_words(chosen.size)
        piece = trial.resized(studio, piece, width, length)
    for slot in slots_of_words(chosen.slot or []):
        ref = ShadeRef(slot.yarn, slot.shade)
        piece = trial.recoloured(studio, piece, slot.letter, ref)
    if chosen.due:
        piece = trial.due_on(piece, day_of(chosen.due, "--due"), clock.today())
    if chosen.customer is not None:
        piece = replace(piece, customer=chosen.customer)
    margin, hourly = amount_of(chosen.margin, "--margin"), amount_of(chosen.hourly, "--hourly")
    aim = None
    if margin is not None:
        aim = Aim(margin=say.of_percent(margin))
    elif hourly is not None:
        aim = Aim(per_hour=hourly)
    return Variant(piece, aim, amount_of(chosen.price, "--price"))


def answered(workshop: Workshop, variant: Variant) -> Answer:
    """The exact answer; hard shades are solved while the shell waits."""
    from studio.solving_here import solve_here

    return settled(
        lambda solved: workshop.ground(clock.today(), variant.trial.key, solved),
        lambda asked: dict(zip(asked, solve_here(asked), strict=True)),
        variant.trial,
        variant.aim,
        variant.shown,
    )


def speaks_against(answer: Answer) -> bool:
    """Whether something must be bought, a booked piece made late, or the day asked missed."""
    return bool(answer.buy or answer.made_late or answer.laid.late or answer.price is None)


def _enquire(chosen: argparse.Namespace, workshop: Workshop) -> int:
    studio = workshop.snapshot.studio
    answer = answered(workshop, variant_of(chosen, studio))
    if chosen.json:
        from studio.cli.order_report import enquiry

        print_json(enquiry(answer, studio))
    else:
        from studio.cli.order_plain import print_enquiry

        print_enquiry(answer, studio)
    return EXIT_SHORT if speaks_against(answer) else EXIT_FINE


# The book


def _orders(chosen: argparse.Namespace, workshop: Workshop) -> int:
    studio, plans = workshop.snapshot.studio, workshop.snapshot.plan.projects
    desk = order_say.desk_of(studio, plans, clock.today())
    if chosen.json:
        from studio.cli.order_report import orders

        print_json(orders(desk, studio))
    else:
        from studio.cli.order_plain import print_orders

        print_orders(desk, studio, clock.today())
    return EXIT_SHORT if desk.book.totals.late else EXIT_FINE


# Quoting and booking


def _quote(chosen: argparse.Namespace, workshop: Workshop) -> int:
    key = find_project(chosen.project, workshop.snapshot.studio)
    if chosen.send:
        variant = Variant(trial.trial_of(workshop.snapshot.studio, key))
        answer = answered(workshop, variant)
        workshop.do("quoted", lambda s: trial.quoted(s, answer, clock.today()))
        with undisturbed():
            workshop.save()
    _write(chosen, _paper(chosen, workshop, key))
    snapshot = workshop.snapshot
    words = order_say.changed_words(snapshot.studio.project[key], snapshot.plan.projects[key])
    if words:
        print(f"stripewright: {words}", file=sys.stderr)
    return EXIT_FINE


def _paper(chosen: argparse.Namespace, workshop: Workshop, key: str) -> QuotePaper:
    from studio.papers.model import PaperKind, quote_paper
    from studio.storage.wording import load_wording, own_wording

    snapshot = workshop.snapshot
    try:
        if chosen.wording is not None:
            wording = load_wording(chosen.wording)
        else:
            wording = own_wording(workshop.folder or Path())
    except OSError as error:
        raise CommandError(f"{chosen.wording} could not be read: {error}.") from error
    return quote_paper(
        snapshot.studio.project[key],
        snapshot.plan.projects[key],
        workshop.demand_of(key),
        snapshot.studio,
        wording,
        PaperKind.CONFIRMATION if chosen.confirmation else PaperKind.QUOTE,
    )


def _write(chosen: argparse.Namespace, paper: QuotePaper) -> None:
    from studio.papers.forms import PaperForm, formed
    from studio.storage.papers_out import FileThereError, write_paper

    made = formed(paper, PaperForm(chosen.form))
    if chosen.out is not None:
        try:
            written = write_paper(chosen.out, made, overwrite=chosen.replace)
        except FileThereError as there:
            raise CommandError(
                f"{there.path} is there already. Name another file, or add --replace."
            ) from there
        print(f"Written to {written}")
    elif chosen.form == PaperForm.PDF:
        if sys.stdout.isatty():
            raise CommandError("A PDF is no text for a terminal; name a file with --out.")
        sys.stdout.buffer.write(made)
    else:
        print(made.decode().rstrip("\n"))


def _book(chosen: argparse.Namespace, workshop: Workshop) -> int:
    studio = workshop.snapshot.studio
    key = find_project(chosen.project, studio)
    if studio.project[key].stage not in (Stage.IDEA, Stage.QUOTED):
        raise CommandError(
            f"{studio.project[key].name} is at stage '{studio.project[key].stage.value}'; an idea "
            "or a quote can be booked."
        )
    piece = studio.project[key]
    if chosen.due:
        piece = trial.due_on(piece, day_of(chosen.due, "--due"), clock.today())
    answer = answered(workshop, Variant(piece))
    snapshot = workshop.do("booked", lambda s: trial.taken(s, answer, clock.today()))
    with undisturbed():
        workshop.save()
    held = len(answer.from_stash)
    due = trial.promised_for(answer)
    print(
        f"{piece.name} is booked for {say.date(due)}: {say.count(held, 'run')} held, "
        f"{buy_words(answer)} to buy."
    )
    if words := expired_words(piece, clock.today()):
        print(words)
    late = snapshot.plan.promised_short
    return EXIT_SHORT if late or answer.made_late else EXIT_FINE
