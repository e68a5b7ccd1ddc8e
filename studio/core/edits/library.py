"""Edits of the library and the settings: yarns, stitches, swatches, defaults."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

from studio.core.edits.places import refuse
from studio.core.model import (
    Assumed,
    GaugeCount,
    Library,
    Settings,
    ShadeRef,
    Stitch,
    Studio,
    Swatch,
    Yarn,
)
from studio.core.money import CurrencyError, minor_digits
from studio.core.naming import fresh_key

HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")


def add_yarn(studio: Studio, new: Yarn) -> Studio:
    """Add a yarn whose key is not taken."""
    if new.key in studio.library.yarn:
        refuse(f"There is a yarn {new.key!r} already; choose another name.")
    _check_yarn(new)
    return _with_library(studio, replace(studio.library, yarns=(*studio.library.yarns, new)))


def set_yarn(studio: Studio, new: Yarn) -> Studio:
    """Correct the yarn of that key; shades in use stay in it."""
    old = studio.library.yarn.get(new.key)
    if old is None:
        refuse(f"There is no yarn {new.key!r} in the library.")
    if new == old:
        return studio
    _check_yarn(new)
    for shade in old.shades:
        if new.shade(shade.code) is None:
            _check_unused(studio, ShadeRef(old.key, shade.code), f"{old.name} {shade.name}")
    yarns = tuple(new if y is old else y for y in studio.library.yarns)
    return _with_library(studio, replace(studio.library, yarns=yarns))


def remove_yarn(studio: Studio, key: str) -> Studio:
    """Take a yarn out of the library, with its swatches; one in use stays."""
    old = studio.library.yarn.get(key)
    if old is None:
        refuse(f"There is no yarn {key!r} in the library.")
    for shade in old.shades:
        _check_unused(studio, ShadeRef(key, shade.code), f"{old.name} {shade.name}")
    for offer in studio.offers:
        if offer.yarn == key:
            refuse(f"{old.name} is offered by a supplier ({offer.supplier}); drop the offer first.")
    library = replace(
        studio.library,
        yarns=tuple(_without(y, key) for y in studio.library.yarns if y is not old),
        swatches=tuple(s for s in studio.library.swatches if s.yarn != key),
    )
    return _with_library(studio, library)


def _without(yarn: Yarn, key: str) -> Yarn:
    """A yarn that no longer names another one as working with it."""
    others = tuple(other for other in yarn.works_with if other != key)
    return yarn if others == yarn.works_with else replace(yarn, works_with=others)


def add_stitch(studio: Studio, new: Stitch) -> Studio:
    """Add a stitch whose key is not taken."""
    if new.key in studio.library.stitch:
        refuse(f"There is a stitch {new.key!r} already; choose another name.")
    _check_stitch(new)
    return _with_library(studio, replace(studio.library, stitches=(*studio.library.stitches, new)))


def set_stitch(studio: Studio, new: Stitch) -> Studio:
    """Correct the stitch of that key; sizes and yarn of its pieces follow."""
    old = studio.library.stitch.get(new.key)
    if old is None:
        refuse(f"There is no stitch {new.key!r} in the library.")
    if new == old:
        return studio
    _check_stitch(new)
    stitches = tuple(new if s is old else s for s in studio.library.stitches)
    return _with_library(studio, replace(studio.library, stitches=stitches))


def remove_stitch(studio: Studio, key: str) -> Studio:
    """Take a stitch out of the library; one that a piece or a swatch is worked in stays."""
    old = studio.library.stitch.get(key)
    if old is None:
        refuse(f"There is no stitch {key!r} in the library.")
    for piece in studio.projects:
        if piece.stitch == key:
            refuse(f"{piece.name} is worked in {old.name}, so the stitch stays.")
    for swatch in studio.library.swatches:
        if swatch.stitch == key:
            refuse(f"The swatch {swatch.key} is worked in {old.name}; remove the swatch first.")
    stitches = tuple(s for s in studio.library.stitches if s is not old)
    return _with_library(studio, replace(studio.library, stitches=stitches))


def add_swatch(studio: Studio, new: Swatch) -> Studio:
    """Add a swatch of a yarn and a stitch that are there."""
    if any(s.key == new.key for s in studio.library.swatches):
        refuse(f"There is a swatch {new.key!r} already; choose another name.")
    _check_swatch(studio, new)
    library = replace(studio.library, swatches=(*studio.library.swatches, new))
    return _with_library(studio, library)


def set_swatch(studio: Studio, new: Swatch) -> Studio:
    """Correct the swatch of that key."""
    old = next((s for s in studio.library.swatches if s.key == new.key), None)
    if old is None:
        refuse(f"There is no swatch {new.key!r} in the library.")
    if new == old:
        return studio
    _check_swatch(studio, new)
    swatches = tuple(new if s is old else s for s in studio.library.swatches)
    return _with_library(studio, replace(studio.library, swatches=swatches))


def remove_swatch(studio: Studio, key: str) -> Studio:
    """Take a swatch out of the library; pieces that rest on it go back to worse evidence."""
    swatches = tuple(s for s in studio.library.swatches if s.key != key)
    if len(swatches) == len(studio.library.swatches):
        refuse(f"There is no swatch {key!r} in the library.")
    return _with_library(studio, replace(studio.library, swatches=swatches))


def swatch_key(studio: Studio, yarn: str, stitch: str, hook_mm: Decimal) -> str:
    """A key for a new swatch, from what it is of, that no swatch has yet."""
    taken = {s.key for s in studio.library.swatches}
    return fresh_key(f"{yarn} {stitch} {hook_mm:f}mm", taken, "swatch")


def set_settings(studio: Studio, **changes: Any) -> Studio:
    """Change the studio's units, money and defaults."""
    unknown = sorted(changes.keys() - {f.name for f in fields(Settings)})
    if unknown:
        raise TypeError(f"there is no setting {', '.join(unknown)}")
    new = replace(studio.settings, **changes)
    if new == studio.settings:
        return studio
    try:
        minor_digits(new.currency)
    except CurrencyError as error:
        refuse(error.text)
    if not (new.rate_per_hour.is_finite() and new.rate_per_hour >= 0):
        refuse(f"A rate of {new.rate_per_hour} an hour makes no sense: it is 0 or more.")
    _check_assumed(new.assumed)
    return replace(studio, settings=new)


