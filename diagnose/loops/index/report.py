"""The report of an import as CSV, one line for each note and for each row without one."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

from diagnose.loops.index.importing import Imported

HEAD = ("table", "row", "tag", "result", "column", "kind", "note")
_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def inert(cell: object) -> str:
    """A cell that no spreadsheet takes for a formula: one that begins like one gets an apostrophe.

    The signs are those of OWASP, CSV Injection; ``|`` and ``%`` begin commands in old programs.
    """
    text = str(cell)
    return f"'{text}" if text.lstrip(" ").startswith(_STARTS) else text


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
