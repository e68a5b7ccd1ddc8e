"""`import` and `export`: spreadsheets in and out, row by row as the screens do it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from rich.markup import escape

from studio import clock
from studio.cli import commands
from studio.cli.commands import EXIT_FILE, EXIT_FINE, EXIT_SHORT, CommandError, near, print_json
from studio.cli.plain import new_console, new_table
from studio.cli.report import FORMAT, Json
from studio.cli.words_tables import DATES, DELIMITERS
from studio.core import say
from studio.core.sheets.fates import Change, Fate
from studio.core.sheets.shelving import Lots
from studio.core.sheets.taking import Intake, Request, SheetKind, intake, table_of
from studio.core.spreadsheet import Columns, CsvForm, DateOrder, dated
from studio.storage.papers_out import FileThereError, write_paper
from studio.storage.read import load_studio
from studio.storage.sheets import OpenedTable, open_table, remember
from studio.workshop import Workshop


def run(chosen: argparse.Namespace) -> int:
    """Take a table in or write one; return the exit status."""
    if chosen.command == "export":
        return _export(chosen)
    if chosen.add and chosen.kind != SheetKind.STASH:
        raise CommandError("--add is for the stash: prices and orders are set to what is told.")
    with commands.opened(chosen.folder) as workshop:
        status = _import(chosen, workshop)
        return EXIT_FILE if workshop.snapshot.problems else status


# In


def _import(chosen: argparse.Namespace, workshop: Workshop) -> int:
    kind, folder = SheetKind(chosen.kind), workshop.folder
    found = open_table(
        chosen.file, kind, folder, DELIMITERS.get(chosen.delimiter or ""), chosen.decimal
    )
    columns = _columns(chosen, kind, found)
    request = Request(
        kind, found.table, columns, clock.today(), Lots.ADD if chosen.add else Lots.SET,
        workshop.snapshot.plan.projects,
    )  # fmt: skip
    looked = intake(request, workshop.snapshot.studio)
    may = bool(looked.rows) and (not looked.faulty or chosen.leave_out)
    if may and not chosen.dry_run:
        label = f"{kind.words} from {chosen.file.name}"
        workshop.do(label, lambda s: intake(request, s).taken(leave_out_faulty=chosen.leave_out))
        with commands.undisturbed():
            if folder is not None:
                remember(folder, kind, found.table, columns)
            workshop.save()
    if chosen.json:
        print_json(_document(chosen, request, found, looked, taken=may and not chosen.dry_run))
    else:
        _print(chosen, request, found, looked, may=may)
    return EXIT_SHORT if looked.faulty or not looked.rows else EXIT_FINE


def _columns(chosen: argparse.Namespace, kind: SheetKind, found: OpenedTable) -> Columns:
    """The columns as proposed, with what the command says of them."""
    fields = [f.name for f in kind.fields]
    heads = {h.casefold(): h for h in found.table.headers if h}
    now = dict(found.columns.by_field)
    for words in chosen.columns:
        ours, equals, yours = words.partition("=")
        ours, yours = ours.strip(), yours.strip()
        if not equals:
            raise CommandError(
                f"--columns has '{words}'; write a field and its column, yarn=Brand."
            )
        if ours not in fields:
            hint = near(fields, ours) or f" There are {say.either(fields, 'and')}."
            raise CommandError(f"There is no field '{ours}' in {kind.words}.{hint}")
        now.pop(ours, None)
        if not yours:
            continue
        if yours.casefold() not in heads:
            raise CommandError(
                f"There is no column '{yours}' in {chosen.file.name}; "
                f"its columns are {', '.join(heads.values())}."
            )
        head = heads[yours.casefold()]
        now = {field: h for field, h in now.items() if h != head}
        now[ours] = head
    columns = Columns(tuple((f, now[f]) for f in fields if f in now), found.columns.dates)
    if chosen.dates:
        return Columns(columns.headers, DateOrder(DATES[chosen.dates]))
    return dated(kind.fields, found.table, columns)


def _document(
    chosen: argparse.Namespace,
    request: Request,
    found: OpenedTable,
    looked: Intake,
    *,
    taken: bool,
) -> Json:
    numbers = {
        change.name.lower(): sum(r.change is change for r in looked.rows) for change in Change
    }
    return {
        "format": FORMAT,
        "kind": request.kind.value,
        "file": str(chosen.file),
        "encoding": found.encoding,
        "delimiter": request.table.form.delimiter,
        "decimal": request.table.form.decimal,
        "dates": request.columns.dates.value,
        "columns": dict(request.columns.by_field),
        "unused": list(found.unused(request.columns)),
        "doubts": list(found.doubts),
        "dry_run": chosen.dry_run,
        "taken": taken,
        "counts": numbers,
        "rows": [_row_json(row) for row in looked.rows],
    }


def _row_json(row: Fate) -> Json:
    return {
        "line": row.line,
        "change": row.change.value,
        "what": row.what,
        "words": row.words,
        "problems": list(row.problems),
        "notes": list(row.notes),
    }


def _print(
    chosen: argparse.Namespace,
    request: Request,
    found: OpenedTable,
    looked: Intake,
    *,
    may: bool,
) -> None:
    """Every row that does something or cannot; those that are so already are only counted."""
    console = new_console()
    console.print(f"[bold]{escape(chosen.file.name)}[/]: {looked.text}")
    pairs = [f"{f} = {h}" for f, h in request.columns.by_field.items() if f != h.casefold()]
    unused = found.unused(request.columns)
    if pairs:
        console.print(f"  columns: {escape(', '.join(pairs))}")
    if unused:
        console.print(f"  not used: {escape(', '.join(unused))}")
    for doubt in found.doubts:
        console.print(f"  [bold]caution:[/] {escape(doubt)}")
    rows = [row for row in looked.rows if row.change is not Change.SAME or row.notes]
    if rows:
        table = new_table("line", "", "what", "", right=frozenset({0}))
        for row in rows:
            words = [*row.problems, *filter(None, [row.words]), *row.notes]
            told = escape("\n".join(words))
            table.add_row(str(row.line), row.change.value, escape(row.what), told)
        console.print(table)
    console.print(_outcome(chosen, looked, may=may))


def _outcome(chosen: argparse.Namespace, looked: Intake, *, may: bool) -> str:
    if not looked.rows:
        return "There is no row under the heads, so nothing is taken in."
    if not may:
        others = (
            ""
            if len(looked.faulty) == len(looked.rows)
            else (", or take in the others with --leave-out")
        )
        return f"Nothing is taken in: mend the rows with a problem{others}."
    if not looked.changing:
        return "Nothing to do: everything is in the studio so already."
    if chosen.dry_run:
        return "Nothing is written: this is what would be taken in."
    left = f", {say.count(len(looked.faulty), 'row')} left out" if looked.faulty else ""
    return f"Taken in: {say.count(looked.changing, 'row')}{left}."


# Out


def _export(chosen: argparse.Namespace) -> int:
    place: Path = commands.existing_folder(chosen.folder)
    loaded = load_studio(place)
    commands.say_told(loaded.told)
    form = CsvForm(DELIMITERS[chosen.delimiter or ","], chosen.decimal or ".", bom=chosen.bom)
    text = table_of(SheetKind(chosen.kind), loaded.studio, form)
    if chosen.out is None:
        sys.stdout.write(text)
    else:
        try:
            written = write_paper(chosen.out, text, overwrite=chosen.overwrite)
        except FileThereError as there:
            raise CommandError(
                f"{there.path} is there already; --overwrite writes in its place."
            ) from there
        print(f"Written to {written}")
    for problem in loaded.problems:
        print(f"stripewright: not read: {problem}", file=sys.stderr)
    return EXIT_FILE if loaded.problems else EXIT_FINE
