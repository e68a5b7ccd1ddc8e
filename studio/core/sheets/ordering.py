"""A list of orders laid upon the pieces: those that are there are changed, the others begun.

Only what a row tells is changed. A piece is found by its name, so that the same list again changes
nothing; a new one takes its design from the piece that its row names, or has none yet.
"""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal

from studio.core import booking, edits, say
from studio.core.answers import ProjectPlan
from studio.core.edits.customers import customer_key
from studio.core.edits.places import put_project, refuse
from studio.core.frozen import dataclass
from studio.core.model import Length, Project, Stage, Studio
from studio.core.naming import fresh_key
from studio.core.sheets.fates import Change, Effect, refused
from studio.core.sheets.orders import OrderRow, agreed_price
from studio.core.sheets.preview import Preview, called
from studio.core.standing import delivered_words, open_rows_words
from studio.errors import EditRefusedError

HOOK_MM = Decimal(5)
"""A usual hook for a blanket (common practice, no source), where no swatch tells one."""


@dataclass(frozen=True, slots=True)
class Day:
    """The day on which the list is taken in, and the plans by which a booking promises lots."""

    today: date
    plans: Mapping[str, ProjectPlan]


def ordered(
    preview: Preview[OrderRow], studio: Studio, day: Day
) -> tuple[Studio, dict[int, Effect]]:
    """The studio with every sound row of a list of orders, and by line what that comes to."""
    effects: dict[int, Effect] = {}
    seen: dict[str, int] = {}
    keys = frozenset(studio.project)
    for row in preview.rows:
        if row.value is None or row.problems:
            continue
        order = row.value
        try:
            after, effect = _placed(studio, order, day, keys)
        except EditRefusedError as error:
            effects[row.line] = refused(order.name, error.text)
            continue
        first = seen.setdefault(_key(after, order, keys), row.line)
        if first != row.line:
            effect = _again(order, first, effect.change)
        if not effect.problems:
            studio = after
        effects[row.line] = effect
    return studio, effects


def _key(studio: Studio, order: OrderRow, keys: Container[str]) -> str:
    found = _there(studio, order.name, keys)
    return found.key if found else order.name.casefold()


def _again(order: OrderRow, first: int, change: Change) -> Effect:
    """A second row for a piece of the table: it may say the same again, and nothing else."""
    if change is Change.SAME:
        return Effect(Change.SAME, order.name, f"says the same as line {first}")
    return refused(order.name, f"line {first} speaks of this piece too, and says it otherwise.")


def _there(studio: Studio, words: str, keys: Container[str]) -> Project | None:
    """The piece of this name or key; names first, since they are what a list is written with.

    `keys` are those that were there before the list. Nobody who wrote it knew one of a piece that
    it begins, and another piece of the list may be called just that.
    """

    def known(piece: Project) -> str:
        return piece.key if piece.key in keys else piece.name

    return next(iter(called(words, studio.projects, lambda p: p.name, known)), None)


def _placed(
    studio: Studio, order: OrderRow, day: Day, keys: Container[str]
) -> tuple[Studio, Effect]:
    """One order put among the pieces; refuses in words what cannot be."""
    old = _there(studio, order.name, keys)
    if old is None:
        begun, key, design = _begun(studio, order, keys)
        after = _told(begun, key, replace(order, stage=order.stage or Stage.BOOKED), day)
        return after, Effect(Change.NEW, order.name, _new_words(after.project[key], design, studio))
    after = _told(studio, old.key, order, day)
    new = after.project[old.key]
    for words in (delivered_words(old, new), open_rows_words(old, new)):
        if words:
            refuse(f"{words} A table does not change that: do it in the app, which asks first.")
    if new == old:
        return studio, Effect(Change.SAME, old.name, f"is there so already, {old.stage.value}")
    return after, Effect(Change.CHANGED, old.name, _changes(old, new, studio))


def _begun(studio: Studio, order: OrderRow, keys: Container[str]) -> tuple[Studio, str, str]:
    """The studio with a new piece as an idea, its key, and the name of the piece it is like."""
    key = fresh_key(order.name, studio.project, "piece")
    if order.like:
        model = _there(studio, order.like, keys)
        if model is None:
            refuse(f"like: there is no piece {order.like!r} to take the design from.")
        copied = edits.copy_project(studio, model.key, order.name)
        new = replace(copied.projects[-1], key=key)
        return replace(studio, projects=(*studio.projects, new)), key, model.name
    if order.width is None or order.length is None:
        refuse("width, length: a new piece needs both, or a piece that it is like.")
    if not studio.library.stitches:
        refuse("There is no stitch in the library, and a piece needs one: add a stitch first.")
    swatch = next(iter(studio.library.swatches), None)
    bare = Project(
        key=key,
        name=order.name,
        stage=Stage.IDEA,
        stitch=swatch.stitch if swatch else studio.library.stitches[0].key,
        hook_mm=swatch.hook_mm if swatch else HOOK_MM,
        width=order.width,
        length=order.length,
        slots=(),
        stripes=(),
    )
    return replace(studio, projects=(*studio.projects, bare)), key, ""


def _told(studio: Studio, key: str, order: OrderRow, day: Day) -> Studio:
    """The studio with what the row tells of a piece; the same studio where that is so already."""
    piece = studio.project[key]
    width, length = order.width or piece.width, order.length or piece.length
    after = edits.set_size(studio, key, width, length)
    words: dict[str, object] = {}
    if order.customer and order.customer != piece.customer.strip():
        words["customer"] = customer_key(studio, order.customer)
    if order.note and order.note != piece.note.strip():
        words["note"] = order.note
    words |= {f: v for f in ("due", "booked") if (v := getattr(order, f)) is not None}
    after = edits.set_project(after, key, **words)
    if order.price is not None and order.price != agreed_price(piece):
        after = put_project(after, replace(after.project[key], price=order.price))
    if order.stage is None or order.stage is piece.stage:
        return after
    return booking.to_stage(after, key, order.stage, day.plans.get(key), day.today)


def _size(width: Length, length: Length) -> str:
    one, other = (f"{side.value.normalize():f}" for side in (width, length))
    if width.unit is length.unit:
        return f"{one} x {other} {width.unit.value}"
    return f"{one} {width.unit.value} x {other} {length.unit.value}"


def _new_words(new: Project, design: str, studio: Studio) -> str:
    """'a new piece, booked, 150 x 180 cm, like Afterglow throw'."""
    words = ["a new piece", new.stage.value, _size(new.width, new.length)]
    if new.due is not None:
        words.append(f"due {say.date(new.due)}")
    if new.price is not None:
        words.append(say.money(new.price, studio.settings.currency))
    told = ", ".join(words)
    if design:
        return f"{told}, like {design}"
    return f"{told}; its shades and stripes are still to be chosen"


def _changes(old: Project, new: Project, studio: Studio) -> str:
    """'due 22 Jan 2027 becomes 1 Feb 2027; stage booked becomes making'."""
    currency = studio.settings.currency

    def shown(piece: Project) -> dict[str, str]:
        price = agreed_price(piece)
        return {
            "for": piece.customer or "nobody",
            "stage": piece.stage.value,
            "due": say.date(piece.due) if piece.due else "no day",
            "booked": say.date(piece.booked) if piece.booked else "no day",
            "size": _size(piece.width, piece.length),
            "price": say.money(price, currency) if price is not None else "none",
        }

    before, after = shown(old), shown(new)
    told = [f"{f} {before[f]} becomes {after[f]}" for f in before if before[f] != after[f]]
    if old.note != new.note:
        told.append("its note is written anew")
    return "; ".join(told) or "is written anew"
