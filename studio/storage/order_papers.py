"""Order papers as files: text to mail, a table, and a page to print, for each supplier."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path

from studio.core.buying.papers import OrderPaper, as_csv, as_html, as_text
from studio.core.naming import fresh_key
from studio.core.spreadsheet import CsvForm
from studio.errors import SaveError
from studio.storage.atomic import commit, stage
from studio.storage.disk import reason_of


class PaperKind(StrEnum):
    """How an order is written; its value is the ending of the file."""

    TEXT = "txt"
    TABLE = "csv"
    PAGE = "html"


def write_order_papers(
    folder: Path,
    papers: Iterable[OrderPaper],
    kinds: Iterable[PaperKind] = tuple(PaperKind),
    form: CsvForm | None = None,
) -> tuple[Path, ...]:
    """Write each order in each way; an earlier file of the same day and supplier is replaced.

    Raises `SaveError` where the folder cannot be written to.
    """
    wanted = tuple(kinds)
    written = []
    stems: set[str] = set()
    for paper in papers:
        # Two suppliers whose names come to one key are not to overwrite one another.
        stem = fresh_key(paper.supplier, stems, "supplier")
        stems.add(stem)
        texts = {
            PaperKind.TEXT: as_text(paper),
            PaperKind.TABLE: as_csv(paper, form or CsvForm()),
            PaperKind.PAGE: as_html(paper),
        }
        for kind in wanted:
            file = f"order-{paper.on.isoformat()}-{stem}.{kind.value}"
            try:
                commit(stage(folder, file, texts[kind].encode("utf-8")))
            except OSError as error:
                raise SaveError(
                    f"{folder / file} could not be written: {reason_of(error)}."
                ) from error
            written.append(folder / file)
    return tuple(written)
