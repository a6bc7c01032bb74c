"""A whole loop as figures, one below the other: rings, branches, what acts without a wire."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.circuit.figure import Figure
from diagnose.circuit.figure_columns import MANY, Column, branch_column, chain_column, column_figure
from diagnose.circuit.figure_ring import earthed, ring_figures
from diagnose.circuit.lettering import Lettering, Marks
from diagnose.circuit.store import topology
from diagnose.circuit.strands import Strand, Strands, strands
from diagnose.loops.loop import Loop

__all__ = ["Marks", "drawing"]

LONGEST = 12
"""Parts of a branch that are drawn in one column."""


def drawing(loop: Loop, marks: Marks | None = None) -> tuple[Figure, ...]:
    """The figures of a loop, with its ``marks`` written in.

    Latent defects, such as a leak across insulation, are drawn where the marks suspect them.
    Raises CircuitError for a loop whose circuit makes no sense.

    >>> from diagnose.loops.sheet import load_type
    >>> [figure.title for figure in drawing(load_type("rtd-input"))]
    ['Loop current', 'Branches', 'What acts without a wire']
    """
    marks = marks or Marks()
    found = strands(loop, topology(loop), marks.suspected)
    shown = {node for ring in found.rings for node in ring.nodes}
    stubs = [b for b in found.branches if earthed(b) and b.nodes[0] in shown]
    others = [half for b in found.branches if b not in stubs for half in _parted(b, loop)]
    lettering = Lettering(loop, marks, others, stubs)
    return tuple(_figures(found, lettering))


def _figures(found: Strands, lettering: Lettering) -> Iterator[Figure]:
    for number, ring in enumerate(found.rings):
        source = ring.steps[0].part
        caption = lettering.marks.captions.get(source, "")
        title = "Loop current" if number == 0 else f"Circuit fed by {source}"
        title += f": {caption}" if caption else ""
        yield from ring_figures(title, ring, lettering)
    branches = [
        branch_column(number, strand, lettering)
        for number, strand in enumerate(lettering.branches, 1)
    ]
    yield from _sheets("Branches", branches, lettering)
    chains = [chain_column(chain, lettering) for chain in found.chains]
    yield from _sheets("What acts without a wire", chains, lettering)


def _sheets(title: str, columns: Sequence[Column], lettering: Lettering) -> Iterator[Figure]:
    for first in range(0, len(columns), MANY):
        yield column_figure(title, columns[first : first + MANY], lettering)


def _parted(strand: Strand, loop: Loop) -> Iterator[Strand]:
    """A branch, in two where it is long, at the terminal that is nearest its middle."""
    count = len(strand.steps)
    cuts = [n for n in range(2, count - 1) if loop.place_of(strand.nodes[n])]
    if count <= LONGEST or not cuts:
        yield strand
        return
    cut = min(cuts, key=lambda n: abs(n - count / 2))
    yield from _parted(Strand(strand.steps[:cut]), loop)
    yield from _parted(Strand(strand.steps[cut:]), loop)
