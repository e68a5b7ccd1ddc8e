"""How she charges and works, and for whom: every figure of her trade, changed where it stands."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import BindingType

from studio.core import say, trade_say
from studio.core.edits import trade as edits
from studio.core.model import Studio
from studio.core.trade_model import Customer
from studio.core.trade_say import Part, TradeLine
from studio.ui import keys
from studio.ui.bars import bar
from studio.ui.beside import BESIDE_CSS, Beside, SheetPane
from studio.ui.dialogs.desk import choose
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.trade.customers import customer_form, remove_customer
from studio.ui.trade.forms import ask_part
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

CUSTOMER = "customer"
BAR = 12
LONG = 24
"""Words beyond this may be cut in their column, so that they open under the line at hand too."""


class TradeSheet(SheetPane):
    """Some parts of her trade, a line for each figure."""

    def columns(self) -> Iterable[Column]:
        """What, how much, and what it means."""
        return (
            Column("", share=2, least=21),
            Column("", most=14, align=Align.DECIMAL),
            Column("", share=3, least=12, drop=1),
        )

    def lines(self, studio: Studio) -> tuple[TradeLine, ...]:
        """Its figures."""
        raise NotImplementedError

    def sum_of(self, studio: Studio) -> str:
        """What stands at the end of its head."""
        return f"amounts in {studio.settings.currency}"

    def fill(self, view: View) -> None:
        """A heading for each part, a line for each figure."""
        rows: list[Row] = []
        part: Part | None = None
        for line in self.lines(view.studio):
            if line.part is not part:
                part = line.part
                rows.append(Row(("part", part), (part.value,), Tone.HEADING))
            rows.append(_row(line))
        self.list.set_rows(rows)
        self.head.show(self.words, self.sum_of(view.studio))


def _row(line: TradeLine) -> Row:
    words = Cell(line.words, Tone.QUIET)
    if line.share is not None:
        words = Cell(f"{bar(line.share, BAR):<{BAR}} {line.words}".rstrip(), Tone.QUIET)
    full = ", ".join(words for words in (line.figure, line.words) if words)
    detail = (Cell(full, Tone.QUIET),) if len(full) > LONG else ()
    key = (line.part, line.label, line.at)
    return Row(key, (line.label, line.figure, words), detail=detail)


class PricesSheet(TradeSheet):
    """What a price is made from."""

    words = "Prices"

    def __init__(self) -> None:
        super().__init__("prices")

    def lines(self, studio: Studio) -> tuple[TradeLine, ...]:
        """What it must leave, fees, tax, endings, deposit."""
        return trade_say.price_lines(studio)


class HoursSheet(TradeSheet):
    """The week, days off, and the days around the work."""

    words = "Hours"

    def __init__(self) -> None:
        super().__init__("hours")

    def lines(self, studio: Studio) -> tuple[TradeLine, ...]:
        """Weekdays with their bars, then the days."""
        return trade_say.hour_lines(studio)

    def sum_of(self, studio: Studio) -> str:  # noqa: ARG002
        """The unit of the weekdays."""
        return "in hours"


class ParcelsSheet(TradeSheet):
    """Parcels, tasks, and the times that stand until there is evidence."""

    words = "Parcels and tasks"

    def __init__(self) -> None:
        super().__init__("parcels")

    def lines(self, studio: Studio) -> tuple[TradeLine, ...]:
        """Parcels with what they cost, tasks and times with their minutes."""
        return trade_say.other_lines(studio)


class CustomersSheet(SheetPane):
    """Everybody who orders."""

    words = "Customers"
    empty = "Nobody is in the file yet. Insert adds a customer."

    def __init__(self) -> None:
        super().__init__("customers")

    def columns(self) -> Iterable[Column]:
        """Name, contact, pieces."""
        return (
            Column("", share=3, least=16),
            Column("", share=4, least=14, drop=2),
            Column("", share=3, least=12, drop=1),
        )

    def fill(self, view: View) -> None:
        """By name; contact and note open under the line at hand."""
        studio = view.studio
        self.list.set_empty(self.empty)
        rows = []
        for customer in sorted(studio.customers, key=lambda c: c.name.casefold()):
            contact, theirs = trade_say.customer_words(customer, studio)
            rows.append(
                Row(
                    (CUSTOMER, customer.key),
                    (customer.name, Cell(contact, Tone.QUIET), Cell(theirs, Tone.QUIET)),
                    detail=(*customer.contact, *((customer.note,) if customer.note else ())),
                )
            )
        self.list.set_rows(rows)
        count = say.count(len(rows), "customer") if rows else ""
        self.head.show(self.words, count)


class TradeScreen(Beside):
    """Prices, hours, parcels and tasks, customers."""

    group = "trade"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("trade")
    CSS = (
        BESIDE_CSS
        + """
