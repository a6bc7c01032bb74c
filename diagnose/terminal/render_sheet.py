"""A sheet as text: the loop drawn as lines of terminals and parts, what it is told and assumes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.circuit.store import topology
from diagnose.circuit.strands import Step, Strand, strands
from diagnose.loops.loop import Loop, Part, Place
from diagnose.quantities import format_quantity
from diagnose.terminal.naming import place_title
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import grid
from diagnose.terminal.wording import folded, listed, paragraph


def sheet_lines(loop: Loop, look: Look) -> Iterator[str]:
    """All that a sheet says: head, places, the loop drawn, values told, values assumed."""
    unit, low, high = loop.range
    text = f"{loop.tag}, {loop.service}" if loop.service else loop.tag
    yield look.strong(text)
    role = f"; {listed(sorted(loop.role))}" if loop.role else ""
    yield from paragraph(f"{loop.type or 'no type'}, {low:g} to {high:g} {unit}{role}", look)
    yield ""
    rows = [(p.name, p.area, _minutes(p), p.title) for p in loop.places]
    yield from grid(("place", "area", "walk", "is"), rows, look)
    yield ""
    yield from _drawn(loop, look)
    yield from _told(loop, look)
    for item in loop.neighbours:
        through = listed(sorted(item.through))
        yield from paragraph(f"Beside it: {item.tag}, {item.title} (through {through}).", look)


def _minutes(place: Place) -> str:
    wait = f", permit {place.permit:g} min" if place.permit else ""
    return f"{place.minutes:g} min{wait}"


# -- the loop as lines ---------------------------------------------------------------------------


def _drawn(loop: Loop, look: Look) -> Iterator[str]:
    """Parts in brackets between the terminals that a lead reaches, place by place."""
    found = strands(loop, topology(loop))
    for number, ring in enumerate(found.rings):
        yield look.strong("Loop current:" if not number else "Another circuit:")
        yield from _strand(loop, ring, look)
    branches = [" ".join(_tokens(loop, strand.steps)) for strand in found.branches]
    if branches:
        yield look.strong("Branches:")
        yield from (line for text in branches for line in folded(text, look.width, "  ", "    "))
    if found.chains:
        yield look.strong("Without wires:")
        for chain in found.chains:
            yield from folded(" - ".join(f"[{name}]" for name in chain), look.width, "  ", "    ")
    yield ""


def _strand(loop: Loop, strand: Strand, look: Look) -> Iterator[str]:
    """A ring, each stretch under the place where its parts are."""
    here, steps = "", list[Step]()
    for step in strand.steps:
        place = loop.part(step.part).place
        if place != here and steps:
            yield from _stretch(loop, here, steps, look)
            steps = []
        here = place
        steps.append(step)
    yield from _stretch(loop, here, steps, look)


def _stretch(loop: Loop, place: str, steps: Sequence[Step], look: Look) -> Iterator[str]:
    yield from paragraph(place_title(place, loop), look, "  ")
    yield from folded(" ".join(_tokens(loop, steps)), look.width, "    ", "    ")


def _tokens(loop: Loop, steps: Sequence[Step]) -> Iterator[str]:
    """``X21:1 [F1] X21:3``: parts that no terminal parts stand in one pair of brackets."""
    inside: list[str] = []
    if loop.place_of(steps[0].a) is not None:
        yield steps[0].a
    for step in steps:
        inside.append(step.part)
        if loop.place_of(step.b) is not None:
            yield f"[{' '.join(inside)}]"
            yield step.b
            inside = []
    if inside:
        yield f"[{' '.join(inside)}]"


# -- values --------------------------------------------------------------------------------------


def _told(loop: Loop, look: Look) -> Iterator[str]:
    rows = [(part.name, part.title, _values(part)) for part in loop.parts if _values(part)]
    if rows:
        yield look.strong("Told by the sheet:")
        yield from grid(("part", "is", "values"), rows, look)
        yield ""
    left = sum(bool(part.assumed) for part in loop.parts)
    yield from paragraph(
        f"{len(loop.parts)} parts, {len(loop.points)} points. {left} parts have values that the "
        "sheet leaves to the loop type; diagnose sheet show --json lists all.", look,
    )  # fmt: skip


def _values(part: Part) -> str:
    """The values that the sheet itself gives."""
    names = [p for p in part.kind.parameters if p.typed and p.name not in part.assumed]
    texts = [f"{p.name} {format_quantity(part.values[p.name], p.unit)}" for p in names]
    return ", ".join(texts)
