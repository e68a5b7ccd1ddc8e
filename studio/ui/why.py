"""'Why?': the sum behind the figure at hand, or the reasons for a run's lot."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from decimal import Decimal
from typing import TYPE_CHECKING

from textual.content import Content

from studio.core.answers import RunPlan
from studio.core.model import LotRef, ShadeRef
from studio.core.reasons import Step
from studio.errors import StudioError
from studio.ui.beside import Beside
from studio.ui.columns import wrap
from studio.ui.dialogs.message import Words

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

WIDTH = 70


def sum_text(steps: Sequence[Step], width: int = WIDTH, *, total: bool = True) -> Content:
    """Steps as lines: words on the left, figures at the right edge, the last bold as the total."""
    most = max((len(step.figure) for step in steps), default=0)
    room = max(20, width - most - 2)
    lines: list[Content] = []
    for number, step in enumerate(steps):
        tone = "bold" if total and number == len(steps) - 1 else ""
        words = wrap(step.text, room)
        for at, text in enumerate(words):
            figure = step.figure.rjust(most + 2) if at == len(words) - 1 else ""
            lines.append(Content.styled(text.ljust(room) + figure if figure else text, tone))
    return Content("\n").join(lines)


async def why(app: StripewrightApp, subject: object) -> None:  # noqa: ARG001
    """Open the sum of what is at hand: a stripe, a shade's cost, a lot, or the size."""
    if isinstance(app.desk, Beside):
        await app.desk.why()
        return
    project, at = app.view.project, app.bench.at
    if project is None:
        app.say("Nothing to explain here yet.")
        return
    width = min(WIDTH, app.size.width - 8)
    if at == "stripes" and app.bench.stripes.run is not None:
        await _why_run(app, project.key, app.bench.stripes.run, width)
    elif at == "cost" and isinstance(app.bench.pane.list.key, ShadeRef):
        shade = app.bench.pane.list.key
        steps = app.workshop.why_cost(project.key, shade)
        title = f"What {app.view.shade_name(shade)} costs in {project.name}"
        app.push_screen(Words(title, sum_text(steps, width)))
    elif at == "cost":
        _why_total(app, width)
    elif at == "stash" and isinstance(app.bench.pane.list.key, LotRef):
        _why_lot_state(app, app.bench.pane.list.key)
    else:
        steps = app.workshop.why_size(project.key)
        app.push_screen(Words(f"The size of {project.name}", sum_text(steps, width)))


async def _why_run(app: StripewrightApp, key: str, run: RunPlan, width: int) -> None:
    """The need at once; the lot and each passed-over lot when they are worked out."""
    need = Content("\n").join(
        [Content.styled("What it needs", "bold $focus"),
         sum_text(app.workshop.why_need(key, run.ref), width)]
    )  # fmt: skip
    place = f"stripe {run.ref.index + 1}" if run.ref.kind.value == "stripe" else run.ref.kind.value
    sheet = Words(f"Why: {place}, {app.view.shade_name(run.shade)}", need)
    lots = Content.styled("Its lot", "bold $focus")
    working = Content("working it out ...")
    sheet.show(Content("\n").join([need, Content(""), lots, working]))
    app.push_screen(sheet)
    try:
        steps = await asyncio.to_thread(app.workshop.why_lot, key, run.ref)
    except StudioError as trouble:
        steps = (Step(trouble.text),)
    sheet.show(Content("\n").join([need, Content(""), lots, sum_text(steps, width, total=False)]))


def _why_total(app: StripewrightApp, width: int) -> None:
    """The lines that the material comes to, used and cash."""
    from studio.core import say

    project, plan = app.view.project, app.view.plan
    if project is None or plan is None:
        return
    currency = app.view.settings.currency

    def money(amount: Decimal | None) -> str:
        return "not known" if amount is None else say.money(amount, currency)

    notions = [Step(n.name, money(n.cost)) for n in project.notions]
    used = [Step(app.view.shade_name(s.shade), money(s.used_cost)) for s in plan.shades]
    cash = [Step(app.view.shade_name(s.shade), money(s.cash_cost)) for s in plan.shades]
    parts = [
        Content.styled("Used: yarn worked, at its price", "bold $focus"),
        sum_text([*used, *notions, Step("Together", money(plan.cost.used))], width),
        Content(""),
        Content.styled("Cash: what is still to be paid", "bold $focus"),
        sum_text([*cash, *notions, Step("Together", money(plan.cost.cash))], width),
        *(Content(line) for text in plan.cost.assumed for line in wrap(text, width)),
    ]
    app.push_screen(Words(f"Material of {project.name}", Content("\n").join(parts)))


def _why_lot_state(app: StripewrightApp, ref: LotRef) -> None:
    """Who takes how much from a lot."""
    from studio.core import say

    state = app.view.snapshot.plan.lots.get(ref)
    if state is None:
        return
    names = app.view.studio.project
    steps = [
        Step("In the lot, with what each full ball should weigh", say.grams(state.total_g)),
        Step("Of that usable: part balls under a row are not", say.grams(state.usable_g)),
    ]
    for key, grams in state.taken:
        project, _, place = key.partition("/")
        name = names[project].name if project in names else project
        steps.append(Step(f"{name}, {_place_words(place)}", f"-{say.grams(grams)}"))
    steps.append(Step("Left by the whole plan", say.grams(state.left_g)))
    app.push_screen(
        Words(f"Lot {ref.code} of {app.view.shade_name(ShadeRef(ref.yarn, ref.shade))}",
              sum_text(steps, min(WIDTH, app.size.width - 8)))
    )  # fmt: skip


def _place_words(place: str) -> str:
    kind, _, index = place.partition("/")
    number = index.partition(".")[0]
    return f"stripe {int(number) + 1}" if kind == "stripe" and number.isdigit() else kind
