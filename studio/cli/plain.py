"""What `check` and `show` print for people: the same answers in words and columns."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table
from rich.text import Text

from studio.asked import Snapshot
from studio.core import headline, say
from studio.core.answers import Finding, ProjectPlan, RunKind, RunPlan, Shortfall
from studio.core.clean import no_turns
from studio.core.model import Project, ShadeRef, Studio


class _Plain(Console):
    """Prints names as they are read: hidden changes of direction would turn the lines of a table.

    Texts of a JSON document do not come this way, and stay as they were typed.
    """

    def render_str(self, text: str, **more: Any) -> Text:
        """As rich does it, without them."""
        return super().render_str(no_turns(text), **more)


def new_console() -> Console:
    """What everything is printed on."""
    return _Plain(highlight=False, soft_wrap=False)


def _shade(studio: Studio, ref: ShadeRef) -> str:
    shade, yarn = studio.library.shade.get(ref), studio.library.yarn.get(ref.yarn)
    return f"{shade.name if shade else ref.shade}, {yarn.name if yarn else ref.yarn}"


def new_table(*columns: str, right: frozenset[int] = frozenset()) -> Table:
    """A table without lines."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for index, title in enumerate(columns):
        table.add_column(title, justify="right" if index in right else "left", overflow="fold")
    return table


def _answers(project: Project, plan: ProjectPlan, studio: Studio) -> list[str]:
    settings = studio.settings

    def name(ref: ShadeRef) -> str:
        shade = studio.library.shade.get(ref)
        return shade.name if shade else ref.shade

    return [
        headline.size_words(plan.size, settings.length_unit)[1],
        headline.yarn_words(plan, name).words[0],
        headline.cost_words(plan.cost, settings.currency)[0],
        headline.due_words(project.due)[0],
    ]


def _findings(console: Console, found: tuple[Finding, ...]) -> None:
    for finding in found:
        mark = "accepted" if finding.accepted else finding.weight.value
        console.print(f"  [bold]{mark}:[/] {escape(finding.text)}")


def print_check(snapshot: Snapshot) -> None:
    """Every project in a line, its findings, and what must be bought."""
    console, studio, plan = new_console(), snapshot.studio, snapshot.plan
    console.print(f"[bold]{escape(studio.settings.name)}[/]")
    for project in studio.projects:
        piece = plan.projects[project.key]
        console.print(f"\n[bold]{escape(project.name)}[/] ({project.stage.value})")
        console.print("  " + escape("; ".join(_answers(project, piece, studio))))
        _findings(console, piece.findings)
    if plan.shortfalls:
        console.print("\n[bold]Yarn to buy[/]")
        table = new_table("shade", "promised", "with quotes", "with ideas", "on order", "by")
        for short in plan.shortfalls:
            table.add_row(*_shortfall(studio, short))
        console.print(table)
    _problems(console, snapshot)
    proved = sum(1 for a in plan.shades.values() if a.proved)
    console.print(f"\nproved best for {proved} of {say.count(len(plan.shades), 'shade')}")


def _shortfall(studio: Studio, short: Shortfall) -> list[str]:
    order = say.grams(short.order_g + short.late_g) if short.order_g + short.late_g else ""
    late = " (late)" if short.late_g else ""
    return [
        escape(_shade(studio, short.shade)),
        say.balls(short.held_balls) if short.held_g else "",
        say.balls(short.quoted_balls) if short.quoted_g else "",
        say.balls(short.all_balls) if short.all_g else "",
        order + late,
        say.date(short.needed_by) if short.needed_by else "",
    ]


def _problems(console: Console, snapshot: Snapshot) -> None:
    if not snapshot.problems:
        return
    console.print("\n[bold]Files that need you[/]")
    for problem in snapshot.problems:
        console.print("  " + escape(str(problem)))


def _lot(run: RunPlan) -> str:
    lot = f"lot {run.lot}" if run.cover.value == "stash" else (run.lot or "")
    return lot if run.cover.value == "stash" else f"{run.cover.value} {lot}".strip()


def print_project(project: Project, plan: ProjectPlan, snapshot: Snapshot) -> None:
    """One piece: the four answers, its runs, its shades with their cost, its findings."""
    console, studio = new_console(), snapshot.studio
    currency = studio.settings.currency
    console.print(f"[bold]{escape(project.name)}[/] ({project.stage.value})")
    for line in _answers(project, plan, studio):
        console.print("  " + escape(line))
    if plan.size:
        console.print(
            f"  chain {plan.size.chain}, {say.count(plan.size.stitches, 'stitch')}, "
            f"{say.count(plan.size.rows, 'row')}, {say.count(plan.ends, 'end')} to weave in"
        )
    runs = new_table("run", "slot", "shade", "rows", "needs", "from", right=frozenset({3, 4}))
    ranges = {lie.index: say.rows(lie.first, lie.last) for lie in plan.stripe_rows}
    for run in plan.runs:
        stripe = run.ref.kind is RunKind.STRIPE
        where = f"{run.ref.index + 1}, {ranges[run.ref.index]}" if stripe else run.ref.kind.value
        runs.add_row(
            where,
            run.slot,
            escape(_shade(studio, run.shade)),
            str(run.rows or ""),
            say.grams(run.need_g),
            escape(_lot(run)),
        )
    console.print()
    console.print(runs)
    console.print()
    sheet = new_table(
        "shade", "needs", "from stash", "buy", f"used {currency}", f"cash {currency}",
        right=frozenset({1, 2, 3, 4, 5}),
    )  # fmt: skip
    for shade in plan.shades:
        sheet.add_row(
            escape(_shade(studio, shade.shade)),
            say.grams(shade.need_g),
            say.grams(shade.stash_g),
            say.balls(shade.buy_balls) if shade.buy_balls else "",
            *(
                "no price" if c is None else headline.money_figure(c, currency)
                for c in (shade.used_cost, shade.cash_cost)
            ),
        )
    console.print(sheet)
    if plan.findings:
        console.print()
        _findings(console, plan.findings)
