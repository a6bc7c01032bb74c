"""What readings of values say of the levels behind readings of sides, by the errors they share.

A lamp, an end stop or an overload hangs on tolerances that voltages read beside it may have told,
and a display on its lasting error: one draw of them holds in all readings of a case.  Given the
values, a level is normal again: its mean moves by its regression on their residuals, and what it
shares with them is no longer open.
Shapes: (cell, side), (cell, side, 4), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.cells import Cells, Levels, slopes_of

_LEAST = 1e-9
"""Share of a variance that is always left: rounding must not make it negative."""


@dataclass
class Leaning:
    """How the level of each side is to be taken: ``shift`` (cell, side, 4) is added at the corners.

    ``covariance`` (cell, side, side) is what tolerances and lasting errors leave open.
    """

    shift: Array
    covariance: Array

    @classmethod
    def empty(cls, cells: int, sides: int) -> Leaning:
        """Room for so many."""
        return cls(np.zeros((cells, sides, 4)), np.zeros((cells, sides, sides)))

    @classmethod
    def free(cls, cells: Cells, sides: Sequence[Levels], lasting: Array) -> Leaning:
        """As they are without any value read; ``lasting`` (side, side) are errors they share."""
        middle = np.full(len(cells), 0.5)
        slope, _ = slopes_of(cells, sides, (middle, middle))
        found = cls.empty(len(cells), len(sides))
        found.covariance += slope @ slope.transpose(0, 2, 1) + lasting
        return found

    def put(self, rows: Array, other: Leaning) -> None:
        """Replace some of the cells."""
        self.shift[rows], self.covariance[rows] = other.shift, other.covariance


_At = tuple[Array, Array]
"""Coordinates (s, t) in each cell."""


def in_common(
    cells: Cells, sides: Sequence[Levels], at: _At, values: tuple[Array, Array], shared: Array
) -> tuple[Array, Array]:
    """Covariance of values and sides (cell, reading, side), and of sides (cell, side, side).

    ``values`` are the slopes of the values (cell, reading, spread) and the numbers of the spreads;
    ``shared`` (reading and side, both) are errors that do not hang on the cell.
    """
    spread, every = values
    count = spread.shape[1]
    if not sides:
        return np.zeros((len(cells), count, 0)), np.zeros((len(cells), 0, 0))
    slope, kept = slopes_of(cells, sides, at)
    _, here, there = np.intersect1d(kept, every, return_indices=True)
    across = spread[:, :, there] @ slope[:, :, here].transpose(0, 2, 1)
    return across + shared[:count, count:], slope @ slope.transpose(0, 2, 1) + shared[
        count:, count:
    ]


def leaning(white: Array, shared: Array, covariance: Array) -> Leaning:
    """How sides lean on values: ``white`` (cell, reading, 4) and ``shared`` are whitened.

    The columns of ``white`` are the residuals at corner 00, the slopes of the levels along s and t
    and their twist; ``shared`` (cell, reading, side) is the covariance of values and sides.
    """
    if not shared.shape[2]:
        return Leaning.empty(len(white), 0)
    r0, ds, dt, dst = white.transpose(2, 0, 1)
    corners = np.stack([r0, r0 - dt, r0 - ds, r0 - ds - dt - dst], axis=2)
    left = covariance - shared.transpose(0, 2, 1) @ shared
    n = np.arange(left.shape[1])
    left[:, n, n] = np.maximum(left[:, n, n], _LEAST * covariance[:, n, n])
    return Leaning(shared.transpose(0, 2, 1) @ corners, left)
