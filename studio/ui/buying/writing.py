"""Writing order papers: of the orders that are planned, or of those just placed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio import clock
from studio.core import say
from studio.core.buying.papers import as_text, order_paper
from studio.core.buying.plan import SupplierOrder
from studio.ui.buying.places import papers_folder, place_check
from studio.ui.dialogs.desk import choose, fill_in
from studio.ui.dialogs.form import Field
from studio.ui.dialogs.message import Words

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

Orders = tuple[SupplierOrder, ...]

PAPER_KINDS = (
    ("txt csv html", "text, table and page"),
    ("txt", "text to mail"),
    ("csv", "table (CSV)"),
    ("html", "page to print"),
)


async def write_papers(app: StripewrightApp, planned: Orders, placed: Orders) -> None:
    """Ask which where there are both, how and where; write, and show what was written."""
    from studio.storage.order_papers import PaperKind, write_order_papers

    orders = await _which(app, planned, placed)
    if not orders:
        return
    values = await fill_in(
        app,
        "order papers",
        "Order papers",
        [
            Field("kinds", "written as", options=PAPER_KINDS, value="txt csv html"),
            Field("folder", "in folder", str(papers_folder(app)), place_check),
        ],
        note=f"{say.count(len(orders), 'supplier')}: {_names(orders)}. "
        "Each asks for one dye lot for a shade.",
        verb="write",
    )
    if values is None:
        return
    studio, day = app.view.studio, clock.today()
    papers = [order_paper(o, studio.library, studio.settings, day) for o in orders]
    kinds = [PaperKind(word) for word in str(values["kinds"]).split()]
    written = write_order_papers(place_check(str(values["folder"])), papers, kinds)
    files = "\n".join(str(path) for path in written)
    text = "\n\n".join(as_text(paper) for paper in papers)
    app.push_screen(Words("Order papers written", f"{files}\n\n{text}"))


async def _which(app: StripewrightApp, planned: Orders, placed: Orders) -> Orders:
    """The orders that papers are wanted of; the planned ones are not placed yet."""
    if not planned and not placed:
        app.say("There is no order to write.")
    if not planned or not placed:
        return planned or placed
    rows = (
        ("placed", "the orders just placed", _names(placed)),
        ("planned", "the orders that are planned", _names(planned)),
    )
    found = await choose(app, "Order papers: of which orders?", rows)
    return placed if found == "placed" else planned if found == "planned" else ()


def _names(orders: Orders) -> str:
    return say.either([o.name for o in orders], "and")
