"""What can be asked for by name, and the steps that follow."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from typing import TYPE_CHECKING, Final

from studio.ui.asking import MENDED_BY_ASKING
from studio.ui.dialogs import account, house, making, piece, stash, stripe, swatch, used, yarn
from studio.ui.dialogs.new_piece import new_piece
from studio.ui.first_run import first_run
from studio.ui.palette import palette
from studio.ui.why import why

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Flow = Callable[["StripewrightApp", object], Awaitable[object]]


async def mend(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Do the first mend of the finding at hand."""
    finding = app.finding_at_hand() if app.desk is app.bench else None
    if finding is None:
        app.say("Nothing to mend here: stand on a finding with a ! line under it.")
    elif finding.code in MENDED_BY_ASKING and finding.project is not None:
        await swatch.swatch_for(app, finding.project)
    elif finding.mend is None:
        app.say("There is no ready mend for this; Enter goes to its place.")
    else:
        app.mend(finding)


async def enquiry(app: StripewrightApp, subject: object) -> None:
    """Try the piece at hand as an order."""
    from studio.ui.enquiry.screen import open_enquiry

    await open_enquiry(app, subject)


async def orders(app: StripewrightApp, subject: object) -> None:
    """Open the order book."""
    from studio.ui.orderbook.screen import open_order_book

    await open_order_book(app, subject)


async def buying(app: StripewrightApp, subject: object) -> None:
    """Buy what is short."""
    from studio.ui.buying.screen import open_buying

    await open_buying(app, subject)


async def suppliers(app: StripewrightApp, subject: object) -> None:
    """Open suppliers and what they offer."""
    from studio.ui.buying.suppliers import open_suppliers

    await open_suppliers(app, subject)


async def receiving(app: StripewrightApp, subject: object) -> None:
    """Receive what is on order."""
    from studio.ui.buying.receiving import open_receiving

    await open_receiving(app, subject)


async def to_stage(app: StripewrightApp, subject: object) -> None:
    """Bring a piece to a stage; `subject` is its key and the stage."""
    from studio.ui.enquiry.taking import to_stage as bring

    assert isinstance(subject, tuple)
    await bring(app, *subject)


async def promise(app: StripewrightApp, subject: object) -> None:
    """Ask before a promise of yarn is broken."""
    from studio.ui.enquiry.taking import before_breaking

    assert isinstance(subject, tuple)
    await before_breaking(app, *subject)


async def wording(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Make or open her own wording of the papers."""
    from studio.ui.orderbook.paper import own_wording

    await own_wording(app)


async def trade(app: StripewrightApp, subject: object) -> None:
    """Open prices, hours, parcels and customers."""
    from studio.ui.trade.screen import open_trade

    await open_trade(app, subject)


async def customers(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Open the customers."""
    from studio.ui.trade.screen import open_trade

    await open_trade(app, "customers")


async def customer(app: StripewrightApp, subject: object) -> None:
    """Choose whom the piece at hand is for."""
    from studio.ui.trade.customers import customer_of

    await customer_of(app, subject)


async def library(app: StripewrightApp, subject: object) -> None:
    """Open yarns, stitches and swatches."""
    from studio.ui.library.screen import open_library

    await open_library(app, subject)


async def table_in(app: StripewrightApp, subject: object) -> None:
    """Take in a table."""
    from studio.ui.tables.taking import table_in as take_in

    await take_in(app, subject)


async def table_out(app: StripewrightApp, subject: object) -> None:
    """Write out a table."""
    from studio.ui.tables.giving import table_out as write_out

    await write_out(app, subject)


FLOWS: Final[Mapping[str, Flow]] = {
    "details": piece.details,
    "stage": piece.stage,
    "copy_piece": piece.copy_piece,
    "rows_done": making.rows_done,
    "weigh_in": making.weigh_in,
    "log_time": making.log_time,
    "yarn_used": used.yarn_used,
    "closing": account.closing,
    "accept": piece.accept,
    "border": piece.border,
    "fringe": piece.fringe,
    "notion": piece.notion,
    "stripe": stripe.stripe,
    "split": stripe.split,
    "lot": stripe.lot,
    "slots": stripe.slots,
    "slot": stripe.slot,
    "add_lot": stash.add_lot,
    "correct_lot": stash.correct_lot,
    "use_balls": stash.use_balls,
    "weigh_part": stash.weigh_part,
    "new_yarn": yarn.new_yarn,
    "new_swatch": swatch.new_swatch,
    "library": library,
    "new_piece": new_piece,
    "settings": house.settings,
    "look": house.look,
    "changed_on_disk": house.changed_on_disk,
    "leave": house.leave,
    "reload": house.reload,
    "open_file": house.open_file,
    "first_run": first_run,
    "palette": palette,
    "why": why,
    "mend": mend,
    "enquiry": enquiry,
    "orders": orders,
    "to_stage": to_stage,
    "promise": promise,
    "wording": wording,
    "trade": trade,
    "customers": customers,
    "customer": customer,
    "buying": buying,
    "suppliers": suppliers,
    "receiving": receiving,
    "table_in": table_in,
    "table_out": table_out,
}
