"""Pages with a drawing: the drawing alone, and the sheet that one takes to the cabinet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from diagnose.circuit.figure import Figure
from diagnose.inference.expected import ExpectedTable
from diagnose.inference.reading_text import describe_condition
from diagnose.loops.loop import Loop, Place
from diagnose.quantities import format_quantity
from diagnose.review.page.markup import Markup, el, join
from diagnose.terminal.html_page import LEGEND, MARK, cautions, figures, page, table

__all__ = ["MARK", "drawing_page", "drawing_part", "expect_page"]

HEAD = (
    "What a sound loop shows; +- is the widest band of meter, parts and displays together, about "
    "95 %. The last column is for your own reading."
)


def drawing_page(loop: Loop, title: str, drawn: Sequence[Figure]) -> str:
    """The drawing with its cautions and its legend."""
    return page(title, el("h1", title), _facts(loop), cautions(loop), *drawing_part(drawn))


def expect_page(
    loop: Loop,
    found: ExpectedTable,
    cells: Sequence[Sequence[str]],
    drawn: Sequence[Figure],
) -> str:
    """The expected readings of a loop, place by place, and its drawing.

    ``cells`` are the rows of ``found`` as text: reading, one value each, unit, band.
    """
    title = f"{loop.tag}: expected readings"
    told = [el("h1", title, f", {loop.service}" if loop.service else ""), _facts(loop)]
    if found.condition:
        told.append(el("p", f"With {describe_condition(found.condition, loop)}."))
    rows = zip(found.rows, cells, strict=True)
    head = ("reading", *(format_quantity(at, "1") for at in found.at), "unit", "+-", "read")
    styles = ("", *("number" for _ in found.at), "", "number", "blank")
    tables = []
    for place, some in groupby(rows, key=lambda pair: pair[0].place):
        tables.append(el("h2", _place(loop.place(place))))
        cells_here = [(_names(cell[0]), *cell[1:], "") for _, cell in some]
        tables.append(table(head, cells_here, styles))
    return page(title, told, cautions(loop), el("p", HEAD), tables, *drawing_part(drawn))


def _names(reading: str) -> Markup:
    """A reading whose terminals are each kept in one piece."""
    return join([(el("span", word, class_="word"), " ") for word in reading.split()])


def _place(place: Place) -> str:
    area = "" if place.area == "safe" else f", {place.area}"
    return f"{place.title or place.name}{area}"


def _facts(loop: Loop) -> Markup:
    unit, low, high = loop.range
    span = f"range {low:g} to {high:g} {unit}" if unit else ""
    sheet = f"sheet {loop.digest[:8]}" if loop.digest else ""
    facts = (
        f"loop type {loop.type}" if loop.type else "",
        span,
        f"reference {loop.reference}",
        sheet,
    )
    return el("p", "; ".join(filter(None, facts)), ".")


def drawing_part(drawn: Sequence[Figure]) -> Iterator[object]:
    """The figures of a drawing, and how to read them."""
    yield from figures(drawn)
    yield el("p", LEGEND, class_="legend")
