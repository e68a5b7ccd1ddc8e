"""The material cost of a piece, shade by shade: used and cash (trade rules, section 6).

*Used* is the grams the piece uses, at what they cost; what is noted as used stands at what was paid
for it then, whatever its lot has become. *Cash* is what must still be laid out: the
piece's gram share of the pooled purchase, and beside it the cash if it were made alone. Yarn on
order is bought already and is no cash to come. Each shade is one line, rounded once; the sums tie.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from types import MappingProxyType

from studio.core.answers import Cost
from studio.core.frozen import dataclass
from studio.core.lots.problem import BUY
from studio.core.model import (
    Library,
    Lot,
    Project,
    Settings,
    ShadeRef,
    Stage,
    Stash,
    StashValue,
    Used,
)
from studio.core.money import rounded, share
from studio.core.prices import GramPrice, PriceFrom, paid, replacement
from studio.core.runs import RunDemand
from studio.core.shades import ORDER_PREFIX, PieceShare, balls_for


@dataclass(frozen=True, slots=True)
class UsedLine:
    """Grams from one source at one price: a step of the sum behind a shade's used cost.

    `noted` where they are noted as used; `paid` is then what was paid for them, where it is known.
    """

    source: str
    grams: Decimal
    price: GramPrice
    noted: bool = False
    paid: Decimal | None = None

    @property
    def amount(self) -> Decimal | None:
        """The unrounded cost."""
        if self.paid is not None:
            return self.paid
        return None if self.price.per_g is None else self.grams * self.price.per_g


@dataclass(frozen=True, slots=True)
class ShadeCost:
    """One shade's line on the cost sheet; None where no price is known at all."""

    shade: ShadeRef
    used: Decimal | None
    cash: Decimal | None
    alone: Decimal | None
    lines: tuple[UsedLine, ...]
    ball_price: Decimal | None
    price_from: PriceFrom


def values_at_replacement(project: Project, settings: Settings) -> bool:
    """Whether stash yarn counts at today's price: quotes and ideas do, unless she says otherwise.

    The books of a booked piece use the price paid.
    """
    quoting = project.stage in (Stage.IDEA, Stage.QUOTED)
    return quoting and settings.stash_value is StashValue.REPLACEMENT


def _order_price(stash: Stash, key: str, ref: ShadeRef, ball_g: Decimal) -> GramPrice | None:
    """The price of the open purchase's line, where it states one."""
    purchase = stash.purchase.get(key)
    for line in purchase.lines if purchase else ():
        if (line.yarn, line.shade) == ref and line.price is not None:
            return GramPrice(line.price / ball_g, PriceFrom.PAID)
    return None


def _price_of(
    source: str, project: Project, ref: ShadeRef, library: Library, stash: Stash, settings: Settings
) -> GramPrice:
    new = replacement(library, stash, ref)
    if source == BUY:
        return new
    if source.startswith(ORDER_PREFIX):
        stated = _order_price(
            stash, source.removeprefix(ORDER_PREFIX), ref, library.yarn[ref.yarn].ball_g
        )
        return stated or new
    if values_at_replacement(project, settings) and new.per_g is not None:
        return new
    lot = next((n for n in stash.by_shade.get(ref, ()) if n.code == source), None)
    return paid(library, stash, lot or Lot(ref.yarn, ref.shade, source))


def used_lines(
    project: Project,
    ref: ShadeRef,
    runs: Sequence[RunDemand],
    lot_of: Mapping[str, str],
    library: Library,
    stash: Stash,
    settings: Settings,
    covered: Mapping[str, float] = MappingProxyType({}),
) -> tuple[UsedLine, ...]:
    """Grams of the whole piece by the lot they come from, each with its price.

    What is noted as used stands with what was paid for it; beside it the expected grams of all
    else, `covered` being those that the notes stand for, by run key. A run that was worked from a
    lot nobody wrote down counts under that lot's stand-in price.
    """
    grams: dict[str, float] = {}
    for run in runs:
        tie = run.claim.on if run.claim else "not written down"
        source = lot_of.get(run.ref.key, tie)
        left = max(0.0, run.whole_mean_g - covered.get(run.ref.key, 0.0))
        grams[source] = grams.get(source, 0.0) + left
    noted = [_noted_line(n, library, stash) for n in project.used if n.shade_ref == ref]
    open_lines = (
        UsedLine(
            source,
            Decimal(repr(round(g, 3))),
            _price_of(source, project, ref, library, stash, settings),
        )
        for source, g in grams.items()
        if g or not noted
    )
    return (*noted, *open_lines)


