"""Where readings put two faults: damped Gauss-Newton from places that a grid has found.

First by the tolerances of the sound loop, then as they are in the circuit with both faults: where a
fault hands a tolerance far more, or far less, to what is read, the first comes near to the wrong
place.
"""

from __future__ import annotations

from copy import copy
from math import pi

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.misfit import Misfit
from diagnose.inference.trial import Trial
from diagnose.inference.trial_evidence import Explained, levels

FIRST, ROUNDS = 10, 8
"""Steps of the first fit, and of the second."""

GAINS = 1e-3
"""Log density that a step must gain: where nothing does, the last bits would choose the place."""

STEP = 1e-4
"""Step in severity and process value by which slopes are found."""

FLAT = 1e-3
"""Standard deviations by which a reading must move over the whole of a range to guide the fit."""


def fitted(misfit: Misfit, trial: Trial, strict: Array) -> Trial:
    """The places that fit best by the tolerances of the sound loop.

    Where ``strict`` (row,), no reading is left out as worthless: one that is pulls no more, though
    it might well be explained.
    """
    place = Trial(trial.a, trial.b, trial.z.copy())
    here = _Sloping(misfit, trial, strict)
    damping, left = np.full(len(strict), 1e-2), np.arange(len(strict))
    for _ in range(FIRST):
        bad = misfit.outliers.worst(here.off)
        bad = bad[0], np.where(strict[left], 0.0, bad[1])
        slope = np.stack([misfit.outliers.without(one, bad) for one in here.slope], axis=2)
        step = _damped(slope, slope, misfit.outliers.without(here.off, bad), damping[left])[0]
        tried = place.some(left).moved(step)
        new = _Sloping(misfit, tried, strict[left])
        gain = here.squares - new.squares
        good = gain > 0
        place.z[left[good]] = tried.z[good]
        here.put(good, new)
        damping[left] *= np.where(good, 1 / 5, 6)
        going = np.flatnonzero(np.abs(gain) > 2 * GAINS)
        if not len(going):
            break
        left, here = left[going], here.some(going)
    return place


class _Sloping:
    """Whitened residuals (row, value), what each way takes off them (3, row, value), and squares.

    What changes nothing stays where it is: the last bits would drive it anywhere.
    """

    def __init__(self, misfit: Misfit, trial: Trial, strict: Array) -> None:
        here, *moved = np.split(misfit.seen(trial.stepped(STEP)), 4)
        slope = np.stack([misfit.slope(there - here) / STEP for there in moved])
        self.off, self.slope = misfit.off(here), np.where(np.abs(slope) > FLAT, slope, 0.0)
        self.squares = misfit.squares(self.off, here, strict)

    def put(self, rows: Array, other: _Sloping) -> None:
        """Replace some of the rows (a mask)."""
        self.off[rows], self.squares[rows] = other.off[rows], other.squares[rows]
        self.slope[:, rows] = other.slope[:, rows]

    def some(self, rows: Array) -> _Sloping:
        """Some of the rows."""
        result = copy(self)
        result.off, result.squares = self.off[rows], self.squares[rows]
        result.slope = self.slope[:, rows]
        return result


def _damped(pull: Array, slope: Array, off: Array, damping: Array) -> tuple[Array, Array]:
    """The step to take from each place (row, 3), and the normal equations undamped (row, 3, 3)."""
    normal = slope.transpose(0, 2, 1) @ pull
    damped = normal.copy()
    size = np.einsum("rkk->rk", normal) + 1e-6
    damped[:, range(3), range(3)] += damping[:, None] * size
    step = np.linalg.solve(damped, np.einsum("rnk,rn->rk", pull, off)[:, :, None])
    return step[:, :, 0], normal


def closer(misfit: Misfit, trial: Trial) -> tuple[Trial, Array, Array]:
    """The places that fit best with tolerances as they are there, and the log density (row,).

    The third are the log shares of the ranges (row,) over which the density is about as high.
    """
    place = Trial(trial.a, trial.b, trial.z.copy())
    found, best = _explained(misfit, trial)
    damping, left, room = np.full(len(best), 1e-2), np.arange(len(best)), np.zeros(len(best))
    for _ in range(ROUNDS):
        here = place.some(left)
        slope = _slopes(misfit, here)
        step, normal = _damped(found.kept() @ slope, slope, found.off, damping[left])
        room[left] = _room(normal)
        tried = here.moved(step)
        new, log = _explained(misfit, tried)
        gain = log - best[left]
        good = gain > GAINS
        found.put(good, new)
        place.z[left[good]], best[left[good]] = tried.z[good], log[good]
        damping[left] *= np.where(good, 1 / 5, 6)
        going = np.flatnonzero(np.abs(gain) > GAINS)
        if not len(going):
            break
        left, found = left[going], found.some(going)
    return place, best, room


def _room(normal: Array) -> Array:
    """Log of the share of all ranges that a Gaussian takes up: each is one of height 1 itself."""
    result: Array = -np.linalg.slogdet(np.eye(3) + normal / (2 * pi))[1] / 2
    return result


def _explained(misfit: Misfit, trial: Trial) -> tuple[Explained, Array]:
    """The values explained at the places of trials, and the log density of all that was read."""
    found = Explained(misfit.atlas, trial, misfit.values, misfit.drift)
    log = found.log
    if misfit.sides:
        log = log - misfit.beyond(misfit.seen(trial)) / 2
    return found, log


def _slopes(misfit: Misfit, trial: Trial) -> Array:
    """By how much severities and process move what is read: (row, value, 3)."""
    noise = np.array([datum.noise for datum in misfit.values])
    here, *moved = np.split(levels(misfit.atlas, trial.stepped(STEP), misfit.values), 4)
    found = np.stack([(there - here) / STEP for there in moved], axis=2)
    # What changes nothing stays where it is: the last bits would drive it anywhere.
    return np.where(np.abs(found) > FLAT * noise[:, None], found, 0.0)
