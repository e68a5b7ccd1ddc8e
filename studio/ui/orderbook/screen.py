"""The order book: every piece that is quoted, promised or over, and the weeks of handwork."""

from __future__ import annotations

from collections.abc import Hashable
from typing import TYPE_CHECKING, Any, ClassVar

from textual import on, work
from textual.binding import BindingType

from studio import clock
from studio.core import order_say, quote_why, quoting
from studio.core.model import Project, Stage
from studio.core.order_say import Desk, Doing
from studio.core.pricing import PriceError
from studio.core.quote_why import Printed
from studio.core.quoting import Drift
from studio.core.reasons import Step
from studio.errors import StudioError
from studio.ui import keys
from studio.ui.asking import PieceAtHand
from studio.ui.beside import BESIDE_CSS, Beside
from studio.ui.dialogs.message import Words
from studio.ui.drawn_list import DrawnList
from studio.ui.keymap import Keymap
from studio.ui.orderbook.doing import bring, choose_doing, do
from studio.ui.orderbook.sheets import (
    DRIFT,
    FIGURE,
    MONEY,
    QUOTE,
    BookSheet,
    CalendarSheet,
    PieceSheet,
)
from studio.ui.panes.pane import Pane
from studio.ui.view import View
from studio.ui.why import WIDTH, sum_text

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp


