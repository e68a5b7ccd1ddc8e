"""Suppliers and what they offer: whom she buys from, on what terms, and at what prices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on, work
from textual.binding import BindingType

from studio.core import edits, say
from studio.core.buying.asking import book_of
from studio.core.buying.offers import BreakScope, Offer, OfferProblem, Supplier, problems_of
from studio.core.headline import money_figure
from studio.ui import keys
from studio.ui.beside import BESIDE_CSS, Beside, SheetPane
from studio.ui.buying import offer_entries, supplier_forms
from studio.ui.drawn_list import Align, Cell, Column, DrawnList, Row, Tone
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

SUPPLIER, OFFER = "supplier", "offer"


@dataclass(frozen=True)
class Listed:
    """What the sheets are filled from: the supplier at hand, and what is wrong with the book."""

    view: View
    supplier: Supplier | None
    wrong: tuple[OfferProblem, ...]
    add_key: str

    def faults(self, supplier: str, offer: int | None = None) -> tuple[Cell, ...]:
        """What is wrong with a supplier, or with one of its offers."""
        return tuple(
            Cell(p.text, Tone.NEEDS_YOU)
            for p in self.wrong
            if p.supplier == supplier and p.offer == offer
        )


class SuppliersSheet(SheetPane):
    """Whom she buys from, and on what terms."""

    words = "Suppliers"

    def __init__(self) -> None:
        super().__init__("suppliers")

    def columns(self) -> Iterable[Column]:
        """Name, days until it is there, least order, shipping, free from, offers."""
        return (
            Column("name", share=2, least=16),
            Column("days", width=4, align=Align.RIGHT),
            Column("least order", align=Align.DECIMAL, drop=2),
            Column("shipping", share=2, least=16),
            Column("free from", align=Align.DECIMAL, drop=1),
            Column("offers", width=6, align=Align.RIGHT, drop=3),
        )

    def put(self, listed: Listed) -> None:
        """A line for each; what is wrong with one stands under it."""
        view, currency = listed.view, listed.view.settings.currency
        self.list.set_empty(
            f"No supplier is known yet, so nothing can be planned to be bought. {listed.add_key} "
            "adds the first: who it is, how long they take and what shipping costs; then what "
            "they offer."
        )
        rows = []
        for supplier in view.studio.suppliers:
            faults = listed.faults(supplier.key)
            terms, lead = supplier.shipping, supplier.lead_days
            offers = len(edits.offers_of(view.studio, supplier.key))
            cells = (
                Cell(supplier.name, Tone.NEEDS_YOU if faults else None),
                Cell("?", Tone.NEEDS_YOU) if lead is None else str(lead),
                money_figure(supplier.minimum, currency) if supplier.minimum else "",
                offer_entries.shipping_text(terms, currency),
                "" if terms.free_from is None else money_figure(terms.free_from, currency),
                str(offers) if offers else "",
            )
            shipping = cells[3] if len(terms.tiers) > 1 else ""
            more = [shipping, _seen(supplier), supplier.note]
            quiet = (Cell(text, Tone.QUIET) for text in more if text)
            rows.append(Row((SUPPLIER, supplier.key), cells, detail=(*faults, *quiet)))
        self.list.set_rows(rows)
        self.head.show(self.words, str(len(rows)) if rows else "")
        days = "days: from ordering to the parcel"
        self.explain((f"amounts in {currency}", days) if rows else ())


def _seen(supplier: Supplier) -> str:
    """How long the last parcels really took; nothing where none came yet."""
    days = [str(n) for n in supplier.seen_days]
    return f"the last parcels took {say.either(days, 'and')} days" if days else ""


class OffersSheet(SheetPane):
    """What the supplier at hand offers."""

    words = "What they offer"

    def __init__(self) -> None:
        super().__init__("offers")

    def columns(self) -> Iterable[Column]:
        """Yarn, shades, pack, price, and what counts towards a break."""
        return (
            Column("yarn", share=2, least=14),
            Column("shades", share=2, least=10, drop=1),
            Column("pack", width=4, align=Align.RIGHT, drop=2),
            Column("price of a ball", share=3, least=20),
        )

    def put(self, listed: Listed) -> None:
        """A line for each offer; shades, what counts and the note stand under the one at hand."""
        supplier, view = listed.supplier, listed.view
        self.list.set_empty(
            f"{supplier.name} offers nothing yet. {listed.add_key} adds a yarn and its price."
            if supplier
            else "First a supplier, then what they offer."
        )
        places = edits.offers_of(view.studio, supplier.key) if supplier else ()
        self.list.set_rows(self._row(listed, at, view.studio.offers[at]) for at in places)
        name = supplier.name if supplier else ""
        self.head.show(self.words, name)
        self.explain((f"prices in {view.settings.currency}, pack in balls",) if places else ())

    def _row(self, listed: Listed, at: int, offer: Offer) -> Row:
        view = listed.view
        yarn = view.studio.library.yarn.get(offer.yarn)
        shades = offer_entries.shades_text(offer.shades, yarn)
        price = offer_entries.price_text(offer.breaks, view.settings.currency)
        faults = listed.faults(offer.supplier, at)
        name = view.yarn_name(offer.yarn)
        cells = (
            Cell(name, Tone.NEEDS_YOU if faults else None),
            shades,
            str(offer.pack) if offer.pack != 1 else "",
            price,
        )
        detail = [*faults, *(Cell(text, Tone.QUIET) for text in _in_full(offer, shades, price))]
        return Row((OFFER, at), cells, detail=tuple(detail), words=shades)


def _in_full(offer: Offer, shades: str, price: str) -> Iterator[str]:
    """Shades and pack, price and what counts towards it, and the note: none of it is cut."""
    what = "all its shades" if shades == offer_entries.ALL else shades
    yield f"{what}, {'sold singly' if offer.pack == 1 else f'in packs of {offer.pack}'}"
    if len(offer.breaks) > 1:
        together = offer.scope is BreakScope.YARN
        counts = "all its shades count together" if together else "each shade counts by itself"
        yield f"{price} ({counts})"
    if offer.note:
        yield offer.note


class Suppliers(Beside):
    """The suppliers, and what the one at hand offers."""

    group = "suppliers"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("suppliers")
    CSS = (
        BESIDE_CSS
        + """
