"""``why``: the formula behind a voltage or a current, the numbers put in, the result."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from typing import TYPE_CHECKING

from diagnose.errors import UnknownNameError
from diagnose.inference.reading_names import find_node, find_part, known_nodes
from diagnose.loops.loop import Loop
from diagnose.terminal.arguments import UsageError
from diagnose.terminal.as_json import Json, number
from diagnose.terminal.find_changes import Situation, situation
from diagnose.terminal.find_loop import find_loop, plant_of
from diagnose.terminal.outcome import SCHEMA, Look, Outcome
from diagnose.terminal.wording import paragraph

if TYPE_CHECKING:
    from diagnose.circuit.explain import Explanation


def why(arguments: Namespace) -> Outcome:
    """Explain the voltage of a point, or between two; or the current through a part."""
    loop = find_loop(arguments.loop, plant_of(arguments))
    moved = situation(arguments, loop)
    found = _explained(arguments.point, arguments.other, loop, moved)
    return Outcome(_json(loop, found), lambda look: _lines(loop, moved, found, look))


def _explained(point: str, other: str | None, loop: Loop, moved: Situation) -> Explanation:
    from diagnose.circuit.explain import explain, explain_current

    first = find_node(point, loop)
    part = find_part(point, loop)
    if first is None and part is not None:
        if other is not None:
            raise UsageError(f"{part.name} is a part: its current needs no second point")
        return explain_current(loop, moved.changes, moved.process, part.name, moved.jumper)
    second = loop.reference if other is None else find_node(other, loop)
    for word, node in ((point, first), (other or "", second)):
        if node is None:
            raise UnknownNameError("point", word, _names(loop))
    if first is None or second is None or first == second:
        raise UsageError(f"name a point other than {second}, which is what volts count from")
    return explain(loop, moved.changes, moved.process, (first, second), moved.jumper)


def _names(loop: Loop) -> tuple[str, ...]:
    return (*known_nodes(loop), *(part.name for part in loop.parts if part.kind.branches))


def _json(loop: Loop, found: Explanation) -> Json:
    return {
        "schema": SCHEMA,
        "tag": loop.tag,
        "quantity": found.quantity,
        "value": number(found.value),
        "unit": found.unit,
        "formula": found.formula,
        "numbers": found.numbers,
        "result": found.result,
        "closed_form": found.closed.text if found.closed else None,
        "regimes": list(found.regimes),
        "notes": list(found.notes),
    }


def _lines(loop: Loop, moved: Situation, found: Explanation, look: Look) -> Iterator[str]:
    yield from paragraph(f"{loop.tag}, {moved.text(loop)}.", look)
    yield ""
    for line in found.lines:
        yield from paragraph(line, look, "", "    ")