def _check_swatch(studio: Studio, new: Swatch) -> None:
    """Refuse a swatch of what is not there, and one that tells nothing."""
    if new.yarn not in studio.library.yarn:
        refuse(f"There is no yarn {new.yarn!r} in the library; add the yarn first.")
    if new.stitch not in studio.library.stitch:
        refuse(f"There is no stitch {new.stitch!r} in the library; add the stitch first.")
    if not (new.hook_mm.is_finite() and new.hook_mm > 0):
        refuse(f"A hook of {new.hook_mm} mm makes no sense: it is more than 0.")
    _check_evidence(new)


def _check_evidence(new: Swatch) -> None:
    """Refuse counts and weighings of nothing."""
    for count in (new.before, new.after):
        if count is not None:
            _check_count(count)
    for weighing in (new.weighed, *new.trials):
        if weighing is None:
            continue
        if weighing.rows <= 0 or weighing.stitches <= 0 or weighing.first_row < 1:
            refuse("A weighing needs rows and stitches of more than 0, and rows from 1 on.")
        amount = weighing.grams if weighing.grams is not None else weighing.balls
        if amount is None or amount <= 0:
            refuse("A weighing needs more than 0 g, or whole balls.")


def _with_library(studio: Studio, library: Library) -> Studio:
    return replace(studio, library=library)


