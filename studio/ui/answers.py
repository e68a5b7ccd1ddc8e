"""The four answers about a piece as two lines of a given width."""

from __future__ import annotations

from collections.abc import Sequence

from textual.content import Content

from studio.core import headline, say
from studio.core.headline import State
from studio.core.model import Method, Project
from studio.ui.columns import cut
from studio.ui.view import View

NARROW = 98

TONES = {
    State.SHORT: "bold $needs-you",
    State.LATE: "bold $needs-you",
    State.ORDER: "bold",
    State.HERE: "",
    State.DONE: "$quiet",
    State.UNKNOWN: "$quiet",
    State.WORKING: "$quiet",
}


def answers_of(view: View, width: int) -> Content:
    """The answers in as full a wording as fits; where it is wide the piece's name above them."""
    project = view.project
    if project is None:
        return Content("")
    if view.plan is None:
        return Content(cut(f"{project.name}: working ...", width))
    unit, currency = view.settings.length_unit, view.settings.currency
    yarn = headline.yarn_words(view.plan, view.shade_name)
    size = headline.size_words(view.plan.size, unit)
    if project.method is Method.BY_HAND:
        asked = say.size(project.width.cm, project.length.cm, unit)
        size = (f"{asked} asked, not computed", "not computed")
    cost = headline.cost_words(view.plan.cost, currency)
    due = headline.due_words(project.due)
    yarn_says = tuple(f"yarn: {w}" for w in yarn.words)
    if width < NARROW:
        first = _spread([(size, "bold"), (due, "")], width)
        second = _spread([(yarn_says, TONES[yarn.state]), (cost, "")], width)
    else:
        first = _name(project, view, width)
        answers = [(size, "bold"), (yarn_says, TONES[yarn.state]), (cost, ""), (due, "")]
        second = _spread(answers, width)
    return Content("\n").join((first, second))


def _name(project: Project, view: View, width: int) -> Content:
    words = [f"  {project.stage.value}"]
    if project.customer:
        words.append(f"  for {headline.customer_name(project, view.studio)}")
    name = cut(project.name, min(len(project.name), width)).rstrip()
    rest = "".join(words)
    return Content.assemble((name, "bold $focus"), (cut(rest, max(0, width - len(name))), "$quiet"))


def _spread(answers: Sequence[tuple[headline.Variants, str]], width: int) -> Content:
    """The answers from edge to edge, each as fully as all of them have room for."""
    shown = _fitting([variants for variants, _ in answers], width)
    spare = width - _used(shown)
    if spare < 0:
        return Content.styled(cut("   ".join(shown), width), "bold")
    gap, over = divmod(spare, max(1, len(shown) - 1))
    parts: list[Content] = []
    for index, (text, (_, style)) in enumerate(zip(shown, answers, strict=True)):
        if index:
            parts.append(Content(" " * (3 + gap + (1 if index <= over else 0))))
        parts.append(Content.styled(text, style) if style else Content(text))
    return Content("").join(parts)


def _used(texts: Sequence[str]) -> int:
    """The cells that texts take with three blanks between them."""
    return sum(map(len, texts)) + 3 * (len(texts) - 1)


def _fitting(variants: Sequence[headline.Variants], width: int) -> list[str]:
    """One wording of each: the longest shortened in turn, then what has room said fully again."""
    at = [0] * len(variants)

    def texts() -> list[str]:
        return [each[i] for each, i in zip(variants, at, strict=True)]

    while _used(texts()) > width:
        can = [k for k in range(len(at)) if at[k] + 1 < len(variants[k])]
        if not can:
            break
        at[max(can, key=lambda k: len(variants[k][at[k]]))] += 1
    for k in range(len(at)):
        while at[k] and _used([*texts()[:k], variants[k][at[k] - 1], *texts()[k + 1 :]]) <= width:
            at[k] -= 1
    return texts()
