"""The parcel on the table: what is on order, the bags as they are typed, and what they mean."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import BindingType

from studio import clock
from studio.core import edits, say
from studio.core.buying import parcel
from studio.core.buying.delivery import Bag, Delivery
from studio.core.buying.placed import placed_order
from studio.core.buying.receiving import Received, dearer_words, receive
from studio.core.mends import take_prices
from studio.core.model import Purchase, ShadeRef, Studio
from studio.errors import EditRefusedError, StudioError
from studio.ui import keys
from studio.ui.beside import BESIDE_CSS, Beside
from studio.ui.buying import bag_form, ordering
from studio.ui.buying.receiving_sheets import (
    BAG,
    LINE,
    BagsSheet,
    MeaningSheet,
    ParcelsSheet,
    Typed,
)
from studio.ui.drawn_list import DrawnList
from studio.ui.enquiry.taking import meant
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NAMED = (
    *("buying", "stash", "receiving.add", "receiving.receive", "receiving.parcel"),
    *("receiving.note_order", "receiving.change_order"),
)
"""Actions whose keys are named on the sheets."""


class Receiving(Beside):
    """What is on order, the bags, and what they mean."""

    group = "receiving"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("receiving")
    CSS = (
        BESIDE_CSS
        + """
Receiving.-wide .table { grid-size: 2 2; grid-columns: 9fr 10fr; grid-rows: 1fr 1fr; }
Receiving.-wide #parcels { row-span: 2; }
Receiving.-middle .table { grid-size: 2 2; grid-columns: 1fr 1fr; grid-rows: 1fr 1fr; }
Receiving.-middle #meaning { column-span: 2; }
"""
    )

    def __init__(self, view: View, keymap: Keymap) -> None:
        super().__init__(view, keymap)
        self.found: Received | None = None
        self.trouble = ""
        self._purchase = ""

    def sheets(self) -> tuple[Pane, ...]:
        """What is on order, the bags, what they mean."""
        return ParcelsSheet(), BagsSheet(), MeaningSheet()

    # What is shown

    @property
    def purchase(self) -> Purchase | None:
        """The purchase at hand."""
        return self.view.studio.stash.purchase.get(self._purchase)

    def delivery_of(self, purchase: Purchase) -> Delivery:
        """What is typed for a purchase; begun where nothing is."""
        return purchase.parcel or parcel.begun(self.view.studio, purchase, clock.today())

    def fill(self, view: View) -> None:
        """Show the purchases of a snapshot, and what is typed for them."""
        if self._purchase not in view.studio.stash.purchase:
            self._purchase = ""
        self._put()

    def go_to_sheet(self, name: str) -> None:
        """Go to a sheet and fit its sentences to the room it has then."""
        super().go_to_sheet(name)
        self.call_after_refresh(self._put)

    def _put(self) -> None:
        self._preview()
        shown = {name: self.keymap.shown(keys.BY_ID[name]) for name in NAMED}
        typed = Typed(self.view, self.purchase, self.found, self.trouble, shown)
        for pane in self.query(Pane):
            if isinstance(pane, ParcelsSheet | BagsSheet | MeaningSheet):
                pane.put(typed)
        key = self.sheet("parcels").list.key
        if not self._purchase and isinstance(key, tuple):
            self._stand_at(key[1])

    def _preview(self) -> None:
        """Work out what the bags mean, or why they cannot be so."""
        self.found, self.trouble = None, ""
        typed = self.purchase.parcel if self.purchase else None
        if typed is None or (not typed.bags and typed.rest_comes):
            return
        needs = parcel.need_dg_of(self.view.snapshot.plan.projects)
        try:
            self.found = receive(self.view.studio, typed, needs)
        except EditRefusedError as error:
            self.trouble = error.text

    @on(DrawnList.Moved, "#parcels-list")
    def _moved(self, event: DrawnList.Moved) -> None:
        event.stop()
        if isinstance(event.key, tuple):
            self._stand_at(event.key[1])

    def _stand_at(self, purchase: str) -> None:
        if purchase != self._purchase and purchase in self.view.studio.stash.purchase:
            self._purchase = purchase
            self._put()

    def _keep(self, label: str, delivery: Delivery) -> bool:
        """Keep what is typed with its purchase; undo takes it back."""
        return self.studio_app.edit(label, lambda s: edits.set_parcel(s, delivery))

    def stand(self, key: object) -> None:
        """What was changed is found by its own list."""

    # Bags

    @property
    def bag_at(self) -> int | None:
        """The bag at hand, by its place in the parcel."""
        key = self.list.key
        return key[1] if isinstance(key, tuple) and key[0] == BAG else None

    def action_open(self) -> None:
        """Type a bag of the line at hand, or change the bag at hand."""
        if self.bag_at is not None:
            self.type_bag(self.bag_at)
        elif self.sheet_at == "meaning":
            self._say("Type a bag on the sheets beside this one.")
        else:
            self.type_bag(None, known=True)

    def action_add(self) -> None:
        """Type one more bag."""
        self.type_bag(None)

    def action_again(self) -> None:
        """One more bag like the one at hand, of another dye lot."""
        typed, at = self.purchase.parcel if self.purchase else None, self.bag_at
        if typed is None or at is None:
            self._say("No bag at hand: stand on one of the bags.")
            return
        self.type_bag(None, like=typed.bags[at], known=True)

    def action_remove(self) -> None:
        """Drop the bag at hand, or take the line at hand out of its order."""
        if self.sheet_at == "parcels":
            self._remove_line()
            return
        typed, at = self.purchase.parcel if self.purchase else None, self.bag_at
        if typed is None or at is None:
            self._say("No bag at hand: stand on one of the bags.")
            return
        name = self.view.shade_name(typed.bags[at].ref)
        rest = replace(typed, bags=(*typed.bags[:at], *typed.bags[at + 1 :]))
        purchase = self.view.studio.stash.purchase[typed.purchase]
        begun = parcel.begun(self.view.studio, purchase, typed.on)
        label = f"bag of {name} dropped"
        if rest == begun:
            self.studio_app.edit(label, lambda s: edits.drop_parcel(s, typed.purchase))
        else:
            self._keep(label, rest)
        self._say(f"Bag of {name} dropped; {self._undoes}.")

    @property
    def _undoes(self) -> str:
        return f"{self.keymap.shown(keys.BY_ID['undo'])} undoes"

    def _next_bag(self, purchase: Purchase, like: Bag | None) -> Bag | None:
        """The bag that is proposed: of the line at hand, else of the first that is still to type.

        Its dye lot is never proposed, since only the band tells it.
        """
        states = parcel.line_states(purchase, purchase.parcel)
        key = self.sheet("parcels").list.key
        at = key[2] if isinstance(key, tuple) and key[:2] == (LINE, purchase.key) else 0
        order = [*states[at : at + 1], *states]
        if like is not None:
            order = [s for s in states if s.ref == like.ref] + order
        state = next((s for s in order if s.left), next(iter(states), None))
        if state is None:
            return None
        return Bag(state.line.yarn, state.line.shade, "", max(1, state.left))

    @work(group="dialog")
    async def type_bag(
        self, at: int | None, like: Bag | None = None, *, known: bool = False
    ) -> None:
        """Type a bag, or change one; where its shade is `known` the form begins at the dye lot."""
        purchase = self.purchase
        if purchase is None:
            self._say("Nothing is on order.")
            return
        delivery = self.delivery_of(purchase)
        bag = delivery.bags[at] if at is not None else self._next_bag(purchase, like)
        if bag is None:
            self._say("There is no line on this order.")
            return
        typed = await bag_form.bag_typed(
            self.studio_app, purchase, delivery, bag, new=at is None, at="lot" if known else ""
        )
        if typed is None:
            return
        new, price = typed
        bags = list(delivery.bags)
        if at is None:
            bags.append(new)
        else:
            bags[at] = new
        prices = parcel.prices_with(delivery, purchase, new, price)
        name = self.view.shade_name(new.ref)
        kept = replace(delivery, bags=tuple(bags), prices=prices)
        if self._keep(f"bag of {name} typed", kept):
            self.sheet("bags").list.go_to((BAG, len(bags) - 1 if at is None else at))
            self._say(self._what_next(name, new))

    def _what_next(self, name: str, new: Bag) -> str:
        """What was typed, and the key of the next step."""
        words = f"{say.balls(new.balls)} of {name} typed"
        purchase = self.purchase
        left = purchase and sum(s.left for s in parcel.line_states(purchase, purchase.parcel))
        if self.trouble or self.found is None:
            return f"{words}."
        put = f"{self.keymap.shown(keys.BY_ID['receiving.receive'])} puts it on the shelf"
        return (
            f"{words}; {say.balls(left)} still to type, or {put}." if left else f"{words}; {put}."
        )

    @work(group="dialog")
    async def action_barcode(self) -> None:
        """See and change the barcodes of the shade at hand."""
        ref = self._shade_at_hand()
        if ref is None or self.view.studio.library.shade.get(ref) is None:
            self._say("No shade at hand: stand on a line on order, or on a bag.")
            return
        await bag_form.change_barcodes(self.studio_app, ref)

    def _shade_at_hand(self) -> ShadeRef | None:
        key, purchase = self.list.key, self.purchase
        if purchase is None or not isinstance(key, tuple):
            return None
        if key[0] == BAG and purchase.parcel:
            return purchase.parcel.bags[key[1]].ref
        if key[0] == LINE:
            line = purchase.lines[key[2]]
            return ShadeRef(line.yarn, line.shade)
        return None

    # The order

    @property
    def _line_at(self) -> int:
        """The line at hand by its place in the order at hand, else the first one."""
        key = self.sheet("parcels").list.key
        return key[2] if isinstance(key, tuple) and key[:2] == (LINE, self._purchase) else 0

    def _stand_on(self, purchase: str | None, at: int = 0) -> None:
        """Stand on a line of an order that is still there."""
        if purchase is not None and self.sheet("parcels").list.go_to((LINE, purchase, at)):
            self._stand_at(purchase)

    @work(group="dialog")
    async def action_note_order(self) -> None:
        """Note an order that was placed elsewhere."""
        key = await ordering.note(self.studio_app)
        if key is not None:
            self.go_to_sheet("parcels")
            self._stand_on(key)

    @work(group="dialog")
    async def action_change_order(self) -> None:
        """Change the order at hand: a line, its days, or whether it comes at all."""
        purchase, at = self.purchase, self._line_at
        if purchase is None:
            self._nothing_on_order()
        else:
            self._stand_on(await ordering.what_to_change(self.studio_app, purchase, at), at)

    @work(group="dialog")
    async def action_call_off(self) -> None:
        """Call the order at hand off."""
        if self.purchase is None:
            self._nothing_on_order()
        else:
            await ordering.call_off(self.studio_app, self.purchase)

    @work(group="dialog")
    async def _remove_line(self) -> None:
        """Take the line at hand out of its order."""
        if self.purchase is None:
            self._nothing_on_order()
        else:
            await ordering.remove_line(self.studio_app, self.purchase, self._line_at)

    def _nothing_on_order(self) -> None:
        note = self.keymap.shown(keys.BY_ID["receiving.note_order"])
        self._say(f"Nothing is on order; {note} notes an order.")

    # The parcel

    @work(group="dialog")
    async def action_parcel(self) -> None:
        """Shipping, tax, and what is still to come."""
        purchase = self.purchase
        if purchase is None:
            self._say("Nothing is on order.")
            return
        typed = await bag_form.parcel_typed(self.studio_app, purchase, self.delivery_of(purchase))
        if typed is None:
            return
        name, day = parcel.supplier_of(self.view.studio, purchase), typed.rest_arrives
        if typed.bags or day is None or not typed.rest_comes:
            self._keep(f"parcel from {name} changed", typed)
            return
        # Nothing came yet: then the whole order arrives on that day.
        label = f"parcel from {name} there by {say.date(day)}"
        if self.studio_app.edit(label, lambda s: edits.set_arrival(s, purchase.key, day)):
            self._say(f"The {label} now; {self._undoes}.")

    @work(group="dialog")
    async def action_papers(self) -> None:
        """Write the paper of the order at hand again, as far as it is still to come."""
        from studio.ui.buying.writing import write_papers

        purchase = self.purchase
        if purchase is None:
            self._say("Nothing is on order.")
            return
        try:
            order = placed_order(self.view.studio, purchase)
            await write_papers(self.studio_app, (), (order,))
        except StudioError as error:
            self._say(error.text, needs_you=True)

    def action_receive(self) -> None:
        """Put it on the shelf: one edit, which undo takes back with what was typed."""
        purchase = self.purchase
        typed = purchase.parcel if purchase else None
        if purchase is None or typed is None:
            add = self.keymap.shown(keys.BY_ID["receiving.add"])
            self._say(f"No bag is typed in yet: {add} types one.")
            return
        needs = parcel.need_dg_of(self.view.snapshot.plan.projects)
        found: list[Received] = []

        def change(studio: Studio) -> Studio:
            found.append(receive(studio, typed, needs))
            return found[-1].studio

        name = parcel.supplier_of(self.view.studio, purchase)
        if self.studio_app.edit(f"parcel from {name} received", change, mind_holds=False):
            self._say(f"{parcel.received_words(found[-1])} {self._undoes}.")
            if found[-1].dearer:
                self._offer_prices(found[-1])

    @work(group="dialog")
    async def _offer_prices(self, found: Received) -> None:
        """Ask whether what a ball cost is to be the yarn's own price from now on."""
        names = say.either([found.studio.library.yarn[k].name for k in found.dearer], "and")
        rows = (
            ("leave", "leave the price as it is", "quotes go on with it"),
            ("do", "take over what it cost", "quotes and ideas follow; undo brings it back"),
        )
        told = dearer_words(found.studio, found.dearer)
        if await meant(self.studio_app, f"{names} cost more", told, rows, "take it"):
            label = f"price of {names} taken over"
            if self.studio_app.edit(label, lambda s: take_prices(s, found.dearer)):
                self._say(f"{label}; {self._undoes}.")

    def _say(self, text: str, *, needs_you: bool = False) -> None:
        self.say_line.say(text, needs_you=needs_you)

    def refuses(self, what: str) -> str:
        """The mends of the bench are not asked for here."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_receiving(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Open what is on order."""
    await app.push_screen(Receiving(app.view, app.keymap))
