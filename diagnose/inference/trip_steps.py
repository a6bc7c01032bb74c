"""A trip tried by hand: what is fed in place of its input, well and just on either side.

Well on the safe side a latched trip stays in and one in the wrong direction comes in; well past the
set point a trip that is sound comes in; just on either side a wrong set point is told from a sound
one.  That a trip is tried on either side of its set point is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, floor
from types import SimpleNamespace

from diagnose.inference.measurement import Applied
from diagnose.loops.kind import Action
from diagnose.loops.loop import Loop, Part

STEPS = {"A": 1e5, "V": 1e2}
"""Steps of one unit to which what is fed is rounded, away from the set point: 0.01 mA, 0.01 V."""


def trials(loop: Loop) -> Iterator[tuple[Part, Applied]]:
    """A trip and what it is tried with, the safe side first; nothing where none can be fed to it.

    A loop with several trips is left alone: which of them a signal reaches is not looked for.
    """
    trips = [part for part in loop.parts if part.kind.tries is not None and part.kind.shows]
    found = next(_fed(loop), None)
    if len(trips) == 1 and found is not None:
        part, action = found
        for value in _values(loop, trips[0], part, action):
            yield trips[0], Applied(part.name, action.name, value)


def _fed(loop: Loop) -> Iterator[tuple[Part, Action]]:
    """What can be made to stand for any value of the input while the loop stays closed."""
    for part in loop.parts:
        for action in part.kind.actions:
            if action.spans and action.unit in STEPS and not action.interrupts:
                yield part, action


def _values(loop: Loop, trip: Part, part: Part, action: Action) -> tuple[float, ...]:
    """What is fed: well and just on the safe side, just and well past the set point."""
    assert action.spans is not None and trip.kind.tries is not None
    ohms = 1.0 if action.unit == "V" else _sense_resistance(loop)
    if ohms is None:
        return ()
    low, high = sorted(action.spans(SimpleNamespace(**part.values)))
    safe, past = (volts / ohms for volts in trip.kind.tries(SimpleNamespace(**trip.values)))
    steps = STEPS[action.unit]
    lower, upper = _down(min(safe, past), steps), _up(max(safe, past), steps)
    if not low < lower < upper < high:
        return ()
    return (low, lower, upper, high) if past > safe else (high, upper, lower, low)


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