Suppliers.-wide .table { grid-size: 2 1; grid-columns: 1fr 1fr; grid-rows: 1fr; }
Suppliers.-middle .table { grid-size: 1 2; grid-columns: 1fr; grid-rows: 2fr 3fr; }
"""
    )

    def __init__(self, view: View, keymap: Keymap) -> None:
        super().__init__(view, keymap)
        self._supplier = ""

    def sheets(self) -> tuple[Pane, ...]:
        """Whom she buys from, what they offer."""
        return SuppliersSheet(), OffersSheet()

    # What is shown

    @property
    def supplier(self) -> Supplier | None:
        """The supplier at hand."""
        return next((s for s in self.view.studio.suppliers if s.key == self._supplier), None)

    def fill(self, view: View) -> None:
        """Show the suppliers of a snapshot; the one at hand stays so while they are there."""
        if self.supplier is None:
            self._supplier = next((s.key for s in view.studio.suppliers), "")
        self._put()

    def _put(self) -> None:
        studio = self.view.studio
        wrong = problems_of(book_of(studio), studio.library, studio.settings.currency)
        add = self.keymap.shown(keys.BY_ID["suppliers.add"])
        listed = Listed(self.view, self.supplier, wrong, add)
        for pane in self.query(Pane):
            if isinstance(pane, SuppliersSheet | OffersSheet):
                pane.put(listed)

    @on(DrawnList.Moved, "#suppliers-list")
    def _moved(self, event: DrawnList.Moved) -> None:
        event.stop()
        if isinstance(event.key, tuple) and event.key[1] != self._supplier:
            self._supplier = event.key[1]
            self._put()

    def stand(self, key: object) -> None:
        """What was changed is found by its own list."""

    # What is done

    @property
    def _offer_at(self) -> int | None:
        key = self.sheet("offers").list.key
        return key[1] if isinstance(key, tuple) else None

    def action_add(self) -> None:
        """Add a supplier, or on the other sheet an offer."""
        if self.sheet_at == "offers" and self.supplier is not None:
            self.offer(None)
        else:
            self.terms(None)

    def action_open(self) -> None:
        """Change the supplier or the offer at hand."""
        if self.sheet_at == "offers":
            at = self._offer_at
            if at is None:
                self.action_add()
            else:
                self.offer(at)
        else:
            self.terms(self.supplier)

    @work(group="dialog")
    async def terms(self, known: Supplier | None) -> None:
        """Change a supplier's terms; a new one goes on to what they offer."""
        app = self.studio_app
        key = await supplier_forms.ask_supplier(app, known)
        if key is None:
            return
        self.sheet("suppliers").list.go_to((SUPPLIER, key))
        self._supplier = key
        self._put()
        supplier = self.supplier
        if known is None and supplier is not None:
            await supplier_forms.add_offer(app, supplier)
            self.go_to_sheet("offers")
            add = self.keymap.shown(keys.BY_ID["suppliers.add"])
            self._say(f"{supplier.name} added; {add} adds one more yarn that they offer.")

    @work(group="dialog")
    async def offer(self, at: int | None) -> None:
        """Change an offer, or add one."""
        app, supplier = self.studio_app, self.supplier
        if supplier is None:
            return
        if at is not None:
            await supplier_forms.ask_offer(app, supplier, self.view.studio.offers[at], at)
            return
        if await supplier_forms.add_offer(app, supplier):
            self.sheet("offers").list.go_to(
                (OFFER, edits.offers_of(self.view.studio, supplier.key)[-1])
            )

    def action_remove(self) -> None:
        """Take the offer, or the supplier with all their offers, out; undo brings it back."""
        supplier, at = self.supplier, self._offer_at
        if supplier is None:
            self._say("No supplier at hand.")
        elif self.sheet_at == "offers":
            if at is None:
                self._say("No offer at hand.")
                return
            name = self.view.yarn_name(self.view.studio.offers[at].yarn)
            label = f"{name} at {supplier.name} removed"
            if self.studio_app.edit(label, lambda s: edits.remove_offer(s, at)):
                self._say(f"{label}; {self._undoes}.")
        else:
            count = len(edits.offers_of(self.view.studio, supplier.key))
            label = f"{supplier.name} removed"
            if self.studio_app.edit(label, lambda s: edits.remove_supplier(s, supplier.key)):
                more = f" with {say.count(count, 'offer')}" if count else ""
                self._say(f"{label}{more}; {self._undoes}.")

    @property
    def _undoes(self) -> str:
        return f"{self.keymap.shown(keys.BY_ID['undo'])} undoes"

    def _say(self, text: str) -> None:
        self.say_line.say(text)

    def refuses(self, what: str) -> str:
        """The mends of the bench are not asked for here."""
        if what in keys.OF_THE_BENCH:
            return "That is done on the bench: Esc goes back to it."
        return ""


async def open_suppliers(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Open the suppliers."""
    await app.push_screen(Suppliers(app.view, app.keymap))
