"""What is typed at the parcel: the form of a bag, of the parcel itself, and of barcodes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from textual.widgets import Input

from studio import clock
from studio.core import edits, say
from studio.core.buying import parcel
from studio.core.buying.delivery import Bag, Delivery, Fate, ShareBy
from studio.core.buying.gtin import is_barcode, new_barcode
from studio.core.frozen import dataclass
from studio.core.model import Library, Purchase, ShadeRef, Studio
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import choose_shade, fill_in, refused
from studio.ui.dialogs.entries import Check
from studio.ui.dialogs.form import Field, Form, Values
from studio.ui.dialogs.piece import date_entry, figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

FATES = (
    (Fate.GOOD.value, "good"),
    (Fate.DAMAGED.value, "damaged: cannot be used"),
    (Fate.WRONG.value, "wrong: not ordered, goes back"),
)
SHARES = ((ShareBy.VALUE.value, "what each ball costs"), (ShareBy.WEIGHT.value, "its weight"))
RESTS = (("yes", "still comes"), ("no", "will not come: the order is closed"))


@dataclass(frozen=True, slots=True)
class NewBarcode:
    """A sound barcode that no shade has yet."""

    code: str


def shade_check(library: Library, purchase: Purchase) -> Check:
    """What is scanned or typed for a shade: one that is known, or a barcode to be given to one."""

    def check(entry: str) -> ShadeRef | NewBarcode:
        try:
            return parcel.shade_typed(library, purchase, entry)
        except ValueError:
            code = new_barcode(entry, library)
            if code is None:
                raise
            return NewBarcode(code)

    return check


class BagForm(Form):
    """The form of a bag. A scanner ends its number with Enter, which goes on to the dye lot.

    What is scanned into the field of the dye lot is the shade's barcode all the same.
    Where the shade is another one than was proposed it is given back alone, to ask for that one.
    """

    def __init__(self, proposed: ShadeRef, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self._proposed = proposed

    def action_keep(self) -> None:
        """Keep the bag; from the field of the shade go on with that shade."""
        found = None
        shade, lot = (self.query_one(f"#field-{key}", Input) for key in ("shade", "lot"))
        scanned = self.focused is lot and is_barcode(lot.value)
        if scanned:
            shade.value, lot.value = lot.value, ""
        if scanned or self.focused is shade:
            found = self._read()[0].get("shade")
        if found is None:
            super().action_keep()
        elif found == self._proposed:
            lot.focus()
        else:
            self._draft.clear()
            self.dismiss({"shade": found})


async def bag_typed(
    app: StripewrightApp,
    purchase: Purchase,
    delivery: Delivery,
    bag: Bag,
    *,
    new: bool,
    at: str = "",
) -> tuple[Bag, Decimal | None] | None:
    """A bag as it is typed, and the price of its balls where one was given; None where left.

    The form begins in the field `at`. A barcode that no shade has is given to the one that she
    chooses.
    """
    others = delivery.bags if new else tuple(b for b in delivery.bags if b is not bag)
    rest = replace(delivery, bags=others)
    while True:
        price = parcel.price_now(delivery, purchase, bag.ref)
        values = await _filled(app, purchase, rest, bag, price, new=new, at=at)
        if values is None:
            return None
        ref = values["shade"]
        if isinstance(ref, NewBarcode):
            ref = await _barcode_of(app, ref.code, bag.ref)
        if "lot" in values and isinstance(ref, ShadeRef):
            break
        if isinstance(ref, ShadeRef):
            bag, at = _of_shade(purchase, rest, bag, ref), "lot"
    lot, paid = values["lot"], values["price"]
    code, lost = lot if isinstance(lot, tuple) else ("", True)
    fate = Fate(str(values["fate"]))
    made = Bag(ref.yarn, ref.shade, code, int(str(values["balls"])), fate, lost)
    # The price that stood there was that of the shade that was proposed.
    other = ref != bag.ref and paid == price
    return made, paid if isinstance(paid, Decimal) and not other else None


def _of_shade(purchase: Purchase, rest: Delivery, bag: Bag, ref: ShadeRef) -> Bag:
    """The bag that is proposed once its shade is known: what is still to come of it."""
    left = parcel.left_of(purchase, rest, ref)
    ordered = any((n.yarn, n.shade) == ref for n in purchase.lines)
    fate = bag.fate if ordered else Fate.WRONG
    return Bag(ref.yarn, ref.shade, bag.code, left or bag.balls, fate, bag.code_lost)


async def _filled(
    app: StripewrightApp,
    purchase: Purchase,
    rest: Delivery,
    bag: Bag,
    price: Decimal | None,
    *,
    new: bool,
    at: str,
) -> Values | None:
    """What is typed into the form of a bag; `rest` is the parcel without it."""
    view = app.view
    library, currency = view.studio.library, view.settings.currency

    def preview(values: Values) -> str:
        ref = values.get("shade")
        if isinstance(ref, NewBarcode):
            return "No shade has this barcode yet: Enter asks which one it is, once."
        if not isinstance(ref, ShadeRef):
            return ""
        name = f"{view.yarn_name(ref.yarn)} {view.shade_name(ref)}"
        if all((n.yarn, n.shade) != ref for n in purchase.lines):
            return f"{name} is not on this order: it goes back."
        left = parcel.left_of(purchase, rest, ref)
        return f"{name}: {say.balls(left)} still to type." if left else f"{name}: all typed in."

    # What was typed and left is kept for this very bag: another shade has another dye lot.
    which = f"{bag.yarn}/{bag.shade}" + ("" if new else f" {bag.code} changed")
    draft = app.drafts[f"bag {purchase.key} {which}"]
    draft.pop("shade", None)
    form = BagForm(
        bag.ref,
        "A bag" if new else "Change the bag",
        [
            Field("shade", "barcode or shade", view.shade_name(bag.ref),
                  shade_check(library, purchase),
                  "scan the ball band here, or type the shade"),
            Field("lot", "dye lot", _lot_text(library, bag, new=new), parcel.lot_typed,
                  "as on the ball band; ? where it is lost"),
            Field("balls", "balls", str(bag.balls), entries.whole("Balls", 1, 10_000)),
            Field("fate", "they are", bag.fate.value, options=FATES),
            Field("price", f"price a ball {currency}", figure(price),
                  entries.optional(entries.number("The price")), "as on the bill"),
        ],
        note=f"From {parcel.supplier_of(view.studio, purchase)}.",
        preview=preview,
        draft=draft,
        at=at,
    )  # fmt: skip
    return await app.push_screen_wait(form)


def _lot_text(library: Library, bag: Bag, *, new: bool) -> str:
    """What stands in the field of the dye lot: of a new bag nothing, where its yarn has lots."""
    yarn = library.yarn.get(bag.yarn)
    if yarn is not None and yarn.no_dye_lot:
        return parcel.NO_CODE
    return "" if new else parcel.lot_entry(bag.code, bag.code_lost)


async def _barcode_of(app: StripewrightApp, code: str, at: ShadeRef) -> ShadeRef | None:
    """Ask which shade has a barcode, and keep it with that one."""
    ref = await choose_shade(
        app, f"Which shade has the barcode {code}?", at=at, verb="it is this one",
        note="It is kept with the shade, so that the next scan finds it.",
    )  # fmt: skip
    if ref is None:
        return None
    name = app.view.shade_name(ref)
    kept = app.edit(f"barcode given to {name}", lambda s: edits.add_barcode(s, ref, code))
    return ref if kept else None


async def change_barcodes(app: StripewrightApp, ref: ShadeRef) -> None:
    """See and put right the barcodes of a shade."""
    shade = app.view.studio.library.shade[ref]
    name = f"{app.view.yarn_name(ref.yarn)} {shade.name}"

    def change(values: Values) -> Callable[[Studio], Studio]:
        return lambda studio: edits.set_barcodes(studio, ref, _codes(values))

    values = await fill_in(
        app,
        f"barcodes {ref}",
        f"Barcodes of {name}",
        [
            Field("codes", "barcodes", " ".join(shade.barcodes), _digits,
                  "scan the ball band; several are parted by blanks"),
        ],
        refused=refused(app, change),
    )  # fmt: skip
    if values is not None:
        app.edit(f"barcodes of {shade.name}", change(values))


def _digits(entry: str) -> tuple[str, ...]:
    return tuple(entry.split())


def _codes(values: Values) -> tuple[str, ...]:
    found = values["codes"]
    return found if isinstance(found, tuple) else ()


async def parcel_typed(
    app: StripewrightApp, purchase: Purchase, delivery: Delivery
) -> Delivery | None:
    """Shipping, tax, and what becomes of what did not come; None where the form was left."""
    currency, today = app.view.settings.currency, clock.today()
    values = await fill_in(
        app,
        f"parcel {purchase.key}",
        "The parcel",
        [
            Field("on", "came on", date_entry(delivery.on), entries.day("It came", today)),
            Field("shipping", f"shipping {currency}", figure(delivery.shipping),
                  entries.number("Shipping"), "what this parcel cost to send"),
            Field("share", "shipping shared by", delivery.share_by.value, options=SHARES),
            Field("tax", f"tax {currency}", figure(delivery.tax),
                  entries.number("Tax"), "on the bill, and not reclaimed"),
            Field("rest", "what is missing", "yes" if delivery.rest_comes else "no",
                  options=RESTS),
            Field("arrives", "the rest arrives", date_entry(delivery.rest_arrives),
                  entries.optional(entries.day("The rest arrives", today)),
                  "such as 12 Mar; empty: as the order says"),
            Field("kept", "kept in", delivery.kept, hint="such as box 2; may be empty"),
        ],
        note=f"From {parcel.supplier_of(app.view.studio, purchase)}. Shipping and tax go onto the "
        "balls that came, to the last cent. Before any bag is typed, the rest is the whole order.",
    )  # fmt: skip
    if values is None:
        return None
    came, arrives = values["on"], values["arrives"]
    return replace(
        delivery,
        on=came if isinstance(came, date) else today,
        shipping=Decimal(str(values["shipping"])),
        tax=Decimal(str(values["tax"])),
        share_by=ShareBy(str(values["share"])),
        rest_comes=values["rest"] == "yes",
        rest_arrives=arrives if isinstance(arrives, date) else None,
        kept=str(values["kept"]),
    )
