"""The parcel on the table: what is on order, the bags as they are typed, and what they mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import BindingType

from studio.core import say
from studio.core.answers import Weight
from studio.core.buying import parcel
from studio.core.buying.receiving import Bag, Delivery, Fate, Received, ShareBy, receive
from studio.core.headline import money_figure
from studio.core.model import Purchase, ShadeRef, Studio
from studio.errors import EditRefusedError
from studio.ui import beside, keys
from studio.ui.beside import BESIDE_CSS, Beside, SheetPane
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.dialogs.piece import date_entry, figure
from studio.ui.drawn_list import Align, Cell, Column, DrawnList, Row, Tone
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

LINE, BAG = "line", "bag"
TONES = {Weight.STOP: Tone.NEEDS_YOU, Weight.CAUTION: Tone.CAUTION, Weight.NOTE: Tone.QUIET}
FATES = (
    (Fate.GOOD.value, "good"),
    (Fate.DAMAGED.value, "damaged"),
    (Fate.WRONG.value, "wrong: not ordered, goes back"),
)


@dataclass(frozen=True)
class Typed:
    """What the sheets are filled from: the purchase at hand, what is typed, what it means."""

    view: View
    purchase: Purchase | None
    parcels: dict[str, Delivery]
    found: Received | None
    trouble: str

    @property
    def delivery(self) -> Delivery | None:
        """What is typed for the purchase at hand."""
        return self.parcels.get(self.purchase.key) if self.purchase else None


def _shade(view: View, ref: ShadeRef) -> Cell:
    return Cell(view.shade_name(ref), patch=view.patch(ref, view.letters.get(ref, "")))


class ParcelsSheet(SheetPane):
    """Every open purchase, line by line."""

    words = "On order"

    def __init__(self) -> None:
        super().__init__("parcels")

    def columns(self) -> Iterable[Column]:
        """Shade, balls ordered, typed in, still to type, price."""
        return (
            Column("shade", share=1, least=14),
            Column("ordered", width=7, align=Align.RIGHT),
            Column("typed", width=5, align=Align.RIGHT),
            Column("left", width=4, align=Align.RIGHT),
            Column("a ball", align=Align.DECIMAL, drop=1),
        )

    def put(self, typed: Typed) -> None:
        """The purchases that come first stand first."""
        view = typed.view
        currency, today = view.settings.currency, beside.today()
        self.list.set_empty("Nothing is on order.")
        rows = []
        purchases = sorted(view.studio.stash.purchases, key=lambda p: (p.arrives, p.key))
        for purchase in purchases:
            head = parcel.purchase_words(view.studio, purchase, today)
            rows.append(Row(("purchase", purchase.key), (head,), Tone.HEADING))
            states = parcel.line_states(purchase, typed.parcels.get(purchase.key))
            for at, state in enumerate(states):
                price = state.line.price
                cells = (
                    _shade(view, state.ref),
                    str(state.line.balls),
                    str(state.typed) if state.typed else "",
                    str(state.left) if state.left else "",
                    "" if price is None else money_figure(price, currency),
                )
                rows.append(
                    Row((LINE, purchase.key, at), cells, words=view.yarn_name(state.line.yarn))
                )
        self.list.set_rows(rows)
        self.head.show(self.words, say.count(len(purchases), "parcel") if purchases else "")
        self.explain((f"amounts in {currency}, balls in numbers",) if purchases else ())


class BagsSheet(SheetPane):
    """The bags that are typed in for the parcel at hand."""

    words = "Bags"

    def __init__(self) -> None:
        super().__init__("bags")

    def columns(self) -> Iterable[Column]:
        """Shade, dye lot, balls, and what is wrong with them."""
        return (
            Column("shade", share=2, least=12),
            Column("lot", share=1, least=6),
            Column("balls", width=5, align=Align.RIGHT),
            Column("", width=8, drop=1),
        )

    def put(self, typed: Typed) -> None:
        """A line for each bag."""
        delivery = typed.delivery
        add = "Insert or Ctrl+N types the first bag." if typed.purchase else ""
        self.list.set_empty(f"No bag is typed in yet. {add}")
        bags = delivery.bags if delivery else ()
        self.list.set_rows(
            Row(
                (BAG, at),
                (
                    _shade(typed.view, bag.ref),
                    "band lost" if bag.code_lost else bag.code or "no lots",
                    str(bag.balls),
                    "" if bag.fate is Fate.GOOD else Cell(bag.fate.value, Tone.NEEDS_YOU),
                ),
            )
            for at, bag in enumerate(bags)
        )
        name = parcel.supplier_of(typed.view.studio, typed.purchase) if typed.purchase else ""
        self.head.show(self.words, f"from {name}" if name else "")


class MeaningSheet(SheetPane):
    """What receiving it would do, before anything is done."""

    words = "What it means"

    def __init__(self) -> None:
        super().__init__("meaning")

    def columns(self) -> Iterable[Column]:
        """Sentences."""
        return (Column("", share=1, least=20),)

    def put(self, typed: Typed) -> None:
        """Sentences, those that need her first."""
        rows = []
        if typed.trouble:
            cell = Cell(typed.trouble, Tone.NEEDS_YOU)
            rows.append(Row("trouble", (cell,), detail=self._whole(cell)))
        elif typed.found is not None:
            said = list(parcel.meaning(typed.view.studio, typed.found))
            for at, (weight, text) in enumerate(said):
                cell = Cell(text, TONES[weight] if weight else None)
                rows.append(Row(at, (cell,), detail=self._whole(cell)))
        self.list.set_empty("Type the bags; what they mean for lots and pieces is told here.")
        self.list.set_rows(rows)
        delivery = typed.delivery
        ship = ""
        if delivery is not None and delivery.shipping:
            ship = f"shipping {say.money(delivery.shipping, typed.view.settings.currency)}"
        self.head.show(self.words, ship)

    def _whole(self, cell: Cell) -> tuple[Cell, ...]:
        """The sentence again in full, where its line would cut it."""
        return (Cell(cell.text, Tone.NORMAL),) if cell.cells > self.list.size.width - 3 else ()


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

    def __init__(self, view: View, keymap: keys.Keymap, parcels: dict[str, Delivery]) -> None:
        super().__init__(view, keymap)
        self.parcels = parcels
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

    @property
    def delivery(self) -> Delivery | None:
        """What is typed for it; begun where nothing is."""
        purchase = self.purchase
        if purchase is None:
            return None
        typed = self.parcels.get(purchase.key)
        return typed or parcel.begun(self.view.studio, purchase, beside.today())

    def fill(self, view: View) -> None:
        """Show the purchases of a snapshot; what was typed for those that are gone is dropped."""
        open_ones = view.studio.stash.purchase
        for key in [k for k in self.parcels if k not in open_ones]:
            del self.parcels[key]
        self._put()

    def go_to_sheet(self, name: str) -> None:
        """Go to a sheet and fit its sentences to the room it has then."""
        super().go_to_sheet(name)
        self.call_after_refresh(self._put)

    def _put(self) -> None:
        self._preview()
        typed = Typed(self.view, self.purchase, self.parcels, self.found, self.trouble)
        for pane in self.query(Pane):
            if isinstance(pane, ParcelsSheet | BagsSheet | MeaningSheet):
                pane.put(typed)
        key = self.sheet("parcels").list.key
        if not self._purchase and isinstance(key, tuple):
            self._stand_at(key[1])

    def _preview(self) -> None:
        """Work out what the bags mean, or why they cannot be so."""
        self.found, self.trouble = None, ""
        delivery = self.parcels.get(self._purchase)
        if delivery is None or self.purchase is None:
            return
        if not delivery.bags and delivery.rest_comes:
            return
        needs = parcel.need_dg_of(self.view.snapshot.plan.projects)
        try:
            self.found = receive(self.view.studio, delivery, needs)
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

    def _keep(self, delivery: Delivery) -> None:
        self.parcels[delivery.purchase] = delivery
        self._put()

    # Bags

    def action_open(self) -> None:
        """Type a bag of the line at hand, or change the bag at hand."""
        key = self.list.key
        if isinstance(key, tuple) and key[0] == BAG:
            self.type_bag(key[1])
        elif self.sheet_at == "parcels":
            self.action_add()

    def action_add(self) -> None:
        """Type one more bag."""
        self.type_bag(None)

    def action_again(self) -> None:
        """One more bag like the one at hand, of another dye lot."""
        key = self.list.key
        delivery = self.delivery
        if delivery is None or not (isinstance(key, tuple) and key[0] == BAG):
            self._say("No bag at hand.")
            return
        self.type_bag(None, like=delivery.bags[key[1]])

    def action_remove(self) -> None:
        """Drop the bag at hand."""
        key = self.list.key
        delivery = self.delivery
        if delivery is None or not (isinstance(key, tuple) and key[0] == BAG):
            self._say("No bag at hand.")
            return
        at = key[1]
        self._keep(replace(delivery, bags=(*delivery.bags[:at], *delivery.bags[at + 1 :])))

    def _next_bag(self, like: Bag | None) -> Bag | None:
        """The bag that is proposed: of the line at hand, else of the first that is still to type.

        Its dye lot is never proposed, since only the band tells it.
        """
        purchase = self.purchase
        if purchase is None:
            return None
        states = parcel.line_states(purchase, self.delivery)
        key = self.sheet("parcels").list.key
        at = key[2] if isinstance(key, tuple) and key[1] == purchase.key else 0
        order = [*states[at : at + 1], *states]
        if like is not None:
            order = [s for s in states if s.ref == like.ref] + order
        state = next((s for s in order if s.left), states[0])
        return Bag(state.line.yarn, state.line.shade, "", max(1, state.left))

    @work(group="dialog")
    async def type_bag(self, at: int | None, like: Bag | None = None) -> None:
        """Type a bag, or change one."""
        delivery, purchase = self.delivery, self.purchase
        if delivery is None or purchase is None:
            self._say("Nothing is on order.")
            return
        bag = delivery.bags[at] if at is not None else self._next_bag(like)
        if bag is None:
            return
        changed = await self._bag_form(delivery, purchase, bag, new=at is None)
        if changed is None:
            return
        new, price = changed
        bags = (
            (*delivery.bags, new)
            if at is None
            else (*delivery.bags[:at], new, *delivery.bags[at + 1 :])
        )
        prices = parcel.prices_with(delivery, purchase, new, price)
        self._keep(replace(delivery, bags=bags, prices=prices))
        self.sheet("bags").list.go_to((BAG, len(bags) - 1 if at is None else at))

    async def _bag_form(
        self, delivery: Delivery, purchase: Purchase, bag: Bag, *, new: bool
    ) -> tuple[Bag, Decimal | None] | None:
        studio = self.view.studio
        currency = studio.settings.currency
        library = studio.library
        price = parcel.price_now(delivery, purchase, bag.ref)
        # What was typed and left is kept for this very bag: another shade has another dye lot.
        which = f"{bag.yarn}/{bag.shade}" + ("" if new else f" {bag.code} changed")
        values = await fill_in(
            self.studio_app,
            f"bag {purchase.key} {which}",
            "A bag" if new else "Change the bag",
            [
                Field("shade", "barcode or shade", self.view.shade_name(bag.ref),
                      lambda text: parcel.shade_typed(library, purchase, text),
                      "scan the ball band here, or type the shade"),
                Field("lot", "dye lot", "" if new else parcel.lot_entry(bag.code, bag.code_lost),
                      parcel.lot_typed, "as on the ball band; ? where it is lost"),
                Field("balls", "balls", str(bag.balls), entries.whole("Balls", 1, 10_000)),
                Field("fate", "they are", bag.fate.value, options=FATES),
                Field("price", f"price a ball {currency}", figure(price),
                      entries.optional(entries.number("The price")), "as on the bill"),
            ],
            note=f"From {parcel.supplier_of(studio, purchase)}.",
        )  # fmt: skip
        if values is None:
            return None
        ref, lot, paid = values["shade"], values["lot"], values["price"]
        if not isinstance(ref, ShadeRef) or not isinstance(lot, tuple):
            return None
        fate = Fate(str(values["fate"]))
        made = Bag(ref.yarn, ref.shade, lot[0], int(str(values["balls"])), fate, lot[1])
        if ref != bag.ref and paid == price:
            # The price that stood there was that of another shade.
            return made, None
        return made, paid if isinstance(paid, Decimal) else None

    # The parcel

    @work(group="dialog")
    async def action_parcel(self) -> None:
        """Shipping, tax, and what is still to come."""
        delivery, purchase = self.delivery, self.purchase
        if delivery is None or purchase is None:
            self._say("Nothing is on order.")
            return
        currency, today = self.view.settings.currency, beside.today()
        values = await fill_in(
            self.studio_app,
            f"parcel {purchase.key}",
            "The parcel",
            [
                Field("on", "came on", date_entry(delivery.on), entries.day("It came", today)),
                Field("shipping", f"shipping {currency}", figure(delivery.shipping),
                      entries.number("Shipping")),
                Field("tax", f"tax not reclaimed {currency}", figure(delivery.tax),
                      entries.number("Tax")),
                Field("share", "shipping shared by", delivery.share_by.value,
                      options=tuple((s.value, s.value) for s in ShareBy)),
                Field("rest", "the rest still comes", "yes" if delivery.rest_comes else "no",
                      options=YES_NO),
                Field("arrives", "the rest arrives", date_entry(delivery.rest_arrives),
                      entries.optional(entries.day("The rest arrives", today)), "such as 12 Mar"),
                Field("kept", "kept in", delivery.kept),
            ],
            note="Shipping and tax go onto the balls, to the last cent.",
        )  # fmt: skip
        if values is None:
            return
        came, arrives = values["on"], values["arrives"]
        self._keep(
            replace(
                delivery,
                on=came if isinstance(came, date) else today,
                shipping=Decimal(str(values["shipping"])),
                tax=Decimal(str(values["tax"])),
                share_by=ShareBy(str(values["share"])),
                rest_comes=values["rest"] == "yes",
                rest_arrives=arrives if isinstance(arrives, date) else None,
                kept=str(values["kept"]),
            )
        )

    def action_receive(self) -> None:
        """Put it on the shelf: one edit, which undo takes back with what was typed."""
        purchase, delivery = self.purchase, self.parcels.get(self._purchase)
        if purchase is None or delivery is None:
            self._say("No bag is typed in yet.")
            return
        plans = self.view.snapshot.plan.projects
        needs = parcel.need_dg_of(plans)
        found: list[Received] = []

        def change(studio: Studio) -> Studio:
            found.append(receive(studio, delivery, needs))
            return found[-1].studio

        name = parcel.supplier_of(self.view.studio, purchase)
        self._purchase = ""
        if self.studio_app.edit(f"parcel from {name} received", change):
            self.parcels.pop(purchase.key, None)
            self._put()
            self._say(parcel.received_words(found[-1]))
        else:
            self._stand_at(purchase.key)

    def _say(self, text: str, *, needs_you: bool = False) -> None:
        self.say_line.say(text, needs_you=needs_you)

    def refuses(self, what: str) -> str:
        """The mends of the bench are not asked for here."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_receiving(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Open what is on order."""
    await app.push_screen(Receiving(app.view, app.keymap, app.parcels))
