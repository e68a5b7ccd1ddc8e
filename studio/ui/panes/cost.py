"""The cost sheet: what each shade of the piece needs, where it comes from, what it costs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from typing import ClassVar

from textual.binding import BindingType

from studio.core import edits, say
from studio.core.answers import Cost, ShadePlan
from studio.core.headline import money_figure
from studio.core.model import Notion, Project, ShadeRef
from studio.ui import keys
from studio.ui.asking import Edit
from studio.ui.drawn_list import Align, Cell, Column, Row, Tone
from studio.ui.panes.marks import ASSUMED, ASSUMED_WORDS, ROUGH, ROUGH_WORDS, is_rough
from studio.ui.panes.pane import Pane
from studio.ui.view import View


class CostPane(Pane):
    """Grams and balls for each shade, notions, and the totals in money."""

    words = "Cost"
    empty = "No piece at hand."
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("cost")

    def __init__(self) -> None:
        super().__init__("cost")
        self._of: str | None = None

    def columns(self) -> Iterable[Column]:
        """Shade, need, from stash, on order, buy in grams and balls, used, cash."""
        return (
            Column("material", share=1, least=12),
            Column("need", width=7, unit="g", align=Align.RIGHT, drop=1),
            Column("stash", width=7, unit="g", align=Align.RIGHT, drop=3),
            Column("order", width=7, unit="g", align=Align.RIGHT, drop=4),
            Column("buy", width=6, unit="g", align=Align.RIGHT, drop=2),
            Column("balls", width=5, align=Align.RIGHT),
            Column("used", width=7, align=Align.RIGHT),
            Column("cash", width=7, align=Align.RIGHT),
        )

    def fill(self, view: View) -> None:
        """A line for each shade and notion, then the totals."""
        project, plan = view.project, view.plan
        if project is None or plan is None:
            self.list.set_rows(())
            self.head.show(self.words, "")
            self.explain(())
            return
        currency = view.settings.currency
        rows = [_shade_row(view, shade, currency) for shade in plan.shades]
        rows += [_notion_row(at, n, currency) for at, n in enumerate(project.notions)]
        rows += _totals(plan.cost, currency)
        self.list.set_rows(rows, rows[0].key if project.key != self._of else None)
        self._of = project.key
        self.head.show(f"Material of {project.name}", currency)
        marks = [ROUGH_WORDS] if any(is_rough(s) for s in plan.shades) else []
        if any(s.price_assumed for s in plan.shades):
            marks.append(ASSUMED_WORDS)
        self.explain(marks)

    @property
    def shade(self) -> ShadeRef | None:
        """The shade at hand."""
        key = self.list.key
        return key if isinstance(key, ShadeRef) else None

    @property
    def notion(self) -> int | None:
        """The notion at hand."""
        key = self.list.key
        return key[1] if isinstance(key, tuple) and key[0] == "notion" else None

    def action_open(self) -> None:
        """Open the sum of the line at hand, or the notion."""
        if self.notion is not None:
            self.ask("notion", self.notion)
        else:
            self.ask("why")

    def action_shade(self) -> None:
        """Map the slot of this line to another shade."""
        letter = self.view.letters.get(self.shade) if self.shade else None
        if letter:
            self.ask("slot", letter)

    def action_add(self) -> None:
        """Add a notion."""
        self.ask("notion")

    def action_remove(self) -> None:
        """Remove the notion at hand."""
        project, at = self.view.project, self.notion
        if project is not None and at is not None:
            key = project.key
            self.post_message(Edit("notion removed", lambda s: edits.set_project(
                s, key, notions=_without(s.project[key], at))))  # fmt: skip


def _without(project: Project, at: int) -> tuple[Notion, ...]:
    return tuple(n for i, n in enumerate(project.notions) if i != at)


def _grams(value: Decimal, mark: str = "") -> str:
    return f"{mark}{say.grams(value).removesuffix(' g')}" if value else ""


def _amount(amount: Decimal | None, currency: str, mark: str = "") -> str:
    return "-" if amount is None else f"{money_figure(amount, currency)}{mark}"


def _shade_row(view: View, shade: ShadePlan, currency: str) -> Row:
    letter = shade.slots[0] if shade.slots else ""
    mark = ASSUMED if shade.price_assumed else ""
    late = shade.late_g > 0
    order = Cell(_grams(shade.late_g if late else shade.order_g), Tone.NEEDS_YOU if late else None)
    detail = [f"{view.yarn_name(shade.shade.yarn)}, slot {say.either(list(shade.slots), 'and')}."]
    if shade.rows_per_ball_expected:
        detail[0] += (
            f" A ball gives {shade.rows_per_ball_safe} rows safely, "
            f"{shade.rows_per_ball_expected} as expected."
        )
    if late:
        detail.append("What is on order comes too late.")
    # A yarn has one price for all its shades, so each of them says where it is too low.
    findings = view.plan.findings if view.plan else ()
    detail += [
        f.text
        for f in findings
        if f.code == "price-low"
        and not f.accepted
        and f.shade is not None
        and f.shade.yarn == shade.shade.yarn
    ]
    return Row(
        shade.shade,
        (
            Cell(view.shade_name(shade.shade), patch=view.patch(shade.shade, letter)),
            _grams(shade.need_g, ROUGH if is_rough(shade) else ""),
            _grams(shade.stash_g),
            order,
            Cell(_grams(shade.buy_g), Tone.NEEDS_YOU),
            Cell(str(shade.buy_balls) if shade.buy_balls else "", Tone.NEEDS_YOU),
            _amount(shade.used_cost, currency, mark),
            _amount(shade.cash_cost, currency, mark),
        ),
        detail=tuple(detail),
    )


def _notion_row(at: int, notion: Notion, currency: str) -> Row:
    cost = _amount(notion.cost, currency)
    cells = (notion.name, "", "", "", "", "", cost, cost)
    return Row(("notion", at), cells, Tone.QUIET)


def _totals(cost: Cost, currency: str) -> list[Row]:
    detail = cost.assumed
    rows = [
        Row(
            "total",
            ("all material", "", "", "", "", "", _amount(cost.used, currency),
             _amount(cost.cash, currency)),
            Tone.STRONG,
            detail=detail,
        )
    ]  # fmt: skip
    if cost.cash_alone is not None and cost.cash_alone != cost.cash_yarn:
        alone = replace(cost, cash_yarn=cost.cash_alone)
        rows.append(
            Row(
                "alone",
                ("if made alone", "", "", "", "", "", "", _amount(alone.cash, currency)),
                Tone.QUIET,
            )
        )
    return rows
