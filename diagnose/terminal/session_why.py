"""``why`` in a session: the formula behind a step or a point, under the leading explanation."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from typing import TYPE_CHECKING

from diagnose.casework.checks import CaseError
from diagnose.errors import DiagnoseError, UnknownNameError
from diagnose.inference.measurement import Measurement, Reading
from diagnose.inference.ranking import Ranked
from diagnose.inference.reading_names import find_node, find_part, known_nodes
from diagnose.inference.reading_text import describe_condition
from diagnose.inference.readings import describe, parse_lines
from diagnose.terminal.session_talk import Talk
from diagnose.terminal.wording import minutes, paragraph

if TYPE_CHECKING:
    from diagnose.terminal.find_changes import Situation

LIKELY = 0.05
"""Probability below which an explanation is not put into the formula."""


def why(talk: Talk, rest: str) -> Iterator[str]:
    """Explain the step in hand, or the voltage of points, or the current of a part."""
    names = rest.split()
    task = talk.hunt.task() if talk.told or names else None
    measurement = None if names else task.measurement if task else _last(talk)
    if not names and measurement is None:
        raise CaseError("say what to explain: a point, two points or a part")
    condition = ""
    if measurement is not None:
        if task is not None and task.advice is not None:
            tells, cost = task.advice.gain_bits, minutes(task.minutes)
            text = (
                f"This step tells {tells:.2f} bits about the fault in {cost}; one bit halves what"
            )
            yield from paragraph(f"{text} is in question.", talk.look)
        elif task is None:
            yield f"The last reading, {describe(measurement, talk.loop)}:"
        names = list(_points(measurement))
        condition = describe_condition(measurement.condition, talk.loop)
    if not names:
        return
    moved = _situation(talk, condition)
    formula = _formula(talk, moved, names)  # before the heading: it may refuse
    yield from paragraph(f"With {moved.text(talk.loop)}:", talk.look)
    for line in formula:
        yield from paragraph(line, talk.look, "", "    ")


def _last(talk: Talk) -> Measurement | None:
    """What the last reading with a meter measured."""
    said = parse_lines(talk.hunt.case.evidence, talk.loop)
    taken = (item.measurement for item in said if isinstance(item, Reading))
    return next((item for item in [*taken][::-1] if _points(item)), None)


def _points(measurement: Measurement) -> tuple[str, ...]:
    """What to explain of a measurement: two points, or the part itself."""
    return measurement.points if measurement.function != "shows" else ()


def _situation(talk: Talk, condition: str) -> Situation:
    """The leading explanation at its most likely size; the process as it is known."""
    # Imported late, like the engine: the first question is asked at once.
    from diagnose.terminal.find_changes import situation

    process = f"{100 * _process(talk):.4g} %"
    conditions = [condition] if condition else []
    for item in talk.hunt.ranking().hypotheses[:1]:
        if item.part is not None and item.probability > LIKELY:
            try:
                return situation(
                    Namespace(at=process, fault=[_fault(item)], condition=conditions), talk.loop
                )
            except DiagnoseError:
                break
    return situation(Namespace(at=process, fault=[], condition=conditions), talk.loop)


def _fault(item: Ranked) -> str:
    name = f"{item.part}:{item.fault}"
    if item.size is None:
        return name
    scale, unit = (100.0, "%") if item.size.unit == "1" else (1.0, item.size.unit)
    return f"{name}={item.size.median * scale:.6g} {unit}"


def _process(talk: Talk) -> float:
    """The process value that the drawing of the loop stands at: told, else shown, else half."""
    from diagnose.inference.due import basis  # the first questions are asked without circuits

    known = basis(parse_lines(talk.hunt.case.evidence, talk.loop), talk.loop)
    return min(max(known.middle, -0.5), 1.5)


def _formula(talk: Talk, moved: Situation, names: list[str]) -> tuple[str, ...]:
    from diagnose.circuit.explain import explain, explain_current

    loop = talk.loop
    machine = talk.hunt.engine.machine
    part = find_part(names[0], loop)
    if part is not None and find_node(names[0], loop) is None:
        found = explain_current(
            loop, moved.changes, moved.process, part.name, moved.jumper, predictor=machine
        )
        return tuple(found.lines)
    nodes = [find_node(name, loop) for name in [*names, loop.reference][:2]]
    for name, node in zip(names, nodes, strict=False):
        if node is None:
            raise UnknownNameError("point", name, known_nodes(loop))
    first, second = nodes[0], nodes[1]
    if first is None or second is None or first == second:
        raise CaseError(f"name a point other than {loop.reference}, which volts count from")
    pair = (first, second)
    return tuple(
        explain(loop, moved.changes, moved.process, pair, moved.jumper, predictor=machine).lines
    )
