"""An operating point on a screen: what is shown, the voltages, the loop part by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diagnose.circuit.operating import OperatingPoint
from diagnose.loops.loop import Loop, Part
from diagnose.quantities import format_quantity
from diagnose.terminal.indications import Indication
from diagnose.terminal.outcome import Look
from diagnose.terminal.table import grid
from diagnose.terminal.wording import paragraph

FAINT = 1e-6
"""Currents below this are those of sound insulation, ampere."""


def render(
    loop: Loop, title: str, point: OperatingPoint, seen: Sequence[Indication], look: Look
) -> Iterator[str]:
    """All lines of ``simulate``."""
    yield from paragraph(f"{loop.tag}, {title}.", look)
    yield ""
    shown = [(item.part, _title(loop.part(item.part)), item.text()) for item in seen]
    yield from grid(("shows", "", "value"), shown, look)
    yield ""
    volts = [
        (node, format_quantity(point.voltages[node], "V"), loop.place_of(node) or "")
        for node in loop.nodes
        if loop.place_of(node) and node != loop.reference
    ]
    head = ("point", f"to {loop.reference}", "reached from")
    yield from grid(head, volts, look, frozenset({1}))
    yield ""
    yield from _parts(loop, point, look)


def _parts(loop: Loop, point: OperatingPoint, look: Look) -> Iterator[str]:
    """Parts that carry current, with the drop across them; those at rest are counted."""
    rows = [_row(part, point) for part in loop.parts if _carries(part, point)]
    head = ("part", "current", "drop", "state", "is")
    yield from grid(head, rows, look, frozenset({1, 2}))
    rest = len([part for part in loop.parts if part.pins]) - len(rows)
    yield from paragraph(f"{rest} further parts carry less than 1 microampere.", look)


def _carries(part: Part, point: OperatingPoint) -> bool:
    return abs(point.currents.get(part.name, 0.0)) > FAINT


def _row(part: Part, point: OperatingPoint) -> tuple[str, str, str, str, str]:
    a, b = [*part.pins.values()][:2]
    return (
        part.name,
        format_quantity(point.currents[part.name], "A"),
        format_quantity(point.voltages[a] - point.voltages[b], "V"),
        point.regimes.get(part.name, ""),
        _title(part),
    )


def _title(part: Part) -> str:
    return part.title or part.kind.title
