"""Rows of a wire that runs down the page: terminals and parts, with their lettering and place."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from diagnose.circuit.figure import Shape, Sign
from diagnose.circuit.lettering import Lettering, Words, height, set_down
from diagnose.circuit.strands import Strand
from diagnose.loops.loop import Part

SIGN = 8.0
"""Length of a sign along its wire, mm."""

HALF = 2.2
"""Half its width."""

_QUIET = frozenset({"clamp"})
"""Signs that need no words beside their name: every loop has dozens of them."""


@dataclass(frozen=True, slots=True)
class Row:
    """A terminal (``sign`` is ``node``) or a part, ``height`` mm of the page high.

    ``forward``: the way leads from its first terminal on.
    """

    name: str
    sign: str
    place: str
    lines: tuple[Words, ...]
    suspected: bool = False
    latent: bool = False
    least: float = 0.0
    forward: bool = True

    @property
    def height(self) -> float:
        """What the row takes of the page."""
        own = 1.0 if self.sign == "node" else 6.0 if self.sign in _QUIET else SIGN + 1.5
        return max(own, height(self.lines) + 1.2, self.least)

    def shapes(self, x: float, top: float, side: float, *, down: bool = True) -> Iterator[Shape]:
        """The row on a wire at ``x`` that leads down the page or up; lettering ``side`` beside."""
        middle = top + self.height / 2
        turn = 90 if self.forward is down else 270
        yield Sign(self.sign, x, middle, turn, self.suspected, self.latent)
        anchor = "start" if side > 0 else "end"
        yield from set_down(self.lines, x + side, middle - height(self.lines) / 2, anchor)


def rows(
    strand: Strand,
    lettering: Lettering,
    room: float,
    shown: Sequence[str] = (),
    quiet: frozenset[str] = _QUIET,
) -> list[Row]:
    """All rows of a strand in its order, but for the source of a ring and the ends of a branch.

    Nodes that no lead reaches and nothing leaves have none.  ``shown`` are nodes that are drawn
    elsewhere; parts whose signs are ``quiet`` go without their title.
    """
    found: list[Row] = []
    drawn = {*strand.nodes, *shown}
    last = len(strand.steps) - 1
    for number, step in enumerate(strand.steps):
        part = lettering.loop.part(step.part)
        if number or not strand.ring:
            row = part_row(part, lettering, room, drawn, quiet)
            forward = step.a == next(iter(part.pins.values()))
            found.append(replace(row, forward=forward))
        if number < last or strand.ring:
            found += node_row(step.b, lettering, room, part.place)
    return found


def part_row(
    part: Part,
    lettering: Lettering,
    room: float,
    drawn: Collection[str] | None,
    quiet: frozenset[str] = _QUIET,
) -> Row:
    """The row of a part; terminals that are not ``drawn`` are told beside it.

    None is for a part in a chain, where no terminal matters.
    """
    kind = part.kind
    lines = [
        *lettering.part(part, room, title=kind.symbol not in quiet, wired=drawn is not None),
    ]
    if drawn is not None:
        lines += lettering.beside(part, drawn, room)
    suspected = part.name in lettering.marks.suspected
    return Row(part.name, kind.symbol, part.place, tuple(lines), suspected, kind.latent)


def node_row(name: str, lettering: Lettering, room: float, near: str) -> Iterator[Row]:
    """The row of a terminal, or of a node that something leaves; ``near`` is the place around."""
    place = lettering.loop.place_of(name)
    if place or lettering.knot(name):
        yield Row(name, "node", place or near, tuple(lettering.node(name, room)))


def by_place(rows: Iterable[Row]) -> list[tuple[str, list[Row]]]:
    """Runs of rows at one place."""
    runs: list[tuple[str, list[Row]]] = []
    for row in rows:
        if runs and row.place == runs[-1][0]:
            runs[-1][1].append(row)
        else:
            runs.append((row.place, [row]))
    return runs


def total(rows: Iterable[Row]) -> float:
    """Height of rows together."""
    return sum(row.height for row in rows)
