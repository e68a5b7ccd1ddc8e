"""What is asked and what is answered, variants side by side; the first sheet of an enquiry."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from textual.widget import Widget

from studio.core import say
from studio.core.enquiry_say import Fact, facts
from studio.core.headline import customer_name
from studio.core.model import Project, Studio
from studio.core.picture import picture_of
from studio.core.trial import Variant
from studio.ui.beside import SheetPane
from studio.ui.cloth import Cloth
from studio.ui.drawn_list import Cell, Column, Row, Tone
from studio.ui.enquiry.trying import Told
from studio.ui.swatch import Patch

ASK, FACT = "ask", "fact"
LABEL = 20
ROOM = 16
"""Cells that a column is sure to have with two variants at 120 columns."""
WORKING = "working ..."
ROUGH_TIME = "~ rough: no minutes noted yet for this yarn, stitch and hook"


@dataclass(frozen=True)
class Shown:
    """All that the sheets of an enquiry are filled from."""

    studio: Studio
    variants: tuple[Variant, ...]
    told: tuple[Told | None, ...]
    at: int

    @property
    def here(self) -> Told | None:
        """What came of the variant at hand."""
        return self.told[self.at]


class AskedSheet(SheetPane):
    """A line for each thing asked, then for each answer; a column for each variant."""

    words = "Asked and answered"

    def __init__(self) -> None:
        super().__init__("asked")

    def body(self) -> Iterable[Widget]:
        """The list, and under it the piece to scale where there is room."""
        yield self._list()
        yield Cloth(id="tried-cloth")

    def put(self, shown: Shown) -> None:
        """Fill the list, and draw the variant at hand."""
        many = len(shown.variants) > 1
        self.list.set_columns(
            Column("", width=LABEL),
            *(
                Column(_title(at, shown.at) if many else "", share=1, least=10)
                for at in range(len(shown.variants))
            ),
        )
        rows = [
            Row("asked", ("what is asked",), Tone.HEADING),
            *_asked(shown),
            Row("answered", ("what it means, with nothing changed yet",), Tone.HEADING),
            *_answered(shown),
        ]
        # Its name stands first, but whom it is for is what is asked first.
        self.list.set_rows(rows, (ASK, "customer") if self.list.key is None else None)
        trial = shown.variants[shown.at].trial
        told = shown.here
        plan = told.answer.plan if told and told.answer else None
        self.query_one(Cloth).show(picture_of(trial, plan, shown.studio.library))
        rough = plan is not None and any(
            told.answer.price is not None and told.answer.price.hours.rough
            for told in shown.told
            if told and told.answer
        )
        self.explain((ROUGH_TIME,) if rough else ())
        count = say.count(len(shown.variants), "variant") if many else ""
        self.head.show(self.words, count)


def _title(at: int, hand: int) -> str:
    return f"{'› ' if at == hand else ''}variant {at + 1}"


def _row(shown: Shown, key: tuple[str, str], label: str, cells: Sequence[Cell]) -> Row:
    """A line whose cells are quiet but for the variant at hand."""
    made = [
        cell if at == shown.at or cell.tone else Cell(cell.text, Tone.QUIET, cell.patch)
        for at, cell in enumerate(cells)
    ]
    many = len(cells) > 1 and any(cell.cells > ROOM for cell in cells)
    detail = tuple(f"{at + 1}: {cell.text}" for at, cell in enumerate(cells)) if many else ()
    return Row(key, (Cell(label, Tone.QUIET), *made), detail=detail)


def _asked(shown: Shown) -> Iterable[Row]:
    studio = shown.studio
    unit, currency = studio.settings.length_unit, studio.settings.currency
    trials = [v.trial for v in shown.variants]

    def row(key: str, label: str, texts: Iterable[str]) -> Row:
        return _row(shown, (ASK, key), label, [Cell(text) for text in texts])

    yield row("name", "name", (t.name for t in trials))
    yield row("customer", "for", (customer_name(t, studio) or "nobody yet" for t in trials))
    yield row("design", "design", (_design(t, studio) for t in trials))
    yield row("size", "size", (say.size(t.width.cm, t.length.cm, unit) for t in trials))
    for letter in sorted({slot.letter for t in trials for slot in t.slots}):
        cells = []
        for trial in trials:
            slot = trial.slot(letter)
            shade = studio.library.shade.get(slot.shade_ref) if slot else None
            name = shade.name if shade else (slot.shade if slot else "")
            patch = Patch(shade.colours if shade else (), letter) if slot else None
            cells.append(Cell(name, patch=patch))
        yield _row(shown, (ASK, f"slot {letter}"), f"shade {letter}", cells)
    yield row("due", "wanted for", (say.date(t.due) if t.due else "no day asked" for t in trials))
    yield row("wanted", "priced by", (wanted_words(v, studio, currency) for v in shown.variants))


def _design(piece: Project, studio: Studio) -> str:
    """'21 stripes, moss stitch': what another design would change."""
    stitch = studio.library.stitch.get(piece.stitch)
    return f"{say.count(len(piece.stripes), 'stripe')}, {stitch.name if stitch else piece.stitch}"


def wanted_words(variant: Variant, studio: Studio, currency: str) -> str:
    """What the price is made from."""
    if variant.shown is not None:
        return f"at {say.money(variant.shown, currency)}"
    aim = variant.aim
    if aim is None and variant.trial.price is not None:
        return f"by hand, {say.money(variant.trial.price, currency)}"
    if aim is not None and aim.per_hour is not None:
        return f"{say.money(aim.per_hour, currency)} an hour"
    margin = aim.margin if aim and aim.margin is not None else studio.trade.prices.margin
    return f"{say.percent(margin)} margin"


def _answered(shown: Shown) -> Iterable[Row]:
    found: list[dict[str, Fact]] = []
    for told in shown.told:
        made = facts(told.answer, shown.studio) if told and told.answer else ()
        found.append({fact.code: fact for fact in made})
    labels = {code: fact.label for each in found for code, fact in each.items()}
    if not labels:
        troubles = {t.trouble for t in shown.told if t and t.trouble}
        words = next(iter(troubles), WORKING)
        tone = Tone.NEEDS_YOU if troubles else Tone.QUIET
        trouble = (Cell("in the way" if troubles else "", Tone.QUIET), Cell(words, tone))
        yield Row((FACT, "trouble"), trouble, detail=(Cell(words, tone),) if troubles else ())
        return
    for code in _in_order(found):
        cells = []
        for each in found:
            fact = each.get(code)
            text = fact.text if fact else ("" if each else WORKING)
            cells.append(Cell(text, Tone.NEEDS_YOU if fact and fact.needs_you else None))
        yield _row(shown, (FACT, code), labels[code], cells)


def _in_order(found: Sequence[dict[str, Fact]]) -> list[str]:
    """Codes in the order of the fullest answer."""
    return list(sorted(found, key=len)[-1])
