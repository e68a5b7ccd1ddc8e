"""The one registry of actions: bindings, footer, help, palette and the user's keymap come from it.

Same key, same meaning everywhere. In the stripe editor plain letters pick slots and digits are a
number of rows, so every action sits on a function key, ctrl and a letter, or a sign.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from textual.binding import Binding, BindingType
from textual.keys import format_key

from studio.core.frozen import dataclass

EVERYWHERE: Final = "everywhere"
GROUPS: Final = {
    EVERYWHERE: "Everywhere",
    "projects": "Projects",
    "stripes": "Stripes",
    "stash": "Stash",
    "cost": "Cost",
    "findings": "Findings",
    "enquiry": "Enquiry",
    "orders": "Order book",
    "trade": "Prices, hours and customers",
    "buying": "Buying",
    "suppliers": "Suppliers",
    "receiving": "Receiving",
    "library": "Yarns, stitches and swatches",
}


BESIDE: Final = frozenset(
    ("enquiry", "orders", "trade", "buying", "suppliers", "receiving", "library")
)
"""Groups of the screens beside the bench, each opened by the flow of its name."""

OF_THE_BENCH: Final = frozenset(
    (
        *("details", "slots", "rows_done", "border", "fringe", "notion", "mend"),
        *("weigh_in", "log_time"),
    )
)
"""Actions on the piece at hand that a screen beside the bench does not offer at its foot."""

ASKED: Final = frozenset(
    (
        *("details", "slots", "look", "palette", "why", "mend", "rows_done", "border", "fringe"),
        *("notion", "new_piece", "new_yarn", "settings", "wording", "open_file", "reload"),
        *("weigh_in", "log_time", "new_swatch", "library"),
        *("table_in", "table_out"),
        *(
            "enquiry",
            "orders",
            "trade",
            "customers",
            "customer",
            "buying",
            "suppliers",
            "receiving",
            "yarn_used",
            "closing",
        ),
    )
)
"""Actions of the app that are only asked for: a dialog, or a few steps, follow."""


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that can be done: where, on which keys, and what to call it.

    `keys` is empty for what is only in the palette until a keymap gives it a key. `short` is the
    footer's wording, `None` where the footer leaves it out.
    """

    group: str
    verb: str
    keys: str
    label: str
    help: str
    short: str | None = None

    @property
    def id(self) -> str:
        """The name a keymap uses for it."""
        return f"{self.group}.{self.verb}" if self.group != EVERYWHERE else self.verb

    @property
    def target(self) -> str:
        """The Textual action it runs."""
        if self.group != EVERYWHERE:
            return self.verb
        return f"app.ask('{self.verb}')" if self.verb in ASKED else f"app.{self.verb}"


def _a(
    group: str, verb: str, keys: str, label: str, words: str, short: str | None = None
) -> Action:
    return Action(group, verb, keys, label, words, short)