def _check_yarn(new: Yarn) -> None:
    """Refuse figures that no ball band could state."""
    if not new.key or not new.name.strip():
        refuse("A yarn needs a name.")
    if not 0 <= new.category <= 7:
        refuse(f"{new.name} has weight category {new.category}: categories are 0 to 7.")
    for word, amount in (("grams", new.ball_g), ("metres", new.ball_m)):
        if amount is not None and not (amount.is_finite() and amount > 0):
            refuse(f"{new.name} has {amount} {word} in a ball: it must be more than 0.")
    if new.price is not None and not (new.price.is_finite() and new.price >= 0):
        refuse(f"{new.name} has a price of {new.price}: it must be 0 or more.")
    total = sum((f.percent for f in new.fibres), Decimal(0))
    if new.fibres and total != 100:
        refuse(f"The fibres of {new.name} add up to {total} %: they must make 100 %.")
    _check_shades(new)


def _check_shades(new: Yarn) -> None:
    """Refuse shade codes that are not one shade's own, and colours no screen could show."""
    codes = [s.code for s in new.shades]
    for code in codes:
        if not code or codes.count(code) > 1:
            refuse(f"{new.name} has the shade code {code!r} twice or empty: each needs its own.")
    for shade in new.shades:
        if not shade.colours or not all(HEX.match(c) for c in shade.colours):
            found = ", ".join(shade.colours) or "none"
            refuse(f"Shade {shade.name} has the colours {found}: it needs values such as #7A8B69.")


def _check_unused(studio: Studio, shade: ShadeRef, name: str) -> None:
    """Refuse to lose a shade that a lot, a purchase or a project names."""
    if studio.stash.by_shade.get(shade):
        refuse(f"{name} is in the stash, so the shade stays in the yarn.")
    for purchase in studio.stash.purchases:
        if any(ShadeRef(line.yarn, line.shade) == shade for line in purchase.lines):
            refuse(f"{name} is on order ({purchase.key}), so the shade stays in the yarn.")
    for piece in studio.projects:
        if any(slot.shade_ref == shade for slot in piece.slots):
            refuse(f"{name} is in {piece.name}, so the shade stays in the yarn.")
        if any(used.shade_ref == shade for used in piece.used):
            refuse(f"{name} was used for {piece.name}, so the shade stays in the yarn.")


def _check_stitch(new: Stitch) -> None:
    if not new.key or not new.name.strip():
        refuse("A stitch needs a name.")
    if new.multiple < 1:
        refuse(f"{new.name} has a multiple of {new.multiple}: it must be 1 or more.")
    # `extra` may be negative: a rule such as 'a multiple of 6 less 1'.
    if min(new.skipped, new.turning_chain, new.edge_stitches) < 0:
        refuse(f"{new.name} states a negative count of chains or stitches: 0 or more is allowed.")
    if new.stitches_per_repeat is not None and new.stitches_per_repeat < 1:
        refuse(f"{new.name} has {new.stitches_per_repeat} stitches a repeat: 1 or more is allowed.")
    if not new.kinds or new.kinds[-1].rows is not None:
        refuse(f"{new.name} needs a last kind of rows for the body, without a number of rows.")
    for kind in new.kinds:
        if kind.weight <= 0 or (kind.rows is not None and kind.rows < 1):
            refuse(
                f"Rows '{kind.name}' of {new.name} need a weight of more than 0 and 1 row or more."
            )


def _check_count(count: GaugeCount) -> None:
    spans = (count.stitch_span.value, count.row_span.value)
    if min(count.stitches, count.rows, *spans) <= 0:
        refuse(
            f"A gauge of {count.stitches} stitches and {count.rows} rows over {spans[0]} and "
            f"{spans[1]} makes no sense: all must be more than 0."
        )


def _check_assumed(assumed: Assumed) -> None:
    if not Decimal("0.5") <= assumed.confidence < 1:
        refuse(f"A confidence of {assumed.confidence} makes no sense: 0.5 to under 1 is allowed.")
    for field in fields(assumed):
        value = getattr(assumed, field.name)
        amount = value if isinstance(value, Decimal | int) else value.value
        if amount < 0:
            refuse(f"{field.name} is {amount}: it must be 0 or more.")
