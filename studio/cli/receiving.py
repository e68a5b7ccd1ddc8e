"""`receive`: the parcel on the table, told bag by bag, and put on the shelf where that is asked."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from studio import clock
from studio.cli.commands import (
    EXIT_FILE,
    EXIT_FINE,
    EXIT_SHORT,
    CommandError,
    amount_of,
    day_of,
    near,
    opened,
    print_json,
    undisturbed,
)
from studio.core.buying import parcel
from studio.core.buying.delivery import Bag, Delivery, Fate, ShareBy
from studio.core.buying.handing import Passing
from studio.core.buying.receiving import Received, receive
from studio.core.mends import take_prices
from studio.core.model import Purchase, ShadeRef, Studio
from studio.workshop import Workshop


def run(chosen: argparse.Namespace) -> int:
    """Tell what is on order or what a parcel means, or receive it; return the exit status."""
    with opened(chosen.folder) as workshop:
        if chosen.purchase is None:
            status = _on_order(chosen, workshop)
        else:
            status = _receive(chosen, workshop)
        return EXIT_FILE if workshop.snapshot.problems else status


def _on_order(chosen: argparse.Namespace, workshop: Workshop) -> int:
    if chosen.put or any(
        (chosen.bag, chosen.all, chosen.damaged, chosen.wrong, chosen.take_prices)
    ):
        raise CommandError("Of which purchase? Without bags, receive lists what is on order.")
    studio, plans = workshop.snapshot.studio, workshop.snapshot.plan.projects
    purchases, day = parcel.by_arrival(studio.stash), clock.today()
    if chosen.json:
        from studio.cli.buy_report import on_order

        print_json(on_order(purchases, plans, studio, day))
    else:
        from studio.cli.buy_plain import print_on_order

        print_on_order(purchases, plans, studio, day)
    late = any(parcel.overdue(p, day) for p in purchases)
    return EXIT_SHORT if late else EXIT_FINE


def find_purchase(words: str, studio: Studio) -> Purchase:
    """The open purchase of this file name, or the only one of this supplier."""
    found = studio.stash.purchase.get(words)
    if found is not None:
        return found
    wanted, purchases = words.casefold(), studio.stash.purchases
    ours = [
        p
        for p in purchases
        if wanted in (p.supplier.casefold(), parcel.supplier_of(studio, p).casefold())
    ]
    if len(ours) == 1:
        return ours[0]
    if ours:
        keys = ", ".join(p.key for p in ours)
        raise CommandError(f"{len(ours)} purchases are to come from {words}; name one: {keys}.")
    if not purchases:
        raise CommandError(f"There is no open purchase '{words}': nothing is on order.")
    hint = near([p.key for p in purchases], words) or " List them with: stripewright receive"
    raise CommandError(f"There is no open purchase '{words}'.{hint}")


# What is typed


class _Typing:
    """Reads the words of the bags; what is wrong is told with the option it was typed behind."""

    def __init__(self, studio: Studio, purchase: Purchase) -> None:
        self.studio = studio
        self.purchase = purchase

    def shade(self, words: str, option: str) -> ShadeRef:
        try:
            return parcel.shade_typed(self.studio.library, self.purchase, words)
        except ValueError as error:
            raise CommandError(f"{option}: {error}") from None

    def bag(self, words: tuple[str, str], balls: str, option: str, fate: Fate) -> Bag:
        ref = self.shade(words[0], option)
        try:
            code, lost = parcel.lot_typed(words[1])
        except ValueError as error:
            raise CommandError(f"{option}: {error}") from None
        try:
            count = int(balls)
        except ValueError:
            raise CommandError(
                f"{option} has '{balls}' where the number of balls stands; write it in digits."
            ) from None
        return Bag(ref.yarn, ref.shade, code, count, fate, lost)

    def bags(self, chosen: argparse.Namespace) -> Iterator[Bag]:
        for shade, lot, balls in chosen.bag or ():
            yield self.bag((shade, lot), balls, "--bag", Fate.GOOD)
        for shade, lot, balls in chosen.damaged or ():
            yield self.bag((shade, lot), balls, "--damaged", Fate.DAMAGED)
        for shade, balls in chosen.wrong or ():
            yield self.bag((shade, parcel.NO_CODE), balls, "--wrong", Fate.WRONG)

    def rest(self, chosen: argparse.Namespace, delivery: Delivery) -> Delivery:
        """The delivery with all that is still to come of the shades that came in full."""
        for shade, lot in chosen.all or ():
            ref = self.shade(shade, "--all")
            left = parcel.left_of(self.purchase, delivery, ref)
            bag = self.bag((shade, lot), str(left), "--all", Fate.GOOD)
            if not left:
                raise CommandError(f"--all: nothing more of {shade} is to come with this purchase.")
            delivery = replace(delivery, bags=(*delivery.bags, bag))
        return delivery

    def prices(self, chosen: argparse.Namespace) -> Iterator[tuple[ShadeRef, Decimal]]:
        for shade, amount in chosen.price or ():
            found = amount_of(amount, "--price")
            if found is not None:
                yield self.shade(shade, "--price"), found


def delivery_of(chosen: argparse.Namespace, studio: Studio, purchase: Purchase) -> Delivery:
    """The parcel as it is typed here, on top of what is typed for it already.

    What is typed nowhere is as the app proposes it.
    """
    typing, on = _Typing(studio, purchase), day_of(chosen.on, "--on")
    base = purchase.parcel or parcel.begun(studio, purchase, clock.today())
    shipping, tax = amount_of(chosen.shipping, "--shipping"), amount_of(chosen.tax, "--tax")
    delivery = replace(
        base,
        on=on or base.on,
        bags=(*base.bags, *typing.bags(chosen)),
        shipping=base.shipping if shipping is None else shipping,
        tax=base.tax if tax is None else tax,
        share_by=ShareBy(chosen.share) if chosen.share else base.share_by,
        prices=tuple((dict(base.prices) | dict(typing.prices(chosen))).items()),
        rest_comes=not chosen.no_rest and (base.rest_comes or chosen.rest_arrives is not None),
        rest_arrives=day_of(chosen.rest_arrives, "--rest-arrives") or base.rest_arrives,
        kept=chosen.kept or base.kept,
    )
    return typing.rest(chosen, delivery)


# What is done


def _receive(chosen: argparse.Namespace, workshop: Workshop) -> int:
    before, plans = workshop.snapshot.studio, workshop.snapshot.plan.projects
    purchase = find_purchase(chosen.purchase, before)
    delivery = delivery_of(chosen, before, purchase)
    needs, done = parcel.need_dg_of(plans), list[Received]()

    def change(studio: Studio) -> Studio:
        done.append(receive(studio, delivery, needs))
        now = done[-1]
        return take_prices(now.studio, now.dearer) if chosen.take_prices else now.studio

    # Made here in any case, so that what is planned anew is told; only saving puts it into files.
    workshop.do(f"parcel from {parcel.supplier_of(before, purchase)} received", change)
    workshop.settle_here()
    if chosen.put:
        with undisturbed():
            workshop.save()
    (found,) = done
    short = workshop.snapshot.plan.promised_short
    if chosen.json:
        from studio.cli.buy_report import received

        document = received(before, delivery, found)
        print_json(document | {"promised_short": short, "done": chosen.put})
    else:
        from studio.cli.buy_plain import print_received

        print_received(before, purchase, delivery, found, short=short, done=chosen.put)
    touched = any(t.passing is not Passing.HELD for t in found.touched)
    return EXIT_SHORT if touched else EXIT_FINE
