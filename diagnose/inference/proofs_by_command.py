"""The proof of an on-off output: commanded on and off by hand, volts and lamp must follow."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from diagnose.inference.candidates import HOME, MANNED
from diagnose.inference.commanded import commands
from diagnose.inference.complaints import told_by
from diagnose.inference.data import stray
from diagnose.inference.measurement import Measurement, states_of, volts_of
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import describe
from diagnose.inference.views import Points, sight
from diagnose.loops.states import LIT

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

BAND = 3.0
"""Standard deviations either side that a proof reading may lie off."""

MOST_OF = 0.98
"""Points that are told apart by the command this much of the best are as good."""


def proofs_by_command(engine: Engine) -> tuple[Proof, ...]:
    """For each way to command the output: volts in the cabinet, and the lamp of the operator."""
    some = [found for found in (_farthest_volts(engine), _lamp(engine)) if found]
    wanted = [
        replace(measurement, condition=condition)
        for condition, measurement in product(commands(engine.loop), some)
    ]
    if not wanted:
        return ()
    seen = sight(engine.atlas, Points(np.zeros(1, int), *np.full((3, 1), 0.5)), wanted)
    sd = np.sqrt((seen.slope**2).sum(axis=1))[:, 0]
    return tuple(
        _proof(engine, measurement, float(level), float(spread))
        for measurement, level, spread in zip(wanted, seen.level[:, 0], sd, strict=True)
    )


def _farthest_volts(engine: Engine) -> Measurement | None:
    """Of the volts in the cabinet that the command moves, those nearest to the field."""
    loop, function = engine.loop, volts_of(engine.loop)
    some = [
        item.measurement
        for item in engine.candidates
        if item.measurement.function == function
        and not item.measurement.condition
        and item.place == HOME
        and item.measurement.points[1] == loop.reference
    ]
    sways = engine.atlas.sound.sways(some)
    least = max(MOST_OF * max(sways, default=0.0), 1e-9)
    moved = [item for item, sway in zip(some, sways, strict=True) if sway > least]
    return moved[-1] if moved else None


def _lamp(engine: Engine) -> Measurement | None:
    """The lamp in the control room that is lit when the output is on."""
    levels = engine.baseline.states
    for part in told_by(engine.loop, "state"):
        if part.place == MANNED and levels[part.name][-1] > levels[part.name][0]:
            return Measurement("shows", (part.name,))
    return None


def _proof(engine: Engine, measurement: Measurement, level: float, sd: float) -> Proof:
    text, function = describe(measurement, engine.loop), measurement.function
    if function == "shows":
        states = states_of(measurement, engine.loop) or LIT
        return Proof(text, float(level > 0), float(level > 0), states.on, measurement)
    gain, noise = engine.meter.uncertainty(function, level)
    reach = BAND * sqrt(gain**2 + noise**2 + stray(engine.loop, function) ** 2 + sd**2)
    return Proof(text, level - reach, level + reach, "V", measurement)
