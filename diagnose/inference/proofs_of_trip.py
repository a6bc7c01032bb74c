"""The proof of a trip: fed by hand just short of its trip point and just past it.

Lamp, relay, horn, shutdown input and whatever else follows are read at both values, from the input
to the last contact.
The value on the safe side comes first: within its dead band a trip that came in stays in.  That a
trip is tried on either side of its set point is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import ceil, floor, sqrt
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.measurement import Applied, Measurement, scale_of, states_of
from diagnose.inference.observe import Sight
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import describe
from diagnose.inference.spreads import systematic
from diagnose.inference.views import Points, sight

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

BAND = 3.0
"""Standard deviations of the trip point between it and what is fed on either side."""

FOLLOWS = 1e-3
"""Share of range by which a display follows what is fed on both sides, if it does."""

STEPS = 100
"""Steps of one unit to which what is fed is rounded, away from the trip point."""


def proofs_of_trip(engine: Engine) -> tuple[Proof, ...]:
    """What every display of a state must be on either side of the trip point.

    Empty where nothing known can be fed in place of the input, or nothing trips on it.
    """
    shown = [Measurement("shows", (p.name,)) for p in engine.loop.parts if p.kind.shows is not None]
    for fed in _fed(engine):
        for display in shown:
            sides = _sides(engine, display, fed) if states_of(display, engine.loop) else ()
            if sides:
                found = [proofs for item in shown if (proofs := _on_both(engine, item, sides))]
                return tuple(proof for side in zip(*found, strict=True) for proof in side)
    return ()


def _fed(engine: Engine) -> Iterator[Applied]:
    """What can be fed in place of the input, at its usual value."""
    for part in engine.loop.parts:
        for action in part.kind.actions:
            if action.heals and action.unit and action.usual:
                yield Applied(part.name, action.name, action.usual)


def _sides(engine: Engine, display: Measurement, fed: Applied) -> tuple[Applied, ...]:
    """What is fed on the safe side of the trip point and on the other; empty if it is no trip.

    What trips has a level that goes straight with what is fed: zero at the trip point.
    """
    assert fed.value is not None
    values = (fed.value / 2, fed.value)
    level, sd = _seen(
        engine, [replace(display, condition=(replace(fed, value=v),)) for v in values]
    )
    rise = float(level[1] - level[0]) / (values[1] - values[0])
    if abs(rise) < 1e-6:
        return ()
    point, apart = fed.value - float(level[1]) / rise, BAND * float(sd.max()) / abs(rise)
    below, above = floor((point - apart) * STEPS) / STEPS, ceil((point + apart) * STEPS) / STEPS
    ends = (below, above) if rise > 0 else (above, below)
    return tuple(replace(fed, value=end) for end in ends)


def _on_both(engine: Engine, display: Measurement, sides: tuple[Applied, ...]) -> list[Proof]:
    """What a display must show on either side; nothing where it does not follow what is fed."""
    wanted = [replace(display, condition=(applied,)) for applied in sides]
    level, sd = _seen(engine, wanted)
    states, scale = states_of(display, engine.loop), scale_of(display, engine.loop)
    if states is not None:
        follows = (np.abs(level) > BAND * sd).all() and (level[0] > 0) != (level[1] > 0)
        unit, low = states.on, (level > 0).astype(float)
        high = low
    else:
        follows, unit = abs(level[1] - level[0]) > FOLLOWS, scale.unit
        low, high = scale.value(level - BAND * sd), scale.value(level + BAND * sd)
    return [
        Proof(describe(item, engine.loop), float(a), float(b), unit, item)
        for item, a, b in zip(wanted, low, high, strict=True)
        if follows
    ]


def _seen(engine: Engine, wanted: list[Measurement]) -> tuple[Array, Array]:
    """Levels of the sound loop and their standard deviations: (measurement,) each."""
    seen: Sight = sight(engine.atlas, Points(np.zeros(1, int), *np.full((3, 1), 0.5)), wanted)
    lasting = [systematic(engine.loop, item) for item in wanted]
    own = [item[1] ** 2 if item is not None else 0.0 for item in lasting]
    sd = [sqrt(float((slope**2).sum()) + one) for slope, one in zip(seen.slope, own, strict=True)]
    return seen.level[:, 0], np.array(sd)
