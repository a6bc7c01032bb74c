"""Leaving one reading out of a fit as worthless, where that costs less than what it mends.

By the deletion formula of least squares: with M the precision of the readings and r the residuals,
leaving reading i out takes ``(M r)_i^2 / M_ii`` off the sum of squares (R. D. Cook, Technometrics
19:15, 1977; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log, pi

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.data import Datum

LeftOut = tuple[Array, Array]
"""The reading that is left out most gladly in each row, and by how much that mends it: (row,)."""


def price(precision: Array, data: Sequence[Datum]) -> Array:
    """What it costs in squares to call each reading worthless; as ``precision`` (…, reading).

    ``precision`` is that of each reading given all others.
    """
    wrong = np.array([log(datum.doubt) + datum.wrong for datum in data])
    result: Array = np.maximum(np.log(precision / (2 * pi)) - 2 * wrong, 0.0)
    return result


class Outliers:
    """What one worthless reading makes of whitened residuals (row, reading)."""

    def __init__(self, whiten: Array, data: Sequence[Datum]) -> None:
        """``whiten`` turns residuals of ``data`` into whitened ones."""
        self._whiten = whiten
        self._precision = np.einsum("nk,nk->k", whiten, whiten)
        self._price = price(self._precision, data)

    def worst(self, off: Array) -> LeftOut:
        """The reading to be left out; it mends by 0 where all are better kept."""
        saved = (off @ self._whiten) ** 2 / self._precision - self._price
        which = saved.argmax(axis=1)
        return which, np.maximum(saved[np.arange(len(off)), which], 0.0)

    def without(self, off: Array, left_out: LeftOut) -> Array:
        """Whitened residuals, or slopes, with what belongs to the reading left out taken off."""
        which, saved = left_out
        column = self._whiten.T[which]
        share = np.einsum("rn,rn->r", off, column) / self._precision[which] * (saved > 0)
        result: Array = off - share[:, None] * column
        return result
