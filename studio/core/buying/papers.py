"""The order that goes to a supplier: as text, as CSV, and as a page to print.

It names yarns and shades, packs and prices, and asks for one dye lot per shade. It never names her
customers or their pieces.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from html import escape

from studio.core import clean, say
from studio.core.buying.plan import SupplierOrder
from studio.core.frozen import dataclass
from studio.core.model import Library, Settings
from studio.core.spreadsheet import CsvForm, write_table

ONE_LOT = "Please send all balls of a shade from one dye lot, or ask me before you send."

ALL_OF_ONE = "all of one lot"


@dataclass(frozen=True, slots=True)
class PaperLine:
    """One line of an order in words and figures."""

    yarn: str
    shade: str
    code: str
    packs: int
    pack: int
    ball_price: Decimal
    cost: Decimal
    one_lot: bool

    @property
    def balls(self) -> int:
        """Balls on the line."""
        return self.packs * self.pack

    @property
    def amount(self) -> str:
        """'12 balls', or '2 packs of 10'."""
        if self.pack == 1:
            return say.balls(self.packs)
        return f"{say.count(self.packs, 'pack')} of {self.pack}"


@dataclass(frozen=True, slots=True)
class OrderPaper:
    """An order to one supplier; sums tie, and shipping is what their terms say."""

    studio: str
    supplier: str
    on: date
    currency: str
    lines: tuple[PaperLine, ...]
    goods: Decimal
    shipping: Decimal

    @property
    def total(self) -> Decimal:
        """Goods and shipping."""
        return self.goods + self.shipping

    @property
    def request(self) -> str:
        """The request for one dye lot, where any line has dye lots."""
        return ONE_LOT if any(n.one_lot for n in self.lines) else ""

    def money(self, amount: Decimal) -> str:
        """An amount in the order's currency."""
        return say.money(amount, self.currency)


def order_paper(order: SupplierOrder, library: Library, settings: Settings, on: date) -> OrderPaper:
    """The paper of one order of a plan."""
    lines = []
    for line in order.lines:
        yarn = library.yarn[line.shade.yarn]
        shade = library.shade[line.shade]
        lines.append(
            PaperLine(
                clean.line(yarn.name),
                clean.line(shade.name),
                clean.line(shade.code),
                line.packs,
                line.pack,
                line.ball_price,
                line.cost,
                not yarn.no_dye_lot,
            )
        )
    return OrderPaper(
        clean.line(settings.name),
        clean.line(order.name),
        on,
        settings.currency,
        tuple(lines),
        order.goods,
        order.shipping,
    )


def _each_price(paper: OrderPaper, line: PaperLine) -> str:
    """The price of a ball; that of a pack where a ball's would not be a round amount."""
    price = line.ball_price
    if price == Decimal(say.money(price, paper.currency).split()[0]):
        return f"at {paper.money(price)}"
    return f"at {paper.money(price * line.pack)} a pack"


def as_text(paper: OrderPaper) -> str:
    """The order as plain text, to be mailed."""
    rows = [
        (f"{n.yarn}, {n.shade} ({n.code})", n.amount, _each_price(paper, n), paper.money(n.cost))
        for n in paper.lines
    ]
    wide = [max((len(row[at]) for row in rows), default=0) for at in range(4)]
    listed = [
        f"{a:<{wide[0]}}  {b:>{wide[1]}}  {c:>{wide[2]}}  {d:>{wide[3]}}" for a, b, c, d in rows
    ]
    parts = [
        f"Order from {paper.studio} to {paper.supplier}, {say.date(paper.on)}",
        "",
        *listed,
        "",
        f"Goods {paper.money(paper.goods)}",
        f"Shipping {paper.money(paper.shipping)}",
        f"Total {paper.money(paper.total)}",
    ]
    if paper.request:
        parts += ["", paper.request]
    return "\n".join(parts) + "\n"


CSV_COLUMNS = (
    "Yarn", "Shade", "Code", "Packs", "Balls in a pack", "Balls", "Price of a ball", "Sum",
    "Dye lot",
)  # fmt: skip


def as_csv(paper: OrderPaper, form: CsvForm) -> str:
    """The order's lines as a table, which asks for one dye lot line by line."""
    rows = [
        (
            n.yarn, n.shade, n.code, str(n.packs), str(n.pack), str(n.balls),
            form.figure(n.ball_price), form.figure(n.cost), ALL_OF_ONE if n.one_lot else "",
        )
        for n in paper.lines
    ]  # fmt: skip
    return write_table(CSV_COLUMNS, rows, form)


_STYLE = (
    "body{font:12pt/1.4 serif;margin:2cm}table{border-collapse:collapse;width:100%}"
    "th,td{text-align:left;padding:.2em .6em;border-bottom:1px solid #999}"
    ".figure{text-align:right}@media print{body{margin:0}}"
)


def as_html(paper: OrderPaper) -> str:
    """The order as one page that prints; everything typed by anybody is escaped."""
    title = f"Order to {paper.supplier}"
    heads = ("Yarn", "Shade", "Amount", "Price", "Sum")
    rows = "".join(
        f"<tr><td>{escape(n.yarn)}</td><td>{escape(n.shade)} ({escape(n.code)})</td>"
        f'<td class="figure">{escape(n.amount)}</td>'
        f'<td class="figure">{escape(_each_price(paper, n))}</td>'
        f'<td class="figure">{escape(paper.money(n.cost))}</td></tr>'
        for n in paper.lines
    )
    sums = "".join(
        f'<tr><td colspan="4">{word}</td><td class="figure">{escape(paper.money(amount))}</td></tr>'
        for word, amount in (
            ("Goods", paper.goods),
            ("Shipping", paper.shipping),
            ("Total", paper.total),
        )
    )
    request = f"<p>{escape(paper.request)}</p>" if paper.request else ""
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(title)}</title>'
        f"<style>{_STYLE}</style><h1>{escape(title)}</h1>"
        f"<p>From {escape(paper.studio)}, {say.date(paper.on)}</p>"
        f"<table><tr>{''.join(f'<th>{h}</th>' for h in heads)}</tr>{rows}{sums}</table>{request}"
        "</html>\n"
    )
