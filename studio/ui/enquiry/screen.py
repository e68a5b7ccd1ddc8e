"""The enquiry: variants of a piece tried against the studio as it stands, with nothing changed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.binding import BindingType

from studio import clock
from studio.core import say, trial
from studio.core.answers import ProjectPlan
from studio.core.booking import OPEN
from studio.core.enquiry import Answer
from studio.core.model import Project, Studio
from studio.core.trial import Variant
from studio.errors import StudioError
from studio.ui import keys
from studio.ui.beside import BESIDE_CSS, Beside
from studio.ui.enquiry.asked import ASK, FACT, AskedSheet, Shown
from studio.ui.enquiry.sheets import PriceSheetPane, WeeksSheet, YarnSheet
from studio.ui.enquiry.taking import taken_words
from studio.ui.enquiry.trying import Question, Told, Trying
from studio.ui.keymap import Keymap
from studio.ui.panes.pane import Pane
from studio.ui.view import View

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

MOST = 3
"""Variants that can stand side by side and still be read."""


@dataclass(frozen=True)
class TriedView(View):
    """The snapshot seen from a piece that is only tried."""

    trial: Project
    tried: ProjectPlan | None

    @cached_property
    def project(self) -> Project | None:
        """The trial."""
        return self.trial

    @cached_property
    def plan(self) -> ProjectPlan | None:
        """The trial as it would stand when booked."""
        return self.tried


class Enquiry(Beside):
    """Asked and answered, price, yarn and weeks of up to three variants."""

    group = "enquiry"
    BINDINGS: ClassVar[list[BindingType]] = keys.bindings("enquiry")
    CSS = (
        BESIDE_CSS
        + """