TradeScreen.-wide .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 1fr 1fr; }
TradeScreen.-middle .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 1fr 1fr; }
"""
    )

    def __init__(self, view: View, keymap: Keymap, sheet: str = "") -> None:
        super().__init__(view, keymap)
        self.first_sheet = sheet

    def sheets(self) -> tuple[Pane, ...]:
        """Its four sheets."""
        return PricesSheet(), HoursSheet(), ParcelsSheet(), CustomersSheet()

    def fill(self, view: View) -> None:
        """Fill all sheets."""
        for pane in self.query(Pane):
            pane.show(view)

    # What is done with the line at hand

    @property
    def line(self) -> TradeLine | None:
        """The figure at hand."""
        key = self.list.key
        sheet = self.sheet(self.sheet_at)
        if not isinstance(sheet, TradeSheet):
            return None
        return next((n for n in sheet.lines(self.view.studio) if _row(n).key == key), None)

    def action_open(self) -> None:
        """Change the line at hand."""
        self.change(self.list.key)

    @work(group="dialog")
    async def change(self, key: Hashable) -> None:
        """Open the form of a line."""
        if self.sheet_at == "customers":
            known = self._customer(key)
            await customer_form(self.studio_app, known)
        elif (line := self.line) is not None:
            await ask_part(self.studio_app, line.part, line)

    def action_add(self) -> None:
        """Add what the sheet at hand holds several of."""
        self.add()

    @work(group="dialog")
    async def add(self) -> None:
        """A day off, a parcel or a task, or a customer."""
        app = self.studio_app
        match self.sheet_at:
            case "customers":
                await customer_form(app, None)
            case "hours":
                await ask_part(app, Part.OFF, None)
            case _:
                rows = (
                    (Part.PARCEL, "a parcel", "its weight, and what it costs"),
                    (Part.TASK, "a task", "work that every piece asks once"),
                    (Part.OFF, "days off", "no handwork is planned on them"),
                    (CUSTOMER, "a customer", "a name and how to reach them"),
                )
                found = await choose(app, "Add", rows, verb="add")
                if found == CUSTOMER:
                    await customer_form(app, None)
                elif isinstance(found, Part):
                    await ask_part(app, found, None)

    def action_remove(self) -> None:
        """Remove a day off, a parcel, a task or a customer; undo brings it back."""
        if self.sheet_at == "customers":
            self.drop(self.list.key)
            return
        line = self.line
        removals = {
            Part.OFF: edits.remove_day_off,
            Part.PARCEL: edits.remove_parcel,
            Part.TASK: edits.remove_task,
        }
        remove = removals.get(line.part) if line else None
        if line is None or remove is None or line.at is None:
            self.say_line.say("This figure is always there; Enter changes it.")
            return
        at = line.at
        if self.studio_app.edit(f"{line.label} removed", lambda s: remove(s, at)):
            self.say_line.say(f"Removed: {line.label}. Undo brings it back.")

    @work(group="dialog")
    async def drop(self, key: Hashable) -> None:
        """Drop the customer at hand."""
        known = self._customer(key)
        if known is not None:
            await remove_customer(self.studio_app, known)

    def _customer(self, key: Hashable) -> Customer | None:
        found = key[1] if isinstance(key, tuple) and key[0] == CUSTOMER else ""
        return self.view.studio.customer.get(found)

    def refuses(self, what: str) -> str:
        """The piece at hand is changed on the bench."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_trade(app: StripewrightApp, subject: object) -> None:
    """Open her trade; `subject` may name the sheet to stand on."""
    sheet = subject if isinstance(subject, str) else ""
    await app.push_screen(TradeScreen(app.view, app.keymap, sheet))
