"""A price list laid upon what the suppliers offer: merged price by price, and nothing dropped.

An offer speaks of many shades at once, a table of one at a time. So each shade in each pack is
looked at by itself; those that come out alike stay one offer, and one that gets a price of its own
leaves the offer that it was in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from studio.core import say
from studio.core.buying.offers import (
    BreakScope,
    Offer,
    OfferBook,
    PriceBreak,
    problems_of,
    stocked,
)
from studio.core.frozen import dataclass
from studio.core.model import ShadeRef, Studio
from studio.core.own_price import above_own
from studio.core.sheets.fates import Change, Effect, refused
from studio.core.sheets.preview import Preview, RowPreview
from studio.core.sheets.prices import PriceRow

Rows = list[RowPreview[PriceRow]]
Prices = Mapping[int, Decimal]
"""The price of a ball by the number of balls from which it holds."""


@dataclass(frozen=True, slots=True)
class Place:
    """What one price belongs to: a shade (None: all of the yarn) in a pack at a supplier."""

    supplier: str
    yarn: str
    pack: int
    shade: str | None


@dataclass(frozen=True, slots=True)
class Terms:
    """What is asked at a place."""

    breaks: tuple[PriceBreak, ...]
    scope: BreakScope
    note: str

    @classmethod
    def of(cls, offer: Offer) -> Terms:
        """The terms of an offer."""
        return cls(offer.breaks, offer.scope, offer.note)


class _Book:
    """The offers, those that a table adds for all of a yarn among them, and what is new where."""

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.offers: list[Offer] = []
        self.now: dict[Place, Terms] = {}
        self.ranks: dict[Place, int] = {}
        self._of: dict[tuple[str, str], list[Offer]] = {}
        for offer in studio.offers:
            self.add(offer)

    def add(self, offer: Offer) -> None:
        """One more offer."""
        self.offers.append(offer)
        self._of.setdefault((offer.supplier, offer.yarn), []).append(offer)

    def rank(self, offer: Offer) -> int:
        """Where an offer first stands in the table, so that new ones keep its order."""
        whole = Place(offer.supplier, offer.yarn, offer.pack, None)
        places = (replace(whole, shade=code) for code in (*(offer.shades or ()), None))
        return min(self.ranks[place] for place in places if place in self.ranks)

    def of_yarn(self, supplier: str, yarn: str) -> Sequence[Offer]:
        """What a supplier offers of a yarn, in all packs."""
        return self._of.get((supplier, yarn), ())

    def _at(self, place: Place) -> list[Offer]:
        return [o for o in self.of_yarn(place.supplier, place.yarn) if o.pack == place.pack]

    def offer_of(self, place: Place) -> Offer | None:
        """The offer that speaks of a place: by the shade's name, else for all of the yarn."""
        at = self._at(place)
        named = (o for o in at if place.shade is not None and place.shade in (o.shades or ()))
        return next(named, None) or next((o for o in at if o.shades is None), None)

    def twice(self, place: Place) -> bool:
        """Whether two offers speak of a place alike, so that no table can tell which is meant."""
        alike = [
            o
            for o in self._at(place)
            if (o.shades is None if place.shade is None else place.shade in (o.shades or ()))
        ]
        return len(alike) > 1

    def named(self, place: Place) -> bool:
        """Whether single shades of the yarn have prices of their own in that pack."""
        return any(o.shades is not None for o in self._at(place))

    def terms(self, place: Place) -> Terms | None:
        """What is asked at a place once the table's price for all shades is in."""
        offer = self.offer_of(place)
        if offer is None:
            return None
        whole = self.now.get(replace(place, shade=None)) if offer.shades is None else None
        return whole or Terms.of(offer)