class OrderBookScreen(Beside):
    """The book above, the weeks and the piece at hand below."""

    group = "orders"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("orders")
    CSS = (
        BESIDE_CSS
        + """
OrderBookScreen.-wide .table { grid-size: 2 2; grid-columns: 9fr 7fr; grid-rows: 3fr 2fr; }
OrderBookScreen.-middle .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 3fr 2fr; }
OrderBookScreen.-wide #book, OrderBookScreen.-middle #book { column-span: 2; }
"""
    )

    def __init__(self, view: View, keymap: Keymap) -> None:
        super().__init__(view, keymap)
        self.desk: Desk | None = None
        self.extra = 0
        self._made_of: tuple[object, object] = (None, None)

    def sheets(self) -> tuple[Pane, ...]:
        """The book, the weeks, the piece at hand."""
        return BookSheet(), CalendarSheet(), PieceSheet()

    @property
    def book(self) -> BookSheet:
        """The book itself."""
        return self.query_one(BookSheet)

    @property
    def project(self) -> Project | None:
        """The piece the book stands on."""
        key = self.book.list.key
        return self.view.studio.project.get(key) if isinstance(key, str) else None

    # What is shown

    def fill(self, view: View) -> None:
        """Lay the work out again where the studio or its plan changed; follow the piece at hand."""
        now = (view.snapshot.studio, view.snapshot.plan)
        if any(a is not b for a, b in zip(now, self._made_of, strict=True)):
            self._made_of = now
            self._lay_out()
        if view.key is not None and view.key != self.book.list.key:
            self.book.list.go_to(view.key)
        self._put_piece()

    def _lay_out(self) -> None:
        studio, plans = self.view.studio, self.view.snapshot.plan.projects
        try:
            self.desk = order_say.desk_of(studio, plans, clock.today())
        except StudioError as error:
            self.desk = None
            self.book.list.set_empty(error.text)
            self.book.list.set_rows(())
            self.say_line.say(error.text, needs_you=True)
            return
        self.book.put(self.desk, studio, clock.today())

    def _put_piece(self) -> None:
        project, studio = self.project, self.view.studio
        if self.desk is not None:
            at = project.key if project else None
            self.query_one(CalendarSheet).put(self.desk, studio, at, self._more_words())
        self.query_one(PieceSheet).put(
            project, studio, self._drift(project), self._printed(project)
        )

    def _printed(self, project: Project | None) -> Printed | None:
        """What the paper of a quoted piece is made from."""
        snapshot, workshop = self.view.snapshot, self.studio_app.workshop
        if project is None or project.quote is None:
            return None
        plan = snapshot.plan.projects[project.key]
        demand = workshop.demand_of(project.key)
        return Printed(project, project.quote, plan, demand, snapshot.studio)

    def _more_words(self) -> str:
        if not self.extra:
            return ""
        studio, plans = self.view.studio, self.view.snapshot.plan.projects
        found = order_say.more_hours(studio, plans, clock.today(), self.extra)
        if found is None:
            return "The daily limit leaves no room for so much more."
        return order_say.more_words(found)

    def _drift(self, project: Project | None) -> tuple[Drift, ...]:
        """What has changed since a quote was sent that is still open."""
        if project is None or project.quote is None or project.stage is not Stage.QUOTED:
            return ()
        workshop = self.studio_app.workshop
        try:
            today = workshop.priced(project.key, project.quote.price)
            fresh = workshop.priced(project.key)
        except (PriceError, KeyError):
            return ()
        return quoting.drift(project.quote, today, fresh)

    @on(DrawnList.Moved, "#book-list")
    def _moved(self, event: DrawnList.Moved) -> None:
        event.stop()
        if isinstance(event.key, str):
            self.post_message(PieceAtHand(event.key))

    def stand(self, key: Hashable) -> None:
        """Stand on the piece that was just changed."""
        self.book.list.go_to(key)
        self._put_piece()

    # What is done

    def action_open(self) -> None:
        """Choose what to do with the piece, or open the sum of the line at hand."""
        if self.sheet_at != "book":
            self.studio_app.ask("why")
        elif self.project is not None:
            self.choose_doing(self.project)

    @work(group="dialog")
    async def choose_doing(self, project: Project) -> None:
        """Choose among what can be done with the piece at its stage."""
        try:
            await choose_doing(self.studio_app, project)
        except StudioError as error:
            self.say_line.say(error.text, needs_you=True)

    @work(group="dialog")
    async def do(self, doing: Doing) -> None:
        """Do one thing with the piece at hand, where its stage allows it."""
        project = self.project
        if project is None:
            self.say_line.say("No piece at hand.")
        elif doing not in order_say.doings(project):
            self.say_line.say(
                f"{project.name} is at stage '{project.stage.value}': this cannot be done with it. "
                "Enter shows what can."
            )
        else:
            try:
                await do(self.studio_app, project, doing)
            except StudioError as error:
                self.say_line.say(error.text, needs_you=True)

    def action_on(self) -> None:
        """The next stage, from today on; a quote is booked."""
        project = self.project
        if project is not None and project.stage.holds:
            bring(self.studio_app, project, Doing.ON, clock.today())
        else:
            self.do(Doing.BOOK)

    def action_add(self) -> None:
        """Note a payment."""
        self.do(Doing.PAY)

    def action_refund(self) -> None:
        """Give money back."""
        self.do(Doing.REFUND)

    def action_keep(self) -> None:
        """Keep money of a sale that came to nothing."""
        self.do(Doing.KEEP)

    def action_sell(self) -> None:
        """Sell from stock."""
        self.do(Doing.SELL)

    def action_take_back(self) -> None:
        """A delivered piece comes back."""
        self.do(Doing.TAKE_BACK)

    def action_paper(self) -> None:
        """Show the quote, or the confirmation where it is booked."""
        self.do(Doing.CONFIRMATION if self._is_ordered else Doing.QUOTE_PAPER)

    def action_papers(self) -> None:
        """Write the quote, or the confirmation where it is booked."""
        self.do(Doing.WRITE_CONFIRMATION if self._is_ordered else Doing.WRITE_QUOTE)

    @property
    def _is_ordered(self) -> bool:
        project = self.project
        return project is not None and Doing.CONFIRMATION in order_say.doings(project)

    def action_remove(self) -> None:
        """Cancel an order, or decline a quote."""
        quoted = self.project is not None and self.project.stage is Stage.QUOTED
        self.do(Doing.DECLINE if quoted else Doing.CANCEL)

    def action_earlier(self) -> None:
        """Earlier in the working order, set by hand."""
        self._move(-1)

    def action_later(self) -> None:
        """Later in the working order, set by hand."""
        self._move(1)

    def _move(self, by: int) -> None:
        project = self.project
        if project is None:
            return
        studio, plans = self.view.studio, self.view.snapshot.plan.projects
        order = order_say.working_order(studio, plans, clock.today())
        key = project.key
        label = f"{project.name} {'earlier' if by < 0 else 'later'}"
        self.studio_app.edit(label, lambda s: order_say.moved(s, order, key, by), key)

    def action_by_due(self) -> None:
        """Work by due date again."""
        self.studio_app.edit("by due date", order_say.by_due_date)

    def action_more(self) -> None:
        """Try one more hour a week; nothing is changed."""
        self.extra += 1
        self._put_piece()

    def action_fewer(self) -> None:
        """Try one hour less of the tried ones."""
        self.extra = max(0, self.extra - 1)
        self._put_piece()

    async def why(self) -> None:
        """The sum behind the days, the money or the week at hand."""
        project, desk = self.project, self.desk
        if project is None or desk is None:
            self.say_line.say("Nothing to explain here yet.")
            return
        key = self.list.key
        title, steps = self._steps(project, desk, key)
        self.app.push_screen(Words(title, sum_text(steps, min(WIDTH, self.app.size.width - 8))))

    def _steps(self, project: Project, desk: Desk, key: Hashable) -> tuple[str, tuple[Step, ...]]:
        currency = self.view.settings.currency
        if self.sheet_at == "calendar" and isinstance(key, tuple):
            names = {p.key: p.name for p in self.view.studio.projects}
            week = next(w for w in desk.weeks if w.monday == key[1])
            return "The week", order_say.why_week(week, names)
        money = order_say.why_money(project, currency)
        if isinstance(key, tuple) and key[0] == DRIFT:
            return key[1].label, order_say.why_drift(key[1], self.view.settings)
        if self.sheet_at == "order" and isinstance(key, tuple):
            if found := self._quoted(project, key):
                return f"The quote of {project.name}", found
            if key[0] in (MONEY, QUOTE):
                return f"Money of {project.name}", money
        row = next((r for r in desk.book.rows if r.project == project.key), None)
        if row is None:
            return f"Money of {project.name}", money
        days = order_say.why_days(row, project, desk, self.view.studio)
        gap = (Step(""),)
        return f"Days and money of {project.name}", (*days, *gap, *money)

    def _quoted(self, project: Project, key: tuple[Any, ...]) -> tuple[Step, ...]:
        """The sum of a line of the quote; nothing for a line that has none."""
        printed = self._printed(project)
        if printed is None or key[0] not in (QUOTE, FIGURE):
            return ()
        if key[0] == FIGURE:
            steps = quote_why.why_figure(printed, key[1])
        else:
            steps = quote_why.why(printed, str(key[1]))
        if steps and project.stage is Stage.QUOTED:
            place = self.studio_app.keymap.shown(keys.BY_ID["enquiry"])
            # Above the sum: what stands last is its total.
            steps = (Step(f"{place} tries it as it stands today."), Step(""), *steps)
        return steps


async def open_order_book(app: StripewrightApp, subject: object) -> None:
    """Open the book, on a piece where one is named."""
    if subject:
        app.stand_on_piece(str(subject))
    await app.push_screen(OrderBookScreen(app.view, app.keymap))
