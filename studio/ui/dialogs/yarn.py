"""Dialogs about yarns and shades: add one, correct it, remove it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from difflib import get_close_matches
from typing import TYPE_CHECKING

from studio.core import categories, edits, library_say, say
from studio.core.model import Fibre, Library, Shade, Studio, Yarn
from studio.core.naming import fresh_key
from studio.ui.dialogs import entries
from studio.ui.dialogs.desk import YES_NO, choose, fill_in, refused
from studio.ui.dialogs.form import Field, Values
from studio.ui.dialogs.piece import figure

if TYPE_CHECKING:
    from studio.ui.app import StripewrightApp

NO_FIBRES = "such as cotton 60, wool 40; empty: not known"


def fibres(entry: str) -> tuple[Fibre, ...]:
    """'cotton 60, wool 40' as fibres; one alone is all of it, and none at all is not known."""
    found = []
    for part in filter(None, (p.strip() for p in entry.split(","))):
        match = re.fullmatch(r"(.*?)\s*(\d{1,3}(?:\.\d{1,2})?)?\s*%?", part)
        name = match[1] if match else part
        percent = Decimal(match[2]) if match and match[2] else Decimal(100)
        found.append(Fibre(name.strip(), percent))
    if found and (sum(f.percent for f in found) != 100 or not all(f.name for f in found)):
        raise ValueError("Fibres are percents that make 100, such as cotton 60, wool 40.")
    return tuple(found)


def _yes(text: str) -> bool:
    return text == "yes"


def _said(yes: bool) -> str:
    return "yes" if yes else "no"


def _yarns(library: Library, own: str) -> Callable[[str], tuple[str, ...]]:
    """Reads names of yarns, parted by commas, as their keys."""
    keys = {yarn.name.casefold(): yarn.key for yarn in library.yarns if yarn.key != own}

    def check(entry: str) -> tuple[str, ...]:
        names = [part.strip() for part in entry.split(",") if part.strip()]
        for name in names:
            if name.casefold() not in keys:
                near = get_close_matches(name.casefold(), keys, n=1)
                hint = f" Did you mean {library.yarn[keys[near[0]]].name}?" if near else ""
                raise ValueError(f"There is no other yarn called {name}.{hint}")
        return tuple(dict.fromkeys(keys[name.casefold()] for name in names))

    return check


def yarn_fields(currency: str, old: Yarn | None = None) -> list[Field]:
    """The fields of a yarn, as they stand on a ball band; more of them for one that is there."""
    kinds = tuple((str(i), categories.words(i)) for i in range(8))
    fields = [
        Field("name", "yarn", old.name if old else "", entries.text("The name"),
              "as it stands on the ball band"),
        Field("category", "weight", str(old.category) if old else "4", int, options=kinds),
        Field("ball_g", "grams a ball", figure(old.ball_g) if old else "50",
              entries.number("Grams", "0", "5000", above=True)),
        Field("ball_m", "metres a ball", figure(old.ball_m) if old else "",
              entries.optional(entries.number("Metres", "0", "50000", above=True)), "may be empty"),
        Field("price", f"price a ball {currency}", figure(old.price) if old else "",
              entries.optional(entries.number("The price")), "today's price; may be empty"),
        Field("fibres", "fibres", library_say.fibre_words(old) if old else "", fibres, NO_FIBRES),
        Field("no_dye_lot", "without dye lots", _said(bool(old and old.no_dye_lot)), _yes,
              options=YES_NO),
    ]  # fmt: skip
    if old is None:
        return fields
    return [
        *fields,
        Field("care", "care", old.care, entries.line, hint="in words: machine wash 30 C, dry flat"),
        Field("discontinued", "discontinued", _said(old.discontinued), _yes, options=YES_NO),
    ]


def yarn_from(values: Values, old: Yarn) -> Yarn:
    """A yarn with what its fields say."""
    metres, price, made_of = values["ball_m"], values["price"], values["fibres"]
    others = values.get("works_with", old.works_with)
    return replace(
        old,
        name=str(values["name"]),
        category=int(str(values["category"])),
        fibres=made_of if isinstance(made_of, tuple) else (),
        ball_g=Decimal(str(values["ball_g"])),
        ball_m=metres if isinstance(metres, Decimal) else None,
        price=price if isinstance(price, Decimal) else None,
        no_dye_lot=bool(values["no_dye_lot"]),
        care=str(values.get("care", old.care)),
        discontinued=bool(values.get("discontinued", old.discontinued)),
        works_with=others if isinstance(others, tuple) else (),
    )


def blank_yarn(name: str, studio: Studio) -> Yarn:
    """A yarn of this name with nothing stated yet, under a key that is free."""
    key = fresh_key(name, studio.library.yarn, "yarn")
    return Yarn(key, name, 4, (), Decimal(50), ())


def shade_fields(old: Shade | None = None) -> list[Field]:
    """The fields of a shade; more of them for one that is there."""
    fields = [
        Field("name", "shade", old.name if old else "", entries.text("The name"),
              "its name on the band, or your own"),
        Field("colours", "colour on the screen", " ".join(old.colours) if old else "",
              entries.colours, "olive, teal or #6b8f71; several: variegated", shade=True),
    ]  # fmt: skip
    if old is None:
        number = Field("code", "number", hint="the maker's number; empty: made from the name")
        return [fields[0], number, fields[1]]
    return [
        *fields,
        Field("staple", "always kept", _said(old.staple), _yes, options=YES_NO),
        Field("discontinued", "discontinued", _said(old.discontinued), _yes, options=YES_NO),
    ]


def shade_from(values: Values, taken: tuple[Shade, ...]) -> Shade:
    """A new shade from its fields."""
    name = str(values["name"])
    code = str(values["code"]) or fresh_key(name, {s.code for s in taken}, "shade")
    colours = values["colours"]
    return Shade(code, name, colours if isinstance(colours, tuple) else ())


async def new_yarn(app: StripewrightApp, subject: object) -> None:
    """A new yarn with its first shade, or one more shade of a yarn that is there."""
    library = app.view.studio.library
    found: object = subject if subject in library.yarn else "new"
    if library.yarns and found == "new" and subject != "new":
        rows = [("new", "a new yarn", "a product line with its first shade")]
        rows += [
            (y.key, y.name, f"one more shade; it has {say.count(len(y.shades), 'shade')}")
            for y in library.yarns
        ]
        found = await choose(app, "Yarns and shades", rows, narrow=len(rows) > 8)
    if found is None:
        return
    yarn = library.yarn.get(str(found))
    if yarn is None:
        values = await fill_in(
            app, "new yarn", "A new yarn", yarn_fields(app.view.settings.currency), verb="go on"
        )
        if values is None:
            return
        yarn = yarn_from(values, blank_yarn(str(values["name"]), app.view.studio))
    await add_shade(app, yarn)


async def add_shade(app: StripewrightApp, yarn: Yarn) -> bool:
    """One more shade of a yarn, which is put into the library with it where it is new."""

    def change(values: Values) -> Callable[[Studio], Studio]:
        whole = replace(yarn, shades=(*yarn.shades, shade_from(values, yarn.shades)))

        def put(studio: Studio) -> Studio:
            known = yarn.key in studio.library.yarn
            return (edits.set_yarn if known else edits.add_yarn)(studio, whole)

        return put

    values = await fill_in(
        app, f"shade {yarn.key}", f"A shade of {yarn.name}", shade_fields(), verb="add it",
        refused=refused(app, change)
    )  # fmt: skip
    if values is None:
        return False
    shade = shade_from(values, yarn.shades)
    stand = ("shade", yarn.key, shade.code)
    return app.edit(f"{yarn.name} {shade.name} added", change(values), stand)


async def correct_yarn(app: StripewrightApp, key: str) -> None:
    """Put a yarn right."""
    yarn = app.view.studio.library.yarn[key]

    def change(values: Values) -> Callable[[Studio], Studio]:
        return lambda studio: edits.set_yarn(studio, yarn_from(values, studio.library.yarn[key]))

    library = app.view.studio.library
    others = ", ".join(library.yarn[k].name for k in yarn.works_with if k in library.yarn)
    fields = [
        *yarn_fields(app.view.settings.currency, yarn),
        Field("works_with", "works with", others, _yarns(library, key),
              "names of yarns, parted by commas"),
    ]  # fmt: skip
    values = await fill_in(app, f"yarn {key}", yarn.name, fields, refused=refused(app, change))
    if values is not None:
        app.edit(f"{yarn.name} corrected", change(values), ("yarn", key))


async def correct_shade(app: StripewrightApp, key: str, code: str) -> None:
    """Put a shade right; its number stays, since lots and pieces go by it."""
    yarn = app.view.studio.library.yarn[key]
    old = yarn.shade(code)
    if old is None:
        return

    def change(values: Values) -> Callable[[Studio], Studio]:
        colours = values["colours"]
        new = replace(
            old,
            name=str(values["name"]),
            colours=colours if isinstance(colours, tuple) else old.colours,
            staple=bool(values["staple"]),
            discontinued=bool(values["discontinued"]),
        )
        shades = tuple(new if s.code == code else s for s in yarn.shades)
        return lambda studio: edits.set_yarn(studio, replace(yarn, shades=shades))

    values = await fill_in(
        app, f"shade {key} {code}", f"{yarn.name} {old.name}", shade_fields(old),
        note=f"Number {code}.", refused=refused(app, change)
    )  # fmt: skip
    if values is not None:
        app.edit(f"{yarn.name} {old.name} corrected", change(values), ("shade", key, code))


def remove_shade(app: StripewrightApp, key: str, code: str) -> None:
    """Take a shade out of its yarn; one in use stays, and says where."""
    yarn = app.view.studio.library.yarn[key]
    shades = tuple(s for s in yarn.shades if s.code != code)
    name = app.view.studio.library.shade[key, code].name  # type: ignore[index]
    app.edit(
        f"{yarn.name} {name} removed", lambda s: edits.set_yarn(s, replace(yarn, shades=shades))
    )
