"""Buying in bulk: the cheapest purchase for what is short, shown at once and then bettered."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import BindingType

from studio import clock
from studio.core import say
from studio.core.buying import asking, words
from studio.core.buying.placing import Placed, place_orders, take_offer
from studio.core.buying.plan import SupplierOrder
from studio.core.buying.problem import Need
from studio.core.buying.question import HELD, Chosen
from studio.core.buying.shelf import StapleLine, with_staple
from studio.core.model import Studio
from studio.errors import StudioError
from studio.ui import keys
from studio.ui.beside import BESIDE_CSS, Beside
from studio.ui.buying.sheets import (
    PIECE,
    STAPLE,
    BesideSheet,
    OrdersSheet,
    PiecesSheet,
    Shown,
    StaplesSheet,
    shade_at,
)
from studio.ui.buying.working import Question, Told, Working
from studio.ui.dialogs.desk import choose
from studio.ui.dialogs.message import Words
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.core.buying.together import HoldOffer
    from studio.ui.app import StripewrightApp

NAMED = ("stop", "suppliers", "more", "staple", "add")
"""Actions whose keys are named on the sheets."""


class Buying(Beside):
    """What to buy, for which pieces, what stands beside it, and the staples."""

    group = "buying"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("buying")
    CSS = (
        BESIDE_CSS
        + """