def priced_in(preview: Preview[PriceRow], studio: Studio) -> tuple[Studio, dict[int, Effect]]:
    """The studio with every sound row of a price list, and by line what that comes to."""
    book = _Book(studio)
    effects: dict[int, Effect] = {}
    groups: dict[Place, Rows] = {}
    for row in preview.rows:
        if row.value is None or row.problems:
            continue
        packs = _packs(book, row.value)
        if len(packs) > 1:
            told = say.either([str(pack) for pack in packs], "and")
            words = f"pack: it is sold there in packs of {told}; say which of them."
            effects[row.line] = refused(_what(studio, row.value), words)
            continue
        value = row.value
        place = Place(value.supplier, value.yarn, (packs or [1])[0], value.shade)
        groups.setdefault(place, []).append(row)
    book.ranks = {place: at for at, place in enumerate(groups)}
    # A price for all shades goes in first, so that one for a single shade is an exception to it.
    for place in sorted(groups, key=lambda p: p.shade is not None):
        single = place.shade is not None or book.offer_of(place) or not book.named(place)
        if single:
            effects |= _merged(book, place, groups[place])
        else:
            effects |= _to_each(book, place, groups)
    after = _with_offers(book)
    return after, effects | _dearer(after, groups, effects)


def _dearer(
    after: Studio, groups: Mapping[Place, Rows], effects: Mapping[int, Effect]
) -> dict[int, Effect]:
    """The rows that make a yarn dearer than her own price of it, with a word on that.

    Told of the offers as they are with the whole table in, since another row may be cheaper.
    """
    offers: dict[ShadeRef, list[Offer]] = {}
    for offer in after.offers:
        for ref in stocked(offer, after.library):
            offers.setdefault(ref, []).append(offer)
    found = {}
    for place, rows in groups.items():
        every = Offer(place.supplier, place.yarn, (), place.pack)
        refs = (
            stocked(every, after.library)
            if place.shade is None
            else (ShadeRef(place.yarn, place.shade),)
        )
        for row in rows:
            effect, own = effects[row.line], after.library.yarn[place.yarn].price
            raised = effect.change in (Change.NEW, Change.CHANGED)
            if row.value is None or not raised or own is None or row.value.price <= own:
                continue
            balls = row.value.from_balls or place.pack
            if words := above_own(after, refs, balls, offers):
                found[row.line] = replace(effect, notes=(*effect.notes, words))
    return found


def _packs(book: _Book, row: PriceRow) -> list[int]:
    """The pack of a row; where it does not tell one, those that the yarn is sold in there."""
    if row.pack is not None:
        return [row.pack]
    of_yarn = book.of_yarn(row.supplier, row.yarn)
    fits = [o for o in of_yarn if row.shade is None or row.shade in (o.shades or (row.shade,))]
    return sorted({o.pack for o in fits})


def _to_each(book: _Book, place: Place, groups: dict[Place, Rows]) -> dict[int, Effect]:
    """'All shades' where single ones have prices of their own: each that the table does not name.

    Where one of them cannot have it, none has.
    """
    every = Offer(place.supplier, place.yarn, (), place.pack)
    shades = [replace(place, shade=ref.shade) for ref in stocked(every, book.studio.library)]
    before = dict(book.now)
    found = [_merged(book, p, groups[place]) for p in shades if p not in groups]
    if any(effect.problems for effects in found for effect in effects.values()):
        book.now = before
    order = (Change.FAULTY, Change.NEW, Change.CHANGED, Change.SAME)
    what = _what(book.studio, next(r.value for r in groups[place] if r.value), place)
    effects = {}
    for row in groups[place]:
        each = [effects[row.line] for effects in found]
        worst = min(each, key=lambda e: order.index(e.change), default=None)
        nothing = Effect(Change.SAME, what, "every shade has a price of its own in this table")
        effects[row.line] = replace(worst, what=what) if worst else nothing
    return effects


def _merged(book: _Book, place: Place, rows: Rows) -> dict[int, Effect]:
    """Put the rows of one place into the book; what becomes of each, by line."""
    old = book.terms(place)
    before = {} if old is None else {step.from_balls: step.price for step in old.breaks}
    values = [(row, _starting(row.value, before)) for row in rows if row.value is not None]
    what = _what(book.studio, values[0][1].row, place)
    if book.twice(place):
        words = "there are two offers of it in packs of that size: mend or drop one of them first."
        return {row.line: refused(what, words) for row in rows}
    if faults := _faults(book, place, values, before):
        waits = "It waits for another row of the same shade and pack."
        return {row.line: refused(what, faults.get(row.line, waits)) for row in rows}
    terms = _terms(old, before, [value for _, value in values])
    if terms == old:
        return {
            row.line: Effect(Change.SAME, what, f"{_asked(book, asked)}: offered so already")
            for row, asked in values
        }
    if wrong := _wrong(book, place, terms):
        return {row.line: refused(what, *wrong) for row in rows}
    effects = {row.line: _effect(book, place, asked, old, terms) for row, asked in values}
    if place.shade is None and old is None:
        new = Offer(place.supplier, place.yarn, terms.breaks, place.pack)
        book.add(_on(new, terms, None))
    else:
        book.now[place] = terms
    return effects


