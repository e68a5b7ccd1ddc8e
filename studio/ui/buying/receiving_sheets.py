"""The sheets of a parcel: what is on order, the bags that are typed, and what they would do."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from studio import clock
from studio.core import say
from studio.core.answers import ProjectPlan, Weight
from studio.core.buying import parcel
from studio.core.buying.delivery import Delivery, Fate, extras_words
from studio.core.buying.receiving import Received
from studio.core.buying.words import piece_name
from studio.core.headline import money_figure
from studio.core.model import Purchase, ShadeRef, Studio
from studio.ui.beside import SheetPane
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.view import View

LINE, BAG = "line", "bag"
TONES = {Weight.STOP: Tone.NEEDS_YOU, Weight.CAUTION: Tone.CAUTION, Weight.NOTE: Tone.QUIET}


@dataclass(frozen=True)
class Typed:
    """What the sheets are filled from: the purchase at hand, what its bags mean, and the keys."""

    view: View
    purchase: Purchase | None
    found: Received | None
    trouble: str
    keys: dict[str, str]
    """The keys in force, by the id of their action, for words that name them."""

    @property
    def delivery(self) -> Delivery | None:
        """What is typed for the purchase at hand."""
        return self.purchase.parcel if self.purchase else None


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
        buy, stash, note = (typed.keys[k] for k in ("buying", "stash", "receiving.note_order"))
        self.list.set_empty(
            f"Nothing is on order. {buy} finds what to buy and orders it; {note} notes an order "
            "that you placed by telephone or at a fair; yarn that came without an order is added "
            f"in the stash ({stash})."
        )
        purchases = sorted(view.studio.stash.purchases, key=lambda p: (p.arrives, p.key))
        self.list.set_rows([row for purchase in purchases for row in _purchase(purchase, view)])
        self.head.show(self.words, say.count(len(purchases), "parcel") if purchases else "")
        currency = view.settings.currency
        change = typed.keys["receiving.change_order"]
        words = (f"amounts in {currency}", f"{note} notes, {change} changes an order")
        self.explain(words if purchases else ())


def _purchase(purchase: Purchase, view: View) -> Iterator[Row]:
    late = parcel.overdue(purchase, clock.today())
    name = parcel.supplier_of(view.studio, purchase) or purchase.key
    head = f"{name}, {parcel.there_by(purchase)}{' (overdue)' if late else ''}"
    tone = Tone.NEEDS_YOU if late else Tone.HEADING
    yield Row(("purchase", purchase.key), (Cell(head, tone),), Tone.HEADING)
    plans = view.snapshot.plan.projects
    for at, state in enumerate(parcel.line_states(purchase, purchase.parcel)):
        price = state.line.price
        cells = (
            _shade(view, state.ref),
            str(state.line.balls),
            str(state.typed) if state.typed else "",
            str(state.left) if state.left else "",
            "" if price is None else money_figure(price, view.settings.currency),
        )
        yield Row(
            (LINE, purchase.key, at),
            cells,
            words=view.yarn_name(state.line.yarn),
            detail=tuple(
                filter(None, (_about(purchase, state.ref, plans, view.studio), purchase.note))
            ),
        )


def _about(
    purchase: Purchase, ref: ShadeRef, plans: Mapping[str, ProjectPlan], studio: Studio
) -> str:
    """When it was ordered and which pieces wait for it."""
    waiting = parcel.waiting(purchase, plans, ref)
    names = [piece_name(studio, key) for key in waiting]
    verb = "waits" if len(names) == 1 else "wait"
    waits = f"{say.either(names, 'and')} {verb} for it" if names else "no piece waits for it"
    ordered = f"ordered {say.date(purchase.ordered)}; " if purchase.ordered else ""
    return f"{ordered}{waits}"


class BagsSheet(SheetPane):
    """The bags that are typed in for the parcel at hand."""

    words = "Bags"

    def __init__(self) -> None:
        super().__init__("bags")

    def columns(self) -> Iterable[Column]:
        """Shade, dye lot, balls, and what is wrong with them."""
        return (
            Column("shade", share=2, least=12),
            Column("dye lot", share=1, least=7),
            Column("balls", width=5, align=Align.RIGHT),
            Column("", width=8, drop=1),
        )

    def put(self, typed: Typed) -> None:
        """A line for each bag."""
        delivery, purchase = typed.delivery, typed.purchase
        add = f" {typed.keys['receiving.add']} types the first one." if purchase else ""
        self.list.set_empty(f"No bag is typed in yet.{add}")
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
                words=typed.view.yarn_name(bag.yarn),
            )
            for at, bag in enumerate(bags)
        )
        name = parcel.supplier_of(typed.view.studio, purchase) if purchase else ""
        self.head.show(self.words, f"from {name}" if name else "")
        kept = ("kept until it is on the shelf, also when you leave",) if bags else ()
        self.explain((f"from {name}", *kept) if name else kept)


class MeaningSheet(SheetPane):
    """What receiving it would do, before anything is done."""

    words = "What it would do"

    def __init__(self) -> None:
        super().__init__("meaning")

    def columns(self) -> Iterable[Column]:
        """Sentences."""
        return (Column("", share=1, least=20),)

    def put(self, typed: Typed) -> None:
        """Sentences: what stands in the way first, then lots, prices, pieces, the rest."""
        self.list.set_empty(
            "Type the bags: which lots they make, what a ball then costs and which pieces they "
            "touch is told here, and nothing is done before you say so."
            if typed.purchase
            else "Nothing to tell."
        )
        said = list(_sentences(typed))
        self.list.set_rows(
            Row(at, (cell,), detail=self._whole(cell)) for at, cell in enumerate(said)
        )
        self.head.show(self.words, "not possible yet" if typed.trouble else "")
        done = f"{typed.keys['receiving.receive']} puts it on the shelf" if typed.found else ""
        self.explain((done,) if done else ())

    def _whole(self, cell: Cell) -> tuple[Cell, ...]:
        """The sentence again in full, where its line would cut it."""
        return (Cell(cell.text, Tone.NORMAL),) if cell.cells > self.list.size.width - 3 else ()


def _sentences(typed: Typed) -> Iterator[Cell]:
    if typed.trouble:
        yield Cell(typed.trouble, Tone.NEEDS_YOU)
    if typed.found is not None:
        for weight, text in parcel.meaning(typed.view.studio, typed.found):
            yield Cell(text, TONES[weight] if weight else None)
    delivery = typed.delivery
    if delivery is None:
        return
    extras = extras_words(delivery, typed.view.settings.currency)
    key = typed.keys["receiving.parcel"]
    what = "changes it" if extras else "adds shipping and tax, or says that the rest will not come"
    yield Cell(f"{extras} {key} {what}.".strip(), Tone.QUIET)
