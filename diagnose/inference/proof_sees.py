"""Which proof readings would show a fault that is still there, and which would pass all the same.

A signal that is driven by hand goes past the process connection and past what drives it otherwise,
and volts across the sense resistor say nothing of the wire to a recorder.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from diagnose.inference.measurement import scale_of, states_of
from diagnose.inference.ranking import Proof
from diagnose.inference.readings import parse_measurement
from diagnose.inference.views import Points, sight

if TYPE_CHECKING:
    from diagnose.inference.engine import Engine

SIZES = (0.05, 0.5, 0.95)
"""Severities at which it is tried, as shares of their range."""

PROCESS = (0.2, 0.8)
"""Process values at which it is tried."""


def showing(
    engine: Engine, part: str | None, fault: str, proofs: Sequence[Proof]
) -> tuple[Proof, ...]:
    """Those of some proof readings that are out of their limits with a fault of some size.

    All of them for what is no single fault of the loop: nothing is known of it.
    """
    known = {h.key: h for h in engine.hypotheses if h.mode is not None}
    if (part, fault) not in known or not proofs:
        return tuple(proofs)
    wanted = [parse_measurement(proof.text, engine.loop) for proof in proofs]
    x, p = (axis.ravel() for axis in np.meshgrid(SIZES, PROCESS))
    points = Points(np.full(len(x), known[part, fault].number), x, p, np.ones(len(x)))
    level = sight(engine.atlas, points, wanted).level
    found = []
    for proof, measurement, seen in zip(proofs, wanted, level, strict=True):
        state = states_of(measurement, engine.loop) is not None
        shown = (seen > 0) * 1.0 if state else scale_of(measurement, engine.loop).value(seen)
        if bool(((shown < proof.low) | (shown > proof.high)).any()):
            found.append(proof)
    return tuple(found)
