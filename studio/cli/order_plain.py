"""What `enquire` and `orders` print for people."""

from __future__ import annotations

from datetime import date

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from studio.cli.plain import new_console, new_table
from studio.core import order_say, say
from studio.core.enquiry import Answer
from studio.core.enquiry_say import (
    aim_words,
    competes_words,
    facts,
    findings_of,
    freed_words,
    late_words,
    relaxed_words,
    run_groups,
    shade_name,
    week_words,
)
from studio.core.headline import money_figure
from studio.core.model import Settings, Studio
from studio.core.order_say import Desk
from studio.core.orderbook import Row, Section
from studio.core.price_sheet import Priced

WIDE = 110
"""Columns from which on the order book is printed in full."""


def print_enquiry(answer: Answer, studio: Studio) -> None:
    """The answers, the yarn, the price line by line, the weeks, what is offered, findings."""
    console, piece = new_console(), answer.project
    asked = say.size(piece.width.cm, piece.length.cm, studio.settings.length_unit)
    due = f", for {say.date(piece.due)}" if piece.due else ""
    console.print(f"[bold]{escape(piece.name)}[/], {asked}{due}: nothing is changed by asking")
    table = new_table("", "")
    table.show_header = False
    for fact in facts(answer, studio):
        text = f"[bold]{escape(fact.text)}[/]" if fact.needs_you else escape(fact.text)
        table.add_row(fact.label, text)
    console.print(table)
    _yarn(console, answer, studio)
    if answer.price is None:
        console.print(f"\n[bold]No price:[/] {escape(answer.no_price)}")
    else:
        _price(console, answer.price, studio.settings.currency)
    _drift(console, answer, studio.settings)
    _weeks(console, answer, studio)
    found = findings_of(answer)
    if found:
        console.print("\n[bold]Findings[/]")
        for finding in found:
            console.print(f"  [bold]{finding.weight.value}:[/] {escape(finding.text)}")


def _drift(console: Console, answer: Answer, settings: Settings) -> None:
    """What has changed since its quote was sent."""
    if not answer.drift:
        return
    console.print("\n[bold]Since the quote was sent[/]")
    table = new_table("", "then", "now", "difference", right=frozenset({1, 2, 3}))
    for found in answer.drift:
        table.add_row(escape(found.label), *order_say.drift_words(found, settings))
    console.print(table)


def _yarn(console: Console, answer: Answer, studio: Studio) -> None:
    console.print("\n[bold]Yarn[/]")
    table = new_table("shade", "runs", "needs", "from", right=frozenset({2}))
    for group in run_groups(answer):
        place = f"lot {group.lot}" if group.cover.value == "stash" else group.cover.value
        table.add_row(
            escape(shade_name(studio, group.shade)),
            group.places,
            say.grams(group.need_g),
            escape(place),
        )
    console.print(table)
    for words in (
        *(competes_words(c, studio) for c in answer.competes),
        *(f"Offered apart: {freed_words(f, studio)}" for f in answer.freed),
        *(f"Offered apart: {relaxed_words(r, studio)}" for r in answer.relaxed),
    ):
        console.print(f"  {escape(words)}")


def _price(console: Console, priced: Priced, currency: str) -> None:
    sheet = priced.sheet
    console.print(f"\n[bold]Price[/], from {aim_words(priced, currency)}")
    table = new_table("", "", currency, right=frozenset({2}))
    for line in sheet.charged:
        table.add_row(line.label, line.how, money_figure(line.amount, currency))
    table.add_row("[bold]total[/]", "", money_figure(sheet.total, currency), end_section=True)
    for line in sheet.leaves:
        table.add_row(line.label, line.how, money_figure(line.amount, currency))
    table.add_row("[bold]margin[/]", "", money_figure(sheet.margin, currency))
    for thumb in priced.thumbs:
        table.add_row(f"rule of thumb: {thumb.name}", thumb.how,
                      money_figure(thumb.amount, currency))  # fmt: skip
    console.print(table)


def _weeks(console: Console, answer: Answer, studio: Studio) -> None:
    added = [w for w in answer.weeks if w.added_min]
    if added:
        console.print("\n[bold]Weeks it changes[/]")
    for week in added:
        console.print(f"  {say.date(week.monday)}: {week_words(week)}")
    for made in answer.made_late:
        console.print(f"  [bold]{escape(late_words(made, studio))}[/]")


def print_orders(desk: Desk, studio: Studio, today: date) -> None:
    """The book by section, then the weeks."""
    console, currency = new_console(), studio.settings.currency
    total = order_say.totals_words(desk, currency)
    console.print(f"[bold]Order book of {escape(studio.settings.name)}[/]: {total}")
    for section in Section:
        rows = [r for r in desk.book.rows if r.section is section]
        if not rows:
            continue
        console.print(f"\n[bold]{section.value}[/]")
        console.print(_section(rows, currency, today, wide=console.width >= WIDE))
    if desk.hand is not None:
        console.print(f"\n{order_say.hand_words(desk.hand)}")
    for words in order_say.finding_words(desk, studio):
        console.print(f"\n{escape(words)}")
    names = {p.key: p.name for p in studio.projects}
    if desk.book.schedule.laid:
        console.print("\n[bold]Weeks[/]")
        table = new_table("week of", "taken", "worked")
        for week in desk.weeks:
            who = escape(order_say.week_who(week, names))
            table.add_row(say.date(week.monday), order_say.week_words(week), who)
        console.print(table)


def _section(rows: list[Row], currency: str, today: date, *, wide: bool) -> Table:
    """Rows of one section; where there is little room, without what the days rest on."""
    money = any(r.total is not None for r in rows)
    titles = ["piece", "for", "stage"]
    titles += [f"price {currency}", "to come"] if money else []
    titles += ["due", "done by", "slack", "start by"] if wide else ["due", "slack"]
    right = frozenset({3, 4}) if money else frozenset()
    table = new_table(*titles, right=right)
    for row in rows:
        cells = [escape(row.name), escape(row.customer), order_say.stage_words(row)]
        if money:
            cells.append(order_say.figure(row.total, currency))
            cells.append(order_say.figure(row.outstanding, currency))
        cells.append(say.date(row.due) if row.due else "")
        if wide:
            cells.append(say.date(row.done_by) if row.done_by else "")
        cells.append(order_say.slack_cell(row))
        if wide:
            cells.append(order_say.start_words(row.latest_start, today))
        table.add_row(*cells)
    return table
