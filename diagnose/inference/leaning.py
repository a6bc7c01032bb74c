"""What readings of values say of the levels behind readings of sides, by the tolerances they share.

A lamp, an end stop or an overload hangs on tolerances that voltages read beside it may have told:
one draw of them holds in all readings of a case.  Given the values, a level is normal again: its
mean moves by its regression on their residuals, and what it shares with them is no longer open.
Shapes: (cell, side), (cell, side, 4), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import Cells, Levels

_LEAST = 1e-9
"""Share of a variance that is always left: rounding must not make it negative."""


@dataclass
class Leaning:
    """How the level of each side is to be taken: ``shift`` (cell, side, 4) is added at the corners.

    ``variance`` (cell, side) is what the tolerances leave open.
    """

    shift: Array
    variance: Array

    @classmethod
    def free(cls, cells: Cells, sides: Sequence[Levels]) -> Leaning:
        """As they are without any value read."""
        middle = [cells.middle(level.slope) for level in sides]
        variance = [np.einsum("cs,cs->c", slope, slope) for slope in middle]
        shape = len(cells), len(sides)
        return cls(np.zeros((*shape, 4)), np.array(variance).T.reshape(shape))

    def put(self, rows: Array, other: Leaning) -> None:
        """Replace some of the cells."""
        self.shift[rows], self.variance[rows] = other.shift, other.variance


def in_common(
    cells: Cells, sides: Sequence[Levels], at: tuple[Array, Array], spread: Array, every: Array
) -> tuple[Array, Array]:
    """Covariance of values and sides by tolerances (cell, reading, side), and variance of sides.

    ``spread`` (cell, reading, spread) are the slopes of the values by the spreads ``every``.
    """
    covariance = np.zeros((*spread.shape[:2], len(sides)))
    variance = np.zeros((len(cells), len(sides)))
    for n, level in enumerate(sides):
        slope = cells.at(level.slope, *at)
        variance[:, n] = np.einsum("cs,cs->c", slope, slope)
        _, here, there = np.intersect1d(level.kept, every, return_indices=True)
        covariance[:, :, n] = np.einsum("cks,cs->ck", spread[:, :, there], slope[:, here])
    return covariance, variance


def leaning(white: Array, shared: Array, variance: Array) -> Leaning:
    """How sides lean on values: ``white`` (cell, reading, 4) and ``shared`` are whitened.

    The columns of ``white`` are the residuals at corner 00, the slopes of the levels along s and t
    and their twist; ``shared`` (cell, reading, side) is the covariance of values and sides.
    """
    r0, ds, dt, dst = white.transpose(2, 0, 1)
    corners = np.stack([r0, r0 - dt, r0 - ds, r0 - ds - dt - dst], axis=2)
    told = np.einsum("ckn,ckn->cn", shared, shared)
    return Leaning(
        shared.transpose(0, 2, 1) @ corners, np.maximum(variance - told, _LEAST * variance)
    )
