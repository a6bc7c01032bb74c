"""How much of what was read each fault can explain by itself, whatever else there is.

Of two faults each explains some of the readings.  Where no single fault explains all of them, one
that leaves few unexplained is a better half of a pair than one that is merely frequent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.data import Datum

UNEXPLAINED = 25.0
"""Squares that a reading counts at most: beyond five standard deviations it is not explained."""


def left_over(atlas: Atlas, data: Sequence[Datum], sd: Array) -> Array:
    """Sum of squares that each hypothesis leaves where it leaves the fewest: (hypothesis,).

    A cell explains a reading that lies between the levels at its corners; ``sd`` (reading,) is what
    a reading may be off by.
    """
    return _least(atlas, np.sum([*_unexplained(atlas, data, sd)], axis=0))


def unexplained(atlas: Atlas, data: Sequence[Datum], sd: Array) -> Array:
    """Squares that each hypothesis leaves of each reading at least: (hypothesis, reading).

    Where it leaves the fewest of one it may leave many of another.
    """
    return np.stack([_least(atlas, one) for one in _unexplained(atlas, data, sd)], axis=1)


def _unexplained(atlas: Atlas, data: Sequence[Datum], sd: Array) -> Iterator[Array]:
    """Squares of each reading: (cell,)."""
    cells = atlas.cells
    heights = atlas.heights([datum.measurement for datum in data])
    for datum, height, one in zip(data, heights, sd, strict=True):
        corner = cells.corners(height)
        off = _off(datum, corner.min(axis=1), corner.max(axis=1)) / one
        yield np.minimum(off**2, UNEXPLAINED)


def _least(atlas: Atlas, squares: Array) -> Array:
    """The least of each hypothesis: squares (cell,)."""
    least = np.full(len(atlas.ground.hypotheses), np.inf)
    np.minimum.at(least, atlas.cells.h, squares)
    return least


def _off(datum: Datum, least: Array, most: Array) -> Array:
    """How far a reading lies outside of levels between ``least`` and ``most``: (cell,)."""
    above, beneath = np.maximum(datum.y - most, 0.0), np.maximum(least - datum.y, 0.0)
    if datum.floor is not None:
        above = np.minimum(above, np.maximum(least - datum.floor, 0.0))
    result: Array = above if datum.side > 0 else beneath if datum.side < 0 else above + beneath
    return result
