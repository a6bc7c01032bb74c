"""The list of cases that every number of the page leads to, and what of them is still open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.review.page.grid import NONE, Cell, Tracer, figure, table
from diagnose.review.page.markup import el, pct
from diagnose.review.rows import CaseRow

OPEN_TITLE, LIST_TITLE = "Still open", "Cases"


def still_open(rows: Sequence[CaseRow], tracer: Tracer) -> Iterator[object]:
    """Cases without an end, and things that were altered and never put back."""
    waiting = [row for row in rows if row.status in ("open", "handed over") and row.part is None]
    left = [row for row in rows if row.open_items]
    yield table(
        "Cases that are open, or were handed over without a confirmed cause",
        ("case", "loop", "opened", "stands", "suspected"),
        [(Cell(tracer.links([row.name])), Cell(row.tag), _day(row), Cell(row.status),
          Cell(_suspected(row), row.suspect_chance)) for row in waiting],
    )  # fmt: skip
    yield table(
        "Altered and not put back",
        ("case", "loop", "opened", "stands", "item"),
        [(Cell(tracer.links([row.name])), Cell(row.tag), _day(row), Cell(row.status), Cell(item))
         for row in left for item in row.open_items],
    )  # fmt: skip


def case_list(rows: Sequence[CaseRow], whole: int) -> Iterator[object]:
    """Every case that is in the page, numbered in the order of time."""
    if whole > len(rows):
        yield el("p", f"{len(rows):,} of {whole:,} cases: those that the numbers above name.")
    heads = ("number", "case", "opened", "loop", "complaint", "stands", "cause", "suspected",
             "readings", "minutes", "note")  # fmt: skip
    count = len(heads) if any(row.note for row in rows) else len(heads) - 1
    lines = [_line(n, row)[:count] for n, row in _numbered(rows)]
    yield table("All cases of this review", heads[:count], lines)


def _numbered(rows: Sequence[CaseRow]) -> Iterator[tuple[int, CaseRow]]:
    return enumerate(rows, 1)


def _line(number: int, row: CaseRow) -> tuple[Cell, ...]:
    anchor = el("span", number, id=f"case-{number}", tabindex="-1")
    return (
        Cell(anchor, float(number), True),
        Cell(row.name),
        _day(row),
        Cell(row.tag),
        Cell(row.complaint or NONE),
        Cell(row.status),
        Cell(_cause(row)),
        Cell(_suspected(row)),
        figure(row.readings, 0),
        figure(row.elapsed, 0),
        Cell(row.note or NONE),
    )


def _day(row: CaseRow) -> Cell:
    return Cell(NONE) if row.day is None else Cell(f"{row.day}", float(row.day.toordinal()))


def _cause(row: CaseRow) -> str:
    return " ".join(filter(None, (row.part, row.fault))) or NONE


def _suspected(row: CaseRow) -> str:
    """What led the last ranking; it is never shown where a cause was confirmed."""
    if row.part is not None or row.suspect_chance is None:
        return NONE
    name = " ".join(filter(None, (row.suspect_part, row.suspect_fault)))
    return f"{name if row.suspect_part else 'loop sound'}, {pct(row.suspect_chance)}"


def listing(rows: Sequence[CaseRow]) -> Tracer:
    """The numbers of the cases in the list."""
    return Tracer({row.name: number for number, row in _numbered(rows)})