Buying.-wide .table { grid-size: 2 3; grid-columns: 11fr 9fr; grid-rows: 1fr 1fr 1fr; }
Buying.-wide #orders { row-span: 3; }
Buying.-middle .table { grid-size: 2 3; grid-columns: 10fr 9fr; grid-rows: 5fr 4fr 5fr; }
Buying.-middle #orders { row-span: 3; }
"""
    )

    def __init__(self, view: View, keymap: Keymap, first: str = "") -> None:
        super().__init__(view, keymap)
        self.chosen: Chosen = HELD
        self.told = Told()
        self.question: Question | None = None
        self.working = Working(self._tell)
        self.ordered: tuple[SupplierOrder, ...] = ()
        """The orders last placed here, so that their papers can still be written."""
        self.first_sheet = first
        self._asked_of: tuple[object, object] = (None, None)

    def sheets(self) -> tuple[Pane, ...]:
        """What to buy, the pieces, what stands beside it, the staples."""
        return OrdersSheet(), PiecesSheet(), BesideSheet(), StaplesSheet()

    # What is shown

    def fill(self, view: View) -> None:
        """Ask again where the studio or its lots are others; show what is known."""
        now = (view.snapshot.studio, view.snapshot.plan)
        if any(a is not b for a, b in zip(now, self._asked_of, strict=True)):
            self._asked_of = now
            self.ask()
        self._put()

    @property
    def staples(self) -> tuple[StapleLine, ...]:
        """The staples as the workshop has them."""
        return self.studio_app.workshop.staples

    def go_to_sheet(self, name: str) -> None:
        """Go to a sheet and fit its sentences to the room it has then."""
        super().go_to_sheet(name)
        self.call_after_refresh(self._put)

    def _put(self) -> None:
        named = {verb: self.keymap.shown(keys.BY_ID[f"buying.{verb}"]) for verb in NAMED}
        shown = Shown(self.view, self.told, self.staples, self.chosen, named)
        for pane in self.query(Pane):
            if isinstance(pane, OrdersSheet | PiecesSheet | BesideSheet | StaplesSheet):
                pane.put(shown)

    # Asking, in a thread

    def ask(self) -> None:
        """Ask for the purchase as things are now; an older question is dropped."""
        self.question = Question(self.studio_app.workshop, self.chosen, clock.today())
        if self.working.ask_for(self.question):
            self._serve()

    @work(thread=True, group="buying")
    def _serve(self) -> None:
        self.working.serve()

    def _tell(self, told: Told) -> None:
        self.app.call_from_thread(self._take, told)

    def _take(self, told: Told) -> None:
        if self.is_attached:
            self.told = told
            self._put()

    def on_unmount(self) -> None:
        """Nothing more is asked."""
        self.working.drop()

    def action_stop(self) -> None:
        """Take the best plan so far; where that was done, look on."""
        if self.told.looking:
            self.working.stop()
            what = "the best plan so far stands" if self.told.plan else "there is no plan yet"
            self._say(f"Stopping; {what}.")
        elif self.told.stopped:
            self.ask()
            self._say("Looking for a cheaper one again.")
        else:
            self._say("Nothing is being looked for: the plan stands.")

    # For what is bought

    def choose(self, chosen: Chosen) -> None:
        """Buy for other pieces."""
        if chosen != self.chosen:
            self.chosen = chosen
            self.ask()

    def action_more(self) -> None:
        """Also for quotes, then also for ideas."""
        self.choose(asking.wider(self.chosen))

    def action_fewer(self) -> None:
        """Not for ideas, then not for quotes."""
        self.choose(asking.narrower(self.chosen))

    # What is done with the line at hand

    def action_open(self) -> None:
        """Take a piece in or out; read anything else in full."""
        key = self.list.key
        if isinstance(key, tuple) and key[0] == PIECE:
            self.choose(asking.toggled(self.chosen, key[1], self.view.studio.project))
            return
        row = self.list.row
        if row is not None and key is not None:
            parts = row.detail or row.cells[:1]
            text = "\n\n".join(c if isinstance(c, str) else c.text for c in parts)
            title = (
                row.cell(0).text if self.sheet_at == "orders" else self.sheet(self.sheet_at).words
            )
            self.app.push_screen(Words(title, text))

    async def why(self) -> None:
        """What stands behind the line at hand, in full."""
        self.action_open()

    def action_staple(self) -> None:
        """Mark the shade at hand as always kept, or no longer."""
        needs = [need for need, _ in self._in_the_way()]
        ref = shade_at(self.list.key, needs)
        shade = self.view.studio.library.shade.get(ref) if ref else None
        if ref is None or shade is None:
            self._say("No shade at hand: stand on a line of a shade.")
            return
        on = not shade.staple
        words_now = "a staple" if on else "no staple any more"
        if self.studio_app.edit(
            f"{shade.name} {words_now}", lambda s: with_staple(s, ref, staple=on)
        ):
            self._say(f"{shade.name} is {words_now}.")

    @work(group="dialog")
    async def action_add(self) -> None:
        """Order the staple at hand for the shelf, as an order of its own."""
        from studio.ui.buying.restocking import ask_restock

        key = self.list.key
        ref = key[-1] if isinstance(key, tuple) and key[0] == STAPLE else None
        staple = next((line for line in self.staples if line.shade == ref), None)
        if staple is None:
            self._say("No staple at hand: stand on one of the staples.")
            return
        order = await ask_restock(self.studio_app, staple)
        if order is not None:
            self.ordered = (order,)
            shown = self.keymap.shown
            self._say(
                f"{say.balls(order.lines[0].balls)} of {staple.name} on order now; "
                f"{shown(keys.BY_ID['undo'])} undoes."
            )

    def _in_the_way(self) -> list[tuple[Need, str]]:
        plan = self.told.plan
        return [] if plan is None else list(words.in_the_way(plan, self.view.studio))

    # Placing

    def action_place(self) -> None:
        """Put the orders of the plan on order; their runs wait for them from then on."""
        plan = self.told.plan
        if self._still_working():
            return
        if plan is None or not plan.orders:
            self._say("There is nothing to order.")
            return
        orders, plans, day = plan.orders, self.view.snapshot.plan.projects, clock.today()
        placed: list[Placed] = []

        def change(studio: Studio) -> Studio:
            placed.append(place_orders(studio, orders, plans, day))
            return placed[-1].studio

        count = say.count(len(orders), "order")
        if self.studio_app.edit(f"{count} placed", change, mind_holds=False):
            self.ordered = orders
            shown = self.keymap.shown
            self._say(
                f"{count} placed. {shown(keys.BY_ID['buying.papers'])} writes the papers, "
                f"{shown(keys.BY_ID['undo'])} undoes."
            )
            if rest := words.untied_words(self.view.studio, placed[-1].untied):
                self.app.push_screen(Words("Orders placed", f"{count} placed.\n\n{rest}"))

    def _still_working(self) -> bool:
        """Whether what is shown was worked out for another studio than that of now; says so."""
        if self.view.snapshot.plan.pending:
            self._say("The lots are still being worked out; a moment.")
        elif self.told.question is not self.question:
            self._say("The purchase is being worked out anew; a moment.")
        else:
            return False
        return True

    def action_take_offer(self) -> None:
        """Move the holds that are offered and place the orders of that plan, when she says so."""
        together = self.told.together
        if together is None or together.offer is None:
            self._say("No move of holds is offered.")
        elif not self._still_working():
            self.take_offer(together.offer)

    @work(group="dialog")
    async def take_offer(self, offer: HoldOffer) -> None:
        """Say what moves and what is ordered with it, ask, and do it as one edit."""
        plans, day = self.view.snapshot.plan.projects, clock.today()
        said = "\n".join(words.taking_words(offer, self.view.studio))
        rows = (
            (
                "yes",
                "move and order" if offer.plan.orders else "move",
                "one step; undo takes it back",
            ),
            ("no", "leave the holds", "nothing is changed"),
        )
        title = words.offer_words(offer, self.view.studio).partition(". ")[0]
        if await choose(self.studio_app, title, rows, note=said, verb="do it") != "yes":
            return
        count = say.count(len(offer.moves), "hold")
        if self.studio_app.edit(
            f"{count} moved",
            lambda s: take_offer(s, offer, plans, day).studio,
            mind_holds=False,  # she has just said yes to it
        ):
            self.ordered = offer.plan.orders
            undo = self.keymap.shown(keys.BY_ID["undo"])
            placed = " and the orders placed" if offer.plan.orders else ""
            self._say(f"{count} moved{placed}. {undo} undoes.")

    @work(group="dialog")
    async def action_papers(self) -> None:
        """Write the order papers of the plan, or of the orders just placed."""
        from studio.ui.buying.writing import write_papers

        plan = self.told.plan
        try:
            await write_papers(self.studio_app, plan.orders if plan else (), self.ordered)
        except StudioError as error:
            self._say(error.text, needs_you=True)

    def action_suppliers(self) -> None:
        """Go to the suppliers and what they offer."""
        self.studio_app.ask("suppliers")

    def _say(self, text: str, *, needs_you: bool = False) -> None:
        self.say_line.say(text, needs_you=needs_you)

    def refuses(self, what: str) -> str:
        """The mends of the bench are not asked for here."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_buying(app: StripewrightApp, subject: object) -> None:
    """Open the purchase; `subject` may name the sheet to stand on."""
    await app.push_screen(Buying(app.view, app.keymap, subject if isinstance(subject, str) else ""))
