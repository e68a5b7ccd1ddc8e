"""The library in words: what a yarn, a stitch and a swatch state, one short line each."""

from __future__ import annotations

from studio.core import categories, say
from studio.core import gauge as gauges
from studio.core.answers import Measure
from studio.core.model import Library, RowKind, Settings, Shade, Stitch, Swatch, Weighing, Yarn

FIBRES_UNKNOWN = "fibres not known"


def yarn_words(yarn: Yarn, settings: Settings) -> str:
    """'4 Medium, 50 g, 105 m, 4.20 EUR a ball'."""
    parts = [categories.words(yarn.category), say.grams(yarn.ball_g)]
    if yarn.ball_m is not None:
        parts.append(say.yarn_length(yarn.ball_m, settings.length_unit))
    price = f"{say.money(yarn.price, settings.currency)} a ball" if yarn.price is not None else ""
    return ", ".join(filter(None, (*parts, price or "no price")))


def fibre_words(yarn: Yarn) -> str:
    """'wool 80, nylon 20' as it may be typed; empty where they are not known."""
    return ", ".join(f"{f.name} {f.percent:f}" for f in yarn.fibres)


def yarn_detail(yarn: Yarn, library: Library) -> tuple[str, ...]:
    """What else its ball band says: fibres, care, what is special."""
    special = [
        "without dye lots" if yarn.no_dye_lot else "",
        "discontinued" if yarn.discontinued else "",
    ]
    others = [library.yarn[key].name for key in yarn.works_with if key in library.yarn]
    if others:
        special.append(f"works with {say.either(others, 'and')}")
    lines = (fibre_words(yarn) or FIBRES_UNKNOWN, yarn.care, ", ".join(filter(None, special)))
    return tuple(filter(None, lines))


def shade_words(shade: Shade) -> str:
    """Its number, and whether it is always kept or can no longer be had."""
    parts = [f"no. {shade.code}"]
    parts += ["always kept"] if shade.staple else []
    parts += ["discontinued"] if shade.discontinued else []
    return ", ".join(parts)


def stitch_words(stitch: Stitch) -> str:
    """'chain a multiple of 6 plus 1, 2 skipped, turning chain of 3 is a stitch'."""
    extra = ""
    if stitch.extra:
        extra = f" {'plus' if stitch.extra > 0 else 'less'} {abs(stitch.extra)}"
    chain = "any number" if stitch.multiple == 1 else f"a multiple of {stitch.multiple}"
    turn = f"turning chain of {stitch.turning_chain}"
    turn += " is a stitch" if stitch.turning_counts else ""
    return f"chain {chain}{extra}, {stitch.skipped} skipped, {turn}"


def kinds_words(stitch: Stitch) -> str:
    """The rows that differ from the body, as they may be typed: 'foundation 1 x 1.15'."""
    return ", ".join(_kind(kind) for kind in stitch.kinds if kind.rows is not None)


def _kind(kind: RowKind) -> str:
    weight = f" x {kind.weight:f}" if kind.weight != 1 else ""
    return f"{kind.name} {kind.rows}{weight}"


def gauge_words(swatch: Swatch, library: Library, settings: Settings) -> str:
    """'12 stitches and 8 rows to 10 cm, washed'; empty where nothing usable was counted."""
    stitch = library.stitch.get(swatch.stitch)
    found = gauges.gauge_of_swatches([swatch], stitch)
    if found is None:
        return ""
    unit = settings.length_unit
    what = "repeats" if found.in_repeats else "stitches"
    across = say.gauge(found.stitches_per_cm, what, unit).partition(" to ")[0]
    washed = "washed" if found.measure is Measure.WASHED else "before washing"
    return f"{across} and {say.gauge(found.rows_per_cm, 'rows', unit)}, {washed}"


def weighing_words(weighing: Weighing) -> str:
    """'18.5 g worked 12 rows of 14 stitches', with minutes where they were taken."""
    amount = say.grams(weighing.grams) if weighing.grams is not None else ""
    if weighing.balls is not None:
        amount = f"{weighing.balls:f} {'ball' if weighing.balls == 1 else 'balls'}"
    words = f"{amount} worked {weighing.rows:f} rows of {weighing.stitches:f} stitches"
    return words + (f" in {weighing.minutes:f} min" if weighing.minutes is not None else "")


def swatch_name(swatch: Swatch, library: Library) -> str:
    """'Fell wool, half double crochet, 5.5 mm'."""
    yarn, stitch = library.yarn.get(swatch.yarn), library.stitch.get(swatch.stitch)
    named = (yarn.name if yarn else swatch.yarn, stitch.name if stitch else swatch.stitch)
    return f"{named[0]}, {named[1].lower()}, {swatch.hook_mm:f} mm"
