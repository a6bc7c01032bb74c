"""The report of an import as CSV, one line for each note and for each row without one."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from diagnose.loops.cells import inert
from diagnose.loops.index.importing import Imported

HEAD = ("table", "row", "tag", "result", "column", "kind", "note")


def report_csv(done: Imported) -> str:
    """Every row of every table with what became of it and why, as CSV."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(HEAD)
    writer.writerows([inert(cell) for cell in line] for line in _lines(done))
    return text.getvalue()


def _lines(done: Imported) -> Iterable[tuple[object, ...]]:
    for row in done.rows:
        head = (row.table, row.number, row.tag, row.result)
        if not row.notes:
            yield (*head, "", "", "")
        for note in row.notes:
            yield (*head, note.column, note.kind, note.text)
