"""Operating states that a display tells at once: the loop is looked at where they stand.

A controller's output may be anywhere.  It is carried like a tolerance, with straight lines from its
nominal value, and those hold only near it: so once the faceplate has been read, the loop is taken
up anew with its nominal value there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from diagnose.inference.measurement import Measurement, Reading
from diagnose.loops.loop import Loop, Part

STEP = 0.05
"""Steps in which a stated value moves the nominal one; within a step lines are straight enough."""


def restated(loop: Loop, evidence: Iterable[object]) -> Loop:
    """The loop with its stated parameters where readings say they stand; itself if none do."""
    told = stated_values(loop, evidence)
    moved = {
        part.name: value
        for part in loop.parts
        if part.name in told
        for value in [_step(part, told[part.name])]
        if value != part.values[part.kind.stated]
    }
    if not moved:
        return loop
    parts = tuple(_with(p, moved[p.name]) if p.name in moved else p for p in loop.parts)
    digest = f"{loop.digest} {sorted(moved.items())}"
    return replace(loop, parts=parts, digest=digest)


def stated_values(loop: Loop, evidence: Iterable[object]) -> dict[str, float]:
    """Part -> its stated parameter as readings tell it, the last one counts."""
    return {
        item.measurement.points[0]: item.value
        for item in evidence
        if isinstance(item, Reading)
        and item.sort in ("value", "span")
        and states(loop, item.measurement)
    }


def states(loop: Loop, measurement: Measurement) -> bool:
    """Whether what is read tells an operating state at once."""
    display = measurement.function == "shows" and not measurement.condition
    return display and bool(loop.part(measurement.points[0]).kind.stated)


def _step(part: Part, value: float) -> float:
    """The step nearest to a value; an end only for what stands at it.

    At its end a parameter moves nothing any more: nothing near it would be reached from there.
    """
    parameter = part.parameter(part.kind.stated)
    least = parameter.least if parameter.least is not None else value
    most = parameter.most if parameter.most is not None else value
    inside = round(value / STEP) * STEP
    if least < value < most:
        inside = min(max(inside, least + STEP), most - STEP)
    return min(max(inside, least), most)


def _with(part: Part, value: float) -> Part:
    return replace(part, values={**part.values, part.kind.stated: value})
