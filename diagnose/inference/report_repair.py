"""What to inspect or change, in which order, and the readings that prove the repair."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.answer import Answer
from diagnose.inference.data import stray
from diagnose.inference.measurement import Applied, Measurement, scale_of
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.observe import systematic
from diagnose.inference.proofs_by_command import proofs_by_command
from diagnose.inference.ranking import Proof, Remedy
from diagnose.inference.readings import describe
from diagnose.inference.views import Points, sight

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

BAND = 3.0
"""Standard deviations either side that a proof reading may lie off: five points at two would
refuse about every fifth sound repair."""


def remedies(answer: Answer) -> Iterator[Remedy]:
    """Repairs in the order of probability per minute, which is the cheapest order to the cure.

    Decreasing p/c is optimal when exactly one element has failed and each inspection proves one
    (J. Kadane and H. Simon, 1977; from memory).
    """
    belief = answer.belief
    worth = [
        (belief.probability[h.number] / h.mode.minutes, h)
        for h in answer.hypotheses
        if h.mode is not None and belief.probability[h.number] > 0.02
    ]
    for _, h in sorted(worth, key=lambda pair: -pair[0]):
        assert h.mode is not None
        yield Remedy(
            h.part,
            h.mode.name,
            h.mode.remedy,
            h.place,
            float(belief.probability[h.number]),
            h.mode.minutes,
        )


def proofs(engine: Engine) -> tuple[Proof, ...]:
    """The signal driven to its points by hand: what must then be read.

    An output that only switches is commanded on and off instead.
    """
    told, driven = _told(engine), _driven(engine)
    if told is None or not driven:
        return proofs_by_command(engine)
    wanted = [replace(told, condition=(applied,)) for applied in driven]
    seen = sight(engine.atlas, Points(np.zeros(1, int), *np.full((3, 1), 0.5)), wanted)
    level = seen.level[:, 0]
    own = _own(engine, wanted[0], level)
    reach = BAND * np.sqrt(own + (seen.slope[:, :, 0] ** 2).sum(axis=1))
    scale = scale_of(wanted[0], engine.loop)
    unit = FUNCTION_UNITS.get(wanted[0].function, scale.unit)
    ends = zip(wanted, scale.value(level - reach), scale.value(level + reach), strict=True)
    return tuple(
        Proof(describe(measurement, engine.loop), float(low), float(high), unit)
        for measurement, low, high in ends
    )


def _driven(engine: Engine) -> tuple[Applied, ...]:
    """What is done at each point; the first part that can be driven to prove a repair counts."""
    for part in engine.loop.parts:
        q = SimpleNamespace(**part.values)
        found = tuple(
            Applied(part.name, action.name, value)
            for action in part.kind.actions
            if action.proves
            for value in action.proves(q)
        )
        if found:
            return found
    return ()


def _told(engine: Engine) -> Measurement | None:
    """The display of what senses the signal, else the volts across it."""
    for part in engine.loop.parts:
        if part.kind.senses and part.kind.shows and part.kind.shows.what == "value":
            return Measurement("shows", (part.name,))
    volts = (c.measurement for c in engine.candidates if _is_sense(c.measurement, engine))
    return next(volts, None)


def _own(engine: Engine, measurement: Measurement, level: Array) -> Array:
    """Variance that meter or display add."""
    lasting = systematic(engine.loop, measurement)
    if lasting is not None:
        return np.full_like(level, lasting[1] ** 2)
    gain, noise = engine.meter.uncertainties(measurement.function, level)
    return np.asarray(gain**2 + noise**2 + stray(engine.loop, measurement.function) ** 2)


def _is_sense(measurement: Measurement, engine: Engine) -> bool:
    if measurement.function != "V" or measurement.condition:
        return False
    pair = set(measurement.points)
    return any(part.kind.senses and set(part.pins.values()) == pair for part in engine.loop.parts)
