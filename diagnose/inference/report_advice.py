"""The advised measurements, spelt out: what each would show, sound or faulty."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.answer import Answer, quantiles
from diagnose.inference.cautions import cautions_for, needs_for
from diagnose.inference.foresight import Foresight, Points
from diagnose.inference.measurement import scale_of
from diagnose.inference.meters import FUNCTION_UNITS
from diagnose.inference.normal import below
from diagnose.inference.ranking import Advice, Expects
from diagnose.inference.readings import describe

TOLD = 6
"""Hypotheses whose outcome is spelt out for a measurement."""


def advise(answer: Answer, n: int) -> Advice:
    """Candidate ``n`` as a step: what it shows sound or faulty, what it costs and needs."""
    adviser, loop = answer.adviser, answer.engine.loop
    candidate = adviser.candidates[n]
    measurement = candidate.measurement
    return Advice(
        measurement=measurement,
        text=describe(measurement, loop),
        place=candidate.place,
        gain_bits=float(adviser.gains[n]),
        minutes=float(adviser.own_minutes(candidate)),
        interrupts_loop=candidate.interrupts,
        moves_signal=candidate.moves_signal,
        healthy=_healthy(answer, n),
        expects=tuple(_expects(answer, n)),
        cautions=cautions_for(measurement, loop),
        needs=needs_for(measurement, loop),
    )


def _range(
    answer: Answer, n: int, mean: Array, sd: Array, weight: Array
) -> tuple[float, float, str]:
    """Middle 90 % of outcomes in SI with their unit."""
    measurement = answer.adviser.candidates[n].measurement
    if answer.adviser.outlook.side[n]:
        lit = float((below(mean / sd) * weight).sum() / weight.sum())
        return lit, lit, "lit"
    ends = np.concatenate([mean - 1.645 * sd, mean, mean + 1.645 * sd])
    low, high = quantiles(ends, np.tile(weight, 3), (0.05, 0.95))
    if measurement.function == "ohm":
        low, high = (float(answer.engine.meter.ohms(v)) for v in (low, high))
    scale = scale_of(measurement, answer.engine.loop)
    unit = FUNCTION_UNITS.get(measurement.function, scale.unit)
    return scale.value(low), scale.value(high), unit


def _healthy(answer: Answer, n: int) -> tuple[float, float, str]:
    """What a sound loop would show, at the process values that are now believed."""
    adviser = answer.adviser
    some = np.linspace(0, len(adviser.points) - 1, 24).astype(int)
    points = Points(
        np.zeros(24, int), np.full(24, 0.5), adviser.points.p[some], adviser.points.weight[some]
    )
    sound = Foresight(answer.atlas, answer.engine.meter, (), points)
    outlook = sound.look([adviser.candidates[n]])
    return _range(answer, n, outlook.mean[0], outlook.sd[0], points.weight)


def _expects(answer: Answer, n: int) -> Iterator[Expects]:
    """Outcomes under the leading hypothesis of each group, the most probable first."""
    adviser, belief = answer.adviser, answer.belief
    seen: set[int] = set()
    for number in np.argsort(-belief.probability, kind="stable"):
        group = int(adviser.group[number])
        rows = np.flatnonzero(adviser.points.h == number)
        if group in seen or not len(rows) or belief.probability[number] < 0.005:
            continue
        seen.add(group)
        h = answer.hypotheses[int(number)]
        low, high, unit = _range(
            answer,
            n,
            adviser.outlook.mean[n][rows],
            adviser.outlook.sd[n][rows],
            adviser.points.weight[rows],
        )
        yield Expects(h.part, h.key[1], float(adviser.group_probability()[group]), low, high, unit)
        if len(seen) == TOLD:
            return
