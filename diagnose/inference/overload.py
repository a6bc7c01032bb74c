"""Ohms that ran off the meter's scale: how far a circuit is from that, in ln(1 + R / 10 kohm).

An ohmmeter sees volts, and up to some kilohms these are as straight in the tolerances as ohms are.
Above that they crowd under the meter's own: a tolerance laid on in volts would then carry 100 kohm
beyond 60 Mohm.  In the logarithm it does not.  With the meter's own resistance as its unit the
logarithm goes straight through nothing at all, as volts do: a thermocouple may drive the meter
backwards, and of a cell in which it does so at one end, the right share must show OL.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import Levels
from diagnose.inference.data import Datum
from diagnose.inference.meters import Meter

BEYOND = 50.0
"""Levels in logs that no circuit comes to: a cell or a tolerance laid on may carry one there."""


def taken(levels: Sequence[Levels], data: Sequence[Datum]) -> list[Levels]:
    """The levels of readings as each of them counts: of an overload in logs."""
    return [
        _in_logs(level, datum.off_scale) if datum.off_scale else level
        for level, datum in zip(levels, data, strict=True)
    ]


def as_counted(level: Array, slope: Array, data: Sequence[Datum]) -> None:
    """The same for levels (cell, reading) and slopes (cell, reading, spread), in place."""
    for n, datum in enumerate(data):
        if datum.off_scale:
            level[:, n], steep = datum.off_scale.ohm_logs(level[:, n])
            slope[:, n] *= steep[:, None]


def _in_logs(level: Levels, meter: Meter) -> Levels:
    f, slope = meter.ohm_logs(level.f)
    return Levels(f, level.slope * slope[:, None], level.calm * float(slope.min()), level.kept)


def driven_back(f: Array, sd: Array, floor: float) -> Array:
    """By how many standard deviations a level in logs lies below ``floor``: (cell,).

    Counted in volts, 1 - exp(-f) of the meter's source: down to nothing at all the way is straight
    in them, and logs of what lies far above would bring it near.
    """
    held = np.clip(f, -BEYOND, BEYOND)
    volts = np.expm1(-held) - np.expm1(-floor)
    result: Array = volts / (sd * np.exp(-np.maximum(held, 0)))
    return result
