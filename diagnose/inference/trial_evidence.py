"""How well two faults at one place explain readings, tolerances taken as they are in that circuit.

A search by the tolerances of the sound loop finds where the readings put two faults.  How well
they then explain them is another matter: a fault may hand a tolerance far more, or far less, to
what is read.  Shapes: (row,), (row, reading), (row, reading, reading).
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from math import hypot

import numpy as np

from diagnose.circuit.rows import Array, State
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum, by_condition
from diagnose.inference.evidence import shared_errors
from diagnose.inference.measurement import Condition
from diagnose.inference.outliers import price
from diagnose.inference.trial import Trial

WAY = 1e-3
"""Way in process value by which it is seen how far levels move."""


def log_evidence(atlas: Atlas, trial: Trial, data: Sequence[Datum], drift: float) -> Array:
    """log density of the values that were read at the place of each trial: (row,).

    Where it is likelier that one reading is worthless, that one is left out.
    """
    return Explained(atlas, trial, data, drift).log


class Explained:
    """Values read against what two faults make of them, tolerances as they are in that circuit.

    ``off`` (row, reading) are the residuals, ``precision`` (row, reading, reading) is that of the
    readings, ``log`` (row,) their log density but for a constant.
    """

    _PARTS = ("off", "precision", "log", "_worst", "_saved")

    def __init__(self, atlas: Atlas, trial: Trial, data: Sequence[Datum], drift: float) -> None:
        level, slope = _seen(atlas, trial, data)
        covariance = slope @ slope.transpose(0, 2, 1) + apart(atlas, data, 0.0)
        if drift:
            n = range(len(data))
            covariance[:, n, n] += (drift * _sways(atlas, trial, data, level)) ** 2
        self.off = np.array([datum.y for datum in data]) - level
        self.precision = np.linalg.inv(covariance)
        pull = np.einsum("rnk,rk->rn", self.precision, self.off)
        alone = np.einsum("rnn->rn", self.precision)
        saved = pull**2 / alone - price(alone, data)
        self._worst, self._saved = saved.argmax(axis=1), np.maximum(saved.max(axis=1), 0.0)
        square = np.einsum("rn,rn->r", self.off, pull) - self._saved
        self.log: Array = -(square + np.linalg.slogdet(covariance)[1]) / 2

    def put(self, rows: Array, other: Explained) -> None:
        """Replace some of the rows (a mask)."""
        for name in self._PARTS:
            getattr(self, name)[rows] = getattr(other, name)[rows]

    def some(self, rows: Array) -> Explained:
        """Some of the rows."""
        result = copy(self)
        for name in self._PARTS:
            setattr(result, name, getattr(self, name)[rows])
        return result

    def kept(self) -> Array:
        """The precision with the worthless reading of each row left out: (row, reading, reading).

        The deletion formula of least squares, as in ``outliers``.
        """
        rows = np.arange(len(self._worst))
        column = self.precision[rows, :, self._worst]
        share = (self._saved > 0) / column[rows, self._worst]
        result: Array = self.precision - share[:, None, None] * (
            column[:, :, None] * column[:, None, :]
        )
        return result


def _sways(atlas: Atlas, trial: Trial, data: Sequence[Datum], level: Array) -> Array:
    """How far each level moves per unit of process value under the two faults: (row, reading)."""
    way = np.where(trial.z[:, 2] > 0.5, -WAY, WAY)
    there = trial.moved(np.stack([0 * way, 0 * way, way], axis=1))
    result: Array = (levels(atlas, there, data) - level) / way[:, None]
    return result


def apart(atlas: Atlas, data: Sequence[Datum], drift: float) -> Array:
    """Covariance of readings of the sound loop apart from its tolerances: (reading, reading).

    ``drift`` is the unrest of the process beyond what the sheet allows for.
    """
    unrest = hypot(atlas.machine.loop.drift, drift)
    sways = [unrest * atlas.sound.sway(datum.measurement) for datum in data]
    own = [datum.noise**2 + sway**2 for datum, sway in zip(data, sways, strict=True)]
    result: Array = np.diag(own) + shared_errors(data)
    return result


def levels(atlas: Atlas, trial: Trial, wanted: Sequence[Datum]) -> Array:
    """Levels at the places of trials: (row, reading)."""
    result = np.empty((len(trial.a), len(wanted)))
    for condition, some in by_condition(wanted):
        state = _state(atlas, trial, condition)
        measurements = [wanted[n].measurement for n in some]
        seen = atlas.observer.levels(measurements, state, trial.z[:, 2])
        result[:, some] = np.stack(seen, axis=1)
    return result


def _seen(atlas: Atlas, trial: Trial, data: Sequence[Datum]) -> tuple[Array, Array]:
    """Levels (row, reading), and slopes by tolerance (row, reading, spread)."""
    ground, observer = atlas.ground, atlas.observer
    level = np.empty((len(trial.a), len(data)))
    slope = np.empty((*level.shape, len(observer.spreads)))
    for condition, some in by_condition(data):
        state = _state(atlas, trial, condition)
        still = np.logical_and(
            *(ground.still(h, observer.numbers, condition) for h in (trial.a, trial.b))
        )
        wanted = [data[n].measurement for n in some]
        seen = observer.see_all(wanted, state, trial.z[:, 2], still)
        level[:, some], slope[:, some] = seen.level.T, seen.slope.transpose(2, 0, 1)
    return level, slope


def _state(atlas: Atlas, trial: Trial, condition: Condition) -> State:
    faults = ((trial.a, trial.z[:, 0]), (trial.b, trial.z[:, 1]))
    columns, rows = atlas.ground.columns_of(faults, trial.z[:, 2], condition), len(trial.a)
    return atlas.observer.base(columns, rows, condition, atlas.sound.pieces(condition, rows))