def _noted_line(used: Used, library: Library, stash: Stash) -> UsedLine:
    """Grams that left their lot, at what was paid for them; a stand-in where that is not known."""
    if used.paid is not None:
        price = GramPrice(used.paid / used.grams, PriceFrom.PAID)
        return UsedLine(used.lot, used.grams, price, noted=True, paid=used.paid)
    lot = stash.lot(used.ref) or Lot(*used.ref)
    return UsedLine(used.lot, used.grams, paid(library, stash, lot), noted=True)


def shade_cost(
    project: Project,
    ref: ShadeRef,
    runs: Sequence[RunDemand],
    lot_of: Mapping[str, str],
    part: PieceShare | None,
    library: Library,
    stash: Stash,
    settings: Settings,
    covered: Mapping[str, float] = MappingProxyType({}),
) -> ShadeCost:
    """The shade's used and cash lines for one project; both are in the studio's currency."""
    currency = settings.currency
    lines = used_lines(project, ref, runs, lot_of, library, stash, settings, covered)
    amounts = [n.amount for n in lines if n.grams]
    used = None if None in amounts else rounded(sum(filter(None, amounts), Decimal(0)), currency)
    new = replacement(library, stash, ref)
    asks = part.buy_dg + part.lacking_dg if part else 0
    if not part or not asks:
        nothing = rounded(Decimal(0), currency)
        return ShadeCost(ref, used, nothing, nothing, lines, None, new.source)
    if new.per_g is None:
        return ShadeCost(ref, used, None, None, lines, None, new.source)
    yarn = library.yarn[ref.yarn]
    ball = new.per_g * yarn.ball_g
    pooled = rounded(ball * part.pool_balls, currency)
    shares = share(pooled, [Decimal(dg) for _, dg in part.pool_members], currency)
    cash = next(
        s for s, (key, _) in zip(shares, part.pool_members, strict=True) if key == project.key
    )
    alone = rounded(ball * balls_for(asks, int(yarn.ball_g * 10)), currency)
    return ShadeCost(ref, used, cash, alone, lines, ball, new.source)


_SAID = {
    PriceFrom.LAST_OF_SHADE: "{name}: no price on it, the last purchase of the shade stands in.",
    PriceFrom.LAST_OF_YARN: "{name}: no price on it, the last purchase of the yarn stands in.",
    PriceFrom.MISSING: "{name}: no price known, so the sum is left open.",
}


def _assumptions(cost: ShadeCost, name: str) -> list[str]:
    sources = [n.price.source for n in cost.lines if n.grams]
    if cost.cash:
        sources.append(cost.price_from)
    return [_SAID[s].format(name=name) for s in dict.fromkeys(sources) if s in _SAID]


def _total(parts: Sequence[Decimal | None], currency: str) -> Decimal | None:
    known = [p for p in parts if p is not None]
    return sum(known, rounded(Decimal(0), currency)) if len(known) == len(parts) else None


def piece_cost(
    project: Project, shades: Sequence[ShadeCost], names: Mapping[ShadeRef, str], settings: Settings
) -> Cost:
    """Add the shades and the notions; a total with an unknown price in it stays open."""
    currency = settings.currency
    said = [text for c in shades for text in _assumptions(c, names[c.shade])]
    return Cost(
        used_yarn=_total([c.used for c in shades], currency),
        cash_yarn=_total([c.cash for c in shades], currency),
        cash_alone=_total([c.alone for c in shades], currency),
        notions=_total([rounded(n.cost, currency) for n in project.notions], currency)
        or rounded(Decimal(0), currency),
        assumed=tuple(dict.fromkeys(said)),
    )
