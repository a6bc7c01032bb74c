"""Pairs of faults at trial points, as the search for two faults goes from one to the next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.grid import HIGHEST, LOWEST

EVEN = 6
"""Decimals to which severities, chances and misfits are compared.

Faults that nobody can tell apart are equally good but for the last bits, and these depend on what
else was solved along with them: they must not decide which pair is taken up.
"""

Axes = tuple[Array, Array]
"""Severities and process values of a grid."""

_ENDS = np.array([[0.002, 0.002, LOWEST], [0.998, 0.998, HIGHEST]])
"""Least and greatest severities and process value of a fit."""

_MIDDLE = np.array([0.5])


def rounded(values: Array) -> Array:
    """Values as they are compared: what is equal but for the last bits is equal."""
    return np.round(values, EVEN)


def falling(values: Array, decimals: int = EVEN) -> Array:
    """Places of values, the greatest first, equal ones as they come."""
    return np.argsort(-np.round(values, decimals), kind="stable")


def grid_of(axes: Axes, first: bool, second: bool) -> Array:
    """Coarse points (point, 3): severities of those that have one, and the process value."""
    sizes = [axes[0] if sized else _MIDDLE for sized in (first, second)]
    found = np.meshgrid(*sizes, axes[1], indexing="ij")
    return np.stack([axis.ravel() for axis in found], axis=1)


def parts(rows: Array, size: int) -> Iterator[Array]:
    """Some rows at a time."""
    return (rows[start : start + size] for start in range(0, len(rows), size))


@dataclass
class Trial:
    """Pairs at points: hypotheses a, b; coordinates z (row, 3) = (x of a, x of b, process)."""

    a: Array
    b: Array
    z: Array

    def moved(self, step: Array) -> Trial:
        """The same pairs a step (row, 3) further, kept inside the ranges."""
        return Trial(self.a, self.b, np.clip(self.z + step, *_ENDS))

    def stepped(self, step: float) -> Trial:
        """The same pairs where they are, then a step further in each coordinate, one by one."""
        ways = step * np.concatenate([np.zeros((1, 3)), np.eye(3)])
        z = np.concatenate([self.z + way for way in ways])
        return Trial(np.tile(self.a, len(ways)), np.tile(self.b, len(ways)), z)

    def some(self, rows: Array) -> Trial:
        """Some of the rows."""
        return Trial(self.a[rows], self.b[rows], self.z[rows])

    def plus(self, other: Trial) -> Trial:
        """These rows followed by ``other``."""
        ends = (self.a, other.a), (self.b, other.b), (self.z, other.z)
        return Trial(*(np.concatenate(pair) for pair in ends))

    def keys(self) -> Array:
        """Which two faults each is of, whichever comes first: (row, 2)."""
        return np.sort(np.stack([self.a, self.b], axis=1), axis=1)