@dataclass(frozen=True, slots=True)
class _Asked:
    """A row with the number of balls from which its price holds."""

    row: PriceRow
    start: int

    @property
    def price(self) -> Decimal:
        """The price of a ball."""
        return self.row.price


def _starting(row: PriceRow, before: Prices) -> _Asked:
    """A price that does not say from how many balls on is the first one that is asked."""
    return _Asked(row, row.from_balls or min(before, default=1))


def _terms(old: Terms | None, before: Prices, values: Sequence[_Asked]) -> Terms:
    """The terms at a place with the rows in them: told prices, the others as they are."""
    steps = {**before, **{asked.start: asked.price for asked in values}}
    scopes = [asked.row.scope for asked in values if asked.row.scope is not None]
    notes = [asked.row.note for asked in values if asked.row.note is not None]
    breaks = tuple(PriceBreak(start, steps[start]) for start in sorted(steps))
    if old is None:
        return Terms(breaks, (scopes or [BreakScope.SHADE])[0], (notes or [""])[-1])
    same_note = not notes or notes[-1] == old.note.strip()
    return Terms(
        old.breaks if steps == before else breaks,
        (scopes or [old.scope])[0],
        old.note if same_note else notes[-1],
    )


def _faults(
    book: _Book,
    place: Place,
    values: Sequence[tuple[RowPreview[PriceRow], _Asked]],
    before: Prices,
) -> dict[int, str]:
    """What speaks against rows of one place, by line."""
    found: dict[int, str] = {}
    first: dict[int, tuple[int, Decimal]] = {}
    scopes = {asked.row.scope for _, asked in values if asked.row.scope is not None}
    for row, asked in values:
        line, price = first.setdefault(asked.start, (row.line, asked.price))
        start = say.balls(asked.start)
        if price != asked.price:
            had = say.money(price, book.studio.settings.currency)
            found[row.line] = f"line {line} has {had} from {start} on, and this another price."
        elif len(scopes) > 1:
            found[row.line] = "counts: the rows of one shade and pack differ."
        elif (
            asked.row.shade is None
            and place.shade is not None
            and before
            and before.get(asked.start) != asked.price
        ):
            found[row.line] = (
                f"shade: {_shade(book.studio, place)} has a price of its own there; name the "
                "shades that this price is for."
            )
    return found


def _wrong(book: _Book, place: Place, terms: Terms) -> list[str]:
    """What is wrong with an offer on these terms, in the words in which every offer is judged."""
    studio = book.studio
    shades = None if place.shade is None else (place.shade,)
    offer = Offer(
        place.supplier, place.yarn, terms.breaks, place.pack, shades, terms.scope, terms.note
    )
    sellers = tuple(s for s in studio.suppliers if s.key == place.supplier)
    found = problems_of(OfferBook(sellers, (offer,)), studio.library, studio.settings.currency)
    return [problem.text for problem in found if problem.offer is not None]


def _shade(studio: Studio, place: Place) -> str:
    yarn = studio.library.yarn[place.yarn]
    shade = None if place.shade is None else yarn.shade(place.shade)
    return shade.name if shade else f"all shades of {yarn.name}"


def _what(studio: Studio, row: PriceRow, place: Place | None = None) -> str:
    """'Fenlight Moss at the mill, packs of 5'."""
    yarn = studio.library.yarn[row.yarn]
    shade = yarn.shade(row.shade) if row.shade else None
    seller = next(s.name for s in studio.suppliers if s.key == row.supplier)
    pack = row.pack if place is None else place.pack
    packed = f", packs of {pack}" if pack and pack > 1 else ""
    return f"{yarn.name} {shade.name if shade else 'all shades'} at {seller}{packed}"


