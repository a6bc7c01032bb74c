"""Where a milliampere meter goes: in place of a part, or across one that yields its current."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from diagnose.inference.measurement import Measurement
from diagnose.loops.loop import Loop, Part

if TYPE_CHECKING:  # the first questions are asked without arrays
    from diagnose.circuit.rows import Column
    from diagnose.circuit.wiring import Wiring

FITTED = 1e12
"""Resistance of a joint opened to fit the milliampere meter, ohm."""


def metered(loop: Loop) -> tuple[Part, ...]:
    """The parts at which a milliampere meter can be fitted."""
    return tuple(p for p in loop.parts if p.kind.opens_at or p.kind.meters_across)


def metered_at(measurement: Measurement, loop: Loop) -> Part:
    """The part that the meter takes the place of, or lies across; StopIteration if none is."""
    return next(part for part in metered(loop) if _between(part, measurement))


def opens(measurement: Measurement, loop: Loop) -> bool:
    """Whether the meter opens the loop to be fitted."""
    across = (p for p in loop.parts if p.kind.meters_across and _between(p, measurement))
    return measurement.function == "mA" and next(across, None) is None


def _between(part: Part, measurement: Measurement) -> bool:
    return set(part.pins.values()) == set(measurement.points)


def opening(
    measurement: Measurement, wiring: Wiring, burden: float
) -> tuple[int, Callable[[Column], Column]]:
    """The resistance in or beside which a meter lies, and what becomes of it, ohm."""

    def beside(ohms: Column) -> Column:
        return 1 / (1 / ohms + 1 / burden)

    part = metered_at(measurement, wiring.loop)
    if part.kind.opens_at:
        return wiring.index[part.name, "resistance"], lambda ohms: beside(FITTED)
    return wiring.index[part.name, part.kind.meters_across], beside