#tried-cloth { display: none; }
Enquiry.-wide .table { grid-size: 3 2; grid-columns: 8fr 7fr 7fr; grid-rows: 1fr 1fr; }
Enquiry.-wide #asked, Enquiry.-wide #price { row-span: 2; }
Enquiry.-wide #tried-cloth { display: block; height: 14; margin-top: 1; }
Enquiry.-middle .table { grid-size: 2 3; grid-columns: 1fr 1fr; grid-rows: 12fr 9fr 8fr; }
Enquiry.-middle #asked { row-span: 3; }
"""
    )

    def __init__(
        self,
        view: View,
        keymap: Keymap,
        variants: tuple[Variant, ...],
        made_of: tuple[Project, ...] = (),
        design: str = "",
    ) -> None:
        super().__init__(view, keymap)
        self.design = design
        """The piece whose design it began with, where it is to be a new piece."""
        self._fresh = variants[:1] if design else ()
        self._taken = False
        self.variants = list(variants)
        self.made_of = list(made_of)
        """The piece as it was when its variants were made, and as it was quoted from here."""
        self.told: list[Told | None] = [None for _ in variants]
        self.hand = 0
        self.trying = Trying(self._tell)
        self._asked_of: tuple[object, object] = (None, None)

    def sheets(self) -> tuple[Pane, ...]:
        """What is asked, the price, the yarn, the weeks."""
        return AskedSheet(), PriceSheetPane(), YarnSheet(), WeeksSheet()

    # What is shown

    @property
    def variant(self) -> Variant:
        """The variant at hand."""
        return self.variants[self.hand]

    @property
    def answer(self) -> Answer | None:
        """What it would mean, as far as it is known for the variant as it is now."""
        told = self.told[self.hand]
        if told is None or told.variant != self.variant or told.of is not self.view.studio:
            return None
        return told.answer

    def answered(self, view: View) -> View:
        """The answers on top speak of the variant at hand."""
        told = self.told[self.hand]
        plan = told.answer.plan if told and told.answer else None
        return TriedView(view.snapshot, view.key, self.variant.trial, plan)

    def fill(self, view: View) -> None:
        """Ask again where the studio or its plan is another one; show what is known."""
        now = (view.snapshot.studio, view.snapshot.plan)
        if any(a is not b for a, b in zip(now, self._asked_of, strict=True)):
            self._asked_of = now
            self.variants = [
                replace(v, trial=trial.refreshed(view.studio, v.trial)) for v in self.variants
            ]
            self._follow(view.studio)
            self.ask()
        self._put()

    def _follow(self, studio: Studio) -> None:
        """Begin anew where the piece was changed elsewhere: booking would take that change back."""
        piece = studio.project.get(self.variant.trial.key)
        if piece is None or piece.stage not in OPEN:
            return
        known = (*self.made_of, *(v.trial for v in self.variants))
        if all(trial.refreshed(studio, old) != piece for old in known):
            self.variants, self.told, self.hand = [Variant(piece)], [None], 0
            self._say(f"{piece.name} was changed since it was tried: it is tried as it is now.")
            self.made_of.clear()
        if piece not in self.made_of:
            self.made_of.append(piece)

    def _put(self) -> None:
        shown = Shown(self.view.studio, tuple(self.variants), tuple(self.told), self.hand)
        for pane in self.query(Pane):
            if isinstance(pane, AskedSheet | PriceSheetPane | YarnSheet | WeeksSheet):
                pane.put(shown)
        self.answers.show(self.answered(self.view))

    # Asking, in a thread

    def ask(self) -> None:
        """Ask about all variants as they are now; older questions are dropped."""
        app = self.studio_app
        question = Question(app.workshop, tuple(self.variants), self.hand, clock.today())
        if self.trying.ask_for(question):
            self._serve()

    @work(thread=True, group="enquiry")
    def _serve(self) -> None:
        self.trying.serve()

    def _tell(self, place: int, told: Told) -> None:
        self.app.call_from_thread(self._take, place, told)

    def _take(self, place: int, told: Told) -> None:
        current = tuple(self.variants)
        if place < len(current) and current[place] == told.variant and self.is_attached:
            self.told[place] = told
            self._put()

    def on_unmount(self) -> None:
        """Nothing more is asked; what was tried is there again, whichever way she left."""
        self.trying.drop()
        if not self._taken:
            self._keep()

    def _keep(self) -> None:
        """Keep the variants for the next time; of a new piece by the design they began with."""
        app, key = self.studio_app, self.variant.trial.key
        variants = tuple(self.variants)
        app.begun.pop(self.design, None)
        if key in app.view.studio.project:
            app.trials[key] = (variants, tuple(self.made_of))
        elif self.design and variants != self._fresh:
            app.begun[self.design] = variants

    # Variants

    def change(self, variant: Variant) -> None:
        """Take the variant at hand as this one, all under its name, and ask again."""
        self.variants[self.hand] = variant
        self.variants = list(trial.named_alike(self.variants, variant.trial))
        self._put()
        self.ask()

    def action_again(self) -> None:
        """One more variant beside, like the one at hand."""
        if len(self.variants) >= MOST:
            self._say(f"{MOST} variants stand side by side at most.")
            return
        self.variants.append(self.variant)
        self.told.append(self.told[self.hand])
        self.hand = len(self.variants) - 1
        self._put()

    def action_remove(self) -> None:
        """Drop the variant at hand."""
        if len(self.variants) == 1:
            self._say("One variant is left; Esc goes back.")
            return
        del self.variants[self.hand], self.told[self.hand]
        self.hand = min(self.hand, len(self.variants) - 1)
        self._put()

    def action_variant_after(self) -> None:
        """The variant to the right is at hand."""
        self._to(self.hand + 1)

    def action_variant_before(self) -> None:
        """The variant to the left is at hand."""
        self._to(self.hand - 1)

    def _to(self, place: int) -> None:
        place = min(max(place, 0), len(self.variants) - 1)
        if place != self.hand:
            self.hand = place
            self._put()

    # What is done with the line at hand

    def action_open(self) -> None:
        """Change what is asked, or open the sum of what is answered."""
        key = self.list.key
        if isinstance(key, tuple) and key[0] == ASK:
            self.edit_line(key[1])
        else:
            self.studio_app.ask("why")

    @work(group="dialog")
    async def edit_line(self, what: str) -> None:
        """Change one thing that is asked."""
        from studio.ui.enquiry.changing import CHANGES

        flow = CHANGES["slot" if what.startswith("slot ") else what]
        try:
            changed = await flow(self.studio_app, self.variant, what)
        except StudioError as error:
            self._say(error.text, needs_you=True)
            return
        if changed is not None and changed != self.variant:
            self.change(changed)

    async def why(self) -> None:
        """The sum of the line at hand."""
        from studio.ui.enquiry.reasons import why_line

        told = self.told[self.hand]
        key = self.list.key
        if isinstance(key, tuple) and key[0] == ASK:
            key = (FACT, {"size": "size", "wanted": "price", "due": "slack"}.get(key[1], "stash"))
        if told is None or told.answer is None or told.ground is None or key is None:
            self._say(told.trouble if told and told.trouble else "Still working it out.")
            return
        why_line(self.studio_app, told.answer, told.ground, key)

    def refuses(self, what: str) -> str:
        """The piece itself is not changed while it is tried."""
        if what in keys.OF_THE_BENCH or what == "slot":
            return "Nothing is changed while it is tried: Enter changes what is asked here."
        return ""

    # Taking it

    def action_quote(self) -> None:
        """Freeze the price of the variant at hand as the quote."""
        answer = self._ready()
        if answer is None:
            return
        name, on_day = answer.project.name, clock.today()
        app = self.studio_app
        if app.edit(
            f"{name} quoted", lambda s: trial.quoted(s, answer, on_day), answer.project.key
        ):
            quote = app.view.studio.project[answer.project.key].quote
            if quote is not None:
                price = say.money(quote.total, quote.currency)
                self._say(
                    f"Quoted: {price} until {say.date(quote.valid_until)}, ready by "
                    f"{say.date(trial.promised_for(answer))}."
                )

    def action_papers(self) -> None:
        """Write the quote as it was sent."""
        project = self.view.studio.project.get(self.variant.trial.key)
        if project is None or project.quote is None:
            self._say("Nothing is quoted yet: quote it first, so that its price is frozen.")
        else:
            self.write_quote(project)

    @work(group="dialog")
    async def write_quote(self, project: Project) -> None:
        """Ask how and where, and write it."""
        from studio.papers.model import PaperKind
        from studio.ui.orderbook.paper import write_paper

        try:
            await write_paper(self.studio_app, project, PaperKind.QUOTE)
        except StudioError as error:
            self._say(error.text, needs_you=True)

    def action_book(self) -> None:
        """Book the variant at hand: its lots are held, and its date stands."""
        answer = self._ready()
        if answer is None:
            return
        key, on_day = answer.project.key, clock.today()
        app = self.studio_app
        label = f"{answer.project.name} booked"
        if app.edit(label, lambda s: trial.taken(s, answer, on_day), key):
            self._taken = True
            app.trials.pop(key, None)
            app.begun.pop(self.design, None)
            app.pop_screen()
            app.stand_on_piece(key)
            app.run_worker(_to_book(app, key, taken_words(answer)), group="dialog")

    def _ready(self) -> Answer | None:
        """The answer to the variant and the studio as they are now, exact; else a word and None."""
        answer = self.answer
        told = self.told[self.hand]
        if answer is None:
            self._say(told.trouble if told and told.trouble else "Still working it out.")
        elif answer.pending:
            self._say("The lots are still being worked out; a moment.")
            return None
        return answer

    def _say(self, words: str, *, needs_you: bool = False) -> None:
        self.say_line.say(words, needs_you=needs_you)


async def _to_book(app: StripewrightApp, key: str, words: str) -> None:
    """Open the order book on the piece, and say there what was promised."""
    await app.begin("orders", key)
    app.say(words)


async def open_enquiry(app: StripewrightApp, subject: object) -> None:
    """Try the piece of this key, or the one at hand."""
    design = str(subject) if subject else app.view.key
    if design is None:
        app.say("An enquiry begins with a design: F2 shows all pieces, Ctrl+P finds one.")
        return
    piece = trial.trial_of(app.view.studio, design)
    variants: tuple[Variant, ...] = (Variant(piece),)
    if piece.key in app.view.studio.project:
        kept, made_of = app.trials.get(piece.key, ((), ()))
        await app.push_screen(Enquiry(app.view, app.keymap, kept or variants, made_of))
        return
    screen = Enquiry(app.view, app.keymap, variants, design=design)
    begun = app.begun.get(design, ())
    if begun and begun[0].trial.key not in app.view.studio.project:
        goes_on = await _goes_on(app, begun)
        if goes_on is None:
            return
        if goes_on:
            screen.variants, screen.told = list(begun), [None for _ in begun]
    await app.push_screen(screen)


async def _goes_on(app: StripewrightApp, begun: tuple[Variant, ...]) -> bool | None:
    """Ask whether an enquiry that was left goes on, or another begins; None for neither."""
    from studio.core.headline import customer_name
    from studio.ui.dialogs.desk import choose

    first, unit = begun[0].trial, app.view.settings.length_unit
    whom = customer_name(first, app.view.studio) or "nobody yet"
    asked = f"for {whom}, {say.size(first.width.cm, first.length.cm, unit)}"
    if len(begun) > 1:
        asked += f", {say.count(len(begun), 'variant')}"
    rows = (("on", "go on with it", asked), ("new", "begin another", "this one is dropped"))
    found = await choose(app, first.name, rows, verb="do it")
    return None if found is None else found == "on"
