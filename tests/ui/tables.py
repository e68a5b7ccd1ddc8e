"""A table of hers for the tests of the dialogs, and those dialogs over the demo."""

from __future__ import annotations

from datetime import date

from studio.core.sheets.shelving import Lots
from studio.core.sheets.taking import Request, SheetKind, intake
from studio.core.spreadsheet import Columns, DateOrder, proposed, read_table
from studio.ui.app import StripewrightApp
from studio.ui.tables.matching import MatchSheet
from studio.ui.tables.rows import RowsSheet

HERS = (
    "Qualität;Farbe;Partie;Knäuel;Preis;Gekauft;Ort\n"
    "Fenlight;Damson;1188;5;7,40;3.11.2026;box 1\n"
    "Fenlight;Damson;1203;1;;;\n"
    "Fenlight;Oat;2318;4;7,40;31.10.2026;box 3\n"
    "Fenlight;Hether;1;1;;;\n"
    "Osierwold;1;x;-2;4,90;31.12.2026;\n"
    "Fenlight;1;2401;6;7,10;20.11.2026;box 3\n"
    "Withyspun;Beet;W-0405;6;4,60;;shed\n"
)
COLUMNS = Columns(
    (
        ("yarn", "Qualität"), ("shade", "Farbe"), ("lot", "Partie"), ("balls", "Knäuel"),
        ("price", "Preis"), ("bought", "Gekauft"), ("kept", "Ort"),
    ),
    DateOrder.DAY_FIRST,
)  # fmt: skip
DAY = date(2026, 11, 20)


def show_columns(app: StripewrightApp) -> None:
    """The columns of her table, none of which has a name of ours."""
    table = read_table(HERS)
    columns = proposed(SheetKind.STASH.fields, table, None)
    app.push_screen(MatchSheet(Request(SheetKind.STASH, table, columns, DAY), "shelf.csv"))


def show_rows(app: StripewrightApp) -> None:
    """The rows of her table, each kind of fate among them."""
    request = Request(SheetKind.STASH, read_table(HERS), COLUMNS, DAY, Lots.SET)
    looked = intake(request, app.view.studio)
    app.push_screen(RowsSheet(looked, "Take in the stash: shelf.csv"))
