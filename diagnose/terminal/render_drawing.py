"""The loop as lines of text: place by place, terminal by terminal, in the order of the current."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.circuit.drawing import Marks
from diagnose.circuit.strands import Strand, Strands
from diagnose.loops.loop import Loop
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import table
from diagnose.terminal.wording import paragraph

Row = tuple[str, str, str]


def render(loop: Loop, title: str, found: Strands, marks: Marks, look: Look) -> Iterator[str]:
    """All strands; ``o`` is a terminal, ``|`` a part, ``!`` a suspected one."""
    yield from paragraph(look.strong(title), look)
    for number, ring in enumerate(found.rings):
        source = ring.steps[0].part
        name = "Loop current" if number == 0 else f"Circuit fed by {source}"
        caption = marks.captions.get(source)
        yield ""
        yield from paragraph(f"{name}: {caption}" if caption else name, look)
        yield from _lines(loop, ring, marks, look)
    for branch in found.branches:
        yield ""
        yield from paragraph(f"Branch from {branch.nodes[0]} to {branch.nodes[-1]}", look)
        yield from _lines(loop, branch, marks, look)
    yield ""
    yield "What acts without a wire"
    rows = [
        ("", " -> ".join(chain), "; ".join(filter(None, (_told(name, marks) for name in chain))))
        for chain in found.chains
    ]
    yield from table(rows, look)


def _lines(loop: Loop, strand: Strand, marks: Marks, look: Look) -> Iterator[str]:
    rows: list[Row] = []
    place = ""
    for step in strand.steps:
        part = loop.part(step.part)
        if part.place != place:
            yield from table(rows, look)
            rows, place = [], part.place
            yield look.faint(f"  [{place_title(place, loop)}]")
        sign = "!" if part.name in marks.suspected else "|"
        told = _told(part.name, marks)
        title = part.title or part.kind.title
        rows.append((f"  {sign}", part.name, f"{title}; {told}" if told else title))
        if loop.place_of(step.b):
            rows.append(("  o", step.b, _told(step.b, marks)))
    yield from table(rows, look)


def _told(name: str, marks: Marks) -> str:
    """What is expected, read and suspected at one point or part."""
    said: Sequence[str] = (
        marks.expected.get(name, ""), *marks.read.get(name, ()), marks.suspected.get(name, "")
    )  # fmt: skip
    return "; ".join(filter(None, said))
