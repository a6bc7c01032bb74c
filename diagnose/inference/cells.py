"""Cells between neighbouring lines, and what is known on their corners.

A *node* is one process value of one line.  Inside a cell every level is a bilinear function of the
two coordinates (s, t) in [0, 1] between its four corners.  Shapes: (node,), (cell,), (cell, 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property

import numpy as np

from diagnose.circuit.rows import Array, distinct
from diagnose.inference.grid import EDGE, Lines, Strips
from diagnose.inference.nodes import NODES

UNIFORM = 12.0
"""Precision of a uniform coordinate on [0, 1]."""


@dataclass
class Levels:
    """Levels of one measurement on all nodes: (node,) and (node, kept).

    ``kept`` (kept,) are the numbers of the spreads that move it at any node, rising: most of the
    tolerances of a large loop do not reach most of its points.  All of them, if it is not given.
    ``calm`` is how far the level of the sound loop moves between two readings, by the unrest of the
    process that the sheet allows for.
    """

    f: Array
    slope: Array
    calm: float
    kept: Array = field(default_factory=lambda: np.zeros(0, int))

    def __post_init__(self) -> None:
        if len(self.kept) != self.slope.shape[1]:
            self.kept = np.arange(self.slope.shape[1])

    @cached_property
    def variance(self) -> Array:
        """What the tolerances alone make of it: (node,)."""
        result: Array = np.einsum("ns,ns->n", self.slope, self.slope, dtype=float)
        return result

    @property
    def count(self) -> int:
        """Number of nodes."""
        return len(self.f)

    def some(self, rows: Array) -> Levels:
        """Some of the nodes."""
        return Levels(self.f[rows], self.slope[rows], self.calm, self.kept)

    @classmethod
    def joined(cls, parts: Sequence[Levels]) -> Levels:
        """The nodes of several parts one after the other."""
        every = together(parts)
        slope = np.concatenate([part.over(every) for part in parts])
        return cls(np.concatenate([part.f for part in parts]), slope, parts[0].calm, every)

    def over(self, every: Array) -> Array:
        """The slopes by all of ``every`` (spread,), which holds all that are kept."""
        if len(every) == len(self.kept):
            return self.slope
        result = np.zeros((self.count, len(every)), self.slope.dtype)
        result[:, np.searchsorted(every, self.kept)] = self.slope
        return result


def together(levels: Sequence[Levels]) -> Array:
    """The spreads that move any of some levels, rising."""
    return distinct(np.concatenate([level.kept for level in levels]))


@dataclass
class Cells:
    """Quadrilaterals between the lines ``low`` and ``high`` of a strip, by number.

    ``corner`` (cell, 4) are the nodes at 00 01 10 11 of (s, t), ``p`` the process values there;
    ``mass`` is the prior of the severity coordinate.
    """

    h: Array
    strip: Array
    low: Array
    high: Array
    mass: Array
    p: Array
    corner: Array
    states: bool

    def __len__(self) -> int:
        return len(self.h)

    def some(self, rows: Array) -> Cells:
        """Some of the cells."""
        h, strip, low, high, mass, p, corner = (array[rows] for array in self.arrays())
        return Cells(h, strip, low, high, mass, p, corner, self.states)

    def arrays(self) -> tuple[Array, ...]:
        """Everything that there is one of for each cell."""
        return self.h, self.strip, self.low, self.high, self.mass, self.p, self.corner

    @classmethod
    def joined(cls, parts: Sequence[Cells]) -> Cells:
        """Several sets of cells one after the other."""
        columns = zip(*(part.arrays() for part in parts), strict=True)
        h, strip, low, high, mass, p, corner = map(np.concatenate, columns)
        return cls(h, strip, low, high, mass, p, corner, parts[0].states)

    def corners(self, f: Array) -> Array:
        """Values of a (node, …) array at the corners: (cell, 4, …)."""
        result: Array = f[self.corner]
        return result

    def at(self, f: Array, s: Array, t: Array) -> Array:
        """Bilinear value of a (node, spread) array at (s, t) (cell,): (cell, spread)."""
        weight = (1 - s) * (1 - t), (1 - s) * t, s * (1 - t), s * t
        result: Array = weight[0][:, None] * f[self.corner[:, 0]]
        for k in (1, 2, 3):
            result += weight[k][:, None] * f[self.corner[:, k]]
        return result

    def sway(self, f: Array) -> Array:
        """How far a (node,) array moves per unit of process value in each cell: (cell,)."""
        rise, way = (
            corner[:, 1] - corner[:, 0] + corner[:, 3] - corner[:, 2]
            for corner in (self.corners(f), self.p)
        )
        result: Array = rise / way
        return result

    def middle(self, f: Array) -> Array:
        """Mean of a (node, …) array over the corners: (cell, …)."""
        result: Array = f[self.corner].sum(axis=1) / 4
        return result


def cells_of(lines: Lines, strips: Strips, states: bool = False, start: int = 0) -> Cells:
    """All cells with any area of the strips from ``start`` on.

    Nodes count along the lines: ``line * NODES + place``.
    """
    count = len(strips.low) - start
    low, high = (np.repeat(side[start:], NODES - 1) for side in (strips.low, strips.high))
    k = np.tile(np.arange(NODES - 1), count)
    first, second = low * NODES + k, high * NODES + k
    corner = np.stack([first, first + 1, second, second + 1], axis=1)
    p = lines.p.ravel()[corner]
    mass = np.where(low == high, 1.0, lines.x[high] - lines.x[low])
    strip = np.repeat(np.arange(start, start + count), NODES - 1)
    cells = Cells(lines.h[low], strip, low, high, mass, p, corner, states)
    wide = (p[:, 1] - p[:, 0]) + (p[:, 3] - p[:, 2]) > 3 * EDGE
    return cells.some(np.flatnonzero(wide))


def slopes_of(
    cells: Cells, levels: Sequence[Levels], at: tuple[Array, Array]
) -> tuple[Array, Array]:
    """Slopes at (s, t) by tolerance (cell, level, spread), and the numbers of the spreads."""
    every = together(levels)
    found = np.zeros((len(cells), len(levels), len(every)))
    for n, level in enumerate(levels):
        found[:, n, np.searchsorted(every, level.kept)] = cells.at(level.slope, *at)
    return found, every


@dataclass
class Peak:
    """Where in each cell the readings put it: coordinates (cell,), their sd, their precision.

    ``misfit`` is the sum of squared residuals there, in standard deviations; ``blame``
    (cell, reading) by how much it would fall if that reading were left out, and ``likely`` the log
    density of that reading after all the others (0 where it is no value).
    """

    s: Array
    t: Array
    sd: Array
    precision: Array
    misfit: Array
    blame: Array
    likely: Array

    @classmethod
    def joined(cls, peaks: Sequence[Peak]) -> Peak:
        """Several sets of cells one after the other."""
        return cls(*(np.concatenate(column) for column in zip(*map(_arrays, peaks), strict=True)))

    def some(self, rows: Array) -> Peak:
        """Some of the cells."""
        return Peak(*(array[rows] for array in _arrays(self)))

    def put(self, rows: Array, other: Peak) -> None:
        """Replace some of the cells."""
        for mine, theirs in zip(_arrays(self), _arrays(other), strict=True):
            mine[rows] = theirs


def _arrays(peak: Peak) -> list[Array]:
    return [getattr(peak, item.name) for item in fields(peak)]


def value_at(corner: Array, s: Array, t: Array) -> Array:
    """Bilinear value at (s, t): corner (cell, 4), s and t (cell,)."""
    low = corner[:, 0] + t * (corner[:, 1] - corner[:, 0])
    high = corner[:, 2] + t * (corner[:, 3] - corner[:, 2])
    result: Array = low + s * (high - low)
    return result


def slopes_at(corner: Array, s: Array, t: Array) -> tuple[Array, Array]:
    """Derivatives to s and t of the bilinear value; shapes as ``value_at``."""
    along_t0, along_t1 = corner[:, 1] - corner[:, 0], corner[:, 3] - corner[:, 2]
    along_s0, along_s1 = corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1]
    return along_s0 + t * (along_s1 - along_s0), along_t0 + s * (along_t1 - along_t0)


def open_at(corner: Array, peak: Peak) -> Array:
    """Variance of a level at the peak by what is left open of s and t: (cell,)."""
    u, w = slopes_at(corner, peak.s, peak.t)
    a, b, c = peak.precision[:, 0, 0], peak.precision[:, 0, 1], peak.precision[:, 1, 1]
    result: Array = (c * u * u - 2 * b * u * w + a * w * w) / (a * c - b * b)
    return result


def process_at(cells: Cells, peak: Peak) -> Array:
    """Process value at the peak of each cell."""
    return value_at(cells.p, peak.s, peak.t)