def _asked(book: _Book, row: _Asked) -> str:
    """'4.10 EUR a ball from 10 balls on'."""
    start = f" from {say.balls(row.start)} on" if row.start > 1 else ""
    return f"{say.money(row.price, book.studio.settings.currency)} a ball{start}"


def _effect(book: _Book, place: Place, row: _Asked, old: Terms | None, new: Terms) -> Effect:
    """One price of a place in words."""
    what = _what(book.studio, row.row, place)
    currency = book.studio.settings.currency
    asked = _asked(book, row)
    if old is None:
        return Effect(Change.NEW, what, f"a new offer at {asked}")
    offer = book.offer_of(place)
    leaves = place.shade is not None and offer is not None and offer.shades is None
    notes = ("All shades had one price; this one gets its own.",) if leaves else ()
    was = next((s.price for s in old.breaks if s.from_balls == row.start), None)
    if was is None:
        words = f"a further price: {asked}"
    elif was != row.price:
        before = _asked(book, replace(row, row=replace(row.row, price=was)))
        words = f"{before}: set to {say.money(row.price, currency)}"
    elif old.breaks != new.breaks:
        words = f"{asked} stays"
    else:
        words = f"{asked} stays; what counts for it, or its note, changes"
    return Effect(Change.CHANGED, what, words, notes=notes)


def _with_offers(book: _Book) -> Studio:
    """The studio with the offers of the book; the same studio where nothing changed."""
    studio = book.studio
    if not book.now and len(book.offers) == len(studio.offers):
        return studio
    left = dict(book.now)
    offers: list[Offer] = []
    new: list[Offer] = []
    for at, offer in enumerate(book.offers):
        (offers if at < len(studio.offers) else new).extend(_split(book, offer, left))
    for place, terms in left.items():
        if not _joined(offers, place, terms) and not _joined(new, place, terms):
            shades = None if place.shade is None else (place.shade,)
            bare = Offer(place.supplier, place.yarn, terms.breaks, place.pack, shades)
            new.append(_on(bare, terms, shades))
    offers += sorted(new, key=book.rank)
    order = {s.key: at for at, s in enumerate(studio.suppliers)}
    offers.sort(key=lambda o: order.get(o.supplier, len(order)))
    return replace(studio, offers=tuple(offers))


def _split(book: _Book, offer: Offer, left: dict[Place, Terms]) -> list[Offer]:
    """An offer with its changed shades taken out of it, each lot of equal terms one offer."""
    whole = Place(offer.supplier, offer.yarn, offer.pack, None)
    base = offer
    if offer.shades is None and whole in left:
        base = _on(offer, left.pop(whole), None)
    codes = offer.shades
    if codes is None:
        codes = tuple(ref.shade for ref in stocked(offer, book.studio.library))
        named = {p.shade for p in left if replace(p, shade=None) == whole}
        codes = (*codes, *sorted(s for s in named if s is not None and s not in codes))
    own: dict[Terms, list[str]] = {}
    for code in codes:
        place = replace(whole, shade=code)
        if place in left and book.offer_of(place) is offer:
            own.setdefault(left.pop(place), []).append(code)
    if not own:
        return [base]
    gone = {code for group in own.values() for code in group}
    rest = tuple(code for code in codes if code not in gone)
    kept = [replace(base, shades=rest)] if rest else []
    return [*kept, *(_on(offer, terms, tuple(group)) for terms, group in own.items())]


def _on(offer: Offer, terms: Terms, shades: tuple[str, ...] | None) -> Offer:
    return replace(offer, breaks=terms.breaks, scope=terms.scope, note=terms.note, shades=shades)


def _joined(offers: list[Offer], place: Place, terms: Terms) -> bool:
    """Whether a shade that was not on offer yet has joined an offer on equal terms."""
    for at, offer in enumerate(offers):
        there = Place(offer.supplier, offer.yarn, offer.pack, place.shade)
        if there == place and offer.shades and place.shade and Terms.of(offer) == terms:
            offers[at] = replace(offer, shades=(*offer.shades, place.shade))
            return True
    return False
