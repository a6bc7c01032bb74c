"""Branches and chains side by side, each down a column of its own.

A terminal that was drawn before is drawn again by its name; columns that begin or end at the same
terminal are joined there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from diagnose.circuit.figure import BIG, SMALL, WIDTH, Figure, Line, Shape, Sign
from diagnose.circuit.figure_rows import Row, by_place, part_row, rows
from diagnose.circuit.lettering import Lettering, Words, height, place_words, set_down
from diagnose.circuit.strands import Strand
from diagnose.loops.loop import EARTH

MANY = 4
"""Columns beside each other."""

COLUMN = WIDTH / MANY
WIRE, LETTERS = 4.0, 8.5
"""The wire and its lettering, mm from the left of the column."""

ROOM = COLUMN - LETTERS - 1.0
PAD = 1.5
ARROW = 3.0
"""Room for an arrow between two signs, mm."""

QUIET = frozenset({"clamp", "wire"})


@dataclass(frozen=True, slots=True)
class Column:
    """One branch or chain: its heading, what it begins and ends at, the rows between."""

    heading: str
    start: str
    end: str
    rows: tuple[tuple[str, list[Row]], ...]
    first: tuple[Words, ...] = ()
    last: tuple[Words, ...] = ()
    wire: str = "wire"


def branch_column(number: int, strand: Strand, lettering: Lettering) -> Column:
    """A branch as a column."""
    latent = any(lettering.loop.part(name).kind.latent for name in strand.parts)
    start, end = strand.nodes[0], strand.nodes[-1]
    room = COLUMN - WIRE - PAD
    return Column(
        f"branch {number}",
        start,
        end,
        tuple(by_place(rows(strand, lettering, ROOM, quiet=QUIET))),
        tuple(lettering.node(start, room, again=True)),
        tuple(lettering.node(end, room, again=True))
        if end != EARTH
        else (Words(EARTH, BIG, len(EARTH)),),
        "dashed" if latent else "wire",
    )


def chain_column(chain: Sequence[str], lettering: Lettering) -> Column:
    """A chain as a column: no wire, but arrows."""
    found = []
    for name in chain:
        part = lettering.loop.part(name)
        found.append(part_row(part, lettering, ROOM, None, QUIET))
    return Column("", "", "", tuple(by_place(found)), wire="arrows")


def column_figure(title: str, some: Sequence[Column], lettering: Lettering) -> Figure:
    """Columns beside each other, ``MANY`` at most, as one figure."""
    words = [[Words(c.heading, SMALL, len(c.heading))] if c.heading else [] for c in some]
    heads = max(map(height, words))
    above = heads + max(height(c.first) for c in some) + PAD
    bodies = [_body(column, lettering) for column in some]
    below = above + max(map(_tall, some, bodies)) + PAD
    shapes: list[Shape] = []
    for number, (column, body, head) in enumerate(zip(some, bodies, words, strict=True)):
        left = number * COLUMN
        shapes += set_down(head, left + WIRE - 1, 0.0)
        shapes += _ends(column, left, above, below)
        shapes += _drawn(column, body, left, above + PAD)
    shapes = [*_joined(some, above, below), *shapes]
    return Figure(title, below + max(height(c.last) for c in some) + 3 * PAD, tuple(shapes))


def _body(column: Column, lettering: Lettering) -> list[list[Words] | Row]:
    """Rows with the place written before each run of them."""
    found: list[list[Words] | Row] = []
    for place, some in column.rows:
        found.append(place_words(lettering.loop, place, ROOM))
        found += some
    return found


def _tall(column: Column, body: Sequence[list[Words] | Row]) -> float:
    return sum(_room(item, column) for item in body)


def _room(item: list[Words] | Row, column: Column) -> float:
    """Height of a row or of the name of a place; an arrow needs a little more."""
    if isinstance(item, Row):
        return item.height + (ARROW if column.wire == "arrows" else 0.0)
    return height(item) + 1


def _ends(column: Column, left: float, above: float, below: float) -> Iterator[Shape]:
    """The wire with the terminals at its ends; their names stand clear of it."""
    if not column.start:
        return
    x = left + WIRE
    yield Line(((x, above), (x, below)), column.wire)
    yield Sign("node", x, above)
    yield from set_down(column.first, x - 1, above - height(column.first) - PAD)
    yield Sign("earth" if column.end == EARTH else "node", x, below)
    beside = x + (4 if column.end == EARTH else -1)
    yield from set_down(column.last, beside, below + PAD)


def _drawn(
    column: Column, body: Sequence[list[Words] | Row], left: float, y: float
) -> Iterator[Shape]:
    x = left + WIRE
    before: float | None = None
    for item in body:
        if isinstance(item, Row):
            middle = y + item.height / 2
            if column.wire == "arrows" and before is not None:
                yield Line(((x, before + 4), (x, middle - 4)), "arrow")
            yield from item.shapes(x, y, LETTERS - WIRE)
            before = middle
        else:
            yield from set_down(item, left + LETTERS, y + 0.5)
        y += _room(item, column)


def _joined(some: Sequence[Column], above: float, below: float) -> Iterator[Shape]:
    """Lines between neighbours that begin, or end, at the same terminal."""
    for number, (one, other) in enumerate(pairwise(some)):
        x = number * COLUMN + WIRE
        for y, same in ((above, one.start == other.start), (below, one.end == other.end)):
            if same and one.start and other.start:
                yield Line(((x, y), (x + COLUMN, y)))
