"""The report of an import: as lines for a screen, and as data."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from diagnose.loops.index.importing import Imported
from diagnose.loops.index.rows import (
    CHANGED,
    DEFAULT,
    DIFFERS,
    KEPT,
    NEW,
    PROBLEM,
    REJECTED,
    SAME,
    SKIPPED,
    USED,
    Entry,
    Note,
)
from diagnose.terminal.outcome import SCHEMA, Look
from diagnose.terminal.table import table
from diagnose.terminal.wording import count, listed, paragraph

FEW = 40
"""Problems that are shown on a screen unless all are asked for."""


def import_json(done: Imported) -> dict[str, Any]:
    """Every row of every table with what became of it and why."""
    return {
        "schema": SCHEMA,
        "written": not done.dry,
        "tables": dict(done.forms),
        "sheets": {result: done.count(result) for result in (NEW, CHANGED, SAME, KEPT)},
        "rows": [
            {
                "table": row.table,
                "row": row.number,
                "tag": row.tag,
                "result": row.result,
                "notes": [
                    {"column": note.column, "kind": note.kind, "text": note.text}
                    for note in row.notes
                ],
            }
            for row in done.rows
        ],
        "gone": list(done.left),
    }


def import_lines(
    done: Imported, look: Look, *, every: bool = False, fresh: Path | None = None
) -> Iterator[str]:
    """What was read, what became of it, what is wrong row by row, what was assumed."""
    for form in done.forms.values():
        yield from paragraph(form, look, "read  ")
    if fresh:
        yield from paragraph(f"{fresh}: how the columns are read; change it there", look, "made  ")
    yield from paragraph(_summary(done), look)
    if done.dry:
        yield "Nothing was written: this was a trial."
    told = [(row, note) for row in done.rows for note in row.notes]
    shown = [pair for pair in told if every or pair[1].kind in (PROBLEM, DIFFERS)]
    if shown:
        yield ""
        yield from table([_line(*pair) for pair in (shown if every else shown[:FEW])], look)
        more = len(shown) - FEW
        if more > 0 and not every:
            yield from paragraph(
                f"And {more} more: --every shows them, --report FILE writes them.",
                look,
            )
    yield from _assumed(told, look)
    if done.left:
        tags = listed(done.left[:12]) + (" and more" if len(done.left) > 12 else "")
        yield from paragraph(f"Made earlier and no more in the index, left alone: {tags}.", look)


def _summary(done: Imported) -> str:
    parts = [f"{done.count(NEW)} new", f"{done.count(CHANGED)} changed",
             f"{done.count(SAME)} unchanged"]  # fmt: skip
    if done.count(KEPT):
        parts.append(f"{done.count(KEPT)} kept because edited by hand")
    rows = Counter((row.table, row.result) for row in done.rows)
    text = f"Sheets: {', '.join(parts)}."
    for name in done.forms:
        used = rows[(name, USED)]
        bits = [count(used, "row") + " used"] if name != "index" else []
        bits += [f"{count(rows[(name, REJECTED)], 'row')} rejected"]
        if rows[(name, SKIPPED)]:
            bits.append(f"{rows[(name, SKIPPED)]} skipped (headings, titles)")
        text += f" {name.capitalize()}: {', '.join(bits)}."
    return text


def _line(row: Entry, note: Note) -> tuple[str, str, str]:
    head = f"{row.table} {row.number}"
    column = f"{note.column}: " if note.column else ""
    word = "rejected" if row.result == REJECTED and note.kind == PROBLEM else note.kind
    text = note.text.splitlines()
    more = f" ({'; '.join(text[1:5])})" if text[1:] else ""
    return head, row.tag, f"{word}: {column}{text[0]}{more}"


def _assumed(told: list[tuple[Entry, Note]], look: Look) -> Iterator[str]:
    """Empty cells, counted by column and by what was taken for them."""
    kinds = Counter((note.column, note.text) for _, note in told if note.kind == DEFAULT)
    if kinds:
        yield ""
        yield "Empty cells, and what is taken for them:"
        rows = [(column, str(number), text) for (column, text), number in kinds.most_common()]
        yield from table(rows, look, frozenset({1}))
