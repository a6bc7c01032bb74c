"""Where readings put two faults, tolerances taken as they are in the circuit with both of them.

A fit by the tolerances of the sound loop comes near.  Where a fault hands a tolerance far more, or
far less, to what is read, it comes near to the wrong place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum
from diagnose.inference.trial import Trial
from diagnose.inference.trial_evidence import Explained, levels

ROUNDS = 8

GAINS = 1e-3
"""Log density that a step must gain: where nothing does, the last bits would choose the place."""

STEP = 1e-4
"""Step in severity and process value by which slopes are found."""

FLAT = 1e-3
"""Standard deviations by which a reading must move over the whole of a range to guide the fit."""


def closer(
    atlas: Atlas,
    trial: Trial,
    data: Sequence[Datum],
    drift: float,
    beyond: Callable[[Trial], Array],
) -> tuple[Trial, Array]:
    """Damped Gauss-Newton from each place; the places found, and the log density there (row,).

    ``beyond`` gives what readings without a value add to the squares.
    """
    place = Trial(trial.a, trial.b, trial.z.copy())
    found = Explained(atlas, trial, data, drift)
    best: Array = found.log - beyond(trial) / 2
    damping, left = np.full(len(best), 1e-2), np.arange(len(best))
    for _ in range(ROUNDS):
        here = place.some(left)
        tried = here.moved(_step(atlas, here, data, found, damping[left]))
        new = Explained(atlas, tried, data, drift)
        log = new.log - beyond(tried) / 2
        gain = log - best[left]
        good = gain > GAINS
        found.put(good, new)
        place.z[left[good]], best[left[good]] = tried.z[good], log[good]
        damping[left] *= np.where(good, 1 / 5, 6)
        going = np.flatnonzero(np.abs(gain) > GAINS)
        if not len(going):
            break
        left, found = left[going], found.some(going)
    return place, best


def _step(
    atlas: Atlas, trial: Trial, data: Sequence[Datum], found: Explained, damping: Array
) -> Array:
    """The step to take from each place: (row, 3)."""
    precision, slope = found.kept(), _slopes(atlas, trial, data)
    pull = precision @ slope
    normal = slope.transpose(0, 2, 1) @ pull
    size = np.einsum("rkk->rk", normal) + 1e-6
    normal[:, range(3), range(3)] += damping[:, None] * size
    step = np.linalg.solve(normal, np.einsum("rnk,rn->rk", pull, found.off)[:, :, None])
    result: Array = step[:, :, 0]
    return result


def _slopes(atlas: Atlas, trial: Trial, data: Sequence[Datum]) -> Array:
    """By how much severities and process move what is read: (row, reading, 3)."""
    here, noise = levels(atlas, trial, data), np.array([datum.noise for datum in data])
    slopes = [
        (levels(atlas, Trial(trial.a, trial.b, trial.z + step), data) - here) / STEP
        for step in STEP * np.eye(3)
    ]
    found = np.stack(slopes, axis=2)
    # What changes nothing stays where it is: the last bits would drive it anywhere.
    return np.where(np.abs(found) > FLAT * noise[:, None], found, 0.0)
