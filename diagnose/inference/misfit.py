"""How badly two faults fit what was read, by the tolerances of the sound loop: enough to search.

Levels are (row, reading): first those of values, then those of readings that say "above" or
"below" only.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum
from diagnose.inference.nodes import BEFORE
from diagnose.inference.outliers import Outliers
from diagnose.inference.trial import Trial
from diagnose.inference.trial_evidence import apart, levels


class Misfit:
    """Readings against levels; ``values`` are those with a value, ``sides`` the others."""

    def __init__(self, atlas: Atlas, data: Sequence[Datum], drift: float) -> None:
        """``drift`` is the unrest of the process beyond what the sheet allows for."""
        self.atlas, self.drift = atlas, drift
        self.values = [datum for datum in data if datum.side == 0]
        self.sides = [datum for datum in data if datum.side != 0]
        if self.values:
            covariance = self._covariance()
            self._y = np.array([datum.y for datum in self.values])
            self._whiten = np.linalg.inv(np.linalg.cholesky(covariance))
            self.outliers = Outliers(self._whiten, self.values)
            noise = [datum.sd for datum in self.sides]
            self.sd = np.concatenate([np.sqrt(np.diag(covariance)), noise])

    def _covariance(self) -> Array:
        """Covariance of the values by the tolerances of the sound loop."""
        sound, lines = self.atlas.sound, self.atlas.lines
        wanted = [datum.measurement for datum in self.values]
        middle = lines.p[np.flatnonzero(lines.h == 0)[:1], BEFORE - 1]
        slope = np.array(
            [sound.sight(measurement, middle).slope[0, :, 0] for measurement in wanted]
        )
        result: Array = slope @ slope.T + apart(self.atlas, self.values, self.drift)
        return result

    def seen(self, trial: Trial) -> Array:
        """What would be read at the places of trials."""
        return levels(self.atlas, trial, [*self.values, *self.sides])

    def off(self, level: Array) -> Array:
        """Whitened residuals of the values (…, value); ``level`` (…, reading)."""
        result: Array = (self._y - level[..., : len(self.values)]) @ self._whiten.T
        return result

    def slope(self, change: Array) -> Array:
        """What a change of levels takes off the whitened residuals."""
        result: Array = change[:, : len(self.values)] @ self._whiten.T
        return result

    def squares(self, off: Array, level: Array, strict: Array | bool = False) -> Array:
        """Sum of squares, of lamps and clipped displays on the wrong side as well: (row,).

        Where it is cheaper to call a reading worthless, that one is left out, unless ``strict``.
        """
        total: Array = np.einsum("rn,rn->r", off, off)
        total = total - np.where(strict, 0.0, self.outliers.worst(off)[1])
        result: Array = total + self.beyond(level)
        return result

    def beyond(self, level: Array) -> Array:
        """Sum of squares of lamps and clipped displays that stand on the wrong side: (row,).

        None counts more than it costs to call it worthless.
        """
        total = np.zeros(len(level))
        for datum, one in zip(self.sides, level.T[len(self.values) :], strict=True):
            wrong = np.maximum(datum.side * (datum.y - one) / datum.sd, 0)
            if datum.floor is not None:
                wrong = np.minimum(wrong, np.maximum(one - datum.floor, 0) / datum.sd)
            total = total + np.minimum(wrong**2, _most(datum))
        return total


def _most(datum: Datum) -> float:
    """Squares at which a reading of a side is sooner worthless."""
    return 2 * (log(1 - datum.doubt) - log(datum.doubt) - datum.wrong)