ACTIONS: Final[tuple[Action, ...]] = (
    # Everywhere
    _a(EVERYWHERE, "help", "f1", "Help for this pane", "What the keys do here.", "help"),
    _a(EVERYWHERE, "projects", "f2", "Go to the projects", "All pieces, by stage."),
    _a(EVERYWHERE, "stripes", "f3", "Go to the stripes", "The stripes of the piece at hand."),
    _a(EVERYWHERE, "stash", "f4", "Go to the stash", "All lots in the house."),
    _a(EVERYWHERE, "cost", "f5", "Go to the cost sheet", "What the piece costs in material."),
    _a(EVERYWHERE, "findings", "f6", "Go to the findings", "Everything that wants a look."),
    _a(EVERYWHERE, "details", "f7", "Piece: name, size, dates, stitch",
       "Name, customer, stage, due date, size, stitch, hook and how balls are joined.", "piece"),
    _a(EVERYWHERE, "slots", "f8", "Slots: which shade each letter is",
       "Map a slot to another shade, add or drop a slot, choose one lot or a lot for each stripe.",
       "slots"),
    _a(EVERYWHERE, "look", "f9", "Choose the colours of the screen",
       "Themes; kept in studio.toml."),
    _a(EVERYWHERE, "enquiry", "ctrl+t", "Try it as an order",
       "What taking the piece at hand would mean: yarn, price, day; nothing is changed.", "try"),
    _a(EVERYWHERE, "orders", "ctrl+o", "Order book and weeks",
       "What is quoted, promised and sold, its money, its days, and the weeks of handwork.",
       "orders"),
    _a(EVERYWHERE, "trade", "f12", "Prices, hours, parcels and customers",
       "What every price and every day is made from; what you charge, and when you work.",
       "prices"),
    _a(EVERYWHERE, "customers", "", "Customers", "Everybody who orders, and how to reach them."),
    _a(EVERYWHERE, "customer", "", "Whom the piece is for",
       "Chooses a customer for the piece at hand, or adds one."),
    _a(EVERYWHERE, "buying", "ctrl+b,f10", "Buy what is short",
       "The cheapest purchase that covers every piece in time, its orders, and the staples.",
       "buy"),
    _a(EVERYWHERE, "suppliers", "", "Suppliers and what they offer",
       "Whom you buy from, their terms and their prices."),
    _a(EVERYWHERE, "receiving", "ctrl+a", "Receive a parcel",
       "What is on order: type the dye lots that came, and put them on the shelf.", "receive"),
    _a(EVERYWHERE, "palette", "ctrl+p", "Find a piece or an action",
       "Type a few letters of what you want.", "find"),
    _a(EVERYWHERE, "undo", "ctrl+z", "Undo", "Takes back the last change.", "undo"),
    _a(EVERYWHERE, "redo", "ctrl+y", "Redo", "Does again what was undone."),
    _a(EVERYWHERE, "why", "question_mark", "Why this?",
       "Opens the sum behind the figure at hand, or the reasons for a stripe's lot.", "why"),
    _a(EVERYWHERE, "mend", "exclamation_mark", "Mend it",
       "Does the first mend of the finding at hand; undo takes it back.", "mend"),
    _a(EVERYWHERE, "rows_done", "ctrl+r", "Rows done",
       "Says how many rows of the piece are worked.", "rows done"),
    _a(EVERYWHERE, "weigh_in", "ctrl+x", "Weigh in",
       "What rows of the piece have used, by the scale: the best evidence there is."),
    _a(EVERYWHERE, "yarn_used", "at", "Yarn used",
       "Yarn of the rows that are done leaves its lots; what is left of a ball returns."),
    _a(EVERYWHERE, "closing", "dollar_sign", "Actual against planned",
       "Grams, hours and money of the piece at hand, and what an hour was paid."),
    _a(EVERYWHERE, "log_time", "", "Note time spent", "Minutes of crochet, ends or other work."),
    _a(EVERYWHERE, "library", "f11", "Yarns, stitches and swatches",
       "Add them, put them right, remove them.", "library"),
    _a(EVERYWHERE, "new_swatch", "", "Add a swatch",
       "Counts and weight of what you worked: from it come sizes and grams."),
    _a(EVERYWHERE, "border", "", "Border", "Adds, changes or drops the border."),
    _a(EVERYWHERE, "fringe", "", "Fringe", "Adds, changes or drops the fringe."),
    _a(EVERYWHERE, "notion", "", "Add a notion", "Anything bought for the piece but yarn."),
    _a(EVERYWHERE, "new_piece", "", "New piece", "A guided start: size, shades, stripes."),
    _a(EVERYWHERE, "new_yarn", "", "Add a yarn or a shade", "A product line and its shades."),
    _a(EVERYWHERE, "settings", "", "Studio: name, currency, units", "What studio.toml says."),
    _a(EVERYWHERE, "wording", "", "Your own wording of quotes",
       "Makes wording.txt, which says what may be changed, and opens it in your editor."),
    _a(EVERYWHERE, "table_in", "number_sign", "Take in a table",
       "A stash, a price list or orders from a spreadsheet; every row is seen before."),
    _a(EVERYWHERE, "table_out", "", "Write out a table",
       "The stash, the prices or the orders, for a spreadsheet."),
    _a(EVERYWHERE, "open_file", "ctrl+e", "Open the file in your editor",
       "The file at hand, or the first one that could not be read."),
    _a(EVERYWHERE, "reload", "", "Read the files again", "After changing them by hand."),
    _a(EVERYWHERE, "save", "ctrl+s", "Save now", "Saving happens by itself; this does it at once."),
    _a(EVERYWHERE, "copy", "ctrl+c", "Copy", "Copies the selection, or the line at hand."),
    _a(EVERYWHERE, "next_pane", "tab", "Next pane", "Moves on to the next pane."),
    _a(EVERYWHERE, "previous_pane", "shift+tab", "Pane before", "Moves to the pane before."),
    _a(EVERYWHERE, "home", "escape", "Back to the stripes", "From any pane."),
    _a(EVERYWHERE, "quit", "ctrl+q", "Leave Stripewright", "Everything is saved first.", "leave"),
    # Projects
    _a("projects", "open", "enter", "Open the piece", "Goes to its stripes.", "open"),
    _a("projects", "add", "insert,ctrl+n", "New piece", "A guided start: size, shades, stripes.",
       "new"),
    _a("projects", "again", "equals_sign", "One more like it", "Copies the piece as an idea.",
       "one more like it"),
    _a("projects", "on", "greater_than_sign", "Next stage",
       "From idea to quoted, booked and so on.", "next stage"),
    _a("projects", "back", "less_than_sign", "Stage before", "One stage back."),
    _a("projects", "stage", "", "Choose the stage", "Any stage, also declined and cancelled."),
    _a("projects", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    _a("projects", "remove", "delete", "Remove the piece", "Undo brings it back.", "remove"),
    # Stripes
    _a("stripes", "more", "plus", "Two rows more", "A pair of rows, so the side stays right.",
       "rows"),
    _a("stripes", "fewer", "minus", "Two rows fewer", "A pair of rows fewer.", ""),
    _a("stripes", "one_more", "right_square_bracket", "One row more", "A single row."),
    _a("stripes", "one_fewer", "left_square_bracket", "One row fewer", "A single row."),
    _a("stripes", "add", "insert,ctrl+n", "Add a stripe", "Below this one, in the next slot.",
       "add"),
    _a("stripes", "again", "equals_sign", "One more like it", "The same slot and rows, below."),
    _a("stripes", "remove", "delete", "Remove the stripe", "Undo brings it back.", "remove"),
    _a("stripes", "back", "less_than_sign,ctrl+up", "Move it up", "Changes places with the one "
       "above."),
    _a("stripes", "on", "greater_than_sign,ctrl+down", "Move it down", "Changes places with the "
       "one below.", "move"),
    _a("stripes", "divide", "vertical_line,ctrl+d", "Split the stripe", "Into two of the same "
       "slot.", "split"),
    _a("stripes", "join", "ampersand,ctrl+g", "Merge with the next", "Where the next one has the "
       "same slot.", "merge"),
    _a("stripes", "lot", "ctrl+l", "Choose the lot", "Pins the run to a lot, or lets the plan "
       "choose.", "lot"),
    _a("stripes", "open", "enter", "Change the stripe", "Slot, rows, lot and note in one form.",
       "change"),
    _a("stripes", "filter", "slash", "Filter", "Shows only the stripes that hold these letters.",
       "filter"),
    # Stash
    _a("stash", "open", "enter", "Correct the lot", "Balls, part balls, prices, note.", "correct"),
    _a("stash", "add", "insert,ctrl+n", "Add a lot", "Yarn that came into the house.", "add"),
    _a("stash", "use", "minus", "Use up balls", "Takes full balls out of the lot.", "use up"),
    _a("stash", "weigh", "ctrl+w", "Weigh a part ball", "New, or one that was weighed before.",
       "weigh"),
    _a("stash", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    _a("stash", "remove", "delete", "Remove the lot", "Undo brings it back.", "remove"),
    # Cost
    _a("cost", "open", "enter", "Show the sum", "How the figures of this line come about.", "sum"),
    _a("cost", "shade", "ctrl+l", "Take another shade", "Maps the slot to another shade.",
       "another shade"),
    _a("cost", "add", "insert,ctrl+n", "Add a notion", "Anything bought for the piece but yarn.",
       "add a notion"),
    _a("cost", "remove", "delete", "Remove the notion", "Undo brings it back."),
    # Findings
    _a("findings", "open", "enter", "Go to the place", "Where the finding arises.", "go there"),
    _a("findings", "accept", "ctrl+k", "It is meant", "Accepts the finding for this piece, with "
       "a note.", "it is meant"),
    _a("findings", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    # Enquiry
    _a("enquiry", "open", "enter", "Change it, or show its sum",
       "What is asked is changed; what is answered opens its sum.", "change"),
    _a("enquiry", "again", "equals_sign", "One more variant",
       "Beside this one, to change its size, shades or design.", "variant"),
    _a("enquiry", "variant_before", "left", "Variant to the left", "It is at hand then."),
    _a("enquiry", "variant_after", "right", "Variant to the right", "It is at hand then."),
    _a("enquiry", "remove", "delete", "Drop the variant", "The others stay."),
    _a("enquiry", "quote", "ctrl+u", "Quote it",
       "Freezes price, assumptions and validity as the quote of this piece.", "quote it"),
    _a("enquiry", "book", "ctrl+k", "Book it",
       "Its lots are held from now on, and its day stands; undo takes it back.", "book it"),
    _a("enquiry", "papers", "ctrl+f", "Write the quote",
       "The quote as sent: text, Markdown, a page to print or a PDF.", "write it"),
    _a("enquiry", "filter", "slash", "Filter", "Shows only what holds these letters."),
    # Order book
    _a("orders", "open", "enter", "What can be done with it",
       "Next stage, payment, refund, sale, return, papers: what its stage allows.", "do"),
    _a("orders", "on", "greater_than_sign", "Next stage",
       "Booked, making, finishing, then delivered or in stock.", "next stage"),
    _a("orders", "add", "insert,ctrl+n", "Note a payment", "Deposit or balance received.",
       "payment"),
    _a("orders", "earlier", "ctrl+up", "Work it earlier",
       "Sets the order by hand; what it costs in lateness is shown.", "earlier"),
    _a("orders", "later", "ctrl+down", "Work it later", "Sets the order by hand."),
    _a("orders", "by_due", "", "Work by due date again", "Drops the order set by hand."),
    _a("orders", "more", "plus", "Try one more hour a week",
       "Shows what it would do to the days; nothing is changed.", "hour a week"),
    _a("orders", "fewer", "minus", "One tried hour less", "Takes a tried hour away again."),
    _a("orders", "remove", "delete", "Cancel or decline",
       "A cancelled order frees its yarn; undo brings it back.", "cancel"),
    _a("orders", "refund", "", "Give money back", "Of what was received for the piece."),
    _a("orders", "keep", "", "Keep money of it",
       "Of what was paid for a sale that came to nothing."),
    _a("orders", "sell", "", "Sell from stock", "Who buys it, and at what price."),
    _a("orders", "take_back", "", "Take a piece back", "A delivered piece is in stock again."),
    _a("orders", "paper", "", "Show the quote or confirmation", "As the customer reads it."),
    _a("orders", "papers", "ctrl+f", "Write the quote or confirmation",
       "Text, Markdown, a page to print or a PDF, where you want it.", "write it"),
    _a("orders", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    # Trade
    _a("trade", "open", "enter", "Change it", "All figures that belong together, in one form.",
       "change"),
    _a("trade", "add", "insert,ctrl+n", "Add to the list",
       "Days off, a parcel, a task or a customer.", "add"),
    _a("trade", "remove", "delete", "Remove it", "Undo brings it back.", "remove"),
    _a("trade", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    # Buying
    _a("buying", "place", "ctrl+k", "Place the orders",
       "They are on order from now on, and their runs wait for them; undo takes it back.",
       "place the orders"),
    _a("buying", "open", "enter", "Take it in or out, or read it in full",
       "A piece is bought for or not; anything else opens in full.", "in or out"),
    _a("buying", "more", "plus", "Buy for more stages", "Also for quotes, then for ideas.",
       "more stages"),
    _a("buying", "fewer", "minus", "Buy for fewer stages", "Down to what is booked."),
    _a("buying", "papers", "ctrl+f", "Write the order papers",
       "Text, table and page for each supplier, asking for one dye lot for a shade.", "papers"),
    _a("buying", "suppliers", "ctrl+w", "Suppliers and what they offer",
       "Whom you buy from, their terms and their prices: add, change, remove.", "suppliers"),
    _a("buying", "take_offer", "ctrl+g", "Take the offered move of holds",
       "Moves the holds and places the orders of that plan, once you have said yes.",
       "move holds"),
    _a("buying", "stop", "full_stop", "Stop looking for a cheaper one",
       "The best plan so far stands.", "stop looking"),
    _a("buying", "add", "insert,ctrl+n", "Order the staple at hand",
       "So many balls of it for the shelf, as an order of its own; undo takes it back."),
    _a("buying", "staple", "asterisk", "Always kept, or no longer",
       "Marks the shade at hand as a staple.", "staple"),
    _a("buying", "filter", "slash", "Filter", "Shows only what holds these letters."),
    # Suppliers
    _a("suppliers", "add", "insert,ctrl+n", "Add a supplier, or an offer",
       "A supplier with their terms; on the other sheet a yarn that they offer.", "add"),
    _a("suppliers", "open", "enter", "Change it",
       "The terms of the supplier, or the offer: shades, packs, prices.", "change"),
    _a("suppliers", "remove", "delete", "Remove it",
       "The offer, or the supplier with all their offers; undo brings it back.", "remove"),
    _a("suppliers", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    # Library
    _a("library", "open", "enter", "Put it right", "The yarn, shade, stitch, swatch or trial.",
       "put right"),
    _a("library", "add", "insert,ctrl+n", "Add one",
       "A yarn or a shade, a stitch, a swatch or a trial.", "add"),
    _a("library", "remove", "delete", "Remove it", "Undo brings it back; what is in use stays.",
       "remove"),
    _a("library", "filter", "slash", "Filter", "Shows only what holds these letters.", "filter"),
    # Receiving
    _a("receiving", "add", "insert,ctrl+n", "Type a bag",
       "Scan or name its shade, then its dye lot and count.", "a bag"),
    _a("receiving", "open", "enter", "Type a bag of it, or change the bag",
       "A line on order is typed in; a bag is changed.", "type"),
    _a("receiving", "again", "equals_sign", "One more bag of it", "Of another dye lot."),
    _a("receiving", "remove", "delete", "Drop the bag, or take the line out",
       "A bag is not typed in any more; a line will not come, and who waits for it is told first.",
       "drop"),
    _a("receiving", "parcel", "ctrl+d", "Shipping, tax, the rest",
       "What the parcel cost beside the yarn, and whether and when the rest still comes.",
       "the parcel"),
    _a("receiving", "receive", "ctrl+k", "Put it on the shelf",
       "The bags become lots, and the pieces that waited get them; undo takes it back.",
       "put on the shelf"),
    _a("receiving", "note_order", "ctrl+u", "Note an order",
       "One that you placed by telephone or at a fair: pieces that are short wait for it.",
       "note an order"),
    _a("receiving", "change_order", "ctrl+l", "Change the order",
       "Balls, price, days, one more line; or call it off. Who waits for it is told first.",
       "change it"),
    _a("receiving", "call_off", "", "Call the order off",
       "It will not come: its pieces are short again, once you have said yes."),
    _a("receiving", "papers", "ctrl+f", "Write the order paper",
       "Of the order at hand, as far as it is still to come: text, table and page."),
    _a("receiving", "barcode", "", "Barcodes of the shade at hand",
       "The numbers on its ball bands: scan one more, or take a wrong one out."),
    _a("receiving", "filter", "slash", "Filter", "Shows only what holds these letters."),
)  # fmt: skip

BY_ID: Final[Mapping[str, Action]] = {action.id: action for action in ACTIONS}

TYPED: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "stripes": (
        ("0-9", "Type a number of rows; enter sets it, escape drops it."),
        ("a-z", "The stripe takes the slot of that letter."),
    ),
}
"""Keys that are typed rather than bound, for the help."""

MOVING: Final = (
    ("arrows", "Move; page up, page down, home and end go further."),
    ("escape", "Goes back. Nothing is ever lost by it."),
    ("mouse", "Click a line, a name or a key below; the wheel scrolls."),
)


KEY_WORDS: Final = {"escape": "Esc", "delete": "Del", "insert": "Ins", "enter": "Enter"}


ALSO: Final = frozenset(
    (
        *("list.up", "list.down", "list.page_up", "list.page_down", "list.first", "list.last"),
        *("list.open", "list.filter", "list.end_filter", "dialog.leave", "words.leave"),
        *("words.copy", "form.before", "form.next", "pick.before", "pick.next", "pick.keep"),
        *("choose.up", "choose.down", "choose.page_up", "choose.page_down", "beside.leave"),
        *("match.go_on", "rows.take"),
    )
)
"""Bindings of lists and dialogs: no actions of a pane, yet a keymap may move them too."""


def unbound(action: Action) -> str:
    """A key nobody can type, so that an action without a key can still be given one."""
    return f"none-{action.id}"


def bindings(group: str) -> list[BindingType]:
    """Textual bindings of one group, every one with the id a keymap refers to."""
    return [
        Binding(
            action.keys or unbound(action),
            action.target,
            action.label,
            show=action.short is not None,
            tooltip=action.help,
            id=action.id,
            # Leaving works from within a dialog as well.
            priority=action.id == "quit",
        )
        for action in ACTIONS
        if action.group == group
    ]


def key_words(keys: str) -> str:
    """How a key is written on the screen: 'F1', 'Ctrl+Z', '+'; the first of several."""
    first = keys.split(",")[0].strip()
    if not first or first.startswith("none-"):
        return ""
    *modifiers, key = first.split("+")
    shown = KEY_WORDS.get(key) or format_key(key)
    if len(shown) > 1 or modifiers:
        shown = shown.title()
    return "+".join([*(modifier.title() for modifier in modifiers), shown])
