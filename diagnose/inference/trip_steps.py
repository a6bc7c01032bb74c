"""A trip tried by hand: what is fed in place of its input, well and just on either side.

Well on the safe side a latched trip stays in and one in the wrong direction comes in; well past the
set point a trip that is sound comes in; just on either side a wrong set point is told from a sound
one.  That a trip is tried on either side of its set point is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor
from types import SimpleNamespace

from diagnose.inference.measurement import Applied
from diagnose.loops.kind import Action
from diagnose.loops.loop import Loop, Part

STEPS = {"A": 1e5, "V": 1e2}
"""Steps of one unit to which what is fed is rounded, away from the set point: 0.01 mA, 0.01 V."""


@dataclass(frozen=True, slots=True)
class Trial:
    """What is fed to a trip, by whom: ``part`` gives way to it; ``past``: it should trip on it."""

    part: Part
    applied: Applied
    past: bool
    near: bool


def trials(loop: Loop) -> tuple[Trial, ...]:
    """What a trip is tried with, the safe side first; empty where nothing known can be fed to it.

    A loop with several trips is left alone: which of them a signal reaches is not looked for.
    """
    trips = [part for part in loop.parts if part.kind.tries is not None]
    found = next(_fed(loop), None)
    if len(trips) != 1 or found is None:
        return ()
    part, action = found
    return tuple(_trials(loop, trips[0], part, action))


def _fed(loop: Loop) -> Iterator[tuple[Part, Action]]:
    """What can be made to stand for any value of the input while the loop stays closed."""
    for part in loop.parts:
        for action in part.kind.actions:
            if action.spans and action.unit in STEPS and not action.interrupts:
                yield part, action


def _trials(loop: Loop, trip: Part, part: Part, action: Action) -> Iterator[Trial]:
    assert action.spans is not None and trip.kind.tries is not None
    ohms = 1.0 if action.unit == "V" else _sense_resistance(loop)
    if ohms is None:
        return
    low, high = sorted(action.spans(SimpleNamespace(**part.values)))
    safe, past = (volts / ohms for volts in trip.kind.tries(SimpleNamespace(**trip.values)))
    rises = past > safe
    steps = STEPS[action.unit]
    lower, upper = _down(min(safe, past), steps), _up(max(safe, past), steps)
    near = (lower, upper) if rises else (upper, lower)
    far = (low, high) if rises else (high, low)
    if not low < min(near) < max(near) < high:
        return
    for value, is_past, is_near in (
        (far[0], False, False),
        (near[0], False, True),
        (near[1], True, True),
        (far[1], True, False),
    ):
        yield Trial(part, Applied(part.name, action.name, value), is_past, is_near)


def _sense_resistance(loop: Loop) -> float | None:
    """Ohms across which the current of the loop becomes the volts of the trip."""
    for part in loop.parts:
        if part.kind.senses and len(part.pins) == 2 and "resistance" in part.values:
            return float(part.values["resistance"])
    return None


def _down(value: float, steps: float) -> float:
    """Rounded down, a last bit forgiven."""
    return floor(round(value * steps, 6)) / steps


def _up(value: float, steps: float) -> float:
    return ceil(round(value * steps, 6)) / steps
