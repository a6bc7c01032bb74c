"""Where a sensor is with nothing applied to it: at the 0 of its range, wherever that lies.

A gauge of -100 to 150 kPa that is vented stands at 40 % of its range (arithmetic).
"""

from __future__ import annotations

from dataclasses import replace

from diagnose.loops.loop import Loop, Part
from diagnose.quantities import find_unit

AT_NOTHING = "at_nothing"
"""The parameter that holds it, as a fraction of range."""

FARTHEST = (-1.0, 2.0)
"""Far beyond what any transmitter follows."""

_TEMPERATURES = ("degC", "K")
"""SI units whose 0 is a place on a scale, but not nothing applied."""


def with_nothing(loop: Loop) -> Loop:
    """The loop with what its sheet does not say of it taken from its range."""
    unit, low, high = loop.range
    known = find_unit(unit)
    if unit == "%" or (known and known[0] in _TEMPERATURES) or low in (0.0, high):
        return loop
    at = min(max(-low / (high - low), FARTHEST[0]), FARTHEST[1])
    return replace(loop, parts=tuple(_at(part, at) for part in loop.parts))


def _at(part: Part, at: float) -> Part:
    if AT_NOTHING not in part.assumed:
        return part
    return replace(part, values={**part.values, AT_NOTHING: at})
