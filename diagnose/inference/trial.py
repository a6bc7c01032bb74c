"""Pairs of faults at trial points, as the search for two faults goes from one to the next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diagnose.circuit.rows import Array


@dataclass
class Trial:
    """Pairs at points: hypotheses a, b; coordinates z (row, 3) = (x of a, x of b, process)."""

    a: Array
    b: Array
    z: Array

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
