"""The values that were read: what is left of them in cells, and in the circuit itself.

A cell takes the pace at which a fault moves its levels, and the bends between its nodes, for even
along the severity.  Shapes: (point,), (point, reading), (point, reading, 4).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.atlas import Atlas
from diagnose.inference.cells import UNIFORM, slopes_of
from diagnose.inference.data import Datum
from diagnose.inference.evidence import (
    columns_of,
    covariance_of,
    own_variances,
    shared_errors,
)
from diagnose.inference.measurement import alike
from diagnose.inference.normal import whiten
from diagnose.inference.weighing import Weighted


class Known:
    """The values read behind a belief, on the atlas of its cells.

    ``drift`` is the unrest of the process beyond what the sheet allows for, share of range.
    """

    def __init__(self, atlas: Atlas, data: Sequence[Datum], drift: float) -> None:
        self.atlas, self.drift = atlas, drift
        self.places = [n for n, datum in enumerate(data) if datum.side == 0]
        self.data = [data[n] for n in self.places]
        self.wanted = [datum.measurement for datum in self.data]
        self.levels = atlas.levels(self.wanted)

    def residuals(self, some: Weighted) -> tuple[Array, Array]:
        """Whitened residuals in cells, and what whitens them: (cell, reading, 4) and square.

        At corner 00, along s, along t, twist: at (s, t) they are ``r - ds s - dt t - dst s t``.
        Tolerances are as they are at the peaks.
        """
        n, cells = len(self.data), self.atlas.cells.some(some.row)
        if not n:
            return np.zeros((len(cells), 0, 4)), np.zeros((len(cells), 0, 0))
        right = ~some.wrong[:, self.places]
        spread, _ = slopes_of(cells, self.levels, (some.peak.s, some.peak.t))
        spread *= right[:, :, None]
        own = own_variances(cells, self.data, self.levels, self.drift)
        covariance = covariance_of(spread, shared_errors(self.data), own, right)
        square = np.broadcast_to(np.eye(n), (len(cells), n, n))
        columns = np.concatenate([columns_of(cells, self.data, self.levels), square], axis=2)
        white, _ = whiten(covariance, columns * right[:, :, None])
        return white[:, :, :4], white[:, :, 4:]

    def off(self, h: Array, x: Array, p: Array) -> Array:
        """By how much the readings are off what the circuit itself shows: (point, reading)."""
        observer, ground, count = self.atlas.observer, self.atlas.ground, len(h)
        found = np.empty((count, len(self.wanted)))
        for some in alike(range(len(self.wanted)), lambda n: self.wanted[n].condition):
            condition = self.wanted[some[0]].condition
            guess = self.atlas.sound.pieces(condition, count)
            state = observer.base(ground.columns(h, x, p, condition), count, condition, guess)
            seen = observer.levels([self.wanted[n] for n in some], state, p)
            for n, level in zip(some, seen, strict=True):
                found[:, n] = self.data[n].y - level
        return found


def off_at(white: Array, place: Array) -> Array:
    """Whitened residuals at places (point, 2) of cells: (point, reading)."""
    s, t = place[:, :1], place[:, 1:]
    r, ds, dt, dst = white.transpose(2, 0, 1)
    result: Array = r - ds * s - dt * t - dst * s * t
    return result


def slopes_at(white: Array, place: Array) -> Array:
    """How fast the levels rise along s and t there, in standard deviations: (point, reading, 2)."""
    s, t = place[:, :1], place[:, 1:]
    _, ds, dt, dst = white.transpose(2, 0, 1)
    return np.stack([ds + dst * t, dt + dst * s], axis=2)


def amiss(white: Array, place: Array, more: Array) -> Array:
    """The least step that takes residuals ``more`` (point, reading) away: (point, 2)."""
    slopes = slopes_at(white, place)
    pull = np.einsum("pna,pn->pa", slopes, more)
    square = np.einsum("pna,pnb->pab", slopes, slopes) + UNIFORM * np.eye(2)
    result: Array = np.linalg.solve(square, pull[:, :, None])[:, :, 0]
    return result
