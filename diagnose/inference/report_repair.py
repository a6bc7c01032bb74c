"""What to inspect or change, in which order, and the readings that prove the repair."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from diagnose.inference.answer import Answer
from diagnose.inference.data import STRAY
from diagnose.inference.measurement import Applied, Measurement
from diagnose.inference.ranking import Proof, Remedy
from diagnose.inference.readings import describe
from diagnose.inference.views import Points, sight

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

BAND = 3.0
"""Standard deviations either side that a proof reading may lie off: five points at two would
refuse about every fifth sound repair."""

PROVEN = (4e-3, 8e-3, 12e-3, 16e-3, 20e-3)
"""Currents of the five-point proof, A."""


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
    """Five points with the transmitter driven: the voltage that receivers must then see."""
    part = next(iter(engine.machine.wiring.driven()), None)
    first = next((c for c in engine.candidates if _is_sense(c.measurement, engine)), None)
    if part is None or first is None:
        return ()
    wanted = [
        Measurement("V", first.measurement.points, (Applied(part.name, "driven", current),))
        for current in PROVEN
    ]
    seen = sight(engine.atlas, Points(np.zeros(1, int), *np.full((3, 1), 0.5)), wanted)
    gain, noise = engine.meter.uncertainties("V", seen.level)
    own = gain**2 + noise**2 + STRAY["V"] ** 2
    level = seen.level[:, 0]
    reach = BAND * np.sqrt(own + (seen.slope**2).sum(axis=1))[:, 0]
    return tuple(
        Proof(describe(measurement, engine.loop), float(low), float(high), "V")
        for measurement, low, high in zip(wanted, level - reach, level + reach, strict=True)
    )


def _is_sense(measurement: Measurement, engine: Engine) -> bool:
    if measurement.function != "V" or measurement.condition:
        return False
    pair = set(measurement.points)
    return any(part.kind.senses and set(part.pins.values()) == pair for part in engine.loop.parts)
