"""Evidence of the cells: the probability of the readings, integrated over severity and process.

Inside a cell every level is a bilinear function of the two coordinates (s, t) in [0, 1] between
its four corners, which is nearly exact: a single changed element moves all voltages along one
fixed direction (the bilinear theorem of linear networks), and between bends they are straight in
the process value.  The Gaussian of the readings is laid out at its own peak in the cell and
integrated over the cell.  Shapes: (cell,), (cell, reading), (cell, reading, spread).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from diagnose.circuit.rows import Array
from diagnose.inference.data import Datum
from diagnose.inference.grid import EDGE, NODES, Lines, Strips, cumulative
from diagnose.inference.normal import LOG_2PI, below, square, whiten

COMPATIBLE = 7.0
"""Standard deviations beyond which a cell cannot explain a reading."""

_UNIFORM = 12.0
"""Precision of a uniform coordinate on [0, 1]."""


@dataclass
class Levels:
    """Levels of one measurement on all lines: (line, node) and (line, node, spread).

    ``sway`` is how far the level of the sound loop moves per unit of process value: by it the
    unrest of the process between two readings enters as noise.
    """

    f: Array
    slope: Array
    sway: float

    @cached_property
    def variance(self) -> Array:
        """What the tolerances alone make of it: (line, node)."""
        result: Array = np.einsum("lns,lns->ln", self.slope, self.slope)
        return result

    def some(self, rows: Array) -> Levels:
        """Some of the lines."""
        return Levels(self.f[rows], self.slope[rows], self.sway)

    def plus(self, other: Levels) -> Levels:
        """These lines followed by ``other``."""
        slope = np.concatenate([self.slope, other.slope])
        return Levels(np.concatenate([self.f, other.f]), slope, self.sway)


@dataclass
class Cells:
    """Quadrilaterals: hypothesis, lines ``low`` and ``high``, first node ``k``, prior of x."""

    h: Array
    low: Array
    high: Array
    k: Array
    mass: Array
    p: Array
    states: bool = False

    def __len__(self) -> int:
        return len(self.h)

    def some(self, rows: Array) -> Cells:
        """Some of the cells."""
        arrays = (self.h, self.low, self.high, self.k, self.mass, self.p)
        h, low, high, k, mass, p = (a[rows] for a in arrays)
        return Cells(h, low, high, k, mass, p, self.states)

    def corners(self, f: Array) -> Array:
        """Values of a (line, node, …) array at the corners 00 01 10 11 of (s, t): (cell, 4, …)."""
        return np.stack(
            [
                f[self.low, self.k],
                f[self.low, self.k + 1],
                f[self.high, self.k],
                f[self.high, self.k + 1],
            ],
            axis=1,
        )


def cells_of(lines: Lines, strips: Strips, states: bool = False) -> Cells:
    """All cells with any area; ``p`` (cell, 4) are the process values at the corners."""
    count = len(strips.low)
    low = np.repeat(strips.low, NODES - 1)
    high = np.repeat(strips.high, NODES - 1)
    k = np.tile(np.arange(NODES - 1), count)
    alone = low == high
    mass = np.where(alone, 1.0, lines.x[high] - lines.x[low])
    cells = Cells(lines.h[low], low, high, k, mass, np.zeros((len(k), 4)), states)
    cells.p = cells.corners(lines.p)
    wide = (cells.p[:, 1] - cells.p[:, 0]) + (cells.p[:, 3] - cells.p[:, 2]) > 5 * EDGE
    return cells.some(np.flatnonzero(wide))


@dataclass
class Peak:
    """Where in each cell the readings put it: coordinates (cell,), their sd, their precision.

    ``misfit`` is the sum of squared residuals there, in standard deviations; ``blame``
    (cell, reading) by how much it would fall if that reading were left out.
    """

    s: Array
    t: Array
    sd: Array
    precision: Array
    misfit: Array
    blame: Array

    @classmethod
    def joined(cls, peaks: Sequence[Peak]) -> Peak:
        """Several sets of cells one after the other; blame is dropped."""
        names = ("s", "t", "sd", "precision", "misfit")
        s, t, sd, precision, misfit = (
            np.concatenate([getattr(peak, name) for peak in peaks]) for name in names
        )
        return cls(s, t, sd, precision, misfit, np.zeros((len(s), 0)))

    def some(self, rows: Array) -> Peak:
        """Some of the cells."""
        return Peak(*(getattr(self, item.name)[rows] for item in fields(self)))


def value_at(corner: Array, s: Array, t: Array) -> Array:
    """Bilinear value at (s, t): corner (cell, 4, …), s and t (cell,)."""
    shape = (-1,) + (1,) * (corner.ndim - 2)
    s, t = s.reshape(shape), t.reshape(shape)
    low = corner[:, 0] + t * (corner[:, 1] - corner[:, 0])
    high = corner[:, 2] + t * (corner[:, 3] - corner[:, 2])
    result: Array = low + s * (high - low)
    return result


def slopes_at(corner: Array, s: Array, t: Array) -> tuple[Array, Array]:
    """Derivatives to s and t of the bilinear value; shapes as ``value_at``."""
    along_t0, along_t1 = corner[:, 1] - corner[:, 0], corner[:, 3] - corner[:, 2]
    along_s0, along_s1 = corner[:, 2] - corner[:, 0], corner[:, 3] - corner[:, 1]
    shape = (-1,) + (1,) * (corner.ndim - 2)
    s, t = s.reshape(shape), t.reshape(shape)
    return along_s0 + t * (along_s1 - along_s0), along_t0 + s * (along_t1 - along_t0)


def shared_errors(data: Sequence[Datum]) -> Array:
    """Covariance (reading, reading) of errors that readings share: meter gain, lasting errors."""
    names = sorted({name for datum in data for name, _ in datum.shared})
    table = np.zeros((len(data), len(names)))
    for row, datum in enumerate(data):
        for name, sd in datum.shared:
            table[row, names.index(name)] = sd
    return table @ table.T


def misfits(cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], drift: float) -> Array:
    """True where a cell cannot explain a reading whatever its corner: (cell, reading)."""
    bad = np.empty((len(cells), len(data)), bool)
    for n, (datum, level) in enumerate(zip(data, levels, strict=True)):
        f = cells.corners(level.f)
        loose = cells.corners(level.variance).max(axis=1)
        least, most = f.min(axis=1), f.max(axis=1)
        own = datum.noise**2 + (drift * level.sway) ** 2 + sum(sd**2 for _, sd in datum.shared)
        room = COMPATIBLE * np.sqrt(own + loose)
        above, beneath = datum.y > most + room, datum.y < least - room
        if datum.floor is not None:
            above &= least > datum.floor + room
        bad[:, n] = above if datum.side > 0 else beneath if datum.side < 0 else above | beneath
    return bad


def evidence(
    lines: Lines, cells: Cells, data: Sequence[Datum], levels: Sequence[Levels], drift: float
) -> tuple[Array, Peak]:
    """log probability of all ``data`` in each cell, prior of x and process included; its peak."""
    values = [n for n, datum in enumerate(data) if datum.side == 0]
    corner = (
        np.stack([cells.corners(levels[n].f) for n in values], axis=2)
        if values
        else np.zeros((len(cells), 4, 0))
    )
    some = [data[n] for n in values]
    total, peak = _gaussian(cells, some, [levels[n] for n in values], corner, drift)
    blame = np.zeros((len(cells), len(data)))
    blame[:, values] = peak.blame
    for n, (datum, level) in enumerate(zip(data, levels, strict=True)):
        if datum.side:
            chance = _beyond(cells, datum, level, peak)
            blame[:, n] = -2 * chance
            peak.misfit = peak.misfit + blame[:, n]
            total = total + chance
    peak.blame = blame
    return total + _prior(cells, peak), peak


def _gaussian(
    cells: Cells, data: list[Datum], levels: list[Levels], corner: Array, drift: float
) -> tuple[Array, Peak]:
    count, n = len(cells), len(data)
    half = np.full(count, 0.5)
    if not n:
        flat = np.zeros((count, 2, 2)) + _UNIFORM * np.eye(2)
        return np.zeros(count), Peak(
            half, half, np.ones(count), flat, np.zeros(count), np.zeros((count, 0))
        )
    spread = np.stack([cells.corners(level.slope).mean(axis=1) for level in levels], axis=1)
    y = np.array([datum.y for datum in data])
    covariance = spread @ spread.transpose(0, 2, 1) + shared_errors(data)
    covariance[:, np.arange(n), np.arange(n)] += [
        datum.noise**2 + (drift * level.sway) ** 2
        for datum, level in zip(data, levels, strict=True)
    ]
    s, t = half, half
    unit = np.broadcast_to(np.eye(n), (count, n, n))
    for turn in range(3):
        u, w = slopes_at(corner, s, t)
        r = y - value_at(corner, s, t) + u * s[:, None] + w * t[:, None]
        columns = np.stack([r, u, w], axis=2)
        if turn == 2:
            columns = np.concatenate([columns, unit], axis=2)
        white, logdet = whiten(covariance, columns)
        s, t, precision = _peak(white[:, :, :3])
    value, sd = square(white[:, :, 0], white[:, :, 1], white[:, :, 2])
    off = white[:, :, 0] - white[:, :, 1] * s[:, None] - white[:, :, 2] * t[:, None]
    misfit = np.einsum("cn,cn->c", off, off)
    blame = _blame(white, off, precision)
    return value - logdet - 0.5 * n * LOG_2PI, Peak(s, t, sd, precision, misfit, blame)


def _blame(white: Array, off: Array, precision: Array) -> Array:
    """By how much the misfit falls when one reading is left out and the rest fitted again.

    The deletion formula of least squares: ``(M y)_i^2 / M_ii`` with M the precision of the
    readings after the fit (R. D. Cook, Technometrics 19:15, 1977; from memory).
    """
    both, inverse = white[:, :, 1:3], white[:, :, 3:]
    pull = np.einsum("cki,ck->ci", inverse, off)
    lean = both.transpose(0, 2, 1) @ inverse
    own = np.einsum("cki,cki->ci", inverse, inverse)
    own -= np.einsum("cai,cai->ci", lean, np.linalg.solve(precision, lean))
    result: Array = pull**2 / np.maximum(own, 1e-30)
    return result


def _peak(white: Array) -> tuple[Array, Array, Array]:
    """Mean of (s, t) under readings and the cell, kept inside the cell; and the precision."""
    r, both = white[:, :, 0], white[:, :, 1:]
    precision = both.transpose(0, 2, 1) @ both + _UNIFORM * np.eye(2)
    pull = np.einsum("cnk,cn->ck", both, r) + _UNIFORM / 2
    a, b, c = precision[:, 0, 0], precision[:, 0, 1], precision[:, 1, 1]
    determinant = a * c - b * b
    s = (c * pull[:, 0] - b * pull[:, 1]) / determinant
    t = (a * pull[:, 1] - b * pull[:, 0]) / determinant
    return np.clip(s, 0, 1), np.clip(t, 0, 1), precision


def _beyond(cells: Cells, datum: Datum, level: Levels, peak: Peak) -> Array:
    """log P(level on the side that was seen), with what is left open inside the cell."""
    corner = cells.corners(level.f)
    f = value_at(corner, peak.s, peak.t)
    u, w = slopes_at(corner, peak.s, peak.t)
    inverse = np.linalg.inv(peak.precision)
    open_ = inverse[:, 0, 0] * u * u + 2 * inverse[:, 0, 1] * u * w + inverse[:, 1, 1] * w * w
    slope = cells.corners(level.slope).mean(axis=1)
    sd = np.sqrt(datum.noise**2 + open_ + np.einsum("cs,cs->c", slope, slope))
    chance = below(datum.side * (f - datum.y) / sd)
    if datum.floor is not None:
        chance = chance + below((datum.floor - f) / sd)
    return np.log(np.maximum(chance, 1e-12))


def process_at(cells: Cells, peak: Peak) -> Array:
    """Process value at the peak of each cell."""
    return value_at(cells.p, peak.s, peak.t)


def _prior(cells: Cells, peak: Peak) -> Array:
    """log of the prior of the cell, the density of the process taken where the peak lies."""
    width = (1 - peak.s) * (cells.p[:, 1] - cells.p[:, 0]) + peak.s * (
        cells.p[:, 3] - cells.p[:, 2]
    )
    at = process_at(cells, peak)
    reach = np.minimum(width / 2, np.sqrt(3 / np.maximum(peak.precision[:, 1, 1], 1e-9)) * width)
    reach = np.maximum(reach, 1e-6)
    low = value_at(cells.p, peak.s, np.zeros(len(cells)))
    centre = np.clip(at, low + reach, np.maximum(low + reach, low + width - reach))
    mass = cumulative(centre + reach, cells.states) - cumulative(centre - reach, cells.states)
    density = mass / (2 * reach)
    result: Array = np.log(np.maximum(cells.mass * width * density, 1e-300))
    return result
